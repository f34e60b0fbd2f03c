"""Faults on files: truncated, wrongly encoded, bombs, formulas, NUL bytes, millions of rows: words, never a crash."""

import os
import subprocess
import sys
import textwrap
import zipfile

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook

from tracker.errors import ReadingsError
from tracker.job import parse_job
from tracker.readings import read_readings, refusal_words, tables

JOB = """
[job]
unit = "in"
[features.bore]
kind = "internal"
nominal = 0.625
[features.shank]
kind = "external"
nominal = 0.6256
"""
GOOD = "piece,value,note\n" + "".join(f"{piece},0.62{piece:03d},café\n" for piece in range(500, 540))


@pytest.fixture
def job():
    return parse_job(JOB)


def workbook(path, rows=((1, 0.6252), (2, 0.6253))):
    book = Workbook()
    book.active.append(["piece", "value"])
    for row in rows:
        book.active.append(list(row))
    book.save(path)
    return path


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
def test_a_file_cut_anywhere_gives_whole_rows_only_or_a_reason(tmp_path, job, encoding):
    whole = GOOD.encode(encoding)
    expected = read_readings(_write(tmp_path, whole), job).readings["value"].tolist()
    assert len(expected) == 40
    for cut in range(1, len(whole), 37):
        path = _write(tmp_path, whole[:cut])
        try:
            found = read_readings(path, job)
        except ReadingsError as error:
            assert "bore.csv" in str(error)
            continue
        got = [*found.readings["value"], *found.suspects["value"]]
        assert got[:-1] == expected[: max(len(got) - 1, 0)]
        if "note" in whole[:cut].decode(encoding, errors="ignore"):
            assert got == expected[: len(got)]  # the last row lacks a field and is refused, never half a value


def _write(folder, content):
    path = folder / "bore.csv"
    path.write_bytes(content)
    return path


def test_a_zip_bomb_is_refused_before_it_is_opened(tmp_path, job, monkeypatch):
    monkeypatch.setattr(tables, "LARGEST_UNPACKED", 30_000_000)
    path = tmp_path / "bore.xlsx"
    workbook(path)
    bomb = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(path) as good, zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as packed:
        for part in good.infolist():
            if part.filename.startswith("xl/worksheets/sheet"):
                packed.writestr(part.filename, b"<worksheet>" + b" " * 40_000_000)
            else:
                packed.writestr(part.filename, good.read(part))
    assert bomb.stat().st_size < 1_000_000
    with pytest.raises(ReadingsError, match=r"bomb\.xlsx would unpack to \d+ MB; accepted is up to"):
        read_readings(bomb, job)


def test_a_smaller_bomb_is_known_by_how_tightly_it_is_packed(tmp_path, job):
    bomb = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/worksheets/sheet1.xml", b" " * 50_000_000)
    with pytest.raises(ReadingsError, match=r"packed .* to 1, as no"):
        read_readings(bomb, job)


def test_entity_definitions_are_refused(tmp_path, job):
    path = workbook(tmp_path / "bore.xlsx")
    laughs = tmp_path / "laughs.xlsx"
    with zipfile.ZipFile(path) as good, zipfile.ZipFile(laughs, "w") as packed:
        for part in good.infolist():
            content = good.read(part)
            if part.filename == "xl/workbook.xml":
                content = b'<!DOCTYPE a [<!ENTITY b "ha">]>' + content
            packed.writestr(part, content)
    with pytest.raises(ReadingsError, match="XML definitions"):
        read_readings(laughs, job)


def test_a_sheet_that_claims_to_be_vast_is_read_as_it_is(tmp_path, job):
    path = workbook(tmp_path / "bore.xlsx")
    vast = tmp_path / "bores.xlsx"
    with zipfile.ZipFile(path) as good, zipfile.ZipFile(vast, "w") as packed:
        for part in good.infolist():
            content = good.read(part)
            if part.filename.startswith("xl/worksheets/sheet"):
                assert b'<dimension ref="A1:B3"' in content
                content = content.replace(b'<dimension ref="A1:B3"', b'<dimension ref="A1:XFD1048576"')
            packed.writestr(part, content)
    assert read_readings(vast, job).readings["value"].tolist() == [0.6252, 0.6253]


@pytest.mark.parametrize("cut", [10, 100, 1000, 3000])
def test_a_truncated_workbook_is_refused_in_words(tmp_path, job, cut):
    path = workbook(tmp_path / "bore.xlsx")
    path.write_bytes(path.read_bytes()[:cut])
    with pytest.raises(ReadingsError, match="save it anew"):
        read_readings(path, job)


def test_a_damaged_byte_in_a_sheet_is_refused_in_words(tmp_path, job):
    path = workbook(tmp_path / "bore.xlsx", [(piece, 0.6252 + piece * 1e-6) for piece in range(300)])
    with zipfile.ZipFile(path) as packed:
        info = packed.getinfo("xl/worksheets/sheet1.xml")
    content = bytearray(path.read_bytes())
    middle = info.header_offset + info.compress_size // 2
    content[middle : middle + 8] = b"\xff" * 8
    path.write_bytes(bytes(content))
    with pytest.raises(ReadingsError, match=r"bore\.xlsx"):
        read_readings(path, job)


def test_formulas_are_refused_alone(tmp_path, job):
    path = tmp_path / "bore.xlsx"
    workbook(path, [(1, 0.6252), (2, "=B2+0.0001"), ("=1+2", 0.6254), (4, '=HYPERLINK("http://x")'), (5, 0.6255)])
    assert load_workbook(path).active["B3"].data_type == "f"
    found = read_readings(path, job)
    assert found.readings["piece"].tolist() == ["1", "5"]
    assert found.refused["row"].tolist() == [3, 4, 5]
    assert found.refused["accepted"].str.contains("formula").all()


