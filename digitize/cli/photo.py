"""``digitize photo``: photos of a paper pattern into a folder with its record and drawings."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, cast

import typer

from digitize.cli.options import (
    MeasuredAcross,
    MeasuredAlong,
    PrintProfile,
    check_distance,
    parsed,
    pixels,
)
from digitize.cli.screen import reported, screen, show_written, stages_shown
from digitize.cli.search import Drawer
from digitize.defaults import DRAWER, TOLERANCE_MM
from digitize.errors import WrongOption

if TYPE_CHECKING:
    from digitize.record import Side

SIDES = ("left", "right", "unknown")


@reported
def photo(
    photos: Annotated[
        list[Path],
        typer.Argument(
            help="Photos of the paper beside its cards: one, or several overlapping ones."
        ),
    ],
    out: Annotated[Path, typer.Option(help="Folder for the record and drawings.")],
    name: Annotated[str | None, typer.Option(help="What the pattern is called.")] = None,
    side: Annotated[str, typer.Option(help="left, right or unknown.")] = "unknown",
    mirror: Annotated[
        bool, typer.Option("--mirror", help="Write the opposite side's record and drawing too.")
    ] = False,
    measured_x: MeasuredAcross = None,
    measured_y: MeasuredAlong = None,
    print_profile: PrintProfile = None,
    camera: Annotated[
        Path | None,
        typer.Option(help="The kept camera that took the photos; see digitize camera."),
    ] = None,
    check: Annotated[
        list[str] | None,
        typer.Option(
            metavar="A:B=LENGTH",
            help="A taped distance to compare: between the centre marks of cards A and B, or "
            "crosses near pixels x,y of the first photo; in mm, or with in. Can be repeated.",
        ),
    ] = None,
    use_check: Annotated[
        bool, typer.Option("--use-check", help="Let the taped distances correct the size too.")
    ] = False,
    tolerance: Annotated[
        float,
        typer.Option(min=0.05, metavar="MM", help="Warn where points may be off by more."),
    ] = TOLERANCE_MM,
    paper: Annotated[
        str | None,
        typer.Option(
            metavar='"X,Y X,Y …"',
            help="Where the paper is, if it cannot be told from the floor: four or more of its "
            "corners in turn, in pixels of the first photo.",
        ),
    ] = None,
    held_flat: Annotated[
        bool,
        typer.Option(
            "--held-flat",
            help="The paper is weighted or pinned flat on the floor all round its edge.",
        ),
    ] = False,
    inks: Annotated[
        Path | None,
        typer.Option(help='A file of what lines of an ink are: {"red": "lap", "blue": "form"}.'),
    ] = None,
    kept: Annotated[
        str | None,
        typer.Option(
            metavar="NAME",
            help="The paper's kept pattern: what was told about it is carried over, and how the "
            "paper has changed since is said.",
        ),
    ] = None,
    replace: Annotated[
        bool,
        typer.Option(
            "--replace",
            help="Read over another paper's record in the folder; it is lost, and what was told "
            "about it.",
        ),
    ] = False,
    drawer: Drawer = DRAWER,
) -> None:
    """Read a paper pattern from photos: writes pattern.json, pattern.svg and overlay.jpg.

    What was told about an earlier reading of the paper in the same folder is kept.
    """
    from digitize.cli.tables import show_comparison, show_pattern
    from digitize.jobs.read import STAGES, read_photos
    from digitize.jobs.settings import ink_roles_in, print_scale

    if side not in SIDES:
        raise WrongOption(f"--side {side}: give left, right or unknown")
    checks = [
        parsed(check_distance, words, "--check", "1:3=1204.5 or 1:3=47-3/8in")
        for words in check or []
    ]
    if use_check and not checks:
        raise WrongOption("--use-check: give a taped distance with --check too")
    corners = (
        parsed(pixels, paper, "--paper", '"812,402 3260,398 3301,2210 790,2240"') if paper else ()
    )
    ink_roles = ink_roles_in(inks) if inks else {}
    scale = print_scale(measured_x, measured_y, print_profile)
    with stages_shown(STAGES) as progress:
        done = read_photos(
            photos,
            out,
            name=name,
            side=cast("Side", side),
            mirror=mirror,
            print_scale=scale,
            camera=camera,
            checks=checks,
            use_checks=use_check,
            tolerance_mm=tolerance,
            paper_px=corners,
            held_flat=held_flat,
            ink_roles=ink_roles,
            kept=kept,
            replace=replace,
            drawer=drawer,
            progress=progress,
        )
    show_pattern(screen, done.pattern)
    if done.since:
        screen.print(f"Against the kept pattern {kept}:", highlight=False)
        show_comparison(screen, done.since.comparison, done.since.verdict)
    show_written(done.written)
