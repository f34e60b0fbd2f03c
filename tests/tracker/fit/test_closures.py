"""Closures: worst case, root sum square and chance, against scipy and simulation."""

import itertools
import math

import numpy as np
import pytest
from scipy import stats

from tracker.errors import NotEnoughData, TrackerError
from tracker.fit import chance_any, closure
from tracker.fit.closures import uniform_sum_below

HEAD = np.array([12.01, 12.03, 11.99, 12.02, 12.00, 12.04])
RECESS = np.array([11.50, 11.52, 11.49, 11.51, 11.50])


def test_a_fit_is_a_closure():
    """Internal minus external: the same chance as `chance_any`, the same measured share."""
    fit = chance_any(HEAD, RECESS, 0.47, 0.55)
    found = closure({"head": (1, HEAD), "recess": (-1, RECESS)}, 0.47, 0.55)
    assert found.chance == pytest.approx(fit.pair, abs=3e-6)
    assert found.below == pytest.approx(fit.too_tight / fit.pairs, abs=3e-6)
    assert found.measured_share == pytest.approx(fit.measured_share, abs=1e-12)


def test_worst_case_is_the_worst_of_all_corners():
    terms = {"a": (1, (10.0, 9.9, 10.2)), "b": (-2, (3.0, 2.95, 3.1)), "c": (0.5, (4.0, 3.8, 4.0))}
    corners = [a - 2 * b + 0.5 * c for a, b, c in itertools.product((9.9, 10.2), (2.95, 3.1), (3.8, 4.0))]
    found = closure(terms, 5.0, 6.5)
    assert (found.worst_case.low, found.worst_case.high) == pytest.approx((min(corners), max(corners)))
    measured = closure({"a": (1, HEAD), "b": (-1, RECESS)}, 0, 1)
    assert measured.worst_case.low == pytest.approx(HEAD.min() - RECESS.max())


def test_root_sum_square_of_tolerances():
    """Equal tolerances: the likely tolerance of the sum is theirs times the root of their number."""
    found = closure([(1, (10.0, 9.9, 10.1))] * 4, 39.0, 41.0)
    assert found.root_sum_square.high - found.root_sum_square.low == pytest.approx(0.2 * 2)
    assert found.root_sum_square.confidence == pytest.approx(0.9973, abs=5e-5)
    assert found.worst_case.high - found.worst_case.low == pytest.approx(0.8)


def test_normal_terms_have_the_normal_chance():
    found = closure({"a": (1, (10.0, 0.03)), "b": (-1, (4.0, 0.04))}, 5.95, 6.1)
    assert found.chance == pytest.approx(stats.norm.cdf(2) - stats.norm.cdf(-1), abs=1e-12)
    assert found.above == pytest.approx(stats.norm.sf(2), abs=1e-12)
    shared = closure({"a": (1, (10.0, 0.03))}, 9.95, None, common_uncertainty=0.04)
    assert shared.chance == pytest.approx(stats.norm.cdf(1), abs=1e-12)


def test_gauge_noise_is_taken_out_of_measured_spread():
    plain = closure({"a": (1, HEAD)}, 11.9, 12.1)
    cleaned = closure({"a": (1, HEAD)}, 11.9, 12.1, uncertainty=0.01)
    assert cleaned.contributions[0].sd == pytest.approx(math.sqrt(HEAD.var(ddof=1) - 0.0001))
    assert cleaned.chance > plain.chance
    assert closure({"a": (1, HEAD)}, 11.9, 12.1, uncertainty=1.0).contributions[0].sd == 0.0


def test_mixed_terms_are_simulated():
    rng = np.random.default_rng(1)
    terms = {"a": (1, (10.0, 9.7, 10.3)), "b": (-1, (4.0, 0.1)), "c": (1, np.array([1.0, 1.1, 0.9, 1.05, 0.95]))}
    found = closure(terms, 6.7, 7.3, shape="uniform", rng=3)
    sizes = terms["c"][1]
    new = sizes.mean() + sizes.std(ddof=1) * math.sqrt(1 + 1 / 5) * rng.standard_t(4, 500_000)
    total = rng.uniform(9.7, 10.3, 500_000) - rng.normal(4.0, 0.1, 500_000) + new
    expected = np.mean((total >= 6.7) & (total <= 7.3))
    assert found.chance == pytest.approx(expected, abs=5 * found.chance_error)
    assert 0 < found.chance_error < 0.002
    assert "simulated" in found.method
    assert found == closure(terms, 6.7, 7.3, shape="uniform", rng=3)
    moved = closure(terms, 6.7, 7.3, shape="uniform", common_uncertainty=0.3)
    assert moved.chance < found.chance - 0.05


@pytest.mark.parametrize("count", [1, 2, 3, 6])
def test_sums_of_equal_uniforms_are_irwin_hall(count):
    for value in np.linspace(0.1, count - 0.1, 7):
        assert uniform_sum_below(value, np.ones(count)) == pytest.approx(stats.irwinhall(count).cdf(value), abs=1e-12)


