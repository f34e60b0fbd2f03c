"""Global risks against simulation and in their limits."""

import numpy as np
import pytest
from scipy import stats

from tracker.errors import TrackerError
from tracker.gauge import global_risk, guard_band


def test_against_simulation():
    rng = np.random.default_rng(71)
    n = 2_000_000
    true = rng.normal(0.2, 1.0, n)
    read = true + rng.normal(0, 0.4, n)
    risk = global_risk(0.2, 1.0, 0.4, lower=-2.0, upper=1.8, accept_lower=-1.7, accept_upper=1.5)
    good = (true >= -2.0) & (true <= 1.8)
    accepted = (read >= -1.7) & (read <= 1.5)
    # Standard error under 0.0003 at these chances; four of them.
    assert risk.consumer_risk == pytest.approx(np.mean(accepted & ~good), abs=0.0004)
    assert risk.producer_risk == pytest.approx(np.mean(~accepted & good), abs=0.0012)
    assert risk.accepted == pytest.approx(np.mean(accepted), abs=0.0012)
    assert risk.bad == pytest.approx(np.mean(~good), abs=0.0008)


@pytest.mark.parametrize("u", [1e-2, 1e-4, 1e-6, 0.0])
def test_a_fine_gauge_leaves_next_to_no_risk(u):
    risk = global_risk(0.0, 1.0, u, lower=-2.0, upper=2.0)
    # For small u both risks tend to 2 phi(2) u / sqrt(2 pi).
    expected = 2 * stats.norm.pdf(2) * u / np.sqrt(2 * np.pi)
    assert risk.consumer_risk == pytest.approx(expected, rel=0.02, abs=1e-15)
    assert risk.producer_risk == pytest.approx(expected, rel=0.02, abs=1e-15)
    # Readings are normal with variance 1 + u^2.
    assert risk.accepted == pytest.approx(1 - 2 * stats.norm.sf(2 / np.hypot(1, u)), abs=1e-12)


def test_guard_bands_trade_one_risk_for_the_other():
    plain = global_risk(0, 1, 0.2, lower=-2, upper=2)
    band = guard_band(-2, 2, 0.33)
    guarded = global_risk(0, 1, 0.2, -2, 2, band.accept_lower, band.accept_upper)
    assert guarded.consumer_risk < plain.consumer_risk / 5
    assert guarded.producer_risk > plain.producer_risk
    assert guarded.bad_among_accepted == pytest.approx(guarded.consumer_risk / guarded.accepted)
    assert "Of 10000 pieces" in str(guarded)


def test_one_limit_and_refusals():
    one = global_risk(0, 1, 0.1, upper=2)
    assert one.accept_lower is None
    assert one.bad == pytest.approx(stats.norm.sf(2))
    with pytest.raises(TrackerError, match="open"):
        global_risk(0, 1, 0.1)
    with pytest.raises(TrackerError, match="process_sd"):
        global_risk(0, 0, 0.1, upper=1)
