"""Classes for selective assembly, against simulated picking and every possible set of cuts."""

import itertools
import tracemalloc

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tracker.errors import NotEnoughData, TrackerError
from tracker.fit import class_shares, classes, expected_matches, matched_fraction
from tracker.fit.batch_spread import given_readings

METHODS = ("width", "count", "best")


def value_of(internal, external, low, high, edges_in, edges_out):
    """Return the expected good assemblies of half-open classes, counted pair by pair."""
    total = 0.0
    for k in range(len(edges_in) - 1):
        inside = [x for x in internal if edges_in[k] <= x < edges_in[k + 1]]
        outside = [x for x in external if edges_out[k] <= x < edges_out[k + 1]]
        if inside and outside:
            good = sum(low <= a - b <= high for a in inside for b in outside)
            total += min(len(inside), len(outside)) * good / (len(inside) * len(outside))
    return total


@pytest.mark.parametrize("method", METHODS)
def test_expected_good_is_what_picking_at_random_gives(method):
    rng = np.random.default_rng(1)
    internal, external = rng.normal(10.0, 1.0, 14), rng.normal(9.0, 1.3, 17)
    result = classes(internal, external, 0.3, 1.7, 3, method)
    draws = 4000
    total = 0
    for _ in range(draws):
        for k in range(3):
            inside = rng.permutation(internal[result.class_internal == k])
            outside = rng.permutation(external[result.class_external == k])
            count = min(len(inside), len(outside))
            gap = inside[:count] - outside[:count]
            total += int(((gap >= 0.3) & (gap <= 1.7)).sum())
    assert result.expected_good == pytest.approx(total / draws, abs=5 * 1.8 / np.sqrt(draws))


def test_best_is_the_best_of_every_set_of_cuts():
    """Empty trays and fewer trays among them: a place taken twice is a tray with nothing on that side."""
    rng = np.random.default_rng(2)
    seen = set()
    for _ in range(60):
        m, n = rng.integers(3, 9, 2)
        internal, external = np.sort(rng.integers(0, 5, m)), np.sort(rng.integers(0, 5, n))
        high = float(rng.integers(-1, 2))
        low = high - float(rng.integers(0, 2))
        places = [np.unique(side) for side in (internal, external)]
        places = [np.concatenate(([p[0]], (p[:-1] + p[1:]) / 2, [p[-1] + 1])) for p in places]
        count = min(int(rng.integers(1, 4)), min(map(len, places)) - 1)
        best = max(
            value_of(internal, external, low, high, a, b)
            for a in itertools.combinations_with_replacement(places[0], count + 1)
            for b in itertools.combinations_with_replacement(places[1], count + 1)
        )
        result = classes(internal, external, low, high, count)
        assert result.expected_good == pytest.approx(best, abs=1e-7)
        used = len(result.labels)
        assert (f"{used} of {count} classes used, as more give less" in result.method) == (used < count)
        for edges in (result.edges_internal, result.edges_external):
            assert len(edges) == used + 1
            assert np.all(np.diff(edges) > 0)
        empty = bool(np.any((result.count_internal == 0) | (result.count_external == 0)))
        seen.add((used < count, empty))
    assert seen >= {(False, False), (True, False), (False, True)}


def test_best_on_whole_steps_is_the_best_of_every_set_of_whole_steps():
    rng = np.random.default_rng(3)
    seen = 0
    for _ in range(40):
        internal, external = np.sort(rng.integers(0, 9, 5)) / 10000, np.sort(rng.integers(0, 9, 4)) / 10000
        low, high = -3.00001e-4, float(rng.integers(-1, 3)) * 1e-4 + 1e-9
        steps = [np.arange(round(s[0] * 1e4), round(s[-1] * 1e4) + 2) for s in (internal, external)]
        count = int(rng.integers(1, 4))
        if min(len(np.unique(side)) for side in (internal, external)) < count:
            continue
        best = max(
            value_of(internal, external, low, high, np.array(a) * 1e-4 - 1e-9, np.array(b) * 1e-4 - 1e-9)
            for number in range(1, count + 1)
            for a in itertools.combinations(steps[0], number + 1)
            for b in itertools.combinations(steps[1], number + 1)
        )
        result = classes(internal, external, low, high, count, step=0.0001)
        assert result.expected_good == pytest.approx(best, abs=1e-7)
        seen += 1
        for edges in (result.edges_internal, result.edges_external):
            assert edges / 1e-4 == pytest.approx(np.round(edges / 1e-4), abs=1e-6)
            assert np.all(np.diff(edges) > 0.5e-4)
    assert seen > 20


