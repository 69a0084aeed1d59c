"""Names in drawings: beside what they name, none over another, none on a line, none off it."""

import itertools

import numpy as np
import pytest
from shapely import LineString, Polygon, box

from digitize.draw.callouts import (
    group_callouts,
    line_callouts,
    radius_callouts,
    tuck_callouts,
    what_is_drawn,
)
from digitize.draw.placing import (
    AT_ONCE,
    PART_STRETCHES,
    SIMPLER_MM,
    TIERS,
    Callout,
    _last,
    _parts,
    _placed,
    place_labels,
)
from digitize.draw.sheet import window_on
from digitize.record import LineGroup, RadiusAt, mirrored
from tests.draw.lopsided import BLANK, PATTERN

FRAME = (0.0, 0.0, 100.0, 60.0)


def test_a_name_stands_close_to_its_place_where_nothing_is_in_the_way():
    (label,) = place_labels([Callout("L1", ((50, 30),))], [], FRAME)
    assert box(*label.box).distance(LineString([(50, 30), (50, 30.001)])) < 1.5
    assert label.leader is None


def test_it_steps_aside_for_a_line_and_for_what_stands_there_already():
    rows = [LineString([(0, y), (100, y)]) for y in range(20, 41, 2)]
    first, second = place_labels(
        [Callout("L1", ((50, 30),)), Callout("L22", ((50, 30),))], rows, FRAME
    )
    for label in (first, second):
        assert not any(box(*label.box).intersects(row) for row in rows)
        (start, end) = label.leader  # too far off to be understood without
        assert start == (50, 30) and box(*label.box).distance(LineString([end, end])) < 0.01
    assert not box(*first.box).intersects(box(*second.box))


def test_letters_take_up_what_helvetica_needs():
    # The widths of Helvetica's digits are 556 thousandths of its size (Adobe's font metrics).
    (label,) = place_labels([Callout("100", ((50, 30),), size=5.0)], [], FRAME)
    left, top, right, low = label.box
    assert right - left == pytest.approx(3 * 0.556 * 5)
    assert low - top == pytest.approx(0.96 * 5)


def crowded(corner):
    """The demo corner with radii told, and all that its plan names."""
    start = next(line for line in corner.lines if line.role == "radius-start")
    told = start.model_copy(
        update={"radii": tuple(RadiusAt(along=a, radius=70 + a / 20) for a in (50, 400, 800))}
    )
    lines = tuple(told if line is start else line for line in corner.lines)
    return corner.model_copy(update={"lines": lines})


@pytest.mark.parametrize("scale", [0.2, 1.0])
@pytest.mark.parametrize("side", ["this", "other"])
def test_no_two_names_overlap_and_none_lies_on_a_line_or_off_the_page(corner, scale, side):
    pattern = crowded(corner)
    pattern = mirrored(pattern) if side == "other" else pattern
    width = max(x for x, _ in pattern.outline) * scale
    window = window_on(pattern.outline, 9.0, 0.0, (9.0, 9.0 + width), 5000.0)
    assert window.scale == pytest.approx(scale, rel=0.02)
    names = [
        *radius_callouts(pattern, window.at, 3.0),
        *tuck_callouts(pattern, window.at, 3.0, at_tip=scale == 1),
        *group_callouts(pattern, window.at, 3.0),
        *line_callouts(pattern, window.at, 3.0, marks=scale == 1),
    ]
    assert len(names) > 25
    taken = what_is_drawn(pattern, None, window.at, 1.6 / window.scale)
    frame = (0.0, 0.0, width + 18, window.bottom + 9)
    labels = place_labels(names, taken, frame)
    assert [label.callout for label in labels] == names
    boxes = [box(*label.box) for label in labels]
    for one, other in itertools.combinations(boxes, 2):
        assert not one.intersects(other)
    for each in boxes:
        assert box(*frame).contains(each)
        assert not any(each.intersects(line) for line in taken)
    for label, other in itertools.permutations(labels, 2):
        if label.leader:
            assert not LineString(label.leader).intersects(box(*other.box))


def test_names_stand_alike_however_many_places_are_tried_at_once(monkeypatch):
    """Sixty names in a field of lines, in which all tiers are tried and many have leaders."""
    rng = np.random.default_rng(8)
    names = [Callout(f"L{k}", tuple(map(tuple, rng.uniform(0, 90, (3, 2))))) for k in range(60)]
    rows = [LineString(rng.uniform(0, 90, (2, 2))) for _ in range(60)]
    placed = []
    one_by_one = tuple((k, k + 1) for k in range(len(TIERS)))
    for at_once, every in ((AT_ONCE, 50), (one_by_one, 1), (one_by_one, 1000)):
        monkeypatch.setattr("digitize.draw.placing.AT_ONCE", at_once)
        monkeypatch.setattr("digitize.draw.placing.LOOKED_AT", (1, 2 * every))
        monkeypatch.setattr("digitize.draw.placing.REBUILT_EVERY", every)
        _last.cache_clear()
        placed.append(place_labels(names, rows, (0.0, 0.0, 90.0, 90.0)))
    assert sum(label.leader is not None for label in placed[0]) > 10
    assert placed[0] == placed[1] == placed[2]


def field(rng):
    """Names, and lines, in a field of 100 mm that has hardly room for them."""
    names = [Callout(f"L{k}", tuple(map(tuple, rng.uniform(0, 100, (2, 2))))) for k in range(90)]
    middles, ways = rng.uniform(0, 100, (60, 1, 2)), rng.uniform(-8, 8, (60, 2, 2))
    return names, [LineString(ends) for ends in middles + ways]


