"""The gauge study as a whole: designs, pooling, verdicts, refusals."""

import json

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from tracker.errors import NotEnoughData, TrackerError
from tracker.gauge import repeatability_study
from tracker.spread import components


def drawn(seed=1, p=10, o=3, r=3, sds=(1.0, 0.2, 0.0, 0.1)):
    rng = np.random.default_rng(seed)
    piece, who, _ = (a.ravel() for a in np.meshgrid(range(p), range(o), range(r), indexing="ij"))
    y = rng.normal(0, sds[0], p)[piece] + rng.normal(0, sds[1], o)[who]
    y = y + rng.normal(0, sds[2], (p, o))[piece, who] + rng.normal(0, sds[3], piece.size)
    return y, piece, who


def test_a_small_study_with_lost_readings_is_answered_or_refused():
    rng = np.random.default_rng(0)
    answered = 0
    for _ in range(150):
        y, piece, who = drawn(int(rng.integers(1 << 30)), p=5, o=2, r=2, sds=(1.0, 0.3, 0.3, 0.1))
        kept = np.sort(rng.permutation(y.size)[6:])
        try:
            study = repeatability_study(y[kept], piece[kept], who[kept])
        except NotEnoughData:
            continue
        answered += 1
        json.dumps(study.to_dict())
        for name in ("repeatability_sd", "gauge_sd", "piece_sd", "total_sd", "share_of_total_interval"):
            interval = getattr(study, name)
            assert 0 <= interval.low <= interval.estimate <= interval.high
    assert answered > 100


def test_share_of_total_has_the_interval_of_its_parts():
    # One operator: the share is 1 / (1 + ratio), and the ratio of the one-way components has an exact F interval.
    y, piece, who = drawn(3, r=4)
    mine = who == 0
    study = repeatability_study(y[mine], piece[mine])
    ratio = components(y[mine], piece[mine]).ratio
    assert study.share_of_total == pytest.approx((1 + ratio.estimate) ** -0.5)
    assert study.share_of_total_interval.low == pytest.approx((1 + ratio.high) ** -0.5, rel=0.005)
    assert study.share_of_total_interval.high == pytest.approx((1 + ratio.low) ** -0.5, rel=0.005)
    wide = repeatability_study(y, piece, who, tolerance=6.0)
    assert wide.share_of_tolerance_interval == wide.gauge_sd
    assert f"{wide.share_of_total_interval.estimate:.0%}".replace("%", " %") in str(wide)


def test_parts_add_up():
    study = repeatability_study(*drawn(), tolerance=6.0)
    gauge = study.repeatability_sd.estimate**2 + study.reproducibility_sd.estimate**2
    assert study.gauge_sd.estimate**2 == pytest.approx(gauge)
    assert study.total_sd.estimate**2 == pytest.approx(gauge + study.piece_sd.estimate**2)
    assert study.share_of_total == pytest.approx(study.gauge_sd.estimate / study.total_sd.estimate)
    assert study.share_of_tolerance == pytest.approx(study.gauge_sd.estimate)
    for name in ("repeatability_sd", "reproducibility_sd", "gauge_sd", "piece_sd", "total_sd"):
        interval = getattr(study, name)
        assert 0 <= interval.low <= interval.estimate <= interval.high


DESIGNS = {"kept apart": {"pool_above": 1.0}, "pooled": {"pool_above": 0.0}, "ranges": {"method": "range"}}


@pytest.mark.parametrize("name", DESIGNS)
def test_estimated_variances_add_up_before_anything_is_cut(name):
    found = repeatability_study(*drawn(8, p=5, o=4, r=2, sds=(1.0, 0.3, 0.2, 0.1)), **DESIGNS[name]).variances
    reproducibility = found["operator"] + found.get("interaction", 0.0)
    assert found["reproducibility"] == pytest.approx(reproducibility)
    assert found["gauge"] == pytest.approx(found["repeatability"] + reproducibility)
    assert found["total"] == pytest.approx(found["gauge"] + found["piece"])


def test_pooling_follows_its_p_value():
    visible = repeatability_study(*drawn(2, sds=(1.0, 0.2, 0.3, 0.1)))
    assert not visible.pooled
    assert visible.interaction_p < 0.25
    assert visible.interaction_sd.estimate == pytest.approx(0.3, abs=0.12)
    forced = repeatability_study(*drawn(2, sds=(1.0, 0.2, 0.3, 0.1)), pool_above=0.0)
    assert forced.pooled
    assert forced.repeatability_sd.estimate > 2 * visible.repeatability_sd.estimate
    assert "pooled" in str(forced)


def test_the_interval_of_repeatability_rests_on_the_repeats_alone():
    y, piece, who = drawn(2, sds=(1.0, 0.2, 0.0, 0.1))
    pooled, apart = (repeatability_study(y, piece, who, pool_above=limit).repeatability_sd for limit in (0.0, 1.0))
    within = pd.DataFrame({"y": y, "piece": piece, "who": who}).groupby(["piece", "who"])["y"].var(ddof=0).sum() * 3
    assert pooled.low == pytest.approx(np.sqrt(within / stats.chi2.ppf(0.975, 60)))
    assert (pooled.low, pooled.high) == (apart.low, apart.high)


