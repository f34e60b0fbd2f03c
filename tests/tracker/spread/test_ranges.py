"""What ranges are worth in degrees of freedom: against simulation and printed tables."""

import numpy as np
import pytest
from scipy import stats

from tracker.spread.group_constants import mean_sd_factor
from tracker.spread.ranges import dof_of_variation, mean_range_dof, moving_range_dof


def test_a_sample_sd_is_worth_its_own_dof():
    for dof in (1, 2, 7.5, 40):
        c4 = mean_sd_factor(dof + 1)
        assert c4 == pytest.approx(stats.chi(dof).mean() / np.sqrt(dof), rel=1e-10)
        assert dof_of_variation(1 / c4**2 - 1) == pytest.approx(dof, rel=1e-8)


@pytest.mark.parametrize(
    ("size", "groups", "dof"), [(2, 1, 1.0), (5, 1, 3.83), (2, 10, 9.0), (5, 5, 18.4), (3, 10, 18.4)]
)
def test_mean_range_against_the_printed_table(size, groups, dof):
    # Equivalent degrees of freedom of the mean range (Duncan, Quality Control and Industrial Statistics, table D3, and
    # Patnaik 1950; from memory, printed to one decimal): 1.0, 3.8, 9.0, 18.1-18.5, 18.4. Theirs are rounded series.
    assert mean_range_dof(size, groups) == pytest.approx(dof, rel=0.025)


@pytest.mark.parametrize("n", [2, 5, 12])
def test_moving_range_by_simulation(n):
    batch = np.random.default_rng(n).normal(0.0, 1.0, (300_000, n))
    ranges = np.abs(np.diff(batch, axis=1)).mean(axis=1) * np.sqrt(np.pi) / 2
    assert ranges.mean() == pytest.approx(1.0, abs=5e-3)
    assert dof_of_variation(float(ranges.var())) == pytest.approx(moving_range_dof(n), rel=0.02)
