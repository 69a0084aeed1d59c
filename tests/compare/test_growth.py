"""How a paper has grown, from placements that are known."""

import numpy as np
import pytest

from digitize.compare.growth import Growth, about_growth, growth_in
from digitize.plane import Placement, rotation

# 400 mm long and 100 high: from its middle it reaches 200 mm.
POINTS = np.array([[50.0, 10.0], [450.0, 10.0], [450.0, 110.0]])


def placement(along, across, along_deg):
    """A later reading, grown by shares along a direction and lying turned by 70 degrees."""
    way = rotation(np.radians(along_deg))
    grown = way @ np.diag([1 + along, 1 + across]) @ way.T
    # Laid on the earlier reading, the growth is taken back.
    matrix = np.linalg.inv(grown) @ rotation(np.radians(70))
    covariance = np.diag([9e-2, 9e-2, 9e-2, 1e-8, 4e-8, 9e-2])
    return Placement(matrix, np.array([5.0, -3.0]), np.zeros(2), covariance)


@pytest.mark.parametrize(
    ("along", "across", "along_deg"),
    [(0.006, 0.001, 30), (-0.010, 0.004, 30), (0.006, -0.001, 100)],
)
def test_growth_is_what_the_placement_takes_back(along, across, along_deg):
    growth = growth_in(placement(along, across, along_deg), POINTS, 0.1)
    assert growth.along == pytest.approx(along, abs=1e-9)
    assert growth.across == pytest.approx(across, abs=1e-9)
    assert growth.along_deg == pytest.approx(along_deg)


def test_growth_is_within_what_the_fit_and_both_scales_leave_open():
    # 1.96 times the larger strain's sigma, 2e-4, and 0.1 mm over 200.
    within = growth_in(placement(0.006, 0.001, 30), POINTS, 0.1).within
    assert within == pytest.approx(np.hypot(1.96 * 2e-4, 0.1 / 200), rel=1e-6)


def test_growth_is_sure_if_one_direction_is():
    assert Growth(along=-0.0030, across=0.0002, along_deg=0.0, within=0.0025).is_sure
    assert not Growth(along=-0.0024, across=0.0002, along_deg=0.0, within=0.0025).is_sure


def test_growth_in_words():
    said = about_growth(Growth(along=0.0042, across=-0.0013, along_deg=29.6, within=0.0006))
    assert said == (
        "the paper has grown by 0.42% along 30 degrees and shrunk by 0.13% across that, "
        "each to 0.06%"
    )
