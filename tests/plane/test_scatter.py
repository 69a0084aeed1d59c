"""The scatter of values by hand."""

import numpy as np
import pytest

from digitize.plane import robust_sigma

VALUES = np.array([1.0, 2.0, 3.0, 100.0, -5.0])


def test_a_value_far_off_hardly_counts():
    # Far from nothing by 1, 2, 3, 5, 100: the middle one is 3.
    assert robust_sigma(VALUES) == pytest.approx(3 * 1.4826)
    # Far from 2 by 0, 1, 1, 7, 98.
    assert robust_sigma(VALUES, 2.0) == pytest.approx(1.4826)


def test_each_value_may_have_a_middle_of_its_own():
    assert robust_sigma(VALUES, VALUES - [4.0, 4.0, 2.0, 9.0, -1.0]) == pytest.approx(4 * 1.4826)
