"""Selective assembly and matching: the bank's cases of topic 10, each with its source in the bank."""

import itertools
from fractions import Fraction

import pytest

from tracker.fit import class_shares, classes, expected_matches, matched_fraction, pair
from tracker.fit.class_cuts import equal_width


def test_expected_pairs_of_four_holes_and_four_shafts_in_two_groups(case):
    """Full enumeration with fractions."""
    given, expected = case("sel-n4k2")["inputs"], case("sel-n4k2")["expected"]
    found = expected_matches(given["p_hole"], given["p_shaft"], given["n"], given["n"])
    assert found == pytest.approx(float(Fraction(expected["expected_pairs"])), abs=1e-12)
    assert found == pytest.approx(expected["value"], abs=1e-12)


@pytest.mark.parametrize("name", ["sel-width-k3", "sel-width-k4"])
def test_matched_fraction_of_equal_width_groups(case, name):
    """Differences of the normal distribution function."""
    given, expected = case(name)["inputs"], case(name)["expected"]
    edges = equal_width(-3.0, 3.0, given["k"])
    assert edges == pytest.approx(given["edges_sigma"], abs=1e-12)
    holes = class_shares(edges, *given["hole"])
    assert holes == pytest.approx(expected["group_probabilities"], abs=1e-8)
    for key, shaft in given["shaft_cases"].items():
        found = matched_fraction(holes, class_shares(edges, *shaft))
        assert found == pytest.approx(expected["matched_fraction"][key], abs=1e-8), key


def test_classes_narrow_the_clearance_range_by_their_number(case):
    """Textbook identity, recalled from memory and recomputed: (Th + Ts) / k in every group."""
    given, expected = case("sel-tolerance-narrowing")["inputs"], case("sel-tolerance-narrowing")["expected"]
    found = classes(
        given["hole_um"],
        given["shaft_um"],
        None,
        None,
        given["k"],
        "width",
        range_internal=tuple(given["hole_um"]),
        range_external=tuple(given["shaft_um"]),
    )
    for edges, groups in (
        (found.edges_internal, expected["group_hole"]),
        (found.edges_external, expected["group_shaft"]),
    ):
        assert list(itertools.pairwise(edges)) == [pytest.approx(group, abs=1e-9) for group in groups]
    gaps = list(zip(found.gap_lowest, found.gap_highest, strict=True))
    assert gaps == [pytest.approx(pair_, abs=1e-9) for pair_ in expected["clearance_min_max_each_group"]]
    whole = classes(
        given["hole_um"],
        given["shaft_um"],
        None,
        None,
        1,
        "width",
        range_internal=tuple(given["hole_um"]),
        range_external=tuple(given["shaft_um"]),
    )
    assert [whole.gap_lowest[0], whole.gap_highest[0]] == pytest.approx(expected["without_groups"], abs=1e-9)


def test_sorted_pairing_fits_all_five(case):
    """Brute force over all 120 pairings."""
    given, expected = case("match-sorted")["inputs"], case("match-sorted")["expected"]
    low, high = given["window_mm"]
    found = pair(given["holes"], given["shafts"], low, high)
    assert found.good == expected["max_pairs"]
    assert found.gap == pytest.approx(expected["sorted_clearances"], abs=1e-9)
    listed = [a - b for a, b in zip(given["holes"], given["shafts"], strict=True)]
    assert sum(low <= gap <= high for gap in listed) == expected["pairs_in_listed_order_ok"]
