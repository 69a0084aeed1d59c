"""The shrink sheet and the closed pattern of made-up fields, tables and zones, read back."""

import numpy as np
import pytest
import svgelements
from shapely import LineString, Point, Polygon, box

from digitize.draw.closed import closed_svg
from digitize.draw.sheet import window_on
from digitize.draw.shrink import COLOURS, shrink_svg
from digitize.draw.style import STYLES
from digitize.record import LapAt, Pattern, Sheet, Zone
from digitize.shop.shrink import ShrinkRow, ShrinkTable
from digitize.take_up import ClosedZone, ShrinkField
from tests.draw.lopsided import line, tuck
from tests.draw.read_back import polylines, read, row_at, texts, within, words_at

OUTLINE = ((0, 0), (400, 0), (400, 180), (150, 260), (0, 260))
BOUNDARY = ((100, 0), (300, 0), (300, 120), (100, 120))


def test_a_window_fits_the_width_or_the_height_there_is():
    # With 10 mm to spare 220 x 120 mm: 186 mm of width is the less, 186 / 220 to 1.
    wide = window_on([(-30, 40), (170, 140)], 30.0, 10.0)
    assert wide.scale == pytest.approx(186 / 220)
    assert wide.at((-40, 150)) == pytest.approx((12, 30))
    assert wide.at((180, 30)) == pytest.approx((198, 30 + 120 * 186 / 220), abs=0.001)
    assert wide.bottom == pytest.approx(30 + 120 * 186 / 220)
    # 100 x 300 mm: 150 mm of height is the less, 1 to 2.
    high = window_on([(0, 0), (100, 300)], 30.0, 0.0)
    assert high.scale == 0.5 and high.bottom == 180
    # 50 mm wide in the middle of 186: 68 mm from the margin of 12.
    assert high.at((20, 260)) == (12 + 68 + 10, 50)


@pytest.fixture(scope="module")
def shrunk():
    """A zone whose stretch grows evenly from nothing at its left to 4.5 % at its right."""
    zone = Zone(
        id="Z1",
        kind="stretch",
        boundary=BOUNDARY,
        tucks=("T1", "T2"),
        stations=(),
        peak_shrink=-0.04,
        peak_local=-0.045,
    )
    pattern = Pattern(
        name="sheet",
        side="right",
        outline=OUTLINE,
        lines=(
            line("L1", "slit", [(170, 50), (200, 90)]),
            line("L2", "slit", [(250, 20), (250, 100)]),
        ),
        tucks=(
            tuck("T1", "L1", (170, 50), lap_at_trim=7.4, profile=(LapAt(depth=9, lap=1, sigma=1),)),
            tuck("T2", "L2", (250, 20), lap_at_trim=5.2),
        ),
        zones=(zone,),
        sheet=Sheet(material="steel", thickness=1.2147, gauge=18),
    )
    places = np.stack(np.meshgrid(np.linspace(100, 300, 41), np.linspace(0, 120, 13)), axis=-1)
    field = ShrinkField(zone, places, -0.045 * (places[..., 0] - 100) / 200)
    table = ShrinkTable(
        "Z1",
        "stretch",
        (0.0, 20.0, 40.0),
        (
            ShrinkRow("T1", 63.0, (7.4, 4.2, 1.1), 51.0, 0.117, 1.376),
            ShrinkRow("T2", 71.0, (5.2, 3.3, 0.0), 38.0, 0.073, 1.310),
        ),
    )
    return read(shrink_svg(pattern, [field], [table]))


# The map shows the zone with 25 mm to spare: from 75 to 325 across, 186 mm wide on the sheet, and
# up to 145; its top is at 24 mm.
SCALE = 186 / 250


def on_map(x, y):
    return 12 + SCALE * (x - 75), 24 + SCALE * (145 - y)


def test_each_band_begins_where_the_metal_is_stretched_by_so_much(shrunk):
    shapes = [e for e in within(shrunk, "Z1") if isinstance(e, svgelements.Path)]
    # The finest step with no more bands than colours is one per cent; each is 200 / 4.5 mm wide.
    assert [str(e.fill) for e in shapes] == list(COLOURS[:5])
    for percent, shape in enumerate(shapes):
        left, top, right, bottom = shape.bbox()
        assert (left, bottom) == pytest.approx(on_map(100 + percent * 200 / 4.5, 0), abs=0.1)
        assert (right, top) == pytest.approx(on_map(300, 120), abs=0.1)


