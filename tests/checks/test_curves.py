"""Ridges, curves and dashes against published formulas.

- C. Steger, "An unbiased detector of curvilinear structures", IEEE PAMI 20 (1998): the response of
  a bar's profile, and how far off its middle a ridge is where the ground differs on either side.
- NIST Digital Library of Mathematical Functions, section 7.2: Fresnel integrals, whose curve (a
  clothoid) has a curvature that grows evenly with its length.
- ISO 128-2, line type 02: dashes of 12 and gaps of 3 times the line's width (from memory).
"""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter
from scipy.special import fresnel

from digitize.floor.raster import Raster
from digitize.pencil.curves import fit_curves
from digitize.pencil.fair import fair, fair_pieces
from digitize.pencil.ridges import find_ridges, second_derivatives
from digitize.pencil.strokes import find_strokes
from digitize.pencil.thresholds import NARROW_SIGMA_MM
from tests.pencil.test_pencil import paper_with, read

SIZE_MM, MM_PER_PX, FINE = (120, 80), 0.25, 8
GROUND, DARK = 180.0, 0.35


def bar(half_width, right=0.0, grain=0.0):
    """A raster with an upright bar about x = 60 mm; to its right the ground is darker by ``right``.

    ``DARK`` and ``right * DARK`` are in log units, as the reader has darkness.
    """
    columns, rows = (int(s / MM_PER_PX) for s in SIZE_MM)
    x = (np.arange(columns * FINE) + 0.5) / FINE * MM_PER_PX - 60
    inside, beyond = np.abs(x) < half_width, x >= half_width
    log = -DARK * (inside + right * beyond)
    log = log.reshape(columns, FINE).mean(axis=1)
    picture = np.full((rows, columns), GROUND) * np.exp(log / 2.2)
    rng = np.random.default_rng(3)
    picture = picture + grain * gaussian_filter(rng.standard_normal(picture.shape), 0.7)
    pixels = np.clip(np.round(picture), 0, 255).astype(np.uint8)
    top = SIZE_MM[1] - MM_PER_PX / 2
    raster = Raster(MM_PER_PX / 2, top, MM_PER_PX, np.repeat(pixels[..., None], 3, axis=2))
    return raster, np.array([[2, 2], [118, 2], [118, 78], [2, 78]], float)


@pytest.mark.parametrize("half_width", [2.0, 3.0, 5.0])
@pytest.mark.parametrize("sigma", [3.0, 4.5])
def test_a_bars_response_is_stegers(half_width, sigma):
    x = np.arange(-60, 61)
    profile = np.clip(half_width + 0.5 - np.abs(x), 0, 1)
    picture = np.repeat(profile[None], 40, axis=0).astype(np.float32)
    xx, _, _ = second_derivatives(picture, sigma)
    # r''(0) = g'(w) - g'(-w) for a bar of half width w and height 1.
    gauss = np.exp(-(half_width**2) / (2 * sigma**2)) / (np.sqrt(2 * np.pi) * sigma)
    assert xx[20, 60] == pytest.approx(-2 * half_width / sigma**2 * gauss, rel=0.04)


@pytest.mark.parametrize(("half_width", "right"), [(0.3, 0.5), (0.35, 0.5), (0.35, 0.4)])
def test_a_curve_is_freer_of_bias_than_the_crest_of_one_filter(half_width, right):
    raster, outline = bar(half_width, right)
    ridges = find_ridges(raster, outline)
    (curve,) = [c for c in fit_curves(find_strokes(ridges), ridges, raster) if c.length > 40]
    # Where the ground differs by a share of the bar, the crest lies off its middle by so much.
    sigma = NARROW_SIGMA_MM
    bias = -(sigma**2) / (2 * half_width) * np.log(1 - right)
    assert bias > 0.1
    assert abs(np.median(curve.points[:, 0]) - 60) < 0.6 * bias


