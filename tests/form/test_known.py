"""What a record tells of its panel's shape, and the panel from it."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest

from digitize.form import form_of
from digitize.form.known import OPEN_PER_MM, PLAIN_PER_MM, curved_parts, dome_of, shape_of
from digitize.form.metric import taken_up
from digitize.form.strips import foretold_by, strips_of
from digitize.plane import running_length
from digitize.record import Band, BandStation
from digitize.take_up import Fan
from tests.form import exact
from tests.form.bent import line, straight_bend, two_bends

WIDTH, RADIUS = 60.0, 50.0


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_strip_lies_to_the_side_of_its_radius_ends(sign):
    (strip,) = strips_of(straight_bend(WIDTH, RADIUS, 120.0, sign))
    depth = np.array([25.0, -10.0, 90.0])
    at = strip.placed(np.column_stack([120.0 + sign * depth, [100.0, 50.0, 77.7]]))
    assert at.depth == pytest.approx(depth, abs=0.01)
    assert at.width == pytest.approx([WIDTH] * 3, abs=0.01)
    assert at.turned == pytest.approx([0.5, 0.0, WIDTH / RADIUS], abs=1e-3)
    assert at.curving == pytest.approx([0.0] * 3, abs=1e-6)
    assert at.out == pytest.approx(np.array([[sign, 0.0]] * 3), abs=1e-6)


def round_bend(sign=1.0, backwards=False):
    """A bend round an arc of 200 mm about the origin, whose radius ends outside it, or inside."""
    pattern = straight_bend(WIDTH, RADIUS)
    turn = np.linspace(-0.8, 0.8, 200)[:: -1 if backwards else 1]
    arc = np.column_stack([np.cos(turn), np.sin(turn)])
    start = line("L2", "radius-start", 200 * arc, RADIUS)
    end = line("L3", "radius-end", (200 + sign * WIDTH) * arc)
    band = Band(
        id="B1",
        start="L2",
        ends=("L3",),
        stations=(
            BandStation(along=80.0, width=50.0, radius=40.0),
            BandStation(along=240.0, width=70.0, radius=60.0),
        ),
    )
    lines = (pattern.lines[0], start, end)
    return pattern.model_copy(update={"lines": lines, "bands": (band,)})


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize("backwards", [False, True])
def test_paper_fans_out_beyond_a_start_that_turns_away(sign, backwards):
    (strip,) = strips_of(round_bend(sign, backwards))
    place = np.array([np.cos(0.0013), np.sin(0.0013)])  # between two places of the start
    at = strip.placed((200 + sign * 30) * place[None])
    assert at.depth == pytest.approx([30.0], abs=0.02)
    assert at.curving == pytest.approx([sign / 200], rel=0.02)
    assert at.curved == pytest.approx([1 / 200], rel=0.05)
    assert at.out[0] == pytest.approx(sign * place, abs=1e-3)
    assert (at.width[0], at.radius[0]) == pytest.approx((60.0, 50.0), abs=0.1)


def test_curvature_is_one_over_the_radius_across_a_band_and_none_elsewhere():
    shape = shape_of(straight_bend(WIDTH, RADIUS))
    places = np.array([[60.0, 100.0], [130.0, 100.0], [200.0, 100.0]])
    bend = shape.bend(places)
    assert bend == pytest.approx(np.array([[0, 0, 0], [1 / RADIUS, 0, 0], [0, 0, 0]]), abs=1e-9)
    sigma = shape.bend_sigma(places)
    assert sigma[1, 0] == pytest.approx(0.03 / RADIUS, rel=0.05)
    assert sigma[[0, 2], 0] == pytest.approx([PLAIN_PER_MM] * 2)
    assert sigma[:, 1:] == pytest.approx(np.full((3, 2), PLAIN_PER_MM), rel=0.01)


def test_along_a_bend_the_curvature_is_that_of_its_start_turned_over():
    shape = shape_of(round_bend())
    places = np.array([[190.0, 0.0], [230.0, 0.0], [290.0, 0.0]])
    turned = np.array([0.0, 30.0, WIDTH]) / RADIUS
    # On paper that keeps its lengths, which here fan out from 200 mm.
    along = np.sin(turned) / 200 / (places[:, 0] / 200)
    assert shape.bend(places)[:, 2] == pytest.approx(along, rel=0.03, abs=1e-9)
    # Lengths decide there: it is as open as the start curves.
    assert shape.bend_sigma(places)[1:, 1:] == pytest.approx(np.full((2, 2), 1 / 200), rel=0.08)
    assert shape.bend_sigma(places)[0] == pytest.approx([PLAIN_PER_MM] * 3)


def test_a_start_that_was_read_in_two_lines_bends_as_one():
    whole = round_bend()
    trim, start, end = whole.lines
    middle = len(start.points) // 2
    halves = tuple(
        start.model_copy(update={"id": name, "points": points})
        for name, points in (("L4", start.points[:middle]), ("L5", start.points[middle - 1 :]))
    )
    stations = tuple(BandStation(along=at, width=WIDTH, radius=50.0) for at in (20.0, 140.0))
    bands = tuple(
        Band(id=f"B{k}", start=line.id, ends=("L3",), stations=stations)
        for k, line in enumerate(halves, 1)
    )
    one = whole.bands[0].model_copy(update={"stations": stations})
    whole = whole.model_copy(update={"bands": (one,)})
    parted = whole.model_copy(update={"lines": (trim, *halves, end), "bands": bands})
    turn, away = (each.ravel() for each in np.meshgrid(np.linspace(-0.7, 0.7, 29), [220.0, 240.0]))
    places = away[:, None] * np.column_stack([np.cos(turn), np.sin(turn)])
    # But for where the halves meet, whose curving is that of an end.
    clear = np.abs(turn) > 0.15
    wanted, found = (shape_of(each).bend(places[clear]) for each in (whole, parted))
    assert found == pytest.approx(wanted, abs=0.02 / 50.0)


def test_a_bend_without_a_radius_is_open():
    shape = shape_of(straight_bend(WIDTH, None))
    inside = np.array([[130.0, 100.0]])
    assert shape.bend(inside) == pytest.approx(np.zeros((1, 3)))
    assert shape.bend_sigma(inside)[0, 0] == pytest.approx(OPEN_PER_MM, rel=0.01)


def test_a_net_has_to_be_fine_in_a_band():
    away = curved_parts(straight_bend(WIDTH, RADIUS))
    places = np.array([[70.0, 100.0], [130.0, 100.0], [185.0, 100.0]])
    assert away(places) == pytest.approx([30.0, 0.0, 25.0], abs=0.1)


def fan_of(lap, closed, reach=1.0):
    """Eight tucks outwards from 10 to 100 mm about the origin, over all or a share of a turn."""
    ways = (np.arange(8) + 0.5) * 2 * np.pi * reach / 8
    spines = tuple(
        np.linspace(10, 100, 91)[:, None] * np.array([np.cos(way), np.sin(way)]) for way in ways
    )
    laps = tuple(Lap(lambda depth: lap(depth + 10) / 8) for _ in ways)
    return Fan(spines, laps, np.zeros(8), np.full(8, 90.0), closed)


@dataclass(frozen=True)
class Lap:
    """A tuck's lap, without what it may be off by."""

    of_depth: Callable[[np.ndarray], np.ndarray]

    def at(self, depths):
        return self.of_depth(depths), np.zeros_like(depths)


