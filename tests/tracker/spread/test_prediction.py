"""Predictions against scipy quadrature, closed forms and simulation."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from tracker.errors import NotEnoughData, TrackerError
from tracker.spread import predict

SIZES = np.array([10.02, 10.05, 9.98, 10.01, 10.03, 10.00])


def test_one_piece_is_the_predictive_t():
    n = SIZES.size
    t = stats.t(n - 1, SIZES.mean(), SIZES.std(ddof=1) * math.sqrt(1 + 1 / n))
    found = predict(SIZES, 9.95, 10.10)
    assert [found.low, found.high] == pytest.approx(t.interval(0.95), rel=1e-10)
    assert found.chance_within == pytest.approx(t.cdf(10.10) - t.cdf(9.95), abs=1e-10)
    assert found.chance_all_within == found.chance_within
    assert predict(SIZES, None, 10.05).chance_within == pytest.approx(t.cdf(10.05), abs=1e-10)


def test_the_grid_gives_the_same_as_the_closed_form_for_one():
    from tracker.spread.estimates import estimate
    from tracker.spread.prediction import all_within

    found = estimate(SIZES)
    assert all_within(found, 6.0, 9.95, 10.10, 1) == pytest.approx(predict(SIZES, 9.95, 10.10).chance_within, abs=1e-9)


def test_several_by_simulation():
    rng = np.random.default_rng(5)
    n, pieces, draws = SIZES.size, 4, 400_000
    sd = SIZES.std(ddof=1) * np.sqrt((n - 1) / rng.chisquare(n - 1, draws))
    mean = rng.normal(SIZES.mean(), sd / math.sqrt(n))
    new = rng.normal(mean, sd, (pieces, draws))
    found = predict(SIZES, 9.96, 10.10, pieces=pieces)
    assert found.chance_all_within == pytest.approx(((new >= 9.96) & (new <= 10.10)).all(axis=0).mean(), abs=0.003)
    assert ((new >= found.low) & (new <= found.high)).all(axis=0).mean() == pytest.approx(0.95, abs=0.002)


def test_common_uncertainty_widens():
    plain, unsure = predict(SIZES, 9.95, 10.1), predict(SIZES, 9.95, 10.1, common_uncertainty=0.03)
    assert unsure.chance_within < plain.chance_within
    assert unsure.high - unsure.low > plain.high - plain.low


@given(st.floats(0.0, 0.1), st.floats(0.0, 0.1), st.integers(1, 12))
@settings(max_examples=40, deadline=None)
def test_wider_limits_never_lower_a_chance_and_more_pieces_never_raise_it(down, up, pieces):
    narrow = predict(SIZES, 9.97, 10.07, pieces=pieces)
    wide = predict(SIZES, 9.97 - down, 10.07 + up, pieces=pieces)
    assert wide.chance_all_within >= narrow.chance_all_within - 1e-12
    assert predict(SIZES, 9.97, 10.07, pieces=pieces + 1).chance_all_within <= narrow.chance_all_within + 1e-12
    assert narrow.chance_all_within >= narrow.chance_within**pieces - 1e-12


def test_what_it_cannot_do():
    with pytest.raises(NotEnoughData, match="at least 2"):
        predict([10.0], 9, 11)
    with pytest.raises(NotEnoughData, match="same size"):
        predict([10.0, 10.0], 9, 11)
    with pytest.raises(TrackerError, match="swapped"):
        predict(SIZES, 11, 9)
    with pytest.raises(TrackerError, match="whole number"):
        predict(SIZES, 9, 11, pieces=0)
