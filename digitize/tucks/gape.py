"""How far a slit gapes: its edges lie apart, and the floor shows between them.

A slit that lies open in the photo has turned about its tip, so its gap grows with the depth. What
was drawn on either flap then stands half the gap further off the slit's middle than it is.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from digitize.pencil import Curve, DarknessAt
from digitize.plane import places_beside, square_to

Floats = NDArray[np.float64]
Gape = Callable[[Floats], Floats]  # mm, at depths, mm
REACH_MM, STEP_MM = 4.0, 0.1
NEAR_MM = 1.0  # the cut's middle is at most so far from where it was traced
DEPTH_STEP_MM, ROWS = 1.0, 5
LEAST_DEPTH_MM, FEWEST = 10.0, 10
CLOSED_SHARE, WIDER_MM, LEAST_ALIKE = 0.25, 0.3, 0.7


def gape_of(cut: Curve, darkness_at: DarknessAt) -> Gape:
    """How wide a slit gapes at a depth, mm: 0 for one that is closed.

    Its width is that over which it is half as dark as in its middle. Near the tip that is what the
    camera's blur makes of any cut; where it is plainly wider, it is the gap.

    Parameters
    ----------
    darkness_at : darkness of the paper at points (..., 2), mm.
    """
    depths = np.arange(LEAST_DEPTH_MM, cut.length - DEPTH_STEP_MM * ROWS, DEPTH_STEP_MM)
    if len(depths) < FEWEST:
        return np.zeros_like
    offsets = np.arange(-REACH_MM, REACH_MM + STEP_MM / 2, STEP_MM)
    places, normals = square_to(cut.points, depths, 2.0)
    dark = uniform_filter1d(darkness_at(places_beside(places, normals, offsets)), ROWS, axis=0)
    near = np.where(np.abs(offsets) < NEAR_MM, dark, -np.inf)
    middle = near.argmax(axis=1)[:, None]
    pale = dark < near.max(axis=1, keepdims=True) / 2
    index = np.arange(len(offsets))
    # From the last pale place before the middle to the first after it.
    before = np.where(pale & (index < middle), index, -1).max(axis=1)
    after = np.where(pale & (index > middle), index, len(offsets)).min(axis=1)
    widths = (after - before - 1) * STEP_MM
    closed = float(np.quantile(widths, CLOSED_SHARE))
    wider = widths > closed + WIDER_MM
    if wider.sum() < FEWEST:
        return np.zeros_like
    slope = float(np.median(widths[wider] / depths[wider]))
    # A line beside the slit widens it here and there, but not as a gap does.
    alike = np.abs(widths - np.maximum(closed, slope * depths)) < WIDER_MM
    return (lambda at: slope * at) if alike.mean() > LEAST_ALIKE else np.zeros_like
