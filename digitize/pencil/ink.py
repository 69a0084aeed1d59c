"""What a mark was drawn with, by its colour.

On paper of reflectance p, ink of reflectance k takes away light in proportion to p - k, channel by
channel; how much of the paper it covers is only a common factor. So the light that is missing
across the mark, summed (which the blurred colours of a photo leave alone), points the way of one
ink or another (common practice of absorption, no source; the inks' own colours from memory).
"""

import numpy as np
from numpy.typing import NDArray

from digitize.floor import Raster
from digitize.pencil.profile import Profiles
from digitize.pencil.thresholds import (
    INK_LEAST_MM,
    INK_REACH_MM,
    INK_STEP_MM,
    PAPER_LIGHT,
    PAPER_MM,
    PLAINLY,
)
from digitize.plane import places_beside

Floats = NDArray[np.float64]
# Linear reflectance: red, green, blue.
INKS: dict[str, tuple[float, float, float]] = {
    "black": (0.08, 0.08, 0.08),
    "red": (0.48, 0.05, 0.05),
    "orange": (0.75, 0.25, 0.03),
    "green": (0.05, 0.28, 0.09),
    "blue": (0.06, 0.12, 0.44),
    "violet": (0.25, 0.06, 0.35),
}


def inks_of(profiles: Profiles, raster: Raster) -> list[str]:
    """The name of the ink of each mark."""
    offsets = np.arange(-INK_REACH_MM, INK_REACH_MM + INK_STEP_MM / 2, INK_STEP_MM)
    seen = raster.colours_at(places_beside(profiles.points, profiles.normals, offsets))
    return [
        _ink_of((np.median(own, axis=0) / 255.0) ** 2.2, offsets)
        for own in profiles.runs.parts(seen)
    ]


def _ink_of(light: Floats, offsets: Floats) -> str:
    """The name of an ink by its light (M, 3), linear, at offsets (M,) across the mark."""
    paper = light[np.abs(offsets) > PAPER_MM].mean(axis=0)
    missing = (paper - light).sum(axis=0) * INK_STEP_MM
    if np.linalg.norm(missing) < INK_LEAST_MM * np.linalg.norm(paper):
        return "black"
    paper = paper * PAPER_LIGHT / paper.max()
    black = _unit(paper - np.array(INKS["black"]))
    away = _unit(missing) - black
    # A pencil covers thinly and its colour is pale: its hue counts, not how strong it is.
    shares = {}
    for name, ink in INKS.items():
        way = _unit(paper - np.array(ink)) - black
        if name != "black":
            shares[name] = float(away @ way / (way @ way))
    plain = [name for name, share in shares.items() if share > PLAINLY]
    return max(plain, key=lambda name: _alike(away, paper, black, name), default="black")


def _alike(away: Floats, paper: Floats, black: Floats, name: str) -> float:
    return float(_unit(away) @ _unit(_unit(paper - np.array(INKS[name])) - black))


def _unit(vector: Floats) -> Floats:
    return np.asarray(vector / (np.linalg.norm(vector) + 1e-12))
