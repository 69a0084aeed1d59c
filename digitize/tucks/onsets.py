"""Where a line is broken at a tuck though it was traced across, told from the darkness along it.

A pencil skips, so the tracing bridges short gaps; at a tuck it may bridge a narrow lap. The paper
that lay under the lap is bare all the same, and more of it than the pencil skips elsewhere.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from shapely import LineString, Point, get_coordinates

from digitize.pencil import Curve, DarknessAt
from digitize.plane import places_beside, robust_sigma, square_to
from digitize.tucks.ends import LineEnd
from digitize.tucks.thresholds import (
    ASTRAY_MM,
    AT_CUT_MM,
    BEGIN_SIGMA_MM,
    CERTAIN,
    CLEAR_ASIDE_MM,
    FACING_MM,
    FAINT_MM,
    FAINT_SKIP_MM,
    FAINTEST,
    FULL,
    GRAIN_MM,
    HALO_MM,
    KNOWN_MM,
    LEAST_BARE_MM,
    LEAST_KNOWN_MM,
    LEAST_OPEN_MM,
    LED_POINTS,
    ONSETS_ACROSS_MM,
    ONSETS_BESIDE_MM,
    ONSETS_CLEAR_MM,
    ONSETS_REACH_MM,
    ONSETS_STEP_MM,
    OPEN_MM,
    OUT_OF_PROPORTION,
    PLAIN_SHARE,
    SET_DOWN,
    SHADE_MM,
    SHARP,
    SMOOTH_MM,
    STEEPEST_LAP,
)

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class _Onset:
    """How far beyond its end a line begins, by how much the way there is bare, and usually, mm.

    ``doubt_mm``: how much further it would begin if only what is surely as dark as the line did.
    ``early_mm``: how much earlier it may have begun, paler.
    ``past_mm``: from where the cut's own darkness ends to where it begins.
    """

    at_mm: float
    doubt_mm: float
    early_mm: float
    past_mm: float
    bare_mm: float
    usual_mm: float


def where_begun(
    ends: Sequence[LineEnd],
    cut: Curve,
    lines: Sequence[Curve],
    darkness_at: DarknessAt,
    pale: bool = False,
) -> tuple[LineEnd, ...]:
    """The ends, those right at the cut moved to where their lines begin to be dark.

    A lap grows with the depth at least as fast as on a cone, where it is in proportion; so none is
    moved out of proportion to a deeper one.

    Parameters
    ----------
    darkness_at : darkness of the paper at points (..., 2), mm.
    pale : the cut is a lone crease: lines show right up to it, and may be bare on both its sides.
    """
    halo = _halo(cut, darkness_at)
    clear_mm = 0.0 if pale else cut.width / 2 + ONSETS_CLEAR_MM
    found = list(ends)
    onsets = [
        None
        if end.across > AT_CUT_MM
        else _onset_of(end, clear_mm, lines[end.line], halo, darkness_at)
        for end in ends
    ]
    steepest = {1.0: STEEPEST_LAP, -1.0: STEEPEST_LAP}
    for index in sorted(range(len(ends)), key=lambda index: -ends[index].depth):
        end, onset = ends[index], onsets[index]
        if onset is not None:
            facing = _facing(index, ends, onsets) if pale else None
            both = [onset] if facing is None else [onset, facing]
            if sum(each.bare_mm for each in both) < max(each.usual_mm for each in both):
                found[index] = _doubted(end, onset)
                continue
            end = _moved(end, onset)
        elif end.across <= AT_CUT_MM:
            continue
        else:
            end = _faded(end, lines[end.line], darkness_at)
            end = _led_back(end, clear_mm, lines[end.line], darkness_at)
        slope = end.across / end.depth
        if onset is not None and slope >= steepest[end.side]:
            found[index] = _doubted(found[index], onset)
            continue
        found[index] = end
        steepest[end.side] = min(steepest[end.side], OUT_OF_PROPORTION * slope)
    return tuple(found)


def _facing(index: int, ends: Sequence[LineEnd], onsets: Sequence[_Onset | None]) -> _Onset | None:
    """The onset of the end that an end faces over the cut; None if there is none."""
    for end, onset in zip(ends, onsets, strict=True):
        near = abs(end.depth - ends[index].depth) < FACING_MM
        if onset is not None and near and end.side != ends[index].side:
            return onset
    return None


def is_open_at(line: Curve, place: Point, darkness_at: DarknessAt) -> bool:
    """Whether a line is bare at a place on it, and for longer than its pencil skips near there."""
    path = LineString(line.points)
    middle = path.project(place)
    at = np.arange(max(middle - KNOWN_MM, 0.0), min(middle + KNOWN_MM, path.length), ONSETS_STEP_MM)
    if path.length < LEAST_KNOWN_MM:
        return False
    tone = darkness_along(path, at, darkness_at)
    level = inked_level(path, at, tone, darkness_at)
    if level <= 0.0:
        return False
    span = round(2 * OPEN_MM / ONSETS_STEP_MM)
    firsts = np.arange(0, max(len(at) - span, 1), 5)
    bare = np.array([_longest_bare_mm(tone[first : first + span], level) for first in firsts])
    away = np.abs(at[firsts] + OPEN_MM - middle)
    here, elsewhere = bare[away < OPEN_MM / 2], bare[away > 2 * OPEN_MM]
    return bool(here.max(initial=0.0) > elsewhere.max(initial=LEAST_OPEN_MM))


def _onset_of(
    end: LineEnd, clear_mm: float, line: Curve, halo: Floats, darkness_at: DarknessAt
) -> _Onset | None:
    """Where a line begins, if enough of it is seen to tell.

    It begins where as little darkness as can be lies before it, and as much as can be after (the
    change point of least squares between bare paper and the line's usual darkness).
    """
    points = line.points if np.allclose(line.points[0], end.point) else line.points[::-1]
    path = LineString(points)
    if path.length < LEAST_KNOWN_MM:
        return None
    square = math.sin(end.heading)
    here = np.arange((clear_mm - end.across) / square, ONSETS_REACH_MM, ONSETS_STEP_MM)
    away = np.arange(here[0] + 2 * ONSETS_CLEAR_MM, min(path.length, KNOWN_MM), ONSETS_STEP_MM)
    own = np.interp(
        end.across + here * square, np.arange(len(halo)) * ONSETS_STEP_MM, halo, right=0.0
    )
    own = np.maximum(own, _shade(path, here, darkness_at))
    tone = darkness_along(path, away, darkness_at)
    level = inked_level(path, away, tone, darkness_at)
    if level <= 0.0:
        return None
    before = darkness_along(path, here, darkness_at) - own
    bare = _bare_mm(before, level)
    plain = _bare_mm(before, max(level, PLAIN_SHARE * float(np.median(tone))))
    at = float(here[int(np.argmax(bare))])
    own_way = tone[away > at]  # how it skips is told from where it has begun
    skips = [
        float(_bare_mm(own_way[first : first + len(here)], level).max())
        for first in range(0, len(own_way) - len(here) // 2, 5)
    ]
    doubt = max(float(here[int(np.argmax(plain))]) - at, 0.0)
    bare_mm = float(bare.max())
    early = _paler_mm(
        before[: int(np.argmax(bare))], float(np.median(tone)), _varies(path, away, darkness_at)
    )
    return _Onset(at, doubt, early, at - float(here[0]), bare_mm, max([LEAST_BARE_MM, *skips]))


def _paler_mm(before: Floats, usual: float, varies: float) -> float:
    """How much earlier a line may have begun, paler than it is then, mm.

    From where all that is before its beginning is together darker than the paper varies, and as
    dark as a stroke is where it is set down.
    """
    if not len(before):
        return 0.0
    sums = np.cumsum(before[::-1])[::-1] * ONSETS_STEP_MM
    long = np.arange(len(before), 0, -1) * ONSETS_STEP_MM
    by_chance = FAINTEST * varies * np.sqrt(long * GRAIN_MM)
    shows = (sums > by_chance) & (sums > SET_DOWN * usual * long)
    return float(long[np.argmax(shows)]) if shows.any() else 0.0


def _shade(path: LineString, at: Floats, darkness_at: DarknessAt) -> Floats:
    """(N,) how dark the paper is beside a line: a cut's flap that stands off shades it."""
    beside = [darkness_along(path, at, darkness_at, aside) for aside in ONSETS_BESIDE_MM]
    return np.asarray(gaussian_filter1d(np.median(beside, axis=0), SHADE_MM / ONSETS_STEP_MM))


def _moved(end: LineEnd, onset: _Onset) -> LineEnd:
    """The end, where its line begins; half of what is in doubt is a sigma."""
    by_mm = onset.at_mm
    return replace(
        end,
        across=end.across + by_mm * math.sin(end.heading),
        depth=end.depth + by_mm * math.cos(end.heading),
        sigma=math.hypot(BEGIN_SIGMA_MM, onset.doubt_mm / 2),
        doubt=onset.early_mm / 2,
    )


def _doubted(end: LineEnd, onset: _Onset) -> LineEnd:
    """The end where it is, though it may be where its line seems to begin; half the way a sigma."""
    return replace(end, doubt=(onset.past_mm + onset.doubt_mm) / 2)


def _faded(end: LineEnd, line: Curve, darkness_at: DarknessAt) -> LineEnd:
    """The end with what is in doubt where its line sets in softly, and may have begun unseen.

    Pencil that sets in evenly is traced from where it shows; so the way before that goes into the
    way from there to most of its usual darkness as the palest that shows goes into the rest. Half
    of it is a sigma.
    """
    points = line.points if np.allclose(line.points[0], end.point) else line.points[::-1]
    path = LineString(points)
    if path.length < LEAST_KNOWN_MM:
        return end
    at = np.arange(0.0, min(path.length, KNOWN_MM), ONSETS_STEP_MM)
    tone, *paper = (
        gaussian_filter1d(darkness_along(path, at, darkness_at, aside), FAINT_MM / ONSETS_STEP_MM)
        for aside in (0.0, *ONSETS_BESIDE_MM)
    )
    usual = float(np.median(tone))
    if usual <= 0.0:
        return end
    full = at[tone >= FULL * usual]
    sets_in = max(float(full[0]) - SHARP * FAINT_MM, 0.0) if len(full) else 0.0
    beside = np.concatenate(paper)
    palest = FAINTEST * robust_sigma(beside, float(np.median(beside))) / usual
    unseen = sets_in * palest / max(FULL - palest, palest)
    return replace(end, doubt=unseen / 2)


def _led_back(end: LineEnd, clear_mm: float, line: Curve, darkness_at: DarknessAt) -> LineEnd:
    """The end, led back towards the cut as far as pencil too faint to be traced shows there.

    Half of that way is a sigma: what shows there may be no pencil.
    """
    points = line.points if np.allclose(line.points[0], end.point) else line.points[::-1]
    run = points[0] - points[min(LED_POINTS, len(points) - 1)]
    reach = (end.across - clear_mm) / math.sin(end.heading)
    if reach < 2 * FAINT_MM or not run.any():
        return end
    ahead = run / np.linalg.norm(run)
    left = np.array([-ahead[1], ahead[0]])
    at = np.arange(0.0, reach, ONSETS_STEP_MM)
    way = points[0] + at[:, None] * ahead

    def shown(aside_mm: float) -> Floats:
        """(N,) darkness along the best of ways a little to either side."""
        tones = [
            darkness_at(places_beside(way, left, ONSETS_ACROSS_MM + aside_mm + by)).mean(axis=1)
            for by in ASTRAY_MM
        ]
        return np.asarray(gaussian_filter1d(tones, FAINT_MM / ONSETS_STEP_MM, axis=1).max(axis=0))

    paper = np.concatenate([shown(aside) for aside in CLEAR_ASIDE_MM])
    usual = float(np.median(paper))  # pencil and the cut may cross it
    plain = at[shown(0.0) > usual + FAINTEST * robust_sigma(paper, usual)]
    together = np.cumsum(np.diff(plain, prepend=0.0) > FAINT_SKIP_MM) == 0
    back = float(plain[together].max(initial=0.0))
    if back < 2 * FAINT_MM:  # no more than the line's own end seen together with what is beyond
        return end
    return replace(
        end,
        across=end.across - back * math.sin(end.heading),
        depth=end.depth - back * math.cos(end.heading),
        sigma=math.hypot(end.sigma, back / 2),
    )


def _bare_mm(tone: Floats, level: float) -> Floats:
    """(N,) how much more of the way up to each place is bare than dark, mm.

    Neither where it is half as dark as ``level``.
    """
    dark = np.clip(gaussian_filter1d(tone, SMOOTH_MM / ONSETS_STEP_MM), 0.0, level) / level
    return np.asarray(np.append(0.0, np.cumsum(1.0 - 2.0 * dark) * ONSETS_STEP_MM)[:-1])


def _longest_bare_mm(tone: Floats, level: float) -> float:
    """The most by which bare paper outweighs the line over any stretch, mm."""
    bare = _bare_mm(tone, level)
    return float((bare - np.minimum.accumulate(bare)).max())


def inked_level(path: LineString, at: Floats, tone: Floats, darkness_at: DarknessAt) -> float:
    """The darkness at which there is surely pencil: it may be pale, but more than paper varies."""
    usual = float(np.median(tone))
    return float(np.clip(CERTAIN * _varies(path, at, darkness_at), usual / 2, max(usual, 0.0)))


def _varies(path: LineString, at: Floats, darkness_at: DarknessAt) -> float:
    """By how much the paper beside a line varies, over its width (standard deviation)."""
    across = len(ONSETS_ACROSS_MM)
    beside = np.concatenate([ONSETS_ACROSS_MM + aside for aside in ONSETS_BESIDE_MM])
    seen = darkness_at(_places(path, at, beside)).reshape(len(at), len(ONSETS_BESIDE_MM), across)
    paper = seen.mean(axis=2).T.ravel()
    return float(np.std(gaussian_filter1d(paper, SMOOTH_MM / ONSETS_STEP_MM)))


def darkness_along(
    path: LineString, at: Floats, darkness_at: DarknessAt, aside_mm: float = 0.0
) -> Floats:
    """(N,) darkness along a line, over its width, at distances from its end, mm."""
    return np.asarray(darkness_at(_places(path, at, ONSETS_ACROSS_MM + aside_mm)).mean(axis=1))


def _halo(cut: Curve, darkness_at: DarknessAt) -> Floats:
    """Darkness beside a cut by distance from its middle, each ONSETS_STEP_MM: of its paler side."""
    path = LineString(cut.points)
    at = np.arange(2.0, path.length - 2.0, 0.5)
    offsets = np.arange(0.0, HALO_MM, ONSETS_STEP_MM)
    one, two = (np.median(darkness_at(_places(path, at, to)), axis=0) for to in (offsets, -offsets))
    return np.minimum(one, two)


def _places(path: LineString, at: Floats, offsets: Floats) -> Floats:
    """(N, M, 2) places at distances (N,) along a path and offsets (M,) to its left, mm."""
    return places_beside(*square_to(get_coordinates(path), at, 2.0), offsets)
