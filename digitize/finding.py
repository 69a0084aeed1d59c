"""The commands that look into the drawer of kept patterns: they load little, and answer at once."""

from pathlib import Path
from typing import Annotated

import typer
from rich.table import Table

from digitize.disk import write_all
from digitize.keep.drawer import (
    NotKept,
    Revision,
    faults_of,
    gaps_in,
    kept_sums,
    patterns_in,
    revisions_of,
    sound,
    unfinished_in,
)
from digitize.keep.index import Found, Wanted, find
from digitize.keep.slip import SLIP
from digitize.shell import count_shown, errors, reported, screen, stop
from digitize.words import sheet_size

app = typer.Typer()

THIS_SIDE, OTHER_SIDE, PHOTOS = "drawings/this-side/", "drawings/other-side/", "photos/"
MOST_NAMED = 12
DRAWER = Path.home() / "pattern-drawer"

Drawer = Annotated[
    Path,
    typer.Option(
        envvar="DIGITIZE_DRAWER",
        show_default="~/pattern-drawer",
        help="The folder of kept patterns.",
    ),
]
Words = Annotated[
    list[str] | None,
    typer.Argument(
        help="Words, or parts of words, of the name, reference, part or notes; all must be there."
    ),
]
Side = Annotated[str, typer.Option(help="left or right.")]
Since = Annotated[str, typer.Option(metavar="DATE", help="Kept then or later: 2026, 2026-11-25.")]
Until = Annotated[str, typer.Option(metavar="DATE", help="Kept then or earlier.")]
Size = Annotated[
    str,
    typer.Option(metavar="SIZE", help="The paper's size, within 5 %: 1200x900, 48inx36in."),
]
Name = Annotated[
    str, typer.Argument(help="The pattern's name in the drawer, or words that only it has.")
]


@app.command("find")
@reported
def find_patterns(
    words: Words = None,
    side: Side = "",
    since: Since = "",
    until: Until = "",
    size: Size = "",
    drawer: Drawer = DRAWER,
) -> None:
    """List the kept patterns, or those that fit: each by its latest revision."""
    found = found_in(drawer, wanted(words, side, since, until, size))
    if not found.kept:
        raise NotKept(f"{drawer}: no kept pattern fits that")
    table = Table()
    table.add_column("pattern", overflow="fold", min_width=16)
    table.add_column("rev", no_wrap=True)
    table.add_column("part, reference", overflow="fold")
    table.add_column("kept", no_wrap=True)
    table.add_column("paper mm", no_wrap=True)
    table.add_column("tucks", no_wrap=True)
    for each in found.kept:
        slip = each.slip
        table.add_row(
            each.pattern,
            str(each.revision),
            slip.about,
            slip.kept[:10],
            f"{slip.width_mm:.0f} x {slip.height_mm:.0f}",
            str(slip.tucks),
        )
    screen.print(table)


@app.command()
@reported
def take(
    name: Name,
    out: Annotated[Path, typer.Option(help="Folder to copy to.")],
    mirror: Annotated[
        bool, typer.Option("--mirror", help="Take the opposite side's drawings instead.")
    ] = False,
    revision: Annotated[
        int | None, typer.Option(min=1, help="Which revision, if not the latest.")
    ] = None,
    drawer: Drawer = DRAWER,
) -> None:
    """Take a pattern out: its record, pictures and drawings, byte for byte as they were kept."""
    kept = kept_revision(drawer, name, revision)
    sums = kept_sums(kept)
    files = {
        out / taken: sound(kept, held, sums)
        for held in sums
        if (taken := _taken_as(held, mirror)) is not None
    }
    write_all(files)
    screen.print(f"{kept}, {'other' if mirror else 'this'} side", highlight=False)
    screen.print("written: " + ", ".join(str(path) for path in files), highlight=False)


@app.command()
@reported
def check(
    name: Annotated[
        str | None, typer.Argument(help="Only this pattern, by its name in the drawer.")
    ] = None,
    drawer: Drawer = DRAWER,
) -> None:
    """Check that nothing in the drawer has changed or gone since it was kept."""
    if not drawer.is_dir():
        raise NotKept(f"{drawer}: there is no drawer here; digitize keep makes it")
    patterns = patterns_in(drawer) if name is None else [kept_revision(drawer, name).pattern]
    faults: list[str] = []
    revisions = 0
    with count_shown("checking") as progress:
        for done, pattern in enumerate(patterns):
            progress(done, len(patterns))
            kept = revisions_of(drawer, pattern)
            revisions += len(kept)
            faults += [fault for each in kept for fault in faults_of(each)]
            faults += gaps_in(kept)
            if not kept:
                errors.print(f"{pattern}: is empty: nothing was kept in it", highlight=False)
    for path in unfinished_in(drawer):
        errors.print(f"{path.name}: was never finished, and nothing in it counts", highlight=False)
    for fault in faults:
        screen.print(fault, style="bold red", highlight=False)
    if faults:
        stop(
            27,
            f"{len(faults)} damaged or missing; all else is sound. Put those back from a copy of "
            "the drawer, or take out an earlier revision with digitize take --revision.",
        )
    screen.print(
        f"patterns: {len(patterns)}, revisions: {revisions}; every file is as it was kept",
        highlight=False,
    )


def wanted(words: list[str] | None, side: str, since: str, until: str, size: str) -> Wanted:
    """What the options of a search say."""
    if side not in ("", "left", "right", "unknown"):
        stop(2, f"--side {side}: give left, right or unknown")
    try:
        size_mm = sheet_size(size)[1] if size else None
    except ValueError:
        stop(2, f"--size {size}: write it like 1200x900 or 48inx36in")
    return Wanted(tuple(words or ()), side, since, until, size_mm)


def found_in(drawer: Path, what: Wanted) -> Found:
    """What is found in the drawer; damage met on the way is named."""
    with count_shown("looking through the drawer") as progress:
        found = find(drawer, what, progress)
    for damage in found.damages:
        errors.print(f"damaged: {damage}", style="yellow", highlight=False)
    return found


def kept_revision(drawer: Path, name: str, number: int | None = None) -> Revision:
    """The revision of that number, or the latest; NotKept says what there is instead."""
    revisions = revisions_of(drawer, name) if Path(name).name == name else []
    if not revisions:
        kept = found_in(drawer, Wanted(tuple(name.split()))).kept
        if len(kept) != 1:
            names = ", ".join(each.pattern for each in kept[:MOST_NAMED])
            raise NotKept(
                f"{name}: {len(kept)} kept patterns have these words: {names}"
                if kept
                else f"{name}: no such pattern in {drawer}; digitize find lists what there is"
            )
        revisions = revisions_of(drawer, kept[0].pattern)
    by_number = {revision.number: revision for revision in revisions}
    try:
        return by_number[number or max(by_number)]
    except KeyError as error:
        there = ", ".join(str(each) for each in by_number)
        raise NotKept(f"{name}: has no revision {number}, but {there}") from error


def _taken_as(held: str, mirror: bool) -> str | None:
    """The name under which a kept file is taken out; None if it stays."""
    drawings, others = (OTHER_SIDE, THIS_SIDE) if mirror else (THIS_SIDE, OTHER_SIDE)
    if held.startswith(drawings):
        return held.removeprefix(drawings)
    if held in (SLIP, "thumbnail.jpg") or held.startswith((others, PHOTOS)):
        return None
    return held if (".mirrored." in held) == mirror else None
