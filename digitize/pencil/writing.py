"""Writing, which is kept as notes and never turned into lines.

Told stroke by stroke, by a logistic score (D. R. Cox, "The regression analysis of binary
sequences", Journal of the Royal Statistical Society B 20, 1958) of how a stroke looks and of what
its ends touch. Letters are small and wound. Traced across a row of them, a stroke finds the pencil
now there and now not, has ink on both sides of it, and seems wide. A line is even along its length,
has bare paper beside it, and often ends at another line. What a mark stands near decides nothing
by itself: a line through writing stays one. Tall letters, whose strokes look like lines, are told
by how they stand together.
"""

import itertools
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree
from shapely import LineString, STRtree, box, distance, shortest_line
from shapely import points as points_of

from digitize.pencil.curves import Curve
from digitize.pencil.ridges import DarknessAt
from digitize.pencil.runs import Runs
from digitize.pencil.signs import signs_among
from digitize.pencil.thresholds import (
    ALONG_LINE_MM,
    BARE,
    CREASE_SHEEN,
    DARK_BESIDE,
    EVEN,
    FAIR_STEP_MM,
    FEWEST_MARKS,
    FEWEST_STROKES,
    GAP_SHARE,
    GAPS_MM,
    INK_CELL_MM,
    LEAST_GAP_MM,
    LETTER_GAP,
    LIKE_SIZE,
    LINKED_ENOUGH,
    LONG_ENOUGH_MM,
    MOST_STROKES,
    MOST_TURNING,
    MOST_UNEVEN,
    SHORTEST_LINE_MM,
    SHORTEST_PART_MM,
    SMALLEST_LETTER_MM,
    SURE_LINE,
    TALLEST_MM,
    TURN_MM,
    USUAL,
    WIDTHS_MM,
    WRITING_BESIDE_MM,
    WRITING_ON_MM,
    WRITING_SAMPLE_MM,
    WRITING_TOUCH_MM,
)
from digitize.plane import evenly, headings_along, places_beside, runs_of

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Box = tuple[float, float, float, float]


class Score(NamedTuple):
    """Weights of a mark's score: above 0 it is sooner a line than writing.

    ``length`` and ``width`` are of the natural logarithms of mm, ``uneven`` of the darkness'
    standard deviation over its mean along the mark, ``beside`` of the share of the places beside
    it that are dark, ``turning`` of radians per mm, ``linked`` of how surely an end is at a line.
    """

    constant: float
    length: float
    uneven: float
    beside: float
    turning: float
    width: float
    linked: float


# Fitted by ``python -m tests.bench.written`` to 1,000 marks of five drawings by hand, those in the
# boxes that annotators drew round words against those along connectors and tasks, and to the
# lines of 32 rendered pieces of paper.
ALONE = Score(-3.94, 3.04, -5.51, -19.50, -14.18, -2.65, 0.00)
LINKED = Score(-4.54, 2.85, -5.03, -21.81, -11.19, -2.39, 2.46)


def looks_of(curves: Sequence[Curve], darkness_at: DarknessAt) -> Floats:
    """(N, 5) what of each mark its score is made of, but for what its ends are at."""
    ways = [evenly(curve.points, WRITING_SAMPLE_MM, curve.closed) for curve in curves]
    runs = Runs(np.array([len(way) for way in ways]), np.zeros(len(ways), bool))
    heading = np.concatenate([headings_along(way) for way in ways])
    normals = np.stack([-np.sin(heading), np.cos(heading)], axis=1)
    offsets = np.array([*WRITING_ON_MM, *WRITING_BESIDE_MM, *(-each for each in WRITING_BESIDE_MM)])
    tone = darkness_at(places_beside(np.concatenate(ways), normals, offsets))
    along = tone[:, : len(WRITING_ON_MM)].mean(axis=1)
    usual = np.maximum(runs.spread(runs.quantiles(along, USUAL)), 1e-3)
    # A dashed line's own gaps are no unevenness.
    kept = ~runs.spread(np.array([curve.dashed for curve in curves])) | (along > BARE * usual)
    share = np.maximum(runs.means(kept.astype(float)), 1e-9)
    mean = runs.means(along * kept) / share
    spread = np.sqrt(np.maximum(runs.means(along**2 * kept) / share - mean**2, 0.0))
    dark = runs.means((tone[:, len(WRITING_ON_MM) :] > DARK_BESIDE * usual[:, None]).astype(float))
    turning = [_turning(curve) for curve in curves]
    return np.column_stack(
        [
            np.log([max(curve.length, WRITING_SAMPLE_MM) for curve in curves]),
            np.minimum(spread / np.maximum(mean, 1e-3), MOST_UNEVEN),
            dark.mean(axis=1),
            np.minimum(turning, MOST_TURNING),
            np.log([np.clip(curve.width, *WIDTHS_MM) for curve in curves]),
        ]
    )


