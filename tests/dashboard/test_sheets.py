"""Sheets: what each says, that it stands by itself, and that the PDF holds the same words on as few pages."""

from __future__ import annotations

import datetime
import re
import shutil
import subprocess

import numpy as np
import pytest
from click.testing import CliRunner

from dashboard.commands import sheet as command
from dashboard.parts.answers import Answers
from dashboard.sheets import portable
from dashboard.sheets.portable import pdf_of
from dashboard.sheets.shelf import SHEETS, make_sheet
from tracker.errors import TrackerError
from tracker.record import open_record

WHEN = datetime.datetime(2026, 11, 25, 14, 5)
SAMPLES = ["coupling_pins", "depth_stops", "guide_pins", "keyed_plugs", "lid_dowels", "rest_buttons"]


def words(markup: str) -> str:
    """Return what is read on a sheet, without its drawings and its style."""
    text = re.sub(r"<(style|svg)\b.*?</\1>", " ", markup, flags=re.DOTALL)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", text)).replace("&#39;", "'")


def read_pdf(content: bytes, tmp_path) -> tuple[str, int]:
    """Return the words of a PDF and how many pages it has."""
    pytest.importorskip("weasyprint")
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not on this system")
    path = tmp_path / "sheet.pdf"
    path.write_bytes(content)
    text = subprocess.run(["pdftotext", "-layout", str(path), "-"], capture_output=True, text=True, check=True).stdout
    return re.sub(r"\s+", " ", text), text.count("\f")


@pytest.fixture
def made(sample):
    """Return a function: sample folder, sheet and more -> Sheet, dated."""
    return lambda folder, name, unit="", **more: make_sheet(sample(folder, unit), name, by="bench 2", when=WHEN, **more)


@pytest.mark.parametrize("name", [name for name in SHEETS if name != "closures"])
@pytest.mark.parametrize("folder", SAMPLES)
def test_every_sheet_has_its_head_and_asks_for_nothing_from_outside(made, sample, folder, name):
    found = made(folder, name)
    page, answer = found.document(), sample(folder)
    text = words(page)
    for item in (
        answer.check.job,
        "2026-11-25 14:05",
        "bench 2",
        answer.check.readings.fingerprint,
        "tenthwise 0.1",
        "gauge and calibration",
        "2027-09-30",
    ):
        assert item in text
    assert not re.search(r"(src|href)\s*=|url\((?!data:|#)|@import|<script", page)
    assert "nan" not in re.findall(r"[A-Za-z]+", text.lower())
    assert "None" not in text


def rows_of(page: str) -> list[list[str]]:
    """Return the cells of every row of a sheet, without their markup."""
    rows = re.findall(r"<tr>(.*?)</tr>", page, flags=re.DOTALL)
    found = [re.findall(r"<td[^>]*>(.*?)</td>", row, flags=re.DOTALL) for row in rows]
    return [[re.sub(r"<[^>]+>", "", cell) for cell in row] for row in found]


def test_the_bench_sheet_holds_the_very_pairs_of_the_check(made, sample):
    fit = sample("lid_dowels").check.fits[0]
    cells = rows_of(made("lid_dowels", "bench").document())
    wide = 8
    pairs = [(row[0], row[2], row[1], row[3]) for row in cells if len(row) == wide]
    assert pairs == [
        (row.internal, row.external, f"{row.internal_size:.4f}", f"{row.external_size:.4f}") for row in fit.pairs
    ]


def test_a_batch_that_needs_work_is_pressed_by_the_plan(made, sample, tmp_path):
    """First the work with a box each, then the plan's own pairs, in HTML and PDF; not before they are measured."""
    fit = sample("rest_buttons").check.fits[0]
    assert fit.verdict.word == "remake"
    bores, shanks = (sample("rest_buttons").check.feature(name).sizes for name in ("bore", "shank"))
    sheet = made("rest_buttons", "bench")
    cells = rows_of(sheet.document())
    found = [row[:4] for row in cells if len(row) == 10]
    expected = [
        [
            bores.piece[pair.internal],
            f"{bores.size[pair.internal]:.5f}",
            "new" if pair.external is None else shanks.piece[pair.external],
            f"{pair.size:.5f}" if pair.external is None else f"{shanks.size[pair.external]:.5f}",
        ]
        for pair in fit.plan.pairs
    ]
    assert found == expected
    assert sum(row[2] == "new" for row in found) == fit.plan.remade == 2
    printed, _ = read_pdf(pdf_of(sheet), tmp_path)
    for text in (words(sheet.document()), printed):
        assert "Do not press yet." in text
        assert "Not before the new pieces are measured" in text
        assert "First: two pieces to make" in text
        assert fit.plan.work[0] in text
        assert "Twelve pairs as the plan lists them, two of them after work" in text
        assert "over the pairs as the plan lists them" in text.lower()
        assert "new shank" in text
        assert "Local codes" in text
        assert "shanks 1 and 2: too small for every bore" in text.replace("Shanks", "shanks")


