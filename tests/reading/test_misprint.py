"""Cards printed at 97 % that nobody measured, and the same photo with what their rules read."""

import numpy as np
import pytest

from digitize.floor import Photo, PrintScale
from digitize.reading import Asked, read_pattern
from tests.scene import Floor, Shot

CARDS = ((1, -470, 20, 3), (2, 470, -10, 182), (3, -150, 430, 91), (4, 120, -430, 268))
WIDE, HIGH = 600.0, 440.0


@pytest.fixture(scope="module")
def scenes():
    """A photo of a sheet of paper 600 x 440 mm with a line on it, beside such cards."""
    floor = Floor(640)
    corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) / 2 * [WIDE, HIGH]
    floor.lay_sheet(corners, (140, 165, 190))
    floor.draw(np.array([(-220.0, -120.0), (230.0, 130.0)]), 0.8, (60, 60, 60))
    for number, x, y, turn in CARDS:
        floor.lay_card(number, x, y, turn, stretch=(0.97, 0.97))
    shot = Shot(eye=(20, -30, 1250), focal_px=2300, size=(2800, 2100), radial=(0.02, -0.01))
    # Not so bright that the sheets' white is burnt out, where their edges say less.
    pixels = np.ascontiguousarray((0.9 * floor.photograph(shot)[..., ::-1]).astype(np.uint8))
    return Photo("misprint", pixels, "", None, None, None)


def remarks_of(pattern):
    return {remark.kind: remark for remark in pattern.remarks}


def test_a_misprint_is_told_with_the_figures_to_give_and_owned_up_to(scenes):
    pattern = read_pattern([scenes], "misprint").pattern
    remark = remarks_of(pattern)["print-scale"]
    # 97 % of 150 mm.
    assert remark.severity == "stop" and "--measured-x 145." in remark.words
    assert "print-not-measured" not in remarks_of(pattern)
    # Everything reads 1 / 0.97 too large: a corner at 372 mm from the middle is 11.5 mm off.
    width, height = np.ptp(pattern.outline, axis=0)
    assert (width, height) == pytest.approx((WIDE / 0.97, HIGH / 0.97), abs=2.5)
    assert pattern.scale.accuracy_print_mm > 11.0


def test_a_misprint_is_told_of_burnt_sheets_too_if_less_exactly(scenes):
    burnt = np.minimum(scenes.pixels / 0.9, 255).astype(np.uint8)
    photo = Photo("burnt", burnt, "", None, None, None)
    remark = remarks_of(read_pattern([photo], "burnt").pattern)
    assert remark["print-scale"].severity == "stop"


def test_with_the_rules_measured_it_is_true_and_nothing_is_said_of_the_print(scenes):
    asked = Asked(print_scale=PrintScale(0.97, 0.97))
    pattern = read_pattern([scenes], "measured", asked=asked).pattern
    assert not {"print-scale", "print-not-measured"} & set(remarks_of(pattern))
    assert np.ptp(pattern.outline, axis=0) == pytest.approx((WIDE, HIGH), abs=2.5)
    assert pattern.scale.accuracy_print_mm < 0.5
