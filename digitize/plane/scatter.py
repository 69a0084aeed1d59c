"""The scatter of values, some of which may be far off."""

import numpy as np
from numpy.typing import NDArray

# The median of the absolute deviations of a normal scatter is 0.6745 sigma.
MEDIAN_TO_SIGMA = 1.4826


def robust_sigma(values: NDArray[np.floating], middle: float | NDArray[np.floating] = 0.0) -> float:
    """Sigma of values about a middle, by the median of how far they are from it.

    F. R. Hampel, "The influence curve and its role in robust estimation", Journal of the American
    Statistical Association 69, 1974.
    """
    return MEDIAN_TO_SIGMA * float(np.median(np.abs(values - middle)))
