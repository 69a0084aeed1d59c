"""How far another pattern's lines lie from a pattern's own, all along them, and how surely."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d
from shapely import Polygon, contains_xy
from shapely.ops import unary_union

from digitize.compare.growth import Growth, growth_in
from digitize.compare.marks import marks_of
from digitize.compare.sizes import size_doubt
from digitize.compare.tucks import TuckPair, pairs_of
from digitize.errors import CompareError
from digitize.plane import STEP_MM, Marks, Nearest, Placement, laid_on, nearest_in, runs_of
from digitize.record import Line, Pattern, Point, Role, mirrored

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
# Which is which of a bend's two lines may have been proposed the wrong way round; they lie apart.
KINDS: dict[Role, int] = {
    "trim-edge": 0,
    "radius-start": 1,
    "radius-end": 1,
    "form": 2,
    "unknown": 2,
}
CUTS = 3
CUT_SIGMA_MM = 5.0  # slits are cut by eye: they only settle how round things are turned
ACROSS_MM = 10.0  # a line further off than this is another line
PAST_END_MM = 1.5
SMOOTH_MM = 10.0  # pencil wobbles over less than this are the hand's


@dataclass(frozen=True)
class LineDeviation:
    """A line, and how far the other pattern's counterpart lies from it at (N,) places, mm.

    Attributes
    ----------
    line, other : its id, and that of the line that most of the counterpart belongs to.
    points, normals : (N, 2) places on the line, and unit vectors away from the pattern's middle.
    off : (N,) to where the counterpart lies along the normal; NaN where there is none.
    sigma : (N,) its standard deviation from both readings and the fit.
    judged : (N,) False where slits in other places keep flat paper from being compared.
    """

    line: str
    other: str
    role: Role
    points: Floats
    normals: Floats
    off: Floats
    sigma: Floats
    judged: Flags

    @property
    def length_mm(self) -> float:
        """The length of the line that is compared."""
        return float(STEP_MM * np.isfinite(self.off).sum())

    @property
    def rms_mm(self) -> float:
        """Root mean square of how far the counterpart lies off, where there is one."""
        return float(np.sqrt(np.nanmean(self.off**2)))

    @property
    def worst(self) -> int:
        """The place where the counterpart lies furthest off."""
        return int(np.nanargmax(np.abs(self.off)))

    @property
    def gap(self) -> "Gap":
        """The longest stretch of it that has no counterpart."""
        return _gap(self.line, self.role, self.points, self.off)


@dataclass(frozen=True)
class Gap:
    """A stretch of a line, so many mm long, that the other pattern has nothing like; its middle."""

    line: str
    role: Role
    length_mm: float
    at: Point


@dataclass(frozen=True)
class Comparison:
    """Two patterns laid on each other; everything in the first one's frame, mm.

    ``other`` has been flipped over if ``mirror`` says so.
    ``growth`` is of the paper since, where both are readings of one paper; it is taken out of the
    deviations. Both together are within ``accuracy_mm`` of true size (95 %), beside lines' sigma;
    of each other's size where the print of ``shared_cards``, by number, was left out.
    ``gaps`` are, for each of the other's lines, the longest stretch the first has nothing like.
    """

    pattern: Pattern
    other: Pattern
    mirror: bool
    deviations: tuple[LineDeviation, ...]
    tucks: tuple[TuckPair, ...]
    gaps: tuple[Gap, ...]
    accuracy_mm: float
    growth: Growth | None
    shared_cards: tuple[int, ...] = ()

    @property
    def covered(self) -> float:
        """The share of the first pattern's lines that has a counterpart, by length."""
        whole = sum(len(each.off) for each in self.deviations)
        return sum(int(np.isfinite(each.off).sum()) for each in self.deviations) / max(whole, 1)


def compared(
    pattern: Pattern, other: Pattern, mirror: bool = False, growing: bool = False
) -> Comparison:
    """Lay the other pattern on this one, mirrored if asked, and say how far its lines are off.

    Parameters
    ----------
    growing : both are readings of one paper, which may have grown or shrunk meanwhile.

    Raises
    ------
    CompareError
        If either has no line of the metal: trim edge, radius or form line.
    """
    other = mirrored(other) if mirror else other
    ours, theirs = metal_lines(pattern), metal_lines(other)
    if not ours or not theirs:
        raise CompareError(
            f"{other.name if ours else pattern.name}: has no trim edge, radius or form line; say "
            "what its lines are with digitize label"
        )
    mine, marks = _marks(pattern, ours), _marks(other, theirs)
    placement = laid_on(marks, mine, growing)
    tucks = pairs_of(pattern, other, placement)
    apart = _slit_elsewhere(pattern, other, placement, tucks)
    middle = mine.points[mine.kinds != CUTS].mean(axis=0)
    laid = _laid(marks, placement)
    nearest = nearest_in(laid)
    deviations = tuple(
        _deviation(line, _part(mine, index), theirs, laid, nearest, placement, middle, apart)
        for index, line in enumerate(ours)
    )
    back, _ = _off(laid, mine, nearest_in(mine))
    gaps = tuple(
        _gap(line.id, line.role, laid.points[laid.lines == index], back[laid.lines == index])
        for index, line in enumerate(theirs)
    )
    # A paper that has had time to grow may be read by cards that were printed since.
    size = size_doubt(pattern, other, None if growing else placement)
    growth = growth_in(placement, mine.points, size.mm) if growing else None
    return Comparison(
        pattern, other, mirror, deviations, tucks, gaps, size.mm, growth, size.shared_cards
    )


