"""How long a line is on the flat metal, and how long it has to be when all is taken up."""

from dataclasses import dataclass

from digitize.record import LineGroup, Pattern


@dataclass(frozen=True)
class GroupLength:
    """A line group's length on the paper, and so on the blank, and on the finished metal; mm."""

    group: LineGroup
    paper: float
    finished: float


def group_lengths(pattern: Pattern) -> tuple[GroupLength, ...]:
    """Of each line on the metal.

    Where a tuck laps, the line stops at one flap's edge and goes on a lap further: flat, it is as
    much longer than its pieces, and finished as long as these. Where it opened, its pieces meet
    when flat, and the metal between them is let in.
    """
    found = []
    for group in pattern.groups:
        ids = {piece.line for piece in group.pieces}
        drawn = sum(pattern.line(name).length for name in ids)
        laps = [b.lap for tuck in pattern.tucks for b in tuck.breaks if set(b.lines) <= ids]
        lapped, let_in = sum(lap for lap in laps if lap > 0), -sum(lap for lap in laps if lap < 0)
        found.append(GroupLength(group, drawn + lapped, drawn + let_in))
    return tuple(found)
