"""Adjustment against published rules and independent computations (topic 9 of the bank)."""

import numpy as np
import pytest
from scipy import optimize, stats

from tracker.decide import bounded_adjustment, economic_aim, next_shift


def adjust_on_every_piece(errors, start):
    """Shift after every piece by `next_shift`, the shifts told to it as events of known amount; nothing rounded.

    `confidence` of a half asks for no certainty of the direction: the plain rule, without leaving alone.
    """
    setting, sizes, events, settings = start, [], [], [start]
    for k, error in enumerate(errors, 1):
        sizes.append(setting + error)
        answer = next_shift(sizes, 0.0, events=events, sd=1.0, wear=0.0, confidence=0.5 + 1e-12)
        events.append((k, "offset change", answer.shift.estimate))
        setting += answer.shift.estimate
        settings.append(setting)
    return np.array([event[2] for event in events]), np.array(settings)


def test_harmonic_rule_worked(case):
    """Grubbs' harmonic rule on five parts: the n-th deviation corrected by 1/n (own numbers, arithmetic)."""
    entry = case("adj-grubbs-worked")
    measured = entry["inputs"]["measured_dev_um"]
    # what was measured fixes the errors: each part's deviation is setting + error at the time
    sizes, events, shifts = [], [], []
    for k, deviation in enumerate(measured, 1):
        sizes.append(float(deviation))
        answer = next_shift(sizes, 0.0, events=events, sd=1.0, wear=0.0)
        shifts.append(answer.shift.estimate)
        events.append((k, "offset change", answer.shift.estimate))
    tolerance = entry["tolerance"]["abs"]
    assert shifts == pytest.approx(entry["expected"]["adjustments_um"], abs=tolerance)
    assert np.cumsum(shifts) == pytest.approx(entry["expected"]["cumulative_um"], abs=tolerance)


def test_harmonic_rule_residual_variance(case):
    """Grubbs 1954 (from memory): after n parts the setting is minus the mean of n errors, variance sigma^2 / n.

    The shift is linear in the sizes, so each error is put in alone and the squares are added.
    """
    entry = case("adj-grubbs-harmonic")
    for n, weight, variance in zip(
        entry["inputs"]["n"], entry["expected"]["weights"], entry["expected"]["residual_offset_variance"]
    ):
        shares, last = [], []
        for k in range(n):
            errors = np.zeros(n)
            errors[k] = 1.0
            shifts, settings = adjust_on_every_piece(errors, 0.0)
            shares.append(settings[-1])
            last.append(shifts[-1])
        assert np.sum(np.square(shares)) == pytest.approx(variance, abs=1e-9)
        assert -last[-1] == pytest.approx(weight, abs=1e-9)
        # a set-up that is off by anything is undone in full
        assert adjust_on_every_piece(np.zeros(n), 3.0)[1][-1] == pytest.approx(0.0, abs=1e-9)


def test_interval_of_the_shift_is_the_t_interval():
    """With nothing known of set-ups the interval is the t interval of the mean (scipy.stats.t)."""
    sizes = np.array([10.012, 10.009, 10.015, 10.011, 10.010, 10.013, 10.008])
    answer = next_shift(sizes, 10.0, wear=0.0)
    low, high = stats.t.interval(0.95, 6, loc=np.mean(sizes) - 10.0, scale=stats.sem(sizes))
    assert answer.bias.low == pytest.approx(low, rel=1e-9)
    assert answer.bias.high == pytest.approx(high, rel=1e-9)
    assert answer.shift.low == pytest.approx(-high, rel=1e-9)


def test_share_within_is_the_predictive_t():
    """Chance of the next piece (scipy.stats.t, scale s sqrt(1 + 1/n)), before; after, the same about the target."""
    sizes = np.array([10.012, 10.009, 10.015, 10.011, 10.010, 10.013, 10.008])
    answer = next_shift(sizes, 10.0, 9.994, 10.006, wear=0.0)
    scale = np.std(sizes, ddof=1) * np.sqrt(1 + 1 / 7)

    def share(mean):
        return stats.t.cdf((10.006 - mean) / scale, 6) - stats.t.cdf((9.994 - mean) / scale, 6)

    assert answer.within_before == pytest.approx(share(np.mean(sizes)), rel=1e-9)
    assert answer.within_after == pytest.approx(share(10.0), rel=1e-9)