def test_nul_bytes_refuse_their_row_and_a_binary_file_is_no_text(tmp_path, job):
    found = read_readings(_write(tmp_path, b"piece,value\n1,0.6252\n2,0.62\x0053\n3,0.6254\n"), job)
    assert found.readings["piece"].tolist() == ["1", "3"]
    assert found.refused[["row", "column"]].to_numpy().tolist() == [[3, "value"]]
    assert "NUL" in found.refused["accepted"].iloc[0]
    with pytest.raises(ReadingsError, match="is not text"):
        read_readings(_write(tmp_path, bytes(range(256)) + bytes(5000)), job)


def test_mixed_units_are_read_when_each_says_so(tmp_path, job):
    text = 'piece,value\n1,0.6252\n2,15.880 mm\n3,0.6253"\n4,625.4 thou\n5,+2 tenths on 0.6250\n'
    found = read_readings(_write(tmp_path, text.encode()), job)
    assert found.readings["value"].tolist() == pytest.approx([0.6252, 15.88 / 25.4, 0.6253, 0.6254, 0.6252], rel=1e-14)
    assert found.readings["unit"].tolist() == ["in", "mm", "in", "thou", "tenth"]


def test_an_unclosed_quote_keeps_the_rows_before_it(tmp_path, job):
    text = 'piece,value,note\n1,0.6252,\n2,0.6253,"never closed\n' + "3,0.6254,\n" * 5
    found = read_readings(_write(tmp_path, text.encode()), job)
    assert found.readings["piece"].tolist()[0] == "1"
    assert len(found.readings) <= 2


def test_one_endless_line_is_refused_in_bounded_time(tmp_path, job):
    path = _write(tmp_path, b"piece,value\n1," + b"9" * 20_000_000)
    found = read_readings(path, job)
    assert found.readings.empty
    assert len(found.refused) >= 1


def test_a_file_that_may_not_be_read_is_said(tmp_path, job):
    path = _write(tmp_path, GOOD.encode())
    path.chmod(0)
    if os.access(path, os.R_OK):  # a superuser reads everything: a folder of that name cannot be read by anyone
        path.unlink()
        path.mkdir()
        (tmp_path / "shank.csv").write_text("piece,value\n1,0.6256\n", encoding="utf-8")
        assert read_readings(tmp_path, job).files == ("shank.csv",)
        return
    with pytest.raises(ReadingsError, match="cannot be read"):
        read_readings(path, job)


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused_as_csv(tmp_path, job, content):
    path = _write(tmp_path, content)
    try:
        found = read_readings(path, job)
    except ReadingsError as error:
        assert "bore.csv" in str(error)
    else:
        assert found.refused["accepted"].str.len().gt(0).all()


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=200), st.integers(0, 5000))
def test_any_damage_to_a_workbook_is_refused_or_read(tmp_path, job, content, at):
    path = workbook(tmp_path / "bore.xlsx")
    whole = bytearray(path.read_bytes())
    whole[at : at + len(content)] = content
    path.write_bytes(bytes(whole))
    try:
        read_readings(path, job)
    except ReadingsError as error:
        assert "bore.xlsx" in str(error)


READ_MANY = """
import resource, sys
from tracker.job import parse_job
from tracker.readings import iter_readings

job = parse_job('[job]\\nunit="in"\\n[features.bore]\\nkind="internal"\\nnominal=0.625\\n')
count = sum(len(part.readings) for part in iter_readings(sys.argv[1], job))
print(count, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024)
"""


def read_many(path, rows):
    """Write that many rows, read them in a process of their own, and return the count and the peak memory in MB."""
    with path.open("w", encoding="utf-8") as file:
        file.write("batch,feature,piece,repeat,value\n")
        for batch in range(rows // 1000):
            file.write(
                "".join(
                    f"b{batch},bore,{piece},{repeat},0.625{(piece * 7 + repeat + batch) % 40:02d}\n"
                    for piece in range(1, 501)
                    for repeat in (1, 2)
                )
            )
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(READ_MANY), str(path)], capture_output=True, text=True, check=True
    )
    count, memory = map(int, done.stdout.split())
    return count, memory


def test_memory_does_not_grow_with_the_file(tmp_path):
    small, few = read_many(tmp_path / "small.csv", 100_000)
    large, many = read_many(tmp_path / "large.csv", 500_000)
    assert (small, large) == (100_000, 500_000)
    # 400,000 more rows: 10 bytes each are kept to find a reading that comes twice; the rest is the working set.
    assert many - few < 50, (few, many)


@pytest.mark.slow
def test_millions_of_rows_in_bounded_memory(tmp_path):
    """Two million in every run; ten million with FULL=1, as `make faults` asks for."""
    rows = 10_000_000 if os.environ.get("FULL") else 2_000_000
    count, memory = read_many(tmp_path / "large.csv", rows)
    assert count == rows
    assert memory < 700 + rows * 30 / 1e6, memory  # the working set, and what finds a reading that comes twice


@pytest.mark.parametrize(
    ("name", "content"),
    [("bad.csv", b"piece,sizes\n1,2\n"), ("bin.xlsx", b"\xff\xfe\x00"), ("p.parquet", b"PAR"), ("empty.csv", b"")],
)
def test_a_file_that_is_refused_is_named_once(tmp_path, name, content):
    (tmp_path / name).write_bytes(content)
    (tmp_path / "bore.csv").write_text("piece,value\n1,.6252\n")
    found = read_readings(tmp_path, parse_job(JOB))
    (said,) = [refusal_words(row) for row in found.refused.to_dict("records")]
    assert said.startswith(f"{name}: ")
    assert said.count(name) == 1
