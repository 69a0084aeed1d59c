"""The blank: the flat metal to cut, the trim edge with its allowance round it."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.distance import cdist
from shapely import LineString, MultiPoint, Polygon, oriented_envelope, polygonize, unary_union
from shapely.affinity import rotate

from digitize.errors import BlankError, TrimOpen
from digitize.record import Pattern, Sheet
from digitize.shop.metal import DENSITY_G_PER_CM3

Floats = NDArray[np.float64]
ALLOWANCE_MM = 25.0  # about an inch; common practice, no source
WIDEST_BRIDGE_MM = 60.0  # across a tuck, between the two ends of the trim edge
MARK_SPARE_MM = 3.0  # metal beyond a line that runs out past the trim edge
HOLLOW_MM = 15.0  # hollows that shears cannot follow are filled
CORNERS_PER_QUARTER = 16
FEWEST_POINTS_MM = 0.05
# Common stock sheets, mm and inches; common practice, no source.
STOCK_MM: dict[str, tuple[float, float]] = {
    "1000 x 2000 mm": (1000, 2000),
    "36 x 96 in": (914.4, 2438.4),
    "48 x 96 in": (1219.2, 2438.4),
    "1250 x 2500 mm": (1250, 2500),
    "48 x 120 in": (1219.2, 3048),
    "1500 x 3000 mm": (1500, 3000),
}
NEST_GAP_MM = 10.0


@dataclass(frozen=True)
class Blank:
    """A blank.

    Attributes
    ----------
    trim : (N, 2) the trim edge, closed across the tucks, mm.
    edge : (N, 2) the blank's edge.
    area : mm2.
    size : of the smallest upright box round it, and the turn (degrees) that lays it in that box.
    """

    trim: Floats
    edge: Floats
    area: float
    size: tuple[float, float]
    turn_deg: float

    def mass_g(self, sheet: Sheet) -> float:
        """Mass of the blank cut from a sheet, grams."""
        return self.area * sheet.thickness / 1000 * DENSITY_G_PER_CM3[sheet.material]


def blank_of(
    pattern: Pattern,
    allowance: float = ALLOWANCE_MM,
    along: Mapping[str, float] | None = None,
    stretches: Sequence[tuple[Floats, float]] = (),
) -> Blank:
    """The blank of a pattern.

    Parameters
    ----------
    allowance : metal outside the trim edge, mm.
    along : other allowances along lines of the trim edge, by their ids.
    stretches : and along parts of it, (N, 2) mm, each with its own; they go before those of lines.

    Raises
    ------
    TrimOpen
        If the trim edge does not close.
    BlankError
        If a line named is not one of it.
    """
    along = along or {}
    trim = {line.id: line for line in pattern.lines if line.role == "trim-edge"}
    for name in along:
        if name not in trim:
            raise BlankError(f"{name}: is no line of the trim edge; those are {' '.join(trim)}")
    inner = closed_trim(pattern)
    parts = [(LineString(points), own) for points, own in stretches]
    told = unary_union([path.buffer(0.5) for path, _ in parts])
    parts += [(LineString(trim[name].path).difference(told), own) for name, own in along.items()]
    narrow = min([allowance, *(own for _, own in parts)])
    shape = inner.buffer(narrow, quad_segs=CORNERS_PER_QUARTER)
    whole = [LineString(inner.exterior)]
    for path, own in parts:
        shape = shape.union(path.buffer(own, quad_segs=CORNERS_PER_QUARTER))
        whole = [part.difference(path.buffer(0.5)) for part in whole]
    for part in whole:
        shape = shape.union(part.buffer(allowance, quad_segs=CORNERS_PER_QUARTER))
    for line in pattern.lines:
        if line.is_of_metal:
            shape = shape.union(LineString(line.path).buffer(MARK_SPARE_MM))
    for area in pattern.areas:
        if area.use == "extra-metal":
            shape = shape.union(Polygon(area.boundary).buffer(0))
    shape = shape.buffer(HOLLOW_MM).buffer(-HOLLOW_MM)
    if shape.geom_type != "Polygon":
        shape = max(shape.geoms, key=lambda part: part.area)
    # Simpler only outwards: never inside the allowance.
    shape = Polygon(shape.exterior).buffer(FEWEST_POINTS_MM).simplify(FEWEST_POINTS_MM)
    size, turn = smallest_box(np.array(shape.exterior.coords))
    return Blank(
        np.array(inner.exterior.coords)[:-1],
        np.array(shape.exterior.coords)[:-1],
        float(shape.area),
        size,
        turn,
    )


def closed_trim(pattern: Pattern) -> Polygon:
    """The area inside the trim edge, its ends joined across each tuck."""
    lines = [line for line in pattern.lines if line.role == "trim-edge"]
    paths = [LineString(line.path) for line in lines]
    ends = np.array([line.points[k] for line in lines if not line.closed for k in (0, -1)])
    bridges = []
    if len(ends):
        apart = cdist(ends, ends)
        np.fill_diagonal(apart, np.inf)
        while np.isfinite(apart).any():
            i, j = np.unravel_index(int(np.argmin(apart)), apart.shape)
            if apart[i, j] > WIDEST_BRIDGE_MM:
                break
            bridges.append(LineString([ends[i], ends[j]]))
            apart[[i, j]] = apart[:, [i, j]] = np.inf
    # Ends that meet a line rather than its end are let run a little over it.
    whole = unary_union([*paths, *bridges])
    areas = list(polygonize(list(getattr(whole, "geoms", [whole]))).geoms)
    if not areas:
        raise TrimOpen(
            "the trim edge does not close: look at the overlay, and say with digitize label which "
            "lines are the trim edge"
        )
    inner = unary_union(areas)
    if inner.geom_type != "Polygon":
        inner = max(inner.geoms, key=lambda area: area.area)
    return Polygon(inner.exterior)


def smallest_box(points: Floats) -> tuple[tuple[float, float], float]:
    """Sides (longer first, mm) of the smallest box round points, and the turn that lays it level.

    Degrees, from -90 up to but not including 90.
    """
    corners = np.array(oriented_envelope(MultiPoint(points)).exterior.coords)
    sides = np.diff(corners[:3], axis=0)
    lengths = np.linalg.norm(sides, axis=1)
    long = int(np.argmax(lengths))
    turn = -math.degrees(math.atan2(sides[long, 1], sides[long, 0]))
    return (float(lengths[long]), float(lengths[1 - long])), (turn + 90) % 180 - 90


@dataclass(frozen=True)
class StockChoice:
    """The smallest of some stock sheets that hold a blank, by name; None where none does.

    Attributes
    ----------
    one, both : for the blank, and for it and its mirror image.
    sheets : the names that there were to choose from.
    """

    one: str | None
    both: str | None
    sheets: tuple[str, ...]


def stock_for(blank: Blank, stock: Mapping[str, tuple[float, float]]) -> StockChoice:
    """Which stock sheets (mm by name) to cut a blank from."""
    sizes = sorted(stock.items(), key=lambda sheet: sheet[1][0] * sheet[1][1])
    one, both = (
        next((name for name, size in sizes if fits(blank, size, pair)), None)
        for pair in (False, True)
    )
    return StockChoice(one, both, tuple(stock))


def fits(blank: Blank, stock: tuple[float, float], both: bool) -> bool:
    """Whether a blank, or it and its mirror image, can be cut from a stock sheet (mm).

    The two lie side by side or end to end, the second turned round; better ways may exist.
    """
    short, long = sorted(stock)
    width, height = blank.size
    if not both:
        return width <= long and height <= short
    side_by_side = _pair_size(blank)
    return any(min(size) <= short and max(size) <= long for size in side_by_side)


def _pair_size(blank: Blank) -> list[tuple[float, float]]:
    """Sizes (mm) that a blank and its mirror image take up, pushed together in either way."""
    laid = rotate(Polygon(blank.edge), blank.turn_deg, origin=(0, 0))
    x0, y0, x1, y1 = laid.bounds
    one = np.array(laid.exterior.coords) - [x0, y0]
    wide, high = x1 - x0, y1 - y0
    sizes = []
    for other in (one * [-1, 1] + [wide, 0], one * [1, -1] + [0, high]):
        for axis in (0, 1):
            step = _least_shift(one, other, axis) + NEST_GAP_MM
            both = [wide, high]
            both[axis] += step
            sizes.append((both[0], both[1]))
    return sizes


def _least_shift(one: Floats, other: Floats, axis: int) -> float:
    """How far the other has to be moved along an axis to lie clear of the first, mm."""
    low, high = 0.0, float(np.ptp(one[:, axis]))
    shape = Polygon(one)
    for _ in range(12):
        middle = (low + high) / 2
        moved = other.copy()
        moved[:, axis] += middle
        if shape.intersects(Polygon(moved)):
            low = middle
        else:
            high = middle
    return high
