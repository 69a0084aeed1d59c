"""Keep a pattern in the drawer: record, pictures, and drawings for both sides."""

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

import numpy as np
from PIL import Image

from digitize.defaults import DRAWER
from digitize.draw import overlay_picture
from digitize.errors import DamagedKept, NameTaken, NotKept, RecordError
from digitize.jobs.disk import READING, RECORD, content_of
from digitize.jobs.draw import FORMATS, Cut, drawings_of
from digitize.jobs.find import PHOTOS, kept_revision
from digitize.jobs.folder import (
    MARKED_DOWN,
    MARKED_UP,
    OVERLAY,
    RECTIFIED,
    files_of,
    jpeg,
    load_pattern,
    opposite,
    reading_beside,
    record_of,
    record_path,
)
from digitize.keep import (
    BEFORE,
    SLIP,
    THUMBNAIL,
    Outrun,
    Revision,
    Slip,
    content,
    file_name,
    kept_sums,
    put,
    revisions_of,
    sha256,
    slip_in,
    slip_text,
)
from digitize.mend import facts_in
from digitize.record import Pattern, TellAbout, numbered, standing, to_json

__all__ = ["STAGES", "KeptAs", "keep_pattern", "kept_record", "record_named"]

STAGES = ("record", "this side", "other side", "pictures", "photos", "keeping")
THUMBNAIL_PX = (720, 540)


@dataclass(frozen=True)
class KeptAs:
    """The revision that a pattern is kept as.

    ``files`` and ``size_mb`` are what was written; both 0 where it was kept already.
    """

    revision: Revision
    files: int = 0
    size_mb: float = 0.0


def keep_pattern(
    pattern: Path,
    *,
    name: str | None = None,
    reference: str | None = None,
    part: str | None = None,
    note: str | None = None,
    with_photos: Path | None = None,
    revise: bool = False,
    cut: Cut | None = None,
    drawer: Path = DRAWER,
    progress: Callable[[str], None] = lambda stage: None,
) -> KeptAs:
    """Keep a pattern for the next time; what was kept before under its name stays as it is.

    Parameters
    ----------
    pattern : the record's file or folder.
    name, reference, part, note : what it is called, the customer's reference, the vehicle or
        part, and words to find it by; what is not said anew stays as it was.
    with_photos : a folder in which the photos lie, whatever their names; they are kept too.
    revise : it is the pattern kept under that name, though read from other photos.
    progress : told each of STAGES as it begins.

    Raises
    ------
    NotRead, RecordError, BlankError, NotKept, NameTaken, NotWritten
    """
    record = load_pattern(pattern)
    reading = reading_beside(record_path(pattern), record)
    if name is not None:
        record = _named(record, name)
    key = file_name(f"{record.name}-{record.side}")
    files = _files_to_keep(record, record_path(pattern).parent, cut or Cut(), progress)
    files[READING] = to_json(reading).encode()
    progress("photos")
    if with_photos is not None:
        files |= _photos(record, with_photos)
    progress("keeping")
    while True:
        known = revisions_of(drawer, key)
        slips = _slips(known)
        _refuse_stranger(record, key, slips, revise)
        if known and not revise:
            _refuse_untold(record, known[-1])
        slip = _slip(record, slips[-1] if slips else None, reference, part, note)
        if known and _is_same(known[-1], files, slip):
            return KeptAs(known[-1])
        held = {**files, SLIP: slip_text(slip).encode()}
        try:
            kept = put(drawer, key, known[-1].number if known else 0, held)
        except Outrun:
            continue  # another program has kept one meanwhile: look again
        return KeptAs(kept, len(held), sum(len(each) for each in held.values()) / 1e6)


def _named(record: Pattern, name: str) -> Pattern:
    """The record with a name, as told: it outlasts whatever is told later."""
    told = record.told or facts_in(record)
    last = max((fact.number for fact in told), default=0)
    fact = numbered([TellAbout(name=name)], last)
    return record.model_copy(update={"name": name, "told": (*told, *fact)})


def record_named(drawer: Path, name: str | Path) -> Pattern:
    """The record in that file or folder, or else the latest in the drawer under that name.

    Raises
    ------
    NotRead, RecordError, NotKept, DamagedKept
        If there is none.
    """
    place = Path(name)
    return load_pattern(place) if place.exists() else kept_record(drawer, str(name))


def kept_record(drawer: Path, name: str) -> Pattern:
    """The latest record in the drawer under that name; raises NotKept, DamagedKept."""
    return record_of(content(kept_revision(drawer, name), RECORD))


