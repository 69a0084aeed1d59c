"""How the paper stands off the floor, seen from several sides, and what it measures laid flat.

Planes are swept through the paper: at its true height every photo shows the same grain and lines
in the same place (R. Collins, "A space-sweep approach to true multi-image matching", 1996). The
heights so found are joined by a surface as smooth as curled paper is, which knows its own
uncertainty. It is laid flat so that lengths on it stay what they are, to second order in its
slope (the membrane strains of a thin sheet: L. Landau and E. Lifshitz, Theory of Elasticity,
1970, section 14).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

import cv2
import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from scipy.linalg import cholesky_banded, solveh_banded
from scipy.sparse import bmat, csr_matrix, diags, eye, kron, vstack
from scipy.sparse.linalg import lsqr
from shapely import MultiPoint, Polygon, distance, points

from digitize.floor.camera import Camera
from digitize.floor.frame import Frame, Surface
from digitize.floor.raster import Lattice, Shrunk, lattice_of, shrunk
from digitize.plane import robust_sigma
from digitize.workers import side_by_side

Floats = NDArray[np.float64]
Grey = NDArray[np.uint8]
LOWEST_MM, HIGHEST_MM, FIRST_STEP_MM = -2.0, 14.0, 0.5
FINE_REACH_MM, FINE_STEP_MM = 0.75, 0.25
FIRST_PIXEL_MM, FINE_PIXEL_MM = 1.0, 0.5
FIRST_PIXELS, FINE_PIXELS = 0.7e6, 2.3e6  # a large paper is looked at more coarsely
WINDOW_MM = 25.0
EDGE_MM = 4.0  # so much of the paper's rim is not looked at: the floor shows beside it
NODE_MM, MOST_NODES = 20.0, 2500
CLIMB_MM, CLIMB_SHARE, MOST_CLIMBS = 2.0, 0.005, 5  # steeper than a window shows at once
GREY_NOISE = 2.0  # windows whose grain is below it say nothing
LEAST_LIKENESS = 0.3
FAR_MM = 20.0  # a miss by which a height counts half at first; halved until it is the scatter's
BENDING_PER_MM = 3e-4  # usual curvature of curled paper: a radius of 3 m; common practice
ROLLS = 3.0  # times the usual curvature, at which stiffness counts half
ROLL_PER_MM = 1 / 800  # sigma: an edge may roll up at 400 mm; common practice, no source
NEAR_NODES = 2
MORE_THAN_CHANCE = 2.0  # sigmas
STANDS_MM = 1.5  # sigma of the height where no two photos look; common practice, no source
FLOOR_SIGMA_MM = 0.1  # a floor's own unevenness; common practice, no source


def solve_heights(
    photos: Sequence[Grey], cameras: Sequence[Camera], frame: Frame, paper: Floats
) -> Surface:
    """The paper's surface from grey photos (H, W) of it; its edge (N, 2) is roughly known.

    Where fewer than two photos look, the surface goes on smoothly and its sigma grows.
    """
    low, high = paper.min(axis=0) - NODE_MM, paper.max(axis=0) + NODE_MM
    node = max(NODE_MM, float(np.sqrt(np.prod(high - low) / MOST_NODES)))
    columns, rows = np.ceil((high - low) / node).astype(int) + 1
    surface = Surface(
        height=np.zeros((rows, columns)),
        shift=np.zeros((rows, columns, 2)),
        sigma=np.full((rows, columns), STANDS_MM),
        left=float(low[0]),
        top=float(high[1]),
        mm_per_node=node,
    )
    bounds = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
    lean = _lean(cameras, frame, paper)
    area = float(np.prod(high - low))
    first_mm = max(FIRST_PIXEL_MM, float(np.sqrt(area / FIRST_PIXELS)))
    fine_mm = max(FINE_PIXEL_MM, float(np.sqrt(area / FINE_PIXELS)))
    first = np.arange(LOWEST_MM, HIGHEST_MM, FIRST_STEP_MM)
    sweeps = [(first, first_mm)]
    fine = np.arange(-FINE_REACH_MM, FINE_REACH_MM + FINE_STEP_MM / 2, FINE_STEP_MM)
    sweeps += [(fine, fine_mm)] * 2
    climbs = 0
    while sweeps:
        steps, pixel_mm = sweeps[0]
        # The edge of paper that stands up is seen aside, and the floor beside it where it is not.
        rise = float(np.clip(surface.to_solid(paper)[1], 0, None).max())
        rim = Polygon(paper).buffer(0).buffer(-EDGE_MM - lean * rise)
        lattice = lattice_of(frame, bounds, pixel_mm, surface)
        views = [
            shrunk(pixels, camera, frame, bounds, pixel_mm)
            for pixels, camera in zip(photos, cameras, strict=True)
        ]
        alike = partial(_likeness, views, lattice, _mask(rim, lattice), surface)
        likeness = np.stack(side_by_side(alike, steps.tolist()))
        offset, weight = _peaks(likeness, steps)
        before, last = surface, len(sweeps) == 1
        surface = _fitted(surface, surface.height + offset, weight, last)
        # A slope is seen in full only by planes that follow it, so that a roll is climbed.
        rose = surface.height - before.height
        if steps is first and climbs < MOST_CLIMBS and _climbs(rose):
            climbs += 1
        else:
            sweeps.pop(0)
    return laid_flat(surface)


def _lean(cameras: Sequence[Camera], frame: Frame, paper: Floats) -> float:
    """How far the paper's edge is seen aside at most for each mm that it stands up.

    By the photo that looks down on it most steeply.
    """
    feet = [camera.foot() for camera in cameras]
    edge = frame.to_floor(paper)
    slants = [np.linalg.norm(edge - foot[:2], axis=1) / abs(foot[2]) for foot in feet]
    return float(np.min(slants, axis=0).max())


def _climbs(rose: Floats) -> bool:
    """Whether the surface (R, C) has risen or fallen in more than a place or two."""
    return bool((np.abs(rose) > CLIMB_MM).mean() > CLIMB_SHARE)


def _mask(rim: Polygon, lattice: Lattice) -> NDArray[np.bool_]:
    """(H, W) a lattice's pixels on the paper."""
    paper = np.zeros(lattice.shape, np.uint8)
    for part in getattr(rim, "geoms", [rim]):
        ring = np.round(lattice.to_px(np.array(part.exterior.coords))).astype(np.int32)
        cv2.fillPoly(paper, [ring], 1)
    return paper > 0


