"""Tell what the photo cannot; what was told can be listed, taken back, and told again."""

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from pathlib import Path

from digitize.errors import RecordError, ToldError
from digitize.jobs.changed import Changed, Heard
from digitize.jobs.disk import RECORD, alone, content_of, write_all
from digitize.jobs.folder import (
    drawings_beside,
    load_pattern,
    picture_beside,
    reading_beside,
    reading_path,
    record_path,
    records_of,
    stale_beside,
)
from digitize.mend import (
    End,
    Lost,
    Radii,
    RadiusTold,
    Replayed,
    fact_about_take_up,
    facts_about_lines,
    facts_in,
    in_words,
    place_of,
    placed,
    replayed,
)
from digitize.record import (
    Pattern,
    Role,
    Sheet,
    TakeBack,
    TellAbout,
    TellAgain,
    TellCut,
    TellFold,
    TellNoTuck,
    Told,
    facts_from_json,
    facts_of,
    numbered,
    standing,
    to_json,
    with_unknown_keys,
)
from digitize.remarks import with_lost
from digitize.shop import sheet_of
from digitize.units import Unit

__all__ = [
    "Changed",
    "End",
    "Heard",
    "Radii",
    "RadiusTold",
    "TellCut",
    "TellFold",
    "TellNoTuck",
    "Told",
    "facts_in_file",
    "facts_said",
    "in_words",
    "place_of",
    "sheet_of",
    "starts_of",
    "tell",
    "told_about",
    "unit_of",
]


def tell(
    pattern: Path,
    *,
    facts: Sequence[Told | Mapping[str, object]] = (),
    roles: Mapping[str, Role] | None = None,
    radii: Mapping[str, Radii] | None = None,
    notes: Mapping[str, str] | None = None,
    spreads: Mapping[str, Sequence[tuple[float | None, float]]] | None = None,
    laps: Mapping[str, Sequence[tuple[float | None, float]]] | None = None,
    sheet: Sheet | None = None,
    take_back: Sequence[int] = (),
    again: Sequence[int] = (),
    draw: bool = True,
) -> Changed:
    """Tell facts about a record; it and its drawings are written anew.

    All facts are kept in the record, replayed on what the photos gave, which stays as it is in
    ``reading.json`` beside it.

    Parameters
    ----------
    pattern : the record's file or folder.
    facts : any facts, or what a file would hold of them; a line may be named by its id or its line
        group's.
    roles, radii, notes : by id of a line or line group; a radius is one (mm) for the whole line, or
        stations along it.
    spreads, laps : by tuck id, its gaps where it opened, or laps measured by hand: depth from the
        tip (None: at the trim edge) and gap or lap, mm; none takes back what was told.
    sheet : the metal that the part is made of.
    take_back, again : numbers of facts that count no longer, or count again.
    draw : draw it anew; otherwise drawings that are no longer true are taken away, and
        ``draw_beside`` makes them when they are wanted.

    Raises
    ------
    NotRead, RecordError, ToldError, NotWritten
    """
    path = record_path(pattern)
    with alone(path.parent):
        before = load_pattern(path)
        reading = reading_beside(path, before)
        told = _facts_about(before, path)
        new = _placed(before, reading, told, facts_said(facts), path)
        new += facts_about_lines(before, roles or {}, radii or {}, notes or {})
        new += [
            fact_about_take_up(before, tuck, [(depth, -gap) for depth, gap in gaps])
            for tuck, gaps in (spreads or {}).items()
        ]
        new += [fact_about_take_up(before, tuck, said) for tuck, said in (laps or {}).items()]
        new += [TellAbout(sheet=sheet)] if sheet is not None else []
        new += [*(TakeBack(fact=number) for number in take_back)]
        new += [*(TellAgain(fact=number) for number in again)]
        _refuse_unknown(told, [each.fact for each in new if isinstance(each, TakeBack | TellAgain)])
        now = datetime.now().astimezone().isoformat(timespec="seconds")
        last = max((fact.number for fact in told), default=0)
        heard = numbered(new, last, now)
        told = (*told, *heard)
        made = _replayed(reading, told, path, {fact.number for fact in heard})
        record = with_unknown_keys(with_lost(made), before)
        if path.name == RECORD:
            folder = path.parent
            files = (drawings_beside if draw else records_of)(record, folder)
            gone = stale_beside(before, folder, files)
        else:
            files, gone = {path: to_json(record).encode()}, ()
        if not reading_path(path).exists():
            files[reading_path(path)] = to_json(reading).encode()
        write_all(files, gone)
        return Changed(record, tuple(files), tuple(gone), _heard(told, made.lost))


