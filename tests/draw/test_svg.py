"""The SVG read back by svgelements and by a rasteriser (resvg), neither of them ours."""

import io
from pathlib import Path

import numpy as np
import pytest
import reportlab
import resvg_py
import svgelements
from PIL import Image
from shapely import LineString

from digitize.draw.overlay import overlay_picture
from digitize.draw.svg import MARGIN_MM, pattern_svg
from digitize.record import mirrored

VERA = Path(reportlab.__file__).parent / "fonts" / "Vera.ttf"


def read_back(text):
    """Shapes by id, in mm, from an SVG file's text."""
    svg = svgelements.SVG.parse(io.StringIO(text), ppi=25.4, reify=True)
    found = {}
    for element in svg.elements():
        if isinstance(element, svgelements.Polyline | svgelements.Polygon) and element.id:
            found[element.id] = np.array([[p.x, p.y] for p in element])
    return svg, found


def rasterised(text, dpi=127):
    png = resvg_py.svg_to_bytes(
        svg_string=text,
        dpi=dpi,
        background="white",
        font_files=[str(VERA)],
        sans_serif_family="Bitstream Vera Sans",
        skip_system_fonts=True,
    )
    return np.array(Image.open(io.BytesIO(bytes(png))).convert("RGB"))


def test_lines_come_back_at_true_size_and_place(corner):
    svg, found = read_back(pattern_svg(corner))
    top = max(y for _, y in corner.outline)
    assert svg.width == pytest.approx(max(x for x, _ in corner.outline) + 2 * MARGIN_MM)
    for line in corner.lines:
        truth = np.array(line.points) * [1, -1] + [MARGIN_MM, top + MARGIN_MM]
        assert np.abs(found[line.id][: len(truth)] - truth).max() < 0.001
        assert LineString(found[line.id]).length == pytest.approx(
            LineString([*line.points, line.points[0]] if line.closed else line.points).length,
            abs=0.01,
        )


@pytest.mark.slow
def test_the_rasterised_trim_edge_lies_where_the_record_says(corner):
    dpi = 127  # 5 px/mm
    picture = rasterised(pattern_svg(corner), dpi).astype(int)
    ink = (picture[..., 0] > 150) & (picture[..., 1] < 160) & (picture[..., 2] < 90)
    top = max(y for _, y in corner.outline)
    (longest,) = sorted(
        (line for line in corner.lines if line.role == "trim-edge"),
        key=lambda line: LineString(line.points).length,
    )[-1:]
    at = (np.array(longest.points)[5:-5] * [1, -1] + [MARGIN_MM, top + MARGIN_MM]) * dpi / 25.4
    column, row = np.floor(at).astype(int).T
    near = np.zeros(len(row), bool)
    for i in (-1, 0, 1):
        for j in (-1, 0, 1):
            near |= ink[row + i, column + j]
    assert near.mean() > 0.98


def test_mirrored_drawing_is_the_reflection_with_upright_text(corner):
    width = max(x for x, _ in corner.outline)
    _, found = read_back(pattern_svg(corner))
    text = pattern_svg(mirrored(corner), "marked face down")
    _, other = read_back(text)
    for name, points in found.items():
        if name.startswith("L") and not name.endswith("-start"):
            flipped = points * [-1, 1] + [width + 2 * MARGIN_MM, 0]
            assert np.abs(flipped - other[name]).max() < 0.002
    assert "transform" not in text  # nothing turns or flips the words
    assert "right side - marked face down" in text


@pytest.mark.slow
def test_the_words_can_be_read_on_both_sides(corner):
    """The title's ink is the same picture, unflipped, on the drawing and on its mirror image."""
    pictures = []
    for pattern in (corner, mirrored(corner)):
        same = pattern.model_copy(update={"side": "left"})
        picture = rasterised(pattern_svg(same), 96)
        top = max(y for _, y in pattern.outline) + 2 * MARGIN_MM
        rows = slice(int(top * 96 / 25.4), int((top + 7) * 96 / 25.4))
        pictures.append(picture[rows, : int(120 * 96 / 25.4)])
    assert (pictures[0] < 128).sum() > 500
    assert np.abs(pictures[0].astype(int) - pictures[1]).mean() < 1


def test_the_check_rules_measure_what_they_say(corner):
    text = pattern_svg(corner)
    svg = svgelements.SVG.parse(io.StringIO(text), ppi=25.4, reify=True)
    group = next(e for e in svg.elements() if getattr(e, "id", "") == "check-rules")
    lengths = [
        abs(line.x2 - line.x1)
        for line in group.select()
        if isinstance(line, svgelements.SimpleLine)
    ]
    assert any(length == pytest.approx(100) for length in lengths)
    assert any(length == pytest.approx(4 * 25.4) for length in lengths)


def test_the_overlay_shows_the_pattern_over_the_picture(corner):
    width, height = (max(p[axis] for p in corner.outline) for axis in (0, 1))
    paper = np.full((int(5 * height) + 100, int(5 * width) + 100, 3), 200, np.uint8)
    picture = overlay_picture(corner, paper, -10.0, height + 10.0, 0.2)
    assert picture.shape[1] <= 3200 and picture.dtype == np.uint8
    orange = (picture[..., 0] > 150) & (picture[..., 1] < 130) & (picture[..., 2] < 60)
    assert orange.sum() > 3000
