"""Whether two patterns are the same within a tolerance: yes, no, or not to be told."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from digitize.compare.deviation import Comparison, Gap, LineDeviation
from digitize.defaults import SAME_MM
from digitize.plane import STEP_MM, runs_of

Floats = NDArray[np.float64]

SURE = 3.0  # standard deviations, as for control limits (W. A. Shewhart, 1931)
STRETCH_MM = 10.0  # a difference shorter than this is a blot or a slip of the hand
GAP_MM = 20.0  # a line may stop so much sooner, at its end or by a slit
ALIKE = 0.5
MATTERS = ("trim-edge", "radius-start", "radius-end")


@dataclass(frozen=True)
class Verdict:
    """``same``, ``different`` or ``cannot tell``; and why, a line each, the largest first.

    Of what is the same, the reasons name what could not be compared.
    """

    says: Literal["same", "different", "cannot tell"]
    reasons: tuple[str, ...]


def doubt(deviation: LineDeviation, accuracy_mm: float) -> Floats:
    """By how much (N,) each deviation may be wrong, mm: three sigma, and what both are within."""
    return np.hypot(SURE * deviation.sigma, accuracy_mm)


def standing(
    deviation: LineDeviation, accuracy_mm: float, tolerance_mm: float
) -> NDArray[np.int64]:
    """How each place (N,) stands: 0 within the tolerance, 2 beyond it, both without doubt, else 1.

    -1 where there is nothing to go by.
    """
    off, doubted = np.abs(deviation.off), doubt(deviation, accuracy_mm)
    stands = (off + doubted > tolerance_mm).astype(np.int64) + (off - doubted > tolerance_mm)
    return np.where(np.isfinite(off) & deviation.judged, stands, -1)


def verdict_on(comparison: Comparison, tolerance_mm: float = SAME_MM) -> Verdict:
    """The verdict on a comparison.

    Different is what is off by more than the tolerance even if all doubt speaks for it, over a
    stretch; same is what is within it even if all doubt speaks against it, everywhere, with nothing
    missing that matters.
    """
    found = [
        (largest, words)
        for each in comparison.deviations
        for largest, words in _differences(each, comparison.accuracy_mm, tolerance_mm)
    ]
    for pair in comparison.tucks:
        if pair.tuck and pair.other and abs(pair.off) - SURE * pair.sigma > tolerance_mm:
            words = f"{pair.tuck} laps {abs(pair.off):.1f} mm {'more' if pair.off > 0 else 'less'}"
            found.append((abs(pair.off), f"{words} there"))
    if comparison.covered < ALIKE:
        return Verdict(
            "cannot tell",
            (
                f"only {comparison.covered:.0%} of the lines lie alike: are they of the same part, "
                "and is one the mirror image?",
            ),
        )
    if found:
        found_words = tuple(words for _, words in sorted(found, reverse=True))
        return Verdict("different", (*found_words, *_shared(comparison)))
    doubts = _doubts(comparison, tolerance_mm)
    says: Literal["same", "cannot tell"] = "cannot tell" if doubts else "same"
    return Verdict(says, (*(doubts or _left_out(comparison)), *_shared(comparison)))


def _shared(comparison: Comparison) -> tuple[str, ...]:
    """That the cards' print was left out, if it was, and what that rests on."""
    cards = ", ".join(str(number) for number in comparison.shared_cards)
    return (
        (
            f"both were read by cards {cards}, so that what their print leaves open is the same in "
            "both and was left out; if they were printed anew between, give what the rules of each "
            "print read",
        )
        if cards
        else ()
    )


def _left_out(comparison: Comparison) -> tuple[str, ...]:
    """Stretches of lines that do not matter so much, and that only one has."""
    return tuple(
        f"{words}; it was not compared" for gap, words in _gaps(comparison) if not _matters(gap)
    )


def _gaps(comparison: Comparison) -> list[tuple[Gap, str]]:
    """Stretches that only one of both has, and how that is said."""
    both = [(each.gap, "") for each in comparison.deviations]
    both += [(gap, "the other's ") for gap in comparison.gaps]
    return [
        (
            gap,
            f"{whose}{gap.line} ({gap.role}) has no counterpart over {gap.length_mm:.0f} mm, "
            f"about x {gap.at[0]:.0f}, y {gap.at[1]:.0f}",
        )
        for gap, whose in both
        if gap.length_mm > GAP_MM
    ]


def _matters(gap: Gap) -> bool:
    return gap.role in MATTERS


def _differences(
    deviation: LineDeviation, accuracy_mm: float, tolerance_mm: float
) -> list[tuple[float, str]]:
    """The largest of a line's differences beyond doubt, and how it is said, if there is one."""
    sure = standing(deviation, accuracy_mm, tolerance_mm) == 2
    least = min(round(STRETCH_MM / STEP_MM), max(len(sure) // 2, 1))
    beyond = [np.arange(a, b) for a, b in runs_of(sure) if b - a >= least]
    if not beyond:
        return []
    places = np.concatenate(beyond)
    worst = int(places[np.argmax(np.abs(deviation.off[places]))])
    off, (x, y) = float(deviation.off[worst]), deviation.points[worst]
    return [
        (
            abs(off),
            f"{deviation.line} ({deviation.role}) lies up to {abs(off):.1f} mm further "
            f"{'out' if off > 0 else 'in'}, beyond doubt over {len(places) * STEP_MM:.0f} mm, "
            f"most at x {x:.0f}, y {y:.0f}",
        )
    ]


def _doubts(comparison: Comparison, tolerance_mm: float) -> tuple[str, ...]:
    """Why it cannot be said that all is the same."""
    doubts = [words for gap, words in _gaps(comparison) if _matters(gap)]
    near: list[tuple[float, str]] = []
    for each in comparison.deviations:
        if not each.judged.all():
            doubts.append(f"{each.line}: slits in other places leave part of it not comparable")
        close = standing(each, comparison.accuracy_mm, tolerance_mm) > 0
        if close.any():
            may_be = np.abs(each.off) + doubt(each, comparison.accuracy_mm)
            worst = int(np.nanargmax(np.where(close, may_be, np.nan)))
            near.append(
                (
                    float(may_be[worst]),
                    f"{each.line} ({each.role}) is off by {abs(each.off[worst]):.1f} mm, give or "
                    f"take {doubt(each, comparison.accuracy_mm)[worst]:.1f} mm",
                )
            )
    doubts += [words for _, words in sorted(near, reverse=True)[:3]]
    for pair in comparison.tucks:
        if pair.tuck is None or pair.other is None:
            whose = f"the other's {pair.other}" if pair.tuck is None else pair.tuck
            doubts.append(f"tuck {whose} has no counterpart")
        elif abs(pair.off) + SURE * pair.sigma > tolerance_mm:
            doubts.append(
                f"{pair.tuck} laps {pair.off:+.1f} mm there, "
                f"give or take {SURE * pair.sigma:.1f} mm"
            )
    if near and comparison.accuracy_mm > tolerance_mm / 2:
        whose = "each other's" if comparison.shared_cards else "true"
        doubts.append(
            f"together both readings are within {comparison.accuracy_mm:.1f} mm of {whose} size: "
            "read them from three photos, or give a taped check distance"
        )
    return tuple(doubts)
