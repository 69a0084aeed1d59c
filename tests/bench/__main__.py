"""Benchmarks, by name or all of them; exit 1 when a bar is missed."""

import argparse
import json
import sys
from pathlib import Path

from rich.console import Console

from tests.bench import (
    boards,
    drawer,
    drawings,
    form,
    hostile,
    limits,
    marks,
    mending,
    pairs,
    pencil,
    photos,
    print_scale,
    rolled,
    scale,
    thresholds,
    timing,
    tucks,
    workshop,
)
from tests.bench.results import keep

PARTS = {
    "scale": scale.run,
    "boards": boards.run,
    "print": print_scale.run,
    "time": timing.run,
    "photos": photos.run,
    "rolled": rolled.run,
    "pencil": pencil.run,
    "tucks": tucks.run,
    "workshop": workshop.run,
    "marks": marks.run,
    "drawings": drawings.run,
    "thresholds": thresholds.run,
    "mending": mending.run,
    "form": form.run,
    "drawer": drawer.run,
    "hostile": hostile.run,
    "limits": limits.run,
    "pairs": pairs.run,
}

TABLE_WIDTH = 130  # where no terminal says how wide it is


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("parts", nargs="*", metavar="PART", help=f"of {', '.join(PARTS)}; or all")
    parser.add_argument("--short", action="store_true", help="the quick form that CI runs")
    parser.add_argument("--keep", action="store_true", help="write what is printed to RESULTS.md")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the figures there too")
    arguments = parser.parse_args()
    unknown = set(arguments.parts) - set(PARTS)
    if unknown:
        parser.error(f"no part is called {', '.join(sorted(unknown))}")
    console = Console(record=True)
    if not console.is_terminal:
        console = Console(width=TABLE_WIDTH, record=True)
    figures, missed = {}, []
    for name in arguments.parts or PARTS:
        figures[name], misses = PARTS[name](console, short=arguments.short)
        missed += misses
        printed = console.export_text()
        if arguments.keep:
            keep(name, printed)
    if arguments.json:
        arguments.json.write_text(json.dumps(figures, indent=2) + "\n")
    for miss in missed:
        console.print(f"missed: {miss}", style="bold red")
    console.print("all bars met" if not missed else f"{len(missed)} bars missed")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
