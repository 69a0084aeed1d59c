"""Values along many lines in one array, line after line: their filters keep to each line."""

from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
Flags = NDArray[np.bool_]
Kind = TypeVar("Kind", bound=np.generic)


@dataclass(frozen=True)
class Runs:
    """How the values lie.

    Attributes
    ----------
    sizes : (K,) how many values each line has, one or more; N together.
    closed : (K,) whether a line's last value goes on to its first.
    """

    sizes: Whole
    closed: Flags

    @cached_property
    def starts(self) -> Whole:
        """(K,) where each line's values begin."""
        return np.cumsum(self.sizes) - self.sizes

    def parts(self, values: NDArray[Kind]) -> list[NDArray[Kind]]:
        """Each line's values."""
        return np.split(values, self.starts[1:])

    def spread(self, values: NDArray[Kind]) -> NDArray[Kind]:
        """(N, ...) each line's one value (K, ...) for all of its places."""
        return np.repeat(values, self.sizes, axis=0)

    def quantiles(self, values: Floats, share: float = 0.5) -> Floats:
        """(K,) the value that such a share of each line's values (N,) stay below; its median."""
        ordered = values[np.lexsort((values, self.spread(np.arange(len(self.sizes)))))]
        place = self.starts + share * (self.sizes - 1)
        low, high = ordered[np.floor(place).astype(int)], ordered[np.ceil(place).astype(int)]
        return np.asarray(low + (place % 1) * (high - low))

    def means(self, values: Floats) -> Floats:
        """(K, ...) each line's mean."""
        total = np.add.reduceat(values, self.starts, axis=0)
        return np.asarray(total / self.sizes.reshape(-1, *[1] * (values.ndim - 1)))

    def blurred(self, values: Floats, sigma: float) -> Floats:
        """The values (N, ...) blurred along each line by a Gaussian; an open one's ends go on."""
        reach = int(4 * sigma + 0.5)
        kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
        take, own = self._padded(reach)
        table = values.reshape(len(values), -1)[take]
        blurred = cv2.sepFilter2D(table, -1, np.ones(1), kernel / kernel.sum())
        return np.asarray(blurred[own], np.float64).reshape(values.shape)

    def typical(self, values: Floats, width: int, beyond: float | None = None) -> Floats:
        """(N,) the median of so many values (N,) round about; beyond a line's ends, if given."""
        take, own = self._padded(width // 2)
        padded = values[take] if beyond is None else np.where(own, values[take], beyond)
        return np.asarray(median_filter(padded, width)[own])

    def _padded(self, reach: int) -> tuple[Whole, Flags]:
        """Which values to take, each line's with so many more at both ends; and which are own."""
        wide = self.sizes + 2 * reach
        place = np.arange(wide.sum()) - np.repeat(np.cumsum(wide) - wide + reach, wide)
        size = np.repeat(self.sizes, wide)
        inside = np.where(self.closed.repeat(wide), place % size, np.clip(place, 0, size - 1))
        return inside + np.repeat(self.starts, wide), (place >= 0) & (place < size)
