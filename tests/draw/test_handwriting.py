"""Writing in the drawings: where it stood, upright on both sides' drawings."""

import base64
import io

import numpy as np
import pytest
from PIL import Image

from digitize.draw.svg import MARGIN_MM, pattern_svg
from digitize.record import Note, mirrored
from tests.draw.test_svg import rasterised

BOX = (300.0, 200.0, 340.0, 220.0)


def shown():
    """A picture that is black at its left third, and so not like its mirror image."""
    grey = np.full((20, 40), 255, np.uint8)
    grey[:, :13] = 0
    content = io.BytesIO()
    Image.fromarray(grey).save(content, "PNG")
    return base64.b64encode(content.getvalue()).decode()


def dark_columns(pattern, left, low):
    """Which mm across a box of 40 by 20 mm on the drawing are black in its middle row."""
    dpi = 127  # 5 px/mm
    picture = rasterised(pattern_svg(pattern), dpi).min(axis=2)
    top = max(y for _, y in pattern.outline)
    row = round((top - low - 10 + MARGIN_MM) * 5)
    columns = np.round((np.arange(40) + 0.5 + left + MARGIN_MM) * 5).astype(int)
    return np.flatnonzero(picture[row, columns] < 100)


@pytest.mark.slow
def test_handwriting_stands_where_it_stood_and_is_never_mirrored(corner):
    pattern = corner.model_copy(update={"notes": (Note(id="N1", box=BOX, picture=shown()),)})
    assert dark_columns(pattern, BOX[0], BOX[1]) == pytest.approx(np.arange(13), abs=1)
    other = mirrored(pattern)
    (note,) = other.notes
    assert note.box != BOX
    assert dark_columns(other, note.box[0], note.box[1]) == pytest.approx(np.arange(13), abs=1)


def test_a_note_without_a_picture_is_an_empty_box(corner):
    pattern = corner.model_copy(update={"notes": (Note(id="N1", box=BOX),)})
    text = pattern_svg(pattern)
    assert 'id="N1"' in text
    assert "<image" not in text
