"""The commands that read photos, and make what that takes: cards and a kept camera."""

import math
from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from digitize.card.layout import HIGHEST_NUMBER, RULE_MM, SHEETS_MM
from digitize.card.sheet import card_pdf
from digitize.compare.carry import carried_over
from digitize.compare.deviation import compared
from digitize.compare.growth import about_growth
from digitize.compare.verdict import TOLERANCE_MM as SAME_MM
from digitize.compare.verdict import verdict_on
from digitize.disk import content_of, write_all
from digitize.draw.compared import compared_svg
from digitize.files import (
    RECORD,
    earlier_record,
    files_of_reading,
)
from digitize.finding import DRAWER, Drawer
from digitize.floor.kept import camera_from_json, camera_json
from digitize.floor.photo import (
    open_photo,
)
from digitize.options import (
    MeasuredAcross,
    MeasuredAlong,
    PrintProfile,
    check_distance,
    ink_roles_in,
    kept_record,
    parsed,
    print_scale,
    rule,
)
from digitize.pattern import Side
from digitize.pipeline import (
    STAGES,
    TOLERANCE_MM,
    read_pattern,
    solve_camera,
)
from digitize.report import show_comparison, show_pattern, show_warnings
from digitize.shell import reported, screen, stages_shown, stop

app = typer.Typer()


@app.command()
@reported
def card(
    count: Annotated[int, typer.Option(min=1, max=HIGHEST_NUMBER, help="How many cards.")] = 4,
    first: Annotated[
        int, typer.Option(min=1, max=HIGHEST_NUMBER, help="Number of the first card.")
    ] = 1,
    sheet: Annotated[str, typer.Option(help="Sheet to print on: a4 or letter.")] = "a4",
    measured_x: Annotated[
        float | None,
        rule(
            "What the 150 mm rule across an earlier print measured; the new print makes up for it."
        ),
    ] = None,
    measured_y: Annotated[
        float | None,
        rule("The same, along the sheet."),
    ] = None,
    out: Annotated[Path, typer.Option(help="The PDF to write.")] = Path("scale-cards.pdf"),
) -> None:
    """Write scale cards as a PDF. Print at 100 %, and measure both rules on the print."""
    if sheet not in SHEETS_MM:
        stop(2, f"--sheet {sheet}: cards come on {' or '.join(SHEETS_MM)}")
    if first + count - 1 > HIGHEST_NUMBER:
        stop(2, f"card numbers end at {HIGHEST_NUMBER}; ask for fewer or start lower")
    content = card_pdf(
        range(first, first + count),
        sheet,
        stretch_x=RULE_MM / (measured_x or RULE_MM),
        stretch_y=RULE_MM / (measured_y or RULE_MM),
    )
    write_all({out: content})
    screen.print(
        f"{out}: {count} card{'s' if count > 1 else ''} on {sheet}. Print at 100 % (no scaling), "
        "then measure the 150 mm rules; if they differ, give digitize photo what they measure."
    )


@app.command()
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
    drawer: Drawer = DRAWER,
) -> None:
    """Read a paper pattern from photos: writes pattern.json, pattern.svg and overlay.jpg.

    What digitize label told about an earlier reading in the same folder is kept.
    """
    sides: dict[str, Side] = {"left": "left", "right": "right", "unknown": "unknown"}
    if side not in sides:
        stop(2, f"--side {side}: give left, right or unknown")
    checks = [
        parsed(check_distance, words, "--check", "1:3=1204.5 or 1:3=47-3/8in")
        for words in check or []
    ]
    ink_roles = ink_roles_in(inks)
    if use_check and not checks:
        stop(2, "--use-check: give a taped distance with --check too")
    scale = print_scale(measured_x, measured_y, print_profile)
    before = kept_record(kept, drawer) if kept else None
    lens = camera_from_json(content_of(camera).decode("utf-8", "replace")) if camera else None
    contents = [content_of(path) for path in photos]
    with stages_shown(STAGES) as show:
        reading = read_pattern(
            [open_photo(p.name, c) for p, c in zip(photos, contents, strict=True)],
            name or (before.name if before else photos[0].stem),
            before.side if before and side == "unknown" else sides[side],
            scale,
            lens,
            checks,
            use_check,
            tolerance,
            ink_roles,
            show,
        )
    told = before or earlier_record(out / RECORD)
    pattern = carried_over(told, reading.pattern) if told else reading.pattern
    since = compared(before, pattern, growing=True) if before else None
    if since and since.growth and since.growth.is_sure:
        words = f"since it was kept, {about_growth(since.growth)}"
        pattern = pattern.model_copy(update={"warnings": (*pattern.warnings, words)})
    files = files_of_reading(replace(reading, pattern=pattern), out, mirror)
    if since:
        files[out / "since.svg"] = compared_svg(since, verdict_on(since), SAME_MM).encode()
    write_all(files)
    show_pattern(screen, pattern)
    if since:
        screen.print(f"Against the kept pattern {kept}:", highlight=False)
        show_comparison(screen, since, verdict_on(since))
    screen.print("written: " + ", ".join(str(path) for path in files))


@app.command()
@reported
def camera(
    photos: Annotated[
        list[Path],
        typer.Argument(
            help="Three to six shots of four or more cards on the floor, tilted to all sides."
        ),
    ],
    out: Annotated[Path, typer.Option(help="The file to keep.")] = Path("camera.json"),
    measured_x: MeasuredAcross = None,
    measured_y: MeasuredAlong = None,
    print_profile: PrintProfile = None,
) -> None:
    """Solve a phone's lens once and keep it; with it, one card beside the paper is enough."""
    scale = print_scale(measured_x, measured_y, print_profile)
    contents = [content_of(path) for path in photos]
    with stages_shown(("cards", "floor")) as show:
        loaded = [open_photo(p.name, c) for p, c in zip(photos, contents, strict=True)]
        kept, warnings = solve_camera(loaded, scale, show)
    write_all({out: camera_json(kept).encode()})
    sigma = math.sqrt(kept.covariance[0][0])
    screen.print(
        f"{kept.camera or 'camera'}: focal length {kept.terms[0]:.1f} px, good to {2 * sigma:.1f} "
        f"px (95 %), residual {kept.residual_px:.2f} px over {kept.photos} shots",
        highlight=False,
    )
    show_warnings(screen, warnings)
    screen.print(f"written: {out}")
