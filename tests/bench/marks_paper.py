"""Papers with marks as another maker draws them: what stands on them, in mm, by seed.

Nothing of ``sample_photos`` is used here, and nothing of the reader. A paper lies over an invented
panel that is curved both ways; it was pinned flat, slit or folded from two of its edges inward, and
marked. A tuck of lap w at a distance s from its tip is closed by turning one flap about the tip by
2 asin(w / 2s); so a line that ran across the closed tuck stops on the upper flap at the cut, and
goes on at that place turned, on the lower flap.

Frame: mm, x right, y up, the paper's middle near the origin.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicHermiteSpline
from shapely import LineString, MultiLineString, Point, Polygon

from tests.bench.marks_letters import written

Floats = NDArray[np.float64]
CLASSES = (
    "plain",
    "writing",
    "ticks",
    "dashes",
    "hatching",
    "crossed out",
    "tape",
    "ring",
    "squared",
    "felt pen",
    "folds",
    "dark paper",
    "coloured",
    "no lap lines",
    "parted",
    "sketchy",
)
STEP_MM = 1.0
TUCK_APART_MM = 85.0
Ink = Literal[
    "graphite", "hard pencil", "felt", "ballpoint", "red", "blue", "green", "white", "silver"
]


@dataclass(frozen=True)
class Hand:
    """Who draws.

    Attributes
    ----------
    pressure, swing : how hard the lead is pressed, 0 to 1, and how that varies along a stroke.
    tremor_mm : RMS by which a stroke lies to and fro about its course.
    overshoot_mm : how far, at most, strokes run past where they should end.
    taper : the share of pressure that is lost where a stroke is set down and lifted.
    retouched : how often part of a stroke is gone over again.
    """

    name: str
    pressure: float
    swing: float
    tremor_mm: float
    width_mm: float
    overshoot_mm: float
    taper: float
    retouched: float


HANDS = (
    Hand("slow and heavy", 0.85, 0.08, 0.08, 0.75, 1.0, 0.2, 0.1),
    Hand("fast and light", 0.5, 0.14, 0.12, 0.5, 4.0, 0.6, 0.25),
    Hand("shaky", 0.65, 0.12, 0.26, 0.6, 2.0, 0.3, 0.2),
    Hand("careful", 0.62, 0.06, 0.05, 0.45, 0.5, 0.3, 0.05),
)


@dataclass(frozen=True)
class Stroke:
    """One pull of a pen or pencil: (N, 2) points, mm, and (N,) pressure, 0 to 1."""

    points: Floats
    pressure: Floats
    width_mm: float
    ink: Ink


@dataclass(frozen=True)
class Soft:
    """A soft line of light or shade on bare paper: by what share it is brighter there."""

    points: Floats
    width_mm: float
    blur_mm: float
    share: float


@dataclass(frozen=True)
class Opening:
    """A cut through the paper: its middle line and (N,) how far it lies open, mm."""

    points: Floats
    open_mm: Floats


@dataclass(frozen=True)
class Wash:
    """An area of thin colour, as of tape, coffee or printed lines: how much it covers, 0 to 1.

    ``over`` : it lies on the pencil, as tape does.
    """

    area: Polygon
    colour: tuple[float, float, float]
    cover: float
    blur_mm: float = 0.0
    over: bool = False


@dataclass(frozen=True)
class TrueTuck:
    """A tuck as it is.

    Attributes
    ----------
    cut : (N, 2) the cut's middle, or a fold's crease that is in sight, from the tip to the edge.
    lower : 1 where the lower flap lies to the left of the way from tip to edge, -1 to the right.
    widest_mm, growth : lap at the edge, and the power of the distance from the tip by which it
        grows: 1 is a cone's.
    parted_mm : how far a slit lies open at the edge.
    lap_line, hidden : (N, 2) the lap line as drawn, and a fold's crease that was out of sight.
    """

    kind: Literal["slit", "fold"]
    cut: Floats
    lower: int
    widest_mm: float
    growth: float
    parted_mm: float = 0.0
    lap_line: Floats | None = None
    hidden: Floats | None = None

    @property
    def tip(self) -> Floats:
        """(2,) where it ends."""
        return self.cut[0]

    @property
    def distances(self) -> Floats:
        """(N,) of the cut's points from the tip."""
        return np.asarray(np.linalg.norm(self.cut - self.tip, axis=1))

    @property
    def reach(self) -> float:
        """Distance from the tip to the paper's edge, mm."""
        return float(self.distances[-1])

    def lap(self, distance: Floats | float) -> Floats:
        """Lap w at distances from the tip, mm: the chord between a place and itself turned."""
        share = np.clip(np.asarray(distance, float) / self.reach, 0, None)
        return np.asarray(self.widest_mm * share**self.growth)

    def turn(self, distance: Floats) -> Floats:
        """Angle (radians) by which the lower flap is turned to close it there: 2 asin(w / 2s)."""
        far = np.maximum(distance, 1e-9)
        return np.asarray(2 * np.arcsin(np.clip(self.lap(far) / (2 * far), 0, 1)))

    def parting(self, distance: Floats) -> Floats:
        """Angle (radians) by which a slit's edges lie apart: the same all along."""
        return np.full(np.shape(distance), self.parted_mm / self.reach)

    def upper_edge(self, distance: Floats) -> Floats:
        """(N, 2) the upper flap's edge at distances from the tip."""
        return self._turned(distance, -self.parting(distance) / 2)

    def landing(self, distance: Floats, share: float = 1.0, beyond_mm: float = 0.0) -> Floats:
        """(N, 2) where on the lower flap the upper one's edge lay, so far or a share of it."""
        further = beyond_mm / np.maximum(distance, beyond_mm + 1e-9)
        return self._turned(
            distance, self.parting(distance) / 2 + share * self.turn(distance) + further
        )

    def _turned(self, distance: Floats, angle: Floats) -> Floats:
        cut = np.column_stack([np.interp(distance, self.distances, self.cut[:, k]) for k in (0, 1)])
        away, angle = cut - self.tip, self.lower * angle
        cos, sin = np.cos(angle), np.sin(angle)
        turned = [cos * away[:, 0] - sin * away[:, 1], sin * away[:, 0] + cos * away[:, 1]]
        return np.asarray(self.tip + np.column_stack(turned))


