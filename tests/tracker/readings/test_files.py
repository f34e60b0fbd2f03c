"""Files and folders to a readings frame: every form is understood, every bad row answered for, no good row lost."""

import datetime
import math

import pandas as pd
import pytest
from openpyxl import Workbook

from tracker.errors import ReadingsError
from tracker.job import parse_job
from tracker.readings import COLUMNS, read_readings, refusal_words
from tracker.readings.rows import read_time

TIDY = "feature,piece,position,repeat,value\nbore,1,top,1,0.62520\nbore,1,top,2,0.62525\nbore,2,top,1,0.62535\n"


def rows(found, *names):
    return list(found.readings[list(names)].itertuples(index=False, name=None))


def test_a_tidy_file_gives_the_contract(write, job):
    found = read_readings(write("x.csv", TIDY), job)
    assert list(found.readings.columns) == list(COLUMNS)
    first = found.readings.iloc[0].to_dict()
    assert math.isnan(first.pop("temperature"))
    assert pd.isna(first.pop("time"))
    assert first == {
        "batch": "",
        "feature": "bore",
        "piece": "1",
        "position": "top",
        "repeat": 1,
        "kind": "absolute",
        "value": 0.6252,
        "low": 0.6252,
        "high": 0.6252,
        "step": 0.00005,
        "typed": "0.62520",
        "unit": "in",
        "applied": "",
        "gauge": "bore gauge",
        "operator": "",
        "note": "",
        "suspect": "",
        "file": "x.csv",
        "row": 2,
    }
    dtypes = found.readings.dtypes.astype(str).to_dict()
    assert (dtypes["value"], dtypes["repeat"], dtypes["row"], dtypes["typed"]) == ("float64", "int64", "int64", "str")
    assert dtypes["time"].startswith("datetime64")
    assert found.suspects.columns.tolist() == [*COLUMNS, "question", "suggestion"]
    assert found.refused.columns.tolist() == ["file", "row", "column", "found", "accepted", "feature", "piece"]
    assert str(found) == "3 good readings, 0 suspect, 0 refused; from x.csv"


