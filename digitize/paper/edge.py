"""The paper's edge on the fine raster, and where the picture bears it out.

Along the settled border a band is unrolled, and the path through it is found that has paper on one
side and floor on the other by their looks, runs where the colour steps, and leaps least (dynamic
programming: R. Bellman, 1957). Each place of it is then asked whether the picture shows an edge
there at all: a step in colour, what looks like paper within and like floor beyond, by the whole
picture's looks and by those close by. A shadow's border, a card's, a thing that lies there or a
picture burnt out bear out nothing; there the edge goes on straight, if it comes and leaves
straight, and is named as unsure. Where it goes straight on for a while, that bears it out too, and
either looks have to do.
"""

from dataclasses import dataclass
from itertools import chain

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter, uniform_filter1d
from shapely import LinearRing, Polygon, contains_xy, dwithin
from shapely import points as points_of
from shapely.geometry.base import BaseGeometry

from digitize.floor import Raster
from digitize.paper.band import outward, places_across
from digitize.paper.beside import sides_told
from digitize.paper.burnt import burnt_within
from digitize.paper.carried import (
    carried_over_things,
    carried_under_cards,
    led_along,
    on_one_line,
    places_in,
    runs,
)
from digitize.paper.corners import with_corners, without_spikes
from digitize.paper.cut import Cut, Field
from digitize.paper.dents import asides_of, dents_of, juts_out, sides_of_dents
from digitize.paper.settle import settle
from digitize.paper.thresholds import (
    ALONG,
    BESIDE_MM,
    CARD_EDGE_MM,
    EDGE_GAP_MM,
    EDGE_LEAST_KNOWN,
    EDGE_LEAST_LIKELY,
    EDGE_SOON_MM,
    EDGE_WINDOW_MM,
    HERE_MM,
    JUTS_OUT_MM,
    LEAP_A_MM,
    LEAST_STEP,
    LEAST_TOLD,
    LEAST_USUAL,
    LOOKS_A_MM,
    MOST_LEAP_MM,
    NEITHER,
    NOISE,
    ON_LINE_MM,
    PATH_REACH_MM,
    PLAIN_STEP,
    SHORTEST_MM,
    SPLIT_REACHES_MM,
    STRAIGHT_STEP_MM,
    TOLD_ASIDE,
    USUAL_STEP,
    WHOLLY,
    WINDOW_ALONG_MM,
)
from digitize.plane import cross, length_of, places_along

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Edge:
    """The paper's edge: (N, 2) points in mm, counter-clockwise, not closed on itself.

    ``unsure`` (N,) says where the picture does not bear it out, ``burnt`` (N,) where what lies just
    within is burnt out white.
    """

    points: Floats
    unsure: Flags
    burnt: Flags

    def unsure_stretches(self) -> tuple[Floats, ...]:
        """Points (N, 2) along each stretch that is not borne out, mm."""
        count = len(self.points)
        if self.unsure.all():
            return (np.concatenate([self.points, self.points[:1]]),)
        return tuple(self.points[np.arange(a, b + 1) % count] for a, b in runs(self.unsure))


