import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d

from digitize.remarks.photos import about_gapes
from digitize.tucks.gape import AT_EDGE_MM, _as_seen, _how_far_off, gape_of, width_at_tip
from digitize.tucks.laps import measure_laps
from digitize.tucks.slits import TuckMarks
from digitize.tucks.thresholds import BLUR_MM as BLURS_MM
from digitize.tucks.thresholds import MOST_OFF_MM
from tests.marks import curve_of

DEPTH_MM = 150.0
CUT = curve_of([[0, 0], [0, DEPTH_MM]], 0.6)
BLUR_MM = 0.35


def slit(gap_mm, kerf_mm=0.1, lap_line=None):
    """The darkness of a slit up the y axis that gapes so wide at its end, as a camera blurs it."""
    x = np.arange(-12.0, 12.0, 0.02)
    y = np.arange(0.0, DEPTH_MM + 5.0, 0.5)
    half = (kerf_mm + gap_mm * y[:, None] / DEPTH_MM) / 2
    dark = 1.5 * (np.abs(x) < half)
    if lap_line is not None:
        dark = np.maximum(dark, 0.6 * (np.abs(x - lap_line(y)[:, None]) < 0.3))
    dark = gaussian_filter1d(dark, BLUR_MM / 0.02, axis=1)
    dark += np.random.default_rng(4).normal(0, 0.02, dark.shape)

    def darkness_at(points):
        row = np.clip(np.rint(points[..., 1] / 0.5), 0, len(y) - 1).astype(int)
        column = np.clip(np.rint((points[..., 0] - x[0]) / 0.02), 0, len(x) - 1).astype(int)
        return dark[row, column]

    return darkness_at


@pytest.mark.parametrize("gap_mm", [0.8, 1.2, 2.0, 3.0])
def test_a_slit_that_lies_open_gapes_in_proportion_to_the_depth(gap_mm):
    gape = gape_of(CUT, None, slit(gap_mm))
    # Its edges are 0.1 mm apart at the tip, which counts as gape further out.
    assert gape(np.array([DEPTH_MM]))[0] == pytest.approx(gap_mm + 0.1, abs=0.15)
    assert gape(np.array([DEPTH_MM / 2]))[0] == pytest.approx(gap_mm / 2 + 0.05, abs=0.1)


def test_a_slit_that_is_darker_than_dark_paper_gapes_as_one_that_is_lighter():
    """There darkness is lightness, and what has less of it has a negative weight."""
    lighter = slit(1.2)
    darker = curve_of(CUT.points, -0.6)
    assert gape_of(darker, None, lambda points: -lighter(points))(DEPTH_MM) == pytest.approx(
        gape_of(CUT, None, lighter)(DEPTH_MM)
    )


def test_a_slit_is_a_hair_at_its_tip_however_far_it_gapes():
    """0.1 mm through a camera's blur; the third mark is as wide as that all along, and the fourth
    is too short to tell."""
    hair, open_, pen = (
        width_at_tip(CUT, None, slit(*made)) for made in ((0.0,), (2.0,), (0.0, 1.4))
    )
    assert hair == pytest.approx(2.355 * BLUR_MM, abs=0.1)
    assert open_ == pytest.approx(hair, abs=0.1)
    assert pen == pytest.approx(1.4, abs=0.1)
    assert np.isnan(width_at_tip(curve_of([[0, 0], [0, 12]]), None, slit(0.0)))


def test_a_slits_width_beside_its_lap_line_is_not_its_gape():
    def lap_line(y):
        return 0.3 + 0.016 * y  # close by for most of the way

    second = curve_of([[0.3, 0], [lap_line(DEPTH_MM), DEPTH_MM]], 0.4)
    dark = slit(1.2, lap_line=lap_line)
    gape = gape_of(CUT, second, dark)
    assert gape(np.array([DEPTH_MM]))[0] == pytest.approx(1.3, abs=0.15)
    assert not gape_of(CUT, second, slit(0.0, lap_line=lap_line))(np.array([DEPTH_MM])).any()


@pytest.mark.parametrize("lap_line", [None, lambda y: 0.06 * y])
def test_a_closed_slit_does_not_gape_whatever_is_drawn_beside_it(lap_line):
    assert not gape_of(CUT, None, slit(0.0, lap_line=lap_line))(np.array([DEPTH_MM])).any()


@pytest.mark.parametrize("by", ["lap-line", "line-break"])
def test_a_lap_beside_an_open_slit_is_measured_from_the_edge_of_the_flap(by):
    def lap(y):
        return 0.06 * y

    gap_mm, depth = 2.0, np.arange(30.0, DEPTH_MM)
    # A pencil of 0.6 mm stood half of that off the edge it was led along; lines begin at the edge.
    beyond = 0.3 if by == "lap-line" else 0.0
    place = np.column_stack([lap(depth) + beyond + gap_mm / 2 * depth / DEPTH_MM, depth])
    second, lines = None, []
    if by == "lap-line":
        second = curve_of(place, 0.2)
    else:
        for x, y in place[[60, 90]]:
            lines += [
                curve_of([[-60, y], [-gap_mm / 2 * y / DEPTH_MM, y]]),
                curve_of([[x, y], [70, y]]),
            ]
    reading = measure_laps(TuckMarks("slit", CUT, second), 1e5, lines, slit(gap_mm))
    assert reading.gape_mm == pytest.approx(gap_mm, abs=0.3)
    assert len(reading.stations) > 1
    for station in reading.stations:
        assert station.evidence == by
        assert station.lap == pytest.approx(lap(station.depth), abs=0.2)
    (warning,) = about_gapes([reading], [(0.0, 0.0)])
    assert warning.about == ("T1",) and "tape" in warning.words


@pytest.mark.parametrize("opened_mm", [0.0, 0.7, 3.1])
def test_where_not_all_slopes_are_looked_at_the_least_off_is_found_all_the_same(opened_mm):
    depths, slopes = np.arange(10.0, 110.0), AT_EDGE_MM / 120.0
    rng = np.random.default_rng(2)
    for blur_mm in (0.45, 1.2, 1.9):
        gaps = depths[None] / 120.0 * opened_mm
        widths = _as_seen(gaps, np.array([[blur_mm]]))[0] + rng.normal(0, 0.15, len(depths))
        widths[::7] += 1.5
        found = _how_far_off(slopes, depths, widths)
        seen = _as_seen(np.multiply.outer(slopes, depths)[None], BLURS_MM[:, None, None])
        every = np.abs(widths - seen).clip(max=MOST_OFF_MM).mean(axis=2)
        looked_at = np.isfinite(found)
        assert looked_at.mean() < 0.5
        assert (found[looked_at] == every[looked_at]).all()
        assert found.argmin() == every.argmin()
        least = every.min(axis=0).argmin()
        assert looked_at[:, 0].all() and looked_at[:, least].all()
