"""Repeats are numbered and doubles found as a plain ledger would do it."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from tracker.readings.files import making_order
from tracker.readings.parts import part_frame
from tracker.readings.settling import HashTable, Settler


def part(items):
    count = len(items)
    text = [""] * count
    return part_frame(
        {
            "batch": text,
            "feature": ["bore"] * count,
            "piece": [piece for piece, _, _ in items],
            "position": text,
            "repeat": np.array([repeat for _, repeat, _ in items], dtype=np.int64),
            "kind": ["absolute"] * count,
            **{key: [value for _, _, value in items] for key in ("value", "low", "high")},
            "step": [np.nan] * count,
            **dict.fromkeys(
                ("typed", "unit", "applied", "gauge", "operator", "note", "suspect", "file", "column"), text
            ),
            "time": [None] * count,
            "temperature": [np.nan] * count,
            "row": np.arange(count, dtype=np.int64),
            "confirmed": [False] * count,
        }
    )


def ledger(items):
    """Keep what a person with a list would keep: (row, repeat), the conflicts, the doubles."""
    seen, kept, conflicts, doubles = {}, [], [], 0
    for row, (piece, repeat, value) in enumerate(items):
        if (piece, repeat) in seen:
            if seen[piece, repeat] == value:
                doubles += 1
            else:
                conflicts.append(row)
            continue
        seen[piece, repeat] = value
        kept.append((row, repeat))
    return kept, conflicts, doubles


stated = st.lists(st.tuples(st.sampled_from("AB"), st.integers(1, 3), st.sampled_from([0.5, 0.75])), max_size=25)


@settings(max_examples=60, deadline=None)
@given(stated, st.integers(0, 25))
def test_stated_repeats_are_kept_as_by_a_ledger_whole_or_in_parts(items, cut):
    kept, conflicts, doubles = ledger(items)
    for pieces in ([items], [items[:cut], items[cut:]]):
        settler, got, refused, twice = Settler(), [], 0, 0
        offset = 0
        for some in pieces:
            settled, faults, count = settler.settle(part(some))
            got += [(row + offset, repeat) for row, repeat in zip(settled["row"].tolist(), settled["repeat"].tolist())]
            refused += len(faults)
            twice += count
            offset += len(some)
        assert (got, refused, twice) == (kept, len(conflicts), doubles)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.sampled_from("ABC"), max_size=30))
def test_repeats_without_a_number_count_up_by_piece(pieces):
    settled, refused, twice = Settler().settle(part([(piece, 0, 0.5) for piece in pieces]))
    expected = [pieces[: i + 1].count(piece) for i, piece in enumerate(pieces)]
    assert (settled["repeat"].tolist(), refused, twice) == (expected, [], 0)


def test_a_free_repeat_comes_after_the_stated_ones():
    settled, _, _ = Settler().settle(part([("A", 2, 0.5), ("A", 0, 0.5), ("A", 0, 0.75)]))
    assert settled["repeat"].tolist() == [2, 3, 4]


@settings(max_examples=50, deadline=None)
@given(st.lists(st.lists(st.tuples(st.integers(0, 40), st.integers(0, 9)), max_size=10), max_size=12))
def test_the_hash_table_is_a_dictionary(rounds):
    table, plain = HashTable(), {}
    for some in rounds:
        unique = dict(some)
        table.add(np.array(list(unique), dtype=np.uint64), np.array(list(unique.values()), dtype=np.int64))
        plain.update(unique)
    keys = np.arange(45, dtype=np.uint64)
    assert table.find(keys).tolist() == [plain.get(int(key), -1) for key in keys]


@settings(max_examples=40, deadline=None)
@given(st.lists(st.one_of(st.integers(0, 200).map(str), st.sampled_from(["A", "B"])), min_size=1, max_size=20))
def test_the_order_of_making(pieces):
    frame = part([(piece, 0, 0.5) for piece in pieces])
    got = [pieces[i] for i in making_order(frame)]
    numbered = all(piece.isdigit() for piece in pieces)
    assert got == sorted(pieces, key=int if numbered else pieces.index)


def test_two_operators_number_their_own_repeats(tmp_path):
    path = tmp_path / "bore.csv"
    path.write_text(
        "piece,repeat,operator,value\n1,1,operator A,.6250\n1,1,operator B,.6252\n1,2,operator A,.6250\n",
        encoding="utf-8",
    )
    from tracker.readings import read_readings

    found = read_readings(path)
    assert (len(found.readings), len(found.refused), found.duplicates) == (3, 0, 0)