def _turning(curve: Curve) -> float:
    """How much a mark turns, to whichever side, radians per mm."""
    points = evenly(curve.points, TURN_MM, curve.closed)
    step = np.diff(points, axis=0)
    heading = np.arctan2(step[:, 1], step[:, 0])
    turn = (np.diff(heading) + np.pi) % (2 * np.pi) - np.pi
    return float(np.abs(turn).sum() / max(curve.length, TURN_MM))


def links_of(curves: Sequence[Curve], surely: Floats) -> Floats:
    """(N,) how surely one of each mark's ends is at some line.

    Parameters
    ----------
    surely : (N,) how surely each mark is a line, 0 to 1.
    """
    paths = [LineString(curve.points) for curve in curves]
    lengths = np.array([curve.length for curve in curves])
    weight = surely * np.minimum(lengths / LONG_ENOUGH_MM, 1.0)
    linked = np.zeros(len(curves))
    for end in (0, -1):
        ends = points_of([curve.points[end] for curve in curves])
        own, other = STRtree(paths).query(ends, predicate="dwithin", distance=WRITING_TOUCH_MM)
        apart = own != other
        np.maximum.at(linked, own[apart], weight[other[apart]])
    return linked


def surely_lines(curves: Sequence[Curve], darkness_at: DarknessAt) -> tuple[Floats, Floats]:
    """(N,) how surely each mark is a line and no writing, and how surely it ends at one; 0 to 1."""
    if not curves:
        return np.zeros(0), np.zeros(0)
    looks = looks_of(curves, darkness_at)
    linked = links_of(curves, _chance(ALONE, looks, np.zeros(len(curves))))
    sure = _chance(LINKED, looks, linked)
    # However much is written beside it: through letters runs no stroke so long and so even.
    # And a crease, that shows light and dark beside each other, was written by nobody.
    crease = np.array([curve.sheen for curve in curves]) >= CREASE_SHEEN
    smooth = (looks[:, 0] > np.log(LONG_ENOUGH_MM)) & ((looks[:, 1] < EVEN) | crease)
    return np.where(smooth, 1.0, sure), linked


def _chance(score: Score, looks: Floats, linked: Floats) -> Floats:
    """(N,) the logistic function of the score."""
    total = score.constant + looks @ np.array(score[1:-1]) + score.linked * linked
    return np.asarray(1 / (1 + np.exp(-total)))


def set_writing_aside(
    curves: Sequence[Curve], darkness_at: DarknessAt
) -> tuple[tuple[Curve, ...], tuple[Box, ...]]:
    """Lines, and a box (x min, y min, x max, y max) round each piece of writing.

    A short mark by itself is dropped as a speck, and so is one that lies along a line: it is that
    line's own rough edge.
    """
    told = surely_lines(curves, darkness_at)
    parted = _in_part_lines(curves, told, darkness_at)
    if parted is not None:
        curves, told = parted, surely_lines(parted, darkness_at)
    is_line, length = _plain_lines(curves, told)
    is_line[tall_writing(curves, darkness_at)] = False
    row = np.array([curve.ticks or curve.dashed for curve in curves], bool)
    is_line |= row & (length >= LONG_ENOUGH_MM)
    is_line[signs_among(curves, darkness_at)] = False
    lines = [curve for curve, yes in zip(curves, is_line, strict=True) if yes]
    rest = [curve for curve, yes in zip(curves, is_line, strict=True) if not yes]
    if lines and rest:
        tree = cKDTree(np.concatenate([curve.points for curve in lines]))
        rest = [c for c in rest if np.median(tree.query(c.points)[0]) > ALONG_LINE_MM]
    boxes = []
    for group in _pieces(rest, lines):
        marks = [rest[index] for index in group]
        if len(marks) >= FEWEST_MARKS or sum(c.length for c in marks) >= LONG_ENOUGH_MM:
            points = np.concatenate([curve.points for curve in marks])
            low, high = points.min(axis=0) - 1.0, points.max(axis=0) + 1.0
            boxes.append((float(low[0]), float(low[1]), float(high[0]), float(high[1])))
    return tuple(lines), tuple(boxes)