@dataclass(frozen=True)
class TrueLine:
    """A line that means something: its course, and whether it was drawn as ticks."""

    points: Floats
    what: Literal["trim", "radius", "form", "lap"]
    ticks: bool = False


@dataclass(frozen=True)
class Paper:
    """All that is on a paper, and what it means.

    ``beside`` are marks that are there and are no lines of the panel, though nobody could blame
    a reader for seeing them as such: single ticks, what was crossed out.
    """

    kind: str
    hand: str
    outline: Polygon
    lines: tuple[TrueLine, ...]
    tucks: tuple[TrueTuck, ...]
    strokes: tuple[Stroke, ...]
    softs: tuple[Soft, ...] = ()
    openings: tuple[Opening, ...] = ()
    washes: tuple[Wash, ...] = ()
    beside: tuple[Floats, ...] = ()


def draw_paper(seed: int, largest_mm: float = 760.0) -> Paper:
    """The paper of a seed, at most so long."""
    rng = np.random.default_rng([31, seed])
    kind = CLASSES[(seed - 1) % len(CLASSES)]
    long, wide = rng.uniform(430, largest_mm), rng.uniform(300, 430)
    edges = tuple(_Edge(long, wide, side, rng) for side in (1, -1))
    outline = Polygon(np.concatenate([edges[1].points, edges[0].points[::-1]]))
    hand = HANDS[int(rng.integers(len(HANDS)))]
    inks = _inks(kind, rng)
    tucks = _tucks(rng, kind, edges, outline)
    courses = _courses(rng, edges, tucks)
    paper = Paper(kind, hand.name, outline, (), tuple(t for _, t in tucks), ())
    paper = _with_cuts(paper, rng)
    paper = _with_lines(paper, rng, hand, inks, courses)
    if kind != "no lap lines" and rng.random() < 0.92:
        paper = _with_laps(paper, rng, hand, inks)
    more = EXTRAS.get(kind)
    return more(paper, rng, hand, inks) if more else paper


class _Edge:
    """One of the two long edges: bowed and a little uneven, as shears leave it."""

    def __init__(self, long: float, wide: float, side: int, rng: np.random.Generator) -> None:
        self.side, self.half = side, long / 2
        self._wide, self._bow = wide / 2, float(rng.uniform(-5, 40))
        self._lean, self._wave = float(rng.normal(0, 0.02)), float(rng.uniform(0, 1.5))
        self._start = float(rng.uniform(0, 6.28))
        x = np.arange(-self.half, self.half + STEP_MM, STEP_MM)
        self.points = self.inside(x, 0.0)

    def inside(self, x: Floats, depth: Floats | float) -> Floats:
        """(N, 2) points so far inside the edge, across the paper."""
        bowed = self._bow * (1 - (x / self.half) ** 2) + self._lean * x
        uneven = self._wave * np.sin(x / 70 + self._start) + 0.3 * np.sin(x / 13 + 2 * self._start)
        near = np.exp(-np.asarray(depth, float) / 10)  # a pencil line does not follow the shears
        return np.column_stack([x, self.side * (self._wide + bowed + near * uneven - depth)])


Tucks = Sequence[tuple[_Edge, TrueTuck]]


