"""Summary: intervals against scipy, invariants, small and awkward batches."""

import math
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from tracker.errors import NotEnoughData, TrackerError
from tracker.spread import interval_fit, summarize


@pytest.mark.parametrize("confidence", [0.5, 0.9, 0.95, 0.999])
def test_intervals_against_scipy(confidence):
    sizes = np.random.default_rng(1).normal(25.0, 0.01, 9)
    found = summarize(sizes, 25.002, confidence)
    se = sizes.std(ddof=1) / 3
    assert [found.mean.low, found.mean.high] == pytest.approx(stats.t.interval(confidence, 8, sizes.mean(), se))
    tail = (1 - confidence) / 2
    ends = np.sqrt(8 * sizes.var(ddof=1) / stats.chi2.ppf([1 - tail, tail], 8))
    assert [found.sd.low, found.sd.high] == pytest.approx(ends)
    assert found.bias.estimate == pytest.approx(sizes.mean() - 25.002)
    assert (found.n, found.minimum, found.maximum) == (9, sizes.min(), sizes.max())
    assert found.range == np.ptp(sizes)
    assert found.mean.confidence == confidence


batches = st.lists(st.integers(-1000, 1000).map(lambda v: v / 64), min_size=2, max_size=20).filter(
    lambda v: len(set(v)) > 1
)


@given(batches, st.integers(-20, 20), st.integers(-6, 6), st.randoms(use_true_random=False))
@settings(max_examples=80, deadline=None)
def test_shift_adds_scale_multiplies_order_is_irrelevant(batch, shift, power, random):
    base = summarize(batch, target=0.5)
    moved = summarize([v + shift for v in batch], target=0.5 + shift)
    scale = 2.0**power
    scaled = summarize([v * scale for v in batch], target=0.5 * scale)
    mixed = list(batch)
    random.shuffle(mixed)
    shuffled = summarize(mixed, target=0.5)
    for name in ("low", "estimate", "high"):
        of = {key: getattr(getattr(base, key), name) for key in ("mean", "sd", "bias")}
        close = {"rel": 1e-9, "abs": 1e-9}
        assert getattr(moved.mean, name) == pytest.approx(of["mean"] + shift, **close)
        assert getattr(moved.sd, name) == pytest.approx(of["sd"], **close)
        assert getattr(moved.bias, name) == pytest.approx(of["bias"], **close)
        assert getattr(scaled.sd, name) == pytest.approx(of["sd"] * scale, rel=1e-9)
        assert getattr(scaled.bias, name) == pytest.approx(of["bias"] * scale, rel=1e-9, abs=1e-9 * scale)
        assert getattr(shuffled.mean, name) == pytest.approx(of["mean"], **close)
        assert getattr(shuffled.sd, name) == pytest.approx(of["sd"], **close)


def test_one_piece_and_none():
    with pytest.raises(NotEnoughData, match=r"1 piece measured.*measure 1 more"):
        summarize([10.0])
    with pytest.raises(NotEnoughData, match="0 pieces"):
        summarize([])


def test_two_pieces_are_answered_with_their_doubt():
    found = summarize([10.0, 10.1])
    assert found.sd.high / found.sd.low > 70
    assert "2 pieces tell the spread only within a factor of" in found.remark


def test_all_equal_without_a_step():
    found = summarize([10.0] * 6)
    assert (found.sd.estimate, found.sd.high) == (0.0, math.inf)
    assert "cannot see the spread" in found.remark
    assert found.to_dict()["sd"]["high"] is None


def test_all_equal_with_a_step():
    with pytest.raises(NotEnoughData, match="below what these steps can see"):
        summarize([10.0] * 6, step=0.01)


def test_coarse_readings_are_intervals():
    true = np.random.default_rng(3).normal(10.0, 1.0, 4000)
    rounded = np.round(true / 2) * 2
    found = summarize(rounded, step=2.0)
    assert "likelihood" in found.method
    # The sd of rounded readings is too large by step^2/12; the interval fit takes that out.
    assert rounded.std(ddof=1) == pytest.approx(math.sqrt(1 + 4 / 12), rel=0.03)
    assert found.sd.estimate == pytest.approx(1.0, rel=0.03)
    assert "sample" in summarize(rounded, step=0.5).method