def test_tucks_all_round_are_a_surface_of_revolution():
    sphere = 300.0
    fan = fan_of(lambda r: 2 * np.pi * (r - sphere * np.sin(r / sphere)), closed=True)
    places = np.array([[50.0, 0.0], [0.0, -80.0]])
    bend = dome_of(fan, 20.0, exact.as_paper).bend(places)
    shorter = (sphere * np.sin(np.array([50, 80]) / sphere) / [50, 80]) ** 2
    true = np.array([[1.0, 0.0, shorter[0]], [shorter[1], 0.0, 1.0]]) / sphere
    assert bend == pytest.approx(true, rel=0.03, abs=1e-5)
    lean = 0.96
    cone = dome_of(fan_of(lambda r: 2 * np.pi * r * (1 - lean), closed=True), 20.0, exact.as_paper)
    around = np.sqrt(1 - lean**2) * lean / 50
    assert cone.bend(places)[0] == pytest.approx([0.0, 0.0, around], rel=0.03, abs=0.03 * around)
    saddle = fan_of(lambda r: 2 * np.pi * (r - sphere * np.sinh(r / sphere)), closed=True)
    assert dome_of(saddle, -20.0, exact.as_paper).bend(places) == pytest.approx(np.zeros((2, 3)))


def test_a_zone_without_a_band_has_the_mean_curvature_of_its_laps():
    sphere, places = 300.0, np.array([[50.0, 20.0]])
    fan = fan_of(lambda r: 0.05 * r, closed=False, reach=0.25)
    for sign in (1.0, -1.0):
        area = dome_of(fan, 1.0, exact.as_paper).inside.area
        dome = dome_of(fan, sign * np.degrees(area / sphere**2), exact.as_paper)
        assert area == pytest.approx(np.pi / 4 * (100**2 - 10**2), rel=0.02)
        size = 1 / sphere if sign > 0 else 0.0
        assert dome.bend(places)[0] == pytest.approx([size, 0.0, size], rel=0.001)
        assert dome.open_by == pytest.approx(1 / sphere, rel=0.05)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_straight_bend_turns_by_width_over_radius_away_from_the_marked_face(sign):
    found = form_of(straight_bend(WIDTH, RADIUS, 130.0, sign), 10.0)
    assert found.holds
    mesh = found.mesh
    a, b, c = (found.places[mesh.triangles[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    past = sign * (mesh.middles()[:, 0] - 130.0)
    roof, wall = (normal[part].mean(axis=0) for part in (past < -12, past > WIDTH + 12))
    turned = np.arccos(roof @ wall / np.linalg.norm(roof) / np.linalg.norm(wall))
    assert turned == pytest.approx(WIDTH / RADIUS, abs=0.01)
    middles = (a + b + c) / 3
    outward = middles[past > WIDTH + 12].mean(axis=0) - middles[past < -12].mean(axis=0)
    assert outward @ roof < -10.0  # it falls away


@dataclass(frozen=True)
class Evenly:
    """Tucks whose laps grow with the square of the depth."""

    size: float

    def at(self, depths):
        return self.size * depths**2, np.zeros_like(depths)


def test_take_up_between_tucks_goes_by_what_is_foretold_and_every_lap_is_given_back():
    ways = np.linspace(-0.5, 0.5, 4)
    spines = tuple(
        np.linspace(200, 320, 121)[:, None] * np.array([np.cos(way), np.sin(way)]) for way in ways
    )
    fan = Fan(spines, (Evenly(2e-4),) * 4, np.zeros(4), np.full(4, 100.0), False)
    plain = taken_up(fan, None)
    # Foretold: twice as much above one of the tucks as below it, and nothing far out.
    told = taken_up(
        fan, lambda p: np.where(np.abs(p[:, 1]) > 160, 0.0, np.where(p[:, 1] > 0, 2, 1))
    )
    for part in (plain, told):
        laps = fan.take_up(part.depths)
        shrinks = part.shrinks(laps)
        along = running_length(part.rows)
        whole = (np.diff(along, axis=1) * (shrinks[:, 1:] + shrinks[:, :-1]) / 2).sum(axis=1)
        assert whole[4:] == pytest.approx(laps.sum(axis=1)[4:], rel=0.04)
    row = told.shrinks(fan.take_up(told.depths))[15]
    middle = told.rows[15][:, 1]
    assert row[np.abs(middle) > 175].max() < 0.1 * row.max()


def test_bends_foretell_the_shrink_that_their_turned_start_makes():
    foretell = foretold_by(strips_of(round_bend()))
    places = np.array([[190.0, 0.0], [230.0, 0.0], [290.0, 0.0]])
    turned = np.array([30.0, WIDTH]) / RADIUS
    # Round a torus: at 30 mm the metal is 200 + 50 sin p from the axis, the paper 230.
    within = 1 - (200 + RADIUS * np.sin(turned[0])) / 230
    beyond = 1 - (200 + RADIUS * np.sin(turned[1]) + 30 * np.cos(turned[1])) / 290
    assert foretell(places) == pytest.approx([0.0, within, beyond], rel=0.04, abs=1e-9)
    assert foretold_by(strips_of(straight_bend(WIDTH, None))) is None


@pytest.mark.parametrize("onward", [False, True])
def test_several_bends_turn_one_after_the_other(onward):
    radii = (40.0, 60.0)
    found = form_of(two_bends(*radii, onward), 8.0)
    assert found.holds
    mesh = found.mesh
    # In the plane across both: straight, an arc, straight, an arc, straight, all proud.
    x = np.linspace(20.0, 300.0, 2801)
    bend = np.where((x > 60.0) & (x < 100.0), 1 / radii[0], 0.0)
    bend += np.where((x > 200.0) & (x < 240.0), 1 / radii[1], 0.0)
    turn = np.concatenate([[0.0], np.cumsum((bend[1:] + bend[:-1]) / 2 * np.diff(x))])
    run = np.column_stack([np.cos(turn), -np.sin(turn)])
    path = np.concatenate([[[0.0, 0.0]], np.cumsum((run[1:] + run[:-1]) / 2 * 0.1, axis=0)])
    across = np.column_stack([np.interp(mesh.paper[:, 0], x, path[:, k]) for k in (0, 1)])
    true = np.column_stack([across[:, 0], mesh.paper[:, 1], across[:, 1]])
    assert exact.rms(exact.off_by(found.places, true)) < 0.4
