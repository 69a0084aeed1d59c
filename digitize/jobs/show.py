"""Show kept patterns on a contact sheet."""

from collections.abc import Sequence
from pathlib import Path

from digitize.draw import Shown, contact_pdf
from digitize.errors import DamagedKept
from digitize.jobs.disk import write_all
from digitize.keep import THUMBNAIL, Kept, content, revisions_of


def write_contact_sheet(drawer: Path, kept: Sequence[Kept], words: str, out: Path) -> None:
    """Write a PDF with a picture of each kept pattern, and what is on its slip.

    Parameters
    ----------
    kept : the patterns, as ``find`` gives them.
    words : what was looked for, for the title.
    """
    title = "Kept patterns" + (f": {words}" if words else "")
    write_all({out: contact_pdf(title, [_shown(drawer, each) for each in kept])})


def _shown(drawer: Path, kept: Kept) -> Shown:
    slip = kept.slip
    try:
        revisions = {each.number: each for each in revisions_of(drawer, kept.pattern)}
        picture = content(revisions[kept.revision], THUMBNAIL)
    except (DamagedKept, KeyError):
        picture = None
    facts = (
        f"revision {kept.revision} of {slip.kept[:10]}; paper {slip.width_mm:.0f} x "
        f"{slip.height_mm:.0f} mm, {slip.tucks} tucks"
    )
    return Shown(kept.pattern, tuple(words for words in (slip.about, facts) if words), picture)
