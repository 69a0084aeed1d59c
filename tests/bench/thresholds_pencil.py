"""What the pencil's numbers bear on: parts of papers whose marks another hand drew.

Of the half that may be looked at, rectified once; then the pencil's steps alone. What is said is
how much of the lines is lost and how much is new, and how many notes and areas set aside there are
more or fewer.
"""

import importlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely import Polygon, box

from digitize.floor import Raster, open_photo
from digitize.plane import evenly
from digitize.reading.scene import Asked, see_scene
from tests.bench.marks import photo_of, scene_of

Floats = NDArray[np.float64]
ROOM = "digitize.pencil"
SEEDS = (2, 3, 4, 5, 6, 10)  # writing, ticks, dashes, hatching, crossed out, felt pen
SHORT = (3,)
PART_MM = (170.0, 120.0)
MARGIN_MM, MOST_STARTS = 25.0, 200  # before what is to be seen there
NEAR_MM = 1.0
LEAST_MM = 3.0  # of lines lost or new, that count for a change
BEFORE_RIDGES = ("ridges.py", "lighter.py")
ASIDE = ("notes", "struck", "hatched", "rulings", "rings", "unseen")


@dataclass(frozen=True)
class Part:
    """A part of a paper: its raster, and the paper's outline (N, 2) there, mm.

    ``ridges`` : of it, by the numbers as they are.
    """

    raster: Raster
    outline: Floats
    ridges: Any = None


@dataclass(frozen=True)
class Seen:
    """What the pencil's steps made of the parts.

    Attributes
    ----------
    lines : by part, lines (N, 2), mm.
    aside : how many notes, struck lines, hatched areas, printed rulings, rings and unseen areas
        there are, as ``ASIDE`` has them.
    values : what lines are beside their course (width, ink, sigma, ...), in words.
    pictures : notes' pictures, in words.
    """

    lines: tuple[tuple[Floats, ...], ...]
    aside: tuple[int, ...]
    values: str
    pictures: str


def part_of(seed: int) -> Part:
    """The part of a seed's paper with the most of what its class has beside plain lines."""
    scene, paper = scene_of(seed)
    photo = photo_of(seed, scene, paper)
    found = see_scene([open_photo(photo.name, photo.read_bytes())], Asked(), lambda stage: None)
    whole = Part(found.raster, found.outline)
    made = steps(whole, "")
    own = [curve.points for curve in (*made["struck"], *(c for c in made["curves"] if c.ticks))]
    own += [*made["hatched"], *(np.reshape(note, (2, 2)) for note in made["notes"])]
    own += [np.array(ring.middle)[None] for ring in made["rings"]]
    marks = np.concatenate(own or [curve.points for curve in made["curves"]])
    starts = marks[:: max(len(marks) // MOST_STARTS, 1)] - MARGIN_MM
    inside = [((marks >= s) & (marks <= s + np.array(PART_MM))).all(axis=1).sum() for s in starts]
    start = starts[int(np.argmax(inside))]
    part = cut_out(whole, start, start + np.array(PART_MM))
    room = importlib.import_module(ROOM)
    return replace(part, ridges=room.find_ridges(part.raster, part.outline))


def cut_out(whole: Part, low: Floats, high: Floats) -> Part:
    """The part of a paper between two corners, mm."""
    raster = whole.raster
    (left, bottom), (right, top) = np.round(raster.to_px(np.array([low, high]))).astype(int)
    rows, columns = raster.pixels.shape[:2]
    left, top = max(left, 0), max(top, 0)
    pixels = raster.pixels[top : min(bottom, rows), left : min(right, columns)]
    at = raster.to_mm(np.array([[left, top]], float))[0]
    ring = Polygon(whole.outline).intersection(box(*low, *high))
    kept = max(getattr(ring, "geoms", [ring]), key=lambda each: each.area)
    return Part(
        Raster(float(at[0]), float(at[1]), raster.mm_per_px, np.ascontiguousarray(pixels)),
        np.array(kept.exterior.coords)[:-1],
    )


def steps(part: Part, file: str) -> dict[str, Any]:
    """What the room, as it is loaded, makes of a part: its curves, and what is set aside.

    ``file`` : whose number was changed; what comes before it is taken as it was, and what nothing
    but its own numbers bear on is left out for others.
    """
    room = importlib.import_module(ROOM)
    ridges = part.ridges
    if file in BEFORE_RIDGES or ridges is None:
        ridges = room.find_ridges(part.raster, part.outline)
    marks = room.fit_curves(room.find_strokes(ridges), ridges, part.raster)
    drawn, rulings = room.set_print_aside(marks, part.outline, ridges.darkness_at)
    standing, struck = room.set_struck_aside(drawn)
    plain, hatched = room.set_hatching_aside(standing)
    legible, notes = room.set_writing_aside(
        room.gather_ticks(plain, ridges.darkness_at), ridges.darkness_at
    )
    curves, rings = room.set_rings_aside(legible)
    unseen, pictures = (), []
    if file == "visibility.py":
        unseen = room.unseen_areas(part.raster, part.outline, ridges, marks)
    if file == "handwriting.py":
        notes = room.whole_writing(notes, curves, ridges)
        pictures = [room.handwriting(note, curves, ridges) for note in notes]
    return {
        "curves": curves,
        "pictures": pictures,
        "notes": notes,
        "struck": struck,
        "hatched": hatched,
        "rulings": rulings,
        "rings": rings,
        "unseen": unseen,
    }


def seen_here(parts: Sequence[Part], file: str) -> Seen:
    """What the steps make of the parts, by the room as it is loaded."""
    found = [steps(part, file) for part in parts]
    bare = [replace(curve, points=np.zeros(0)) for each in found for curve in each["curves"]]
    return Seen(
        tuple(tuple(curve.points for curve in each["curves"]) for each in found),
        tuple(sum(len(each[kind]) for each in found) for kind in ASIDE),
        "".join(repr(curve) for curve in bare),
        "".join(repr(picture) for each in found for picture in each["pictures"]),
    )


def change(usual: Seen, other: Seen) -> str:
    """In words what differs; nothing where nothing does."""
    lost = sum(apart_mm(a, b) for a, b in zip(usual.lines, other.lines, strict=True))
    new = sum(apart_mm(b, a) for a, b in zip(usual.lines, other.lines, strict=True))
    said = [f"{-lost:.0f} mm"] * (lost >= LEAST_MM) + [f"+{new:.0f} mm"] * (new >= LEAST_MM)
    said += [
        f"{b - a:+d} {kind}"
        for kind, a, b in zip(ASIDE, usual.aside, other.aside, strict=True)
        if a != b
    ]
    said += ["values"] * (not said and usual.values != other.values)
    said += ["pictures"] * (not said and usual.pictures != other.pictures)
    return ", ".join(said)


def apart_mm(lines: Sequence[Floats], others: Sequence[Floats]) -> float:
    """How much of some lines, mm, lies farther than NEAR_MM from all others."""
    if not lines:
        return 0.0
    points = np.concatenate([evenly(line, 0.5) for line in lines])
    if not others:
        return len(points) / 2
    tree = cKDTree(np.concatenate([evenly(line, 0.25) for line in others]))
    return float((tree.query(points)[0] > NEAR_MM).sum() / 2)
