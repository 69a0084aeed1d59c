"""Many lines' values in one array come out as each line's own do."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d, median_filter

from digitize.pencil.runs import Runs

SIZES, CLOSED = [1, 7, 40, 3, 25], [False, False, True, True, False]


@pytest.fixture
def lines():
    rng = np.random.default_rng(4)
    return [rng.normal(size=(size, 3)) for size in SIZES]


@pytest.fixture
def runs():
    return Runs(np.array(SIZES), np.array(CLOSED))


@pytest.mark.parametrize("sigma", [1.0, 4.0])
def test_a_blur_stays_on_its_line(runs, lines, sigma):
    alone = [
        gaussian_filter1d(line, sigma, axis=0, mode="wrap" if closed else "nearest")
        for line, closed in zip(lines, CLOSED, strict=True)
    ]
    assert np.allclose(runs.blurred(np.concatenate(lines), sigma), np.concatenate(alone))


def test_a_running_median_stays_on_its_line(runs, lines):
    values = [line[:, 0] for line in lines]
    ends_go_on = [
        median_filter(each, 5, mode="wrap" if closed else "nearest")
        for each, closed in zip(values, CLOSED, strict=True)
    ]
    naught_beyond = [median_filter(each, 5, mode="constant") for each in values]
    assert np.allclose(runs.typical(np.concatenate(values), 5), np.concatenate(ends_go_on))
    assert np.allclose(runs.typical(np.concatenate(values), 5, 0.0), np.concatenate(naught_beyond))


def test_means_and_quantiles_are_each_lines_own(runs, lines):
    whole = np.concatenate(lines)
    assert np.allclose(runs.means(whole), [line.mean(axis=0) for line in lines])
    for share in (0.5, 0.7):
        expected = [np.quantile(line[:, 0], share) for line in lines]
        assert np.allclose(runs.quantiles(whole[:, 0], share), expected)
