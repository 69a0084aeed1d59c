"""A plot of a made-up band, read back.

A plot is 98 mm wide, from 22 mm on, for the length of its radius start, and 46 mm high, from 12 mm
on; its curves rise to nine tenths of that.
"""

import pytest

from digitize.draw.bands import bands_svg
from digitize.record import Band, BandStation, Pattern
from tests.draw.lopsided import line
from tests.draw.read_back import polylines, read, within, words_at


@pytest.fixture(scope="module")
def svg():
    stations = (
        BandStation(along=50, width=20, radius=30, turned_deg=38.2),
        BandStation(along=100, width=31, radius=80, turned_deg=22.2),
        BandStation(along=150, width=26, radius=60, turned_deg=24.8),
    )
    band = Band(id="B1", start="L1", ends=("L2", "L4"), stations=stations)
    lines = (line("L1", "radius-start", [(0, 0), (200, 0)]),)
    return read(bands_svg(Pattern(name="p", outline=((0, 0), (9, 0)), lines=lines, bands=(band,))))


def test_curves_stand_at_their_stations_and_rise_in_proportion(svg):
    curves = [points for _, points in polylines(within(svg, "B1")) if len(points) == 3][1:]
    across = [22 + 98 * along / 200 for along in (50, 100, 150)]
    for points, values in zip(
        curves, [(20, 31, 26), (30, 80, 60), (38.2, 22.2, 24.8)], strict=True
    ):
        rise = [58 - 0.9 * 46 * value / max(values) for value in values]
        assert points == [pytest.approx(p, abs=0.002) for p in zip(across, rise, strict=True)]


def test_each_curve_is_named_with_its_range_and_colour(svg):
    words = words_at(svg)
    for each in ("width mm: 20 to 31", "radius mm: 30 to 80", "turned deg: 22 to 38"):
        assert words[each][0] == pytest.approx(123)
    assert words["B1: from L1 to L2 L4"] == pytest.approx((22, 8))
    # A quarter of 200 mm stands a quarter of the way.
    assert words["50"] == pytest.approx((22 + 98 / 4, 63))
