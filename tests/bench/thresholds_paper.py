"""What the numbers of the paper's edge bear on: workshop photos, of the half that may be looked at.

Their cards and floor are read once; then the paper is cut out and its edge placed. What is said is
how far the edge lies from where it was, and how much more or less of it is said to be unsure.
"""

import importlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from unittest import mock

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from digitize.floor import Raster, open_photo
from digitize.paper import LaidCard, cut_paper, place_edge
from digitize.reading import scene
from digitize.reading.scene import Asked, see_scene
from tests.bench.workshop import photo_of

Floats = NDArray[np.float64]
SEEDS = (1, 6)  # sun, a card under the paper
SHORT = (1,)
SAME_MM = 0.3


@dataclass(frozen=True)
class Part:
    """A photo's raster, coarse, with its cards there, and that of the paper alone, fine."""

    coarse: Raster
    cards: Sequence[LaidCard]
    fine: Raster


@dataclass(frozen=True)
class Seen:
    """What the room made of the photos: each paper's edge (N, 2), and mm of it that are unsure."""

    edges: tuple[Floats, ...]
    unsure: tuple[float, ...]


def part_of(seed: int) -> Part:
    """A seed's photo."""
    taken: dict[str, Any] = {}

    def cut(coarse: Raster, cards: Sequence[LaidCard]) -> Any:
        taken.update(coarse=coarse, cards=cards)
        return cut_paper(coarse, cards)

    def place(fine: Raster, found: Any) -> Any:
        taken.setdefault("fine", fine)
        return place_edge(fine, found)

    path, _ = photo_of(seed)
    with mock.patch.object(scene, "cut_paper", cut), mock.patch.object(scene, "place_edge", place):
        see_scene([open_photo(path.name, path.read_bytes())], Asked(), lambda stage: None)
    return Part(**taken)


def seen_here(parts: Sequence[Part], file: str) -> Seen:
    """What the room, as it is loaded, makes of the photos; all of it bears on every file."""
    room = importlib.import_module("digitize.paper")
    edges = [room.place_edge(part.fine, room.cut_paper(part.coarse, part.cards)) for part in parts]
    unsure = (float(edge.unsure.mean()) * Polygon(edge.points).length for edge in edges)
    return Seen(tuple(edge.points for edge in edges), tuple(unsure))


def change(usual: Seen, other: Seen) -> str:
    """In words what differs; nothing where nothing does."""
    pairs = zip(usual.edges, other.edges, strict=True)
    off = max(Polygon(one).exterior.hausdorff_distance(Polygon(two).exterior) for one, two in pairs)
    more = sum(other.unsure) - sum(usual.unsure)
    said = [f"edge {off:.1f} mm"] * (off > SAME_MM)
    return ", ".join(said + [f"{more:+.0f} mm unsure"] * (abs(more) >= 1))
