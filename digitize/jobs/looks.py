"""How each kind of line looks in every drawing, for others who draw them."""

from dataclasses import dataclass

from digitize.draw import STYLES, WITHDRAWN, LineStyle

__all__ = ["LineStyle", "Looks", "looks"]


@dataclass(frozen=True)
class Looks:
    """The look of lines by role, and of those that were struck out."""

    roles: dict[str, LineStyle]
    withdrawn: LineStyle


def looks() -> Looks:
    """How lines look in the drawings."""
    return Looks({str(role): style for role, style in STYLES.items()}, WITHDRAWN)
