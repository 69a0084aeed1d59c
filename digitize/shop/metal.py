"""Sheet metal: gauges, densities, and what shrinking does to the thickness.

Sources, both from memory: the Manufacturers' Standard Gauge for sheet steel, which goes by weight,
a square foot of steel an inch thick weighing 41.82 lb (Machinery's Handbook, table of sheet metal
gauges); the American Wire (Brown & Sharpe) Gauge, used for aluminium sheet: number n is
0.005 * 92 ** ((36 - n) / 39) inch (ASTM B258).
"""

import re
from typing import Literal

from digitize.errors import SheetError
from digitize.record import Sheet
from digitize.units import INCH_MM

STEEL_OUNCES = {14: 50, 16: 40, 18: 32, 19: 28, 20: 24, 22: 20, 24: 16, 26: 12}  # a square foot
STEEL_OUNCES_PER_INCH = 16 * 41.82
ALUMINIUM_GAUGES = range(10, 27)
DENSITY_G_PER_CM3 = {"steel": 7.85, "aluminium": 2.70}  # from memory, of common sheet
THINNEST_MM, THICKEST_MM = 0.3, 6.0
Material = Literal["steel", "aluminium"]
MATERIALS: dict[str, Material] = {
    "steel": "steel",
    "aluminium": "aluminium",
    "aluminum": "aluminium",
}


def gauge_mm(material: Material, gauge: int) -> float:
    """Thickness of a gauge, mm; KeyError if the material has no such gauge."""
    if material == "steel":
        return INCH_MM * STEEL_OUNCES[gauge] / STEEL_OUNCES_PER_INCH
    if gauge not in ALUMINIUM_GAUGES:
        raise KeyError(gauge)
    return float(INCH_MM * 0.005 * 92 ** ((36 - gauge) / 39))


def sheet_of(words: str) -> Sheet:
    """The sheet that words name: ``steel 18 ga``, ``aluminium 1.6 mm``, ``steel 0.048in``.

    Raises
    ------
    SheetError
        If they name none.
    """
    named = re.fullmatch(r"\s*([a-z]+)\s*([0-9.]+)\s*(ga|gauge|mm|in)\s*", words.lower())
    if named is None or named[1] not in MATERIALS:
        raise SheetError(f"{words}: write it like steel 18 ga, aluminium 16 ga or steel 1.2 mm")
    material = MATERIALS[named[1]]
    try:
        if named[3] in ("ga", "gauge"):
            gauge = int(named[2])
            thickness = round(gauge_mm(material, gauge), 4)
            return Sheet(material=material, gauge=gauge, thickness=thickness)
        thickness = float(named[2]) * (INCH_MM if named[3] == "in" else 1.0)
    except (KeyError, ValueError):
        known = STEEL_OUNCES if material == "steel" else ALUMINIUM_GAUGES
        raise SheetError(
            f"{words}: gauges of {material} here are {', '.join(map(str, known))}; or give mm"
        ) from None
    if not THINNEST_MM <= thickness <= THICKEST_MM:
        raise SheetError(
            f"{words}: panels are shaped from {THINNEST_MM:g} to {THICKEST_MM:g} mm; check the unit"
        )
    return Sheet(material=material, thickness=round(thickness, 4))


def thickness_after(thickness: float, shrink: float) -> float:
    """Thickness (mm) of metal shrunk by a share of its length, which keeps its volume.

    The other direction keeps its length, so what the length loses the thickness gains.
    """
    return thickness / (1 - shrink)


def sheet_words(sheet: Sheet) -> str:
    """A sheet as people name it."""
    gauge = f" {sheet.gauge} ga," if sheet.gauge else ""
    return f"{sheet.material}{gauge} {sheet.thickness:.2f} mm"
