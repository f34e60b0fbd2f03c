"""Refused rows are written out, corrected and fed again."""

import csv

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.errors import ReadingsError
from tracker.readings import read_readings, write_refused
from tracker.readings.refused import harmless

TEXT = "feature;piece;value;note\nbore;1;0.6252;\nbore;2;O.6253;'quoted'\nbore;3;=A1;x\nbore;;0.6254;\n"


def test_refused_rows_are_corrected_and_fed_again(write, job, tmp_path):
    found = read_readings(write("x.csv", TEXT), job)
    (target,) = write_refused(found, tmp_path)
    assert target.name == "_refused x.csv"
    with target.open(newline="", encoding="utf-8") as file:
        rows = list(csv.reader(file))
    assert rows[0] == ["feature", "piece", "value", "note", "refused row", "refused because"]
    assert [row[4] for row in rows[1:]] == ["x.csv, row 3", "x.csv, row 4", "x.csv, row 5"]
    assert rows[2][2] == "'=A1"
    assert "is not a length" in rows[1][5]
    again = read_readings(target, job)
    assert len(again.refused) == 3
    corrected = target.read_text(encoding="utf-8").replace("O.6253", "0.6253").replace("'=A1", "0.6255")
    target.write_text(corrected.replace("bore,,", "bore,4,"), encoding="utf-8")
    again = read_readings(target, job)
    assert again.refused.empty
    assert again.readings[["piece", "value"]].to_numpy().tolist() == [["2", 0.6253], ["3", 0.6255], ["4", 0.6254]]
    assert read_readings(tmp_path, job).files == ("x.csv",)


def test_a_wide_row_is_written_whole_and_the_file_still_names_the_feature(write, job, tmp_path):
    found = read_readings(write("bore.csv", "piece,r1,r2\n1,0.6252,0.62x\n"), job)
    (target,) = write_refused(found, tmp_path)
    target.write_text(target.read_text(encoding="utf-8").replace("0.62x", "0.6253"), encoding="utf-8")
    again = read_readings(target, job).readings
    assert again["feature"].tolist() == ["bore", "bore"]
    assert again["value"].tolist() == [0.6252, 0.6253]


def test_corrections_already_made_are_never_overwritten(write, job, tmp_path):
    found = read_readings(write("x.csv", TEXT), job)
    names = [write_refused(found, tmp_path)[0].name for _ in range(3)]
    assert names == ["_refused x.csv", "_refused x 2.csv", "_refused x 3.csv"]


def test_nothing_refused_writes_nothing(write, job, tmp_path):
    assert write_refused(read_readings(write("bore.csv", "piece,value\n1,0.6252\n"), job), tmp_path) == []


def test_a_folder_that_cannot_be_written_is_said(write, job, tmp_path):
    found = read_readings(write("x.csv", TEXT), job)
    with pytest.raises(ReadingsError, match="cannot be written"):
        write_refused(found, tmp_path / "nowhere")


@given(st.text(max_size=20))
def test_no_cell_is_left_that_a_spreadsheet_would_run(text):
    safe = harmless(text)
    assert safe[:1] not in ("=", "@", "\t", "\r")
    assert safe in (text, f"'{text}")
    if safe[:1] in ("+", "-"):
        assert safe.lstrip("+-").strip()[:1] in "0123456789.,"
