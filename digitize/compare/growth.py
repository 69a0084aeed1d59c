"""How a paper has grown or shrunk since an earlier reading of it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from digitize.plane import Placement

Floats = NDArray[np.float64]

NORMAL_95 = 1.96


@dataclass(frozen=True)
class Growth:
    """Uniform growth along the direction in which it is largest, and square to that, as shares.

    ``along_deg`` is that direction in the earlier pattern's frame; ``within`` is how far either may
    be off (95 %).
    """

    along: float
    across: float
    along_deg: float
    within: float

    @property
    def is_sure(self) -> bool:
        """Whether the paper has changed by more than may be off."""
        return max(abs(self.along), abs(self.across)) > self.within


def growth_in(placement: Placement, points: Floats, accuracy_mm: float) -> Growth:
    """The growth in a placement of a later reading on an earlier one.

    Parameters
    ----------
    placement : fitted with growth.
    points : (N, 2) of the earlier pattern, mm; its size tells what the accuracy amounts to.
    accuracy_mm : within what both readings together are of true size (95 %).

    The stretch is the symmetric factor of the placement's polar decomposition.
    """
    left, factors, _ = np.linalg.svd(placement.matrix)
    shares = 1 / factors - 1  # the placement takes the growth back
    first = int(np.argmax(np.abs(shares)))
    way = left[:, first]
    strain = float(np.sqrt(np.diag(placement.covariance)[3:5].max()))
    reach = float(np.ptp(points, axis=0).max()) / 2
    return Growth(
        along=float(shares[first]),
        across=float(shares[1 - first]),
        along_deg=float(np.degrees(np.arctan2(way[1], way[0])) % 180),
        within=float(np.hypot(NORMAL_95 * strain, accuracy_mm / reach)),
    )


def about_growth(growth: Growth) -> str:
    """The growth in words."""

    def said(share: float) -> str:
        return f"{'grown' if share >= 0 else 'shrunk'} by {abs(share):.2%}"

    return (
        f"the paper has {said(growth.along)} along {growth.along_deg:.0f} degrees and "
        f"{said(growth.across)} across that, each to {growth.within:.2%}"
    )
