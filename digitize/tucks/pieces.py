"""A lap line that was traced in pieces: a pencil skips, or lifts where it leaves the flap.

Each piece runs beside the cut on one side, and all stand off it as one lap grows: in proportion to
the depth, as on a cone, or faster. So a piece that reaches the paper's edge by itself is no cut.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, distance, line_locate_point
from shapely import points as points_of

from digitize.pencil import Curve
from digitize.plane import cross, places_along
from digitize.tucks.thresholds import (
    ALONG,
    FEW,
    FIRST_MM,
    LEAST_SEEN,
    MOST_POWER,
    OFF_MM,
    OVERLAP_MM,
    PIECES_ENDS_MM,
    PIECES_LEAST_GROWN,
    PIECES_SHORTEST_MM,
    STEEPEST_LAP,
)

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Piece:
    """A mark beside a cut.

    Attributes
    ----------
    curve : as it was traced.
    points : (N, 2) the way the cut runs, mm.
    depths, laps : (N,) mm; laps to the left of the cut's way are positive.
    """

    curve: Curve
    points: Floats
    depths: Floats
    laps: Floats

    @property
    def seen_mm(self) -> float:
        """Along the cut."""
        return float(self.depths[-1] - self.depths[0])


def piece_beside(cut: Curve, curve: Curve) -> Piece | None:
    """A mark as part of a cut's lap line, if it runs beside the cut as one does."""
    if curve.closed or curve.ticks or curve.length < PIECES_SHORTEST_MM:
        return None
    if _beyond_reach(cut, curve.points):
        return None
    path = LineString(cut.points)
    if _too_far(path, curve.points):
        return None
    ends = line_locate_point(path, points_of(curve.points[[0, -1]]))
    points = curve.points if ends[1] > ends[0] else curve.points[::-1]
    depths = np.asarray(line_locate_point(path, points_of(points)))
    inside = (depths > FIRST_MM) & (depths < path.length - PIECES_ENDS_MM)
    if inside.sum() < 3:
        return None
    points, depths = points[inside], depths[inside]
    before, feet, ahead = (places_along(cut.points, depths + step) for step in (-1.0, 0.0, 1.0))
    away = points - feet
    left = np.sign(cross(ahead - before, away))
    laps = left * np.linalg.norm(away, axis=1)
    found = Piece(curve, points, depths, laps)
    one_side = abs(float(left.mean())) > 1.0 - 1e-9
    steep = np.abs(laps) > STEEPEST_LAP * depths
    along = found.seen_mm > ALONG * float(np.linalg.norm(points[-1] - points[0]))
    fits = one_side and along and not steep.any() and _grow_together(found, found)
    return found if fits and found.seen_mm > PIECES_SHORTEST_MM else None


def _beyond_reach(cut: Curve, points: Floats) -> bool:
    """Whether all but a few of a mark's places lie further from a cut than any lap reaches."""
    reach = STEEPEST_LAP * cut.length
    low, high = cut.points.min(axis=0) - reach, cut.points.max(axis=0) + reach
    return bool(((points >= low) & (points <= high)).all(axis=1).sum() < 3)


def _too_far(path: LineString, points: Floats) -> bool:
    """Whether some of a mark's places lie as far off a cut as no lap does, told by a few of them.

    Most marks lie far from a cut: they need not be laid on it place by place.
    """
    some = points_of(points[:: max(len(points) // FEW, 1)])
    depths = np.asarray(line_locate_point(path, some))
    inside = (depths > FIRST_MM) & (depths < path.length - PIECES_ENDS_MM)
    away = distance(path, some)
    return bool((away > STEEPEST_LAP * depths)[inside].any())


def pieced(
    cut: Curve, curves: Sequence[Curve], begun: Curve | None = None
) -> tuple[Curve, list[Curve]] | None:
    """A cut's lap line, put together from pieces, and which of the curves these are.

    None if there are none, or too little to tell.

    Parameters
    ----------
    begun : a part of it that is known.
    """
    pieces = [piece for curve in curves if (piece := piece_beside(cut, curve)) is not None]
    known = None if begun is None else piece_beside(cut, begun)
    if begun is not None and known is None:
        return None
    best: list[Piece] = []
    for side in (1.0, -1.0):
        chosen = [] if known is None else [known]
        for piece in sorted(pieces, key=lambda each: -each.seen_mm):
            if piece.laps[0] * side > 0 and all(_one_line(piece, other) for other in chosen):
                chosen.append(piece)
        if _seen(chosen) > _seen(best):
            best = chosen
    own = [piece.curve for piece in best if piece is not known]
    if not own or _seen(best) < LEAST_SEEN * cut.length:
        return None
    best.sort(key=lambda piece: piece.depths[0])
    whole = max((piece.curve for piece in best), key=lambda curve: curve.length)
    points = best[0].points
    for piece in best[1:]:
        ahead = piece.depths > line_locate_point(LineString(cut.points), points_of(points[-1:]))[0]
        points = np.concatenate([points, piece.points[ahead]])
    return replace(whole, points=points), own


def _seen(pieces: Sequence[Piece]) -> float:
    return sum(piece.seen_mm for piece in pieces)


def _one_line(one: Piece, two: Piece) -> bool:
    """Whether two pieces may be one lap line's: one beyond the other, and on one side."""
    shared = min(one.depths[-1], two.depths[-1]) - max(one.depths[0], two.depths[0])
    return bool(one.laps[0] * two.laps[0] > 0 and shared < OVERLAP_MM and _grow_together(one, two))


def _grow_together(one: Piece, two: Piece) -> bool:
    """Whether laps grow with the depth from every end of pieces to every deeper one."""
    # A lap line's middle lies half its width beyond the lap.
    places = [
        (float(piece.depths[end]), abs(float(piece.laps[end])) - piece.curve.width / 2)
        for piece in (one, two)
        for end in (0, -1)
    ]
    for (depth, lap), (deeper, further) in itertools.permutations(places, 2):
        if depth < deeper:
            ratio = deeper / depth
            least, most = lap * PIECES_LEAST_GROWN * ratio, max(lap, 0.0) * ratio**MOST_POWER
            if not least - OFF_MM < further < most + OFF_MM:
                return False
    return True
