"""The wear line: runs, jumps, pieces left, bands, words."""

import json

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from tracker.drift import wear_line
from tracker.errors import NotEnoughData, TrackerError


def worn(seed=7, n=40, wear=-0.00014, event=24, jump=0.004, sd=0.0005):
    rng = np.random.default_rng(seed)
    made = np.arange(1, n + 1)
    return 16.0 + wear * made + np.where(made > event, jump, 0.0) + rng.normal(0, sd, n)


@pytest.mark.parametrize("seed", [7, 9], ids=["slopes scatter", "slopes agree"])
def test_slope_jump_and_spread_with_an_event_in_between(seed):
    y = worn(seed)
    line = wear_line(y, events=[(24, "dressing")], lower=15.985)
    made = np.arange(1, 41)
    before, after = made <= 24, made > 24
    known = sm.OLS(y, np.column_stack([before, after, made]).astype(float)).fit()
    apart = sm.OLS(y, np.column_stack([before, after, before * made, after * made]).astype(float)).fit()
    ratio = apart.compare_f_test(known)[0]
    assert bool(ratio > 1) is (seed == 7)
    wider = np.sqrt(max(ratio, 1.0))
    low, high = known.conf_int()[2]
    half = wider * (high - low) / 2
    assert line.seen
    assert line.slope.estimate == pytest.approx(known.params[2], rel=1e-9)
    assert line.slope.high - line.slope.estimate == pytest.approx(half, rel=1e-6)
    assert line.slopes_differ_p == pytest.approx(apart.compare_f_test(known)[1], rel=1e-6)
    assert line.sd.estimate == pytest.approx(np.sqrt(known.mse_resid), rel=1e-9)
    assert line.p_value == pytest.approx(2 * stats.t.sf(abs(known.tvalues[2]) / wider, 37), rel=1e-5)
    jump = line.runs[1].jump
    assert jump.estimate == pytest.approx(known.params[1] - known.params[0], rel=1e-9)
    # Variance of the difference of the two run means, wear taken out: 12.5 and 32.5 are the mean orders.
    variance = known.mse_resid * (1 / 24 + 1 / 16) + 20.0**2 * (wider * known.bse[2]) ** 2
    reach = stats.t.ppf(0.975, 37) * np.sqrt(variance)
    assert jump.high - jump.estimate == pytest.approx(reach, rel=1e-6)
    assert line.runs[0].jump is None
    assert [run.event for run in line.runs] == [None, "dressing"]
    assert "cannot be told apart" in line.slope_from


def test_band_for_a_piece_is_the_prediction_interval():
    y = worn(event=99)
    line = wear_line(y)
    made = np.arange(1.0, 41)
    known = sm.OLS(y, sm.add_constant(made)).fit()
    ahead = np.array([[1.0, 20.0], [1.0, 60.0]])
    table = known.get_prediction(ahead).summary_frame(alpha=0.05)
    band = line.predict([20, 60])
    assert band.line == pytest.approx(table["mean"], rel=1e-10)
    assert band.low == pytest.approx(table["obs_ci_lower"], rel=1e-10)
    assert band.high == pytest.approx(table["obs_ci_upper"], rel=1e-10)
    assert line.band.low[19] == pytest.approx(band.low[0], rel=1e-12)


def test_runs_with_different_slopes_use_the_last_run():
    rng = np.random.default_rng(3)
    made = np.arange(1, 31)
    y = np.where(made <= 15, 0.0, 0.02) * (made - 15.5) + rng.normal(0, 0.005, 30)
    line = wear_line(y, events=[(15, "other insert")], upper=1.0)
    assert line.slopes_differ_p < 1e-6
    assert "the last of 2 runs" in line.slope_from
    assert line.slope.estimate == pytest.approx(0.02, abs=0.002)
    assert line.slope.estimate == pytest.approx(line.runs[1].slope.estimate)
    assert line.runs[0].slope.low < 0 < line.runs[0].slope.high


