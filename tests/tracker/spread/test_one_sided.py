"""Pieces known from one side only: the size their batch leads to expect, held against integration and simulation."""

import numpy as np
import pandas as pd
import pytest
from scipy import integrate, stats

from tracker.errors import OneSideOnly
from tracker.spread import interval_fit, size_limits, sizes, summarize
from tracker.spread.one_sided import cut_off_t

INF = np.inf


def go(*bounds):
    rows = [(str(number), low, high) for number, (low, high) in enumerate(bounds, 1)]
    frame = pd.DataFrame(rows, columns=["piece", "low", "high"])
    return frame.assign(feature="hole", position="", kind="go_no_go", value=np.nan, step=0.001)


BATCH = [(6.000, 6.002), *[(6.002, 6.004)] * 5, *[(6.004, 6.006)] * 2]
"""Eight holes between pins of two micrometres."""


@pytest.mark.parametrize("dof", [2.3, 4.0, 11.5, 80.0])
@pytest.mark.parametrize("start", [-3.0, -0.4, 0.0, 1.3, 2.2])
def test_what_lies_beyond_a_bound_is_that_of_the_integrals(start, dof):
    mean, sd = cut_off_t(np.array([start]), dof)
    t = stats.t(dof)
    moments = [integrate.quad(lambda x, k=k: x**k * t.pdf(x), start, INF, limit=400)[0] for k in range(3)]
    assert mean[0] == pytest.approx(moments[1] / moments[0], rel=1e-6)
    assert sd[0] == pytest.approx(np.sqrt(moments[2] / moments[0] - mean[0] ** 2), rel=2e-3)


def test_a_piece_bounded_by_its_batch_has_the_size_that_the_fit_leads_to_expect():
    found = sizes(go(*BATCH, (6.002, INF)), "hole", kind="internal")
    assert found.expected == ("9",)
    assert "9" in found.remark
    fit = interval_fit([low for low, _ in BATCH] + [6.002], [high for _, high in BATCH] + [INF])
    scale = fit.sd.estimate * np.sqrt(9 / 8) * np.sqrt(1 + 1 / fit.mean_pieces)
    t = stats.t(fit.dof, fit.mean.estimate, scale)
    share = t.sf(6.002)
    mean = integrate.quad(lambda x: x * t.pdf(x), 6.002, 6.2, limit=400)[0] / share
    assert found.size[8] == pytest.approx(mean, abs=2e-6)
    assert found.size[8] > 6.003
    assert found.uncertainty[8] > 1.5 * found.uncertainty[0]  # a bracketed piece is better known
    assert np.isposinf(found.high[8])


def test_an_external_piece_is_mirrored():
    inside = sizes(go(*BATCH, (6.002, INF)), "hole", kind="internal")
    mirrored = go(*[(12 - high, 12 - low) for low, high in BATCH], (-INF, 12 - 6.002))
    outside = sizes(mirrored, "hole", kind="external")
    assert 12 - outside.size == pytest.approx(inside.size, abs=1e-9)
    assert outside.uncertainty == pytest.approx(inside.uncertainty, rel=1e-6)


@pytest.mark.parametrize(
    ("bounds", "kind", "says"),
    [
        ([(6.002, INF)], "internal", "hole 1 is known from one side only: it goes 6.002; a not-go reading is missing"),
        ([(6.002, INF)] * 2, None, "holes 1 and 2 are known from one side only: they go 6.002; not-go readings are"),
        ([(-INF, 6.004)], "internal", "it does not go 6.004; a go reading is missing"),
        ([(-INF, 6.004)], "external", "it goes 6.004; a not-go reading is missing"),
        ([(6.002, INF)], "external", "it does not go 6.002; a go reading is missing"),
        ([(6.002, 6.004)] * 3 + [(6.002, INF)], "internal", "3 pieces known from both sides are too few to bound it"),
        ([*BATCH, *[(6.002, INF)] * 9], "internal", "no more than 8 pieces of the batch are known from both sides"),
        (
            [*[(6.002, 6.004)] * 8, (6.002, INF)],
            "internal",
            "do not bound it: all 8 pieces agree with one",
        ),
        ([*BATCH, (6.010, INF)], "internal", "hardly one of this batch is expected so far out"),
        ([(6.002, INF)] * 3 + [(-INF, 6.004)], "internal", "go 6.002; not-go readings are missing; hole 4 is known"),
    ],
)
def test_a_piece_that_nothing_bounds_has_no_size(bounds, kind, says):
    with pytest.raises(OneSideOnly, match=says.replace("(", r"\(")):
        sizes(go(*bounds), "hole", kind=kind)
    known = size_limits(go(*bounds), "hole", kind=kind)
    assert len(known) == len(bounds)
    assert known.one_sided


def test_a_side_that_another_reading_closes_is_closed():
    frame = pd.concat([go((6.002, INF)), go((-INF, 6.004))])
    found = sizes(frame, "hole")
    assert found.expected == ()
    assert found.size == pytest.approx([6.003])


def test_the_sizes_expected_are_as_far_off_as_they_say():
    """Of many batches with sides left open by chance: bias under a tenth, and about 95 % within two of what is said."""
    rng = np.random.default_rng(11)
    away = []
    for _ in range(400):
        true = 6.003 + 0.0015 * rng.normal(size=12)
        low = np.floor(true / 0.001) * 0.001
        high = low + 0.001
        for place, pin in enumerate((6.002, 6.003, 6.004)):  # one pin tried, whatever it did
            goes = true[place] > pin
            low[place], high[place] = (pin, INF) if goes else (-INF, pin)
        try:
            found = sizes(go(*zip(low, high)), "hole")
        except OneSideOnly:
            continue
        away += ((true - found.size) / found.uncertainty)[:3].tolist()
    assert len(away) > 900
    assert abs(np.mean(away)) < 0.1
    assert 0.9 < np.sqrt(np.mean(np.square(away))) < 1.1
    assert np.mean(np.abs(away) < 1.96) > 0.93


def test_mean_and_spread_are_still_those_of_the_bounds():
    """Pins that overlap tell mean and spread though no piece has a size."""
    known = size_limits(
        go((6.002, INF), (6.001, INF), (-INF, 6.003), (-INF, 6.004), (6.003, INF), (-INF, 6.002)), "hole"
    )
    fit = interval_fit(known.low, known.high)
    assert len(known.one_sided) == 6
    assert summarize(fit).mean.estimate == pytest.approx(fit.mean.estimate)
