"""Finished lengths: what the paper measures, less what its tucks take up.

The paper between its tucks is the panel's surface laid flat: its tucks closed, every length along a
curve of equal depth is shorter by the local shrink there, and lengths across those curves stay. So
at each place the paper has a metric: the squares of finished lengths, per square of the paper's.
The smooth field of shrink spreads each tuck over its share of the zone, so that the net of
triangles needs no gaps: it is that of the closed panel.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import LinearNDInterpolator

from digitize.form.mesh import Ints
from digitize.plane import running_length
from digitize.take_up import Fan

Floats = NDArray[np.float64]
# At places (N, 2) a symmetric form's parts (N, 3): xx, xy, yy.
Form = Callable[[Floats], Floats]
ROWS, BEYOND_MM = 24, 12.0
FORETOLD_BEYOND = 1.0  # spacings past the outermost tucks, over which a foretold shrink may end
LEAST_FORETOLD = 0.02  # of the largest foretold along a row
LEAST_SHRINK, FORETOLD_ROWS = 1e-3, 0.5  # of a fan's rows, for what is foretold to count
# Gauss and Legendre's places and weights on an edge, from 0 to 1.
NODES, WEIGHTS = np.polynomial.legendre.leggauss(4)
NODES, WEIGHTS = (NODES + 1) / 2, WEIGHTS / 2


def of_vectors(form: Floats, one: Floats, two: Floats) -> Floats:
    """(...,) a symmetric form (..., 3) of two vectors (..., 2)."""
    return np.asarray(
        form[..., 0] * one[..., 0] * two[..., 0]
        + form[..., 1] * (one[..., 0] * two[..., 1] + one[..., 1] * two[..., 0])
        + form[..., 2] * one[..., 1] * two[..., 1]
    )


def form_along(ways: Floats, size: Floats) -> Floats:
    """(..., 3) the form of a size (...,) along unit vectors (..., 2), and none across them."""
    x, y = ways[..., 0], ways[..., 1]
    return np.stack([size * x * x, size * x * y, size * y * y], axis=-1)


def stretched_along(along: Floats, shrink: Floats) -> Floats:
    """(..., 3) the metric where lengths along unit vectors shrink, and those across stay."""
    less = form_along(along, (1 - shrink) ** 2 - 1)
    return np.asarray(np.array([1.0, 0.0, 1.0]) + less)


def field_depths(fan: Fan) -> Floats:
    """(ROWS, T) depths at each tuck of rows from the tips to somewhat beyond the trim edge, which
    may bulge between the tucks.
    """
    share = np.linspace(0.0, 1.0, ROWS)[:, None]
    return np.asarray(fan.tips + share * (fan.trims - fan.tips + BEYOND_MM))


def ways_along(rows: Floats) -> Floats:
    """(R, M, 2) unit vectors along rows."""
    along = np.gradient(rows, axis=1)
    return np.asarray(along / (np.linalg.norm(along, axis=2, keepdims=True) + 1e-12))


@dataclass(frozen=True)
class TakenUp:
    """Where a fan's tucks take up, over the net.

    Attributes
    ----------
    depths : (R, T) of rows at each tuck.
    rows : (R, M, 2) curves across the tucks, mm.
    foretold : (R, M) the shrink that the radii told say there is, up to a factor; nothing where
        they say nothing.
    """

    fan: Fan
    depths: Floats
    rows: Floats
    foretold: Floats

    def shrinks(self, laps: Floats) -> Floats:
        """(R, M) the local shrink that gives back laps (R, T) at the rows' depths."""
        along = running_length(self.rows)
        found = np.zeros(self.foretold.shape)
        for row, (way, told, taken) in enumerate(zip(along, self.foretold, laps, strict=True)):
            most = float(told.max())
            # A little everywhere, so that no lap is lost.
            share = np.maximum(told / most, LEAST_FORETOLD) if most > 0 else np.ones(len(way))
            course = np.append(0.0, np.cumsum((share[1:] + share[:-1]) / 2 * np.diff(way)))
            found[row] = self.fan.spread_out(course, taken) * share
        return found

    def less(self, shrinks: Floats) -> Floats:
        """(R, M, 3) what shrinks add to the paper's metric."""
        return stretched_along(ways_along(self.rows), shrinks) - [1.0, 0.0, 1.0]


def taken_up(fan: Fan, foretell: Callable[[Floats], Floats] | None) -> TakenUp:
    """Where a fan takes up.

    Between its tucks take-up goes by what is foretold of it, and by nothing but the way along where
    nothing is. What is foretold says too how far past the outermost tucks it goes on.

    Parameters
    ----------
    foretell : the shrink at places (N, 2) that the radii told say; None if they say nothing.
    """
    depths = field_depths(fan)
    rows = fan.rows(depths, FORETOLD_BEYOND)
    if foretell is not None and not fan.closed:
        told = foretell(rows.reshape(-1, 2)).reshape(rows.shape[:2])
        if (told.max(axis=1) > LEAST_SHRINK).mean() > FORETOLD_ROWS:
            return TakenUp(fan, depths, rows, told)
    rows = fan.rows(depths)
    return TakenUp(fan, depths, rows, np.zeros(rows.shape[:2]))


def metric_of(parts: Sequence[TakenUp]) -> Form:
    """The metric of a paper with these fans of tucks."""
    found = []
    for part in parts:
        less = part.less(part.shrinks(part.fan.take_up(part.depths)))
        places, values = part.rows.reshape(-1, 2), less.reshape(-1, 3)
        found.append(LinearNDInterpolator(places, values, fill_value=0.0))

    def metric(places: Floats) -> Floats:
        whole = np.tile([1.0, 0.0, 1.0], (len(places), 1))
        for each in found:
            whole += each(places)
        return whole

    return metric


def finished_lengths(paper: Floats, edges: Ints, metric: Form, bend: Form) -> Floats:
    """(E,) straight lengths in space between corners (V, 2) of edges (E, 2), mm.

    Along the surface an edge measures the integral of its finished length. Straight through space
    that is less by L^3 k^2 / 24 where the surface curves by k along it.

    Parameters
    ----------
    bend : the surface's second form, per square of the paper's lengths; proud is positive.
    """
    start, run = paper[edges[:, 0]], np.diff(paper[edges], axis=1)[:, 0]
    along, sagging = np.zeros(len(edges)), np.zeros(len(edges))
    for node, weight in zip(NODES, WEIGHTS, strict=True):
        places = start + node * run
        squared = of_vectors(metric(places), run, run)
        along += weight * np.sqrt(squared)
        sagging += weight * of_vectors(bend(places), run, run)
    return np.asarray(along - sagging**2 / (24 * along))
