import numpy as np

from digitize.tucks.creases import from_common_tip, without_jogs
from tests.marks import curve_of


def bent(y):
    return 8.0 * (y / 150.0) ** 2


def course_of(x, y):
    return curve_of(np.column_stack([x, y]), 0.3)


def strays(curve, low, high):
    x, y = curve.points[(curve.points[:, 1] > low) & (curve.points[:, 1] < high)].T
    return np.abs(x - bent(y)).max()


def test_a_bent_mark_keeps_its_course():
    y = np.arange(0.0, 151.0)
    x = bent(y) + 0.5 * np.sin(y / 30.0)  # no arc
    found_x, found_y = without_jogs(course_of(x, y)).points.T
    away = np.abs(found_x - np.interp(found_y, y, x))
    assert away[(found_y > 10.0) & (found_y < 140.0)].max() < 0.1
    assert away.max() < 0.3


def test_a_hook_at_the_papers_edge_draws_nothing_else_aside():
    y = np.arange(0.0, 151.0)
    hook = 0.7 * np.clip((y - 143.0) / 7.0, 0.0, None)
    found = without_jogs(course_of(bent(y) + hook, y))
    assert strays(found, 0.0, 140.0) < 0.06
    assert strays(found, 140.0, 151.0) < 0.4


def test_a_bowed_cut_keeps_its_bow_where_its_lap_line_parts_from_it():
    # Both run as one for 30 mm; then either is drawn towards the other, by up to 0.6 mm.
    y = np.arange(0.0, 81.0)
    after = np.clip(y - 30.0, 0.0, None)
    towards = np.where(y >= 30, 0.6 * np.exp(-after / 2.5), 0.0)
    cut = course_of((bent(y) + towards)[30:], y[30:])
    lap_line = course_of(bent(y) + 0.15 * after, y)
    assert strays(from_common_tip(cut, lap_line), 0.0, 80.0) < 0.1
