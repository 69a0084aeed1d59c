"""What was known beside the photos, as the record keeps it, and as it is asked for again."""

from collections.abc import Mapping

from digitize.defaults import TOLERANCE_MM
from digitize.floor import CheckDistance, PrintScale, camera_from_json
from digitize.reading.scene import Asked
from digitize.record import Given, Pattern, Role, TapeGiven


def given_of(asked: Asked, ink_roles: Mapping[str, Role]) -> Given:
    """The record's note of what a reading was asked."""
    return Given(
        camera=asked.kept_camera.model_dump_json() if asked.kept_camera else None,
        tapes=tuple(TapeGiven(marks=each.marks, taped_mm=each.taped_mm) for each in asked.checks),
        tapes_used=asked.checks_used,
        tolerance_mm=asked.tolerance_mm,
        paper_px=asked.paper_px,
        inks=tuple(ink_roles.items()),
    )


def asked_again(pattern: Pattern) -> tuple[Asked, Mapping[str, Role]]:
    """What a record's reading was asked, and what lines of an ink were said to be.

    A record of before keeps only the print's size and whether the paper was held flat.

    Raises
    ------
    CameraError
        If its camera is none that this program can read.
    """
    scale, given = pattern.scale, pattern.given or Given()
    measured = None
    if scale and scale.print_doubt and scale.print_doubt.measured:
        measured = PrintScale(scale.print_correction.x, scale.print_correction.y)
    asked = Asked(
        print_scale=measured,
        kept_camera=camera_from_json(given.camera) if given.camera else None,
        checks=tuple(CheckDistance(each.marks, each.taped_mm) for each in given.tapes),
        checks_used=given.tapes_used,
        tolerance_mm=given.tolerance_mm or TOLERANCE_MM,
        paper_px=given.paper_px,
        held_flat=bool(scale and scale.held_flat),
    )
    return asked, dict(given.inks)