def _tucks(
    rng: np.random.Generator, kind: str, edges: Sequence[_Edge], outline: Polygon
) -> list[tuple[_Edge, TrueTuck]]:
    """Two to six tucks, from one long edge or both, far enough apart."""
    count = int(rng.integers(2, 7))
    upper = int(np.clip(round(count * rng.uniform(0.5, 1.0)), 1, count))
    folded = 0.75 if kind == "folds" else 0.06
    tucks = []
    side = int(rng.choice([-1, 1]))
    for edge, number in zip(edges, (upper, count - upper), strict=True):
        room = 2 * edge.half - 160
        number = min(number, int(room // TUCK_APART_MM) + 1)
        spare = room - TUCK_APART_MM * (number - 1)
        places = -edge.half + 80 + np.sort(rng.uniform(0, spare, number))
        for x in places + TUCK_APART_MM * np.arange(number):
            base = edge.inside(np.array([x]), 0.0)[0]
            reach = float(rng.uniform(40, min(160, 0.42 * np.ptp(outline.bounds[1::2]))))
            lean = np.radians(float(rng.normal(0, 7)))
            inward = np.array([np.sin(lean), -edge.side * np.cos(lean)])
            across = np.array([-inward[1], inward[0]])
            s = np.linspace(1, 0, 200)[:, None]
            bend = reach * float(np.clip(rng.normal(0, 0.02), -0.03, 0.03))
            cut = base + inward * reach * s + across * bend * 4 * s * (1 - s)
            widest = float(rng.uniform(4, min(25, 0.22 * reach)))
            lower = side if rng.random() < 0.8 else -side
            fold = rng.random() < folded
            parted = 0.0
            if not fold and (kind == "parted" or rng.random() < 0.12):
                parted = float(rng.uniform(0.5, 2.0))
            growth = float(rng.choice([1.0, rng.uniform(1.0, 1.3)]))
            tuck = TrueTuck("fold" if fold else "slit", cut, lower, widest, growth, parted)
            tucks.append((edge, tuck))
    return tucks


End = Literal["free", "upper", "lower"]


@dataclass(frozen=True)
class Piece:
    """A line between two tucks: (N, 2) points, and whether an end lies on a flap's edge."""

    points: Floats
    start: End
    end: End


@dataclass(frozen=True)
class _Course:
    """A line along the panel: its pieces between tucks, each drawn by itself."""

    pieces: tuple[Piece, ...]
    what: Literal["trim", "radius", "form"]


def _courses(rng: np.random.Generator, edges: Sequence[_Edge], tucks: Tucks) -> list[_Course]:
    """Trim edges, starts and ends of bends, form lines, each broken where a tuck parts it."""
    courses = []
    margin = rng.uniform(12, 30)
    side = edges[0].half - float(rng.uniform(15, 35))
    for edge in edges:
        own = [tuck for each, tuck in tucks if each is edge]
        depths = [margin + float(rng.normal(0, 2))]
        if own or rng.random() < 0.6:
            depths.append(depths[0] + float(rng.uniform(18, 45)))
            depths.append(depths[1] + float(rng.uniform(22, 55)))
        for index, depth in enumerate(depths):
            x = np.linspace(-side - 2, side + 2, 400)
            wave = float(rng.uniform(0, 5)) * np.sin(x / rng.uniform(90, 200) + rng.uniform(0, 6))
            lead = float(rng.normal(0, 5)) * x / side * (index > 0)
            if index:  # a bend's lines often do not run from end to end
                keep = slice(int(rng.integers(0, 60)), 400 - int(rng.integers(0, 60)))
                x, wave, lead = x[keep], wave[keep], lead[keep]
            flat = edge.inside(x, depth + wave + lead)
            pieces = broken(flat, own)
            courses.append(_Course(pieces, "radius" if index else "trim"))
    for end in (-1, 1):  # the trim edge's ends, across the paper
        low, high = (edge.inside(np.array([end * side]), margin)[0, 1] for edge in edges[::-1])
        y = np.linspace(low - 1, high + 1, 200)
        bow = end * float(rng.uniform(0, 8)) * (1 - ((2 * y - low - high) / (high - low)) ** 2)
        across = np.column_stack([end * side - bow, y])
        courses.append(_Course((Piece(across, "free", "free"),), "trim"))
    for _ in range(int(rng.integers(0, 3))):
        x = np.linspace(-side * rng.uniform(0.3, 0.9), side * rng.uniform(0.3, 0.9), 300)
        y = float(rng.uniform(-25, 25)) + float(rng.normal(0, 12)) * np.cos(x / 150 + rng.random())
        free = LineString(np.column_stack([x, y]))
        tips = [Point(tuck.tip) for _, tuck in tucks]
        others = [LineString(p.points) for c in courses for p in c.pieces if len(p.points) > 1]
        if all(free.distance(each) > 12 for each in [*tips, *others]):
            whole = Piece(np.asarray(free.coords), "free", "free")
            courses.append(_Course((whole,), "form"))
    return courses


def broken(flat: Floats, tucks: Sequence[TrueTuck]) -> tuple[Piece, ...]:
    """The pieces of a line that ran across closed tucks, on the paper laid flat again.

    Parameters
    ----------
    flat : (N, 2) about where it runs, mm, from one end to the other; where it crosses a cut is
        kept, and so is its direction on the upper flap there.
    tucks : those that it may cross.

    Returns
    -------
    Its pieces in order: one comes to a cut where it crosses it, and the next goes on from where
    that place lay on the lower flap, turned as the flap is.
    """
    path = LineString(flat)
    crossings: list[tuple[float, TrueTuck]] = []
    for tuck in tucks:
        for at in getattr(path.intersection(LineString(tuck.cut)), "geoms", None) or [
            path.intersection(LineString(tuck.cut))
        ]:
            if not at.is_empty:
                crossings.append((path.project(at), tuck))
                break
    crossings.sort(key=lambda crossing: crossing[0])
    starts: list[_Joint] = [_Joint(0.0, flat[0], _ahead(path, 0.0), "free")]
    ends: list[_Joint] = []
    for along, tuck in crossings:
        ahead = _ahead(path, along)
        place = np.array(path.interpolate(along).coords[0])
        distance = np.array([np.linalg.norm(place - tuck.tip)])
        angle = tuck.lower * float((tuck.turn(distance) + tuck.parting(distance))[0])
        cos, sin = np.cos(angle), np.sin(angle)
        turned = np.array([[cos, -sin], [sin, cos]]) @ ahead
        out = tuck.cut[-1] - tuck.tip
        left = np.array([-out[1], out[0]])  # the lower flap's side, if it is 1
        onto_lower = float(ahead @ left) * tuck.lower > 0
        on_upper = _Joint(along, tuck.upper_edge(distance)[0], ahead, "upper")
        on_lower = _Joint(along, tuck.landing(distance)[0], turned, "lower")
        ends.append(on_upper if onto_lower else on_lower)
        starts.append(on_lower if onto_lower else on_upper)
    ends.append(_Joint(path.length, flat[-1], _ahead(path, path.length), "free"))
    return tuple(_between(path, start, end) for start, end in zip(starts, ends, strict=True))


@dataclass(frozen=True)
class _Joint:
    """Where a piece begins or ends: how far along the whole, its place and unit direction."""

    along: float
    place: Floats
    way: Floats
    on: End


def _ahead(path: LineString, along: float) -> Floats:
    """(2,) unit direction of a path there."""
    a, b = (
        np.array(path.interpolate(np.clip(along + d, 0, path.length)).coords[0]) for d in (-1, 1)
    )
    return np.asarray((b - a) / np.linalg.norm(b - a))


def _between(path: LineString, start: _Joint, end: _Joint) -> Piece:
    """The path's part from one place and direction to another, drawn over all its length."""
    low, high = start.along, end.along
    if high - low < STEP_MM:
        return Piece(np.array([start.place, end.place]), start.on, end.on)
    at = np.linspace(low, high, max(int((high - low) / STEP_MM), 2))
    along = np.array([path.interpolate(t).coords[0] for t in at])
    off = [j.place - np.array(path.interpolate(j.along).coords[0]) for j in (start, end)]
    lean = [j.way - _ahead(path, j.along) for j in (start, end)]
    points = along + CubicHermiteSpline([low, high], off, lean)(at)
    return Piece(np.asarray(points), start.on, end.on)


def _inks(kind: str, rng: np.random.Generator) -> dict[str, Ink]:
    """What each kind of line is drawn with."""
    usual: Ink = "hard pencil" if rng.random() < 0.15 else "graphite"
    inks: dict[str, Ink] = dict.fromkeys(("trim", "radius", "form", "lap", "writing"), usual)
    if kind == "felt pen":
        felt: Ink = "felt"
        inks |= {"trim": felt, "radius": felt, "writing": felt}
        if rng.random() < 0.5:
            inks["lap"] = felt
    elif kind == "dark paper":
        light: Ink = "white" if rng.random() < 0.6 else "silver"
        inks = dict.fromkeys(inks, light)
    elif kind == "coloured":
        colours: tuple[Ink, ...] = ("red", "blue", "green")
        inks |= {"radius": colours[int(rng.integers(3))], "lap": colours[int(rng.integers(3))]}
    elif kind == "writing" and rng.random() < 0.5:
        inks["writing"] = "ballpoint"
    return inks


def _with_cuts(paper: Paper, rng: np.random.Generator) -> Paper:
    """The cuts with their flaps' shades, and the creases."""
    softs, openings, tucks = [], [], []
    for tuck in paper.tucks:
        s = np.arange(0.5, tuck.reach, STEP_MM)
        flap = tuck.lower * (1 if rng.random() < 0.7 else -1)  # which side is shaded
        if tuck.kind == "fold":
            contrast = float(rng.uniform(0.01, 0.15))
            hidden = tuck.landing(s, 0.5)
            tucks.append(replace(tuck, hidden=hidden))
            for line, sign in ((tuck.upper_edge(s), flap), (hidden, -flap)):
                width, shift = float(rng.uniform(0.4, 1.0)), float(rng.uniform(0.3, 0.6))
                share = contrast * float(rng.uniform(0.6, 1.0))
                softs.append(Soft(beside(line, sign * shift), width, 0.35, share))
                softs.append(Soft(beside(line, -sign * shift), width, 0.35, -share))
                softs.append(Soft(beside(line, -sign * 3), 5.0, 2.0, -0.3 * share))
            continue
        tucks.append(tuck)
        narrow, wide = float(rng.uniform(0.05, 0.12)), float(rng.uniform(0.1, 0.6))
        rough = 1 + 0.25 * np.sin(s / rng.uniform(3, 9) + rng.uniform(0, 6))
        opened = (
            narrow + (wide - narrow) * s / tuck.reach
        ) * rough + tuck.parted_mm * s / tuck.reach
        middle = _cut_at(tuck, s)
        openings.append(Opening(middle, opened))
        raised = float(rng.uniform(0.02, 0.2))
        softs.append(Soft(beside(middle, flap * 0.8), 1.2, 0.5, -raised))
        softs.append(Soft(beside(middle, flap * 2.5), 4.0, 1.8, -0.5 * raised))
        softs.append(Soft(beside(middle, -flap * 0.7), 0.8, 0.4, 0.4 * raised))
    return replace(
        paper,
        tucks=tuple(tucks),
        softs=paper.softs + tuple(softs),
        openings=paper.openings + tuple(openings),
    )


def _cut_at(tuck: TrueTuck, distance: Floats) -> Floats:
    return np.column_stack([np.interp(distance, tuck.distances, tuck.cut[:, k]) for k in (0, 1)])


def beside(points: Floats, shift_mm: Floats | float) -> Floats:
    """(N, 2) a line moved to its left, mm."""
    tangent = np.gradient(points, axis=0)
    left = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    left /= np.linalg.norm(left, axis=1, keepdims=True) + 1e-12
    return np.asarray(points + left * np.reshape(np.broadcast_to(shift_mm, len(points)), (-1, 1)))


def evenly(points: Floats, step_mm: float = STEP_MM) -> Floats:
    """(N, 2) the same polyline by points so far apart."""
    along = np.append(0.0, np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1)))
    at = np.linspace(0, along[-1], max(int(along[-1] / step_mm) + 1, 2))
    return np.column_stack([np.interp(at, along, points[:, k]) for k in (0, 1)])


