from dataclasses import fields, replace

import cv2
import numpy as np
import pytest
from shapely import LinearRing, LineString, Point, Polygon, box

from digitize.paper import cut_paper, place_edge
from digitize.paper.edge import _not_straight_on, _plainer_before, _Signs, _signs
from digitize.paper.thresholds import PATH_REACH_MM, SPLIT_REACHES_MM
from tests.paper.floors import BROWN, WHITE, card_at, cut_at, floor_with

STRIPE = (150, 90, 70)
LEANING = np.array([[40, 30], [230, 52], [210, 150], [60, 128]], float)


@pytest.fixture(scope="module")
def leaning():
    """A small sheet's fine raster."""
    return floor_with((LEANING, BROWN), size_mm=(180, 270))[0]


def outward(outline, truth):
    """How far points lie outside of a shape (mm, negative inside), those near its corners not."""
    corners = [Point(*corner) for corner in truth.exterior.coords]
    points = [Point(*p) for p in outline]
    clear = [p for p in points if min(p.distance(corner) for corner in corners) > 10]
    signs = [-1 if truth.contains(p) else 1 for p in clear]
    return np.array([s * truth.exterior.distance(p) for s, p in zip(signs, clear, strict=True)])


@pytest.mark.parametrize("clockwise", [False, True])
@pytest.mark.parametrize("rough_mm", [-4.5, 5.5])
def test_the_edge_is_drawn_neither_in_nor_out_wherever_it_was_sought(leaning, rough_mm, clockwise):
    truth = Polygon(LEANING)
    rough = np.array(truth.buffer(rough_mm).exterior.coords)
    turned = LinearRing(rough).is_ccw == clockwise
    cut = cut_at(rough[::-1] if turned else rough, truth, (180, 270))
    edge = place_edge(leaning, cut)
    misses = outward(edge.points, truth)
    assert abs(misses.mean()) < 0.1
    assert np.abs(misses).max() < 0.4
    assert not edge.unsure.any()


def test_corners_are_sharp(leaning):
    truth = Polygon(LEANING)
    rough = np.array(truth.buffer(-12).buffer(12).exterior.coords)
    edge = place_edge(leaning, cut_at(rough, truth, (180, 270)))
    for corner in LEANING:
        assert np.hypot(*(edge.points - corner).T).min() < 1.5


def test_the_outline_runs_counter_clockwise_and_has_each_place_once(leaning):
    rough = np.array(Polygon(LEANING).buffer(1.0).exterior.coords)
    for given in (rough, rough[::-1]):
        outline = place_edge(leaning, cut_at(given, Polygon(LEANING), (180, 270))).points
        x, y = outline.T
        twice_the_area = (x * np.roll(y, -1) - np.roll(x, -1) * y).sum()
        assert twice_the_area / 2 == pytest.approx(Polygon(LEANING).area, rel=0.01)
        assert len(np.unique(outline, axis=0)) == len(outline)


def test_the_edge_is_placed_within_half_a_millimetre():
    shape = np.array([[150, 120], [700, 160], [740, 520], [180, 560]], float)
    fine, coarse = floor_with((shape, BROWN))
    edge = place_edge(fine, cut_paper(coarse, []))
    truth = Polygon(shape)
    assert Polygon(edge.points).area == pytest.approx(truth.area, rel=0.003)
    misses = [truth.exterior.distance(Point(*p)) for p in edge.points]
    assert np.percentile(misses, 95) < 0.5
    assert not edge.unsure.any()