def unit_of(pattern: Path) -> Unit:
    """The unit of a record's user, in which bare numbers are; raises NotRead, RecordError."""
    return load_pattern(pattern).unit


def starts_of(pattern: Pattern, names: Collection[str]) -> dict[str, str]:
    """Of names of lines, those that are ends of a bend, each with its start, where radii stand."""
    starts = {end.lower(): band.start for band in pattern.bands for end in band.ends}
    return {name: starts[name.lower()] for name in names if name.lower() in starts}


def told_about(pattern: Path) -> tuple[Heard, ...]:
    """What was told about a record, in order; raises NotRead, RecordError."""
    path = record_path(pattern)
    record = load_pattern(path)
    told = _facts_about(record, path)
    reading = reading_beside(path, record)
    return _heard(told, replayed(reading, told, lambda: picture_beside(path, record)).lost)


def _heard(told: Sequence[Told], not_fitting: Sequence[Lost]) -> tuple[Heard, ...]:
    """Facts as they are listed; ``not_fitting`` of them do not fit the reading."""
    counting = {fact.number for fact in standing(tuple(told))}
    lost = {each.fact.number: each.why for each in not_fitting}
    return tuple(
        Heard(
            fact,
            place_of(fact),
            fact.number in counting or isinstance(fact, TakeBack | TellAgain),
            lost.get(fact.number),
        )
        for fact in told
    )


def facts_in_file(path: Path) -> tuple[Told, ...]:
    """The facts in a JSON file, a list of them; raises NotRead, ToldError."""
    try:
        return facts_from_json(content_of(path))
    except RecordError as error:
        raise ToldError(f"{path}: {error}") from error


def _facts_about(record: Pattern, path: Path) -> tuple[Told, ...]:
    """What was told of a record; of one of before, without its reading, what it carries."""
    return record.told or (() if reading_path(path).exists() else facts_in(record))


def _placed(
    before: Pattern, reading: Pattern, told: Sequence[Told], facts: Sequence[Told], path: Path
) -> list[Told]:
    """Facts with the place of what they name, which may be a line that one before them makes."""
    new: list[Told] = []
    pattern = before
    for fact in facts:
        try:
            new += placed(pattern, fact)
        except ToldError:
            if not new:
                raise
            last = max((each.number for each in told), default=0)
            pattern = with_lost(_replayed(reading, (*told, *numbered(new, last)), path, set()))
            new += placed(pattern, fact)
    return new


def facts_said(facts: Sequence[Told | Mapping[str, object]]) -> tuple[Told, ...]:
    """Facts as a file or a page would have them; raises ToldError."""
    try:
        return facts_of(facts)
    except RecordError as error:
        raise ToldError(str(error).replace("a file of facts", "facts")) from error


def _replayed(reading: Pattern, told: Sequence[Told], path: Path, new: set[int]) -> Replayed:
    """A reading with facts; raises ToldError if one of the new ones does not fit."""
    made = replayed(reading, told, lambda: picture_beside(path, reading))
    for each in made.lost:
        if each.fact.number in new:
            raise ToldError(each.why)
    return made


def _refuse_unknown(told: Sequence[Told], numbers: Sequence[int]) -> None:
    known = [fact.number for fact in told if not isinstance(fact, TakeBack | TellAgain)]
    for number in numbers:
        if number not in known:
            said = ", ".join(map(str, known)) or "none"
            raise ToldError(f"{number}: no fact has that number; facts are {said}")
