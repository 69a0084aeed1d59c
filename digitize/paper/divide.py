"""The best division of places that each say what they are, with a border that costs.

It is found as the least total variation (A. Chambolle, T. Pock, "A first-order primal-dual
algorithm for convex problems with applications to imaging", 2011), which has no better division
than the one its relaxed form gives (T. Chan, S. Esedoglu, M. Nikolova, "Algorithms for finding
global minimizers of image segmentation and denoising models", 2006).

A step changes a place by itself and its neighbours alone. So where nothing changed in one step,
and nothing next to it, nothing will in the next: all but a few places in a hundred are left alone,
and what comes out is the same to the last bit as if all had been worked out.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.paper.thresholds import DIVIDE_STEPS

Colours = NDArray[np.float32]
Flags = NDArray[np.bool_]
Numbers = NDArray[np.int64]
STEPS_AT_ONCE = 5  # before it is seen again which places still change


def divided(floor_like: Colours, costs: Colours, never: Flags) -> Flags:
    """(H, W) the division with the least sum of places' own costs and its border's."""
    paper = (floor_like < 0).astype(np.float32)
    paper[never] = 0
    # Of each place: whether it is paper, the same a step ahead, and what flows along and down.
    state = np.zeros((4, paper.size), np.float32)
    state[:2] = paper.ravel()
    given = np.stack([floor_like.ravel(), costs.ravel(), ~never.ravel()]).astype(np.float32)
    # At first nothing flows, and only at a border does anything change.
    border = cv2.morphologyEx(paper, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8))
    changed = border.astype(np.uint8)
    for begun in range(0, DIVIDE_STEPS, STEPS_AT_ONCE):
        steps = min(STEPS_AT_ONCE, DIVIDE_STEPS - begun)
        reached = cv2.dilate(changed, np.ones((2 * steps + 1, 2 * steps + 1), np.uint8))
        about = cv2.dilate(reached, np.ones((3, 3), np.uint8)) - reached
        at, still = (np.flatnonzero(each.view(np.bool_)) for each in (reached, about))
        now, before = _stepped(
            state.take(np.append(at, still), axis=1),
            given.take(at, axis=1),
            _beside(at, still, paper.shape),
            steps,
        )
        state[:, at] = now
        changed = np.zeros(paper.shape, np.uint8)
        changed.flat[at] = (now != before).any(axis=0)
    return np.asarray(state[0].reshape(paper.shape) > 0.5)


def _beside(at: Numbers, still: Numbers, shape: tuple[int, ...]) -> tuple[Numbers, ...]:
    """Which place lies right of each of some places (N,), below, left and above.

    By its number among them and those (M,) round about that stay as they are. At the picture's
    edge that is the place itself to the right and below, and to the left and above N + M.
    """
    count, columns = len(at), shape[1]
    own, column = np.arange(count), at % columns
    which = np.empty(shape[0] * columns, np.int64)
    which[at] = own
    which[still] = count + np.arange(len(still))
    nowhere = count + len(still)
    right = np.where(column < columns - 1, which.take(at + 1, mode="clip"), own)
    below = np.where(at < which.size - columns, which.take(at + columns, mode="clip"), own)
    left = np.where(column > 0, which[at - 1], nowhere)
    above = np.where(at >= columns, which[at - columns], nowhere)
    return right, below, left, above


def _stepped(
    state: Colours, given: Colours, beside: tuple[Numbers, ...], steps: int
) -> tuple[Colours, Colours]:
    """The state (4, N) of some places after so many steps, and before the last of them.

    ``state`` (4, N + M) is that of those round about too, which stay as they are.
    """
    floor_like, costs, allowed = given
    right, below, left, above = beside
    size = np.float32(0.35)  # of a step; its square times 8 is under 1, as the scheme needs it
    # One more, where nothing flows.
    state = np.pad(state, ((0, 0), (0, 1)))
    now = state[:, : len(costs)]
    paper, ahead, across, down = now
    flow, into = np.empty((2, len(costs)), np.float32)
    before = now.copy()
    for step in range(steps):
        if step == steps - 1:
            before[:] = now
        for dual, towards in ((across, right), (down, below)):
            np.take(state[1], towards, out=flow, mode="clip")  # any other mode copies
            flow -= ahead
            flow *= size
            dual += flow
        cv2.magnitude(across, down, flow)
        flow /= costs
        np.maximum(flow, 1, out=flow)
        across /= flow
        down /= flow
        np.add(across, down, out=into)
        into -= np.take(state[2], left, out=flow, mode="clip")
        into -= np.take(state[3], above, out=flow, mode="clip")
        into -= floor_like
        into *= size
        into += paper
        np.maximum(into, 0, out=into)
        np.minimum(into, allowed, out=into)
        np.multiply(into, 2, out=ahead)
        ahead -= paper
        paper[:] = into
    return now, before
