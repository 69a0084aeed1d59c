"""How sharp a photo is at a card, by the borders between its black and white cells."""

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from digitize.card.find import FoundCard
from digitize.card.layout import CELL_MM

HALF_CELLS = 0.4  # of a cell to both sides of a border
SAMPLES = 81
FEWEST_BORDERS = 6


def blur_mm(grey: NDArray[np.uint8], card: FoundCard) -> float | None:
    """Deviation (mm on the card) of the Gaussian that blurs a card's borders in a grey picture.

    Across a step of height h that a Gaussian of deviation s has blurred, the slope is itself that
    Gaussian: at its steepest h / (s sqrt(2 pi)). The median over the card's borders; None if too
    few of them are seen.
    """
    steps = _borders(card)
    if len(steps) < FEWEST_BORDERS:
        return None
    first, second = card.pixels[steps[:, 0]], card.pixels[steps[:, 1]]
    # A border runs from corner to corner; across it a cell reaches as far as along, turned.
    along = second - first
    across = np.column_stack([-along[:, 1], along[:, 0]])
    cells = np.linspace(-HALF_CELLS, HALF_CELLS, SAMPLES)
    at = (first + second)[:, None] / 2 + cells[None, :, None] * across[:, None]
    tones = cv2.remap(
        grey, at[..., 0].astype(np.float32), at[..., 1].astype(np.float32), cv2.INTER_CUBIC
    ).astype(float)
    end = SAMPLES // 8
    height = np.abs(tones[:, -end:].mean(axis=1) - tones[:, :end].mean(axis=1))
    # A straight line through a few samples has less noise than the difference of two of them; it
    # is shorter than the photo's own pixels, which blur no less.
    per_sample = np.linalg.norm(across, axis=1) * (cells[1] - cells[0])
    window = int(np.clip(round(1 / float(np.median(per_sample))), 1, end))
    slope = np.abs(tones[:, window:] - tones[:, :-window]).max(axis=1) / window
    seen = height > 0
    if seen.sum() < FEWEST_BORDERS:
        return None
    samples = height[seen] / (slope[seen] * np.sqrt(2 * np.pi))
    return float(np.median(samples) * (cells[1] - cells[0]) * CELL_MM)


def _borders(card: FoundCard) -> NDArray[np.int64]:
    """(N, 2) which corners that were seen are neighbours, with a border between their cells."""
    pairs = cKDTree(card.corners_mm).query_pairs(1.01 * CELL_MM, output_type="ndarray")
    return np.asarray(pairs, np.int64).reshape(-1, 2)
