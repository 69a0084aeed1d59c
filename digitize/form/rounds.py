"""A zone whose tucks stand all round a middle and that no band crosses, as a surface of revolution.

Round a circle of the paper, r from the middle, the finished panel measures 2 pi G(r). As a surface
of revolution it falls there by an angle p with G' = cos p, so that it curves by p' outwards and by
sin p / G round (M. do Carmo, Differential Geometry of Curves and Surfaces, 1976, section 3-3,
example 4). A cap of a sphere is one, and a cone, whose curvature is all in its point. Where G' is
more than 1, as on a saddle, there is none: nothing is said of its bending.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import LinearNDInterpolator

from digitize.form.metric import Form, field_depths, form_along, ways_along
from digitize.plane import running_length
from digitize.take_up import Fan

Floats = NDArray[np.float64]
LEAST_RADIUS_MM = 1.0


def round_bend(fan: Fan) -> Form:
    """The second form of the surface of revolution that has a closed fan's lengths."""
    depths = field_depths(fan)
    rows = fan.rows(depths)
    length = running_length(rows)[:, -1]
    metal = (length - fan.take_up(depths).sum(axis=1)) / (2 * np.pi)
    radius = length / (2 * np.pi)
    fall = np.arccos(np.clip(np.gradient(metal, radius), -1.0, 1.0))
    outward = np.gradient(fall, radius)
    # Per square of the paper's length, of which the metal has G / r.
    around = np.sin(fall) * metal / np.maximum(radius, LEAST_RADIUS_MM) ** 2
    along = ways_along(rows)
    out = np.stack([along[..., 1], -along[..., 0]], axis=-1)
    parts = form_along(out, outward[:, None]) + form_along(along, around[:, None])
    found = LinearNDInterpolator(rows.reshape(-1, 2), parts.reshape(-1, 3), fill_value=0.0)
    return lambda places: np.asarray(found(places))