def test_a_tray_too_many_is_left_out_rather_than_spoil_a_good_one():
    internal, external = [-0.8, -2.0, -1.8], [-0.2, -0.2, -0.5, -1.0]
    for count in (1, 2, 3):
        found = classes(internal, external, 0.045, 0.78, count)
        assert found.expected_good == 1.0
        assert found.labels == ("A",)
    assert found.method == "best cuts for these pieces; 1 of 3 classes used, as more give less"


def test_a_tray_may_be_empty_on_one_side_to_keep_a_piece_without_a_mate_apart():
    assert classes([0.0, 10.0], [0.0, 5.0, 10.0], 0, 0.1, 2).expected_good == 1.5
    wide = [0.0, 10.0, 20.0], [0.0, 5.0, 10.0, 20.0]
    for step in (None, 1.0):
        found = classes(*wide, 0, 0.1, 3, step=step)
        assert found.expected_good == 2.5
    found = classes([0.0, 0.0, 10.0, 10.0, 11.0], [0.0, 0.0, 5.0, 10.0, 10.0], 0, 0.1, 3)
    assert found.expected_good == 4.0
    assert found.count_internal.tolist() == [2, 0, 2]
    assert found.count_external.tolist() == [2, 1, 2]
    assert found.labels == ("A", "B", "C")


some_sizes = st.lists(st.integers(0, 40), min_size=2, max_size=14)


@settings(max_examples=60, deadline=None)
@given(
    some_sizes,
    some_sizes,
    st.integers(-20, 5),
    st.integers(0, 15),
    st.sampled_from([None, 1.0, 3.0]),
    st.sampled_from([0.0, 0.7]),
    st.sampled_from([4, 64]),
)
def test_a_tray_more_never_gives_less(internal, external, low, width, step, noise, places):
    last = 0.0
    with pytest.MonkeyPatch.context() as patch:
        for module in ("best_cuts", "selection"):
            patch.setattr(f"tracker.fit.{module}.CUTS", places)
        for count in range(1, 9):
            try:
                found = classes(internal, external, low, low + width, count, step=step, uncertainty=noise)
            except TrackerError as error:
                assert "cannot be told apart" in str(error)
                return
            assert found.expected_good >= last - 1e-6
            last = found.expected_good


def test_many_trays_take_little_time_and_memory():
    """Twenty trays of 60 by 60 pieces took six seconds and half a gigabyte."""
    rng = np.random.default_rng(14)
    internal, external = rng.normal(0.5, 1, 60), rng.normal(0, 1, 60)
    classes(internal, external, 0.4, 0.6, 2)
    tracemalloc.start()
    found = classes(internal, external, 0.4, 0.6, 20)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert most < 10e6
    assert found.expected_good > 35


@pytest.mark.parametrize(
    ("method", "words"), [("best", "at most 3"), ("count", "at most 3"), ("width", "found 100; at most 50 classes")]
)
def test_more_trays_than_can_be_filled_are_refused_before_any_search(method, words, monkeypatch):
    """A hundred trays of three pieces took minutes and gigabytes."""
    monkeypatch.setattr("tracker.fit.selection.good_pairs", None)
    with pytest.raises(TrackerError, match=words):
        classes([1.0, 2.0, 3.0], [0.5, 1.5, 2.5], 0, 1, 100, method)


def test_more_trays_than_anybody_keeps_apart_are_refused_at_once(monkeypatch):
    monkeypatch.setattr("tracker.fit.selection.good_pairs", None)
    sizes = np.linspace(0, 1, 200)
    for method in METHODS:
        with pytest.raises(TrackerError, match="found 51; at most 50 classes"):
            classes(sizes, sizes, 0, 1, 51, method)


def test_best_cuts_are_looked_for_only_where_they_are_asked(monkeypatch):
    monkeypatch.setattr("tracker.fit.selection.best_cuts", None)
    for method in ("width", "count"):
        assert set(classes([1.0, 2.0, 3.0], [0.5, 1.5, 2.5], 0, 1, 3, method).compared) == {"width", "count"}


