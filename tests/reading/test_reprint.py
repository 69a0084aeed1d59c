"""A record printed at 1:1, photographed beside cards and read again, is the same pattern."""

import numpy as np
import pypdfium2

from digitize.draw.pdf import drawing_of, whole_pdf
from digitize.draw.svg import page_for, pattern_svg
from digitize.floor.photo import Photo
from digitize.reading import read_pattern
from tests.bench.compare import nearest_line, rigid_fit, sampled
from tests.scene import FLOOR_MM_PER_PX, Floor, Shot

CARDS = ((1, -590, 0, 0), (2, 590, 30, 180), (3, -200, 525, 90), (4, 150, -525, 270))
SOLID = ("trim-edge", "form")  # drawn through; what is dashed may be read in pieces


def test_a_reprint_reads_as_the_same_pattern(easy):
    pattern = easy.pattern
    floor = Floor(720)
    _lay_print(floor, whole_pdf(drawing_of(pattern_svg(pattern)), "corner"))
    for number, x, y, turn in CARDS:
        floor.lay_card(number, x, y, turn)
    shot = Shot(eye=(20, -30, 1500), focal_px=2400, size=(3200, 2400), radial=(0.02, -0.01))
    pixels = np.ascontiguousarray(floor.photograph(shot)[..., ::-1])
    again = read_pattern([Photo("reprint", pixels, "", None, None, None)], "reprint").pattern

    page = page_for(pattern, None)
    lines = [line for line in pattern.lines if line.role in SOLID]
    first = np.concatenate(
        [
            [(x, page.height - y) for x, y in map(page.at, sampled(np.array(line.points)).tolist())]
            for line in lines
        ]
    )
    second = [np.array(line.points) for line in again.lines]
    turn, shift = rigid_fit(first, np.concatenate([sampled(points) for points in second]))
    away, _ = nearest_line(first @ turn.T + shift, second)
    both = pattern.scale.accuracy_mm + again.scale.accuracy_mm
    assert np.quantile(away, 0.95) < min(both, 0.5)
    assert (away < both).mean() > 0.98


def _lay_print(floor, pdf):
    """Lay a print on the floor, its middle at the origin."""
    (page,) = pypdfium2.PdfDocument(pdf)
    print_out = page.render(scale=25.4 / 72 / FLOOR_MM_PER_PX).to_numpy()[..., :3]
    picture = print_out.astype(float) * 0.8 + 8  # ink and paper under a lamp
    rows, columns = picture.shape[:2]
    middle = floor.picture.shape[0] // 2
    top, left = middle - rows // 2, middle - columns // 2
    floor.picture[top : top + rows, left : left + columns] = picture