def _likeness(
    photos: Sequence[Shrunk],
    lattice: Lattice,
    paper: NDArray[np.bool_],
    surface: Surface,
    lift: float,
) -> Floats:
    """(R, C) how alike the photos are round each node if the paper were so much over a surface.

    Normalised cross-correlation over a window, summed over pairs of photos.
    """
    # A byte a pixel: there may be sixty.
    seen = [lattice.raster_of(photo, lift).pixels for photo in photos]
    nodes = _Windows.round_nodes(surface, lattice)
    total = np.zeros(surface.height.shape)
    for a in range(len(seen)):
        for b in range(a + 1, len(seen)):
            share, first, second, firsts, seconds, products = nodes.sums(paper, seen[a], seen[b])
            if not share.any():
                continue
            share = np.maximum(share, 1e-6)
            mean_a, mean_b = first / share, second / share
            spread_a = firsts / share - mean_a**2
            spread_b = seconds / share - mean_b**2
            product = products / share - mean_a * mean_b
            scale = np.sqrt(np.maximum(spread_a, 0) * np.maximum(spread_b, 0)) + GREY_NOISE**2
            total += np.where(share > 0.25, product / scale, 0)
    return total


@dataclass(frozen=True)
class _Windows:
    """The windows round a surface's nodes on a raster: rows and columns from and to."""

    rows: tuple[tuple[int, int], ...]
    left: NDArray[np.int64]
    right: NDArray[np.int64]
    area: int

    @classmethod
    def round_nodes(cls, surface: Surface, lattice: Lattice) -> "_Windows":
        """Those of WINDOW_MM; the nodes begin at the raster's first pixel."""
        half = round(WINDOW_MM / lattice.mm_per_px) // 2
        apart = surface.mm_per_node / lattice.mm_per_px
        ends = []
        for count, length in zip(surface.height.shape, lattice.shape, strict=True):
            at = np.minimum(np.round(np.arange(count) * apart).astype(int), length - 1)
            ends.append((np.maximum(at - half, 0), np.minimum(at + half + 1, length)))
        (top, bottom), (left, right) = ends
        rows = tuple(zip(top.tolist(), bottom.tolist(), strict=True))
        return cls(rows, left, right, (2 * half + 1) ** 2)

    def sums(self, paper: NDArray[np.bool_], one: Grey, two: Grey) -> Floats:
        """(6, R, C) means over each window, of what both pictures show on the paper.

        Of 1, the one, the other, their squares and their product. Beyond the raster there is none.
        """
        total = np.zeros((6, len(self.rows), paper.shape[1] + 1))
        shown = np.asarray(cv2.min(cv2.min(one, two), paper.view(np.uint8)), np.uint8)
        one_shown, two_shown = one * shown, two * shown  # black off the paper, where none is shown
        for row, (first, last) in enumerate(self.rows):
            # All sums are of whole numbers below 2 ** 24, which are exact in floats.
            both, a, b = (
                each[first:last].astype(np.float32) for each in (shown, one_shown, two_shown)
            )
            total[:3, row, 1:] = [values.sum(axis=0) for values in (both, a, b)]
            pairs = ((a, a), (b, b), (a, b))
            total[3:, row, 1:] = [np.einsum("rc,rc->c", *pair) for pair in pairs]
        np.cumsum(total, axis=2, out=total)
        return np.asarray((total[..., self.right] - total[..., self.left]) / self.area)


