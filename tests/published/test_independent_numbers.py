"""The same numbers by other roads: integration by scipy, chains built anew, the bivariate normal."""

import math

import numpy as np
import pytest
from scipy import integrate, stats

from tracker.drift import chart_constants, cusum_run_length, ewma_run_length
from tracker.gauge import global_risk
from tracker.spread import tolerance_factor


def test_constants_of_all_group_sizes():
    # The trapezoid rule on a smooth function that vanishes at both ends is good to all digits.
    x = np.linspace(-9, 9, 4001)
    below, above = stats.norm.cdf(x), stats.norm.sf(x)
    for n in range(2, 101):
        found = chart_constants(n)
        d2 = float(np.trapezoid(1 - below**n - above**n, x))
        c4 = stats.chi.mean(n - 1) / math.sqrt(n - 1)
        assert found.d2 == pytest.approx(d2, rel=1e-9)
        assert found.c4 == pytest.approx(c4, rel=1e-9)
        assert pytest.approx(3 / (d2 * math.sqrt(n)), rel=1e-9) == found.A2
        assert pytest.approx(3 / d2, rel=1e-9) == found.E2
        assert pytest.approx(1 + 3 * math.sqrt(1 - c4**2) / c4, rel=1e-7) == found.B4
        assert pytest.approx(1 + 3 * found.d3 / d2, rel=1e-9) == found.D4


@pytest.mark.parametrize("n", [2, 3, 12, 1000])
@pytest.mark.parametrize(("coverage", "confidence"), [(0.5, 0.5), (0.95, 0.95), (0.99, 0.99), (0.999, 0.9)])
def test_tolerance_factors_hold_what_they_say(n, coverage, confidence):
    k = tolerance_factor(n, coverage, confidence)

    def held(off):
        # Half width about a mean ``off`` sd away that holds the coverage: noncentral chi-square of one degree.
        radius = math.sqrt(stats.ncx2.ppf(coverage, 1, off**2))
        return stats.chi2.sf((n - 1) * (radius / k) ** 2, n - 1) * stats.norm.pdf(off, scale=1 / math.sqrt(n))

    chance = 2 * integrate.quad(held, 1e-9, 9 / math.sqrt(n), epsabs=1e-10, limit=200)[0]
    assert chance == pytest.approx(confidence, abs=3e-6)
    one = tolerance_factor(n, coverage, confidence, sides=1)
    chance = stats.nct.cdf(one * math.sqrt(n), n - 1, stats.norm.ppf(coverage) * math.sqrt(n))
    assert chance == pytest.approx(confidence, abs=1e-6)


def averaged(width, weight, shift, states):
    """Run length of the weighted average by a chain over so many states."""
    half = width * math.sqrt(weight / (2 - weight))
    step = 2 * half / states
    at = -half + (np.arange(states) + 0.5) * step
    middle = (at[None, :] - (1 - weight) * at[:, None]) / weight - shift
    chance = stats.norm.cdf(middle + step / 2 / weight) - stats.norm.cdf(middle - step / 2 / weight)
    return np.linalg.solve(np.eye(states) - chance, np.ones(states))[states // 2]


@pytest.mark.parametrize(("weight", "width", "shift"), [(0.2, 3.0, 0.0), (0.1, 2.7, 0.0), (0.2, 3.0, 1.0)])
def test_run_length_of_weighted_averages(weight, width, shift):
    coarse, fine = (averaged(width, weight, shift, states) for states in (151, 301))
    # The error of the chain falls with the square of the step.
    exact = fine + (fine - coarse) / (301**2 / 151**2 - 1)
    assert ewma_run_length(weight, width, shift) == pytest.approx(exact, rel=2e-5)


def summed(slack, decision, shift, states):
    """Run length of an upward sum by a chain over so many states."""
    step = 2 * decision / (2 * states - 1)
    at = np.arange(states) * step
    away = at[None, :] - at[:, None] + slack - shift
    chance = stats.norm.cdf(away + step / 2) - stats.norm.cdf(away - step / 2)
    chance[:, 0] = stats.norm.cdf(step / 2 - at + slack - shift)
    return np.linalg.solve(np.eye(states) - chance, np.ones(states))[0]


@pytest.mark.parametrize(("slack", "decision", "shift"), [(0.5, 4.0, 0.0), (0.5, 5.0, 1.0), (0.25, 8.0, 0.5)])
def test_run_length_of_cumulative_sums(slack, decision, shift):
    ways = []
    for side in (shift, -shift):
        coarse, fine = (summed(slack, decision, side, states) for states in (150, 300))
        ways.append(fine + (fine - coarse) / 3)
    assert cusum_run_length(slack, decision, shift) == pytest.approx(1 / sum(1 / way for way in ways), rel=1e-4)


@pytest.mark.parametrize(
    ("mean", "u", "limits", "accept"), [(0.0, 0.3, (-2, 2), (-2, 2)), (0.5, 0.5, (-1.5, 2), (-1.2, 1.7))]
)
def test_global_risks_are_those_of_the_bivariate_normal(mean, u, limits, accept):
    both = stats.multivariate_normal([mean, mean], [[1, 1], [1, 1 + u * u]])

    def share(sizes, readings):
        return sum(a * b * both.cdf([x, y]) for a, x in zip((-1, 1), sizes) for b, y in zip((-1, 1), readings))

    found = global_risk(mean, 1.0, u, *limits, *accept)
    everything, inside = (-50, 50), share(limits, accept)
    assert found.consumer_risk == pytest.approx(share(everything, accept) - inside, abs=1e-7)
    assert found.producer_risk == pytest.approx(share(limits, everything) - inside, abs=1e-7)