def test_slopes_that_seem_to_differ_give_an_interval_that_holds_the_common_one_too():
    rng = np.random.default_rng(0)
    made = np.arange(1.0, 13)
    before, after = made <= 6, made > 6
    for _ in range(400):
        y = 0.1 * made + rng.normal(0, 0.3, 12)
        line = wear_line(y, events=[(6, "dressing")])
        if 0.011 < line.slopes_differ_p < 0.049:
            break
    common = sm.OLS(y, np.column_stack([before, after, made]).astype(float)).fit()
    apart = sm.OLS(y, np.column_stack([before, after, before * made, after * made]).astype(float)).fit()
    (low, high), (own_low, own_high) = common.conf_int()[2], apart.conf_int()[3]
    assert line.slope.estimate == pytest.approx(apart.params[3], rel=1e-9)
    reach = max(abs(end - apart.params[3]) for end in (low, high, own_low, own_high))
    assert line.slope.high - line.slope.estimate == pytest.approx(reach, rel=1e-6)
    assert "seem to differ" in line.slope_from
    assert line.one_slope_assumed == ""


def test_one_slope_for_all_runs_is_said_to_be_taken_for_granted():
    two = wear_line(worn(9), events=[(24, "dressing")])
    assert "takes for granted that both runs wear alike" in str(two)
    own = two.runs[1].slope
    assert f"By itself the last run moves by {own.estimate:.3g} a piece" in str(two)
    assert "one piece gives no slope" in str(wear_line([1, 2, 3.1, 4, 9.0], events=[(4, "dressing")]))
    assert "for granted" not in str(wear_line(worn(event=99)))


def test_no_wear_says_what_could_hide_and_what_more_pieces_would_show():
    y = np.random.default_rng(11).normal(0, 1, 8)
    line = wear_line(y)
    sd = sm.OLS(y, sm.add_constant(np.arange(8.0))).fit().mse_resid ** 0.5
    wanted = stats.t.ppf(0.975, 14) * sd / np.sqrt(np.sum((np.arange(16) - 7.5) ** 2))
    assert line.hidden_in_twice == pytest.approx(wanted)
    assert f"16 made one after another would show one of {wanted:.2g}" in str(line)


def test_pieces_left_stop_at_the_limit_by_the_definition():
    y = worn(event=99)
    line = wear_line(y, lower=15.99)
    last = 40
    k = line.pieces_left
    assert line.predict([last + k]).line[0] >= 15.99 > line.predict([last + k + 1]).line[0]
    # One-sided 95 % is the lower end of the two-sided 90 % band.
    safe = line.pieces_left_safe
    low = line.predict([last + safe, last + safe + 1], confidence=0.90).low
    assert low[0] >= 15.99 > low[1]
    assert safe < k


@pytest.mark.parametrize("n", [4, 5, 6, 8])
def test_safe_pieces_of_a_small_batch_by_an_independent_prediction(n):
    rng = np.random.default_rng(n)
    made = np.arange(1.0, n + 1)
    y = 0.05 * made + rng.normal(0, 0.02, n)
    ahead = np.arange(n + 1.0, n + 400)
    known = sm.OLS(y, sm.add_constant(made)).fit()
    bound = known.get_prediction(sm.add_constant(ahead)).summary_frame(alpha=0.10)["obs_ci_upper"].to_numpy()
    for limit in np.linspace(bound[0] - 0.01, bound[60], 40):
        assert wear_line(y, upper=limit).pieces_left_safe == int(np.argmax(bound > limit))


LIMIT_CASES = {
    "no limit": ({}, None, None, "No limit was given"),
    "only the other side": ({"upper": 17.0}, None, None, "towards the lower limit"),
    "mean already beyond": ({"lower": 15.9999}, 0, 0, ""),
}


@pytest.mark.parametrize("name", LIMIT_CASES)
def test_pieces_left_at_the_edges(name):
    limits, left, safe, reason = LIMIT_CASES[name]
    line = wear_line(worn(event=99), **limits)
    assert (line.pieces_left, line.pieces_left_safe) == (left, safe)
    assert reason in line.reason


def test_an_event_after_the_last_piece_says_that_nothing_is_known_since():
    line = wear_line(worn(event=99), events=[(40, "tool change")], lower=15.9)
    assert line.pieces_left is None
    assert "tool change" in line.reason
    assert line.seen


