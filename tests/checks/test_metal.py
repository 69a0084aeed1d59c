"""Sheet gauges and thickness against published tables.

Sources, the tables' values from memory: Machinery's Handbook, sheet metal gauges: Manufacturers'
Standard Gauge for sheet steel, and the American Wire (Brown & Sharpe) Gauge for aluminium, in
inches; W. Hosford and R. Caddell, Metal Forming: Mechanics and Metallurgy, chapter 1: metal keeps
its volume, so the true strains in length, width and thickness add up to nothing; in a wide sheet
drawn to 1.25 times its length, 1 mm become 0.8 mm; EN 1991-1-1:2002, table A.4: steel weighs
77.0 to 78.5 kN/m3, aluminium 27.0, rounded to half a kN.
"""

import math

import pytest

from digitize.errors import SheetError
from digitize.shop.metal import DENSITY_G_PER_CM3, gauge_mm, sheet_of, thickness_after


@pytest.mark.parametrize(
    ("material", "gauge", "inches"),
    [
        ("steel", 14, 0.0747),
        ("steel", 16, 0.0598),
        ("steel", 18, 0.0478),
        ("steel", 19, 0.0418),
        ("steel", 20, 0.0359),
        ("steel", 22, 0.0299),
        ("steel", 24, 0.0239),
        ("steel", 26, 0.0179),
        ("aluminium", 10, 0.1019),
        ("aluminium", 14, 0.0641),
        ("aluminium", 16, 0.0508),
        ("aluminium", 18, 0.0403),
        ("aluminium", 20, 0.0320),
        ("aluminium", 26, 0.0159),
    ],
)
def test_gauges(material, gauge, inches):
    assert gauge_mm(material, gauge) / 25.4 == pytest.approx(inches, abs=0.00005)


@pytest.mark.parametrize(
    ("material", "least", "most"), [("steel", 77.0, 78.5), ("aluminium", 27.0, 27.0)]
)
def test_densities(material, least, most):
    weight = DENSITY_G_PER_CM3[material] * 9.80665  # kN/m3
    assert least - 0.5 <= round(2 * weight) / 2 <= most


def test_volume_is_kept():
    assert thickness_after(1.0, -0.25) == pytest.approx(0.8)
    for shrink in (0.02, 0.1, 0.3):
        strains = math.log(1 - shrink) + math.log(thickness_after(1.2, shrink) / 1.2)
        assert strains == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(
    ("words", "thickness", "gauge"),
    [
        ("steel 18 ga", 1.2147, 18),
        ("Aluminum 16ga", 1.2907, 16),
        ("steel 1.2mm", 1.2, None),
        ("steel 0.048 in", 1.2192, None),
    ],
)
def test_sheets_as_people_write_them(words, thickness, gauge):
    sheet = sheet_of(words)
    assert (sheet.thickness, sheet.gauge) == (pytest.approx(thickness, abs=2e-4), gauge)


@pytest.mark.parametrize("words", ["steel", "tin 18 ga", "steel 17 ga", "steel 48 mm", "18 ga"])
def test_words_that_name_no_sheet_say_how_to(words):
    with pytest.raises(SheetError):
        sheet_of(words)
