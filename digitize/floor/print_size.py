"""How large the cards were printed, by the sheets that they were printed on.

All cards of a job come from one printer and one pack of paper: what printer and knife did to one
they did to all. So the sheets together tell one print scale across and one along, and what the
pack's cut leaves open does not shrink with more cards.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from digitize.card import RULE_MM, SHEETS_MM
from digitize.floor.accuracy import NORMAL_95, RULE_READING_MM
from digitize.floor.sheet_edges import SheetSeen, SheetSide
from digitize.floor.solve import PrintScale

# Sigma of a pack's sheets about their nominal size. ISO 216:2007 allows 2 mm at sides of 150 to
# 600 mm; that packs keep to 1.5 mm at 95 % is common practice, no source.
CUT_MM = 0.75
SAME_MM = 1.0  # sheets of one pack and printer look alike to this
UNMEASURED = 0.005  # 95 %, told to print at 100 %; common practice, no source
DOUBTFUL, WRONG = 0.007, 0.01  # differences worth a word, and worth stopping for
MISREAD = 0.012  # a rule was measured, but hardly this one: 6 in for 150 mm are 1.6 %


@dataclass(frozen=True)
class ScaleSeen:
    """True size over nominal size of the print, one way, and its sigma."""

    scale: float
    sigma: float


@dataclass(frozen=True)
class PrintSeen:
    """The print's scale across the sheets and along them, where their edges tell it."""

    across: ScaleSeen | None
    along: ScaleSeen | None

    def beside(self, used: PrintScale) -> ScaleSeen | None:
        """The print's size over the one used, as one figure for both ways; None if untold."""
        told = self._ratios(used)
        if not told:
            return None
        weights = np.array([each.sigma**-2 for each in told])
        scale = float(weights @ [each.scale for each in told] / weights.sum())
        return ScaleSeen(scale, float(weights.sum() ** -0.5))

    def contradiction(self, used: PrintScale, least: float) -> float:
        """By what share the print differs from the size used; 0 if it does not beyond ``least``.

        It counts where it also exceeds what the sheets leave open (95 %), across, along, or both
        taken together.
        """
        together = self.beside(used)
        told = [*self._ratios(used), *([together] if together else [])]
        beyond = [
            abs(each.scale - 1)
            for each in told
            if abs(each.scale - 1) > max(least, NORMAL_95 * each.sigma)
        ]
        return max(beyond, default=0.0)

    def _ratios(self, used: PrintScale) -> list[ScaleSeen]:
        pairs = (self.across, used.x), (self.along, used.y)
        return [ScaleSeen(seen.scale / by, seen.sigma / by) for seen, by in pairs if seen]


def print_of(sheets: Sequence[SheetSeen]) -> PrintSeen:
    """The print scale that sheets, as seen in all photos, tell together."""
    across, along = [], []
    for sheet in sheets:
        true = SHEETS_MM[_cut_of(sheet)]
        if sheet.across:
            across.append((sheet.across, true[0]))
        if sheet.along:
            along.append((sheet.along, true[1]))
    return PrintSeen(_together(across), _together(along))


def _cut_of(sheet: SheetSeen) -> str:
    """The paper that a card was printed on, maybe not the one that it was made for.

    Printers scale nearly alike both ways, so the sheet's shape tells; with one way seen, it is
    taken to be its own.
    """
    if not (sheet.across and sheet.along):
        return sheet.paper
    shape = sheet.along.length_mm / sheet.across.length_mm
    return min(
        SHEETS_MM, key=lambda cut: abs(np.log(SHEETS_MM[cut][1] / SHEETS_MM[cut][0] / shape))
    )


def _together(sides: Sequence[tuple[SheetSide, float]]) -> ScaleSeen | None:
    """One scale of sides as seen beside their true lengths (mm); None if most don't agree."""
    if not sides:
        return None
    scales = np.array([true / side.length_mm for side, true in sides])
    sigmas = np.array([side.sigma_mm / true for side, true in sides])
    shares = np.array([SAME_MM / true for _, true in sides])
    kept = np.abs(scales - np.median(scales)) < np.maximum(3 * sigmas, shares)
    if 2 * kept.sum() <= len(sides):
        return None
    weights = sigmas[kept] ** -2.0
    scale = float(weights @ scales[kept] / weights.sum())
    own = max(float(np.std(scales[kept])) / np.sqrt(kept.sum()), float(weights.sum() ** -0.5))
    cut = CUT_MM / float(np.mean([true for _, true in sides]))
    return ScaleSeen(scale, float(np.hypot(own, cut)))


def print_doubt(seen: PrintSeen, used: PrintScale, measured: bool) -> float:
    """How far the cards' size may be off, 95 %, as a share.

    Measured, it is off by the reading of a rule. Else what is known is that the printer was told
    100 %, or what the sheets tell, whichever is the closer; and the difference that they show is
    part of the doubt as long as nobody measured.
    """
    if measured:
        return float(np.hypot(RULE_READING_MM / RULE_MM, seen.contradiction(used, MISREAD)))
    together = seen.beside(used)
    if together is None:
        return UNMEASURED
    difference = max(abs(together.scale - 1), seen.contradiction(used, DOUBTFUL))
    return float(np.hypot(min(UNMEASURED, NORMAL_95 * together.sigma), difference))
