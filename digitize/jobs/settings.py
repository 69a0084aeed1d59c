"""The user's own small files: what a printer makes of a card's rules, and what inks mean."""

import difflib
import json
from pathlib import Path

from digitize.card import RULE_MM
from digitize.defaults import MEASURABLE_MM, ROLES
from digitize.errors import WrongOption
from digitize.floor import PrintScale
from digitize.jobs.disk import content_of
from digitize.pencil import INKS
from digitize.record import Role

__all__ = ["RULE_MM", "ink_roles_in", "print_scale", "role_named"]


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
    values = _read_profile(profile) if profile else {}
    x = measured_x or values.get("measured_x")
    y = measured_y or values.get("measured_y")
    if x is None and y is None:
        return None
    return PrintScale(x=(x or RULE_MM) / RULE_MM, y=(y or RULE_MM) / RULE_MM)


def _read_profile(path: Path) -> dict[str, float]:
    try:
        profile = json.loads(content_of(path))
        values = {key: float(profile[key]) for key in ("measured_x", "measured_y")}
    except (ValueError, KeyError, TypeError) as error:
        raise WrongOption(
            f'{path}: not a print profile; it holds {{"measured_x": MM, "measured_y": MM}}'
        ) from error
    for key, value in values.items():
        if not MEASURABLE_MM[0] <= value <= MEASURABLE_MM[1]:
            raise WrongOption(f"{path}: {key} is {value:g}; a 150 mm rule measures nearer to 150")
    return values


def ink_roles_in(path: Path) -> dict[str, Role]:
    """The file of what each ink's lines are; raises NotRead, WrongOption."""
    try:
        said = json.loads(content_of(path))
        pairs = [(str(ink), str(role)) for ink, role in said.items()]
    except (ValueError, AttributeError) as error:
        raise WrongOption(
            f'{path}: not a file of inks; it holds, say, {{"red": "lap", "blue": "form"}}'
        ) from error
    for ink, _ in pairs:
        if ink not in INKS:
            raise WrongOption(f"{path}: {ink}: inks are {', '.join(INKS)}")
    return {ink: role_named(role, f"{path}: ") for ink, role in pairs}


def role_named(words: str, where: str) -> Role:
    """The role of that name, written ``where``; raises WrongOption."""
    for role in ROLES:
        if role == words.strip().lower().replace(" ", "-"):
            return role
    like = difflib.get_close_matches(words.lower(), ROLES, 1)
    meant = f"did you mean {like[0]}? " if like else ""
    raise WrongOption(f"{where}{words}: {meant}roles are {', '.join(ROLES)}")