def place_edge(fine: Raster, cut: Cut) -> Edge:
    """The paper's edge as the fine raster shows it, near a cut's border."""
    settled = settle(fine, cut)
    # White floor beside white paper is taken in with it: what juts out is no part of the sheet.
    shape = Polygon(settled.ring)
    points = _evenly(without_spikes(shape, JUTS_OUT_MM) if cut.burnt_beyond else shape, 1)
    points = points + outward(points) * _path(fine, cut, settled.floor_like, points)[:, None]
    points = _evenly(Polygon(points), 1)
    for reach in SPLIT_REACHES_MM:
        points = points + outward(points) * _edge_offset(fine, points, reach)[:, None]
        points = _evenly(Polygon(points), 2)
    points = carried_under_cards(
        _evenly(Polygon(with_corners(fine, points, cut.cards, settled.floor_like)), 0), cut
    )
    signs = _signs(fine, cut, points)
    # What contradicts an edge names it, and only what is not seen at all moves it.
    borne_out = signs.step & signs.within & signs.beyond & signs.seen
    unseen = _joined(points, _with_ends(borne_out), borne_out, cut, settled.floor_like)
    unseen = _not_plain(unseen, signs.step & signs.beyond & signs.seen)
    carried, across, led = carried_over_things(fine, points, unseen, cut)
    borne_out = borne_out & signs.told
    if across.any() or led.any():
        on_line = across & dwithin(points_of(points), LinearRing(carried), ON_LINE_MM)
        there = _signs(fine, cut, carried)
        # So far from where it was that a step there is not taken for one here.
        off = np.hypot(*(carried - points).T) > HERE_MM + EDGE_GAP_MM / 2
        back = _plainer_before(across | led, off, signs, there)
        if back.any():
            carried[back], across = points[back], across & ~back
            there = _signs(fine, cut, carried)
        points, signs = carried, there
        # On a straight bridge something pale may lie on the paper, a strip of tape say; and a floor
        # that looks like none seen yet bears out an edge that steps just there.
        sides = (signs.within | across) & (signs.beyond | (signs.within & on_line))
        borne_out = signs.step & sides & signs.told
    unsure = _share_borne_out(borne_out) < 0.5
    by_either = signs.step & (signs.told | (signs.within & signs.beyond))
    unsure = _not_straight_on(points, unsure, by_either)
    if cut.burnt_out:
        unsure |= signs.burnt & ~signs.own
    unsure = _long_enough(points, unsure)
    if Polygon(points).exterior.is_ccw:
        return Edge(points, unsure, signs.burnt)
    return Edge(points[::-1], unsure[::-1], signs.burnt[::-1])


def _evenly(shape: BaseGeometry, smoothings: int) -> Floats:
    """(N, 2) round the largest simple part of a shape, in even steps, counter-clockwise."""
    shape = shape.buffer(0)
    shape = max(getattr(shape, "geoms", [shape]), key=lambda part: part.area)
    coords = np.array(shape.exterior.coords)
    if not shape.exterior.is_ccw:
        coords = coords[::-1]
    length = length_of(coords)
    points = places_along(
        coords, np.linspace(0.0, length, int(length / STRAIGHT_STEP_MM), endpoint=False)
    )
    for _ in range(smoothings):
        points = (np.roll(points, 1, 0) + 2 * points + np.roll(points, -1, 0)) / 4
    return points


def _offsets(fine: Raster, reach: float) -> Floats:
    step = max(fine.mm_per_px, 0.25)
    half = int(np.ceil(reach / step))
    return np.asarray(np.arange(-half, half + 1) * step, np.float64)


def _step_of(along: Floats) -> float:
    return float(along[1] - along[0])


def _band(fine: Raster, points: Floats, along: Floats) -> tuple[Floats, Floats]:
    """(N, M, 2) places of the band beside the edge, mm, and (N, M, 3) their colours in Lab."""
    places = places_across(points, along)
    at = fine.to_px(places.reshape(-1, 2)).reshape(places.shape).astype(np.float32)
    colours = cv2.remap(fine.pixels, at[..., 0], at[..., 1], cv2.INTER_LINEAR)
    return places, np.asarray(cv2.cvtColor(colours, cv2.COLOR_RGB2LAB), np.float64)


