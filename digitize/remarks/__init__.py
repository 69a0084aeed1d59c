"""What there is to say about a pattern, and what to do about it: all words of warning.

In come what the stages found about the photos, or a record; out go remarks, each with its kind, its
words, the ids and the place it is about, and how much it matters. Open ``record.py`` first.
"""

from digitize.remarks.later import about_grown, about_lost, with_lost
from digitize.remarks.photos import (
    about_accuracy,
    about_checks,
    about_coarseness,
    about_cuts,
    about_damage,
    about_faults,
    about_gapes,
    about_height,
    about_outline,
    about_print,
    about_repeats,
    about_rings,
    about_rulings,
    about_unseen,
    too_few,
)
from digitize.remarks.record import about_no_blank, with_remarks

__all__ = [
    "about_accuracy",
    "about_checks",
    "about_coarseness",
    "about_cuts",
    "about_damage",
    "about_faults",
    "about_gapes",
    "about_grown",
    "about_height",
    "about_lost",
    "about_no_blank",
    "about_outline",
    "about_print",
    "about_repeats",
    "about_rings",
    "about_rulings",
    "about_unseen",
    "too_few",
    "with_lost",
    "with_remarks",
]
