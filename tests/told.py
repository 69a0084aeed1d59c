"""Facts told about a record that was never read from a photo, replayed on it."""

from digitize.mend import fact_about_take_up, facts_about_lines, replayed
from digitize.record import numbered


def with_facts(record, *facts, picture=lambda: None):
    """The record with facts told after those it has; they have to fit."""
    last = max((fact.number for fact in record.told), default=0)
    made = replayed(record, numbered(facts, last), picture)
    assert not made.lost, made.lost
    return made.pattern.model_copy(update={"told": (*record.told, *made.pattern.told)})


def labelled(record, roles, radii, notes):
    """The record with roles, radii and notes told about its lines."""
    return with_facts(record, *facts_about_lines(record, roles, radii, notes))


def with_spread(record, tuck, gaps):
    """The record with a tuck that opened by gaps (depth from the tip or None, gap), mm."""
    return with_facts(record, fact_about_take_up(record, tuck, [(d, -gap) for d, gap in gaps]))