def _plain_lines(curves: Sequence[Curve], told: tuple[Floats, Floats]) -> tuple[Flags, Floats]:
    """(N,) which marks are sooner lines than writing and too long for specks, and their lengths.

    Parameters
    ----------
    told : what ``surely_lines`` says of them.
    """
    sure, linked = told
    length = np.array([curve.length for curve in curves])
    long = length >= np.where(linked > LINKED_ENOUGH, SHORTEST_PART_MM, SHORTEST_LINE_MM)
    return (sure >= SURE_LINE) & long, length


def _in_part_lines(
    curves: Sequence[Curve], told: tuple[Floats, Floats], darkness_at: DarknessAt
) -> list[Curve] | None:
    """The marks, with those that are lines in part alone (traced on over bare paper, to writing
    say) as the parts that are lines, and what lies between as a mark each; None if none is.
    """
    parts = [
        [curve] if yes or curve.dashed or curve.ticks else _between_gaps(curve, darkness_at)
        for curve, yes in zip(curves, told[0] >= SURE_LINE, strict=True)
    ]
    if all(len(some) == 1 for some in parts):
        return None
    every = [part for some in parts for part in some]
    plain, length = _plain_lines(every, surely_lines(every, darkness_at))
    # Cut off from what it ran on to, a part has to be as long as a line by itself.
    is_line = iter(plain & (length >= SHORTEST_LINE_MM))
    found: list[Curve] = []
    for curve, some in zip(curves, parts, strict=True):
        groups = itertools.groupby(some, lambda _: bool(next(is_line)))
        kinds = [(yes, list(group)) for yes, group in groups]
        if not any(yes for yes, _ in kinds):
            found.append(curve)
            continue
        for yes, group in kinds:
            points = np.concatenate([part.points for part in group])
            found += group if yes else [replace(curve, points=points, closed=False)]
    return found


def _between_gaps(curve: Curve, darkness_at: DarknessAt) -> list[Curve]:
    """A mark's parts between stretches of bare paper."""
    points = evenly(curve.points, WRITING_SAMPLE_MM, curve.closed)
    heading = headings_along(points)
    normals = np.stack([-np.sin(heading), np.cos(heading)], axis=1)
    tone = darkness_at(places_beside(points, normals, np.array(WRITING_ON_MM))).mean(axis=1)
    bare = runs_of(tone < BARE * np.quantile(tone, USUAL))
    gaps = [(a, b) for a, b in bare if (b - a) * WRITING_SAMPLE_MM > LEAST_GAP_MM]
    starts, stops = [0, *(b for _, b in gaps)], [*(a for a, _ in gaps), len(points)]
    return [
        replace(curve, points=evenly(points[a:b], FAIR_STEP_MM), closed=False)
        for a, b in zip(starts, stops, strict=True)
        if b - a > 1
    ] or [curve]


