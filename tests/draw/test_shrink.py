"""The shrink sheet and the closed pattern, read back by svgelements and a rasteriser."""

import io
import itertools

import numpy as np
import svgelements

from digitize.draw.closed import closed_svg
from digitize.draw.shrink import COLOURS, shrink_svg
from digitize.shop import shrink_tables
from digitize.shop.metal import sheet_of
from digitize.take_up import closed_zones, shrink_fields, zones_and_fans
from digitize.units import in_both
from tests.draw.test_svg import rasterised


def sheet_of_shrink(pattern):
    fans = zones_and_fans(pattern)
    return shrink_svg(pattern, shrink_fields(fans), shrink_tables(pattern, fans))


def closed_in(pattern):
    return closed_zones(pattern, zones_and_fans(pattern))


def words_in(text):
    svg = svgelements.SVG.parse(io.StringIO(text))
    return [e.text for e in svg.elements() if isinstance(e, svgelements.Text)]


def test_the_sheet_says_what_to_take_out_and_how_thick_it_gets(corner):
    pattern = corner.model_copy(update={"sheet": sheet_of("steel 18 ga")})
    words = words_in(sheet_of_shrink(pattern))
    for tuck in pattern.tucks:
        assert f"{tuck.id} {in_both(tuck.lap_at_trim)}" in words
        assert f"{tuck.depth_at_trim:.0f} mm" in words
    assert any("1.21 mm before" in each for each in words)
    assert any("Gloves" in each for each in words)


def test_bands_get_darker_and_hold_more_shrink(corner):
    bright = [0.2126 * r + 0.7152 * g + 0.0722 * b for r, g, b in map(rgb, COLOURS)]
    assert all(a > b + 10 for a, b in itertools.pairwise(bright))
    picture = rasterised(sheet_of_shrink(corner), 60)
    shares = [np.abs(picture.astype(int) - rgb(c)).max(axis=2) < 12 for c in COLOURS[:5]]
    areas = [int(share.sum()) for share in shares]
    assert areas[0] > areas[4] > 0


def rgb(colour):
    return [int(colour[i : i + 2], 16) for i in (1, 3, 5)]


def test_no_word_runs_off_the_sheet(corner):
    for text in (sheet_of_shrink(corner), closed_svg(corner, closed_in(corner))):
        picture = rasterised(text, 60)
        rim = np.concatenate([picture[:, :8].reshape(-1, 3), picture[:, -8:].reshape(-1, 3)])
        assert (rim > 200).all()


def test_closed_lines_meet_and_shorten_by_what_the_tucks_take_up(corner):
    (zone,) = closed_in(corner)
    (record,) = corner.zones
    trim = {line.id for line in corner.lines if line.role == "trim-edge"}
    edge = [points for name, points in zone.lines if name in trim]
    whole = sum(float(np.linalg.norm(np.diff(p, axis=0), axis=1).sum()) for p in edge)
    ends = np.array([p[k] for p in edge for k in (0, -1)])
    gaps = [np.sort(np.linalg.norm(ends - end, axis=1))[1] for end in ends]
    assert np.sort(gaps)[: 2 * (len(record.tucks) - 1)].max() < 1.0
    station = record.stations[-1]
    assert whole < station.flat_length
    assert abs(whole - (station.flat_length - station.take_up)) < 0.06 * station.flat_length
