"""A small made-up pattern that is alike in no direction, so that whatever is swapped shows."""

import numpy as np

from digitize.record import (
    CurvePiece,
    Line,
    Note,
    Pattern,
    Tuck,
    Zone,
)
from digitize.shop import Blank, PunchedLine


def line(identifier, role, points, **more):
    return Line(
        id=identifier,
        role=role,
        role_confidence=0.6,
        points=tuple(points),
        width=0.5,
        sigma=0.05,
        **more,
    )


def tuck(identifier, slit, tip, **more):
    return Tuck(id=identifier, kind="slit", tip=tip, slit=slit, lap_line=None, stations=(), **more)


# Counter-clockwise about (100, 90), from its foot to its right, with radius 30: half way it is
# 30 * sqrt(1/2) = 21.213 right of the middle and below it.
LEFT_TURN = CurvePiece(kind="arc", points=((100, 60), (121.213, 68.787), (130, 90)))
# Clockwise about (200, 90), from its top to its right.
RIGHT_TURN = CurvePiece(kind="arc", points=((200, 120), (221.213, 111.213), (230, 90)))
CUBIC = CurvePiece(kind="cubic", points=((260, 60), (280, 120), (300, 0), (340, 80)))
# At a quarter of its way a Bezier curve of degree three is 27, 27, 9 and 1 parts in 64 of its four
# control points: x = (27 * 260 + 27 * 280 + 9 * 300 + 340) / 64, y likewise.
ON_CUBIC = (275.3125, 77.1875)

PATTERN = Pattern(
    name="lopsided",
    side="left",
    outline=((0, 0), (400, 0), (400, 180), (150, 260), (0, 260)),
    lines=(
        line("L1", "trim-edge", [(30, 20), (370, 20), (370, 160), (140, 230)], closed=True),
        line("L2", "radius-start", LEFT_TURN.points, pieces=(LEFT_TURN,)),
        line("L3", "radius-end", RIGHT_TURN.points, pieces=(RIGHT_TURN,)),
        line("L4", "form", [(260, 60), (290, 66), (340, 80)], pieces=(CUBIC,)),
        line("L5", "slit", [(300, 110), (312, 147), (330, 202.4)]),
    ),
    tucks=(tuck("T1", "L5", (300, 110), lap_at_trim=7.4, deficit_deg=3.1),),
    zones=(
        Zone(
            id="Z1",
            kind="shrink",
            boundary=((200, 110), (340, 104), (350, 196), (190, 244)),
            tucks=("T1",),
            stations=(),
            peak_shrink=0.062,
        ),
    ),
    notes=(Note(id="N1", box=(40, 150, 75, 162)),),
)
# Its edge stands out over the paper's at the left by 12 mm, below by 7 and above by 6.
BLANK = Blank(
    trim=np.array(PATTERN.line("L1").points),
    edge=np.array([(-12.0, 4.0), (385.0, -7.0), (388.0, 172.0), (140.0, 266.0)]),
    area=90600.0,
    size=(400.0, 250.0),
    turn_deg=-12.0,
)
PUNCHED = (
    PunchedLine("L4", np.array([(260.0, 60.0), (340.0, 80.0)])),
    PunchedLine("L2", np.array([(121.213, 68.787)])),
)