def test_trays_are_listed_once_and_no_pairs_beside_them(nest, tmp_path):
    answer = nest()
    fit = answer.check.fits[0]
    assert fit.verdict.word == "sort"
    sheet = make_sheet(answer, "bench", by="bench 2", when=WHEN)
    printed, _ = read_pdf(pdf_of(sheet), tmp_path)
    for text in (words(sheet.document()), printed):
        assert "Within a tray any goes into any." in text
        assert "Three trays a side: press within a letter, never across" in text
        assert "pairs within limits" not in text
        assert "20 bosses: 1, 2, 3" in text
    listed = [row[1] for row in rows_of(sheet.document()) if len(row) == 5 and ": " in row[1]]
    assert len(listed) == 2 * len(fit.classes.labels)
    for side in (0, 1):
        pieces = [piece for line in listed[side::2] for piece in line.partition(": ")[2].split(", ")]
        assert sorted(pieces, key=int) == [str(number) for number in range(1, 61)]


def test_the_force_covers_the_worst_pair_that_may_meet_in_a_tray(nest):
    from tracker.judge.joints import press_of

    answer = nest()
    fit = answer.check.fits[0]
    bosses, shanks = (answer.check.feature(name).sizes.size for name in ("boss", "shank"))
    allowed = [
        boss - shank
        for boss, tray in zip(bosses, fit.classes.class_internal)
        for shank, other in zip(shanks, fit.classes.class_external)
        if tray == other
    ]
    worst = press_of(answer.job, answer.job.fits["nest"], np.array([min(allowed)]))
    listed = press_of(answer.job, answer.job.fits["nest"], np.array([row.gap for row in fit.pairs]))
    assert min(allowed) < min(row.gap for row in fit.pairs) - 0.0001
    assert fit.press.ranges["push_force"].high == pytest.approx(worst.ranges["push_force"].high)
    assert fit.press.ranges["push_force"].low < listed.ranges["push_force"].low
    text = words(make_sheet(answer, "bench", by="", when=WHEN).document())
    most = worst.ranges["push_force"].text("lbf").rpartition(" to ")[2]
    assert f"Stop past {most}" in text
    assert "Over every pair that may meet in a tray" in text


def test_a_part_that_yields_in_a_tray_is_said_on_sheet_page_and_check(nest):
    """Between the strength that the listed pairs need and that which the worst pair of a tray needs."""
    from dashboard.pages import fit as fit_page
    from dashboard.parts.address import Address
    from tracker.judge import check_lines
    from tracker.judge.joints import press_of

    answer = nest(strength=20000)
    fit = answer.check.fits[0]
    listed = press_of(answer.job, answer.job.fits["nest"], np.array([row.gap for row in fit.pairs]))
    assert listed.elastic
    assert not fit.press.elastic
    says = "The outer part passes its strength at the largest interference"
    text = words(make_sheet(answer, "bench", by="", when=WHEN).document())
    assert "A part yields: do not press before this is settled." in text
    assert says in text
    assert "force, lbf" not in text
    assert "lbf" not in text.replace("lbf·in", "")
    assert says in " ".join(" ".join(check_lines(answer.check)).split())
    page = str(fit_page.page(answer, Address(page="fit")).body)
    assert says in page
    assert "Over every pair that may meet in a tray" in page


def test_a_batch_that_needs_work_is_not_to_be_pressed(made):
    text = words(made("rest_buttons", "bench").document())
    assert "Do not press yet." in text
    assert "Two pieces set aside, not to be pressed" in text
    assert "too small for every bore" in text
    assert "Do not press" not in words(made("coupling_pins", "bench").document())