def _slow(count: int, step_mm: float, rng: np.random.Generator, low: float, high: float) -> Floats:
    """(count,) band-limited noise of RMS 1: wavelengths between two, mm."""
    along = np.arange(count) * step_mm
    waves = np.exp(rng.uniform(np.log(low), np.log(high), 8))
    phases = rng.uniform(0, 2 * np.pi, 8)
    return np.asarray(
        sum(np.sin(2 * np.pi * along / w + p) for w, p in zip(waves, phases, strict=True)) / 2
    )


def stroked(
    points: Floats, hand: Hand, ink: Ink, rng: np.random.Generator, width_mm: float | None = None
) -> tuple[list[Stroke], Floats]:
    """A course as a hand draws it: the stroke, perhaps part of it again; and where it ran."""
    course = evenly(points, min(STEP_MM, max(np.ptp(points, axis=0).max() / 12, 0.25)))
    step = float(np.linalg.norm(course[1] - course[0]))
    if len(course) > 8:
        course = beside(course, hand.tremor_mm * _slow(len(course), step, rng, 5, 60))
    count = len(course)
    pressure = hand.pressure + hand.swing * _slow(count, step, rng, 15, 120)
    ends = np.minimum(np.arange(count), np.arange(count)[::-1]) * step
    pressure = pressure * (1 - hand.taper * np.exp(-ends / 2.5))
    width = width_mm or hand.width_mm * float(rng.uniform(0.85, 1.2))
    strokes = [Stroke(course, np.clip(pressure, 0.12, 1), width, ink)]
    if rng.random() < hand.retouched and count > 60:
        a = int(rng.integers(0, count - 40))
        b = min(a + int(rng.integers(30, 120)), count)
        again = beside(course[a:b], float(rng.normal(0, 0.25)))
        strokes.append(Stroke(again, np.clip(pressure[a:b] * 0.9, 0.12, 1), width, ink))
    return strokes, course


