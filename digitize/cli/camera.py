"""``digitize camera``: a phone's lens, solved once and kept."""

import math
from pathlib import Path
from typing import Annotated

import typer

from digitize.cli.options import MeasuredAcross, MeasuredAlong, PrintProfile
from digitize.cli.screen import reported, screen, stages_shown


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
    from digitize.cli.tables import show_remarks
    from digitize.jobs.camera import STAGES, write_camera
    from digitize.jobs.settings import print_scale

    scale = print_scale(measured_x, measured_y, print_profile)
    with stages_shown(STAGES) as progress:
        solved = write_camera(photos, out, print_scale=scale, progress=progress)
    kept = solved.camera
    sigma = math.sqrt(kept.covariance[0][0])
    screen.print(
        f"{kept.camera or 'camera'}: focal length {kept.terms[0]:.1f} px, good to {2 * sigma:.1f} "
        f"px (95 %), residual {kept.residual_px:.2f} px over {kept.photos} shots",
        highlight=False,
    )
    show_remarks(screen, solved.remarks)
    screen.print(f"written: {out}")