@pytest.mark.parametrize(
    ("name", "text", "expected"),
    [
        ("bore.csv", "piece,r1,r2\n1,0.6252,0.6253\n", [("bore", "1", "", 1, 0.6252), ("bore", "1", "", 2, 0.6253)]),
        ("bores.csv", "Piece,Reading 1\n7,0.6252\n", [("bore", "7", "", 1, 0.6252)]),
        ("bore.csv", "piece,1,2\n1,0.6252,0.6253\n", [("bore", "1", "", 1, 0.6252), ("bore", "1", "", 2, 0.6253)]),
        ("bore.csv", "piece,0,90\n1,0.6252,0.6253\n", [("bore", "1", "0", 1, 0.6252), ("bore", "1", "90", 1, 0.6253)]),
        (
            "bore.csv",
            "piece,top 1,top 2,bottom 1\n1,0.6252,0.6253,0.6254\n",
            [("bore", "1", "top", 1, 0.6252), ("bore", "1", "top", 2, 0.6253), ("bore", "1", "bottom", 1, 0.6254)],
        ),
        (
            "bore.csv",
            "piece,top,bottom\n1,0.6252,0.6253\n",
            [("bore", "1", "top", 1, 0.6252), ("bore", "1", "bottom", 1, 0.6253)],
        ),
        (
            "any.csv",
            "piece,bore,shank\n1,0.6252,0.6257\n",
            [("bore", "1", "", 1, 0.6252), ("shank", "1", "", 1, 0.6257)],
        ),
        (
            "any.csv",
            "Part No.,Bores (mm),shank_in\n1,15.88,0.6257\n",
            [("bore", "1", "", 1, 15.88 / 25.4), ("shank", "1", "", 1, 0.6257)],
        ),
        ("any.csv", "piece,bore top 1\n1,0.6252\n", [("bore", "1", "top", 1, 0.6252)]),
        ("any.csv", "piece,bore_top_1\n1,0.6252\n", [("bore", "1", "top", 1, 0.6252)]),
        (
            "any.csv",
            "piece,bore1,bore2\n1,0.6252,0.6253\n",
            [("bore", "1", "", 1, 0.6252), ("bore", "1", "", 2, 0.6253)],
        ),
        (
            "shank.csv",
            "shank,middle 1\n1,0.6257\n2,0.6258\n",
            [("shank", "1", "middle", 1, 0.6257), ("shank", "2", "middle", 1, 0.6258)],
        ),
        ("any.csv", "bore,shank\n0.6252,0.6257\n", [("bore", "1", "", 1, 0.6252), ("shank", "1", "", 1, 0.6257)]),
        ("any.csv", "BORE\n0.6252\n0.6253\n", [("bore", "1", "", 1, 0.6252), ("bore", "2", "", 1, 0.6253)]),
        ("any.csv", "Feature;Part;Measured Size\nBores;1;0.6252\n", [("bore", "1", "", 1, 0.6252)]),
        ("any.tsv", "feature\tpiece\tvalue\nbore\t1\t0.6252\n", [("bore", "1", "", 1, 0.6252)]),
        ("2026-09 bore readings.csv", "piece,value\n1,0.6252\n", [("bore", "1", "", 1, 0.6252)]),
        ("bore.csv", "# bench sheet 7\n\npiece,value\n1,0.6252\n", [("bore", "1", "", 1, 0.6252)]),
        ("bore.csv", "Leak-test nest\npiece,value\n1,0.6252\n", [("bore", "1", "", 1, 0.6252)]),
        ("x.csv", "#,bore\n#1,0.6252\n#2,0.6253\n", [("bore", "#1", "", 1, 0.6252), ("bore", "#2", "", 1, 0.6253)]),
        ("x.csv", "part,piece,value\nbore,1,0.6252\n", [("bore", "1", "", 1, 0.6252)]),
        ("x.csv", "what,sample,diameter\nBore,1,0.6252\n", [("bore", "1", "", 1, 0.6252)]),
        ("bore.csv", "piece,nominal,r1,mean\n1,0.625,0.6252,0.6252\n", [("bore", "1", "", 1, 0.6252)]),
        (
            "x.csv",
            "piece,feature,r1,r2\n1,bore,0.6252,0.6253\n",
            [("bore", "1", "", 1, 0.6252), ("bore", "1", "", 2, 0.6253)],
        ),
        ("bore.csv", "piece,value mm\n1,15.88\n", [("bore", "1", "", 1, 15.88 / 25.4)]),
        (
            "bore.csv",
            "piece,value,unit\n1,15.88,mm\n2,0.6252,in\n3,15.88 mm,\n",
            [("bore", "1", "", 1, 15.88 / 25.4), ("bore", "2", "", 1, 0.6252), ("bore", "3", "", 1, 15.88 / 25.4)],
        ),
    ],
)
def test_forms_of_files(write, job, name, text, expected):
    found = read_readings(write(name, text), job)
    assert found.refused.empty
    assert found.suspects.empty
    got = rows(found, "feature", "piece", "position", "repeat", "value")
    assert [row[:4] for row in got] == [row[:4] for row in expected]
    assert [row[4] for row in got] == pytest.approx([row[4] for row in expected], rel=1e-14)
    assert any(name in line for line in found.understood)


@pytest.mark.parametrize(
    ("encoding", "mark"),
    [
        ("utf-8", b""),
        ("utf-8", b"\xef\xbb\xbf"),
        ("utf-16", b""),
        ("utf-16-le", b""),
        ("utf-16-be", b""),
        ("cp1252", b""),
    ],
)
@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_encodings_and_separators(write, job, encoding, mark, separator):
    text = separator.join(["piece", "value", "note"]) + "\r\n" + separator.join(["1", "0.6252", "café 90°"]) + "\r\n"
    found = read_readings(write("bore.csv", mark + text.encode(encoding)), job)
    assert rows(found, "piece", "value", "note") == [("1", 0.6252, "café 90°")]
    assert ("Windows-1252" in " ".join(found.understood)) == (encoding == "cp1252")