def test_an_edge_that_is_plain_close_by_stays_where_it_is_though_afar_it_is_doubted():
    """A side that bends in by 2.8 mm, and whose paper looks like neither there in the cut."""
    x = np.linspace(160, 240, 41)
    bend = 250 - 2.8 * np.sin(np.pi * (x - 160) / 80) ** 2
    ring = [(60, 60), (60, 250), *zip(x, bend, strict=True), (440, 250), (440, 60)]
    sheet = Polygon(ring)
    fine, _ = floor_with((np.array(ring), BROWN), size_mm=(310, 500))
    cut = cut_at(np.array(sheet.exterior.segmentize(2.0).coords[:-1]), sheet, (310, 500))
    left, low, right, top = 155, 225, 245, 250
    (first, upper), (last, lower) = np.round(
        cut.floor_like.to_px(np.array([[left, top], [right, low]], float))
    ).astype(int)
    doubted = cut.floor_like.values.copy()
    part = doubted[upper : lower + 1, first : last + 1]
    part[part < 0] = -0.2
    edge = place_edge(fine, replace(cut, floor_like=replace(cut.floor_like, values=doubted)))
    beside = (edge.points[:, 1] > 240) & (np.abs(edge.points[:, 0] - 200) < 25)
    assert max(sheet.exterior.distance(Point(*p)) for p in edge.points[beside]) < 1
    assert edge.unsure[beside].all()


def test_where_something_lies_on_the_edge_it_is_carried_on_and_named():
    """A cloth of a look of its own over 100 mm of a straight side."""
    shape = box(150, 120, 700, 520)
    cloth = np.array(box(300, 480, 400, 560).exterior.coords[:-1])
    fine, coarse = floor_with((np.array(shape.exterior.coords[:-1]), BROWN), (cloth, (170, 20, 20)))
    edge = place_edge(fine, cut_paper(coarse, []))
    assert max(shape.exterior.distance(Point(*p)) for p in edge.points) < 3
    (stretch,) = edge.unsure_stretches()
    assert abs(stretch[:, 0].min() - 300) < 20
    assert abs(stretch[:, 0].max() - 400) < 20
    assert np.abs(stretch[:, 1] - 520).max() < 1


@pytest.mark.parametrize(("share", "tint"), [(0.7, 1.0), (1.0, 0.97)])
def test_a_strip_that_looks_like_paper_from_afar_is_named(share, tint):
    """Along 100 mm of a side the cut took 9 mm of floor, almost of the sheet's look, for paper."""
    sheet, strip = box(60, 60, 440, 250), box(180, 250, 280, 259)
    fine, _ = floor_with((np.array(sheet.exterior.coords[:-1]), BROWN), size_mm=(310, 500))
    corners = fine.to_px(np.array([[180, 250.4], [280, 259]]))
    (left, low), (right, top) = np.round(corners).astype(int)
    part = fine.pixels[top:low, left:right]
    part[:] = np.clip(part * (1 - share) + np.array(BROWN) * share * tint, 0, 255)
    taken = sheet.union(strip)
    ring = np.array(taken.exterior.segmentize(2.0).coords[:-1])
    edge = place_edge(fine, cut_at(ring, taken, (310, 500)))
    beside = (edge.points[:, 1] > 240) & (np.abs(edge.points[:, 0] - 230) < 40)
    assert np.abs(edge.points[beside, 1] - 250).max() < 2
    assert edge.unsure[beside].all()
    assert not edge.unsure[edge.points[:, 1] < 240].any()


def test_a_card_over_the_edge_is_not_the_papers_edge():
    shape, card = box(150, 120, 700, 520), box(350, 400, 560, 697)
    rings = [np.array(each.exterior.coords[:-1]) for each in (shape, card)]
    fine, coarse = floor_with((rings[0], BROWN), (rings[1], WHITE), size_mm=(760, 900))
    edge = place_edge(fine, cut_paper(coarse, [card_at(card)]))
    assert max(shape.exterior.distance(Point(*p)) for p in edge.points) < 3
    (stretch,) = edge.unsure_stretches()
    assert abs(stretch[:, 0].min() - 350) < 25
    assert abs(stretch[:, 0].max() - 560) < 25


def test_nothing_is_borne_out_where_all_looks_alike(leaning):
    """The same picture, but neither side looks like anything known."""
    truth = Polygon(LEANING)
    cut = cut_at(LEANING, truth, (180, 270))
    edge = place_edge(
        leaning, replace(cut, floor_like=replace(cut.floor_like, values=cut.floor_like.values * 0))
    )
    assert edge.unsure.all()
    (whole,) = edge.unsure_stretches()
    assert np.array_equal(whole[0], whole[-1])


