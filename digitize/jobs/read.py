"""Read a paper pattern from photos into a folder; what was told about it before is kept."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from digitize.compare import Comparison, Verdict, compared, is_same_paper, verdict_on
from digitize.defaults import DRAWER, SAME_MM, TOLERANCE_MM
from digitize.draw import compared_svg
from digitize.errors import NameTaken
from digitize.floor import CheckDistance, Mark, PrintScale, camera_from_json, open_photo
from digitize.jobs.disk import alone, content_of, write_all
from digitize.jobs.folder import as_kept, earlier_record, files_of_reading, stale_beside
from digitize.jobs.keep import kept_record
from digitize.mend import carried_over, picture_of
from digitize.reading import STAGES, Asked, read_pattern
from digitize.record import Pattern, Role, Side
from digitize.remarks import about_grown, with_lost

__all__ = [
    "STAGES",
    "CheckDistance",
    "Mark",
    "PrintScale",
    "Read",
    "Since",
    "read_photos",
]


@dataclass(frozen=True)
class Since:
    """How a paper lies against its kept pattern, and whether it is still the same."""

    comparison: Comparison
    verdict: Verdict


@dataclass(frozen=True)
class Read:
    """A pattern that was read, and the files that were written."""

    pattern: Pattern
    since: Since | None
    written: tuple[Path, ...]


def read_photos(
    photos: Sequence[Path],
    out: Path,
    *,
    name: str | None = None,
    side: Side = "unknown",
    mirror: bool = False,
    print_scale: PrintScale | None = None,
    camera: Path | None = None,
    checks: Sequence[CheckDistance] = (),
    use_checks: bool = False,
    tolerance_mm: float = TOLERANCE_MM,
    paper_px: Sequence[tuple[float, float]] = (),
    held_flat: bool = False,
    ink_roles: Mapping[str, Role] | None = None,
    kept: str | None = None,
    replace: bool = False,
    drawer: Path = DRAWER,
    progress: Callable[[str], None] = lambda stage: None,
) -> Read:
    """Read a paper pattern from photos of it beside scale cards, and write its record.

    Parameters
    ----------
    photos : one of the whole paper, or several overlapping ones.
    out : the folder for the record, its drawings and pictures; what was told about an earlier
        reading in it is carried over.
    name : what the pattern is called; the first photo's name if not given.
    mirror : write the opposite side's record and drawing too.
    print_scale : the cards' size as measured with a rule.
    camera : the file of the kept camera that took the photos.
    checks, use_checks : taped distances, to compare or to correct the size by.
    tolerance_mm : a remark says what to do where points may be further off (95 %).
    paper_px : the paper's corners in pixels of the first photo, if it cannot be told otherwise.
    held_flat : the paper is weighted or pinned flat all round.
    ink_roles : what lines of an ink are.
    kept : the name in the drawer of the pattern that this paper was read as before.
    replace : another paper's record in the folder goes, with what was told about it.
    progress : told each of STAGES as it begins.

    Raises
    ------
    NameTaken
        If the folder holds another paper's record; nothing is written then.
    DigitizeError
        If something cannot be used; nothing is written then.
    """
    before = kept_record(drawer, kept) if kept else None
    if before is None:
        earlier_record(out)  # which must not be one that cannot be read
    lens = camera_from_json(content_of(camera)) if camera else None
    contents = [content_of(path) for path in photos]
    reading = read_pattern(
        [open_photo(path.name, each) for path, each in zip(photos, contents, strict=True)],
        name or (before.name if before else photos[0].stem),
        before.side if before and side == "unknown" else side,
        Asked(
            print_scale,
            lens,
            tuple(checks),
            use_checks,
            tolerance_mm,
            held_flat=held_flat,
            paper_px=tuple(paper_px),
        ),
        ink_roles or {},
        progress,
    )
    read, since = reading.pattern, None
    if before:
        comparison = compared(before, read, growing=True)
        since = Since(comparison, verdict_on(comparison))
        if comparison.growth:
            remarks = (*read.remarks, *about_grown(comparison.growth))
            read = read.model_copy(update={"remarks": remarks})
    with alone(out):
        there = earlier_record(out)  # with what was told meanwhile
        other = there is not None and not _is_of(there, read)
        if there and other and not replace:
            raise NameTaken(
                f"{out}: holds the record of another paper, {there.name}, {there.side} side: give "
                "another folder, or --replace to lose it and what was told about it"
            )
        told, pattern = before or (None if other else there), read
        if told:
            # In the picture as it is kept, so that it comes out the same whenever it is again.
            carried = carried_over(told, read, lambda: picture_of(read, as_kept(reading.raster)))
            pattern = with_lost(carried)
        files = files_of_reading(read, pattern, reading.raster, out, mirror)
        if since:
            svg = compared_svg(since.comparison, since.verdict, SAME_MM)
            files[out / "since.svg"] = svg.encode()
        stale = [stale_beside(each, out, files) for each in (told, there) if each]
        write_all(files, {path for paths in stale for path in paths})
    return Read(pattern, since, tuple(files))


def _is_of(record: Pattern, read: Pattern) -> bool:
    """Whether a record can be of the paper that was read now."""
    photos = ({source.sha256 for source in each.sources} for each in (record, read))
    return not set.isdisjoint(*photos) or is_same_paper(record, read)
