"""What is known of a panel's shape, at any place of its paper."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from digitize.form.metric import Form

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Shape:
    """A panel's lengths and bending, each of places (N, 2) on the paper, mm.

    Attributes
    ----------
    metric : the first form: squares of finished lengths, per square of the paper's.
    bend : the second form as far as it is known, per square of the paper's lengths, 1 / mm; proud
        towards the marked face is positive.
    across : (N, 2) unit vectors across the bend.
    strain_sigma : (N,) what a length may be off by, over it.
    bend_sigma : (N, 3) what the curvature across, the twist and the curvature along may be off by,
        1 / mm.
    """

    metric: Form
    bend: Form
    across: Form
    strain_sigma: Callable[[Floats], Floats]
    bend_sigma: Form
