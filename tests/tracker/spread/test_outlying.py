"""Pieces that stand apart: level by simulation, invariants, awkward batches."""

import numpy as np
import pytest

from tracker.errors import NotEnoughData, TrackerError
from tracker.spread import outliers


@pytest.mark.parametrize("n", [8, 30])
def test_a_sound_batch_is_rarely_accused(n):
    rng = np.random.default_rng(n)
    accused = np.mean([bool(outliers(rng.normal(0, 1, n)).index) for _ in range(3000)])
    assert accused == pytest.approx(0.05, abs=0.014)


def test_place_and_unit_do_not_matter_and_nothing_is_dropped():
    sizes = np.array([10.0, 10.1, 9.9, 10.05, 9.95, 12.0, 10.02])
    found = outliers(sizes)
    assert found.index == (5,)
    assert found.piece == ("6",)
    assert outliers(25.4 * sizes - 7).index == (5,)
    assert outliers(-sizes).index == (5,)
    assert found.n == 7
    assert "flagged, not dropped" in str(found)
    assert "no piece of 6 stands apart" in str(outliers(np.delete(sizes, 5)))


def test_two_that_hide_each_other():
    sizes = np.r_[np.random.default_rng(2).normal(10, 0.1, 28), 14.0, 14.1]
    assert set(outliers(sizes).index) == {28, 29}


def test_awkward_batches():
    assert outliers([1.0] * 5).index == ()
    with pytest.raises(NotEnoughData, match="at least 3"):
        outliers([1.0, 2.0])
    with pytest.raises(TrackerError, match="accepted for 4 pieces is 1 to 2"):
        outliers([1.0, 2.0, 3.0, 4.0], at_most=3)
