"""The user's own small files: what a printer makes of a card's rules, and what inks mean."""

import difflib
from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel, Field, TypeAdapter

from digitize.card import RULE_MM
from digitize.defaults import MEASURABLE_MM, ROLES
from digitize.errors import WrongOption
from digitize.floor import PrintScale
from digitize.jobs.disk import content_of
from digitize.pencil import INKS
from digitize.record import Role, Unfit, strictly

__all__ = ["RULE_MM", "ink_roles_in", "print_scale", "role_named"]

Kind = TypeVar("Kind")
LARGEST_BYTES = 100_000  # of a small file


def print_scale(
    measured_x: float | None, measured_y: float | None, profile: Path | None
) -> PrintScale | None:
    """The cards' size as measured (mm, of a 150 mm rule); None if nobody measured.

    Parameters
    ----------
    profile : a file with both, of which the figures given beside it take the place.

    Raises
    ------
    NotRead, WrongOption
    """
    example = 'not a print profile, such as {"measured_x": 149.6, "measured_y": 150.2}'
    said = _small_file(_PROFILE, profile, example) if profile else None
    x = measured_x or (said.measured_x if said else None)
    y = measured_y or (said.measured_y if said else None)
    if x is None and y is None:
        return None
    return PrintScale(x=(x or RULE_MM) / RULE_MM, y=(y or RULE_MM) / RULE_MM)


class _Profile(BaseModel):
    """The file of what one printer makes of a card's rules, mm."""

    measured_x: float = Field(ge=MEASURABLE_MM[0], le=MEASURABLE_MM[1])
    measured_y: float = Field(ge=MEASURABLE_MM[0], le=MEASURABLE_MM[1])


_PROFILE = TypeAdapter(_Profile)
_INKS = TypeAdapter(dict[str, str])


def ink_roles_in(path: Path) -> dict[str, Role]:
    """The file of what each ink's lines are; raises NotRead, WrongOption."""
    example = 'not a file of inks, such as {"red": "lap", "blue": "form"}'
    pairs = _small_file(_INKS, path, example)
    for ink in pairs:
        if ink not in INKS:
            raise WrongOption(f"{path}: {ink[:40]}: inks are {', '.join(INKS)}")
    return {ink: role_named(role[:40], f"{path}: ") for ink, role in pairs.items()}


def _small_file(kind: TypeAdapter[Kind], path: Path, none: str) -> Kind:
    """What a small file of the user's holds; raises NotRead, WrongOption."""
    content = content_of(path)
    try:
        if len(content) > LARGEST_BYTES:
            raise Unfit(f"has more than {LARGEST_BYTES} bytes")
        return strictly(kind, content)
    except Unfit as fault:
        raise WrongOption(f"{path}: {none}: {fault}") from fault


def role_named(words: str, where: str) -> Role:
    """The role of that name, written ``where``; raises WrongOption."""
    for role in ROLES:
        if role == words.strip().lower().replace(" ", "-"):
            return role
    like = difflib.get_close_matches(words.lower(), ROLES, 1)
    meant = f"did you mean {like[0]}? " if like else ""
    raise WrongOption(f"{where}{words}: {meant}roles are {', '.join(ROLES)}")
