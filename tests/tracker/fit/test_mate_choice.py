"""Which mates are taken on the surplus side: exchanges against dynamic programming, and both against every choice."""

from itertools import combinations

import numpy as np
import pytest

from tracker.fit import mate_choice
from tracker.fit.line_pairing import _range_of_mates
from tracker.fit.mate_choice import by_rows, by_shifts, choice_of_mates
from tracker.fit.mate_exchange import by_exchanges


def case(rng, kind, most=30):
    """Return sizes wanted and offered with the range of each row, or None where no full choice exists."""
    rows = int(rng.integers(1, most))
    places = rows + int(rng.integers(0, most))
    wanted = np.sort(rng.normal(0, 1, rows))
    offered = np.sort(rng.normal(rng.normal(), rng.choice([0.3, 1, 2]), places))
    if kind == "tenths":
        wanted, offered = np.round(wanted, 1), np.round(offered, 1)
    elif kind == "whole":
        wanted, offered = np.round(3 * wanted), np.round(3 * offered)
    elif kind == "clusters":
        offered = np.sort(np.round(1.5 * offered) + rng.normal(0, 1e-3, places))
    reach, off = rng.choice([0.5, 1, 2, 50]), rng.normal(0, 0.3)
    first = np.searchsorted(offered, wanted + off - reach)
    last = np.searchsorted(offered, wanted + off + reach, side="right")
    found = _range_of_mates(first, np.maximum(first, last))
    return None if found is None else (wanted, offered, *found)


def squares(wanted, offered, chosen):
    return float(np.square(wanted - offered[chosen]).sum())


KINDS = ["even", "tenths", "whole", "clusters"]


@pytest.mark.parametrize("kind", KINDS)
def test_exchanges_end_where_dynamic_programming_ends(kind):
    rng = np.random.default_rng(KINDS.index(kind))
    tried = 0
    for _ in range(1500):
        found = case(rng, kind)
        if found is None:
            continue
        wanted, offered, leftmost, rightmost = found
        steps = np.arange(len(wanted))
        best = by_shifts(wanted, offered, leftmost - steps, rightmost - steps) + steps
        chosen = by_exchanges(wanted, offered, leftmost, rightmost)
        assert chosen is not None
        assert np.all(np.diff(chosen) > 0)
        assert np.all((leftmost <= chosen) & (chosen <= rightmost))
        assert squares(wanted, offered, chosen) == pytest.approx(squares(wanted, offered, best), rel=1e-10, abs=1e-15)
        tried += 1
    assert tried > 300


@pytest.mark.parametrize("kind", KINDS)
def test_no_choice_of_positions_is_better(kind):
    rng = np.random.default_rng(10 + KINDS.index(kind))
    for _ in range(60):
        found = case(rng, kind, most=6)
        if found is None:
            continue
        wanted, offered, leftmost, rightmost = found
        least = min(
            squares(wanted, offered, np.array(chosen))
            for chosen in combinations(range(len(offered)), len(wanted))
            if np.all((leftmost <= chosen) & (np.array(chosen) <= rightmost))
        )
        steps = np.arange(len(wanted))
        for chosen in (
            by_exchanges(wanted, offered, leftmost, rightmost),
            by_shifts(wanted, offered, leftmost - steps, rightmost - steps) + steps,
            np.array(by_rows(wanted, offered, leftmost.tolist(), rightmost.tolist())),
        ):
            assert squares(wanted, offered, chosen) == pytest.approx(least, rel=1e-10, abs=1e-15)


@pytest.mark.parametrize("step", [0.0, 1e-5, 1e-6])
def test_thousands_of_pieces_give_the_same_sum_both_ways(step, monkeypatch):
    rng = np.random.default_rng(5)
    wanted, offered = np.sort(rng.normal(0, 1e-4, 3000)), np.sort(rng.normal(0, 1e-4, 3300))
    if step:
        wanted, offered = np.round(wanted / step) * step, np.round(offered / step) * step
    steps = np.arange(len(wanted))
    rightmost = steps + 300
    quick = choice_of_mates(wanted, offered, steps, rightmost)
    monkeypatch.setattr(mate_choice, "MANY", 10**9)
    slow = choice_of_mates(wanted, offered, steps, rightmost)
    assert squares(wanted, offered, quick) == pytest.approx(squares(wanted, offered, slow), rel=1e-9)


def test_where_the_walk_would_not_end_dynamic_programming_answers(monkeypatch):
    monkeypatch.setattr(mate_choice, "MANY", 0)
    monkeypatch.setattr(mate_choice, "by_exchanges", lambda *_: None)
    chosen = choice_of_mates(np.array([1.0, 2.0]), np.array([0.9, 1.4, 2.1]), np.array([0, 1]), np.array([1, 2]))
    assert chosen.tolist() == [0, 2]


def test_of_equal_pieces_the_first_are_taken():
    wanted, offered = np.array([1.0, 1.0]), np.array([1.0, 1.0, 1.0, 1.0])
    assert by_exchanges(wanted, offered, np.array([0, 1]), np.array([2, 3])).tolist() == [0, 1]
