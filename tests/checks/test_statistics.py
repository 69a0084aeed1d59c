"""Figures of statistics against the formulas that they come from.

- F. R. Hampel, "The influence curve and its role in robust estimation", Journal of the American
  Statistical Association 69, 1974: the median deviation of a normal scatter is its upper quartile.
- P. J. Huber, Robust Statistics, 1981, section 4.5 (from memory): where errors are normal, an
  estimate that is least squares up to k sigma has the efficiency (2 F(k) - 1)^2 over
  (2 F(k) - 1) - 2 k f(k) + 2 k^2 (1 - F(k)), 95 % for k = 1.345.
- NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.6.7.1: a normal scatter lies to
  95 % within 1.96 sigma (from memory).
"""

import pytest
from scipy.stats import norm

from digitize.compare.growth import NORMAL_95
from digitize.plane.registration import HUBER
from digitize.plane.scatter import MEDIAN_TO_SIGMA


def test_sigma_from_the_median_deviation_is_hampels():
    assert pytest.approx(1 / norm.ppf(0.75), abs=1e-4) == MEDIAN_TO_SIGMA


def test_the_robust_fit_is_hubers_at_95_percent():
    inside = 2 * norm.cdf(HUBER) - 1
    spread = inside - 2 * HUBER * norm.pdf(HUBER) + 2 * HUBER**2 * norm.sf(HUBER)
    assert inside**2 / spread == pytest.approx(0.95, abs=5e-4)


def test_what_is_said_at_95_percent_holds_that_often():
    assert norm.cdf(NORMAL_95) - norm.cdf(-NORMAL_95) == pytest.approx(0.95, abs=1e-4)