def test_a_file_is_for_the_only_feature_with_its_word(write):
    job = parse_job(
        '[job]\nunit="in"\n[features.button_shank]\nkind="external"\nnominal=0.6256\n'
        '[features.plate_bore]\nkind="internal"\nnominal=0.625\n'
    )
    assert rows(read_readings(write("shanks.csv", "piece,r1\n1,0.6256\n"), job), "feature") == [("button_shank",)]
    refused = read_readings(write("lids.csv", "piece,r1\n1,0.6256\n"), job).refused
    assert refused["row"].tolist() == [0]
    assert "accepted are button_shank, plate_bore" in refused["accepted"].iloc[0]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2026-09-14", "2026-09-14"),
        ("2026-09-14T08:30:05Z", "2026-09-14 08:30:05"),
        ("2026/09/14 08:30", "2026-09-14 08:30"),
        ("14.09.2026 08:30", "2026-09-14 08:30"),
        ("9/14/2026 8:30 AM", "2026-09-14 08:30"),
        ("14-Sep-2026", "2026-09-14"),
        ("9/10/2026", None),
        ("14.13.2026", None),
        ("08:30", None),
    ],
)
def test_times_are_read_when_they_can_mean_one_thing_only(text, expected):
    assert read_time(text) == (None if expected is None else pd.Timestamp(expected))


def test_a_decimal_comma_is_read_when_the_job_says_so(write):
    text = "piece;value\n1;16,021\n"
    job = parse_job(
        '[job]\nname="x"\nunit="mm"\ndecimal_comma=true\n[features.pin]\nkind="external"\nnominal="16,0 mm"\n'
    )
    assert rows(read_readings(write("pin.csv", text), job), "value") == [(16.021,)]
    without = parse_job('[job]\nname="x"\nunit="mm"\n[features.pin]\nkind="external"\nnominal=16.0\n')
    refused = read_readings(write("pin.csv", text), without).refused
    assert "decimal_comma" in refused["accepted"].iloc[0]


BAD = """feature,piece,position,repeat,value,unit,time,temperature
bore,1,top,1,0.62520,in,2026-09-14 08:30,20.5
bore,2,top,1,abc,in,,
bore,3,top,1,,in,,
bore,4,top,1,0.6253,furlong,,
bore,,top,1,0.6253,in,,
bore,6,top,1,nan,in,,
bore,7,top,1,=A1+1,in,,
bore,8,top,1,0.6253,in,,,,surplus
bore,9,top,1
bore,10,top,1,-0.6253,in,,
plug,11,top,1,0.6253,in,,
,12,top,1,0.6253,in,,
bore,13,top,zero,0.6253,in,,
bore,14,top,1,0.6253,in,yesterday,
bore,15,top,1,0.6253,in,,hot
bore,16,top,1,15.88 mm,in,,
bore,17,top,1,inf,in,,
bore,18,top,1,"0,6253",in,,
bore,1,top,1,0.62535,in,,
bore,20,top,1,0.62530,in,,
"""