def _files_to_keep(
    pattern: Pattern, folder: Path, cut: Cut, progress: Callable[[str], None]
) -> dict[str, bytes]:
    """What a kept revision holds beside its slip and photos, by name.

    Parameters
    ----------
    folder : where the reading's pictures lie; what is not there is not kept.
    """
    progress("record")
    files = files_of(pattern, Path(), mirror=True)
    sides = (("this side", pattern, MARKED_UP), ("other side", opposite(pattern), MARKED_DOWN))
    for name, record, face in sides:
        progress(name)
        files |= drawings_of(record, Path("drawings") / file_name(name), FORMATS, face, cut)[0]
    progress("pictures")
    pictures = {
        name: content_of(folder / name) for name in (RECTIFIED, OVERLAY) if (folder / name).exists()
    }
    return {
        **{path.as_posix(): each for path, each in files.items()},
        **pictures,
        THUMBNAIL: _thumbnail(pattern, pictures.get(OVERLAY)),
    }


def _thumbnail(pattern: Pattern, overlay: bytes | None) -> bytes:
    """A small picture of what was found: the overlay, or the record drawn on white."""
    if overlay is None:
        width, height = (max(p[axis] for p in pattern.outline) for axis in (0, 1))
        white = np.full((round(height) + 20, round(width) + 20, 3), 255, np.uint8)
        picture = Image.fromarray(overlay_picture(pattern, white, -10.0, height + 10.0, 1.0))
    else:
        picture = Image.open(io.BytesIO(overlay))
    picture.thumbnail(THUMBNAIL_PX)
    return jpeg(picture)


def _photos(record: Pattern, folder: Path) -> dict[str, bytes]:
    """The photos that a record was read from, found in a folder by their checksums."""
    if not folder.is_dir():
        raise NotKept(f"{folder}: is no folder")
    missing = {source.sha256: source.photo for source in record.sources}
    photos: dict[str, bytes] = {}
    for path in sorted(path for path in folder.iterdir() if path.is_file()):
        found = content_of(path)
        name = missing.pop(sha256(found), None)
        if name is not None:
            photos[f"{PHOTOS}{len(photos) + 1}-{file_name(name)}"] = found
    if missing:
        raise NotKept(f"{folder}: does not hold {', '.join(missing.values())} as it was read")
    return photos


def _slips(revisions: Sequence[Revision]) -> list[Slip]:
    """The sound slips of revisions."""
    slips = []
    for revision in revisions:
        try:
            slips.append(slip_in(content(revision, SLIP)))
        except (DamagedKept, ValueError):
            continue
    return slips


def _refuse_stranger(record: Pattern, key: str, slips: Sequence[Slip], revise: bool) -> None:
    """Two papers under one name would hide one another."""
    photos = {source.sha256 for source in record.sources}
    if slips and not revise and not any(photos & set(slip.photos) for slip in slips):
        raise NameTaken(
            f"{key} is kept already, read from other photos: keep this with --revise if it is the "
            "same part's pattern, or give it another --name"
        )


def _refuse_untold(record: Pattern, last: Revision) -> None:
    """What was told about the last revision would be missing in one that nothing was told about."""
    if record.told or facts_in(record):
        return
    try:
        before = record_of(content(last, RECORD))
    except (DamagedKept, RecordError):
        return
    told = len(standing(before.told or facts_in(before)))
    if told:
        raise NameTaken(
            f"{last}: {told} facts were told about it, and none about this: read the paper again "
            f"with --kept {last.pattern}, so that they come along, or keep this with --revise"
        )


def _slip(
    record: Pattern, last: Slip | None, reference: str | None, part: str | None, note: str | None
) -> Slip:
    """What can be found of a record; what is not said anew stays as it was."""
    written = [note.text for note in record.notes] + [line.note for line in record.lines]
    said = [note] if note else []
    earlier = list(last.notes) if last else []
    width, height = (max(p[axis] for p in record.outline) for axis in (0, 1))
    return Slip(
        name=record.name,
        side=record.side,
        kept=datetime.now().astimezone().isoformat(timespec="seconds"),
        width_mm=round(width, 1),
        height_mm=round(height, 1),
        reference=reference if reference is not None else last.reference if last else "",
        part=part if part is not None else last.part if last else "",
        notes=tuple(dict.fromkeys([*earlier, *(words for words in written if words), *said])),
        taken=min((source.taken for source in record.sources if source.taken), default=""),
        photos=tuple(source.sha256 for source in record.sources),
        lines=sum(line.is_of_metal for line in record.lines),
        tucks=len(record.tucks),
        accuracy_mm=record.scale.accuracy_mm if record.scale else None,
        more=last.more if last else {},
    )


def _is_same(revision: Revision, files: dict[str, bytes], slip: Slip) -> bool:
    """Whether a revision holds these files and this slip, but for the time; photos it may have."""
    try:
        sums = kept_sums(revision)
        before = slip_in(content(revision, SLIP))
    except (DamagedKept, ValueError):
        return False
    same = all(sums.get(name) == sha256(each) for name, each in files.items())
    more = {name for name in sums.keys() - files.keys() if not name.startswith(PHOTOS)}
    return same and more - {BEFORE} == {SLIP} and replace(before, kept=slip.kept) == slip