@settings(max_examples=80, deadline=None)
@given(
    st.lists(st.integers(0, 60), min_size=4, max_size=25),
    st.lists(st.integers(0, 60), min_size=4, max_size=25),
    st.integers(-20, 5),
    st.integers(0, 25),
    st.integers(1, 5),
    st.sampled_from([None, 1.0, 2.0, (1.0, 5.0)]),
)
def test_best_is_never_worse_than_the_other_two(internal, external, low, width, count, step):
    try:
        best = classes(internal, external, low, low + width, count, "best", step=step)
    except TrackerError as error:
        assert "cannot be told apart" in str(error)
        return
    for method in ("width", "count"):
        try:
            other = classes(internal, external, low, low + width, count, method, step=step)
        except TrackerError as error:
            assert "cannot be told apart" in str(error)
            continue
        assert best.expected_good >= other.expected_good - 1e-9
        assert best.compared[method] == other.expected_good
        assert other.count_internal.sum() == len(internal)
        assert other.count_external.sum() == len(external)


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("step", [None, 0.5])
def test_counts_classes_and_edges_belong_together(method, step):
    rng = np.random.default_rng(4)
    internal, external = rng.normal(10, 2, 30), rng.normal(9, 2, 40)
    result = classes(internal, external, 0, 2, 4, method, step=step)
    assert ("best" in result.compared) == (method == "best")
    for sizes, edges, number, count in (
        (internal, result.edges_internal, result.class_internal, result.count_internal),
        (external, result.edges_external, result.class_external, result.count_external),
    ):
        assert len(edges) == 5
        assert np.all(np.diff(edges) > 0)
        assert [int((number == k).sum()) for k in range(4)] == count.tolist()
        for k in range(4):
            own = sizes[number == k]
            assert np.all((own >= edges[k] - 1e-9) & (own <= edges[k + 1] + 1e-9))
    assert result.surplus.tolist() == (result.count_internal - result.count_external).tolist()
    assert result.labels == ("A", "B", "C", "D")
    assert result.gap_lowest == pytest.approx(result.edges_internal[:-1] - result.edges_external[1:])
    assert result.gap_highest == pytest.approx(result.edges_internal[1:] - result.edges_external[:-1])


def test_equal_count_really_is():
    rng = np.random.default_rng(5)
    result = classes(rng.normal(0, 1, 24), rng.normal(0, 1, 36), -1, 1, 4, "count")
    assert result.count_internal.tolist() == [6] * 4
    assert result.count_external.tolist() == [9] * 4


def unevenness(counts, on_piece):
    """The stated order: largest difference from an equal share, sum of squares, edges on a piece."""
    share = sum(counts) / len(counts)
    off = [abs(many - share) for many in counts]
    return round(max(off), 9), round(sum(one**2 for one in off), 9), on_piece


def evenest(tenths, low, high, count):
    """Try every set of whole edges between two outer ones; sizes in tenths of a step."""
    found = []
    for inner in itertools.combinations(range(low + 1, high), count - 1):
        edges = [low, *inner, high]
        counts = [sum(10 * a <= x < 10 * b for x in tenths) for a, b in itertools.pairwise(edges)]
        if all(counts):
            found.append(unevenness(counts, sum(10 * edge in tenths for edge in inner)))
    return min(found, default=None)