def test_force_and_its_cautions_stand_together(made):
    found = made("rest_buttons", "bench")
    text = words(found.document())
    force = re.search(r"Force ([\d,]+) to ([\d,]+) lbf at full depth. Stop past ([\d,]+) lbf", text)
    assert force
    assert force[2] == force[3]
    for part in (
        "Local codes",
        "eye protection",
        "Support the part square",
        f"climbs past {force[3]} lbf",
        "heat-resistant gloves",
        "no open flame",
    ):
        assert part in text
    assert found.pressing


def test_a_slip_fit_speaks_of_no_force(made):
    found = made("guide_pins", "bench")
    text = words(found.document())
    assert not found.pressing
    assert "Force" not in text
    assert "ram" not in text.split()


def test_a_joint_that_is_not_stated_has_no_force_but_the_cautions(made):
    text = words(made("lid_dowels", "bench").document())
    stated = "Force: cannot say" in text
    assert stated
    assert "Stop when the force climbs" in text
    assert "no open flame" in text


def test_the_force_of_each_pair_lies_within_the_force_of_the_batch(made):
    text = made("rest_buttons", "bench").document()
    least, most = (
        float(item.replace(",", "")) for item in re.search(r"Force ([\d,]+) to ([\d,]+) lbf", words(text)).groups()
    )
    each = [
        tuple(float(part.replace(",", "")) for part in pair) for pair in re.findall(r">([\d,]+) to ([\d,]+)</td>", text)
    ]
    assert len(each) == 12  # every pair of the plan, the two new ones too
    assert min(low for low, _ in each) == least
    assert max(high for _, high in each) == most


def test_the_set_up_note_speaks_the_machines_language_in_both_units(made, sample):
    shift = sample("rest_buttons").check.fits[0].shift
    offset = f"{shift.offset:+.4f}".replace("-", "−")
    for unit in ("", "mm"):
        text = words(made("rest_buttons", "set-up", unit, feature="shank").document())
        assert f" {offset} " in text
        assert "diameter, inches; plus makes the part larger" in text


def test_the_set_up_note_can_say_leave_it_alone(made):
    text = words(made("guide_pins", "set-up", feature="pin").document())
    assert "Enter nothing" in text
    assert "0.0000" in text
    assert "Leave the pins alone." in text


def test_labels_are_a_tray_a_side_or_a_pair_each(made, sample):
    assert made("coupling_pins", "labels").document().count('class="p-label"') == 2
    fit = sample("rest_buttons").check.fits[0]
    page = made("rest_buttons", "labels").document()
    assert page.count('class="p-label"') == len(fit.planned) + 1  # shanks 1 and 2 are in no pair of the plan
    text = words(page)
    assert text.count("new shank into bore") == fit.plan.remade
    assert "First new shank to 0.62600 in; measure before it is pressed." in text
    assert "shanks set aside Not to be pressed. 1 and 2: in no pair of the plan" in text


def test_sorted_trays_have_every_piece_once(made, sample):
    import dataclasses

    from dashboard.sheets.labels import tray_labels

    answer = sample("rest_buttons")
    fit = answer.check.fits[0]
    sort = dataclasses.replace(fit, verdict=dataclasses.replace(fit.verdict, word="sort"))
    text = words(tray_labels(answer, sort, by="", when=WHEN).document())
    listed = re.findall(r"pieces?: ([\w, -]+?) goes with", text)
    pieces = [piece for line in listed for piece in line.split(", ")]
    inside = [
        piece
        for side, places in ((fit.internal, fit.classes.class_internal), (fit.external, fit.classes.class_external))
        for piece, place in zip(answer.check.feature(side).sizes.piece, places.tolist())
        if place >= 0
    ]
    assert sorted(pieces) == sorted(inside)
    assert inside


def test_the_report_holds_every_size(made, sample):
    answer = sample("coupling_pins")
    text = words(made("coupling_pins", "report").document())
    written = [float(number) for number in re.findall(r" (\d+\.\d{4}) ", text)]
    for found in answer.check.features:
        for size in found.sizes.size:
            assert min(abs(number - size) for number in written) <= 0.5000001e-4


def test_a_name_cannot_write_markup(sample, sums):
    import dataclasses

    wild = '<script>alert(1)</script> & "co"'
    for name in SHEETS:
        answer = sums if name == "closures" else sample("rest_buttons")
        named = dataclasses.replace(answer, check=dataclasses.replace(answer.check, job=wild))
        page = make_sheet(named, name, by="<b>x</b>", when=WHEN).document()
        assert "<script" not in page
        assert "<b>x</b>" not in page
        assert "&lt;script&gt;" in page