def test_bad_rows_are_each_answered_for_and_the_good_ones_kept(write, job):
    found = read_readings(write("x.csv", BAD), job)
    assert rows(found, "piece", "row") == [("1", 2), ("20", 21)]
    refused = {row["row"]: row for row in found.refused.to_dict("records")}
    assert sorted(refused) == list(range(3, 21))
    expected = {
        3: ("value", "abc", "a number such as"),
        4: ("value", "", "no value stands here"),
        5: ("unit", "furlong", "in, mm, um, thou and tenths"),
        6: ("piece", "", "piece number or label"),
        7: ("value", "nan", "is not a length"),
        8: ("value", "=A1+1", "paste values"),
        9: ("", None, "10 fields where the column names are 8"),
        10: ("", None, "4 fields where the column names are 8"),
        11: ("value", "-0.6253", "not above zero"),
        12: ("feature", "plug", "accepted are bore, shank"),
        13: ("feature", "", "no feature is named"),
        14: ("repeat", "zero", "whole number from 1"),
        15: ("time", "yesterday", "2026-09-14 08:30"),
        16: ("temperature", "hot", "degrees Celsius"),
        17: ("value", "15.88 mm", "accepted is one of them"),
        18: ("value", "inf", "is not a length"),
        19: ("value", "0,6253", "decimal_comma"),
        20: ("value", "0.62535", "is '0.62520' in x.csv, row 2"),
    }
    for number, (column, text, words) in expected.items():
        assert refused[number]["column"] == column, number
        assert text is None or refused[number]["found"] == text, number
        assert words in refused[number]["accepted"], number
    words = refusal_words(refused[3])
    assert words.startswith("x.csv, row 3, column value: ")
    assert "'abc'" in words


def test_quoted_newlines_are_one_row(write, job):
    text = 'piece,value,note\n1,0.6252,"first\nsecond"\n2,0.62x,\n'
    found = read_readings(write("bore.csv", text), job)
    assert rows(found, "note") == [("first\nsecond",)]
    assert found.refused["row"].tolist() == [3]


def test_empty_cells_of_a_wide_file_are_passed_over_and_counted(write, job):
    found = read_readings(write("bore.csv", "piece,r1,r2\n1,0.6252,\n2,,\n"), job)
    assert rows(found, "piece", "repeat") == [("1", 1)]
    assert found.refused["row"].tolist() == [3]
    assert any("3 empty cells" in line for line in found.understood)


def test_comparator_files_in_micrometres(write):
    job = parse_job('[job]\nunit="mm"\n[features.pin]\nkind="external"\nnominal=16.0\nmaster=16.0\n')
    expected = [("1", "comparator", 16.021), ("2", "comparator", 15.9985)]
    for name, text in [
        ("pin.csv", "piece,deviation,unit\n1,+21.0,um\n2,-1.5,um\n"),
        ("pin.csv", "piece,deviation um\n1,+21.0\n2,-1.5\n"),
        ("pin.csv", "piece,deviation (µm)\n1,21.0\n2,-1.5\n"),
        ("pin.csv", "piece,kind,value,unit\n1,comparator,21.0,um\n2,comparator,-1.5,um\n"),
        ("pin.csv", "piece,value\n1,+21.0 um\n2,-1.5 um\n"),
        ("pin.csv", "piece,value,unit\n1,+0.021,mm\n2,-0.0015,mm\n"),
        ("pin.csv", "piece,r1 um\n1,21.0\n2,-1.5\n"),
    ]:
        found = read_readings(write(name, text), job)
        assert rows(found, "piece", "kind", "value") == expected, text
        assert found.readings["applied"].iloc[0] == "master 16 mm +0.021"
        assert any("2 readings of pin read as deviations from 16 mm" in line for line in found.understood)


def test_a_master_column_wins_over_the_job(write):
    job = parse_job('[job]\nunit="mm"\n[features.pin]\nkind="external"\nnominal=16.0\nmaster=16.0\n')
    found = read_readings(write("pin.csv", "piece,deviation,unit,master\n1,+21,um,16.01\n2,+21,um,\n"), job)
    assert rows(found, "value") == [(16.031,), (16.021,)]


def test_without_a_master_the_nominal_stands_in_and_this_is_said(write, job):
    found = read_readings(write("bore.csv", "piece,value\n1,+3 tenths\n"), job)
    assert rows(found, "kind", "value") == [("comparator", 0.6253)]
    assert any("no master is named for bore" in line and "set master" in line for line in found.understood)


