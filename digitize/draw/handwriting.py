"""Writing on the paper, in the shaper's own hand where it stood."""

from collections.abc import Iterable

import svgwrite
from svgwrite.container import Group

from digitize.draw.callouts import At
from digitize.record import Note


def handwriting_of(drawing: svgwrite.Drawing, notes: Iterable[Note], at: At) -> Group:
    """A group with each note's picture; of one without, an empty box.

    It is upright on every sheet: where the pattern is mirrored its place is, and it is not.
    """
    group = drawing.g(id="notes", fill="none", stroke="#7a7a7a", stroke_width=0.2)
    for note in notes:
        (left, top), (right, low) = (
            at((note.box[0], note.box[3])),
            at((note.box[2], note.box[1])),
        )
        size = (round(right - left, 3), round(low - top, 3))
        if note.picture is None:
            shape = drawing.rect((left, top), size, id=note.id)
        else:
            content = f"data:image/png;base64,{note.picture}"
            shape = drawing.image(content, (left, top), size, id=note.id)
            shape.stretch()
        shape.set_desc(title=note.text or f"{note.id}, writing on the paper")
        group.add(shape)
    return group