def tall_writing(curves: Sequence[Curve], darkness_at: DarknessAt) -> NDArray[np.int64]:
    """Which marks are of letters whose strokes are as long and clean as lines.

    What touches makes a letter if all of it is no larger than TALLEST_MM and holds nothing; and
    letters of like size close by make a word if they have strokes enough. Windows and holes come in
    rows too, so a ring is one stroke. A letter by itself can't be told from lines that meet.
    """
    if not curves:
        return np.zeros(0, int)
    paths = np.array([LineString(curve.points) for curve in curves])
    one, two = STRtree(paths).query(paths, predicate="dwithin", distance=WRITING_TOUCH_MM)
    letters = _joined(len(paths), one, two)
    low = np.array([curve.points.min(axis=0) for curve in curves])
    high = np.array([curve.points.max(axis=0) for curve in curves])
    low = np.array([low[letter].min(axis=0) for letter in letters])
    high = np.array([high[letter].max(axis=0) for letter in letters])
    size = (high - low).max(axis=1)
    count = np.array([len(letter) for letter in letters])
    # A frame has other marks within it; a letter has none.
    boxes = box(*low.T, *high.T)
    frame = np.zeros(len(letters), bool)
    within, around = STRtree(boxes).query(boxes, predicate="within")
    frame[around[within != around]] = True
    fits = (size >= SMALLEST_LETTER_MM) & (size <= TALLEST_MM) & (count <= MOST_STROKES) & ~frame
    for k in np.flatnonzero(fits):
        fits[k] = not _holds_words([curves[index] for index in letters[k]], darkness_at)
    fits = np.flatnonzero(fits)
    if not len(fits):
        return np.zeros(0, int)
    strokes = np.array([_strokes_of([curves[index] for index in letters[k]]) for k in fits])
    boxes = boxes[fits]
    one, two = STRtree(boxes).query(boxes, predicate="dwithin", distance=TALLEST_MM)
    smaller = np.minimum(size[fits][one], size[fits][two])
    alike = smaller > LIKE_SIZE * np.maximum(size[fits][one], size[fits][two])
    near = distance(boxes[one], boxes[two]) < LETTER_GAP * smaller
    words = _joined(len(fits), one[alike & near], two[alike & near])
    found = [
        letters[fits[index]]
        for word in words
        if len(word) > 1 and strokes[word].sum() >= FEWEST_STROKES
        for index in word
    ]
    return np.concatenate(found) if found else np.zeros(0, int)


def _holds_words(marks: Sequence[Curve], darkness_at: DarknessAt) -> bool:
    """Whether within marks there is more ink that was not traced than they have themselves.

    So it is in a box round words that are too small to be traced, and in no letter.
    """
    points = np.concatenate([evenly(mark.points, INK_CELL_MM, mark.closed) for mark in marks])
    low, high = points.min(axis=0), points.max(axis=0)
    x, y = (np.arange(low[k] + INK_CELL_MM / 2, high[k], INK_CELL_MM) for k in (0, 1))
    places = np.stack(np.meshgrid(x, y), axis=-1)
    dark = darkness_at(places) > float(np.median(darkness_at(points))) / 2
    apart = cKDTree(points).query(places[dark], distance_upper_bound=WRITING_TOUCH_MM)[0]
    return bool(np.isinf(apart).sum() * INK_CELL_MM**2 > sum(m.length * m.width for m in marks))


def _strokes_of(marks: Sequence[Curve]) -> int:
    """Of how many strokes a letter is: one that turns back counts as two, a ring of marks as one.

    In a ring the marks follow one another round, each end at one other end.
    """
    ends = np.concatenate([mark.points[[0, -1]] for mark in marks])
    near = cKDTree(ends).query_ball_point(ends, WRITING_TOUCH_MM)
    if all(mark.closed for mark in marks) or all(len(others) == 2 for others in near):
        return 1
    return sum(1 + int(_turning(mark) * mark.length / np.pi) for mark in marks)


def _joined(count: int, one: NDArray[np.int64], two: NDArray[np.int64]) -> list[NDArray[np.int64]]:
    """Groups of so many things by which pairs are linked."""
    links = coo_array((np.ones(len(one)), (one, two)), shape=(count, count))
    groups, group = connected_components(links, directed=False)
    return [np.flatnonzero(group == index) for index in range(groups)]


def _pieces(marks: Sequence[Curve], lines: Sequence[Curve]) -> list[NDArray[np.int64]]:
    """Which marks are one piece of writing: near by their own size, with no line between."""
    if not marks:
        return []
    paths = np.array([LineString(curve.points) for curve in marks])
    sizes = np.array([float(np.linalg.norm(np.ptp(curve.points, axis=0))) for curve in marks])
    one, two = STRtree(paths).query(paths, predicate="dwithin", distance=GAPS_MM[1])
    first = one < two
    one, two = one[first], two[first]
    gap = np.clip(GAP_SHARE * np.minimum(sizes[one], sizes[two]), *GAPS_MM)
    near = distance(paths[one], paths[two]) <= gap
    one, two = one[near], two[near]
    if lines and len(one):
        tree = STRtree([LineString(curve.points) for curve in lines])
        crossed = tree.query(shortest_line(paths[one], paths[two]), predicate="intersects")[0]
        open_way = np.setdiff1d(np.arange(len(one)), crossed)
        one, two = one[open_way], two[open_way]
    return _joined(len(paths), one, two)
