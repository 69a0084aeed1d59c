"""The job sheet of the lopsided pattern, read back."""

import pytest

from digitize.draw.job import job_svg
from digitize.record import (
    Band,
    BandStation,
    Curvature,
    PrintCorrection,
    Remark,
    Scale,
    Sheet,
)
from digitize.shop import StockChoice
from tests.draw.lopsided import BLANK, PATTERN, line
from tests.draw.read_back import read, row_at, texts, words_at


@pytest.fixture(scope="module")
def svg():
    curvature = Curvature(laps_deg=31, laps_sigma_deg=2, radii_deg=27, radii_sigma_deg=3)
    stations = (
        BandStation(along=50, width=26, radius=60, turned_deg=24.8),
        BandStation(along=100, width=31, radius=30, turned_deg=59.2),
        BandStation(along=150, width=20, radius=45, turned_deg=25.4),
    )
    pattern = PATTERN.model_copy(
        update={
            "lines": (
                *PATTERN.lines,
                line("L6", "radius-start", [(40, 30), (160, 30)], radius=45, note="inner corner"),
                line("L7", "form", [(40, 30), (40, 113)]),
            ),
            "bands": (Band(id="B1", start="L2", ends=("L3",), stations=stations),),
            "zones": (
                PATTERN.zones[0].model_copy(
                    update={"curvature": curvature, "peak_local": 0.045, "peak_shrink": 0.04}
                ),
            ),
            "scale": Scale(
                cards=(),
                reprojection_px=0.2,
                print_correction=PrintCorrection(),
                accuracy_mm=0.47,
                accuracy_cards_mm=0.11,
                accuracy_print_mm=0.35,
                accuracy_flatness_mm=0.29,
            ),
            "closure_rms": 0.37,
            "sheet": Sheet(material="steel", thickness=1.2147, gauge=18),
            "remarks": (Remark(kind="closure", words="look at it", severity="stop"),),
        }
    )
    sheets = ("36 x 96 in", "48 x 96 in")
    stock = StockChoice(one=sheets[0], both=sheets[1], sheets=sheets)
    return read(job_svg(pattern, "marked face down", BLANK, stock))


def test_each_lines_figures_stand_under_their_heads(svg):
    heads = ["line", "is", "length mm", "radius", "note"]
    # The trim edge is closed: 340, 140, sqrt(230^2 + 70^2) and sqrt(110^2 + 210^2) mm.
    assert list(row_at(svg, heads, "L1").values())[:3] == ["L1", "trim edge (60%)", "957"]
    # Of six lines the left half of the table has three, the right half the others.
    found = [(text, x) for text, x, _ in texts(svg)]
    assert ("L6", pytest.approx(105)) in found and ("120", pytest.approx(147)) in found
    assert ("45", pytest.approx(165)) in found and ("inner corner", pytest.approx(179)) in found
    assert ("L7", pytest.approx(105)) in found and ("83", pytest.approx(147)) in found
    assert not any(text == "L5" for text, _ in found)  # a slit: the paper's


def test_each_bands_ranges_stand_under_their_heads(svg):
    heads = ["band", "from", "width mm", "radius mm", "turned degrees"]
    row = row_at(svg, heads, "B1")
    assert list(row.values()) == ["B1", "L2", "20 to 31", "30 to 60", "25 to 59"]


def test_a_lines_name_stands_beside_its_middle(svg):
    # Paper and blank with 4 mm to spare are 420 x 281 mm, shown on 186 mm of width.
    scale = 186 / 420
    place = (12 + scale * (290 + 16) + 0.8, 28 + scale * (270 - 66) - 0.8)
    found = [(x, y) for text, x, y in texts(svg) if text == "L4"]
    assert found[0] == pytest.approx(place, abs=0.002)


def test_what_is_said_under_the_tables_has_the_blanks_and_the_records_figures(svg):
    words = " ".join(text for text, _, _ in texts(svg))
    # 400 mm are 15.7 in, 250 are 9.8. 906 cm2 of 1.2147 mm weigh 906 * 0.12147 * 7.85 = 864 g.
    assert (
        "Blank: 400 x 250 mm (15.7 x 9.8 in) turned by -12 degrees, 0.091 m2, 0.86 kg of steel "
        "18 ga, 1.21 mm"
    ) in words
    assert "that holds it: 36 x 96 in; it and the other side's: 48 x 96 in (of 36 x" in words
    assert "Points are within 0.47 mm (95 %)" in words
    assert "meet to 0.37 mm (RMS)" in words
    assert "Z1: total curvature 31 degrees by the laps, by the radii 27; shrink up to 4.5%" in words
    assert "Stop: look at it" in words
    assert "lopsided, left side, marked face down" in words_at(svg)