def _with_lines(
    paper: Paper,
    rng: np.random.Generator,
    hand: Hand,
    inks: dict[str, Ink],
    courses: Sequence[_Course],
) -> Paper:
    """The panel's lines, as ticks or dashes where the class has them so."""
    strokes, lines, single = [], [], []
    felt = float(rng.uniform(1.0, 3.0))
    dashes = float(rng.uniform(6, 14)), float(rng.uniform(3, 7))
    spacing = float(rng.uniform(20, 35))
    for course in courses:
        ink = inks[course.what]
        width = felt if ink == "felt" else None
        ticks = paper.kind == "ticks" and course.what == "radius"
        for piece in course.pieces:
            if len(piece.points) < 3:
                continue
            path = _ended(piece, hand, rng)
            if len(path) < 3:
                continue
            if ticks:
                marks = _ticks(path, spacing, rng)
                for mark in marks:
                    drawn, course_of = stroked(mark, hand, ink, rng)
                    strokes += drawn[:1]
                    single.append(course_of)
                centres = [mark.mean(axis=0) for mark in marks]
                if len(centres) > 1:
                    inner = _span(path, centres[0], centres[-1])
                    lines.append(TrueLine(inner, course.what, True))
                continue
            if paper.kind == "dashes" and course.what == "radius":
                for dash in _dashes(path, *dashes, rng):
                    strokes += stroked(dash, hand, ink, rng, width)[0][:1]
                lines.append(TrueLine(path, course.what))
                continue
            if paper.kind == "sketchy":
                strokes += _sketched(path, hand, ink, rng)
                lines.append(TrueLine(path, course.what))
                continue
            drawn, course_of = stroked(path, hand, ink, rng, width)
            strokes += drawn
            lines.append(TrueLine(course_of, course.what))
    return replace(
        paper,
        lines=paper.lines + tuple(lines),
        strokes=paper.strokes + tuple(strokes),
        beside=paper.beside + tuple(single),
    )


