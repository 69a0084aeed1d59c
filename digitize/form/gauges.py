"""Gauges: templates of the form's sections, to hold against the metal.

One stands across each band every hundred millimetres, or sooner where the radius has changed by a
tenth; one along each form line that is not straight; others between places told. The paper lay on
one face of the metal, the outer one unless told; a template for the other face stands off by the
sheet's thickness.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from shapely import LineString

from digitize.form.lying import normals_of
from digitize.form.marks import placed_on
from digitize.form.panel import Formed
from digitize.form.section import Section, off_by, section_of, within_95
from digitize.form.strips import Strip
from digitize.plane import cross, evenly, running_length
from digitize.record import Point

Floats = NDArray[np.float64]
Face = Literal["outer", "inner"]
STATION_MM, CHANGED, NEAREST_MM = 100.0, 0.1, 25.0
FROM_END_MM = 12.0
ARM_MM = 45.0  # of a gauge before and beyond its bend
STEP_MM = 2.0
SHORTEST_MM = 20.0
STRAIGHT_MM = 1.0  # a straightedge will do
DEEP_MM = 26.0  # of a template behind its edge, at the least
MARK_MM = 9.0
DOUBTFUL_MM = 2.0


@dataclass(frozen=True)
class Mark:
    """A match mark: where along the profile (mm), and the line of the paper to lay it on."""

    along: float
    words: str


@dataclass(frozen=True)
class Gauge:
    """A section to be held against the metal.

    Attributes
    ----------
    id, where : G1, and its station in words.
    profile : (N, 2) of the face that the paper lay on, mm: along, and up out of it.
    within_95 : (N,) mm that its places lie within, at 95 %.
    radius, angle_deg : of the band there; None if there is none, or it is not told.
    marks : where lines of the paper cross it.
    section, ahead, up : on the form: its places, and the plane's directions (3,).
    open : whether a part of it is not determined, or the form does not hold.
    """

    id: str
    where: str
    profile: Floats
    within_95: Floats
    radius: float | None
    angle_deg: float | None
    marks: tuple[Mark, ...]
    section: Section
    ahead: Floats
    up: Floats
    open: bool

    @property
    def tolerance(self) -> float:
        """Mm that all of it lies within, at 95 %."""
        return float(self.within_95.max())

    @property
    def hollow(self) -> float:
        """How far the profile leaves the straight line between its ends, mm."""
        one, two = self.profile[[0, -1]]
        chord = (two - one) / np.linalg.norm(two - one)
        return float(
            np.abs(cross(np.broadcast_to(chord, self.profile.shape), self.profile - one)).max()
        )

    @property
    def doubtful(self) -> bool:
        """Whether it may not be trusted by itself."""
        return self.open or self.tolerance > DOUBTFUL_MM


def gauges_of(form: Formed, between: Sequence[tuple[Point, Point]] = ()) -> tuple[Gauge, ...]:
    """The gauges proposed for a form, and those between places (mm) of the paper."""
    found: list[Gauge] = []

    def add(gauge: Gauge | None) -> None:
        if gauge is not None:
            found.append(gauge)

    for strip in form.known.strips:
        for along in stations_of(strip):
            add(_across(form, strip, along, f"G{len(found) + 1}"))
    for line in form.pattern.lines:
        if line.role == "form" and line.length > SHORTEST_MM and not line.closed:
            ends = line.points[0], line.points[-1]
            gauge = _between(form, ends, f"G{len(found) + 1}", f"along {line.label}")
            if gauge is not None and gauge.hollow > STRAIGHT_MM:
                add(gauge)
    for ends in between:
        one, two = (f"{x:.0f},{y:.0f}" for x, y in ends)
        add(_between(form, ends, f"G{len(found) + 1}", f"from {one} to {two}"))
    return tuple(found)


def stations_of(strip: Strip) -> list[float]:
    """How far along a radius start its gauges stand, mm."""
    length = float(strip.reached[-1])
    found = [min(FROM_END_MM, length / 2)]
    for along in np.arange(found[0], max(length - FROM_END_MM, found[0]), 1.0).tolist():
        gone = along - found[-1]
        now, last = np.interp([along, found[-1]], strip.along, strip.radius)
        changed = bool(np.isfinite(now) and np.isfinite(last) and abs(now / last - 1) >= CHANGED)
        if gone >= STATION_MM or (changed and gone >= NEAREST_MM):
            found.append(along)
    if length - FROM_END_MM - found[-1] > NEAREST_MM:
        found.append(length - FROM_END_MM)
    return found


def _across(form: Formed, strip: Strip, along: float, name: str) -> Gauge | None:
    at = np.array([np.interp(along, strip.reached, strip.path[:, axis]) for axis in (0, 1)])
    out = np.array([np.interp(along, strip.reached, strip.out[:, axis]) for axis in (0, 1)])
    width = float(np.interp(along, strip.along, strip.width))
    told = float(np.interp(along, strip.along, strip.radius))
    radius = told if math.isfinite(told) else None
    start = next(b.start for b in form.pattern.bands if b.id == strip.band)
    line = form.pattern.line(start)
    end = _frame(form, at, at + out)
    if end is None:
        return None
    through, ahead, up = end
    where = f"across {strip.band}, {along:.0f} mm along {line.label}"
    marks = (Mark(0.0, line.label), Mark(width, "radius end"))
    reach = (-ARM_MM, width + ARM_MM)
    angle = None if radius is None else math.degrees(width / radius)
    return _gauge(form, (through, ahead, up), reach, (name, where, radius, angle), marks)


def _between(form: Formed, ends: tuple[Point, Point], name: str, where: str) -> Gauge | None:
    one, two = form.known.carried(np.array(ends))
    mesh, places = form.solution.mesh, form.solution.places
    found = placed_on(mesh, np.array([one, two, (one + two) / 2]))
    if not found.on.all():
        return None
    a, b, _ = found.of(mesh, places)
    up = normals_of(places, mesh.triangles)[0][found.triangle].mean(axis=0)
    ahead = (b - a) / np.linalg.norm(b - a)
    up -= (up @ ahead) * ahead
    up /= np.linalg.norm(up)
    length = float(np.linalg.norm(b - a))
    if length < SHORTEST_MM:
        return None
    marks = (Mark(0.0, where.split()[1]),)
    frame = (a, ahead, up)
    return _gauge(form, frame, (0.0, length), (name, where, None, None), marks, straight=True)


def _frame(form: Formed, at: Floats, onward: Floats) -> tuple[Floats, Floats, Floats] | None:
    """A place of the paper on the form, the way there towards another, and up from the metal."""
    mesh, places = form.solution.mesh, form.solution.places
    found = placed_on(mesh, form.known.carried(np.array([at, onward])))
    if not found.on.all():
        return None
    here, there = found.of(mesh, places)
    up = normals_of(places, mesh.triangles)[0][found.triangle[0]]
    ahead = there - here
    ahead -= (ahead @ up) * up
    return here, ahead / np.linalg.norm(ahead), up


def _gauge(
    form: Formed,
    frame: tuple[Floats, Floats, Floats],
    reach: tuple[float, float],
    said: tuple[str, str, float | None, float | None],
    marks: tuple[Mark, ...],
    straight: bool = False,
) -> Gauge | None:
    """A gauge of a plane's section, between two places along it from where it goes through."""
    section = section_of(form, *frame)
    if section is None or len(section.profile) < 3:
        return None
    along = running_length(section.profile)
    zero = along[int(np.argmin(np.linalg.norm(section.profile, axis=1)))]
    gone = section.profile[:, 0] if straight else along - zero
    if gone[-1] < reach[0] + SHORTEST_MM or gone[0] > reach[1] - SHORTEST_MM:
        return None
    section = section.between(gone, *reach)
    if running_length(section.profile)[-1] < SHORTEST_MM:
        return None
    _, ahead, up = frame
    off = off_by(section, ahead, up, form.doubt.moves)
    open_ = not form.holds
    open_ |= bool((section.of(form.doubt.open.astype(float)) > 0.5).any())
    begins = max(float(gone[0]), reach[0])
    shifted = tuple(Mark(mark.along - begins, mark.words) for mark in marks)
    name, where, radius, angle = said
    mesh = form.solution.mesh
    edges = np.linalg.norm(np.diff(mesh.paper[section.corners[:, :2]], axis=1)[:, 0], axis=1)
    sag = 0.0 if radius is None else float(np.median(edges)) ** 2 / (8 * radius)
    return Gauge(
        name,
        where,
        section.profile,
        within_95(off, sag),
        radius,
        angle,
        shifted,
        section,
        ahead,
        up,
        open_,
    )