def test_sums_of_unequal_uniforms_against_simulation():
    rng = np.random.default_rng(2)
    widths = np.array([1.0, 0.2, 3.0])
    total = (rng.uniform(size=(400_000, 3)) * widths).sum(axis=1)
    for value in (0.5, 1.7, 3.2):
        assert uniform_sum_below(value, widths) == pytest.approx(np.mean(total < value), abs=0.004)
    assert uniform_sum_below(math.inf, widths) == 1.0
    assert uniform_sum_below(-math.inf, widths) == 0.0
    assert uniform_sum_below(0.5, [0.0, 1.0]) == 0.5


def test_measured_share_by_counting_and_by_sampling():
    small = closure({"a": (1, HEAD), "b": (-1, RECESS)}, 0.49, 0.53)
    gap = HEAD[:, None] - RECESS
    assert small.measured_share == np.mean((gap >= 0.49 - 1e-12) & (gap <= 0.53 + 1e-12))
    rng = np.random.default_rng(3)
    parts = [rng.normal(0, 1, 70) for _ in range(3)]
    many = closure([(1, part) for part in parts], -2, 2)
    total = sum(rng.choice(part, 300_000) for part in parts)
    assert many.measured_share == pytest.approx(np.mean(np.abs(total) <= 2), abs=0.01)
    assert closure([(1, HEAD), (1, (1.0, 0.1))], 0, 20).measured_share is None


def test_contributions_are_ranked_and_add_up():
    found = closure({"a": (1, (10.0, 0.01)), "b": (-2, (4.0, 0.04)), "c": (1, (1.0, 0.02))}, 0, 5)
    assert [item.name for item in found.contributions] == ["b", "c", "a"]
    assert sum(item.share for item in found.contributions) == pytest.approx(1.0)
    assert found.contributions[0].share == pytest.approx(0.08**2 / (0.08**2 + 0.02**2 + 0.01**2))
    assert found.sd == pytest.approx(math.sqrt(0.08**2 + 0.02**2 + 0.01**2))


def test_nothing_scatters():
    on_limit = closure({"a": (1, [25.009, 25.009]), "b": (-1, [24.990, 24.990])}, 0.014, 0.019)
    assert (on_limit.chance, on_limit.sd, on_limit.contributions[0].share) == (1.0, 0.0, 0.0)
    assert closure({"a": (1, [2.0, 2.0])}, 0, 1).above == 1.0


def test_wider_limits_never_lower_a_chance():
    rng = np.random.default_rng(4)
    for shape in ("normal", "uniform"):
        terms = {"a": (1, (10.0, 9.7, 10.3)), "b": (-1, HEAD - 8.0)}
        for _ in range(20):
            low = float(rng.uniform(5, 7))
            high = low + float(rng.uniform(0, 1))
            narrow = closure(terms, low, high, shape=shape)
            wide = closure(terms, low - 0.1, high + 0.1, shape=shape)
            assert wide.chance >= narrow.chance
            assert closure(terms, None, high, shape=shape).chance >= narrow.chance - 1e-12
            assert narrow.below + narrow.chance + narrow.above == pytest.approx(1.0)


def test_answer_reads_and_carries_sample_size_and_method():
    text = str(closure({"head": (1, HEAD), "recess": (-1, (11.5, 11.45, 11.55))}, 0.4, 0.6))
    for part in ("sum of 2 terms", "Worst case", "root sum square", "6 of head", "computed"):
        assert part in text
    assert "nothing measured" in str(closure({"a": (1, (1.0, 0.9, 1.1))}, 0, 2))


@pytest.mark.parametrize(
    ("terms", "options", "error", "words"),
    [
        ({}, {}, NotEnoughData, "no term"),
        ({"a": (1, [1.0])}, {}, NotEnoughData, "a: 1 piece measured"),
        ({"a": 3.0}, {}, TrackerError, "coefficient, lengths"),
        ({"a": (0, [1.0, 2.0])}, {}, TrackerError, "coefficient 0"),
        ({"a": (1, (1.0, 2.0, 3.0, 4.0))}, {}, TrackerError, "tuple of 4"),
        ({"a": (1, (1.0, -2.0))}, {}, TrackerError, "a, sd"),
        ({"a": (1, (1.0, 2.0, 0.0))}, {}, TrackerError, "swap"),
        ({"a": (1, (1.0, math.inf, 0.0))}, {}, TrackerError, "a number is needed"),
        ({"a": (1, (1.0, 0.1))}, {"shape": "square"}, TrackerError, "normal"),
    ],
)
def test_refusals_say_what_is_wanted(terms, options, error, words):
    with pytest.raises(error, match=words):
        closure(terms, 0, 1, **options)
