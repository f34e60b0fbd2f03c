"""Many batches at once give what one batch at a time gives."""

import math

import numpy as np
import pytest

from tracker.errors import TrackerError
from tracker.spread import capability, grouped_sums, summarize
from tracker.spread.many import batch_capabilities, batch_spreads, mean_moving_ranges

RNG = np.random.default_rng(1)


@pytest.fixture(autouse=True)
def same_draws():
    """Begin each test with the same draws, whichever ran before it."""
    RNG.bit_generator.state = np.random.default_rng(1).bit_generator.state


BATCH = np.repeat(np.arange(12), RNG.integers(2, 15, 12))
SIZES = 10.0 + RNG.normal(0.0, 0.1, BATCH.size)


@pytest.mark.parametrize(("lower", "upper"), [(9.7, 10.4), (None, 10.3), (9.8, None)])
@pytest.mark.parametrize("exact", [True, False])
def test_batch_by_batch(lower, upper, exact):
    sums = grouped_sums(SIZES, BATCH)
    spreads = batch_spreads(sums, 0.9)
    found = batch_capabilities(sums, lower, upper, 0.9, exact=exact)
    within = mean_moving_ranges(SIZES, BATCH)
    for b in range(12):
        sizes = SIZES[b == BATCH]
        one = summarize(sizes, confidence=0.9)
        assert (spreads.mean_low[b], spreads.mean_high[b]) == pytest.approx((one.mean.low, one.mean.high))
        assert (spreads.sd_low[b], spreads.sd[b], spreads.sd_high[b]) == pytest.approx(
            (one.sd.low, one.sd.estimate, one.sd.high)
        )
        known = capability(sizes, lower, upper, confidence=0.9, distribution="normal")
        assert found.ppk[b] == pytest.approx(known.ppk.estimate)
        beside = known.ppk if exact else known.bissell
        assert (found.ppk_low[b], found.ppk_high[b]) == pytest.approx((beside.low, beside.high), rel=1e-6)
        assert within[b] == pytest.approx(known.within_sd)
        if lower is not None:
            assert found.beyond_lower[b] == pytest.approx(known.beyond_lower.estimate)
        if lower is not None and upper is not None:
            assert found.pp[b] == pytest.approx(known.pp.estimate)


def test_batches_that_cannot_say_are_marked():
    sums = grouped_sums(np.array([10.0, 11.0, 11.0, 9.0, 9.5]), np.array([0, 1, 1, 3, 3]), 4)
    spreads, found = batch_spreads(sums), batch_capabilities(sums, 8.0, 12.0)
    assert spreads.known.tolist() == [False, True, False, True]
    assert found.known.tolist() == [False, False, False, True]
    assert math.isinf(spreads.sd_high[0])
    assert found.ppk[:3].tolist() == [0, 0, 0]
    for result in (spreads, found):
        result.to_dict()
    with pytest.raises(TrackerError, match="batch 1: limits 12 and 8"):
        batch_capabilities(sums, 12.0, 8.0)
    with pytest.raises(TrackerError, match="at least one"):
        batch_capabilities(sums)


def test_a_hundred_thousand_batches_make_no_python_loop():
    # Counted, not timed: the number of numpy calls must not grow with the number of batches.
    import sys

    def calls(batches):
        group = np.repeat(np.arange(batches), 8)
        sizes = np.random.default_rng(2).normal(10.0, 0.1, group.size)
        seen = 0

        def count(frame, event, argument):
            nonlocal seen
            seen += event == "call"

        sys.setprofile(count)
        try:
            sums = grouped_sums(sizes, group)
            batch_spreads(sums)
            batch_capabilities(sums, 9.5, 10.5)
            mean_moving_ranges(sizes, group)
        finally:
            sys.setprofile(None)
        return seen

    calls(10)
    assert calls(100_000) < calls(1_000) + 400  # one more block a 32,768 sizes, a few calls each
