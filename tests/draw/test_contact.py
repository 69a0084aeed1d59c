"""The contact sheet, read back by PDFium.

On A4, with margins of 12 mm and 8 mm of head, cells are 90 mm wide, 6 mm apart, and 66.25 mm high.
"""

import io

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from digitize.draw.contact import Shown, contact_pdf

MM_PER_POINT = 25.4 / 72


def jpeg(width, height):
    content = io.BytesIO()
    Image.new("L", (width, height), 0).save(content, "JPEG")
    return content.getvalue()


@pytest.fixture(scope="module")
def pages():
    pictures = {1: jpeg(200, 100), 2: jpeg(100, 200)}
    shown = [Shown(f"name{k}", (f"told{k}",), pictures.get(k)) for k in range(9)]
    return list(pypdfium2.PdfDocument(contact_pdf("drawer", shown)))


def place_of(page, words):
    """Left and foot of some words, mm from the page's upper left."""
    text = page.get_textpage()
    left, bottom, _, _ = text.get_charbox(text.search(words).get_next()[0])
    return left * MM_PER_POINT, (page.get_height() - bottom) * MM_PER_POINT


def test_every_pattern_is_shown_row_by_row(pages):
    for k in range(9):
        page, place = pages[k // 8], k % 8
        # Its name stands under a cell's picture of 45.25 mm, 4 mm lower.
        name = (12 + 96 * (place % 2), 20 + 66.25 * (place // 2) + 45.25 + 4)
        assert place_of(page, f"name{k}") == pytest.approx(name, abs=0.5)
        assert place_of(page, f"told{k}")[1] == pytest.approx(name[1] + 4.2, abs=0.5)
    assert len(pages) == 2


def test_pictures_fit_their_cells(pages):
    picture = pages[0].render(scale=4 * MM_PER_POINT).to_numpy()[..., 0] < 90
    # The second cell's is 90 mm wide, so 45 high; the third's 45.25 high, so 22.6 wide.
    for left, top, width, height in ((108, 20, 90, 45), (12, 86.25, 22.6, 45.25)):
        inked = picture[round(4 * top) - 8 : round(4 * top) + 186, 4 * left - 8 : 4 * left + 372]
        rows = np.flatnonzero(inked.mean(axis=1) > 0.2)
        columns = np.flatnonzero(inked.mean(axis=0) > 0.5)
        assert (columns[0] / 4, (columns[-1] + 1) / 4) == pytest.approx((2, 2 + width), abs=0.5)
        assert (rows[0] / 4, (rows[-1] + 1) / 4) == pytest.approx((2, 2 + height), abs=0.5)
