"""Sizes that standards fix, recovered from photos of a drawn floor holding such objects.

Sources: ISO 216:2007 (A-series trimmed sizes: A4 210 x 297 mm, A5 148 x 210 mm); ISO/IEC
7810:2019 (ID-1 cards: 85.60 x 53.98 mm, corner radius 3.18 mm); the international yard and pound
agreement of 1959 (1 in = 25.4 mm exactly); ANSI/ASME Y14.1 (size A sheet, 8.5 x 11 in). The
figures are quoted from memory.
"""

import cv2
import numpy as np
import pytest
from shapely import Point, Polygon, box

from digitize.card.find import find_cards
from digitize.card.layout import RULE_INCH_MM, SHEETS_MM
from digitize.floor.accuracy import NORMAL_95
from digitize.floor.print_size import CUT_MM
from digitize.floor.raster import rectify, upright_frame
from digitize.floor.solve import solve_floor
from digitize.floor.start import View
from digitize.paper import place_edge
from tests.paper.floors import cut_at
from tests.scene import Floor, Shot


def test_an_inch_is_25_point_4_mm():
    assert pytest.approx(6 * 25.4, abs=1e-9) == RULE_INCH_MM
    assert SHEETS_MM["letter"] == pytest.approx((8.5 * 25.4, 11 * 25.4))


def test_sheets_are_taken_to_be_cut_within_what_iso_216_allows():
    # ISO 216:2007: 1.5 mm at sides up to 150 mm, 2 mm from there to 600 mm (from memory).
    assert 1.0 < NORMAL_95 * CUT_MM <= 2.0


def test_the_a_series_halves():
    width, height = SHEETS_MM["a4"]
    assert (width, height) == (210, 297)
    assert height / width == pytest.approx(np.sqrt(2), abs=0.003)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("size", "radius", "turn_deg"),
    [((148.0, 210.0), 0.0, 20.0), ((85.60, 53.98), 3.18, -35.0)],
    ids=["ISO 216 A5", "ISO/IEC 7810 ID-1"],
)
def test_a_standard_object_is_recovered_at_its_size(size, radius, turn_deg):
    half = np.array(size) / 2 - radius
    shape = box(*-half, *half).buffer(radius) if radius else box(*-half, *half)
    turn = np.radians(turn_deg)
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    outline = np.array(shape.exterior.coords[:-1]) @ rotation.T
    floor = Floor(450)
    for number, (x, y, angle) in {1: (-260.0, 60.0, 0.0), 2: (260.0, -40.0, 180.0)}.items():
        floor.lay_card(number, x, y, angle)
    floor.lay_sheet(outline, (205, 170, 120))
    photo = floor.photograph(Shot(eye=(90, -220, 800), focal_px=1500))
    grey = cv2.cvtColor(photo, cv2.COLOR_RGB2GRAY)
    solution = solve_floor([View(find_cards(grey), (2016, 1512), 1500.0)])
    camera = solution.cameras[0]
    frame = upright_frame(camera)
    centre = camera.to_floor(Shot(eye=(90, -220, 800), focal_px=1500).project(np.zeros((1, 2))))
    middle = frame.from_floor(centre)[0]
    bounds = (*(middle - 150), *(middle + 150))
    fine = rectify(photo, camera, frame, bounds, 0.25)
    # Where the object lies is given roughly; its size is what the reading has to find.
    spot = np.linalg.norm(fine.pixels.astype(int) - [205, 170, 120], axis=2) < 45
    rough = max(
        cv2.findContours(spot.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0],
        key=cv2.contourArea,
    )[:, 0].astype(float)
    spot_mm = Polygon(fine.to_mm(rough))
    grown = np.array(spot_mm.buffer(1.5).exterior.coords[:-1])
    edge = place_edge(fine, cut_at(grown, spot_mm, (300, 300), bounds[:2])).points
    (_, sides, _) = cv2.minAreaRect(_middle_half(edge).astype(np.float32))
    assert sorted(sides) == pytest.approx(sorted(size), abs=0.4)


def _middle_half(edge):
    """The edge without its corners, which the tracing rounds a little."""
    (centre, sides, angle) = cv2.minAreaRect(edge.astype(np.float32))
    corners = cv2.boxPoints((centre, sides, angle))
    far = [min(Point(*p).distance(Point(*c)) for c in corners) > 8 for p in edge]
    return edge[np.array(far)]
