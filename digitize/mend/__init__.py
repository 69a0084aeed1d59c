"""What the user tells: about lines, about tucks, and carried over to a new reading.

In come a record and what is told; out goes the record with it, and with all that follows from it.
Open ``labels.py`` first.
"""

from digitize.mend.carry import Carried, carried_over
from digitize.mend.labels import Radii, labelled
from digitize.mend.spread import with_spread

__all__ = ["Carried", "Radii", "carried_over", "labelled", "with_spread"]