def _ended(piece: Piece, hand: Hand, rng: np.random.Generator) -> Floats:
    """A stroke stops up to 1 mm short of the upper flap's edge, or runs past a free end.

    On the lower flap it begins where the lead comes down off the edge: a little way on.
    """
    path, trims = evenly(piece.points), []
    for on in (piece.start, piece.end):
        if on == "free":
            trims.append(-float(rng.uniform(0, hand.overshoot_mm)))
        elif on == "upper":
            trims.append(float(np.clip(abs(rng.normal(0, 0.4)), 0, 1.0)))
        else:
            trims.append(float(rng.uniform(0.0, 0.35)))
    along = np.append(0.0, np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1)))
    at = np.arange(max(trims[0], 0.0), along[-1] - max(trims[1], 0.0), STEP_MM / 2)
    if len(at) < 3:
        return path[:1]
    kept = np.column_stack([np.interp(at, along, path[:, k]) for k in (0, 1)])
    before, after = kept[:0], kept[:0]
    if trims[0] < -0.3:
        before = kept[:1] + (kept[:1] - kept[1:2]) / 0.5 * -trims[0]
    if trims[1] < -0.3:
        after = kept[-1:] + (kept[-1:] - kept[-2:-1]) / 0.5 * -trims[1]
    return np.concatenate([before, kept, after])


def _ticks(path: Floats, spacing_mm: float, rng: np.random.Generator) -> list[Floats]:
    """Short marks across a course."""
    line = LineString(path)
    marks = []
    at = float(rng.uniform(2, 8))
    while at < line.length - 2:
        middle, ahead = np.array(line.interpolate(at).coords[0]), _ahead(line, at)
        lean = np.radians(90 + float(rng.normal(0, 8)))
        cos, sin = np.cos(lean), np.sin(lean)
        across = np.array([cos * ahead[0] - sin * ahead[1], sin * ahead[0] + cos * ahead[1]])
        half = float(rng.uniform(3, 6.5))
        middle = middle + across * float(rng.normal(0, 0.3))
        marks.append(middle + np.linspace(-half, half, 14)[:, None] * across)
        at += spacing_mm * float(rng.uniform(0.85, 1.15))
    return marks


def _span(path: Floats, first: Floats, last: Floats) -> Floats:
    line = LineString(path)
    a, b = sorted((line.project(Point(first)), line.project(Point(last))))
    return np.array([line.interpolate(t).coords[0] for t in np.arange(a, b, STEP_MM)])


def _dashes(path: Floats, on_mm: float, off_mm: float, rng: np.random.Generator) -> list[Floats]:
    line, dashes, at = LineString(path), [], 0.0
    while at < line.length - 2:
        end = min(at + on_mm * float(rng.uniform(0.75, 1.25)), line.length)
        count = max(int((end - at) / 0.5), 3)
        dashes.append(
            np.array([line.interpolate(t).coords[0] for t in np.linspace(at, end, count)])
        )
        at = end + off_mm * float(rng.uniform(0.75, 1.25))
    return dashes


def _sketched(path: Floats, hand: Hand, ink: Ink, rng: np.random.Generator) -> list[Stroke]:
    """A line felt for by many short pulls, one over the end of another."""
    strokes: list[Stroke] = []
    at = 0
    while at < len(path) - 10:
        end = min(at + int(rng.uniform(100, 220)), len(path))
        piece = path[at:end]
        lean = np.linspace(*rng.normal(0, 0.35, 2), len(piece))
        strokes += stroked(beside(piece, lean), hand, ink, rng)[0][:1]
        at = end - int(rng.uniform(16, 50)) if end < len(path) else end
    return strokes