def otherwise(rng, names, lines, how):
    """One thing changed: a line moved, one more, one fewer, a name in other words or at other
    places, one fewer, one twice, or all in another order.
    """
    names, lines = list(names), list(lines)
    k, m = rng.integers(len(names)), rng.integers(len(lines))
    if how == 0:
        lines[m] = LineString(np.array(lines[m].coords) + rng.uniform(-8, 8, 2))
    elif how == 1:
        lines.append(LineString(rng.uniform(0, 100, (2, 2))))
    elif how == 2:
        del lines[m]
    elif how == 3:
        names[k] = Callout(names[k].words + " crease", names[k].places)
    elif how == 4:
        names[k] = Callout(names[k].words, names[k].places[:1])
    elif how == 5:
        del names[k]
    elif how == 6:
        names.insert(0, names[k])
    else:
        rng.shuffle(names)
    return names, lines


@pytest.mark.slow
def test_names_stand_alike_whatever_was_drawn_before(monkeypatch):
    monkeypatch.setattr("digitize.draw.placing.TIERS", TIERS[:3])  # so that few are near
    rng, frame = np.random.default_rng(3), (0.0, 0.0, 100.0, 100.0)
    names, lines = field(rng)
    for step in range(32):
        place_labels(names, lines, frame)
        names, lines = otherwise(rng, names, lines, step % 8)
        as_before = place_labels(names, lines, frame)
        _last.cache_clear()
        assert as_before == place_labels(names, lines, frame)


def test_a_name_takes_the_place_of_one_that_is_gone():
    first, *others = (Callout(words, ((50, 30),)) for words in ("L1 crease", "L2", "L3", "L4"))
    alone = place_labels(others, [], FRAME)
    assert place_labels([first, *others], [], FRAME)[1:] != alone
    assert place_labels(others, [], FRAME) == alone


def test_only_names_near_what_changed_are_placed_again(monkeypatch):
    placed = []
    monkeypatch.setattr(
        "digitize.draw.placing._placed",
        lambda callout, *given: placed.append(callout) or _placed(callout, *given),
    )
    names = [Callout(f"L{k}", ((150.0 * k, 50.0),)) for k in range(40)]
    lines = [LineString([(150 * k - 20, 50), (150 * k + 20, 50)]) for k in range(40)]
    frame = (-50.0, 0.0, 7000.0, 100.0)
    place_labels(names, lines, frame)
    assert len(placed) == 40
    placed.clear()
    lines[7] = LineString([(150 * 7 - 20, 50), (150 * 7 + 20, 58)])
    names[20] = Callout("L20 crease", names[20].places)
    names[30] = Callout("L31", names[30].places, "#123456")
    assert place_labels(names, lines, frame)[30].callout == names[30]
    assert sorted(each.words for each in placed) == ["L20 crease", "L7"]


def test_a_line_in_pieces_is_named_once_by_its_group_and_each_piece_by_its_id():
    groups = (
        LineGroup(id="F1", role="form", pieces=({"line": "L4"},)),
        LineGroup(id="R1", role="radius-start", pieces=({"line": "L2"}, {"line": "L3"})),
    )
    pattern = PATTERN.model_copy(update={"groups": groups})
    words = [c.words for c in group_callouts(pattern, lambda p: p, 3.0)]
    assert words == ["F1 L4 form line", "R1 radius start"]
    assert [c.words for c in line_callouts(pattern, lambda p: p, 3.0, marks=False)] == [
        "L1",
        "L2",
        "L3",
    ]


def test_a_radius_is_named_where_it_was_told_with_the_angle_turned_there(corner):
    pattern = crowded(corner)
    band = pattern.bands[0]
    stations = tuple(s.model_copy(update={"turned_deg": s.along / 10}) for s in band.stations)
    pattern = pattern.model_copy(
        update={"bands": (band.model_copy(update={"stations": stations}),), "unit": "inch"}
    )
    start = pattern.line(band.start)
    callout = radius_callouts(pattern, lambda p: p, 3.0)[1]
    (place,) = callout.places
    ran = LineString(start.points).interpolate(400)
    assert place == pytest.approx((ran.x, ran.y))
    nearest = min((s.along for s in stations), key=lambda a: abs(a - 400))
    # 70 + 400 / 20 = 90 mm are 3.543 in: 3 17/32.
    assert callout.words == f"R 3 17/32 in (90.0 mm), turns {nearest / 10:.0f}\N{DEGREE SIGN}"


def test_names_keep_off_the_blank_and_the_writing():
    taken = what_is_drawn(PATTERN, BLANK, lambda p: (p[0], -p[1]), 2.0)
    assert any(shape.distance(LineString([(-12, -4), (-12, -4.001)])) < 0.01 for shape in taken)
    writing = Polygon([(40, -150), (75, -150), (75, -162), (40, -162)])
    assert any(
        shape.area == pytest.approx(35 * 12) and shape.equals(writing)
        for shape in taken
        if np.isfinite(shape.area) and shape.area
    )


def test_a_lines_parts_are_the_whole_line():
    rng = np.random.default_rng(5)
    lines = [LineString(rng.uniform(0, 200, (count, 2))) for count in (2, 8, 9, 10, 16, 17, 18, 41)]
    sheet = box(0, 0, 10, 10)
    *parts, last = _parts([*lines[:4], sheet, *lines[4:]])
    assert last is sheet
    assert all(len(part.coords) <= PART_STRETCHES + 1 for part in parts)
    assert sum(part.length for part in parts) == pytest.approx(sum(line.length for line in lines))
    assert all(
        min(line.hausdorff_distance(part.union(line)) for line in lines) < SIMPLER_MM
        for part in parts
    )
    assert _parts([sheet]).tolist() == [sheet]
