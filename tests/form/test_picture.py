"""The form as it looks: what is nearer hides what is behind it."""

import numpy as np
import pytest

from digitize.form import TOP, shaded
from digitize.form.picture import BACKGROUND, colours

LOW = np.array([[0.0, 0.0, 0.0], [40.0, 0.0, 0.0], [0.0, 40.0, 0.0]])
HIGH = LOW * 0.5 + [0.0, 0.0, 10.0]
PALE = np.array([False] * 3 + [True] * 3)


@pytest.mark.parametrize("order", [[[0, 1, 2], [3, 4, 5]], [[3, 4, 5], [0, 1, 2]]])
def test_what_is_nearer_is_seen(order):
    picture = shaded(np.concatenate([LOW, HIGH]), np.array(order), PALE, TOP, 2.0).astype(float)
    assert picture.shape == (84, 84, 3)
    # 5 mm from the corner both lie, 30 mm along an edge the lower one alone, and across it nothing.
    both, lower, none = picture[-13, 13], picture[-7, 63], picture[10, 70]
    up = np.array([[0.0, 0.0, 1.0]])
    pale, metal = (np.clip(colours(up, np.array([each]), TOP)[0], 0, 255) for each in (True, False))
    assert np.abs(pale - metal).max() > 20
    assert both == pytest.approx(pale, abs=1) and lower == pytest.approx(metal, abs=1)
    assert none == pytest.approx(BACKGROUND)


def test_a_triangle_seen_from_its_edge_is_not_drawn():
    upright = np.array([[0.0, 0.0, 0.0], [40.0, 0.0, 0.0], [40.0, 0.0, 30.0]])
    both = np.concatenate([LOW, upright])
    alone = shaded(LOW, np.array([[0, 1, 2]]), PALE[:3], TOP, 2.0)
    assert (shaded(both, np.array([[0, 1, 2], [3, 4, 5]]), PALE, TOP, 2.0) == alone).all()