def test_a_corner_on_which_something_lies_is_where_the_sides_meet_and_is_named():
    """A round thing of a look of its own over a corner."""
    shape = box(150, 120, 700, 520)
    roll = np.array(Point(700, 520).buffer(35).exterior.coords[:-1])
    fine, coarse = floor_with((np.array(shape.exterior.coords[:-1]), BROWN), (roll, (170, 20, 20)))
    edge = place_edge(fine, cut_paper(coarse, []))
    assert max(shape.exterior.distance(Point(*p)) for p in edge.points) < 3
    assert np.hypot(*(edge.points - [700, 520]).T).min() < 1.5
    (stretch,) = edge.unsure_stretches()
    assert np.hypot(*(stretch - [700, 520]).T).max() < 60


def test_a_dark_thing_on_the_edge_is_no_dent_on_a_dark_floor():
    """A cable as dark as the floor's darkest ends on a side; the edge was read round its end."""
    shape = box(60, 60, 440, 250)
    thing = LineString([(120, 300), (190, 262), (215, 243), (265, 242)]).buffer(6)
    fine, _ = floor_with(
        (np.array(shape.exterior.coords[:-1]), BROWN),
        (np.array(thing.exterior.coords[:-1]), (55, 55, 55)),
        size_mm=(310, 500),
    )
    dented = shape.difference(thing)
    ring = np.array(dented.exterior.segmentize(2.0).coords[:-1])
    edge = place_edge(fine, cut_at(ring, dented, (310, 500)))
    beside = (edge.points[:, 1] > 230) & (np.abs(edge.points[:, 0] - 240) < 20)
    assert np.abs(edge.points[beside, 1] - 250).max() < 2
    assert edge.unsure[beside].all()
    assert not edge.unsure[edge.points[:, 1] < 230].any()


def test_a_cards_own_border_bears_no_edge_out():
    """A white paper over a card was read to the card's border; of it only a part is surely seen."""
    paper, sheet, seen = box(60, 60, 300, 250), box(240, 140, 450, 290), box(380, 140, 450, 290)
    fine, _ = floor_with(
        (np.array(sheet.exterior.coords[:-1]), WHITE),
        (np.array(paper.exterior.coords[:-1]), WHITE),
        size_mm=(320, 500),
    )
    read = paper.union(box(240, 140, 372, 290))
    ring = np.array(read.exterior.segmentize(2.0).coords[:-1])
    edge = place_edge(fine, cut_at(ring, read, (320, 500), cards=(card_at(sheet, seen),)))
    off = np.array([paper.exterior.distance(Point(*p)) for p in edge.points])
    assert edge.unsure[off > 5].all()


def test_a_cards_print_bears_no_edge_out():
    """A white paper lies over a white card; the edge was read to a dark field that is printed."""
    paper, sheet, seen = box(60, 60, 440, 250), box(150, 180, 350, 320), box(150, 275, 350, 320)
    field = box(152, 264, 240, 300)
    fine, _ = floor_with(
        (np.array(sheet.exterior.coords[:-1]), WHITE),
        (np.array(field.exterior.coords[:-1]), (60, 60, 60)),
        (np.array(paper.exterior.coords[:-1]), WHITE),
        size_mm=(340, 500),
    )
    read = paper.union(box(151, 250, 241, 264))
    ring = np.array(read.exterior.segmentize(2.0).coords[:-1])
    edge = place_edge(fine, cut_at(ring, read, (340, 500), cards=(card_at(sheet, seen),)))
    assert max(paper.exterior.distance(Point(*p)) for p in edge.points) < 3
    (stretch,) = edge.unsure_stretches()
    assert np.abs(stretch[:, 1] - 250).max() < 3


