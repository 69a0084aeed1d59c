"""A drawn paper: its record and its strokes, and both mirrored or enlarged."""

import json
from dataclasses import dataclass, field, replace

import numpy as np
from corner import Floats
from strokes import Stroke, resample

from digitize.record import Note, Pattern, to_json


@dataclass(frozen=True)
class Traces:
    """What a shop leaves on paper, which is no line: places in mm.

    Attributes
    ----------
    erased : (N, 2) each line drawn by mistake and rubbed out.
    smudges : centres.
    tapes : (x, y, turn in degrees) of pieces of tape.
    wrinkles : (N, 2) each crease that means nothing.
    """

    erased: tuple[Floats, ...] = ()
    smudges: tuple[tuple[float, float], ...] = ()
    tapes: tuple[tuple[float, float, float], ...] = ()
    wrinkles: tuple[Floats, ...] = ()


@dataclass(frozen=True)
class Marking:
    """The drawn paper: its record, the strokes, slits as closed shapes, and crease lines.

    ``shrink`` (N, 3) is what the metal has to shrink at places (x, y), and ``curvature_deg`` its
    total curvature inside the trim edge. ``form`` (N, 5) has places on the paper and theirs in
    space, the marked face up; ``radii`` (N, 3) the bend's radius at places where it starts.
    """

    pattern: Pattern
    strokes: tuple[Stroke, ...]
    slits: tuple[Floats, ...]
    creases: tuple[Floats, ...]
    notes: tuple[tuple[str, tuple[float, float]], ...]
    traces: Traces = field(default_factory=Traces)
    shrink: Floats = field(default_factory=lambda: np.zeros((0, 3)))
    curvature_deg: float = 0.0
    form: Floats = field(default_factory=lambda: np.zeros((0, 5)))
    radii: Floats = field(default_factory=lambda: np.zeros((0, 3)))


def point(place: Floats) -> tuple[float, float]:
    """A point as the record has it."""
    return round(float(place[0]), 4), round(float(place[1]), 4)


def moved(marking: Marking, low: Floats, width: float | None) -> Marking:
    """Into the pattern frame: origin at the outline's lower left; mirrored if a width is given."""

    def move(points: Floats) -> Floats:
        moved = np.asarray(points) - low
        if width is not None:
            moved = moved * [-1, 1] + [width, 0]
        return np.asarray(moved)

    def pairs(points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        return tuple(point(p) for p in move(np.array(points)))

    p = marking.pattern
    pattern = p.model_copy(
        update={
            "side": "left" if width is None else "right",
            "outline": pairs(p.outline),
            "lines": tuple(
                line.model_copy(update={"points": pairs(line.points)}) for line in p.lines
            ),
            "tucks": tuple(
                tuck.model_copy(update={"tip": pairs((tuck.tip,))[0]}) for tuck in p.tucks
            ),
            "zones": tuple(
                zone.model_copy(update={"boundary": pairs(zone.boundary)}) for zone in p.zones
            ),
            "notes": (),
        }
    )
    places = []
    for text, place in marking.notes:
        x, y = move(np.array(place))
        places.append((text, (float(x) - (0 if width is None else 9.0 * len(text)), float(y))))
    notes = tuple(
        Note(id=f"N{i + 1}", box=(x, y, x + 9.0 * len(text), y + 14.0), text=text)
        for i, (text, (x, y)) in enumerate(places)
    )
    # A panel's mirror image too is proud upwards.
    space = marking.form[:, 2:] * ([1, 1, 1] if width is None else [-1, 1, 1])
    flip = (lambda points: points[::-1]) if width is not None else (lambda points: points)
    return Marking(
        pattern.model_copy(update={"notes": notes}),
        # Reversed when mirrored, so that a broad stroke keeps its sharp side.
        tuple(
            replace(k, points=flip(move(k.points)), fades=flip(k.fades)) for k in marking.strokes
        ),
        tuple(move(shape) for shape in marking.slits),
        tuple(move(crease) for crease in marking.creases),
        tuple(places),
        shrink=np.column_stack([move(marking.shrink[:, :2]), marking.shrink[:, 2]]),
        curvature_deg=marking.curvature_deg,
        form=np.column_stack([move(marking.form[:, :2]), space]),
        radii=np.column_stack([move(marking.radii[:, :2]), marking.radii[:, 2]]),
    )


def enlarged(marking: Marking, factor: float) -> Marking:
    """The same panel so many times as large, drawn with the same pencils."""

    def grow(points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        return tuple(point(p) for p in np.array(points) * factor)

    p = marking.pattern
    pattern = p.model_copy(
        update={
            "outline": grow(p.outline),
            "lines": tuple(
                line.model_copy(update={"points": grow(line.points)}) for line in p.lines
            ),
            "tucks": tuple(
                tuck.model_copy(
                    update={
                        "tip": grow((tuck.tip,))[0],
                        "lap_at_trim": tuck.lap_at_trim * factor,
                        "depth_at_trim": tuck.depth_at_trim * factor,
                        "stations": tuple(
                            station.model_copy(
                                update={
                                    "depth": station.depth * factor,
                                    "lap": station.lap * factor,
                                }
                            )
                            for station in tuck.stations
                        ),
                    }
                )
                for tuck in p.tucks
            ),
            "zones": tuple(
                zone.model_copy(update={"boundary": grow(zone.boundary)}) for zone in p.zones
            ),
            "notes": (),
        }
    )
    return Marking(
        pattern,
        tuple(replace(k, points=resample(k.points * factor, 0.25)) for k in marking.strokes),
        tuple(shape * factor for shape in marking.slits),
        tuple(crease * factor for crease in marking.creases),
        tuple((text, (x * factor, y * factor)) for text, (x, y) in marking.notes),
        shrink=marking.shrink * [factor, factor, 1],
        curvature_deg=marking.curvature_deg,
        form=marking.form * factor,
        radii=marking.radii * factor,
    )


def truth_of(marking: Marking) -> dict[str, object]:
    """The true record as its file has it, with what no reading is told."""
    places = [
        [round(float(x), 2), round(float(y), 2), round(float(e), 5)] for x, y, e in marking.shrink
    ]
    more = {
        "curvature_deg": marking.curvature_deg,
        "true_shrink": places,
        "true_form": marking.form.round(3).tolist(),
        "true_radii": marking.radii.round(3).tolist(),
    }
    return {**json.loads(to_json(marking.pattern)), **more}
