"""What is to be said about a new reading of a paper that was read before."""

from collections.abc import Sequence

from digitize.compare import Growth, about_growth
from digitize.mend import Lost, Replayed, place_of
from digitize.record import Pattern, Remark
from digitize.remarks.record import with_remarks


def about_lost(lost: Sequence[Lost]) -> tuple[Remark, ...]:
    """What was told and does not fit the reading."""
    return tuple(
        Remark(
            kind="told-lost",
            words=f"what was told as number {each.fact.number} ({each.fact.kind}) does not fit "
            f"this reading: {each.why}",
            at=place_of(each.fact),
        )
        for each in lost
    )


def about_grown(growth: Growth) -> tuple[Remark, ...]:
    """That the paper has grown or shrunk, if that is sure."""
    if not growth.is_sure:
        return ()
    words = f"since it was kept, {about_growth(growth)}"
    return (Remark(kind="paper-grown", words=words, severity="note"),)


def with_lost(made: Replayed) -> Pattern:
    """The pattern of a replay, with all that is to be said of it and of what did not fit."""
    remarks = (*made.pattern.remarks, *about_lost(made.lost))
    return with_remarks(made.pattern.model_copy(update={"remarks": remarks}))