@pytest.mark.parametrize("fleck", [True, False])
def test_a_fleck_on_the_edge_is_no_bay_and_a_notch_is_one(fleck):
    """Both 12 mm wide; one is of a colour of its own, in the other the floor shows."""
    sheet = box(60, 60, 440, 250)
    bay = Point(246, 250).buffer(6) if fleck else Polygon([(240, 251), (252, 251), (246, 236)])
    paper = np.array((sheet if fleck else sheet.difference(bay)).exterior.coords[:-1])
    red = (np.array(bay.intersection(sheet).exterior.coords[:-1]), (120, 60, 60))
    fine, _ = floor_with((paper, BROWN), *([red] if fleck else []), size_mm=(310, 500))
    read = sheet.difference(bay)
    ring = np.array(read.exterior.segmentize(2.0).coords[:-1])
    edge = place_edge(fine, cut_at(ring, read, (310, 500)))
    deep = sheet.difference(Polygon(edge.points)).intersection(bay.buffer(1)).area
    assert deep < 15 if fleck else deep > 0.7 * bay.intersection(sheet).area


def test_a_blade_over_the_edge_is_no_notch_though_one_side_of_it_looks_like_floor():
    """Of the notch that it seems to cut into a straight side, one side alone is contradicted."""
    sheet = box(60, 60, 440, 250)
    blade = Polygon([(230, 290), (256, 290), (256, 200)])
    fine, _ = floor_with(
        (np.array(sheet.exterior.coords[:-1]), BROWN),
        (np.array(blade.exterior.coords[:-1]), (170, 20, 20)),
        size_mm=(310, 500),
    )
    bare = floor_with(size_mm=(310, 500))[0]
    notch = Polygon([(256, 290), (276, 290), (256, 200)])
    mask = np.zeros(fine.pixels.shape[:2], np.uint8)
    cv2.fillPoly(mask, [np.round(fine.to_px(np.array(notch.exterior.coords))).astype(np.int32)], 1)
    fine.pixels[mask > 0] = bare.pixels[mask > 0]
    read = sheet.difference(blade).difference(notch)
    ring = np.array(read.exterior.segmentize(2.0).coords[:-1])
    edge = place_edge(fine, cut_at(ring, read, (310, 500)))
    assert max(sheet.exterior.distance(Point(*p)) for p in edge.points) < 3


@pytest.mark.parametrize("sun", [False, True])
def test_an_edge_that_is_burnt_out_by_degrees_is_borne_out_and_a_patch_of_sun_is_not(sun):
    sheet = box(60, 60, 440, 250)
    fine, _ = floor_with(
        (np.array(sheet.exterior.coords[:-1]), (200, 196, 190)), size_mm=(310, 500)
    )
    right = fine.left + np.arange(fine.pixels.shape[1]) * fine.mm_per_px - 150
    light = np.where(right > 100, 1.6, 1.0) if sun else 1 + np.clip(right, 0, None) / 500
    pixels = np.clip(fine.pixels * light[None, :, None], 0, 255).astype(np.uint8)
    cut = cut_at(np.array(sheet.exterior.segmentize(2.0).coords[:-1]), sheet, (310, 500))
    burnt = cut.floor_like.values.copy()
    columns = cut.floor_like.left + 4 * np.arange(burnt.shape[1])
    burnt[(burnt < 0) & (columns > (250 if sun else 280))[None]] = 0  # it says nothing there
    edge = place_edge(
        replace(fine, pixels=pixels), replace(cut, floor_like=replace(cut.floor_like, values=burnt))
    )
    beside = edge.points[:, 0] > 380
    assert edge.burnt[beside].mean() > 0.9
    assert edge.unsure[beside].mean() > 0.9 if sun else not edge.unsure.any()