def test_an_interval_fit_is_a_batch_too():
    sizes = np.random.default_rng(4).normal(10.0, 1.0, 12)
    fit = interval_fit(sizes, sizes)
    one, other = summarize(fit), summarize(sizes)
    assert one.mean.low == pytest.approx(other.mean.low)
    # The maximum-likelihood sd has the divisor n; the summary's has n - 1, as for readings.
    assert one.sd.estimate == pytest.approx(other.sd.estimate)
    assert one.sd.high == pytest.approx(other.sd.high)


def test_what_is_not_a_size_is_named():
    with pytest.raises(TrackerError, match="size 2 of 3 is nan"):
        summarize([1.0, math.nan, 2.0])
    with pytest.raises(TrackerError, match="2 dimensions"):
        summarize([[1.0, 2.0], [3.0, 4.0]])
    with pytest.raises(TrackerError, match="confidence is 95"):
        summarize([1.0, 2.0], confidence=95)


def test_how_many_more_is_true():

    for n in (3, 5, 8, 12, 16):
        remark = summarize(np.arange(float(n))).remark
        needed, factor = re.search(r"; (\d+) pieces would bring that to ([\d.]+)", remark).groups()

        def ratio(m):
            return math.sqrt(stats.chi2.ppf(0.975, m - 1) / stats.chi2.ppf(0.025, m - 1))

        assert ratio(int(needed)) <= float(factor) + 0.005
        assert ratio(int(needed) - 1) > float(factor) - 0.005
        assert int(needed) > n


@pytest.mark.parametrize("n", [2, 3, 4, 5, 8, 12, 30])
@pytest.mark.parametrize("ratio", [0.1, 0.3, 1.0, 2.0, 5.0])
def test_the_mean_covers_with_what_all_sizes_share(n, ratio):
    """Over every sample sd in equal chances: 94 to 96 % from five pieces on, never less with fewer."""
    unit = np.arange(n) - (n - 1) / 2
    unit /= unit.std(ddof=1)
    shared = ratio / math.sqrt(n)
    sds = np.sqrt(stats.chi2.ppf((np.arange(400) + 0.5) / 400, n - 1) / (n - 1))
    halves = np.array([summarize(unit * sd, common_uncertainty=shared).mean.high for sd in sds])
    covered = float(np.mean(2 * stats.norm.cdf(halves / math.hypot(1 / math.sqrt(n), shared)) - 1))
    assert 0.94 <= covered <= (0.96 if n >= 5 else 0.99)


def test_what_all_sizes_share_moves_mean_and_bias_only():
    sizes = [10.0, 10.2, 10.1, 10.3, 10.2]
    plain, shared = summarize(sizes, 10.0), summarize(sizes, 10.0, common_uncertainty=1.0)
    assert (plain.common_uncertainty, shared.common_uncertainty) == (0.0, 1.0)
    assert shared.sd == plain.sd
    assert shared.mean.estimate == plain.mean.estimate
    assert shared.mean.high - shared.mean.estimate == pytest.approx(1.96, rel=0.01)
    assert shared.bias.high == pytest.approx(shared.mean.high - 10.0)
    assert summarize(sizes, common_uncertainty=0.0) == summarize(sizes)
    with pytest.raises(TrackerError, match="accepted is zero or more"):
        summarize(sizes, common_uncertainty=-1.0)


def test_an_interval_fit_takes_in_what_all_share():
    low = np.array([0.9, 1.0, 1.1, 1.0, 0.8, 1.2])
    fit = interval_fit(low, low + 0.1)
    plain, shared = summarize(fit), summarize(fit, common_uncertainty=0.5)
    for end in ("low", "high"):
        own = getattr(plain.mean, end) - plain.mean.estimate
        assert abs(getattr(shared.mean, end) - plain.mean.estimate) == pytest.approx(math.hypot(own, 0.98), rel=1e-3)


@pytest.mark.parametrize("n", [20, 22, 24])
def test_more_pieces_are_not_called_for_where_they_bring_nothing(n):
    remark = summarize(np.arange(float(n))).remark
    assert re.fullmatch(rf"{n} pieces tell the spread only within a factor of \d\.\d", remark)


def test_one_size_is_said_with_all_its_zeros():
    low = np.array([0.2498, 0.25, 0.2499, 0.25])
    reason = interval_fit(low, np.array([0.2501, 0.2502, 0.25, 0.2502])).reason
    assert "all 4 pieces agree with one and the same size (0.2500)" in reason
    reason = interval_fit(low, low + 0.0003).reason
    assert "(between 0.2500 and 0.2501)" in reason