def _steps(band: Floats, step_mm: float, window_mm: float = EDGE_WINDOW_MM) -> Floats:
    """(N, M) how much the colour steps at each offset, in the squared scatter beside it."""
    width = max(round(window_mm / step_mm), 2)
    padded = np.pad(band, ((0, 0), (width + 1, width), (0, 0)), mode="edge")
    sums, squares = np.cumsum(padded, axis=1), np.cumsum(padded**2, axis=1)
    count = band.shape[1]

    def side(first: int) -> tuple[Floats, Floats]:
        here, ahead = slice(first, first + count), slice(first + width, first + width + count)
        mean = (sums[:, ahead] - sums[:, here]) / width
        square = (squares[:, ahead] - squares[:, here]) / width
        return mean, np.maximum(square - mean**2, 0)

    inner, inner_spread = side(0)
    outer, outer_spread = side(width)
    apart = uniform_filter1d(outer - inner, ALONG, axis=0, mode="wrap")
    spread = uniform_filter1d((inner_spread + outer_spread) / 2, ALONG, axis=0, mode="wrap")
    return np.asarray((apart**2 / (spread + NOISE**2)).sum(axis=2))


def _path(fine: Raster, cut: Cut, floor_like: Field, points: Floats) -> Floats:
    """(N,) how far outward the edge runs, mm."""
    along = _offsets(fine, PATH_REACH_MM)
    step = float(along[1] - along[0])
    places, band = _band(fine, points, along)
    looks = np.cumsum(np.clip(floor_like.at(places), -3, 3), axis=1) * step
    steps = np.where(_along_cards(cut, places), 0, _steps(band, step))
    cost = LOOKS_A_MM * (2 * looks - looks[:, -1:]) + 1 / (1 + steps / USUAL_STEP)
    most = max(int(MOST_LEAP_MM / step), 1)
    leaps = np.abs(np.arange(-most, most + 1)) * step * LEAP_A_MM
    # Once round and a little more, so that the path closes on itself.
    lead = min(60, len(points) // 2)
    order = np.arange(-lead, len(points) + lead) % len(points)
    padded = np.full(len(along) + 2 * most, np.inf)
    total, columns, came = padded[most : most + len(along)], np.arange(len(along)), []
    total[:] = cost[order[0]]
    reached = np.lib.stride_tricks.sliding_window_view(padded, 2 * most + 1)
    for row in order[1:]:
        windows = reached + leaps
        best = windows.argmin(axis=1)
        came.append(best - most)
        np.add(windows[columns, best], cost[row], out=total)
    at = int(total.argmin())
    path = [at]
    for back in reversed(came):
        at = min(max(at + int(back[at]), 0), len(along) - 1)
        path.append(at)
    return np.asarray(along[np.array(path[::-1])[lead : lead + len(points)]])


def _along_cards(cut: Cut, places: Floats) -> Flags:
    """(N, M) which places lie along a card's border: its step in colour is not the paper's."""
    along = np.zeros(places.shape[:2], bool)
    for ring in (ring for card in cut.cards for ring in (card.seen, card.sheet)):
        low, high = ring.min(axis=0) - CARD_EDGE_MM, ring.max(axis=0) + CARD_EDGE_MM
        x, y = np.moveaxis(places, -1, 0)
        near = (x > low[0]) & (x < high[0]) & (y > low[1]) & (y < high[1])
        along[near] |= dwithin(points_of(places[near]), LinearRing(ring), CARD_EDGE_MM)
    return along


def _edge_offset(fine: Raster, points: Floats, reach: float) -> Floats:
    """(N,) how far outward the step in colour lies: the best split of each normal's profile."""
    step = fine.mm_per_px
    along = np.arange(-reach, reach + step / 2, step)
    _, profile = _band(fine, points, along)
    count = np.arange(1, len(along))
    total = np.cumsum(profile, axis=1)
    squares = np.cumsum(profile**2, axis=1)
    inner = squares[:, :-1] - total[:, :-1] ** 2 / count[:, None]
    rest = total[:, -1:] - total[:, :-1]
    outer = (squares[:, -1:] - squares[:, :-1]) - rest**2 / (len(along) - count)[:, None]
    # The inside is one even sheet: scatter there counts more than the floor's.
    cost = (3 * inner + outer).sum(axis=2)[:, 3:-3]
    offset = along[3 + np.argmin(cost, axis=1) + 1] - step / 2
    return np.asarray(median_filter(offset, 5, mode="wrap"))


@dataclass(frozen=True)
class _Signs:
    """What the picture shows at places of an edge, all (N,): a step, paper within, floor beyond.

    ``told`` is whether both sides look so close by as well, and nothing contradicts it; ``seen`` is
    the same but for what contradicts it, and of a dent asks more of one side alone; ``clear`` is
    the same wherever the edge runs, if both sides are seen. A ``plain`` step is one that needs no
    company. Beside a card, or at the picture's edge, what is beyond cannot be told by its looks;
    there a plain step has to do, of which the card has no part. Nor can what is within where it is
    ``burnt`` out, or near to it: there a plain step has to do, if the paper burns out by degrees,
    on its ``own``.
    """

    step: Flags
    within: Flags
    beyond: Flags
    told: Flags
    seen: Flags
    clear: Flags
    plain: Flags
    burnt: Flags
    own: Flags


def _signs(fine: Raster, cut: Cut, points: Floats) -> _Signs:
    along = _offsets(fine, BESIDE_MM[1])
    places, band = _band(fine, points, along)
    here = np.abs(along) <= HERE_MM
    by_card = _along_cards(cut, places)
    steps = np.where(by_card, 0, _steps(band, _step_of(along)))
    most = steps[:, here].max(axis=1)
    likely, other = cut.floor_like.at(places), cut.other.at(places)
    known = (likely != 0) & (other < 0.5)
    sides = []
    for sign in (-1, 1):
        beside = (sign * along >= BESIDE_MM[0]) & (sign * along <= BESIDE_MM[1])
        count = known[:, beside].sum(axis=1)
        mean = (likely * known)[:, beside].sum(axis=1) / np.maximum(count, 1)
        sides.append((sign * mean > EDGE_LEAST_LIKELY) & (count > EDGE_LEAST_KNOWN * beside.sum()))
    narrow = np.where(by_card, 0, _steps(band, _step_of(along), EDGE_GAP_MM))
    plain = narrow[:, here].max(axis=1) > PLAIN_STEP
    dents, least = dents_of(points), np.full((2, len(points)), LEAST_TOLD)
    for (first, last), bulge in zip(dents, juts_out(points, dents), strict=True):
        # What lies in a bulge is within the edge, and what lies in a dent beyond it.
        least[0 if bulge else 1, np.arange(first, last) % len(points)] = TOLD_ASIDE
    asides = [*asides_of(points), *sides_of_dents(points, dents)]
    inner, outer, as_usual, light = sides_told(fine, points, STRAIGHT_STEP_MM, cut.cards, asides)
    unknown = cut.unknown.at(places)[:, along >= BESIDE_MM[0]].max(axis=1) > 0.5
    burnt, own = burnt_within(fine, points, -outward(points))
    fading = own & plain & sides[1]
    within, beyond = sides[0] | fading, sides[1] | (unknown & plain)
    seen = (outer > least[1]) & (fading | (inner > least[0]))
    both = (outer > least[0]) & (fading | (inner > least[1]))
    all_told = seen & both & (as_usual > LEAST_USUAL) & ~light
    step, known = most > LEAST_STEP, np.isfinite(inner) & np.isfinite(outer)
    clear = step & within & beyond & known & (np.minimum(inner, outer) > LEAST_TOLD)
    return _Signs(step, within, beyond, all_told, seen, clear, plain, burnt, own)


def _share_borne_out(borne_out: Flags) -> Floats:
    """(N,) how much of the edge round about each place is borne out."""
    window = round(WINDOW_ALONG_MM / STRAIGHT_STEP_MM) | 1
    return np.asarray(uniform_filter1d(borne_out.astype(float), window, mode="wrap"))


def _with_ends(borne_out: Flags) -> Flags:
    """(N,) stretches less than half borne out, with all at their ends that is not wholly so."""
    share, wide = _share_borne_out(borne_out), np.zeros(len(borne_out), bool)
    for first, last in runs(share < WHOLLY):
        some = np.arange(first, last) % len(share)
        wide[some] = (share[some] < 0.5).any()
    return wide


def _joined(points: Floats, unseen: Flags, borne_out: Flags, cut: Cut, floor_like: Field) -> Flags:
    """(N,) what is not seen, with the rest of the dent, or of what lies on the same card.

    A card's print has edges of its own, one side of a blade may look like floor, and round a fleck
    too little is not borne out to be a stretch; but a notch shows floor. ``floor_like`` is how the
    border was settled by.
    """
    on_cards = [runs(contains_xy(Polygon(card.sheet), *points.T)) for card in cut.cards]
    dents, joined = dents_of(points), unseen.copy()
    for first, last in [*chain(*on_cards), *dents]:
        some = np.arange(first, last) % len(points)
        joined[some] |= unseen[some].any()
    for first, last in dents:
        some = np.arange(first - 1, last + 1) % len(points)
        within = places_in(Polygon(points[some]).buffer(0))
        if borne_out[some].mean() < 0.5 and len(within):
            joined[some] |= abs(floor_like.at(within).mean()) < NEITHER
    return joined


def _plainer_before(moved: Flags, off: Flags, before: _Signs, after: _Signs) -> Flags:
    """(N,) what moved from a plain step, mostly clear too, to where there mostly is none.

    It is asked of what moved well ``off`` (N,). A torn edge leaves its line too; a thing that lies
    there mostly does not look like paper, or on the line some edge of the paper is seen.
    """
    back = np.zeros(len(moved), bool)
    for first, last in runs(moved):
        some = np.arange(first, last) % len(moved)
        well = some[off[some]]
        if len(well) and before.plain[well].mean() > WHOLLY:
            back[some] = before.clear[well].mean() > 0.5 > after.plain[well].mean()
    return back


def _not_plain(unseen: Flags, plain: Flags) -> Flags:
    """(N,) what is not seen, without stretches along which the edge is plain close by.

    There all that is doubted is whether paper so far from the usual is paper: it stays where it
    is, if unsure.
    """
    kept = unseen.copy()
    for first, last in runs(unseen):
        some = np.arange(first, last) % len(unseen)
        kept[some] = plain[some].mean() < WHOLLY
    return kept


def _not_straight_on(points: Floats, unsure: Flags, by_either: Flags) -> Flags:
    """(N,) what is unsure, without short stretches that carry a straight side straight on.

    A stripe of a floor's grain may look like nothing else about it for as long as that; but what
    lies on an edge and has an edge of its own seldom has it on the very line of the paper's, of
    which one side of it has to do where the other is soon at a corner. There it is enough that all
    of it steps and looks paper and floor ``by_either`` way (N,) of looking.
    """
    kept, count = unsure.copy(), len(points)
    for first, last in runs(unsure):
        some = np.arange(first, last) % count
        ends = points[[(first - 2) % count, (last + 1) % count]]
        way = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
        aside = np.abs(cross(points[some] - ends[0], way)).max()
        short = (last - first) * STRAIGHT_STEP_MM < EDGE_SOON_MM and aside < ON_LINE_MM
        if not short or by_either[some].mean() <= WHOLLY:
            continue
        if on_one_line(points, unsure, first, last) or led_along(points, unsure, first, last):
            kept[some] = False
    return kept


def _long_enough(points: Floats, unsure: Flags) -> Flags:
    """(N,) the longer stretches only: a hand's tear, or a corner, is no doubt."""
    kept, count = unsure.copy(), len(unsure)
    for first, last in runs(unsure):
        if length_of(points[np.arange(first, last + 1) % count]) < SHORTEST_MM:
            kept[np.arange(first, last) % count] = False
    return kept