def test_goes_and_does_not_go_in_one_or_two_columns(write, job):
    expected = [("go_no_go", 0.6250, 0.6252), ("go_no_go", 0.6251, math.inf)]
    for text in (
        "piece,value\n1,goes .6250 / not .6252\n2,goes .6251\n",
        "piece,goes,not\n1,.6250,.6252\n2,.6251,\n",
        "piece,go,no-go\n1,.6250,.6252\n2,.6251,\n",
    ):
        found = read_readings(write("bore.csv", text), job)
        assert rows(found, "kind", "low", "high") == expected
        assert found.readings["value"].isna().all()
        assert found.readings["step"].isna().all()


def test_pieces_come_in_order_of_number_or_of_appearance(write, job):
    numbered = read_readings(write("bore.csv", "piece,value\n10,0.6252\n9,0.6253\n1,0.6254\n"), job)
    assert numbered.readings["piece"].tolist() == ["1", "9", "10"]
    named = read_readings(write("bore.csv", "piece,value\nA10,0.6252\n9,0.6253\nA1,0.6254\n"), job)
    assert named.readings["piece"].tolist() == ["A10", "9", "A1"]


def test_repeats_without_a_number_are_counted(write, job):
    found = read_readings(write("bore.csv", "piece,value\n1,0.6252\n2,0.6253\n1,0.6252\n1,0.6254\n"), job)
    assert rows(found, "piece", "repeat", "value") == [
        ("1", 1, 0.6252),
        ("1", 2, 0.6252),
        ("1", 3, 0.6254),
        ("2", 1, 0.6253),
    ]


def test_the_same_file_twice_keeps_each_reading_once(write, job, tmp_path):
    for name, text in (("x", TIDY), ("bore", "piece,value\n1,0.6252\n1,0.6252\n2,0.6253\n")):
        for path in tmp_path.iterdir():
            path.unlink()
        once = read_readings(write(f"{name}.csv", text), job)
        write(f"{name} copy.csv", text.replace(",", ";"))
        both = read_readings(tmp_path, job)
        assert both.duplicates == len(once.readings)
        assert both.readings["value"].tolist() == once.readings["value"].tolist()
        assert both.refused.empty


def test_a_row_with_the_same_time_is_the_same_reading(write, job):
    text = (
        "piece,value,time\n1,0.6252,2026-09-14T08:30:01\n1,0.6252,2026-09-14T08:30:01\n1,0.6252,2026-09-14T08:30:09\n"
    )
    found = read_readings(write("bore.csv", text), job)
    assert (len(found.readings), found.duplicates) == (2, 1)


def test_a_folder_is_read_whole_and_what_is_not_readings_is_passed_over(write, job, tmp_path):
    write("bore.csv", "piece,value\n1,0.6252\n")
    write("shank.csv", "piece,value\n1,0.6257\n")
    write("_old.csv", "rubbish")
    write("events.csv", "feature,after_piece,event\nbore,1,tool_change\n")
    write("job.toml", "")
    write("notes.txt", "rubbish")
    found = read_readings(tmp_path, job)
    assert found.files == ("bore.csv", "shank.csv")
    assert sorted(found.readings["feature"]) == ["bore", "shank"]


def test_a_file_that_cannot_be_read_leaves_the_others_good(write, job, tmp_path):
    write("bore.csv", "piece,value\n1,0.6252\n")
    write("empty.csv", "")
    write("odd.csv", "a,b\nc,d\n")
    write("damaged.xlsx", b"PK\x03\x04 not a workbook")
    found = read_readings(tmp_path, job)
    assert len(found.readings) == 1
    assert dict(zip(found.refused["file"], found.refused["row"])) == {"damaged.xlsx": 0, "empty.csv": 0, "odd.csv": 0}