def test_equal_count_is_the_evenest_of_every_set_of_whole_edges():
    rng = np.random.default_rng(11)
    seen = 0
    for _ in range(120):
        count = int(rng.integers(2, 5))
        tenths = np.sort(rng.integers(0, 90, rng.integers(count, 13)))
        if rng.random() < 0.4:
            tenths = tenths // 10 * 10
        sizes = tenths / 10 * 1e-4 + 0.375
        low, high = int(tenths[0] // 10), int(tenths[-1] // 10 + 1)
        wanted = evenest(tenths.tolist(), low, high, count)
        if wanted is None:
            with pytest.raises(TrackerError, match="cannot be told apart"):
                classes(sizes, sizes, -1, 1, count, "count", step=1e-4)
            continue
        seen += 1
        found = classes(sizes, sizes, -1, 1, count, "count", step=1e-4)
        edges = np.rint((found.edges_internal - 0.375) / 1e-4).astype(int)
        assert found.edges_internal == pytest.approx(0.375 + edges * 1e-4, abs=1e-9)
        on_piece = sum(10 * int(edge) in tenths.tolist() for edge in edges[1:-1])
        assert unevenness(found.count_internal.tolist(), on_piece) == wanted
        assert ("as equal" in found.method) == (len(set(found.count_internal.tolist())) > 1)
    assert seen > 60


def test_equal_count_is_the_evenest_of_every_set_of_cuts_between_pieces():
    rng = np.random.default_rng(12)
    for _ in range(60):
        sizes = np.sort(rng.integers(0, 9, rng.integers(4, 12))).astype(float)
        places = [(a + b) / 2 for a, b in itertools.pairwise(np.unique(sizes))]
        count = min(int(rng.integers(2, 5)), len(places) + 1)
        wanted = min(
            unevenness([int(((sizes > a) & (sizes < b)).sum()) for a, b in itertools.pairwise([-1, *inner, 99])], 0)
            for inner in itertools.combinations(places, count - 1)
        )
        assert unevenness(classes(sizes, sizes, -1, 1, count, "count").count_external.tolist(), 0) == wanted


def test_above_the_most_places_equal_counts_stay_equal(monkeypatch):
    monkeypatch.setattr("tracker.fit.class_cuts.MOST_PLACES", 20)
    sizes = np.random.default_rng(13).normal(0, 1, 302)
    assert sorted(classes(sizes, sizes, -1, 1, 5, "count").count_internal.tolist()) == [60, 60, 60, 61, 61]
    tied = np.concatenate((np.full(500, 5.0), np.arange(10.0, 60.0)))
    counts = classes(tied, tied, -1, 1, 12, "count").count_internal
    assert counts.max() == 500
    assert counts.min() > 0


@pytest.mark.parametrize("count", [2, 3, 4, 5])
def test_widths_on_whole_steps_differ_by_one_step_at_most_and_are_equal_where_they_can(count):
    for span in range(count, 25):
        sizes = np.array([0.00004, span - 0.00004]) * 1e-4 + 0.375  # from just above one step to just under another
        found = classes(sizes, sizes, -1, 1, count, "width", step=1e-4)
        widths = np.rint(np.diff(found.edges_internal) / 1e-4).astype(int)
        assert widths.sum() == span
        assert np.ptp(widths) == (0 if span % count == 0 else 1)
        assert ("as equal" in found.method) == bool(span % count)


def test_a_piece_on_an_edge_belongs_to_the_class_above():
    result = classes([1.0, 2.0, 3.0], [0.0, 1.0, 2.0], 0, 2, 2, "width", step=1.0)
    assert result.edges_internal.tolist() == [1.0, 2.0, 4.0]
    assert result.class_internal.tolist() == [0, 1, 1]


def test_decimal_sizes_on_a_decimal_step_fall_where_a_person_puts_them():
    sizes = [0.6250, 0.6251, 0.6252, 0.6253]
    result = classes(sizes, [x - 0.0005 for x in sizes], 0.0, 0.001, 4, "count", step=0.0001)
    assert result.class_internal.tolist() == [0, 1, 2, 3]
    assert result.edges_internal == pytest.approx([0.6250, 0.6251, 0.6252, 0.6253, 0.6254])


def test_outer_edges_may_be_the_limits_of_size():
    result = classes([1.0, 9.0], [0.0, 8.0], 0, 2, 4, "width", range_internal=(0.0, 20.0), range_external=(-30.0, 10.0))
    assert result.edges_internal.tolist() == [0, 5, 10, 15, 20]
    assert result.edges_external.tolist() == [-30, -20, -10, 0, 10]


def test_best_may_leave_out_pieces_that_fit_nothing():
    result = classes([0.0, 10.0, 11.0], [9.5, 10.5], 0, 1, 2)
    assert result.class_internal.tolist() == [-1, 0, 1]
    assert result.expected_good == 2.0


def test_order_and_unit_do_not_matter():
    rng = np.random.default_rng(6)
    internal, external = rng.normal(1, 0.01, 20).round(4), rng.normal(1, 0.01, 22).round(4)
    first = classes(internal, external, -0.005, 0.005, 3)
    again = classes(internal[::-1], rng.permutation(external), -0.005, 0.005, 3)
    metric = classes(internal * 25.4, external * 25.4, -0.005 * 25.4, 0.005 * 25.4, 3)
    assert again.expected_good == first.expected_good
    assert again.edges_internal.tolist() == first.edges_internal.tolist()
    assert metric.expected_good == pytest.approx(first.expected_good)


def test_large_batches():
    rng = np.random.default_rng(7)
    result = classes(rng.normal(25.01, 0.004, 20_000), rng.normal(25, 0.005, 20_000), 0.006, 0.014, 4)
    assert result.expected_good >= max(result.compared["width"], result.compared["count"])
    assert "64 places" in result.method


def test_answer_reads_and_carries_sample_size_and_method():
    text = str(classes([1.0, 2.0, 3.0], [0.0, 1.0, 2.0], 0.5, 1.5, 3))
    for part in ("3.0 of 3 assemblies", "From 3 internal and 3 external pieces", "best cuts"):
        assert part in text


def test_answer_says_how_many_pieces_are_in_no_tray():
    assert "0 pieces left over in the trays, 1 internal and 1 external in no tray." in str(
        classes([1.0, 2, 3], [0.5, 1.5, 2.5], 0, 1, 2)
    )
    assert "in no tray" not in str(classes([1.0, 2, 3], [0.5, 1.5, 2.5], 0, 1, 3))


@pytest.mark.parametrize(
    ("arguments", "options", "error", "words"),
    [
        (([1.0, 2.0], [1.0, 2.0], 0, 1, 0), {}, TrackerError, "at least one class"),
        (([1.0, 2.0], [1.0, 2.0], 0, 1, 2, "guess"), {}, TrackerError, "width, count, best"),
        (([1.0, 1.0], [1.0, 2.0], 0, 1, 2), {}, TrackerError, "at most 1"),
        (([1.0, 2.0], [1.0, 2.0], 0, 1, 4, "width"), {"step": 1.0}, TrackerError, "cannot be told apart"),
        (([1.0, 2.0], [1.0, 2.0], 0, 1, 2), {"step": 0.0}, TrackerError, "above zero"),
        (([], [1.0, 2.0], 0, 1, 2), {}, NotEnoughData, "internal: 0 pieces"),
    ],
)
def test_refusals_say_what_is_wanted(arguments, options, error, words):
    with pytest.raises(error, match=words):
        classes(*arguments, **options)


def test_expected_matches_against_simulation():
    rng = np.random.default_rng(8)
    p, q = [0.2, 0.5, 0.3], [0.4, 0.4, 0.2]
    first, second = rng.multinomial(12, p, 200_000), rng.multinomial(9, q, 200_000)
    happened = np.minimum(first, second).sum(axis=1)
    assert expected_matches(p, q, 12, 9) == pytest.approx(happened.mean(), abs=5 * happened.std() / np.sqrt(200_000))


def test_expected_matches_grow_towards_the_matched_fraction():
    p, q = class_shares([-3, -1, 1, 3], 0, 1), class_shares([-3, -1, 1, 3], 0.5, 1)
    shares = [expected_matches(p, q, n, n) / n for n in (5, 50, 5000)]
    assert shares == sorted(shares)
    assert shares[-1] == pytest.approx(matched_fraction(p, q), abs=0.01)


def test_class_shares_need_a_spread():
    with pytest.raises(TrackerError, match="above zero"):
        class_shares([0, 1], 0.5, 0.0)


def test_expected_good_counts_the_gauge_in():
    """Against true sizes drawn given the readings, and pieces taken at random within a tray."""
    rng = np.random.default_rng(5)
    internal, external = rng.normal(0.0, 1.0, 9), rng.normal(0.0, 1.0, 8)
    noise = rng.uniform(0.2, 0.6, 9), rng.uniform(0.2, 0.6, 8)
    low, high, common = -0.8, 0.7, 0.3
    found = classes(internal, external, low, high, 3, uncertainty=noise, common_uncertainty=common)
    blind = classes(internal, external, low, high, 3)
    assert found.expected_good < blind.expected_good
    assert "the gauge's uncertainty in it" in found.method
    true_in, sd_in = given_readings(internal, noise[0])
    true_out, sd_out = given_readings(external, noise[1])
    good = 0
    draws = 20_000
    for _ in range(draws):
        shared = common * rng.standard_normal()
        x = true_in + sd_in * rng.standard_normal(9)
        y = true_out + sd_out * rng.standard_normal(8)
        for tray in range(3):
            rows = rng.permutation(np.flatnonzero(found.class_internal == tray))
            columns = rng.permutation(np.flatnonzero(found.class_external == tray))
            pairs = min(len(rows), len(columns))
            gap = x[rows[:pairs]] - y[columns[:pairs]] + shared
            good += int(np.sum((gap >= low) & (gap <= high)))
    assert found.expected_good == pytest.approx(good / draws, abs=0.05)
    assert max(found.compared.values()) == pytest.approx(found.expected_good)


def test_above_the_most_pairs_the_gauge_is_left_out_and_said(monkeypatch):
    monkeypatch.setattr("tracker.fit.selection.MOST_PAIRS", 10)
    found = classes([1.0, 2.0, 3.0, 4.0], [0.0, 1.0, 2.0, 3.0], 0.5, 1.5, 2, uncertainty=0.1)
    assert "left out above 10 pairs" in found.method