def _peaks(likeness: Floats, steps: Floats) -> tuple[Floats, Floats]:
    """(R, C) the height step at which the photos are most alike, and how sharply they are."""
    best = np.clip(likeness.argmax(axis=0), 1, len(steps) - 2)
    below, at, above = (
        np.take_along_axis(likeness, (best + shift)[None], axis=0)[0] for shift in (-1, 0, 1)
    )
    bend = below - 2 * at + above
    peaked = (bend < 0) & (at > LEAST_LIKENESS)
    bend = np.where(peaked, bend, -1.0)
    shift = np.clip(0.5 * (below - above) / bend, -1, 1)
    step = steps[1] - steps[0]
    return steps[best] + shift * step, np.where(peaked, -bend / step**2, 0.0)


def _fitted(surface: Surface, heights: Floats, weight: Floats, with_sigma: bool = True) -> Surface:
    """The smoothest likely surface through heights (R, C), weighted up to a common factor.

    Without its sigma it keeps the one that it had.
    """
    # One row or column after another, whichever is shorter: the band beside the normal equations'
    # diagonal is twice as wide as that is long.
    order: Literal["C", "F"] = "F" if heights.shape[0] < heights.shape[1] else "C"
    short, long = sorted(heights.shape)
    along, across = _second_differences(short), _second_differences(long)
    stiff = vstack([kron(eye(long), along), kron(across, eye(short))]) / (
        BENDING_PER_MM * surface.mm_per_node**2
    )
    wanted, shares = heights.ravel(order), weight.ravel(order)
    used = shares > 0
    found, scatter = np.zeros(heights.size), 0.3
    trust = np.ones(heights.size)
    normal = eye(heights.size).tocsr()
    for settle in range(10):
        information = np.where(used, shares * trust, 0) / scatter**2
        # Unseen paper lies on the floor, but not where what is seen beside it stands high.
        lies = 1 / (STANDS_MM**2 + (found / 2) ** 2)
        # Where more than one place has it bend more than is usual, it rolls up and may.
        bent = stiff @ cv2.blur(found.reshape(long, short), (3, 3)).ravel()
        usual = diags(1 / (1 + (bent / ROLLS) ** 2))
        normal = stiff.T @ usual @ stiff + diags(information + lies)
        found = solveh_banded(
            _band_of(normal), information * wanted, lower=True, check_finite=False
        )
        misses = np.abs(wanted - found) * np.sqrt(shares)
        if used.any():
            scatter = max(robust_sigma(misses[used]), 1e-3)
        # What stands far off counts at first, so that a roll is followed, and less and less.
        reach = np.maximum(2 * scatter, FAR_MM * 0.5**settle * np.sqrt(shares))
        trust = 1 / (1 + (misses / np.maximum(reach, 1e-9)) ** 2)
    height = found.reshape(heights.shape, order=order)
    if not with_sigma:
        return replace(surface, height=height)
    variance = _inverse_diagonal(normal).reshape(heights.shape, order=order) + FLOOR_SIGMA_MM**2
    variance += _unexplained(heights - height, weight, scatter)
    # Where nothing seen stands high, what is not seen lies as the paper of a single photo does.
    most = STANDS_MM**2 + height**2
    variance += np.minimum(_unseen(weight > 0, surface.mm_per_node), most)
    return replace(surface, height=height, sigma=np.sqrt(variance))


