"""Reads a photo of a metal shaper's paper pattern into a true-size record.

The public functions, in the order that a job takes them: ``write_cards`` to print,
``glance_at_photo`` while the paper still lies there, ``read_photos`` into a folder,
``load_pattern`` and ``save_pattern``, ``tell`` what the photo cannot and ``told_about`` what was
told, ``draw_pattern`` for the metal, ``form_pattern`` for its form in space,
``compare_patterns``, ``keep_pattern`` in the drawer,
``find_patterns`` and ``take_pattern`` out of it, ``renew_patterns`` by a later program. Lengths are
in mm, angles in degrees. What cannot be done raises a ``DigitizeError`` whose message says what to
change; ``digitize.errors`` has them all. Everything else is private by convention.
"""

from typing import TYPE_CHECKING

from digitize.loading import on_use

__version__ = "0.2.0"

if TYPE_CHECKING:
    from digitize.errors import DigitizeError
    from digitize.jobs.cards import write_cards
    from digitize.jobs.changed import Changed
    from digitize.jobs.compare import Compared, compare_patterns
    from digitize.jobs.draw import Cut, Drawn, draw_pattern
    from digitize.jobs.find import Found, Taken, find_patterns, take_pattern
    from digitize.jobs.folder import load_pattern, save_pattern
    from digitize.jobs.form import Shaped, form_pattern
    from digitize.jobs.glance import Glimpse, glance_at_photo
    from digitize.jobs.keep import KeptAs, keep_pattern
    from digitize.jobs.read import CheckDistance, PrintScale, Read, read_photos
    from digitize.jobs.renew import Renewed, renew_patterns
    from digitize.jobs.tell import Heard, tell, told_about
    from digitize.record import Line, Pattern, Remark, Tuck, Zone

__all__ = [
    "Changed",
    "CheckDistance",
    "Compared",
    "Cut",
    "DigitizeError",
    "Drawn",
    "Found",
    "Glimpse",
    "Heard",
    "KeptAs",
    "Line",
    "Pattern",
    "PrintScale",
    "Read",
    "Remark",
    "Renewed",
    "Shaped",
    "Taken",
    "Tuck",
    "Zone",
    "__version__",
    "compare_patterns",
    "draw_pattern",
    "find_patterns",
    "form_pattern",
    "glance_at_photo",
    "keep_pattern",
    "load_pattern",
    "read_photos",
    "renew_patterns",
    "save_pattern",
    "take_pattern",
    "tell",
    "told_about",
    "write_cards",
]

# Each is loaded when it is first used: a program that only looks into the drawer needs few.
_HOMES = {
    "digitize.errors": ("DigitizeError",),
    "digitize.jobs.cards": ("write_cards",),
    "digitize.jobs.compare": ("Compared", "compare_patterns"),
    "digitize.jobs.draw": ("Cut", "Drawn", "draw_pattern"),
    "digitize.jobs.find": ("Found", "Taken", "find_patterns", "take_pattern"),
    "digitize.jobs.folder": ("load_pattern", "save_pattern"),
    "digitize.jobs.form": ("Shaped", "form_pattern"),
    "digitize.jobs.glance": ("Glimpse", "glance_at_photo"),
    "digitize.jobs.keep": ("KeptAs", "keep_pattern"),
    "digitize.jobs.read": ("CheckDistance", "PrintScale", "Read", "read_photos"),
    "digitize.jobs.changed": ("Changed",),
    "digitize.jobs.renew": ("Renewed", "renew_patterns"),
    "digitize.jobs.tell": ("Heard", "tell", "told_about"),
    "digitize.record": ("Line", "Pattern", "Remark", "Tuck", "Zone"),
}


def __dir__() -> list[str]:
    return __all__


__getattr__ = on_use(__name__, _HOMES)