def test_without_wear_no_pieces_left_but_a_safe_number():
    y = np.random.default_rng(11).normal(0, 1, 20)
    line = wear_line(y, lower=-6, upper=6)
    assert not line.seen
    assert line.pieces_left is None
    assert line.pieces_left_safe > 0
    assert "no wear can be seen" in str(line).lower()


def test_equal_sizes_are_no_wear_and_an_exact_line_is():
    flat = wear_line([0.62525] * 6, upper=0.7)
    assert not flat.seen
    assert flat.p_value == 1.0
    exact = wear_line(0.1 * np.arange(6), upper=1.0)
    assert exact.seen
    assert (exact.pieces_left, exact.pieces_left_safe) == (5, 5)


def test_too_few_pieces_says_how_many_more():
    with pytest.raises(NotEnoughData, match="three pieces"):
        wear_line([1.0, 2.0])
    with pytest.raises(NotEnoughData, match="2 run"):
        wear_line([1.0, 2.0, 3.0], events=[(2, "dressing")])


def test_a_short_last_run_borrows_the_common_slope():
    line = wear_line([1, 2, 3, 4, 9.0], events=[(4, "dressing")], upper=20)
    assert line.slope.estimate == pytest.approx(1.0)
    assert line.runs[1].slope is None
    assert line.runs[1].sd is None
    assert line.runs[1].reason.startswith("1 piece gives no slope of its own")
    assert line.runs[1].jump.estimate == pytest.approx(4.0)


def test_arguments_are_refused_in_words():
    with pytest.raises(TrackerError, match="confidence"):
        wear_line([1, 2, 3], confidence=95)
    with pytest.raises(TrackerError, match="swapped"):
        wear_line([1, 2, 3], lower=2, upper=1)


def test_result_is_plain_data():
    data = wear_line(worn(), events=[(24, "dressing")], lower=15.9, upper=16.1).to_dict()
    text = json.dumps(data)
    assert "NaN" not in text
    assert data["slope"]["confidence"] == 0.95
    assert len(data["band"]["low"]) == 40


def test_words_say_which_way():
    falling = wear_line(worn(event=99), lower=15.9)
    assert str(falling).startswith("Size falls by 0.000")
    growing = wear_line(-worn(event=99), upper=-15.9)
    assert str(growing).startswith("Size grows by 0.000")


sizes = st.lists(st.integers(-500, 500), min_size=4, max_size=30).map(lambda v: np.array(v) / 10)


@settings(max_examples=60, deadline=None)
@given(sizes, st.sampled_from([25.4, 0.001, 3.0]), st.integers(-1000, 1000))
def test_units_and_origin_do_not_matter(y, factor, origin):
    plain = wear_line(y, lower=-60.0, upper=60.0)
    other = wear_line((y + origin) * factor, lower=(-60.0 + origin) * factor, upper=(60.0 + origin) * factor)
    assert other.slope.estimate == pytest.approx(plain.slope.estimate * factor, rel=1e-6, abs=1e-9 * factor)
    assert other.p_value == pytest.approx(plain.p_value, rel=1e-4, abs=1e-12)


@settings(max_examples=60, deadline=None)
@given(sizes, st.randoms(use_true_random=False))
def test_the_order_in_which_pieces_are_listed_does_not_matter(y, random):
    made = np.arange(1, y.size + 1)
    shuffled = list(range(y.size))
    random.shuffle(shuffled)
    one = wear_line(y, made, events=[(2, "dressing")] if y.size > 4 else ())
    two = wear_line(y[shuffled], made[shuffled], events=[(2, "dressing")] if y.size > 4 else ())
    assert one.to_dict() == two.to_dict()


@settings(max_examples=60, deadline=None)
@given(sizes, st.floats(0, 50))
def test_a_wider_limit_never_leaves_fewer_pieces(y, wider):
    near = wear_line(y, lower=-60.0, upper=60.0)
    far = wear_line(y, lower=-60.0 - wider, upper=60.0 + wider)
    for one, two in ((near.pieces_left, far.pieces_left), (near.pieces_left_safe, far.pieces_left_safe)):
        assert one is None or two is None or two >= one
