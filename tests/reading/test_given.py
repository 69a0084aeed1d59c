"""What was known beside the photos outlasts the record's file, and is asked for again."""

import numpy as np

from digitize.floor import CheckDistance, KeptCamera, PrintScale
from digitize.floor.camera import LENS_TERMS
from digitize.reading import Asked, asked_again, given_of
from digitize.record import (
    Pattern,
    PrintCorrection,
    PrintDoubt,
    Scale,
    from_json,
    mirrored,
    to_json,
)

CAMERA = KeptCamera(
    camera="a camera",
    focal_exif_px=3000.0,
    width_px=4000,
    height_px=3000,
    photos=4,
    residual_px=0.2,
    terms=(3000.0, *(0.001,) * (LENS_TERMS - 1)),
    covariance=tuple(map(tuple, np.eye(LENS_TERMS).tolist())),
)
ASKED = Asked(
    print_scale=PrintScale(0.998, 1.001),
    kept_camera=CAMERA,
    checks=(CheckDistance((1, 3), 1204.5), CheckDistance(((812.5, 40.0), 2), 300.0)),
    checks_used=True,
    tolerance_mm=0.5,
    paper_px=((1.0, 2.0), (900.0, 4.0), (880.0, 700.0)),
    held_flat=True,
)
INKS = {"red": "lap"}


def read_with(asked, inks):
    """A record of a reading that was asked this."""
    scale = Scale(
        cards=(),
        reprojection_px=0.2,
        print_correction=PrintCorrection(x=asked.print_scale.x, y=asked.print_scale.y),
        accuracy_mm=0.4,
        accuracy_cards_mm=0.3,
        accuracy_print_mm=0.2,
        accuracy_flatness_mm=0.1,
        held_flat=asked.held_flat,
        print_doubt=PrintDoubt(relative=0.001, measured=True, accuracy_beside_mm=0.3),
    )
    outline = ((0.0, 0.0), (400.0, 0.0), (400.0, 300.0))
    return Pattern(name="p", outline=outline, scale=scale, given=given_of(asked, inks))


def test_all_that_was_asked_is_asked_again():
    record = from_json(to_json(read_with(ASKED, INKS)))
    assert asked_again(record) == (ASKED, INKS)


def test_the_opposite_side_was_never_photographed():
    assert mirrored(read_with(ASKED, INKS)).given is None


def test_a_record_of_before_keeps_what_its_scale_says():
    before = read_with(ASKED, INKS).model_copy(update={"given": None})
    asked = Asked(print_scale=ASKED.print_scale, held_flat=True)
    assert asked_again(before) == (asked, {})
    guessed = before.scale.print_doubt.model_copy(update={"measured": False})
    scale = before.scale.model_copy(update={"print_doubt": guessed})
    assert asked_again(before.model_copy(update={"scale": scale}))[0].print_scale is None
