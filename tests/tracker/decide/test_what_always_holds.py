"""What holds for every two batches: wider limits, another order, another unit, the plain ways beside the plan."""

import itertools

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tracker.decide import next_shift, plan
from tracker.errors import TrackerError
from tracker.fit import chance_any, classes, pair

sizes = st.lists(st.integers(-60, 60), min_size=2, max_size=6)
"""Sizes in steps of a micrometre about 20 mm."""
noise = st.sampled_from([0.0, 0.0005, 0.002])
limits = st.tuples(st.integers(-40, 20), st.integers(2, 40)).map(lambda ends: (ends[0] / 1000, sum(ends) / 1000))
QUICK = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def batch(steps):
    return 20 + np.array(steps) / 1000


def best_by_trial(internal, external, low, high):
    """Return (good pairs, least margin, sum of squares from the middle) of the best of all ways, tried one by one."""
    m, n = len(internal), len(external)
    middle, best = (low + high) / 2, (-1, 0.0, 0.0)
    for picked in itertools.permutations(range(n), min(m, n)) if m <= n else itertools.permutations(range(m), n):
        pairs = enumerate(picked) if m <= n else ((i, j) for j, i in enumerate(picked))
        gaps = [round(internal[i] - external[j], 9) for i, j in pairs]
        good = [gap for gap in gaps if low - 1e-12 <= gap <= high + 1e-12]
        margin = min((min(gap - low, high - gap) for gap in good), default=0.0)
        best = max(best, (len(good), round(margin, 9), -round(sum((gap - middle) ** 2 for gap in good), 12)))
    return best


@QUICK
@given(sizes, sizes, limits)
def test_no_order_is_better_than_the_pairing(a, b, ends):
    internal, external = batch(a), batch(b)
    found = pair(internal, external, *ends)
    good, margin, squares = best_by_trial(internal, external, *ends)
    assert found.good == good
    if good:
        assert found.worst_margin == pytest.approx(margin, abs=1e-8)
        assert found.sum_of_squares <= -squares + 1e-9


@QUICK
@given(sizes, sizes, noise, limits, st.integers(0, 30), st.integers(0, 30))
def test_wider_limits_lower_no_chance_and_no_number_of_pairs(a, b, u, ends, below, above):
    internal, external = batch(a), batch(b)
    wide = ends[0] - below / 1000, ends[1] + above / 1000
    narrow, open_ = (chance_any(internal, external, *each, (u, u), common_uncertainty=u) for each in (ends, wide))
    for name in ("pair", "pair_measured", "all_measured", "measured_share"):
        assert getattr(open_, name) >= getattr(narrow, name) - 1e-6, name
    assert pair(internal, external, *wide).good >= pair(internal, external, *ends).good


@QUICK
@given(sizes, sizes, noise, limits, st.randoms(use_true_random=False))
def test_the_order_of_the_pieces_changes_no_figure(a, b, u, ends, random):
    internal, external = batch(a), batch(b)
    shuffled = list(a)
    random.shuffle(shuffled)
    one, other = (
        (pair(x, external, *ends, uncertainty=(u, u)), chance_any(x, external, *ends, (u, u)))
        for x in (internal, batch(shuffled))
    )
    assert one[0].good == other[0].good
    assert one[0].sum_of_squares == pytest.approx(other[0].sum_of_squares, abs=1e-9)
    assert one[1].all_measured == pytest.approx(other[1].all_measured, abs=1e-9)
    assert one[1].pair == pytest.approx(other[1].pair, abs=1e-9)


@QUICK
@given(sizes, sizes, noise, limits)
def test_the_plan_is_never_dearer_than_what_stands_beside_it_and_counts_what_it_lists(a, b, u, ends):
    found = plan(batch(a), batch(b), *ends, {"press": 1, "spoiled_assembly": 30}, uncertainty=(u, u), step=0.001)
    for item in found.alternatives:
        assert found.cost <= item.cost + 1e-6, item.name
    assert found.expected_good == pytest.approx(sum(item.chance for item in found.pairs))
    used = [item.internal for item in found.pairs if item.internal is not None]
    assert len(used) == len(set(used))
    for item in found.pairs:
        if item.way == "rework external":
            assert item.size < batch(b)[item.external]
        if item.way == "rework internal":
            assert item.size > batch(a)[item.internal]


@QUICK
@given(sizes, sizes, noise, limits, st.integers(2, 3))
def test_the_best_trays_are_no_worse_than_the_plain_ones(a, b, u, ends, number):
    given_ = batch(a), batch(b), *ends, number
    found = {}
    for method in ("best", "width", "count"):
        try:
            found[method] = classes(*given_, method, step=0.001, uncertainty=(u, u)).expected_good
        except TrackerError:
            return
    assert found["best"] >= max(found["width"], found["count"]) - 1e-9


@QUICK
@given(sizes, sizes, noise, limits)
def test_inches_and_millimetres_give_the_same_answer(a, b, u, ends):
    costs = {"press": 1, "rework": {"external": 3}, "remake": {"external": 9}, "spoiled_assembly": 30}
    found = []
    for unit in (1.0, 25.4):
        internal, external, low, high = batch(a) / unit, batch(b) / unit, ends[0] / unit, ends[1] / unit
        given_ = internal, external, low, high
        chance = chance_any(*given_, (u / unit, u / unit), common_uncertainty=u / unit)
        found.append(
            [
                pair(*given_).good,
                chance.pair,
                chance.all_measured,
                plan(*given_, costs, uncertainty=(u / unit, u / unit), step=0.001 / unit).cost,
            ]
        )
    assert found[0] == pytest.approx(found[1], abs=1e-6)


@pytest.mark.parametrize("plus_makes", ["larger", "smaller"])
@pytest.mark.parametrize("diameter", [True, False])
@pytest.mark.parametrize("off", [0.010, -0.010])
def test_what_is_entered_brings_the_part_toward_its_target(plus_makes, diameter, off):
    """On the radius half of the change is entered; a plus that makes the part smaller turns the sign over."""
    measured = 20 + off + np.array([-0.001, 0.0005, 0.001, -0.0005, 0.0])
    found = next_shift(measured, 20.0, increment=0.002, diameter=diameter, plus_makes=plus_makes)
    entered = found.offset * (1 if diameter else 2) * (1 if plus_makes == "larger" else -1)
    assert found.change == pytest.approx(entered)
    assert found.change == pytest.approx(-off, abs=0.0021)
    assert round(found.offset / 0.002, 9) == round(found.offset / 0.002)
    assert ("smaller" if off > 0 else "larger") in found.enter
