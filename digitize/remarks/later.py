"""What is to be said about a new reading of a paper that was read before."""

from digitize.compare import Growth, about_growth
from digitize.mend import Carried
from digitize.record import Remark


def about_carried(carried: Carried) -> tuple[Remark, ...]:
    """What was told about the old reading and does not fit the new one."""
    lost = tuple(
        Remark(
            kind="told-lost",
            words=f"what was told about {line.id} ({line.role}) finds no line in this reading",
        )
        for line in carried.lost
    )
    if carried.spreads_found == carried.spreads:
        return lost
    words = (
        f"of {carried.spreads} slits told to have opened {carried.spreads_found} are in this "
        "reading"
    )
    return (*lost, Remark(kind="told-lost", words=words))


def about_grown(growth: Growth) -> tuple[Remark, ...]:
    """That the paper has grown or shrunk, if that is sure."""
    if not growth.is_sure:
        return ()
    words = f"since it was kept, {about_growth(growth)}"
    return (Remark(kind="paper-grown", words=words, severity="note"),)