@pytest.mark.parametrize("half_width", [0.4, 0.55])
def test_a_bars_width_is_read(half_width):
    raster, outline = bar(half_width, grain=1.0)
    ridges = find_ridges(raster, outline)
    (curve,) = [c for c in fit_curves(find_strokes(ridges), ridges, raster) if c.length > 40]
    assert curve.width == pytest.approx(2 * half_width, abs=0.2)
    assert curve.weight == pytest.approx(DARK * 2 * half_width, rel=0.1)
    assert np.abs(curve.points[:, 0] - 60).max() < 0.05


def noisy(points, sigma, seed=1):
    return points + np.random.default_rng(seed).normal(0, sigma / np.sqrt(2), points.shape)


@pytest.mark.parametrize("radius", [40.0, 150.0, 800.0])
def test_an_arc_is_one_piece_with_its_radius(radius):
    angle = np.arange(0, 160 / radius, 2 / radius)
    points = radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    curve = fair(noisy(points, 0.04), 0.04)
    (piece,) = curve.pieces
    assert piece.kind == "arc"
    a, b, c = piece.points
    area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
    sides = [np.linalg.norm(q - p) for p, q in ((a, b), (b, c), (c, a))]
    assert np.prod(sides) / (2 * abs(area)) == pytest.approx(radius, rel=0.02)
    assert np.abs(np.linalg.norm(curve.points, axis=1) - radius).max() < 0.05


def clothoid(length, sharpest):
    """Points 2 mm apart along a clothoid from straight to a radius of ``sharpest``."""
    along = np.arange(0, length, 2.0)
    scale = np.sqrt(np.pi * length * sharpest)
    s, c = fresnel(along / scale)
    return scale * np.stack([c, s], axis=1)


@pytest.mark.parametrize("sharpest", [80.0, 200.0])
def test_a_clothoids_curvature_grows_evenly(sharpest):
    length = 240.0
    points = clothoid(length, sharpest)
    curve = fair(noisy(points, 0.03), 0.03)
    assert {piece.kind for piece in curve.pieces} == {"cubic"} and len(curve.pieces) <= 8
    p = curve.points
    a, b, c = p[:-20], p[10:-10], p[20:]
    area = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    sides = [np.linalg.norm(v, axis=1) for v in (b - a, c - b, a - c)]
    bend = 2 * area / (sides[0] * sides[1] * sides[2])
    place = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(p, axis=0), axis=1))])[10:-10]
    wanted = place / (length * sharpest)
    assert np.sqrt(((bend - wanted) ** 2).mean()) * 1000 < 0.6  # 1/m


def test_pieces_keep_a_corner_and_take_few():
    arc = 100 * np.stack([np.sin(np.linspace(0, 1, 101)), np.cos(np.linspace(0, 1, 101))], axis=1)
    leg = arc[-1] + np.linspace(0, 60, 61)[1:, None] * np.array([[0.0, -1.0]])
    pieces = fair_pieces(np.concatenate([arc, leg]), 0.01).pieces
    assert [piece.kind for piece in pieces] == ["arc", "line"]
    assert np.linalg.norm(pieces[0].points[-1] - arc[-1]) < 0.05


@pytest.mark.parametrize("width", [0.7, 1.0])
def test_iso_dashes_are_one_dashed_line(width):
    dash, gap = 12 * width, 3 * width
    starts = np.arange(15, 125 - dash, dash + gap)
    dashes = [np.array([[x, 60], [x + dash - width, 60 + 0.1]]) for x in starts]
    (curve,) = [c for c in read(*paper_with(dashes, width)) if c.length > 20]
    assert curve.dashed
    assert curve.length == pytest.approx(starts[-1] + dash - starts[0], abs=2.0)
    (solid,) = [
        c for c in read(*paper_with([np.array([[15, 60], [125, 60]])], width)) if c.length > 20
    ]
    assert not solid.dashed