def test_a_short_stripe_of_floor_beside_a_straight_side_is_no_doubt_and_a_long_one_is():
    """Along a side lies a stripe that looks like no floor elsewhere, 12 mm wide."""
    sheet = box(60, 60, 440, 250)
    ring = np.array(sheet.exterior.segmentize(2.0).coords[:-1])
    for long, doubted in ((36, False), (110, True)):
        fine, _ = floor_with((np.array(sheet.exterior.coords[:-1]), BROWN), size_mm=(310, 500))
        corners = fine.to_px(np.array([[200, 250.4], [200 + long, 262]]))
        (left, low), (right, top) = np.round(corners).astype(int)
        fine.pixels[top:low, left:right] = STRIPE
        edge = place_edge(fine, cut_at(ring, sheet, (310, 500)))
        assert edge.unsure.any() == doubted
        beside = (edge.points[:, 1] > 240) & (np.abs(edge.points[:, 0] - 250) < 100)
        assert np.abs(edge.points[beside, 1] - 250).max() < 1


@pytest.mark.parametrize(
    ("long", "aside_mm", "by_either", "doubted"),
    [(20, 0.0, 1.0, False), (30, 0.0, 1.0, True), (20, 1.5, 1.0, True), (20, 0.0, 0.9, True)],
)
def test_only_what_carries_a_side_straight_on_is_no_doubt(long, aside_mm, by_either, doubted):
    # Steps of 2 mm: 20 are 40 mm, 30 are 60.
    x = np.arange(0, 400, 2.0)
    low = np.stack([x, np.zeros(200)], axis=1)
    points = np.concatenate([low, [[400, 200.0], [0, 200.0]]])
    unsure, either = np.zeros((2, len(points)), bool)
    unsure[80 : 80 + long], either[:] = True, True
    either[80 : 80 + round(long * (1 - by_either))] = False
    points[85 : 75 + long, 1] += aside_mm
    assert _not_straight_on(points, unsure, either).any() == doubted


def test_beside_what_burns_out_by_degrees_a_plain_step_bears_the_edge_out():
    """To the left the light fades by and by; on the right it does just within the edge."""
    sheet = box(60, 60, 340, 250)
    pale = np.array(sheet.exterior.coords[:-1])
    fine, _ = floor_with((pale, (200, 198, 196)), size_mm=(310, 400))
    x = np.broadcast_to(fine.left + np.arange(fine.pixels.shape[1]) * 0.4, fine.pixels.shape[:2])
    light = np.interp(x, [60, 140, 310, 340], [1.15, 1.33, 1.33, 1.23])
    lit = np.clip(fine.pixels * light[..., None], 0, 255).astype(np.uint8)
    fine = replace(fine, pixels=lit)
    cut = cut_at(np.array(sheet.exterior.segmentize(2.0).coords[:-1]), sheet, (310, 400))
    like = cut.floor_like.values.copy()
    like[:, 27:86] *= like[:, 27:86] > 0  # of what is burnt out, and near to it, nothing is known
    edge = place_edge(fine, replace(cut, floor_like=replace(cut.floor_like, values=like)))
    right = (edge.points[:, 0] > 335) & (np.abs(edge.points[:, 1] - 155) < 60)
    assert right.sum() > 50
    assert not edge.unsure[right].any()
    assert not edge.burnt[right].any()


