"""Header words: what each column is taken for."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tracker.readings.columns import NoHeader, feature_in_name, known_field, matching_feature, place_words, split_unit
from tracker.readings.layout import Known, understand

KNOWN = Known(features=["bore", "shank"], positions={}, stem="bore", sheet="", has_job=True)


@pytest.mark.parametrize(
    ("header", "expected"),
    [
        ("shank (mm)", ("shank", "mm")),
        ("value in", ("value", "in")),
        ("bore_um", ("bore", "um")),
        ("size [µm]", ("size", "um")),
        ("deviation, tenths", ("deviation", "tenth")),
        ("lead end", ("lead end", None)),
        ("mm", ("mm", None)),
        ("", ("", None)),
    ],
)
def test_a_unit_behind_a_header(header, expected):
    assert split_unit(header) == expected


@pytest.mark.parametrize(
    ("header", "expected"),
    [
        ("r1", ("", 1)),
        ("Reading 2", ("", 2)),
        ("reading #3", ("", 3)),
        ("top 1", ("top", 1)),
        ("top_2", ("top", 2)),
        ("top r2", ("top", 2)),
        ("collar 1", ("collar", 1)),
        ("lead end", ("lead end", None)),
        ("position 3", ("3", None)),
        ("12", ("", 12)),
        ("90°", ("90°", None)),
    ],
)
def test_places_and_repeats(header, expected):
    assert place_words(header) == expected


@pytest.mark.parametrize(
    ("word", "field"),
    [
        ("Piece No.", "piece"),
        ("PART_NUMBER", "piece"),
        ("Measured  Size", "value"),
        ("Gage", "gauge"),
        ("date/time", None),
        ("Operator", "operator"),
        ("no-go", "not"),
        ("Temp.", "temperature"),
        ("whatever", None),
    ],
)
def test_fields_by_their_words(word, field):
    assert known_field(word) == field


def test_features_by_their_words():
    assert matching_feature("Rest_Button", ["rest button", "rest buttons plate"]) == "rest button"
    assert matching_feature("Bores", ["bore"]) == "bore"
    assert matching_feature("bushes", ["bush"]) == "bush"
    assert matching_feature("plug", ["bore"]) is None
    assert feature_in_name("2026-09 bore readings", ["bore", "shank"]) == "bore"
    assert feature_in_name("bore and shank", ["bore", "shank"]) is None
    assert feature_in_name("shank head", ["shank", "shank head"]) == "shank head"
    assert feature_in_name("readings", ["bore", "shank"]) is None


@settings(max_examples=150, deadline=None)
@given(
    st.lists(
        st.one_of(
            st.text(max_size=12), st.sampled_from(["piece", "value", "bore", "r1", "top 1", "unit", "feature", "#"])
        ),
        max_size=8,
    ),
    st.lists(st.lists(st.sampled_from(["1", "0.6252", "", "bore", "x"]), max_size=9), max_size=4),
)
def test_any_line_is_understood_or_is_no_header(header, sample):
    try:
        layout = understand(header, KNOWN, sample)
    except NoHeader as error:
        assert "accepted" in str(error)
    else:
        assert layout.values
        taken = [column.index for column in layout.values]
        assert len(set(taken)) == len(taken)
        assert all(0 <= index < len(header) for index in [*taken, *layout.fields.values()])
        assert "piece" not in layout.fields or layout.fields["piece"] not in taken