def _with_laps(paper: Paper, rng: np.random.Generator, hand: Hand, inks: dict[str, Ink]) -> Paper:
    """Lap lines: the pencil runs along the upper flap's edge, so half its width beyond it."""
    sheet = paper.outline.buffer(-0.7)
    strokes, lines, tucks = [], [], []
    ink = inks["lap"]
    dashed = paper.kind == "dashes" and rng.random() < 0.5
    for tuck in paper.tucks:
        if tuck.kind == "fold" or rng.random() < 0.06:
            tucks.append(tuck)
            continue
        width = hand.width_mm * float(rng.choice([1.0, rng.uniform(1.0, 1.6)]))
        if ink == "felt":
            width = float(rng.uniform(1.0, 2.0))
        begin = float(rng.choice([rng.uniform(0.5, 3), rng.uniform(5, 15)]))
        s = np.arange(begin, tuck.reach * 1.04, STEP_MM / 2)
        course = tuck.landing(s, beyond_mm=width / 2)
        ahead = course - tuck.tip
        beyond = np.clip(s - tuck.reach, 0, None)[:, None]
        course = course + beyond * ahead / np.linalg.norm(ahead, axis=1, keepdims=True)
        if begin < 3 and rng.random() < 0.3:  # set down beyond the tip, on paper that is whole
            inward = course[0] - course[6]
            course = np.concatenate([course[:1] + inward / 3 * rng.uniform(1.5, 5), course])
        inside = LineString(course).intersection(sheet)
        parts = getattr(inside, "geoms", [inside])
        course = evenly(np.array(max(parts, key=lambda part: part.length).coords), 0.5)
        if dashed:
            for dash in _dashes(course, 8, 4, rng):
                strokes += stroked(dash, hand, ink, rng, width)[0][:1]
            drawn_at = course
        else:
            drawn, drawn_at = stroked(course, hand, ink, rng, width)
            strokes += drawn
        lines.append(TrueLine(drawn_at, "lap"))
        tucks.append(replace(tuck, lap_line=drawn_at))
    return replace(
        paper,
        tucks=tuple(tucks),
        lines=paper.lines + tuple(lines),
        strokes=paper.strokes + tuple(strokes),
    )


def _taken(paper: Paper) -> MultiLineString:
    """All that is on a paper already."""
    return MultiLineString(
        [stroke.points for stroke in paper.strokes]
        + [tuck.cut for tuck in paper.tucks]
        + [tuck.hidden for tuck in paper.tucks if tuck.hidden is not None]
    )


def _free_place(
    paper: Paper, rng: np.random.Generator, half: Floats, clear_mm: float
) -> Floats | None:
    """(2,) a place where a box of such half sides is free, or None."""
    taken = _taken(paper)
    low, high = np.array(paper.outline.bounds[:2]), np.array(paper.outline.bounds[2:])
    for _ in range(80):
        place = rng.uniform(low + half + 8, high - half - 8)
        corners = place + half * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
        box = Polygon(corners)
        if taken.distance(box) > clear_mm and paper.outline.contains(box):
            return np.asarray(place)
    return None


def _with_writing(
    paper: Paper, rng: np.random.Generator, hand: Hand, inks: dict[str, Ink]
) -> Paper:
    """Words of 5 to 25 mm, numbers in circles, arrows."""
    ink = inks["writing"]
    for _ in range(int(rng.integers(5, 11))):
        height = float(np.exp(rng.uniform(np.log(5), np.log(25))))
        what = rng.choice(["word", "word", "circled", "arrow"])
        shapes = written(str(what), height, rng)
        everything = np.concatenate(shapes)
        low, high = everything.min(axis=0), everything.max(axis=0)
        place = _free_place(paper, rng, (high - low) / 2, float(rng.choice([1.5, 4.0, 10.0])))
        if place is None:
            continue
        strokes: list[Stroke] = []
        width = None if ink != "ballpoint" else 0.4
        if ink == "felt":
            width = 1.2
        for shape in shapes:
            strokes += stroked(shape - (low + high) / 2 + place, hand, ink, rng, width)[0][:1]
        paper = replace(paper, strokes=paper.strokes + tuple(strokes))
    return paper


def _with_hatching(
    paper: Paper, rng: np.random.Generator, hand: Hand, inks: dict[str, Ink]
) -> Paper:
    """Two areas hatched by parallel strokes, as where metal is to be worked."""
    for _ in range(2):
        half = np.array([rng.uniform(15, 35), rng.uniform(10, 22)])
        place = _free_place(paper, rng, half, 3.0)
        if place is None:
            continue
        area = Polygon(
            [
                place + half * np.array([np.cos(a), np.sin(a)]) * rng.uniform(0.75, 1)
                for a in np.linspace(0, 2 * np.pi, 12, endpoint=False)
            ]
        )
        lean, spacing = float(rng.uniform(0, np.pi)), float(rng.uniform(3, 6))
        ahead = np.array([np.cos(lean), np.sin(lean)])
        across = np.array([-ahead[1], ahead[0]])
        strokes: list[Stroke] = []
        for shift in np.arange(-60, 60, spacing):
            middle = place + across * (shift + float(rng.normal(0, 0.4)))
            lie = ahead + across * float(rng.normal(0, 0.04))
            cut = LineString([middle - 60 * lie, middle + 60 * lie]).intersection(area)
            if cut.length > 5 and cut.geom_type == "LineString":
                strokes += stroked(np.array(cut.coords), hand, inks["form"], rng)[0][:1]
        paper = replace(paper, strokes=paper.strokes + tuple(strokes))
    return paper


