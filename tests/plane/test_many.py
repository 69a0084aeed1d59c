import numpy as np
import pytest

from digitize.plane import arrays_of, lines_through


def test_many_paths_at_once_are_what_each_is_alone():
    paths = [
        ((0.0, 0.0), (3.0, 4.0)),
        ((1.0, 1.0), (1.0, 2.0), (2.0, 2.0)),
        ((5.0, 5.0), (5.0, 9.0)),
    ]
    arrays = arrays_of(paths)
    for array, path in zip(arrays, paths, strict=True):
        np.testing.assert_array_equal(array, path)
    assert [line.length for line in lines_through(arrays)] == pytest.approx([5, 2, 4])


def test_of_none_there_are_none():
    assert arrays_of([]) == [] and len(lines_through([])) == 0
