"""``RESULTS.md``: what the benchmarks printed last, a section for each part."""

import re
from datetime import date
from pathlib import Path

RESULTS = Path(__file__).parent / "RESULTS.md"
HEADING = re.compile(r"^## (.+)$", re.MULTILINE)


def with_section(text: str, part: str, printed: str, day: date) -> str:
    """The text with a part's section written anew, or put at the end if it has none.

    Words between the heading and the first fence, which say what the part measures, stay.
    """
    fenced = f"```text\n{printed.rstrip()}\n```\n"
    line = f"`python -m tests.bench {part}`, {day.isoformat()}:\n\n{fenced}"
    heading = next((found for found in HEADING.finditer(text) if found[1] == part), None)
    if heading is None:
        return f"{text.rstrip()}\n\n## {part}\n\n{line}"
    after = HEADING.search(text, heading.end())
    end = after.start() if after else len(text)
    said = text[heading.end() : end].split("\n`python -m tests.bench", 1)[0].strip()
    words = f"{said}\n\n" if said else ""
    rest = f"\n{text[end:]}" if after else ""
    return f"{text[: heading.end()]}\n\n{words}{line}{rest}"


def keep(part: str, printed: str) -> None:
    """Write what a part printed into RESULTS.md."""
    RESULTS.write_text(with_section(RESULTS.read_text(), part, printed, date.today()))
