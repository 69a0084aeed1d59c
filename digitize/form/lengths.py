"""Before and after: how long lines are on the paper, and on the finished panel."""

from dataclasses import dataclass

from digitize.record import Pattern
from digitize.shop import group_lengths


@dataclass(frozen=True)
class Length:
    """A line's or a section's length, mm: on the paper laid flat, and finished.

    ``of`` says what it is of.
    """

    of: str
    paper: float
    finished: float

    @property
    def take_up(self) -> float:
        """What is taken up of it, mm."""
        return self.paper - self.finished


def lengths_of(pattern: Pattern) -> tuple[Length, ...]:
    """Of each line group, and along each zone's curves of equal depth."""
    found = [
        Length(f"{each.group.id} ({each.group.role})", each.paper, each.finished)
        for each in group_lengths(pattern)
    ]
    for zone in pattern.zones:
        for at in zone.stations:
            words = f"{zone.id}, {at.depth:.0f} mm from the tips"
            found.append(Length(words, at.flat_length, at.flat_length - at.take_up))
    return tuple(found)
