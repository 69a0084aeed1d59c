"""The best division of places that each say what they are, with a border that costs.

It is found as the least total variation (A. Chambolle, T. Pock, "A first-order primal-dual
algorithm for convex problems with applications to imaging", 2011), which has no better division
than the one its relaxed form gives (T. Chan, S. Esedoglu, M. Nikolova, "Algorithms for finding
global minimizers of image segmentation and denoising models", 2006).
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.paper.thresholds import DIVIDE_STEPS

Colours = NDArray[np.float32]
Flags = NDArray[np.bool_]
STRIP_ROWS = 32  # of all that a step needs, so many stay in a processor's nearest cache


def divided(floor_like: Colours, costs: Colours, never: Flags) -> Flags:
    """(H, W) the division with the least sum of places' own costs and its border's."""
    rows, columns = floor_like.shape
    paper = (floor_like < 0).astype(np.float32)
    paper[never] = 0
    ahead, across, down = paper.copy(), np.zeros_like(paper), np.zeros_like(paper)
    over, inflow = np.empty((2, STRIP_ROWS, columns), np.float32)
    allowed = (~never).astype(np.float32)
    step = np.float32(0.35)  # its square times 8 is under 1, as the scheme needs it
    starts = range(0, rows, STRIP_ROWS)
    strips = [slice(first, min(first + STRIP_ROWS, rows)) for first in starts]
    for _ in range(DIVIDE_STEPS):
        # What a strip needs of the one above it is as it was left in this step, and what it needs
        # of the one below as the step before left it.
        for strip in strips:
            _turned(across[strip], down[strip], ahead[strip.start : strip.stop + 1], step)
            size = strip.stop - strip.start
            some, into, now = over[:size], inflow[:size], ahead[strip]
            cv2.magnitude(across[strip], down[strip], some)
            np.divide(some, costs[strip], out=some)
            np.maximum(some, 1, out=some)
            np.divide(across[strip], some, out=across[strip])
            np.divide(down[strip], some, out=down[strip])
            np.add(across[strip], down[strip], out=into)
            into[:, 1:] -= across[strip, :-1]
            above = max(strip.start - 1, 0)
            into[strip.start == 0 :] -= down[above : strip.stop - 1]
            np.subtract(into, floor_like[strip], out=into)
            into *= step
            np.add(paper[strip], into, out=into)
            np.maximum(into, 0, out=into)
            np.minimum(into, 1, out=into)
            into *= allowed[strip]
            np.multiply(into, 2, out=now)
            now -= paper[strip]
            paper[strip] = into
    return np.asarray(paper > 0.5)


def _turned(across: Colours, down: Colours, ahead: Colours, step: np.float32) -> None:
    """Add a step of how it changes ahead, along and down, in place; ahead has the next row too."""
    size = len(across)
    across[:, :-1] += step * (ahead[:size, 1:] - ahead[:size, :-1])
    down[: len(ahead) - 1] += step * (ahead[1:] - ahead[:-1])