@pytest.mark.parametrize(
    ("folder", "name", "pages"),
    [("rest_buttons", "bench", 1), ("rest_buttons", "set-up", 1), ("guide_pins", "bench", 1)],
)
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_pdf_fits_its_page_and_reads_the_same(made, tmp_path, folder, name, pages, paper):
    for unit in ("in", "mm"):
        found = made(folder, name, unit)
        text, count = read_pdf(pdf_of(found, paper), tmp_path)
        assert count == pages
    head = [found.kind, found.job, "2026-11-25 14:05", f"page 1 of {pages}"]
    for part in (*head, *found.title.split()):
        assert part in text
    if found.pressing:
        assert "Before you press" in text
        assert "Local codes" in text


def test_the_report_as_pdf_numbers_its_pages_and_keeps_its_letters(made, tmp_path):
    content = pdf_of(made("rest_buttons", "report"), "a4")
    text, count = read_pdf(content, tmp_path)
    assert count > 1
    assert f"page {count} of {count}" in text
    assert "Every bore" in text
    assert "Every shank" in text
    fonts = subprocess.run(["pdffonts", str(tmp_path / "sheet.pdf")], capture_output=True, text=True, check=True).stdout
    assert "Atkinson-Hyperlegible-Next" in fonts
    assert "Atkinson-Hyperlegible-Mono" in fonts


def test_without_the_program_for_pdf_the_extra_is_named(made, monkeypatch):
    monkeypatch.setattr(portable, "can_make_pdf", lambda: False)
    with pytest.raises(TrackerError, match=r"tenthwise\[sheets\]"):
        pdf_of(made("rest_buttons", "set-up"))


@pytest.mark.parametrize(
    ("name", "more", "says"),
    [
        ("poster", {}, "no sheet 'poster'"),
        ("bench", {"fit": "nope"}, "no fit 'nope'"),
        ("set-up", {"feature": "nope"}, "no feature 'nope'"),
    ],
)
def test_what_is_not_there_is_refused_with_what_is(made, name, more, says):
    with pytest.raises(TrackerError, match=says) as fault:
        made("rest_buttons", name, **more)
    assert "there are:" in str(fault.value)


def test_the_command_writes_a_sheet_of_a_folder(tmp_path):
    out = tmp_path / "bench.html"
    found = CliRunner().invoke(
        command, ["sample_readings/rest_buttons", "--out", str(out), "--by", "operator A", "--json"]
    )
    assert found.exit_code == 0, found.output
    assert '"sheet": "bench"' in found.output
    text = words(out.read_text(encoding="utf-8"))
    assert "Do not press yet." in text
    assert "operator A" in text


def test_the_command_refuses_another_ending(tmp_path):
    found = CliRunner().invoke(command, ["sample_readings/rest_buttons", "--out", str(tmp_path / "bench.docx")])
    assert isinstance(found.exception, TrackerError)
    assert ".html or .pdf" in str(found.exception)


def test_the_folder_and_the_record_give_the_same_sheet(made, tmp_path):
    out = tmp_path / "bench.html"
    CliRunner().invoke(command, ["sample_readings/rest_buttons", "--out", str(out)], catch_exceptions=False)
    body = [
        re.search(r"<h2>.*</h2>.*<table", text, flags=re.DOTALL)[0]
        for text in (out.read_text(), made("rest_buttons", "bench").document())
    ]
    assert words(body[0]) == words(body[1])


def test_the_command_offers_every_sheet():
    from dashboard.commands import SHEET_NAMES

    assert tuple(SHEETS) == SHEET_NAMES


SUMS = """[job]
name = "Stand height"
unit = "in"
[features.head_height]
kind = "length"
nominal = 0.5
gauge = "height gauge"
[features.counterbore_depth]
kind = "length"
nominal = 0.125
[closures.stand_height]
terms = { head_height = 1, counterbore_depth = -1 }
limits = [0.3747, 0.3753]
[gauges."height gauge"]
resolution = 0.0001
correction = 0.0001
"""
HEADS, DEPTHS = (0.5000, 0.5004, 0.4996), (0.1252, 0.1249, 0.1246, 0.1300)


