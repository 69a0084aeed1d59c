"""Slits made by hand, each with its tuck: a lap that is known, without marks or a photo."""

from collections.abc import Callable

import numpy as np

from digitize.record import LapShape, Line, Pattern, Station, Tuck

SHEET = ((-400.0, -400.0), (400.0, -400.0), (400.0, 400.0), (-400.0, 400.0))


def slit_of(identifier, tip, end, role="slit"):
    """A straight line from a tip, a point every mm."""
    a, b = np.array(tip, float), np.array(end, float)
    share = np.linspace(0, 1, int(np.linalg.norm(b - a)) + 1)[:, None]
    return Line(
        id=identifier,
        role=role,
        role_confidence=1.0,
        points=tuple((float(x), float(y)) for x, y in a + share * (b - a)),
        width=0.5,
        sigma=0.05,
    )


def tuck_in(
    slit: Line, depth: float, lap: Callable[[float], float], tip="sharp", lap_line=None, **more
):
    """A slit's tuck, with a lap read every 10 mm down to the trim edge at a depth."""
    depths = [*np.arange(10.0, depth, 10.0), depth]
    return Tuck(
        id=slit.id.replace("S", "T"),
        kind="slit",
        tip=slit.points[0],
        slit=slit.id,
        lap_line=lap_line,
        stations=tuple(
            Station(depth=d, lap=lap(d), sigma=0.02, evidence="lap-line") for d in depths
        ),
        shape=LapShape(tip=tip),
        depth_at_trim=depth,
        **more,
    )


def pattern_with(slits, tucks, lines=(), **more):
    """The record of a sheet with slits, their tucks and further lines; nothing is derived."""
    return Pattern(name="p", outline=SHEET, lines=(*slits, *lines), tucks=tuple(tucks), **more)


def staggered(**more):
    """Three upright slits from tips at heights 0, 30 and -20, all trimmed at a height of 100.

    They stand 50 and 100 mm apart; their laps grow by 0.1, 0.2 and 0.05 of the depth.
    """
    slits = [
        slit_of("S1", (40, 0), (40, 150)),
        slit_of("S2", (90, 30), (90, 150)),
        slit_of("S3", (190, -20), (190, 150)),
    ]
    depths, slopes = (100.0, 70.0, 120.0), (0.1, 0.2, 0.05)
    tucks = [
        tuck_in(slit, depth, lambda d, slope=slope: slope * d)
        for slit, depth, slope in zip(slits, depths, slopes, strict=True)
    ]
    return pattern_with(slits, tucks, **more)
