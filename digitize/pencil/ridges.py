"""Pencil as ridges of darkness: how dark, which way the line runs, and its middle.

A line's cross profile is read with the second derivative of a Gaussian, as C. Steger does ("An
unbiased detector of curvilinear structures", IEEE PAMI 20, 1998). A faint line is told from the
paper's grain by its length, so the derivative across is averaged along each of a set of
directions (a steerable filter: W. T. Freeman and E. H. Adelson, "The design and use of steerable
filters", IEEE PAMI 13, 1991), and the best direction kept.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.floor.raster import Raster

Floats = NDArray[np.float32]
LINE_SIGMA_MM = 0.36  # suits lines of 0.3 to 1.3 mm
ALONG_SIGMA_MM = 1.8
DIRECTIONS = 16
GROUND_SIGMA_MM = 5.0
EDGE_MARGIN_MM = 0.9


@dataclass(frozen=True)
class RidgeMap:
    """What the ridge filter saw, pixel by pixel.

    Attributes
    ----------
    darkness : (H, W) log of the paper's brightness around over the brightness here; 0 off paper.
    strength : (H, W) second derivative across the best direction, times sigma squared.
    direction : (H, W) of the line, radians, x right and y down.
    crest : (H, W) True where strength is highest across the line.
    blank, noise : strength on unmarked paper: its median, and a robust standard deviation.
    """

    darkness: Floats
    strength: Floats
    direction: Floats
    crest: NDArray[np.bool_]
    blank: float
    noise: float


def darkness_of(raster: Raster, paper: NDArray[np.bool_]) -> Floats:
    """(H, W) log brightness of the paper round about, less the log brightness here.

    Shadows and shading are wide and drop out; pencil is narrow and stays.
    """
    grey = cv2.cvtColor(raster.pixels, cv2.COLOR_RGB2GRAY).astype(np.float32) / 255
    log = np.log(grey**2.2 + 0.004)  # sRGB's mean gamma, with a floor against noise in the dark
    weight = paper.astype(np.float32)
    sigma = GROUND_SIGMA_MM / raster.mm_per_px
    ground = _blurred(log * weight, sigma) / np.maximum(_blurred(weight, sigma), 1e-3)
    # Once more without what is darker than its surroundings, so that lines don't dim the ground.
    weight *= log > ground - 0.12
    ground = _blurred(log * weight, sigma) / np.maximum(_blurred(weight, sigma), 1e-3)
    return np.where(paper, ground - log, 0).astype(np.float32)


def _blurred(picture: Floats, sigma: float) -> Floats:
    """A wide Gaussian blur, on a quarter of the pixels each way."""
    rows, columns = picture.shape
    small = cv2.resize(picture, (columns // 4, rows // 4), interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(small, (0, 0), sigma / 4)
    return np.asarray(cv2.resize(small, (columns, rows), interpolation=cv2.INTER_LINEAR))


def paper_mask(raster: Raster, outline: NDArray[np.float64], margin_mm: float) -> NDArray[np.bool_]:
    """(H, W) True inside the outline (N, 2), at least ``margin_mm`` from it."""
    mask = np.zeros(raster.pixels.shape[:2], np.uint8)
    cv2.fillPoly(mask, [np.round(raster.to_px(outline)).astype(np.int32)], 1)
    size = 2 * round(margin_mm / raster.mm_per_px) + 1
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    return np.asarray(cv2.erode(mask, kernel) > 0)


def find_ridges(raster: Raster, outline: NDArray[np.float64]) -> RidgeMap:
    """The ridge map of the paper inside the outline (N, 2, mm)."""
    paper = paper_mask(raster, outline, EDGE_MARGIN_MM)
    darkness = darkness_of(raster, paper)
    sigma = LINE_SIGMA_MM / raster.mm_per_px
    xx, xy, yy = _second_derivatives(darkness, sigma)
    strength = np.full(darkness.shape, -np.inf, np.float32)
    direction = np.zeros(darkness.shape, np.float32)
    for index in range(DIRECTIONS):
        angle = np.pi * index / DIRECTIONS
        cos, sin = np.cos(angle), np.sin(angle)
        # Across the line at this angle: normal (-sin, cos).
        across = sin * sin * xx - 2 * sin * cos * xy + cos * cos * yy
        response = cv2.filter2D(-across, -1, _along(angle, ALONG_SIGMA_MM / raster.mm_per_px))
        better = response > strength
        strength[better] = response[better]
        direction[better] = angle
    strength *= sigma**2
    strength[~paper] = 0
    crest = _crest(strength, direction) & paper
    on_paper = strength[paper & (strength > 0)]
    blank = float(np.median(on_paper)) if on_paper.size else 0.0
    noise = 1.4826 * float(np.median(np.abs(on_paper - blank))) if on_paper.size else 1.0
    return RidgeMap(darkness, strength, direction, crest, blank, max(noise, 1e-6))


def _second_derivatives(picture: Floats, sigma: float) -> tuple[Floats, Floats, Floats]:
    reach = int(np.ceil(4 * sigma))
    x = np.arange(-reach, reach + 1)
    plain = np.exp(-(x**2) / (2 * sigma**2))
    plain /= plain.sum()
    first = -x / sigma**2 * plain
    second = (x**2 / sigma**4 - 1 / sigma**2) * plain
    second -= second.mean()

    def filtered(horizontal: NDArray[np.float64], vertical: NDArray[np.float64]) -> Floats:
        return np.asarray(cv2.sepFilter2D(picture, -1, horizontal[::-1], vertical[::-1]))

    return filtered(second, plain), filtered(first, first), filtered(plain, second)


def _along(angle: float, sigma: float) -> Floats:
    """A kernel that averages along a line through its middle, one pixel wide."""
    reach = int(np.ceil(2 * sigma))
    y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1].astype(float)
    along = x * np.cos(angle) + y * np.sin(angle)
    across = -x * np.sin(angle) + y * np.cos(angle)
    kernel = np.exp(-(along**2) / (2 * sigma**2)) * np.clip(1 - np.abs(across), 0, 1)
    return np.asarray(kernel / kernel.sum(), np.float32)


def _crest(strength: Floats, direction: Floats) -> NDArray[np.bool_]:
    """Where strength is no lower than one pixel to either side across the line."""
    crest = np.zeros(strength.shape, bool)
    for index in range(4):
        # The nearest of the four pixel directions across.
        centre = np.pi * index / 4
        apart = np.abs((direction - centre + np.pi / 2) % np.pi - np.pi / 2)
        row, column = ((1, 0), (1, -1), (0, 1), (1, 1))[index]
        one = np.roll(strength, (row, column), (0, 1))
        two = np.roll(strength, (-row, -column), (0, 1))
        crest |= (apart <= np.pi / 8 + 1e-6) & (strength >= one) & (strength > two)
    return crest