@pytest.fixture
def sums(tmp_path):
    """Return an answer with a sum of lengths, a reading struck out, and a suspect one confirmed."""
    with open_record(tmp_path / "sums.sqlite") as record:
        number = record.add_job(SUMS, client_id="sums").id
        for feature, sizes in (("head_height", HEADS), ("counterbore_depth", DEPTHS)):
            for index, size in enumerate(sizes):
                piece = f"{feature[0].upper()}{index + 1}"
                record.add_reading(number, feature, piece, f"{size - 0.0001 * (size > 0.3):.4f}", client_id=piece)
        wrong = record.add_reading(number, "head_height", "H1", ".5003", client_id="wrong")
        record.strike(wrong.id, "dirty part or gauge", "bench 2")
        odd = record.add_reading(number, "head_height", "H2", "12.71", client_id="odd")
        assert odd.held
        record.strike(odd.id, "misread", "bench 1")
        record.add_reading(number, "counterbore_depth", "C4", "3.18", client_id="far")
        for entry in record.since(number, 0):
            if entry.waiting:
                record.confirm(entry.id, "bench 3")
        yield Answers(record).of(number)


def test_the_closure_sheet_says_which_pieces_together_and_their_sum(sums):
    page = make_sheet(sums, "closures", by="bench 2", when=WHEN).document()
    rows = re.findall(r"<tr>(.*?)</tr>", page, flags=re.DOTALL)
    cells = [re.findall(r"<td[^>]*>(.*?)</td>", row, flags=re.DOTALL) for row in rows]
    found = [row[1:7] for row in cells if len(row) == 9]
    # By hand: the largest head to the deepest bore but the odd one, and so on: 0.3751, 0.3752 and 0.3750.
    assert [row[0] for row in found] == ["H1", "H2", "H3"]
    assert [row[2] for row in found] == ["C2", "C1", "C3"]
    for row in found:
        assert float(row[4]) == pytest.approx(float(row[1]) - float(row[3]), abs=1e-9)
    text = words(page)
    assert "0.37470 to 0.37530 in allowed" in text
    assert "Three sums of 3 within limits" in text
    assert "Left over: counterbore depth C4." in text
    assert "head height minus counterbore depth" in text


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_closure_sheet_fits_one_page_of_paper(sums, tmp_path, paper):
    text, count = read_pdf(pdf_of(make_sheet(sums, "closures", by="bench 2", when=WHEN), paper), tmp_path)
    assert count == 1
    assert "Three sums of 3 within limits" in text
    assert "put together by" in text


def test_a_job_without_a_closure_has_no_closure_sheet(sample):
    with pytest.raises(TrackerError, match=r"accepted is \[closures.NAME\]"):
        make_sheet(sample("guide_pins"), "closures")


def test_the_report_lists_what_was_struck_out_confirmed_and_corrected(sums):
    text = words(make_sheet(sums, "report", by="bench 2", when=WHEN).document())
    assert re.search(
        r"Two readings struck out .* head height H1 \d+ \.5003 in dirty part or gauge bench 2 \d{4}-", text
    )
    assert re.search(r"head height H2 \d+ 12\.71 in misread bench 1", text)
    assert re.search(r"suspect readings? confirmed .* counterbore depth C4 .* bench 3", text)
    assert re.search(r"Corrections .* head height .*0\.0001.* 3", text)
    assert "Stand height: " in text


def test_the_report_of_one_part_lists_only_its_own(sums):
    text = words(make_sheet(sums, "report", by="bench 2", when=WHEN, feature="counterbore_depth").document())
    assert "struck out" not in text
    assert "confirmed" in text


def test_several_of_a_name_are_said_as_one_would_say_them(nest):
    """Bosses, not bosss: on the page, on the sheets, and in what is left over."""
    from dashboard.pages import fit as fit_page
    from dashboard.parts.address import Address

    answer = nest({"boss": [0.3750, 0.3750, 0.3751, 0.3751], "shank": [0.3756, 0.3756]})
    page = fit_page.page(answer, Address(page="fit"))
    assert page.question == "Will the shanks go into the bosses?"
    for name in ("bench", "labels", "report", "set-up"):
        text = words(make_sheet(answer, name, by="", when=WHEN).document())
        assert "bosss" not in text
        assert name == "set-up" or "4 bosses" in text
    labels = words(make_sheet(answer, "labels", by="", when=WHEN).document())
    bench = words(make_sheet(answer, "bench", by="", when=WHEN).document())
    assert not re.search(r"\d and \d+: fits", labels + bench)