@dataclass(frozen=True)
class Template:
    """A gauge to be cut out, at 1:1, its chord level.

    Attributes
    ----------
    outline : (N, 2) all round, mm, from (0, 0) upwards; edge : (M, 2) what lies on the metal.
    marks : each two places (2, 2), and its words.
    side : which side of the metal it is held to.
    """

    gauge: Gauge
    side: Literal["outside", "inside"]
    outline: Floats
    edge: Floats
    marks: tuple[tuple[Floats, str], ...]


def templates_of(gauge: Gauge, thickness: float, face: Face, mirror: bool) -> tuple[Template, ...]:
    """A gauge's two templates: to hold to the outside of the metal, and to its inside.

    Parameters
    ----------
    thickness : of the sheet, mm; nothing if it is not told.
    face : on which the paper lay.
    mirror : for the opposite side's panel: the same turned over.
    """
    found: list[Template] = []
    for side in ("outside", "inside"):
        # Up is out of the face that was marked: outwards, if the paper lay on the outer one.
        above = (side == "outside") == (face == "outer")
        lay_on = (side == "outside") == (face == "outer")
        edge = evenly(gauge.profile, STEP_MM)
        if not lay_on:  # the other face, a thickness below the marked one
            edge = _stood_off(edge, thickness)
        if mirror:
            edge = (edge * [-1.0, 1.0])[::-1]
        chord = edge[-1] - edge[0]
        turn = math.atan2(chord[1], chord[0])
        cos, sin = math.cos(turn), math.sin(turn)
        level = (edge - edge[0]) @ np.array([[cos, -sin], [sin, cos]])
        low, high = level[:, 1].min(), level[:, 1].max()
        back = high + DEEP_MM if above else low - DEEP_MM
        left, right = level[:, 0].min(), level[:, 0].max()
        corners = np.array([[right, back], [left, back]])
        outline = np.concatenate([level, corners])
        shift = outline.min(axis=0)
        marks = _marks(gauge, level, above, mirror)
        found.append(
            Template(
                gauge,
                side,
                outline - shift,
                level - shift,
                tuple((place - shift, words) for place, words in marks),
            )
        )
    return tuple(found)


