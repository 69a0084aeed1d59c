"""Tell what the photo cannot: what lines are, their radii and notes, spreads, the sheet metal."""

from collections.abc import Mapping, Sequence
from pathlib import Path

from digitize.jobs.disk import MIRRORED, RECORD, write_all
from digitize.jobs.folder import Changed, files_of, load_pattern, record_path
from digitize.mend import Radii, labelled, with_spread
from digitize.record import Role, Sheet, to_json
from digitize.remarks import with_remarks
from digitize.shop import sheet_of

__all__ = ["Changed", "Radii", "sheet_of", "tell"]


def tell(
    pattern: Path,
    *,
    roles: Mapping[str, Role] | None = None,
    radii: Mapping[str, Radii] | None = None,
    notes: Mapping[str, str] | None = None,
    spreads: Mapping[str, Sequence[tuple[float | None, float]]] | None = None,
    sheet: Sheet | None = None,
) -> Changed:
    """Tell facts about a record; it and its drawings are written anew.

    Parameters
    ----------
    pattern : the record's file or folder.
    roles, radii, notes : by line id; a radius is one (mm) for the whole line, or stations along it
        from its first point: place, whether that is a share of its length or mm, radius (mm).
    spreads : by tuck id, its gaps: depth from the tip (None: at the trim edge) and gap, mm; none
        takes the spread back.
    sheet : the metal that the part is made of.

    Raises
    ------
    NotRead, RecordError, ToldError, NotWritten
    """
    path = record_path(pattern)
    record = load_pattern(path)
    if roles or radii or notes:
        record = labelled(record, roles or {}, radii or {}, notes or {})
    for tuck, gaps in (spreads or {}).items():
        record = with_spread(record, tuck, gaps)
    if sheet is not None:
        record = record.model_copy(update={"sheet": sheet})
    record = with_remarks(record)
    if path.name == RECORD:
        files = files_of(record, path.parent, (path.parent / MIRRORED).exists())
    else:
        files = {path: to_json(record).encode()}
    write_all(files)
    return Changed(record, tuple(files))
