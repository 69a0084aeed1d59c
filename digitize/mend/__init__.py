"""What the user tells, replayed on what the photos gave; carried over to a new reading.

In come a reading and facts; out goes the pattern that they make, with all that follows from it, and
the facts that do not fit. Open ``replay.py`` first, ``lines.py``, ``labels.py`` and ``tucks.py``
for what each kind of fact does.
"""

from digitize.mend.carry import as_read, carried_over, facts_in, moved
from digitize.mend.follow import follow_pencil
from digitize.mend.labels import End, Radii, RadiusTold, facts_about_lines
from digitize.mend.picture import Picture, PictureFor, no_picture, picture_at, picture_of
from digitize.mend.placed import placed
from digitize.mend.places import lines_named, place_of, stretch_of
from digitize.mend.replay import Lost, Replayed, replayed
from digitize.mend.tucks import fact_about_take_up
from digitize.mend.words import in_words

__all__ = [
    "End",
    "Lost",
    "Picture",
    "PictureFor",
    "Radii",
    "RadiusTold",
    "Replayed",
    "as_read",
    "carried_over",
    "fact_about_take_up",
    "facts_about_lines",
    "facts_in",
    "follow_pencil",
    "in_words",
    "lines_named",
    "moved",
    "no_picture",
    "picture_at",
    "picture_of",
    "place_of",
    "placed",
    "replayed",
    "stretch_of",
]