def test_one_operator_knows_nothing_of_reproducibility():
    y, piece, who = drawn(3)
    mine = who == 0
    for method in ("anova", "range", "reml"):
        study = repeatability_study(y[mine], piece[mine], method=method)
        assert study.reproducibility_sd is None
        assert study.gauge_sd.estimate == pytest.approx(study.repeatability_sd.estimate)
        assert "One operator" in str(study)
        assert study.operators == 1


def test_single_readings_say_what_they_hide():
    y, piece, who = drawn(4, r=1)
    study = repeatability_study(y, piece, who)
    assert study.interaction_sd is None
    assert not study.pooled
    assert "read each piece once" in str(study)


def test_unbalanced_data_are_fitted_by_likelihood():
    y, piece, who = drawn(5)
    study = repeatability_study(y[4:], piece[4:], who[4:])
    assert study.method == "restricted maximum likelihood"
    assert study.repeats is None
    full = repeatability_study(y, piece, who)
    assert study.gauge_sd.estimate == pytest.approx(full.gauge_sd.estimate, rel=0.2)
    holes = ~((piece == 3) & (who == 1))
    with_holes = repeatability_study(y[holes], piece[holes], who[holes])
    assert "approximate" in str(with_holes)
    with pytest.raises(NotEnoughData, match="same number of times"):
        repeatability_study(y[4:], piece[4:], who[4:], method="range")


def test_interaction_of_unbalanced_data_is_tested_by_least_squares():
    y, piece, who = drawn(9, p=4, o=2, r=3, sds=(1.0, 0.3, 0.2, 0.1))
    y, piece, who = y[2:-1], piece[2:-1], who[2:-1]
    frame = pd.DataFrame({"y": y, "piece": piece, "who": who})
    cells = smf.ols("y ~ C(piece) * C(who)", frame).fit()
    known = cells.compare_f_test(smf.ols("y ~ C(piece) + C(who)", frame).fit())[1]
    assert repeatability_study(y, piece, who).interaction_p == pytest.approx(known, rel=1e-6)


def test_repeatability_of_a_study_with_holes_has_nearly_its_chi_square_interval():
    y, piece, who = drawn(10, sds=(1.0, 0.3, 0.4, 0.1))
    kept = ~((piece == 3) & (who == 1))
    study = repeatability_study(y[kept], piece[kept], who[kept], pool_above=1.0)
    # 29 cells of three readings: 58 degrees of freedom, to which the other variances add next to nothing.
    sd = study.repeatability_sd
    assert sd.low / sd.estimate == pytest.approx(np.sqrt(58 / stats.chi2.ppf(0.975, 58)), rel=0.01)
    assert sd.high / sd.estimate == pytest.approx(np.sqrt(58 / stats.chi2.ppf(0.025, 58)), rel=0.01)


VERDICTS = {"serves": 0.08, "may serve": 0.2, "does not serve": 0.4}


@pytest.mark.parametrize("word", VERDICTS)
def test_verdict_against_the_tolerance(word):
    data = drawn(6)
    gauge = repeatability_study(*data).gauge_sd.estimate
    study = repeatability_study(*data, tolerance=6 * gauge / VERDICTS[word])
    assert study.verdict == word
    assert str(study).startswith(f"The gauge {word}")


def test_repeats_that_never_differ():
    piece = np.repeat([1, 2, 3], 4)
    study = repeatability_study(np.repeat([1.0, 2.0, 3.5], 4), piece, ["A", "A", "B", "B"] * 3)
    assert study.gauge_sd.estimate == 0
    assert study.distinct_categories is None
    assert "step of the gauge" in str(study)
    json.dumps(study.to_dict())


REFUSED = {
    "one piece": (lambda: repeatability_study([1, 2], [1, 1]), NotEnoughData, "two or more"),
    "no repeats": (lambda: repeatability_study([1, 2], [1, 2]), NotEnoughData, "at least twice"),
    "all the same": (
        lambda: repeatability_study([1.0] * 8, [1, 1, 2, 2] * 2, list("AAAABBBB")),
        NotEnoughData,
        "finer",
    ),
    "lengths": (lambda: repeatability_study([1, 2, 3], [1, 1], ["A", "A"]), TrackerError, "3 values, 2 pieces"),
    "not a number": (lambda: repeatability_study([1, np.nan], [1, 2]), TrackerError, "reading 2"),
    "method": (lambda: repeatability_study([1, 2], [1, 2], method="guess"), TrackerError, "anova"),
    "tolerance": (lambda: repeatability_study([1, 2], [1, 2], tolerance=0), TrackerError, "tolerance"),
    "empty": (lambda: repeatability_study([], []), NotEnoughData, "no readings"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refusals(name):
    call, error, words = REFUSED[name]
    with pytest.raises(error, match=words):
        call()


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from(["anova", "range", "reml"]), st.sampled_from([25.4, 0.001]))
def test_units_origin_and_order_do_not_matter(seed, method, factor):
    y, piece, who = drawn(seed, p=4, o=2, r=2, sds=(1.0, 0.3, 0.2, 0.2))
    order = np.random.default_rng(seed).permutation(y.size)
    one = repeatability_study(y, piece, who, method=method)
    two = repeatability_study((y[order] + 10) * factor, piece[order], who[order], method=method)
    for name in ("repeatability_sd", "gauge_sd", "piece_sd", "total_sd"):
        assert getattr(two, name).estimate == pytest.approx(
            factor * getattr(one, name).estimate, rel=1e-5, abs=1e-6 * factor
        )
    assert one.pooled == two.pooled
