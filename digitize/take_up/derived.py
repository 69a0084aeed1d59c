"""What follows from a pattern's lines and tucks: it is worked out anew whenever those change."""

from digitize.record import Pattern, with_unknown_keys
from digitize.take_up.bands import with_bands
from digitize.take_up.groups import with_groups
from digitize.take_up.smooth_laps import with_laps
from digitize.take_up.zones import with_zones


def derived(pattern: Pattern) -> Pattern:
    """The pattern with its radius bands, line groups, tucks' smooth laps and closure, and zones."""
    marked = with_groups(with_bands(pattern))
    return with_unknown_keys(with_zones(with_laps(marked)), pattern)


def brought_up(pattern: Pattern) -> Pattern:
    """The pattern; of one written before laps were smooth or lines in groups, with these."""
    if any(tuck.stations and not tuck.profile for tuck in pattern.tucks):
        return derived(pattern)
    return pattern if pattern.groups else with_groups(pattern)
