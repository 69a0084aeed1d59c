"""Curves as lines of the record, and lines of the record as curves again."""

import numpy as np
from numpy.typing import NDArray

from digitize.pencil import Curve, fair_pieces
from digitize.record import By, CurvePiece, Line, Role

Floats = NDArray[np.float64]
PIECE_TOLERANCE_MM = 0.003  # RMS, by which the pieces may differ from the points
USUAL_DARKNESS = 0.3  # of a pencil line; the record does not keep how dark a line is


def points_of(points: Floats) -> tuple[tuple[float, float], ...]:
    """Points (N, 2) as the record has them, to a micrometre."""
    return tuple((x, y) for x, y in np.round(points, 3).tolist())


def shape_of(points: Floats, closed: bool) -> dict[str, object]:
    """A line's points (N, 2, mm) and its smooth pieces, as fields of the record."""
    fair = fair_pieces(points, PIECE_TOLERANCE_MM, closed)
    return {
        "points": points_of(fair.points),
        "closed": closed,
        "pieces": tuple(
            CurvePiece(kind=piece.kind, points=points_of(piece.points)) for piece in fair.pieces
        ),
    }


def line_of(
    curve: Curve, identifier: str, role: Role, confidence: float, by: By = "proposed"
) -> Line:
    """A curve as the record has it; ``confidence`` is how sure its role is."""
    red, green, blue = curve.colour
    return Line(
        id=identifier,
        role=role,
        role_confidence=confidence,
        role_by=by,
        stroke="ticks" if curve.ticks else "dashed" if curve.dashed else "solid",
        colour=f"#{red:02x}{green:02x}{blue:02x}",
        ink=curve.ink,
        width=round(curve.width, 2),
        rubbed=round(curve.rubbed, 2),
        sigma=round(curve.sigma, 3),
        confidence=round(curve.sure, 2),
        **shape_of(curve.points, curve.closed),  # type: ignore[arg-type]
    )


def curve_of(line: Line) -> Curve:
    """A line of the record as the curve that it was read as, to measure from it again."""
    red, green, blue = (int(line.colour[k : k + 2], 16) for k in (1, 3, 5))
    return Curve(
        points=np.array(line.points, float),
        closed=line.closed,
        width=line.width,
        weight=USUAL_DARKNESS * line.width,
        two_sided=1.0,
        sigma=line.sigma,
        colour=(red, green, blue),
        ink=line.ink,
        dashed=line.stroke == "dashed",
        ticks=line.stroke == "ticks",
        rubbed=line.rubbed,
        sure=line.confidence,
    )
