"""What the tucks' numbers bear on: papers whose marks another hand drew.

Their pencil is read once; then the tucks are found and their laps measured. What is said is how
many tucks are lost and new, how many are sure or unsure that were not, and how far laps at the
trim edge, or a cut's tip, lie from where they were.
"""

import importlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from digitize.floor import open_photo
from digitize.lines import meet_at_corners, meet_at_tees, without_traces
from digitize.pencil import Curve
from digitize.reading.pipeline import read_marks
from digitize.tucks import find_tucks
from tests.bench.marks import photo_of, scene_of

Floats = NDArray[np.float64]
SEEDS = (11, 15)  # folds, parted
SHORT = (15,)
SAME_TIP_MM, SAME_MM = 10.0, 0.05
SURE = 0.75


@dataclass(frozen=True)
class Part:
    """A paper's marks and outline (N, 2), mm, the lines that its tucks left, and its darkness."""

    curves: tuple[Curve, ...]
    lines: tuple[Curve, ...]
    outline: Floats
    darkness_at: Callable[[Floats], Floats]


@dataclass(frozen=True)
class Seen:
    """What the room made of the papers' tucks: paper, tip, last lap, and whether sure (N, 5)."""

    tucks: Floats


def part_of(seed: int) -> Part:
    """A seed's paper."""
    scene, paper = scene_of(seed)
    photo = photo_of(seed, scene, paper)
    marks = read_marks([open_photo(photo.name, photo.read_bytes())])
    outline, darkness_at = marks.scene.outline, marks.ridges.darkness_at
    tucks, pieces = find_tucks(marks.curves, outline, darkness_at)
    breaks = [mark for tuck in tucks for mark in (tuck.main, tuck.second) if mark is not None]
    lines = meet_at_corners(without_traces(pieces), breaks)
    lines = meet_at_tees(lines, [tuck.main for tuck in tucks])
    return Part(marks.curves, tuple(lines), outline, darkness_at)


def seen_here(parts: Sequence[Part], file: str) -> Seen:
    """What the room, as it is loaded, makes of the papers; all of it bears on every file."""
    room = importlib.import_module("digitize.tucks")
    rows = []
    for number, part in enumerate(parts):
        tucks, _ = room.find_tucks(part.curves, part.outline, part.darkness_at)
        for tuck, pivot in zip(tucks, room.pivots_of(tucks), strict=True):
            found = room.measure_laps(tuck, pivot, part.lines, part.darkness_at)
            lap = found.stations[-1].lap if found.stations else np.nan
            sure = tuck.sure >= SURE and room.is_borne_out(tuck, found)
            rows.append((number, *tuck.main.points[0], lap, sure))
    return Seen(np.array(rows, float).reshape(-1, 5))


def change(usual: Seen, other: Seen) -> str:
    """In words what differs; nothing where nothing does."""
    one, two = usual.tucks, other.tucks
    apart = np.linalg.norm(one[:, None, 1:3] - two[None, :, 1:3], axis=2)
    apart[one[:, None, 0] != two[None, :, 0]] = np.inf
    pairs = [(i, j) for i, j in zip(*np.nonzero(apart < SAME_TIP_MM), strict=True)]
    lost, new = len(one) - len({i for i, _ in pairs}), len(two) - len({j for _, j in pairs})
    said = [f"-{lost} tucks"] * (lost > 0) + [f"+{new} tucks"] * (new > 0)
    kept = np.array(pairs, int).reshape(-1, 2)
    first, second = one[kept[:, 0]], two[kept[:, 1]]
    surer = int((second[:, 4] - first[:, 4]).sum())
    said += [f"{surer:+d} sure"] * (surer != 0)
    laps = np.abs(first[:, 3] - second[:, 3])
    unread = int((np.isnan(first[:, 3]) != np.isnan(second[:, 3])).sum())
    said += [f"{unread} laps read or not"] * (unread > 0)
    for words, off in (("laps", laps), ("tips", apart[kept[:, 0], kept[:, 1]])):
        largest = float(np.nanmax(off, initial=0.0))
        said += [f"{words} {largest:.1f} mm"] * (largest > SAME_MM)
    return ", ".join(said)
