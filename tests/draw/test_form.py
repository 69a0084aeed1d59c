"""The form sheet: in the user's unit, with its title block, on as many pages as it takes."""

import re
from dataclasses import replace

import numpy as np
import pytest

from digitize.draw import ShownForm, form_sheets
from digitize.form import Length, check_of, formed, frame_of, lengths_of, sizes_of
from tests.form.bent import straight_bend


@pytest.fixture(scope="module")
def form():
    return formed(straight_bend(60.0, 50.0), 12.0)


@pytest.fixture(scope="module")
def shown(form):
    frame = frame_of(form)
    told = {"name": "demo", "side": "left", "part": "caravan, rear", "reference": "K-12"}
    return ShownForm(
        form.pattern.model_copy(update=told),
        "marked face up",
        frame.at(form.solution.places),
        form.solution.mesh.triangles,
        form.solution.mesh.paper,
        form.doubt.open,
        (),
        np.full((20, 30, 3), 200, dtype=np.uint8),
        1.2,
        sizes_of(form, frame),
        frame.words,
        (0.4, 2.2),
    )


def words_in(page):
    return re.findall(r"<text[^>]*>([^<]*)</text>", page)


def test_a_sheet_has_the_title_block_of_its_part_and_counts_its_pages(form, shown):
    pages = form_sheets(shown, lengths_of(form.pattern), check_of(form))
    for number, page in enumerate(pages, 1):
        foot = " ".join(words_in(page)[-3:])
        for each in ("part caravan, rear", "reference K-12", "side left", "revision as read"):
            assert each in foot
        assert f"sheet {number} of {len(pages)}" in foot and "Gloves" in foot


@pytest.mark.parametrize(
    ("unit", "size", "radius", "within"),
    [
        ("mm", r"length 160 mm \(6 5/16 in\) within", "50 mm (1 31/32 in)", "2.2 mm (3/32 in)"),
        ("inch", r"length 6 5/16 in \(160 mm\) within", "1 31/32 in (50 mm)", "3/32 in (2.2 mm)"),
    ],
)
def test_a_sheet_is_in_the_users_unit_and_the_other_beside_it(
    form, shown, unit, size, radius, within
):
    own = replace(shown, pattern=shown.pattern.model_copy(update={"unit": unit}))
    own = replace(own, sizes=replace(own.sizes, over_all=np.array([160.2, 90.0, 30.0])))
    pages = form_sheets(own, [Length("E1 (trim-edge)", 440.0, 438.0)], check_of(form))
    words = [" ".join(words_in(page)) for page in pages]
    assert re.search(size, words[0]) and f"most of it within {within}" in words[0]
    assert f"radius told: {radius}" in words[-1]
    length = {"mm": "440.0 mm (17 5/16 in)", "inch": "17 5/16 in (440.0 mm)"}[unit]
    assert length in words[1]


def test_no_word_on_a_sheet_is_smaller_than_can_be_read(form, shown):
    for page in form_sheets(shown, lengths_of(form.pattern), check_of(form)):
        sizes = [float(each) for each in re.findall(r'font-size="([\d.]+)"', page)]
        assert len(sizes) > 5 and min(sizes) >= 2.8  # 2.6 mm where Letter is shorter


def test_many_lengths_go_on_to_another_page(form, shown):
    many = [Length(f"F{number} (form)", 100.0, 99.0) for number in range(90)]
    pages = form_sheets(shown, many, check_of(form))
    assert len(pages) == 4
    found = [each for page in pages for each in words_in(page)]
    assert [each for each in found if each.startswith("F")] == [each.of for each in many]
    heights = [
        float(each) for page in pages for each in re.findall(r'<text[^>]* y="([\d.]+)"', page)
    ]
    assert max(heights) <= 297.0 - 8
