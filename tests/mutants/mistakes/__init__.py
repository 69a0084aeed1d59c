"""The mistakes, a file for each room."""

from collections.abc import Iterator
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path

# Where lengths end on metal nine in ten must be noticed, where marks are read eight in ten.
BARS = {
    **dict.fromkeys(
        (
            "card",
            "compare",
            "draw",
            "floor",
            "form",
            "mend",
            "plane",
            "record",
            "remarks",
            "shop",
            "take_up",
            "units",
        ),
        0.9,
    ),
    **dict.fromkeys(("lines", "paper", "pencil", "tucks"), 0.8),
}


@dataclass(frozen=True)
class Mistake:
    """A piece of a file's text that stands there once, and what a slip of the hand makes of it.

    ``why`` says of one that survives why it may.
    """

    room: str
    file: str
    was: str
    becomes: str
    why: str = ""

    @property
    def words(self) -> str:
        """It in a line."""
        return f"{self.file}: {' '.join(self.was.split())}  ->  {' '.join(self.becomes.split())}"


def all_mistakes() -> Iterator[Mistake]:
    """Every mistake of every room's file; each file here has a list, MISTAKES, of (file in the
    room, was, becomes) or with a fourth entry, why it survives.
    """
    for path in sorted(Path(__file__).parent.glob("[a-z]*.py")):
        room = path.stem
        for file, was, becomes, *why in import_module(f"{__name__}.{room}").MISTAKES:
            place = f"digitize/{room}/{file}" if file else f"digitize/{room}.py"
            yield Mistake(room, place, was, becomes, *why)
