"""Which pairs the force is over: every pair that the verdict lets meet, and no other."""

import numpy as np
import pytest

from tracker.fit import classes
from tracker.judge.meeting import ANY_ORDER, IN_A_TRAY, LISTED, MOST_PAIRS, PLANNED, meeting

INNER, OUTER = np.array([0.3750, 0.3751, 0.3752]), np.array([0.3755, 0.3756, 0.3757])
BEST = np.array([-0.0005, -0.0005, -0.0005])


@pytest.mark.parametrize(
    ("word", "planned", "over", "least", "most"),
    [
        ("press as they come", [], ANY_ORDER, -0.0007, -0.0003),
        ("sort", [], LISTED, -0.0005, -0.0005),
        ("pair", [], LISTED, -0.0005, -0.0005),
        ("measure better", [-0.0008], LISTED, -0.0005, -0.0005),
        ("rework", [-0.0008, -0.0004], PLANNED, -0.0008, -0.0004),
        ("remake", [-0.0006], PLANNED, -0.0006, -0.0006),
        ("remake", [], LISTED, -0.0005, -0.0005),
    ],
)
def test_the_verdict_says_which_pairs_meet(word, planned, over, least, most):
    found = meeting(word, INNER, OUTER, None, BEST, planned)
    assert found.over == over
    assert found.gaps.min() == pytest.approx(least)
    assert found.gaps.max() == pytest.approx(most)


def test_in_trays_every_pair_of_a_tray_meets_and_none_across():
    rng = np.random.default_rng(5)
    inner, outer = rng.normal(0.3750, 0.0002, 40), rng.normal(0.3756, 0.0002, 40)
    trays = classes(inner, outer, -0.0012, 0.0, 3)
    found = meeting("sort", inner, outer, trays, BEST, [])
    by_hand = [
        a - b
        for a, i in zip(inner, trays.class_internal)
        for b, j in zip(outer, trays.class_external)
        if i == j and i >= 0
    ]
    assert found.over == IN_A_TRAY
    assert sorted(found.gaps) == pytest.approx(sorted(by_hand))


def test_of_very_many_pairs_the_ends_are_kept():
    rng = np.random.default_rng(6)
    inner, outer = rng.normal(0, 1, 3000), rng.normal(0, 1, 2500)
    found = meeting("press as they come", inner, outer, None, BEST, [])
    assert found.gaps.size <= MOST_PAIRS
    assert found.gaps.min() == inner.min() - outer.max()
    assert found.gaps.max() == inner.max() - outer.min()
