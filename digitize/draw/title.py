"""The title block: which drawing this is, of which part, side and state of its record.

Its fields are those of ISO 7200 (from memory) that a shop has a use for: identification, title,
document type, date, revision and sheet number.
"""

from digitize.record import Pattern

Fields = tuple[tuple[str, str], ...]


def title_fields(pattern: Pattern, face: str, document: str, sheet: str = "") -> Fields:
    """Names and values of the title block's fields, in order; fields without a value are left out.

    Parameters
    ----------
    face : which face of the paper is drawn.
    document : what sort of drawing it is.
    sheet : which of how many, where there are several.
    """
    fields = (
        ("document", document),
        ("part", pattern.part or ""),
        ("pattern", pattern.name),
        ("side", pattern.side),
        ("drawn", face),
        ("reference", pattern.reference or ""),
        ("revision", revision_words(pattern)),
        ("photo", ", ".join(source.photo for source in pattern.sources)),
        ("taken", taken_words(pattern)),
        ("program", f"digitize {pattern.written_by}" if pattern.written_by else ""),
        ("sheet", sheet),
    )
    return tuple((name, value) for name, value in fields if value)


def title_words(fields: Fields) -> str:
    """The title block's fields in a row."""
    return "  |  ".join(f"{name} {value}" for name, value in fields)


def revision_words(pattern: Pattern) -> str:
    """Which state of the record is drawn: as it was read, or up to which of the facts told."""
    last = max((fact.number for fact in pattern.told), default=0)
    return f"as told up to fact {last}" if last else "as read"


def taken_words(pattern: Pattern) -> str:
    """The days on which the photos were taken."""
    return " and ".join(sorted({s.taken[:10] for s in pattern.sources if s.taken}))