def _band_of(matrix: csr_matrix) -> Floats:
    """(B, N) the diagonal of a symmetric matrix (N, N) and those below it, as LAPACK has bands."""
    entries = matrix.tocoo()
    below = entries.row - entries.col
    lower = below >= 0
    band = np.zeros((int(below.max()) + 1, matrix.shape[0]))
    band[below[lower], entries.col[lower]] = entries.data[lower]
    return band


def _inverse_diagonal(matrix: csr_matrix) -> Floats:
    """(N,) the diagonal of a symmetric positive matrix's inverse (N, N), of which only a band along
    the diagonal is not zero.

    Of the inverse only what lies in the same band is worked out, from the last row up
    (K. Takahashi, J. Fagan, M. Chin, "Formation of a sparse bus impedance matrix", 1973).
    """
    band = _band_of(matrix)
    count = band.shape[1]
    root = cholesky_banded(band, lower=True, check_finite=False)
    inverse, diagonal = np.zeros((count, count)), np.empty(count)
    for row in range(count - 1, -1, -1):
        beyond = slice(row + 1, min(row + len(band), count))
        share = root[1 : 1 + beyond.stop - beyond.start, row] / root[0, row]
        beside = -inverse[beyond, beyond] @ share
        diagonal[row] = 1 / root[0, row] ** 2 - share @ beside
        inverse[row, row], inverse[row, beyond], inverse[beyond, row] = (
            diagonal[row],
            beside,
            beside,
        )
    return diagonal


def _unexplained(miss: Floats, weight: Floats, scatter: float) -> Floats:
    """(R, C) mm², by how much more than by chance the heights round a node lie to one side."""
    told = np.pad(np.where(weight > 0, miss, np.nan), NEAR_NODES, constant_values=np.nan)
    spread = np.pad(
        np.where(weight > 0, scatter / np.sqrt(np.maximum(weight, 1e-12)), np.nan),
        NEAR_NODES,
        constant_values=np.nan,
    )
    window = (2 * NEAR_NODES + 1,) * 2
    near, spreads = (
        sliding_window_view(each, window).reshape(*miss.shape, -1) for each in (told, spread)
    )
    count = np.isfinite(near).sum(axis=-1)
    known = count > 0
    variance = np.zeros(miss.shape)
    # The median of so many is known to their scatter over the root of 2 / pi of their number.
    chance = np.nanmedian(spreads[known], axis=-1) ** 2 * np.pi / 2 / count[known]
    aside = np.nanmedian(near[known], axis=-1) ** 2
    variance[known] = np.where(aside > MORE_THAN_CHANCE**2 * chance, aside, 0)
    return variance


def _unseen(used: NDArray[np.bool_], mm_per_node: float) -> Floats:
    """(R, C) mm², by how much paper may roll up beyond the outermost heights found."""
    rows, columns = np.nonzero(used)
    if len(rows) < 3:
        return np.zeros(used.shape)
    hull = MultiPoint(np.stack([columns, rows], axis=1)).convex_hull
    x, y = np.meshgrid(*(np.arange(count) for count in used.shape[::-1]))
    beyond = distance(points(x, y), hull) * mm_per_node
    return np.asarray((ROLL_PER_MM * beyond**2 / 2) ** 2)


def _second_differences(count: int) -> csr_matrix:
    return diags([1.0, -2.0, 1.0], [0, 1, 2], shape=(count - 2, count)).tocsr()


def _first_differences(count: int) -> csr_matrix:
    return diags([-1.0, 1.0], [0, 1], shape=(count - 1, count)).tocsr()


def laid_flat(surface: Surface) -> Surface:
    """The surface with the shifts that keep its lengths when it is laid flat."""
    rows, columns = surface.height.shape
    step = surface.mm_per_node
    # In cells between nodes; y grows upwards, against the rows.
    average_x, average_y = abs(_first_differences(columns)) / 2, abs(_first_differences(rows)) / 2
    by_x = kron(average_y, _first_differences(columns)) / step
    by_y = kron(-_first_differences(rows), average_x) / step
    slope_x, slope_y = by_x @ surface.height.ravel(), by_y @ surface.height.ravel()
    strain = bmat([[by_x, None], [None, by_y], [by_y, by_x]]).tocsr()
    wanted = np.concatenate([slope_x**2 / 2, slope_y**2 / 2, slope_x * slope_y])
    spread = lsqr(strain, wanted, atol=1e-10, btol=1e-10)[0].reshape(2, rows, columns)
    return replace(surface, shift=-np.moveaxis(spread, 0, -1))
