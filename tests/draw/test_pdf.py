"""The PDFs rasterised by PDFium, another library than the one that wrote them, and measured."""

import cv2
import numpy as np
import pypdfium2
import pytest

from digitize.draw.pdf import (
    CROP_MM,
    MARGIN_MM,
    OVERLAP_MM,
    drawing_of,
    match_mark,
    tiles_pdf,
    tiling_of,
    whole_pdf,
)
from digitize.draw.svg import page_for, pattern_svg
from digitize.record import mirrored

DPI = 300
PX = 25.4 / DPI  # mm


def pages(content, dpi=DPI):
    document = pypdfium2.PdfDocument(content)
    shades = (page.render(scale=dpi / 72, grayscale=True).to_numpy() for page in document)
    return [shade[..., 0] if shade.ndim == 3 else shade for shade in shades]


def ink_near(picture):
    """Where ink lies on a pixel or one beside it: less than 0.1 mm away."""
    assert PX < 0.1 < PX * 2**0.5
    ink = (picture <= 200).astype(np.uint8)
    return cv2.dilate(ink, cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3))) > 0


def all_drawn(near, page, points):
    """Whether there is ink near every one of a line's points."""
    at = np.array([page.at(tuple(p)) for p in points]) / PX - 0.5
    columns, rows = np.round(at).astype(int).T
    return near[rows, columns].all()


@pytest.fixture(scope="module")
def drawing(corner):
    # Drawn through, so that a dash's gap is not taken for a line that is missing.
    solid = corner.model_copy(
        update={
            "lines": tuple(line.model_copy(update={"role": "trim-edge"}) for line in corner.lines)
        }
    )
    return solid, pattern_svg(solid), page_for(solid, None)


@pytest.mark.slow
def test_the_whole_page_is_at_true_size(drawing):
    pattern, svg, page = drawing
    (picture,) = pages(whole_pdf(drawing_of(svg), "corner"))
    assert picture.shape[1] * PX == pytest.approx(page.width, abs=0.1)
    near = ink_near(picture)
    for line in pattern.lines:
        assert all_drawn(near, page, line.points)


@pytest.mark.slow
@pytest.mark.parametrize("sheet", ["a4", "letter"])
def test_tiles_put_together_by_their_match_marks_are_the_drawing(drawing, sheet):
    pattern, svg, page = drawing
    drawn = page.drawn(pattern, None)
    tiling = tiling_of(page.width, page.height, np.array(drawn), sheet)
    kept = tiling.kept(np.array(drawn))
    tiles = pages(tiles_pdf(drawing_of(svg), drawn, "corner", sheet))
    assert len(tiles) == len(kept) < tiling.rows * tiling.columns + 1
    whole = np.full((int(page.height / PX) + 99, int(page.width / PX) + 99), 255, np.uint8)
    inset = MARGIN_MM + OVERLAP_MM / 2
    for (column, row), tile in zip(kept, tiles, strict=True):
        assert has_mark_at(tile, inset / PX) == bool(column or row)  # shared with a neighbour
        x, y_up = match_mark(tiling, column, row, page.height)
        left, top = round((x - inset) / PX), round((page.height - y_up - inset) / PX)
        first, last = int((MARGIN_MM + 1) / PX), int((MARGIN_MM + CROP_MM + 1) / PX)
        inner = tile[first:-last, first:-first]
        part = whole[top + first :, left + first :][: inner.shape[0], : inner.shape[1]]
        np.minimum(part, inner[: part.shape[0], : part.shape[1]], out=part)
    near = ink_near(whole)
    for line in pattern.lines:
        assert all_drawn(near, page, line.points)


def has_mark_at(tile, place):
    """Whether a cross stands there, in pixels from the upper left corner."""
    middle, arm = round(place - 0.5), int(3.0 / PX)
    window = tile[middle - arm : middle + arm, middle - arm : middle + arm] < 160
    across, down = window[arm - 1 : arm + 2].any(axis=0), window[:, arm - 1 : arm + 2].any(axis=1)
    return bool(across.mean() > 0.95 and down.mean() > 0.95)


def test_every_tile_has_a_check_rule(drawing):
    pattern, svg, page = drawing
    for tile in pages(tiles_pdf(drawing_of(svg), page.drawn(pattern, None), "corner", "a4"), 150):
        foot = tile[-int(9.5 / (2 * PX)) :] < 128
        longest = max(longest_run(row) for row in foot)
        assert longest * 2 * PX == pytest.approx(100, abs=0.4)


def longest_run(row):
    edges = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(int), [0]])))
    return int(np.max(edges[1::2] - edges[::2], initial=0))


@pytest.mark.slow
def test_the_other_side_is_the_exact_reflection(corner):
    other = mirrored(corner)
    (picture,) = pages(whole_pdf(drawing_of(pattern_svg(other)), "corner"))
    near, page = ink_near(picture), page_for(other, None)
    xs = [x for x, _ in corner.outline]
    for line in corner.lines:
        if line.role in ("trim-edge", "form", "slit"):
            flipped = [(max(xs) + min(xs) - x, y) for x, y in line.points]
            assert all_drawn(near, page, flipped)


def test_the_same_bytes_again(drawing):
    _, svg, _ = drawing
    assert whole_pdf(drawing_of(svg), "corner") == whole_pdf(drawing_of(svg), "corner")