def test_white_floor_that_juts_out_of_burnt_out_paper_is_no_part_of_it():
    sheet = box(60, 60, 240, 180)
    finger = box(120, 175, 136, 200)  # 16 mm wide, where the floor is burnt out too
    fine, _ = floor_with((np.array(sheet.union(finger).exterior.coords), WHITE), size_mm=(260, 300))
    white = fine.pixels.min(axis=2) > 215
    fine.pixels[:] = np.where(white[..., None], 255, 130 + fine.pixels // 8)
    cut = cut_at(np.array(sheet.exterior.coords), sheet, (260, 300))
    assert place_edge(fine, cut).points[:, 1].max() == pytest.approx(200, abs=1)
    points = place_edge(fine, replace(cut, burnt_out=True, burnt_beyond=True)).points
    # So far from where it is cut off the edge is sought.
    assert points[:, 1].max() < 180 + PATH_REACH_MM + SPLIT_REACHES_MM[0]
    corners = np.array(sheet.exterior.coords[:-1])
    assert all(np.hypot(*(points - corner).T).min() < 1.5 for corner in corners)


def signs(count, **told):
    """Signs at places of an edge, of which some are told and the rest do not hold."""
    none = {field.name: np.zeros(count, bool) for field in fields(_Signs)}
    return _Signs(**(none | {name: np.array(each, bool) for name, each in told.items()}))


@pytest.mark.parametrize(
    ("plain", "clear", "plain_there", "back"),
    [
        (range(10, 30), range(15, 24), (), True),  # torn: on the line there is no edge
        (range(10, 30), range(15, 24), range(15, 19), True),  # but a part of one
        (range(17, 30), range(15, 24), (), False),  # it was not plain all along
        (range(10, 30), range(15, 19), (), False),  # what lies there does not look like paper
        (range(10, 30), range(15, 24), range(15, 22), False),  # the paper's edge is seen there
    ],
)
def test_an_edge_is_not_led_off_a_plain_one_to_where_there_is_none(plain, clear, plain_there, back):
    """Of twenty places that were led away those are asked that came to lie well off: ten."""
    moved, off, before, after = (
        np.zeros(60, bool),
        np.zeros(60, bool),
        np.zeros((2, 60)),
        np.zeros(60),
    )
    moved[10:30], off[15:25] = True, True
    before[0, list(plain)], before[1, list(clear)], after[list(plain_there)] = 1, 1, 1
    was, there = signs(60, plain=before[0], clear=before[1]), signs(60, plain=after)
    assert np.array_equal(_plainer_before(moved, off, was, there), moved & back)


@pytest.mark.parametrize("bulge", [True, False])
@pytest.mark.parametrize(("inner", "outer"), [(10.0, 5.0), (5.0, 10.0)])
def test_it_is_the_side_on_which_a_thing_would_lie_that_has_to_be_plainer(
    monkeypatch, bulge, inner, outer
):
    """Ten and five, of eight that it takes there and three that it takes elsewhere."""
    sheet, part = box(60, 60, 440, 250), Polygon([(200, 244), (240, 244), (250, 256), (190, 256)])
    shape = sheet.union(part) if bulge else sheet.difference(part)
    ring = np.array(shape.exterior.segmentize(2.0).coords[:-1])[::-1]
    fine, _ = floor_with((ring, BROWN), size_mm=(310, 500))
    some, no = np.ones(len(ring)), np.zeros(len(ring), bool)
    told = (inner * some, outer * some, np.inf * some, no)
    monkeypatch.setattr("digitize.paper.edge.sides_told", lambda *_: told)
    signs_there = _signs(fine, cut_at(ring, shape, (310, 500)), ring)
    at_it = (np.abs(ring[:, 0] - 220) < 15) & (ring[:, 1] > 200)
    assert signs_there.seen[ring[:, 1] < 200].all()
    assert (signs_there.seen[at_it] == (inner > outer if bulge else outer > inner)).all()
    # It is left where it is, and named.
    assert signs_there.told[ring[:, 1] < 200].all()
    assert not signs_there.told[at_it].any()


@pytest.mark.parametrize(("colour", "named"), [((60, 110, 190), True), (None, False)])
def test_a_cloth_that_juts_over_an_edge_is_named_and_a_notch_is_not(colour, named):
    sheet, wedge = box(60, 60, 440, 250), Polygon([(200, 251), (250, 226), (300, 251)])
    shapes = [(np.array(sheet.difference(wedge).exterior.coords), BROWN)]
    if colour is not None:
        cloth = Polygon([(200, 251), (250, 226), (300, 251), (300, 300), (200, 300)])
        shapes.append((np.array(cloth.exterior.coords), colour))
    fine, _ = floor_with(*shapes, size_mm=(310, 500))
    rough = np.array(sheet.difference(wedge).exterior.coords)
    edge = place_edge(fine, cut_at(rough, sheet.difference(wedge), (310, 500)))
    near = np.hypot(*(edge.points - [250, 236]).T) < 20
    assert edge.unsure[near].any() == named
    assert not edge.unsure[~(np.hypot(*(edge.points - [250, 240]).T) < 80)].any()