def test_the_key_says_where_each_band_begins(shrunk):
    boxes = {
        str(e.fill): e.x
        for e in shrunk.elements()
        if isinstance(e, svgelements.Rect) and str(e.fill) in COLOURS
    }
    places = words_at(shrunk)
    assert list(boxes) == list(COLOURS[:5])
    for percent, left in enumerate(boxes.values()):
        assert places[str(percent)][0] == pytest.approx(left)
    assert "stretch, %" in places
    # 250 mm on 186: one to 1.34.
    assert any(words.endswith("Scale 1 : 1.3.") for words in places)


def test_a_tucks_figure_stands_beside_the_end_of_its_slit(shrunk):
    x, y = words_at(shrunk)["T1 7.4 (9/32)"]
    end = Point(on_map(200, 90))
    assert end.distance(LineString([(x, y - 1), (x + 17, y - 1)])) < 50 * SCALE
    assert not box(x, y - 2.4, x + 17, y).intersects(Polygon([on_map(*p) for p in BOUNDARY]))


def test_each_figure_of_the_table_stands_under_its_head(shrunk):
    heads = ["tuck", "0 mm", "20 mm", "40 mm", "fades at", "over", "per 100", "sheet after"]
    row = row_at(shrunk, heads, "T1")
    assert list(row.values()) == [
        "T1",
        "7.4 (9/32)",
        "4.2 (5/32)",
        "1.1 (1/32)",
        "51 mm",
        "63 mm",
        "11.7",
        "1.38 mm",
    ]
    words = [text for text, _, _ in texts(shrunk)]
    assert any(each.startswith("Z1, stretch: let in (-), in mm") for each in words)
    # 12.6 mm are 15.9 thirty-seconds of an inch.
    assert any(each.startswith("together 12.6 mm (1/2 in) at the edge") for each in words)


def test_the_table_of_a_zone_to_shrink_says_take_out(corner):
    table = ShrinkTable("Z1", "shrink", (0.0,), (ShrinkRow("T1", 63.0, (7.4,), 51.0, 0.1, None),))
    words = words_at(read(shrink_svg(corner, [], [table])))
    assert any(each.startswith("Z1, shrink: take out, in mm") for each in words)


def test_closed_zones_show_their_own_tucks_and_what_stays_open_at_its_place():
    def closed(name, seams, breaks):
        points = np.array([(0.0, 0.0), (100.0, 60.0)])
        return ClosedZone(name, (("L1", points),), tuple(np.array(s) for s in seams), breaks)

    # Each window shows 116 x 76 mm, with 8 mm to spare all round, on 186 mm of width.
    zones = (
        closed("Z1", [[(40.0, 10.0), (45.0, 50.0)]], (("T4", np.array((42.0, 30.0)), 0.7),)),
        closed("Z2", [[(70.0, 5.0), (72.0, 50.0)]], (("T2", np.array((71.0, 20.0)), 0.3),)),
    )
    pattern = Pattern(
        name="sheet",
        outline=OUTLINE,
        lines=(line("L1", "trim-edge", [(0, 0), (100, 60)]),),
        zones=tuple(
            Zone(id=name, kind="shrink", boundary=BOUNDARY, tucks=tucks, stations=(), peak_shrink=0)
            for name, tucks in (("Z1", ("T4",)), ("Z2", ("T2",)))
        ),
        closure_rms=0.37,
    )
    svg = read(closed_svg(pattern, zones))
    scale = 186 / 116
    tops = (24, 24 + 76 * scale + 12)

    def placed(index, x, y):
        return 12 + scale * (x + 8), tops[index] + scale * (68 - y)

    circles = [e for e in svg.elements() if isinstance(e, svgelements.Circle)]
    for index, (circle, place, colour) in enumerate(
        zip(circles, [(42, 30), (71, 20)], [STYLES["trim-edge"].colour, "#000000"], strict=True)
    ):
        assert (circle.cx, circle.cy) == pytest.approx(placed(index, *place), abs=0.002)
        assert str(circle.stroke) == colour
    places = words_at(svg)
    for index, (name, place) in enumerate((("T4", (40, 10)), ("T2", (70, 5)))):
        x, y = placed(index, *place)
        assert places[name] == pytest.approx((x, y - 1.5), abs=0.002)
    assert {"0.7", "0.3"} <= set(places)
    assert any(words.endswith("mm; 0.37 mm RMS.") for words in places)
    (_, drawn), *_ = polylines(
        [e for e in within(svg, "Z1") if str(e.stroke) == STYLES["trim-edge"].colour]
    )
    assert drawn == [pytest.approx(placed(0, *p), abs=0.002) for p in [(0, 0), (100, 60)]]
