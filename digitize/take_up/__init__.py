"""What a record's tucks take up: laps, fans, zones, the shrink field, radius bands, closing.

In comes a record; out goes the record with all that follows from its lines and stations, and fans,
fields and closed zones from which drawings and tables are made. Reads no photo. Open ``derived.py``
first.
"""

from digitize.take_up.bands import Jump, jumps_of
from digitize.take_up.closing import ClosedZone, Disagreement, closed_zones, disagreements_of
from digitize.take_up.curvature import Untucked, contradicted_by, untucked_stretches
from digitize.take_up.derived import brought_up, derived
from digitize.take_up.fan import Fan
from digitize.take_up.zones import ShrinkField, ZoneFan, shrink_fields, zones_and_fans

__all__ = [
    "ClosedZone",
    "Disagreement",
    "Fan",
    "Jump",
    "ShrinkField",
    "Untucked",
    "ZoneFan",
    "brought_up",
    "closed_zones",
    "contradicted_by",
    "derived",
    "disagreements_of",
    "jumps_of",
    "shrink_fields",
    "untucked_stretches",
    "zones_and_fans",
]
