"""The commands that put a pattern into the drawer, and show what is there."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from digitize.disk import content_of, write_all
from digitize.draw.contact import Shown, contact_pdf
from digitize.files import THUMBNAIL, files_to_keep, record_in, record_path
from digitize.finding import (
    DRAWER,
    PHOTOS,
    Drawer,
    Side,
    Since,
    Size,
    Until,
    Words,
    found_in,
    wanted,
)
from digitize.keep.drawer import (
    Damaged,
    NameTaken,
    NotKept,
    Outrun,
    Revision,
    content,
    file_name,
    kept_sums,
    put,
    revisions_of,
)
from digitize.keep.index import Kept
from digitize.keep.slip import SLIP, Slip, slip_in, slip_text
from digitize.keep.sums import sha256
from digitize.options import Allow, Allowance, Stock, blank_options
from digitize.pattern import Pattern
from digitize.shell import reported, screen, stages_shown
from digitize.shop.blank import ALLOWANCE_MM

app = typer.Typer()

STAGES = ("record", "this side", "other side", "pictures", "photos", "keeping")


@app.command()
@reported
def keep(
    pattern: Annotated[Path, typer.Argument(help="The record, pattern.json, or its folder.")],
    name: Annotated[
        str | None, typer.Option(help="What the pattern is called, if not as when it was read.")
    ] = None,
    reference: Annotated[str | None, typer.Option(help="The customer's reference.")] = None,
    part: Annotated[str | None, typer.Option(help="The vehicle or part.")] = None,
    note: Annotated[str | None, typer.Option(help="Words to find it by.")] = None,
    with_photos: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER", help="Keep the photos too; they lie in FOLDER, whatever their names."
        ),
    ] = None,
    revise: Annotated[
        bool,
        typer.Option(
            "--revise", help="It is the pattern kept under that name, though from other photos."
        ),
    ] = False,
    allowance: Allowance = f"{ALLOWANCE_MM:g}mm",
    allow: Allow = None,
    stock: Stock = None,
    drawer: Drawer = DRAWER,
) -> None:
    """Keep a pattern for the next time: record, pictures, and drawings for both sides.

    What was kept before under the same name stays as it is; this becomes the next revision.
    """
    wide, along, sheets = blank_options(allowance, allow, stock)
    record = record_in(pattern)
    if name is not None:
        record = record.model_copy(update={"name": name})
    key = file_name(f"{record.name}-{record.side}")
    with stages_shown(STAGES) as show:
        folder = record_path(pattern).parent
        files = files_to_keep(record, folder, wide, along, sheets, show)
        show("photos")
        if with_photos is not None:
            files |= _photos(record, with_photos)
        show("keeping")
        while True:
            known = revisions_of(drawer, key)
            slips = _slips(known)
            _refuse_stranger(record, key, slips, revise)
            slip = _slip(record, slips[-1] if slips else None, reference, part, note)
            if known and _is_same(known[-1], files, slip):
                screen.print(f"{known[-1]} is this already; nothing new to keep", highlight=False)
                return
            content = {**files, SLIP: slip_text(slip).encode()}
            try:
                kept = put(drawer, key, known[-1].number if known else 0, content)
                break
            except Outrun:
                continue  # another program has kept one meanwhile: look again
    size = sum(len(each) for each in content.values()) / 1e6
    screen.print(
        f"kept as {kept}, in {drawer} ({len(content)} files, {size:.1f} MB)", highlight=False
    )


@app.command()
@reported
def show(
    words: Words = None,
    side: Side = "",
    since: Since = "",
    until: Until = "",
    size: Size = "",
    out: Annotated[Path, typer.Option(help="The PDF to write.")] = Path("contact-sheet.pdf"),
    drawer: Drawer = DRAWER,
) -> None:
    """Show kept patterns on a contact sheet: a picture of each, and what is on its slip."""
    found = found_in(drawer, wanted(words, side, since, until, size))
    if not found.kept:
        raise NotKept(f"{drawer}: no kept pattern fits that")
    shown = [_shown(drawer, each) for each in found.kept]
    title = "Kept patterns" + (f": {' '.join(words)}" if words else "")
    write_all({out: contact_pdf(title, shown)})
    screen.print(f"written: {out}; patterns: {len(shown)}", highlight=False)


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
        except (Damaged, ValueError):
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
        lines=sum(not line.is_tuck_mark for line in record.lines),
        tucks=len(record.tucks),
        accuracy_mm=record.scale.accuracy_mm if record.scale else None,
    )


def _is_same(revision: Revision, files: dict[str, bytes], slip: Slip) -> bool:
    """Whether a revision holds these files and this slip, but for the time; photos it may have."""
    try:
        sums = kept_sums(revision)
        before = slip_in(content(revision, SLIP))
    except (Damaged, ValueError):
        return False
    same = all(sums.get(name) == sha256(each) for name, each in files.items())
    more = [name for name in sums.keys() - files.keys() if not name.startswith(PHOTOS)]
    return same and more == [SLIP] and replace(before, kept=slip.kept) == slip


def _shown(drawer: Path, kept: Kept) -> Shown:
    slip = kept.slip
    try:
        revisions = {each.number: each for each in revisions_of(drawer, kept.pattern)}
        picture = content(revisions[kept.revision], THUMBNAIL)
    except (Damaged, KeyError):
        picture = None
    facts = (
        f"revision {kept.revision} of {slip.kept[:10]}; paper {slip.width_mm:.0f} x "
        f"{slip.height_mm:.0f} mm, {slip.tucks} tucks"
    )
    return Shown(kept.pattern, tuple(words for words in (slip.about, facts) if words), picture)