def _stood_off(edge: Floats, thickness: float) -> Floats:
    """The profile of the other face."""
    if thickness <= 0:
        return edge
    off = LineString(edge).offset_curve(-thickness)
    points = np.array(off.coords)
    if np.linalg.norm(points[0] - edge[0]) > np.linalg.norm(points[-1] - edge[0]):
        points = points[::-1]
    return evenly(points, STEP_MM)


def _marks(gauge: Gauge, level: Floats, above: bool, mirror: bool) -> list[tuple[Floats, str]]:
    length = running_length(gauge.profile)[-1]
    along = running_length(level)
    found = []
    for mark in gauge.marks:
        if not -0.5 <= mark.along <= length + 0.5:
            continue
        share = mark.along / length
        share = 1 - share if mirror else share
        at = np.clip(share, 0, 1) * along[-1]
        place = np.array([np.interp(at, along, level[:, axis]) for axis in (0, 1)])
        near = np.array([np.interp(at + 1.0, along, level[:, axis]) for axis in (0, 1)])
        before = np.array([np.interp(at - 1.0, along, level[:, axis]) for axis in (0, 1)])
        run = (near - before) / (np.linalg.norm(near - before) + 1e-12)
        square = np.array([-run[1], run[0]]) * (1.0 if above else -1.0)
        found.append((np.stack([place, place + MARK_MM * square]), mark.words))
    return found
