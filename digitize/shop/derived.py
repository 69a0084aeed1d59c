"""What follows from a pattern's lines and tucks: it is worked out anew whenever those change."""

from digitize.pattern import Pattern
from digitize.shop.bands import with_bands
from digitize.shop.laps import with_laps
from digitize.shop.zones import with_zones


def derived(pattern: Pattern) -> Pattern:
    """The pattern with its radius bands, its tucks' smooth laps and closure, and its zones."""
    return with_zones(with_laps(with_bands(pattern)))


def brought_up(pattern: Pattern) -> Pattern:
    """The pattern; if it was written before laps were made smooth, with all that follows anew."""
    if any(tuck.stations and not tuck.profile for tuck in pattern.tucks):
        return derived(pattern)
    return pattern
