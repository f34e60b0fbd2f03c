"""The chance that any two go together: against the t distribution, simulation and plain properties."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from tracker.errors import NotEnoughData, TrackerError
from tracker.fit import chance_any
from tracker.fit.batch_spread import gap_spread, side_spread
from tracker.fit.chances import predictive

BORES = np.array([0.62510, 0.62516, 0.62519, 0.62524, 0.62527, 0.62531])
PLUGS = np.array([0.62566, 0.62571, 0.62574, 0.62577, 0.62580, 0.62585, 0.62588, 0.62573])
LOW, HIGH = -0.0009, -0.0003


def welch(internal, external):
    """Return mean gap, standard error of a new gap and degrees of freedom (scipy has the same dof in its t-test)."""
    m, n = len(internal), len(external)
    v, w = internal.var(ddof=1), external.var(ddof=1)
    parts = v * (1 + 1 / m), w * (1 + 1 / n)
    dof = sum(parts) ** 2 / (parts[0] ** 2 / (m - 1) + parts[1] ** 2 / (n - 1))
    return internal.mean() - external.mean(), math.sqrt(sum(parts)), dof


def test_pair_is_a_predictive_t_without_gauge_noise():
    mean, error, dof = welch(BORES, PLUGS)
    result = chance_any(BORES, PLUGS, LOW, HIGH)
    below, above = stats.t.cdf((LOW - mean) / error, dof), stats.t.sf((HIGH - mean) / error, dof)
    assert result.pair == pytest.approx(1 - below - above, abs=2e-6)
    assert result.too_tight == pytest.approx(6 * below, abs=1e-5)
    assert result.too_loose == pytest.approx(6 * above, abs=1e-5)


def test_one_side_without_scatter_is_the_predictive_t_of_the_other():
    result = chance_any(BORES, [0.62575] * 50, LOW, HIGH)
    mean, v, n = BORES.mean() - 0.62575, BORES.var(ddof=1), len(BORES)
    error = math.sqrt(v * (1 + 1 / n))  # the constant side adds nothing
    expected = stats.t.cdf((HIGH - mean) / error, n - 1) - stats.t.cdf((LOW - mean) / error, n - 1)
    assert result.pair == pytest.approx(expected, abs=3e-6)


@pytest.mark.parametrize("pairs", [2, 6, 40])
def test_all_pairs_against_simulation_of_what_is_not_known(pairs):
    rng = np.random.default_rng(1)
    draws = 400_000
    mean, _, dof = welch(BORES, PLUGS)
    v, w, m, n = BORES.var(ddof=1), PLUGS.var(ddof=1), len(BORES), len(PLUGS)
    scale = dof / rng.chisquare(dof, draws)
    centre = mean + np.sqrt(scale * (v / m + w / n)) * rng.standard_normal(draws)
    sd = np.sqrt(scale * (v + w))
    happened = (stats.norm.cdf((HIGH - centre) / sd) - stats.norm.cdf((LOW - centre) / sd)) ** pairs
    result = chance_any(BORES, PLUGS, LOW, HIGH, pairs=pairs)
    assert result.all == pytest.approx(happened.mean(), abs=4 * happened.std() / math.sqrt(draws) + 2e-4)


def test_gauge_noise_is_taken_out_of_the_spread_and_common_error_shared():
    rng = np.random.default_rng(2)
    noise, common, pairs, draws = 0.00004, 0.00005, 6, 600_000
    mean, _, dof = welch(BORES, PLUGS)
    v, w, m, n = BORES.var(ddof=1), PLUGS.var(ddof=1), len(BORES), len(PLUGS)
    scale = dof / rng.chisquare(dof, draws)
    scale = scale[scale * (v + w) >= 2 * noise**2]  # the readings cannot scatter less than the gauge
    sd = np.sqrt(scale * (v + w) - 2 * noise**2)
    spread_of_mean = np.sqrt(scale * (v / m + w / n) * 1.0 + common**2)
    centre = mean + spread_of_mean * rng.standard_normal(len(scale))
    each = stats.norm.cdf((HIGH - centre) / sd) - stats.norm.cdf((LOW - centre) / sd)
    result = chance_any(BORES, PLUGS, LOW, HIGH, noise, common_uncertainty=common)
    tolerance = 4 / math.sqrt(len(scale))
    assert result.pair == pytest.approx(each.mean(), abs=tolerance * each.std() + 1e-4)
    assert result.all == pytest.approx((each**pairs).mean(), abs=tolerance * (each**pairs).std() + 3e-4)


def test_common_error_moves_all_pairs_together():
    """With the same chance for one pair, shared error makes all-good likelier than separate error would."""
    rng = np.random.default_rng(3)
    inside, outside = rng.normal(1.0, 0.01, 40), rng.normal(0.0, 0.01, 40)
    shared = chance_any(inside, outside, 0.5, 1.5, common_uncertainty=0.3, pairs=40)
    assert shared.pair == pytest.approx(stats.norm.cdf(0.5 / 0.3) - stats.norm.cdf(-0.5 / 0.3), abs=0.005)
    shift = np.linspace(-1.5, 1.5, 20_001)  # the shared error; each pair scatters by 0.01 sqrt(2) about it
    each = stats.norm.cdf((0.5 - shift) / 0.01 / math.sqrt(2)) - stats.norm.cdf((-0.5 - shift) / 0.01 / math.sqrt(2))
    expected = np.trapezoid(each**40 * stats.norm.pdf(shift, 0.0, 0.3), shift)
    assert shared.all == pytest.approx(expected, abs=0.004)
    assert shared.all > shared.pair**40 + 0.5


def test_expected_numbers_add_up():
    result = chance_any(BORES, PLUGS, -0.0006, -0.0005, 0.00002, common_uncertainty=0.00003)
    assert result.expected_good + result.too_tight + result.too_loose == pytest.approx(result.pairs)
    assert result.pairs == 6
    assert result.measured_share + result.measured_tight + result.measured_loose == pytest.approx(1.0)


def test_large_batches_approach_the_true_chance():
    rng = np.random.default_rng(4)
    result = chance_any(rng.normal(25.01, 0.003, 40_000), rng.normal(25.0, 0.004, 40_000), 0.0, 0.018)
    truth = stats.norm.cdf((0.018 - 0.01) / 0.005) - stats.norm.cdf(-0.01 / 0.005)
    assert result.pair == pytest.approx(truth, abs=0.004)
    assert result.measured_share == pytest.approx(truth, abs=0.004)


def test_readings_that_scatter_less_than_the_gauge_are_no_trouble():
    result = chance_any([1.0] * 6, [0.0] * 6, 0.9, 1.1, 0.05)
    assert 0.5 < result.pair < 1.0
    tight = chance_any([1.0] * 6, [0.0] * 6, 0.9, 1.1)
    assert (tight.pair, tight.all, tight.measured_share, tight.all_measured) == (1.0, 1.0, 1.0, 1.0)
    beyond = chance_any([1.0] * 6, [0.0] * 6, 1.01, 1.1)
    assert (beyond.pair, beyond.all, beyond.too_tight, beyond.all_measured) == (0.0, 0.0, 6.0, 0.0)
    on_limit = chance_any([25.009] * 3, [24.990] * 3, 0.014, 0.019)
    assert (on_limit.pair, on_limit.measured_share) == (1.0, 1.0)


def test_open_limits():
    result = chance_any(BORES, PLUGS, None, None)
    assert (result.pair, result.all, result.too_tight, result.too_loose) == (1.0, 1.0, 0.0, 0.0)
    assert result.to_dict()["gap_lower"] is None
    one = chance_any(BORES, PLUGS, LOW, None)
    assert one.too_loose == pytest.approx(0.0, abs=1e-12)


def test_answer_reads_and_carries_sample_size_and_method():
    text = str(chance_any(BORES, PLUGS, LOW, HIGH))
    for part in ("In any order", "all 6 do", "From 6 internal and 8 external pieces", "predictive"):
        assert part in text


def test_same_question_same_answer_and_the_seed_is_an_argument():
    first = chance_any(BORES, PLUGS, -0.0006, -0.0005, 0.00001)
    assert first == chance_any(BORES, PLUGS, -0.0006, -0.0005, 0.00001)
    other = chance_any(BORES, PLUGS, -0.0006, -0.0005, 0.00001, rng=np.random.default_rng(99))
    assert other.all_measured == pytest.approx(first.all_measured, abs=6 * first.all_measured_error)


@pytest.mark.parametrize(
    ("arguments", "error", "words"),
    [
        (([1.0], [1.0, 2.0], 0, 1), NotEnoughData, "internal: 1 piece measured; at least 2"),
        (([1.0, 2.0], [[1.0], [2.0]], 0, 1), TrackerError, "one size a piece"),
        (([1.0, 2.0], [1.0, math.inf], 0, 1), TrackerError, "index 1"),
        (([1.0, 2.0], [1.0, 2.0], 1, 0), TrackerError, "swap"),
        (([1.0, 2.0], [1.0, 2.0], 0, 1, -1.0), TrackerError, "from zero up"),
    ],
)
def test_refusals_say_what_is_wanted(arguments, error, words):
    with pytest.raises(error, match=words):
        chance_any(*arguments)


def test_other_refusals():
    with pytest.raises(TrackerError, match="common_uncertainty"):
        chance_any(BORES, PLUGS, LOW, HIGH, common_uncertainty=-1)
    with pytest.raises(TrackerError, match="whole number of at least 1"):
        chance_any(BORES, PLUGS, LOW, HIGH, pairs=0)


SIZES = st.lists(st.integers(0, 40), min_size=2, max_size=10)
CHANCES = ("pair", "all", "measured_share", "pair_measured", "all_measured")


@settings(max_examples=60, deadline=None)
@given(SIZES, SIZES, st.integers(-30, 10), st.integers(0, 30), st.integers(0, 8), st.integers(0, 8), st.booleans())
def test_wider_limits_never_lower_a_chance(internal, external, low, width, more_low, more_high, noisy):
    noise = {"uncertainty": 1.5, "common_uncertainty": 1.0} if noisy else {}
    narrow = chance_any(internal, external, low, low + width, **noise)
    for limits in ((low - more_low, low + width + more_high), (None, low + width), (low, None)):
        wide = chance_any(internal, external, *limits, **noise)
        for name in CHANCES:
            assert getattr(wide, name) >= getattr(narrow, name) - 1e-12, name
    for name in CHANCES:
        assert 0.0 <= getattr(narrow, name) <= 1.0


@settings(max_examples=60, deadline=None)
@given(SIZES, SIZES, st.integers(-30, 10), st.integers(0, 30), st.randoms(use_true_random=False), st.booleans())
def test_order_and_unit_do_not_matter(internal, external, low, width, random, noisy):
    noise = 1.5 if noisy else 0.0
    first = chance_any(internal, external, low, low + width, noise, common_uncertainty=noise / 2)
    mixed = list(internal)
    random.shuffle(mixed)
    assert chance_any(mixed, external, low, low + width, noise, common_uncertainty=noise / 2) == first
    metric = chance_any(
        np.array(internal) * 25.4,
        np.array(external) * 25.4,
        low * 25.4,
        (low + width) * 25.4,
        noise * 25.4,
        common_uncertainty=noise / 2 * 25.4,
    )
    for name in CHANCES:
        assert getattr(metric, name) == pytest.approx(getattr(first, name), abs=1e-9), name


def test_more_pieces_per_question_never_raise_the_chance_that_all_are_good():
    chances = [chance_any(BORES, PLUGS, LOW, HIGH, pairs=count).all for count in (1, 2, 5, 10, 60)]
    assert chances == sorted(chances, reverse=True)


def test_predictive_is_the_core_of_chance_any():
    sides = side_spread(np.sort(BORES), np.zeros(6)), side_spread(np.sort(PLUGS), np.zeros(8))
    good, tight, every = predictive(gap_spread(*sides, 0.0), LOW, HIGH, 6)
    result = chance_any(BORES, PLUGS, LOW, HIGH)
    assert (good, 6 * tight, every) == pytest.approx((result.pair, result.too_tight, result.all))


def test_sizes_that_all_read_alike_are_no_surer_than_their_step():
    """Four bores and four pins in one step of 0.0004 each: true gaps are a sum of two uniform errors, drawn here.

    Nothing shows that the errors average out: they may well be the same in all pieces.
    """
    rng = np.random.default_rng(20261126)
    step = 0.0004
    error = rng.uniform(-step / 2, step / 2, (200_000, 2))
    gap = 0.0005 + error[:, 0] - error[:, 1]
    one = float(np.mean((gap >= 0.0002) & (gap <= 0.0008)))  # 1 - (1/4)**2, the corners of the triangle
    assert one == pytest.approx(0.9375, abs=0.003)
    u = np.full(4, step / math.sqrt(12))
    found = chance_any(np.full(4, 0.5002), np.full(4, 0.4997), 0.0002, 0.0008, (u, u))
    assert found.pair_measured == pytest.approx(one, abs=0.01)
    assert found.all_measured == pytest.approx(one**4, abs=0.03)
