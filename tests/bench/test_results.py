"""RESULTS.md is written part by part, and what stands beside a part stays."""

from datetime import date

from tests.bench.__main__ import PARTS
from tests.bench.results import HEADING, RESULTS, with_section

DAY = date(2026, 5, 9)
TEXT = """# Results

## scale

Simulated floors.

`python -m tests.bench scale`, 2026-01-01:

```text
old
```

## boards

Chequered boards.
"""


def test_a_parts_section_is_written_anew_and_its_words_stay():
    text = with_section(TEXT, "scale", "new\n", DAY)
    assert (
        "Simulated floors.\n\n`python -m tests.bench scale`, 2026-05-09:\n\n```text\nnew\n```"
        in text
    )
    assert "old" not in text and text.endswith("## boards\n\nChequered boards.\n")
    assert with_section(text, "scale", "new\n", DAY) == text


def test_a_section_without_figures_gets_them_and_a_part_without_section_gets_one():
    text = with_section(TEXT, "boards", "94 %", DAY)
    assert text.startswith(TEXT.rstrip())
    assert text.endswith("`python -m tests.bench boards`, 2026-05-09:\n\n```text\n94 %\n```\n")
    longer = with_section(TEXT, "form", "0.3", DAY)
    assert longer.startswith(TEXT.rstrip()) and longer.endswith("```text\n0.3\n```\n")
    assert "\n## form\n" in longer


def test_every_part_has_its_section():
    assert set(PARTS) == set(HEADING.findall(RESULTS.read_text()))