@pytest.mark.parametrize("name", ["adj-target-asym-1", "adj-target-asym-2"])
def test_aim_with_unequal_costs(case, name):
    """Economic position of a mean (Springer 1951, from memory; closed form derived): aim and cost."""
    entry = case(name)
    given, expected = entry["inputs"], entry["expected"]
    terms = given["LSL"], given["USL"], given["sigma"], given["cost_below"], given["cost_above"]
    aim = economic_aim(*terms)

    def cost(mean):
        under = stats.norm.cdf(given["LSL"], mean, given["sigma"])
        over = stats.norm.sf(given["USL"], mean, given["sigma"])
        return given["cost_below"] * under + given["cost_above"] * over

    assert aim == pytest.approx(expected["mean"], abs=entry["tolerance"]["mean_abs"])
    assert cost(aim) == pytest.approx(expected["cost"], rel=entry["tolerance"]["cost_rel"])
    best = optimize.minimize_scalar(
        cost, bounds=(given["LSL"], given["USL"]), method="bounded", options={"xatol": 1e-9}
    )
    assert aim == pytest.approx(best.x, abs=1e-6)


@pytest.mark.parametrize("name", ["adj-target-asym-1", "adj-target-asym-2"])
def test_next_shift_aims_there(case, name):
    """With very many pieces the level is known and `next_shift` lands on the economic position."""
    given = case(name)["inputs"]
    middle = (given["LSL"] + given["USL"]) / 2
    count = 40_000
    sizes = middle + given["sigma"] * np.where(np.arange(count) % 2, 1.0, -1.0)
    answer = next_shift(
        sizes,
        middle,
        given["LSL"],
        given["USL"],
        sd=given["sigma"],
        wear=0.0,
        cost_under=given["cost_below"],
        cost_over=given["cost_above"],
    )
    assert middle + answer.shift.estimate == pytest.approx(case(name)["expected"]["mean"], abs=2e-7)


def test_bounded_adjustment(case):
    """Bounded adjustment of a wandering process (definitions Box & Luceno 1997; values recomputed in the bank)."""
    entry = case("adj-bounded-box-luceno")
    for k, (wander, band) in enumerate(entry["inputs"]["cases"]):
        answer = bounded_adjustment(wander, band)
        assert answer.pieces_between == pytest.approx(entry["expected"]["AAI"][k], rel=entry["tolerance"]["rel"])
        assert 100 * answer.sd_increase == pytest.approx(entry["expected"]["ISD_pct"][k], rel=entry["tolerance"]["rel"])


def test_bounded_adjustment_against_simulation():
    """The same by walking it: wander 0.5, band 0.5 sd, 400,000 pieces; three standard errors are under 1 %."""
    rng = np.random.default_rng(11)
    wander, band = 0.5, 0.5
    level, squares, adjusted, pieces = 0.0, 0.0, 0, 400_000
    for a in rng.normal(size=pieces).tolist():
        squares += (level + a) ** 2
        level += wander * a
        if abs(level) >= band:
            adjusted += 1
            level = 0.0
    answer = bounded_adjustment(wander, band)
    assert answer.pieces_between == pytest.approx(pieces / adjusted, rel=0.01)
    assert 1 + answer.sd_increase == pytest.approx(np.sqrt(squares / pieces), rel=0.01)


def test_funnel(case):
    """Deming's funnel: correcting every piece by its whole deviation doubles the variance (rule 2); ours does not."""
    entry = case("adj-funnel")
    rng = np.random.default_rng(4)
    pieces, runs = entry["inputs"]["n"], 300
    chased, ours = [], []
    for _ in range(runs):
        errors = rng.normal(size=pieces)
        chased.append(errors[-1] - errors[-2])  # setting is minus the last error
        setting, sizes, events = 0.0, [], []
        for k, error in enumerate(errors, 1):
            sizes.append(setting + error)
            if k < 2:
                continue
            answer = next_shift(sizes, 0.0, events=events)
            if not answer.leave_alone:
                events.append((k, "offset change", answer.change))
                setting += answer.change
        ours.append(setting + rng.normal())
    # 300 runs: a variance has a standard error of 8 %
    assert np.var(chased) == pytest.approx(entry["expected"]["ratio_rule2"], rel=0.25)
    assert np.mean(np.square(ours)) < 1.35


def test_follow_the_hole(case):
    """Common practice, no source: the mate is cut to the hole as measured."""
    entry = case("practice-follow-the-hole")
    given = entry["inputs"]
    target = given["hole_measured_in"] + given["press_in"]
    assert target == pytest.approx(entry["expected"]["plug_target_in"], abs=1e-12)
    # a first plug at the drawn size (nominal plus press) is then cut larger by what the hole is over nominal
    first = given["hole_nominal_in"] + given["press_in"]
    answer = next_shift([first], target, sd=0.0001, increment=0.0001)
    assert answer.offset == pytest.approx(given["hole_measured_in"] - given["hole_nominal_in"], abs=1e-12)
