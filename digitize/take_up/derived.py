"""What follows from a pattern's lines and tucks: it is worked out anew whenever those change."""

from digitize.record import Pattern, with_unknown_keys
from digitize.take_up.bands import with_bands
from digitize.take_up.smooth_laps import with_laps
from digitize.take_up.zones import with_zones


def derived(pattern: Pattern) -> Pattern:
    """The pattern with its radius bands, its tucks' smooth laps and closure, and its zones."""
    return with_unknown_keys(with_zones(with_laps(with_bands(pattern))), pattern)


def brought_up(pattern: Pattern) -> Pattern:
    """The pattern; if it was written before laps were made smooth, with all that follows anew."""
    if any(tuck.stations and not tuck.profile for tuck in pattern.tucks):
        return derived(pattern)
    return pattern