def test_what_is_missing_altogether_is_said(tmp_path, write, job):
    with pytest.raises(ReadingsError, match=r"nothing at.*accepted is a folder"):
        read_readings(tmp_path / "nowhere", job)
    with pytest.raises(ReadingsError, match=r"no readings files in.*\.csv"):
        read_readings(tmp_path, job)
    with pytest.raises(ReadingsError, match="is empty"):
        read_readings(write("bore.csv", ""), job)
    with pytest.raises(ReadingsError, match=r"accepted are \.csv"):
        read_readings(write("bore.doc", "x"), job)


def test_without_a_job_every_feature_is_taken(write):
    found = read_readings(write("x.csv", "feature,piece,value\nbore,1,0.6252\nplug,1,0.6257\n"))
    assert rows(found, "feature", "value") == [("bore", 0.6252), ("plug", 0.6257)]
    assert read_readings(write("plugs.csv", "piece,r1\n1,15.88\n"), unit="mm").readings["unit"].tolist() == ["mm"]


def workbook(path, **sheets):
    book = Workbook()
    book.remove(book.active)
    for title, content in sheets.items():
        sheet = book.create_sheet(title)
        for row in content:
            sheet.append(row)
    book.save(path)
    return path


def test_a_workbook_is_read_like_a_csv(tmp_path, job):
    path = workbook(tmp_path / "bore.xlsx", readings=[["piece", "r1", "r2"], [1, 0.6252, 0.62535], [2, 0.625, None]])
    found = read_readings(path, job)
    assert rows(found, "piece", "repeat", "value", "typed") == [
        ("1", 1, 0.6252, "0.6252"),
        ("1", 2, 0.62535, "0.62535"),
        ("2", 1, 0.625, "0.625"),
    ]
    assert found.readings["file"].unique().tolist() == ["bore.xlsx"]


def test_sheets_name_features_and_a_formula_is_refused_alone(tmp_path, job):
    path = workbook(
        tmp_path / "all.xlsx",
        bores=[["piece", "value"], [1, 0.6252], [2, "=B2"]],
        shank=[["piece", "value", "time"], [1, 0.6257, datetime.datetime(2026, 9, 14, 8, 30)]],
        _scratch=[["rubbish"]],
    )
    found = read_readings(path, job)
    assert rows(found, "feature", "file") == [("bore", "all.xlsx, sheet bores"), ("shank", "all.xlsx, sheet shank")]
    assert found.readings["time"].iloc[1] == pd.Timestamp("2026-09-14 08:30")
    assert refusal_words(found.refused.iloc[0].to_dict()).startswith("all.xlsx, sheet bores, row 3, column value")


def test_parquet_is_read_like_a_csv(tmp_path, job):
    path = tmp_path / "bore.parquet"
    pd.DataFrame({"piece": [1, 2], "value": [0.6252, 0.6253], "note": ["", None]}).to_parquet(path)
    assert rows(read_readings(path, job), "piece", "value", "note") == [("1", 0.6252, ""), ("2", 0.6253, "")]


def test_what_was_understood_is_plain_data(write, job):
    found = read_readings(write("x.csv", BAD), job)
    plain = found.to_dict()
    assert (plain["good"], plain["refused"], plain["suspect"]) == (2, 18, 0)
    assert plain["refusals"][0]["row"] == 3


def test_a_quote_never_closed_swallows_no_reading_in_silence(write, job):
    rows_of = "feature,piece,value,note", "bore,1,0.6252,", 'bore,2,0.6253,"burr', "bore,3,0.6254,", "bore,4,0.6251,"
    found = read_readings(write("r.csv", "\n".join(rows_of) + "\n"), job)
    assert found.readings["piece"].tolist() == ["1"]
    words = " ".join(str(cell) for cell in found.refused.iloc[0])
    assert "row 3: a quote is opened here and never closed, so the 3 lines" in words
