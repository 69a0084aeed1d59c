"""What the user says of a tuck that opened instead of lapping: there the paper was short."""

from collections.abc import Sequence

from digitize.errors import ToldError
from digitize.record import Line, Pattern, Station, Tuck, TuckKind
from digitize.take_up import derived

RULE_SIGMA_MM = 0.3  # of a gap measured with a rule; common practice, no source


def with_spread(
    pattern: Pattern, identifier: str, gaps: Sequence[tuple[float | None, float]]
) -> Pattern:
    """The pattern with a tuck told to be a spread, and all that follows from it worked out anew.

    Parameters
    ----------
    gaps : (depth from the tip, gap) in mm; None for the depth at the trim edge. Without any the
        tuck is again what it was read as.

    Raises
    ------
    ToldError
        If the tuck is not there, or a depth lies beyond its end.
    """
    try:
        tuck = pattern.tuck(identifier)
    except KeyError:
        names = " ".join(tuck.id for tuck in pattern.tucks) or "none"
        raise ToldError(f"{identifier}: the pattern has no such tuck; it has {names}") from None
    told = _told(tuck, pattern.line(tuck.slit), gaps)
    tucks = tuple(told if other.id == identifier else other for other in pattern.tucks)
    return derived(pattern.model_copy(update={"tucks": tucks}))


def _told(tuck: Tuck, slit: Line, gaps: Sequence[tuple[float | None, float]]) -> Tuck:
    read = [station for station in tuck.stations if station.evidence != "entered"]
    entered = []
    for depth, gap in gaps:
        at = tuck.depth_at_trim if depth is None else depth
        if not 0 < at <= slit.length:
            raise ToldError(
                f"{tuck.id}: is {slit.length:.0f} mm long from its tip; {at:.0f} mm lies beyond it"
            )
        entered.append(
            Station(depth=round(at, 3), lap=-gap, sigma=RULE_SIGMA_MM, evidence="entered")
        )
    as_read: TuckKind = "fold" if slit.role == "crease" else "slit"
    kind = "spread" if entered else as_read
    stations = tuple(sorted([*read, *entered], key=lambda station: station.depth))
    return tuck.model_copy(update={"kind": kind, "stations": stations})
