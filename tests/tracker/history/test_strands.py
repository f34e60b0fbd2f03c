"""Where a strand of batches moved: the t test of scipy at each place, and how often a steady shop is accused."""

import numpy as np
import pytest
from scipy import stats

from tracker.history import summarize_history
from tracker.history.strands import level_change, strands_of


def test_it_is_the_clearest_of_all_two_sample_t_tests(rng):
    values = rng.normal(0, 1, 15) + 2 * (np.arange(15) >= 9)
    tests = {k: stats.ttest_ind(values[:k], values[k:]).pvalue for k in range(2, 14)}
    first, p = level_change(values)
    assert first == min(tests, key=tests.get)
    assert p == pytest.approx(min(tests.values()) * len(tests), rel=1e-9)


@pytest.mark.parametrize("n", [6, 12, 40])
def test_steady_rows_are_seldom_said_to_change(rng, n):
    """Bonferroni is a bound: at most 5 in 100, and not so few that nothing is ever seen."""
    said = sum(level_change(row)[1] < 0.05 for row in rng.normal(0, 1, (4000, n)))
    assert 0.005 < said / 4000 < 0.05 + 3 * np.sqrt(0.05 * 0.95 / 4000)


def test_a_move_of_three_sd_is_seen_where_it_is(rng):
    rows = rng.normal(0, 1, (500, 24)) + 3 * (np.arange(24) >= 14)
    found = [level_change(row) for row in rows]
    assert np.mean([p < 0.01 for _, p in found]) > 0.99
    assert np.mean([abs(first - 14) <= 1 for first, _ in found]) > 0.9


@pytest.mark.parametrize("values", [[0.1] * 9, [0.0] * 9, [1.0, 2.0, 3.0, 4.0, 5.0]])
def test_rows_that_cannot_be_told_change_nowhere(values):
    assert level_change(np.array(values)) == (0, 1.0)


def test_two_levels_without_noise_are_a_change():
    first, p = level_change(np.array([1.0, 1, 1, 2, 2, 2]))
    assert (first, p) == (3, 0.0)


@pytest.fixture
def history(make, rng, tmp_path):
    """Three lathes, 20 batches each of one part; the second lathe cuts three tenths larger from its batch 12 on."""
    frame = make.readings(rng, batches=60, pieces=6, positions=1, repeats=1, uneven=False)
    late = (frame["batch"] % 3 == 1) & (frame["batch"] >= 36)
    frame.loc[late, "value"] += 0.0003
    rows = [
        make.about(i, 6, part="rest button", begun=f"2026-{1 + i // 6:02d}-{1 + i % 6:02d}T08:00:00") for i in range(60)
    ]
    return make.write(tmp_path / "h", frame, rows)


def test_the_machine_that_moved_is_named_with_the_day_and_the_amount(history):
    found = strands_of(summarize_history(history, "machine"), "machine")
    assert [(strand.value, strand.moved) for strand in found] == [
        ("lathe 1", True),
        *((name, False) for name in [found[1].value, found[2].value]),
    ]
    clear = found[0]
    summary = summarize_history(history)
    assert summary.about["begun"][summary.batch[clear.at[clear.first]]] == "2026-07-02T08:00:00"
    assert clear.move == pytest.approx(0.0003, abs=0.0001)
    assert "from batch 13 of 20 on" in str(clear)


def test_every_series_is_in_one_strand(history):
    for by in ("part", "machine", "tool", "operator", "month"):
        summary = summarize_history(history, by)
        strands = strands_of(summary, by)
        assert sorted(np.concatenate([strand.at for strand in strands]).tolist()) == list(range(len(summary.batch)))
