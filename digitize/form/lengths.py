"""Before and after: how long lines are on the paper, and on the finished panel."""

from dataclasses import dataclass

import numpy as np

from digitize.form.lines import lines_on
from digitize.form.panel import Formed

WHOLE_SHARE = 0.95  # of a line that has to lie on the form for its length to be told


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


def lengths_of(form: Formed) -> tuple[Length, ...]:
    """Of each line group, and along each zone's curves of equal depth.

    On the paper a line goes on past a tuck a lap's width further; that is counted.
    """
    pattern = form.pattern
    on_form = {
        line.name: sum(float(np.linalg.norm(np.diff(r, axis=0), axis=1).sum()) for r in line.runs)
        for line in lines_on(form)
    }
    found = []
    for group in pattern.groups:
        lines = [pattern.line(piece.line) for piece in group.pieces]
        if not all(line.is_of_metal for line in lines):
            continue
        ids = {line.id for line in lines}
        drawn = sum(line.length for line in lines)
        laps = sum(at.lap for tuck in pattern.tucks for at in tuck.breaks if set(at.lines) <= ids)
        finished = sum(on_form.get(line.label, 0.0) for line in lines)
        if finished > WHOLE_SHARE * drawn:
            found.append(Length(f"{group.id} ({group.role})", drawn + laps, finished))
    for zone in pattern.zones:
        for at in zone.stations:
            words = f"{zone.id}, {at.depth:.0f} mm from the tips"
            found.append(Length(words, at.flat_length, at.flat_length - at.take_up))
    return tuple(found)
