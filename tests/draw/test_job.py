"""The job sheet of the lopsided pattern, read back page by page from its PDF by PDFium."""

from dataclasses import replace

import pypdfium2
import pytest

from digitize.draw.job import MOST_TOGETHER, job_of, job_pdf
from digitize.draw.order import steps_of_job
from digitize.draw.title import revision_words, title_fields
from digitize.record import (
    Area,
    Band,
    BandStation,
    Break,
    Curvature,
    LineGroup,
    PrintCorrection,
    RadiusAt,
    Remark,
    Scale,
    Sheet,
    TellAbout,
    numbered,
)
from digitize.shop import ShrinkTable, StockChoice
from digitize.shop.shrink import ShrinkRow
from tests.draw.lopsided import BLANK, PATTERN, PUNCHED, line

SHEETS = ("36 x 96 in", "48 x 96 in")
STOCK = StockChoice(one=SHEETS[0], both=SHEETS[1], sheets=SHEETS)
TABLE = ShrinkTable(
    "Z1", "shrink", (0.0, 20.0), (ShrinkRow("T1", 63.0, (7.4, 4.2), 51.0, 0.117, 1.376),)
)


@pytest.fixture(scope="module")
def pattern():
    curvature = Curvature(laps_deg=31, laps_sigma_deg=2, radii_deg=27, radii_sigma_deg=3)
    stations = (
        BandStation(along=0, width=26, radius=60, turned_deg=24.8),
        BandStation(along=47, width=31, radius=30, turned_deg=59.2),
    )
    told = line(
        "L2",
        "radius-start",
        PATTERN.line("L2").points,
        radii=(RadiusAt(along=0, radius=60), RadiusAt(along=47, radius=30)),
        note="inner corner, where the gutter of the roof comes down",
    )
    return PATTERN.model_copy(
        update={
            "lines": tuple(told if each.id == "L2" else each for each in PATTERN.lines),
            "tucks": (
                PATTERN.tucks[0].model_copy(
                    update={
                        "breaks": (
                            Break(lines=("L1", "L1"), depth=20, lap=7.4, along=0),
                            Break(lines=("L4", "L4"), depth=40, lap=3.0, along=0),
                        )
                    }
                ),
            ),
            "groups": (
                LineGroup(id="E1", role="trim-edge", pieces=({"line": "L1"},), closed=True),
                LineGroup(id="F1", role="form", pieces=({"line": "L4"},)),
            ),
            "bands": (Band(id="B1", start="L2", ends=("L3",), stations=stations),),
            "zones": (
                PATTERN.zones[0].model_copy(update={"curvature": curvature, "peak_local": 0.045}),
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
            "reference": "K-12",
            "sheet": Sheet(material="steel", thickness=1.2147, gauge=18),
            "remarks": (
                Remark(kind="closure", words="look at <it>", severity="stop"),
                Remark(kind="print", words="nobody measured", severity="note"),
            ),
        }
    )


def steps(pattern):
    found = steps_of_job(pattern, BLANK, STOCK, PUNCHED, [TABLE])
    return {step.title.split(",")[0]: step.parts for step in found}


def test_the_steps_come_in_the_order_of_the_work(pattern):
    assert list(steps(pattern)) == [
        "Mark out and cut the blank",
        "Punch the pattern through",
        "Shrink",
        "Bend",
        "Trim",
        "Check",
    ]


def test_each_step_has_its_figures_in_the_users_unit_first(pattern):
    """400 mm are 15.75 in, 250 are 9.84: 9 27/32; 906 cm2 of 1.2147 mm steel weigh 864 g."""
    found = steps(pattern)
    assert found["Mark out and cut the blank"] == (
        "400.0 mm (15 3/4 in) x 250.0 mm (9 27/32 in), cut outside the dashed line",
        "steel 18 ga, 1.21 mm; the blank weighs about 0.9 kg",
        "fits 36 x 96 in; with the other side's, 48 x 96 in (of 36 x 96 in, 48 x 96 in)",
    )
    assert found["Punch the pattern through"][0].startswith("3 punch points")
    assert found["Shrink"] == (
        "Z1 T1: take out 7.4 mm (9/32 in) at the edge, over 63 mm (2 15/32 in) of it; "
        "fading to nothing 51 mm (2 in) in from it",
    )
    assert found["Bend"] == (
        "B1, L2 to L3, 26 mm (1 1/32 in) to 31 mm (1 7/32 in) wide: "
        "R 60.0 mm (2 3/8 in), turns 25\N{DEGREE SIGN}; "
        "R 30.0 mm (1 3/16 in), turns 59\N{DEGREE SIGN}",
    )
    # sqrt(30^2 + 6^2) + sqrt(50^2 + 14^2) = 30.59 + 51.92 = 82.5 mm, 3.249 in: 3 mm less than flat.
    assert found["Check"] == ("F1, form line: 82.5 mm (3 1/4 in)",)
    inches = steps(pattern.model_copy(update={"unit": "inch"}))
    assert inches["Shrink"][0].startswith("Z1 T1: take out 9/32 in (7.4 mm) at the edge")
    assert inches["Check"] == ("F1, form line: 3 1/4 in (82.5 mm)",)


def test_a_zone_to_stretch_and_an_unsure_tuck_are_said():
    stretch = ShrinkTable("Z2", "stretch", (0.0,), (ShrinkRow("T1", 50, (-4.0,), 40, 0.1, None),))
    tucks = (PATTERN.tucks[0].model_copy(update={"unsure": True}),)
    record = PATTERN.model_copy(update={"tucks": tucks})
    found = {s.title: s.parts for s in steps_of_job(record, None, None, (), [stretch])}
    assert found["Stretch"][0].startswith("Z2 T1: let in 4.0 mm (5/32 in)")
    assert "T1 is not sure" in found["Stretch"][1]
    assert "trim edge does not close" in found["Mark out and cut the blank"][0]


def test_areas_told_stand_in_their_step():
    ring = ((10, 10), (60, 10), (60, 60))
    areas = tuple(
        Area(id=f"A{number}", use=use, boundary=ring)
        for number, use in enumerate(("stretch", "no-shrink", "extra-metal", "hatched"))
    )
    record = PATTERN.model_copy(update={"areas": areas})
    found = {s.title: s.parts for s in steps_of_job(record, None, None, (), [TABLE])}
    assert found["Stretch"] == ("A0, as drawn",)
    assert found["Shrink"][-1] == "A1, as drawn: no shrinking in there"


@pytest.fixture(scope="module")
def pages(pattern, sheet="a4"):
    return words_of(
        job_pdf(job_of(pattern, "marked face up", False, BLANK, STOCK, PUNCHED, [], [TABLE]), sheet)
    )


def words_of(content):
    document = pypdfium2.PdfDocument(content)
    return [page.get_textpage().get_text_range().replace("\r\n", " ") for page in document]


def test_every_page_has_side_reference_rule_cautions_and_its_number(pages):
    for number, words in enumerate(pages, 1):
        assert "LEFT" in words and "reference K-12" in words and "revision as read" in words
        assert "100 mm: measure before use" in words and "Gloves" in words
        assert f"sheet {number} of {len(pages)}" in words


def test_what_stops_the_work_stands_before_its_first_step(pages):
    assert 0 <= pages[0].index("Before you cut: look at <it>") < pages[0].index("Mark out and cut")
    # What is only to be known comes after all steps.
    words = " ".join(pages)
    assert words.index("Check, tape") < words.index("nobody measured")


def test_a_line_is_listed_once_with_its_pieces_and_its_whole_note(pages):
    words = " ".join(pages)
    # The trim edge is closed: 340, 140, sqrt(230^2 + 70^2) and sqrt(110^2 + 210^2) mm; flat, it is
    # longer by its tuck's lap of 7.4 mm.
    assert "E1 L1 trim edge (60%) 964.9 (38) 957.5 (37 11/16)" in words
    assert "inner corner, where the gutter of the roof comes down" in words
    assert "60.0 (2 3/8) to 30.0 (1 3/16)" in words
    assert "T1 slit slit L5 7.4 (9/32)" in words
    assert "Z1: total curvature 31 degrees by the laps, by the radii 27; shrink up to 4.5%" in words
    assert "further than 0.5 mm (1/32 in) from true size" in words


def test_the_opposite_side_says_so_on_every_page(pattern):
    job = job_of(pattern, "marked face down", True, BLANK, STOCK, PUNCHED, [], [TABLE])
    for words in words_of(job_pdf(job, "letter")):
        assert "OPPOSITE SIDE: mirrored" in words


def test_a_sheet_is_a4_or_letter_and_no_word_is_off_it(pattern):
    job = job_of(pattern, "marked face up", False, BLANK, STOCK, PUNCHED, [], [TABLE])
    for sheet, size in (("a4", (595.3, 841.9)), ("letter", (612, 792))):
        for page in pypdfium2.PdfDocument(job_pdf(job, sheet)):
            assert page.get_size() == pytest.approx(size, abs=0.1)
            text = page.get_textpage()
            for index in range(text.count_rects()):
                left, low, right, top = text.get_rect(index)
                assert left > 20 and low > 8 and right < size[0] - 20 and top < size[1] - 20


def test_no_page_is_empty(pages):
    own = [words.split("100 mm: measure")[0] for words in pages]
    assert all(len(words) > 300 for words in own), [len(words) for words in own]


def test_many_parts_of_a_step_run_over_pages_and_none_is_lost(pattern):
    rows = tuple(ShrinkRow(f"T{k}", 63.0, (7.4,), 51.0, 0.1, None) for k in range(80))
    job = job_of(pattern, "marked face up", False, BLANK, STOCK, PUNCHED, [], [TABLE])
    steps = steps_of_job(
        pattern, BLANK, STOCK, PUNCHED, [ShrinkTable("Z1", "shrink", (0.0,), rows)]
    )
    assert len(steps[2].parts) == 80 > MOST_TOGETHER
    words = " ".join(words_of(job_pdf(replace(job, steps=steps), "a4")))
    assert all(f"Z1 T{k}: take out" in words for k in range(80))


def test_the_same_bytes_again(pattern):
    made = [
        job_pdf(job_of(pattern, "marked face up", False, BLANK, STOCK, PUNCHED, [], [TABLE]), "a4")
        for _ in range(2)
    ]
    assert made[0] == made[1]


def test_the_title_block_names_the_state_of_the_record():
    fact = numbered([TellAbout(part="roof corner")], 4)
    told = PATTERN.model_copy(update={"told": fact, "part": "roof corner", "written_by": "1.2.3"})
    assert revision_words(PATTERN) == "as read"
    fields = dict(title_fields(told, "marked face up", "job sheet"))
    assert fields["revision"] == "as told up to fact 5"
    assert (fields["document"], fields["part"], fields["program"]) == (
        "job sheet",
        "roof corner",
        "digitize 1.2.3",
    )
    assert "reference" not in fields