def _marks(pattern: Pattern, lines: list[Line]) -> Marks:
    """The lines' points, by kind, and after them those of the slits and creases."""
    cuts = [
        line.model_copy(update={"sigma": CUT_SIGMA_MM})
        for line in pattern.lines
        if line.role in ("slit", "crease") and line.length > 2 * STEP_MM
    ]
    kinds = [KINDS[line.role] for line in lines]
    return marks_of([*lines, *cuts], kinds + [CUTS] * len(cuts))


def metal_lines(pattern: Pattern) -> list[Line]:
    """The lines that are the metal's, not the paper's."""
    return [line for line in pattern.lines if line.is_of_metal and line.length > 2 * STEP_MM]


def _part(marks: Marks, index: int) -> Marks:
    of = marks.lines == index
    return Marks(
        marks.points[of], marks.normals[of], marks.sigma[of], marks.kinds[of], marks.lines[of]
    )


def _laid(marks: Marks, placement: Placement) -> Marks:
    turn = placement.matrix
    return replace(marks, points=placement(marks.points), normals=marks.normals @ turn.T)


def _off(marks: Marks, target: Marks, nearest: Nearest) -> tuple[Floats, NDArray[np.int64]]:
    """How far the target lies from each mark along its normal (NaN: nowhere near), and which."""
    distance, which = nearest(marks.points, marks.kinds)
    away = target.points[which] - marks.points
    along = np.abs((away * target.tangents[which]).sum(axis=1))
    # The counterpart's stretch is straight enough to be met by the normal of the mark.
    facing = (marks.normals * target.normals[which]).sum(axis=1)
    to = (away * target.normals[which]).sum(axis=1) * np.sign(facing)
    near = (distance < ACROSS_MM) & (along < PAST_END_MM) & (np.abs(facing) > 0.5)
    return np.where(near, to, np.nan), which


def _deviation(
    line: Line,
    marks: Marks,
    theirs: list[Line],
    laid: Marks,
    nearest: Nearest,
    placement: Placement,
    middle: Floats,
    apart: Polygon,
) -> LineDeviation:
    off, which = _off(marks, laid, nearest)
    outwards = np.sign(((marks.points - middle) * marks.normals).sum(axis=1))
    outwards = np.where(outwards.sum() < 0, -1.0, 1.0) * np.ones_like(outwards)
    normals = marks.normals * outwards[:, None]
    sigma = np.sqrt(
        marks.sigma**2 + laid.sigma[which] ** 2 + placement.variance(marks.points, normals)
    )
    met = np.isfinite(off)
    of = laid.lines[which[met]] if met.any() else laid.lines[which]
    return LineDeviation(
        line.id,
        theirs[int(np.bincount(of).argmax())].id if met.any() else "",
        line.role,
        marks.points,
        normals,
        _smoothed(off * outwards),
        sigma,
        ~np.asarray(contains_xy(apart, *marks.points.T)),
    )


def _gap(line: str, role: Role, points: Floats, off: Floats) -> Gap:
    """The longest run of places (N, 2) at which nothing was met; a closed line has no ends."""
    missing = ~np.isfinite(off)
    if np.allclose(points[0], points[-1]) and not missing.all():
        # Its last place is its first again; begun where it is met, no run is parted.
        order = np.roll(np.arange(len(points) - 1), -int(np.argmin(missing)))
        points, missing = points[order], missing[order]
    runs = runs_of(missing)
    start, stop = max(runs, key=lambda run: run[1] - run[0], default=(0, 0))
    x, y = points[(start + stop) // 2]
    return Gap(line, role, STEP_MM * (stop - start), (float(x), float(y)))


def _smoothed(off: Floats) -> Floats:
    """The means (N,) over SMOOTH_MM, of what is there."""
    there = np.isfinite(off)
    size = round(SMOOTH_MM / STEP_MM)
    total = uniform_filter1d(np.where(there, off, 0.0), size, mode="nearest")
    share = uniform_filter1d(there.astype(float), size, mode="nearest")
    return np.where(there, total / np.maximum(share, 1e-9), np.nan)


def _slit_elsewhere(
    pattern: Pattern, other: Pattern, placement: Placement, tucks: tuple[TuckPair, ...]
) -> Polygon:
    """Where a tuck of one has no counterpart: what lies there was turned by it in one only."""
    alone = {pair.tuck for pair in tucks if pair.other is None}
    theirs = {pair.other for pair in tucks if pair.tuck is None}
    areas = [np.array(zone.boundary) for zone in pattern.zones if alone & set(zone.tucks)]
    areas += [
        placement(np.array(zone.boundary)) for zone in other.zones if theirs & set(zone.tucks)
    ]
    return unary_union([Polygon(area).buffer(0) for area in areas if len(area) > 3])