def _with_crossed_out(
    paper: Paper, rng: np.random.Generator, hand: Hand, inks: dict[str, Ink]
) -> Paper:
    """A line drawn wrong, and struck through by short strokes."""
    for _ in range(2):
        half = np.array([rng.uniform(35, 80), 6.0])
        place = _free_place(paper, rng, half, 3.0)
        if place is None:
            continue
        x = np.linspace(-half[0], half[0], 80)
        line = place + np.column_stack([x, 3 * np.sin(x / rng.uniform(30, 70))])
        strokes, course = stroked(line, hand, inks["form"], rng)
        marks = [course]
        for at in np.arange(-half[0] + 6, half[0] - 4, float(rng.uniform(7, 12))):
            middle = place + np.array([at + float(rng.normal(0, 1)), 0.0])
            reach = np.array([2.5, 4.5]) * float(rng.uniform(0.8, 1.2))
            across = middle + np.linspace(-1, 1, 12)[:, None] * reach
            drawn, where = stroked(across, hand, inks["form"], rng)
            strokes += drawn[:1]
            marks.append(where)
        paper = replace(
            paper,
            strokes=paper.strokes + tuple(strokes),
            beside=paper.beside + tuple(marks),
        )
    return paper


def _with_tape(paper: Paper, rng: np.random.Generator, hand: Hand, inks: dict[str, Ink]) -> Paper:
    """Clear or masking tape over some slits, across or along them."""
    washes = []
    for tuck in paper.tucks:
        if rng.random() < 0.25:
            continue
        half, wide = float(rng.uniform(15, 35)), float(rng.choice([6.0, 9.5, 12.5]))
        share = float(rng.uniform(0.35, 0.8))
        middle = _cut_at(tuck, np.array([share * tuck.reach]))[0]
        lean = float(rng.normal(0, 0.15)) + (np.pi / 2 if rng.random() < 0.3 else 0.0)
        ahead = np.array([np.cos(lean), np.sin(lean)])
        across = np.array([-ahead[1], ahead[0]])
        ends = [float(rng.uniform(-1, 1)) for _ in range(4)]
        corners = [
            middle + (a * half + e) * ahead + b * wide * across
            for (a, b), e in zip(((-1, -1), (1, -1), (1, 1), (-1, 1)), ends, strict=True)
        ]
        clear = rng.random() < 0.6
        colour = (0.85, 0.85, 0.82) if clear else (0.72, 0.6, 0.38)
        cover = float(rng.uniform(0.06, 0.18) if clear else rng.uniform(0.25, 0.45))
        area = Polygon(corners).intersection(paper.outline)
        washes.append(Wash(area, colour, cover, over=True))
    return replace(paper, washes=paper.washes + tuple(washes))


def _with_ring(paper: Paper, rng: np.random.Generator, hand: Hand, inks: dict[str, Ink]) -> Paper:
    """Where a cup stood, once or twice."""
    washes = []
    for _ in range(int(rng.integers(1, 3))):
        low, high = np.array(paper.outline.bounds[:2]), np.array(paper.outline.bounds[2:])
        middle = rng.uniform(low + 50, high - 50)
        radius, wide = float(rng.uniform(32, 44)), float(rng.uniform(1.0, 3.0))
        disc = Point(middle).buffer(radius, quad_segs=32)
        ring = disc.difference(disc.buffer(-wide))
        gap = Point(middle + radius * np.array([1.0, 0.3])).buffer(float(rng.uniform(4, 25)))
        washes.append(Wash(ring.difference(gap), (0.3, 0.17, 0.07), 0.3, 0.4))
        washes.append(Wash(disc.buffer(-0.4).difference(disc.buffer(-0.9)), (0.2, 0.1, 0.04), 0.25))
        washes.append(Wash(disc, (0.45, 0.3, 0.15), 0.03, 2.0))
    return replace(paper, washes=paper.washes + tuple(washes))


def _with_squares(
    paper: Paper, rng: np.random.Generator, hand: Hand, inks: dict[str, Ink]
) -> Paper:
    """Paper with printed squares of 5 mm, or ruled every 8 mm."""
    squared = rng.random() < 0.6
    spacing = 5.0 if squared else 8.0
    cover, wide = float(rng.uniform(0.12, 0.3)), float(rng.uniform(0.15, 0.3))
    low, high = np.array(paper.outline.bounds[:2]), np.array(paper.outline.bounds[2:])
    strips = []
    for axis in (0, 1) if squared else (1,):
        for at in np.arange(low[axis] + 2.2, high[axis], spacing):
            ends = np.array([low, high])
            ends[:, axis] = at
            strips.append(LineString(ends).buffer(wide / 2, cap_style="flat"))
    washes = [Wash(strip.intersection(paper.outline), (0.25, 0.35, 0.6), cover) for strip in strips]
    return replace(paper, washes=paper.washes + tuple(washes))


More = Callable[[Paper, np.random.Generator, Hand, dict[str, Ink]], Paper]
EXTRAS: dict[str, More] = {
    "writing": _with_writing,
    "hatching": _with_hatching,
    "crossed out": _with_crossed_out,
    "tape": _with_tape,
    "ring": _with_ring,
    "squared": _with_squares,
    "felt pen": _with_writing,
}
