"""A radius band as the paper has it: how far a place lies from where the bend starts.

The paper lay on the bend, so square to the radius start the paper's lengths are the surface's, and
across the band's width the metal turns by width over radius.

Along the bend the surface curves where the radius start does. Square to a line of curvature k on
the flat, lines at a depth v are G(v) times as long as it; with p(v) turned so far, the equations of
Gauss and of D. Codazzi and G. Mainardi say G' = k cos p, and that the curvature along is
k sin p / G (M. do Carmo, Differential Geometry of Curves and Surfaces, 1976, section 4-3, where the
bend's lines are those of curvature). So it is round a torus, and on the cone that goes on from
there; where the radius grows along the bend it is near.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from scipy.spatial import KDTree

from digitize.plane import cross, evenly, running_length
from digitize.record import Band, Pattern

Floats = NDArray[np.float64]
STEP_MM = 1.0
# A pencil line that is 0.05 mm off to and fro over 31 mm seems to curve by 2 / m; smoothed so, by a
# twentieth of that, and a corner's own curvature, which grows over its tens of mm, is kept.
SMOOTH_MM = 12.0
CURVED_REACH_MM = 40.0  # along a bend, over which a corner's openness fades


@dataclass(frozen=True)
class Strip:
    """A band's radius start, and what lies square to it on the side where the bend lies.

    Attributes
    ----------
    band : its id.
    path, ahead, out : (N, 2) places along the start, about STEP_MM apart; unit vectors along it,
        and square to it towards the bend.
    reached : (N,) how far along they are, mm.
    curving : (N,) of the start on the flat, 1 / mm; positive where what lies towards the bend
        fans out.
    curved : (N,) how much it curves near there, whichever way, 1 / mm.
    along, width, radius : of stations along the start, mm; radius is nan where none is told.
    """

    band: str
    path: Floats
    ahead: Floats
    out: Floats
    reached: Floats
    curving: Floats
    curved: Floats
    along: Floats
    width: Floats
    radius: Floats

    def end(self) -> Floats:
        """(N, 2) where the radius ends."""
        width = np.interp(self.reached, self.along, self.width)
        return np.asarray(self.path + width[:, None] * self.out)

    def placed(self, places: Floats) -> "Placed":
        """Where places (N, 2) lie: straight on beyond the start's ends."""
        _, nearest = KDTree(self.path).query(places)
        off = places - self.path[nearest]
        ahead, out = self.ahead[nearest], self.out[nearest]
        depth, curving = (off * out).sum(axis=1), self.curving[nearest]
        onward = (off * ahead).sum(axis=1)
        out = out + (curving * onward)[:, None] * ahead
        out /= np.linalg.norm(out, axis=1, keepdims=True)
        along = self.reached[nearest] + onward
        radius = np.interp(along, self.along, self.radius)
        width = np.interp(along, self.along, self.width)
        past = np.maximum(np.maximum(-along, along - self.reached[-1]), 0.0)
        return Placed(depth, along, past, width, radius, curving, self.curved[nearest], out)


@dataclass(frozen=True)
class Placed:
    """Places beside a strip: (N,) depths, how far along the start and how far past its ends, widths
    of the band and radii there, mm; how the radius start curves, and how much near there (1 / mm);
    and (N, 2) the way across.
    """

    depth: Floats
    along: Floats
    past: Floats
    width: Floats
    radius: Floats
    curving: Floats
    curved: Floats
    out: Floats

    @property
    def turned(self) -> Floats:
        """(N,) how far the metal has turned there, radians."""
        return np.asarray(np.clip(self.depth, 0.0, self.width) / self.radius)


def beside(
    strips: Sequence[Strip], places: Floats
) -> tuple[Placed, NDArray[np.bool_], NDArray[np.int64]]:
    """Places (N, 2) beside the strip that each belongs to; whether it lies on a bend's side; and
    which strip that is (N,).

    It belongs to the bend that it lies on, or least far beyond. A strip goes straight on past its
    start's ends, so far as no other lies there: a radius start may be read in two lines.
    """
    found = [strip.placed(places) for strip in strips]
    depth = np.array([each.depth for each in found])
    beyond = np.where(depth > 0, np.maximum(depth - [e.width for e in found], 0.0), np.inf)
    own = np.argmin(beyond + [each.past for each in found], axis=0)

    def chosen(name: str) -> Floats:
        values = np.array([getattr(each, name) for each in found])
        return np.asarray(values[own, np.arange(len(places))])

    names = ("depth", "along", "past", "width", "radius", "curving", "curved", "out")
    return Placed(*(chosen(name) for name in names)), np.isfinite(beyond.min(axis=0)), own


def foretold_by(strips: Sequence[Strip]) -> Callable[[Floats], Floats] | None:
    """The shrink that bends make at places (N, 2), where their radii are told; None without any.

    At a depth v the paper is 1 + v k times as long as the radius start and the metal is G(v), so
    the shrink is k times (v less the integral of cos p) over 1 + v k.
    """
    told = [strip for strip in strips if np.isfinite(strip.radius).all()]
    if not told:
        return None

    def foretold(places: Floats) -> Floats:
        at, of_a_bend, _ = beside(told, places)
        turned = at.turned
        past = np.maximum(at.depth - at.width, 0.0)
        within = np.clip(at.depth, 0.0, at.width)
        lost = within - at.radius * np.sin(turned) + past * (1 - np.cos(turned))
        shrink = at.curving * lost / np.maximum(1 + at.curving * at.depth, 0.1)
        return np.asarray(np.where(of_a_bend, np.maximum(shrink, 0.0), 0.0))

    return foretold


def strips_of(pattern: Pattern) -> tuple[Strip, ...]:
    """A strip for each of a pattern's bands."""
    return tuple(_strip(pattern, band) for band in pattern.bands)


def _strip(pattern: Pattern, band: Band) -> Strip:
    path = np.array(pattern.line(band.start).path)
    length = float(running_length(path)[-1])
    path = evenly(path, STEP_MM)
    step = length / (len(path) - 1)
    run = np.gradient(path, axis=0)
    heading = np.unwrap(np.arctan2(run[:, 1], run[:, 0]))
    # Straight on beyond the ends, where a filter would bend a line towards its mean.
    heading = gaussian_filter1d(heading, SMOOTH_MM / step, mode="nearest")
    ahead = np.column_stack([np.cos(heading), np.sin(heading)])
    ends = np.concatenate([np.array(pattern.line(name).path) for name in band.ends])
    _, nearest = KDTree(ends).query(path)
    on_left = float(np.median(cross(ahead, ends[nearest] - path))) > 0
    out = np.column_stack([-ahead[:, 1], ahead[:, 0]]) * (1.0 if on_left else -1.0)
    # Turning away from the side where the bend lies, the flat paper fans out there.
    curving = np.asarray(np.gradient(heading, step) * (-1.0 if on_left else 1.0), dtype=float)
    stations = band.stations
    return Strip(
        band.id,
        path,
        ahead,
        out,
        np.linspace(0.0, length, len(path)),
        curving,
        gaussian_filter1d(np.abs(curving), CURVED_REACH_MM / step, mode="nearest"),
        np.array([s.along for s in stations]),
        np.array([s.width for s in stations]),
        np.array([np.nan if s.radius is None else s.radius for s in stations]),
    )
