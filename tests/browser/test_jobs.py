"""Jobs in a real browser: made from nothing by form or text, changed, a folder dropped in, readings taken out."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

SAMPLES = Path(__file__).parents[2] / "sample_readings"
AXE = "() => axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] })"


@pytest.fixture
def empty_bench(tmp_path, served):
    """Return the address of a dashboard on an empty record, and the record."""
    from dashboard.server import create_app
    from tracker.record import open_record

    with (
        open_record(tmp_path / "empty.sqlite") as record,
        served(create_app(record, bench="bench 2").server) as address,
    ):
        yield address, record


def fieldset(page, section, number):
    return page.locator(f'fieldset[data-section="{section}"]').nth(number)


def fill(row, **typed):
    for key, value in typed.items():
        row.locator(f'[data-key="{key}"]').fill(value)


def understood(page, words):
    page.wait_for_function(
        "(words) => document.querySelector('.form-side')?.innerText.includes(words)", arg=words, timeout=10_000
    )


def test_a_job_from_nothing_is_made_logged_and_judged(empty_bench, look):
    address, record = empty_bench
    watched = look(address)
    page = watched.open(address + "/")
    page.get_by_role("link", name="new job").click()
    page.wait_for_selector("#job-form .form-columns")
    page.get_by_label("name", exact=True).first.fill("Leak-test nest, locating bushes")
    fill(fieldset(page, "features", 0), name="bore", nominal=".6250", lower=".6250", upper=".6257", gauge="bore gauge")
    shank = fieldset(page, "features", 1)
    fill(
        shank, name="shank", nominal=".6255", lower=".6261", upper=".6255", positions="lead end, shoulder", repeats="1"
    )
    fit = fieldset(page, "fits", 0)
    fill(fit, name="bush_in_plate", gap_lower="-.0009", gap_upper="-.0003")
    fit.locator('[data-key="internal"]').select_option("bore")
    fit.locator('[data-key="external"]').select_option("shank")
    fill(fieldset(page, "gauges", 0), name="bore gauge", resolution=".0001", calibration="1 um", due="2030-01-31")
    understood(page, "swap them")
    page.get_by_role("button", name="keep the job").click()
    page.wait_for_selector('[data-key="lower"][aria-invalid="true"]')
    assert "swap them" in shank.inner_text()
    assert page.evaluate("document.activeElement.dataset.key") == "lower"
    assert record.jobs() == []
    fill(shank, lower=".6255", upper=".6261")
    understood(page, "asks for a gap from −9.0 to −3.0 tenths, an interference")
    page.get_by_role("button", name="keep the job").click()
    page.wait_for_url("**/job?job=1&kept=1")
    job = record.job(1)
    assert (job.features["shank"].positions, job.features["shank"].repeats) == (("lead end", "shoulder"), 1)
    assert job.gauges["bore gauge"].calibration == pytest.approx(0.001 / 25.4, rel=1e-12)
    for feature, value in (("bore", ".6253"), ("shank", ".6259")):
        watched.open(f"{address}/log?job=1&feature={feature}")
        page.wait_for_selector(".entry")
        page.keyboard.type(value)
        page.keyboard.press("Enter")
        page.wait_for_selector(".kept[data-kept='1'][data-waiting='0']")
    watched.open(address + "/")
    page.wait_for_selector(".fit-row")
    row = page.locator(".fit-row").inner_text()
    assert "bush in plate" in row
    assert "pair" in row
    assert [(item.feature, item.typed) for item in record.since(1, 0)] == [("bore", ".6253"), ("shank", ".6259")]


def test_a_job_is_changed_by_form_and_by_text_and_its_revisions_stay(bench, look):
    watched = look(bench.address)
    number = bench.jobs["rest_buttons"]
    page = watched.open(bench.at("/job", "rest_buttons"))
    page.wait_for_selector("#job-form .form-columns")
    keep = page.get_by_role("button", name="keep as revision 2")
    assert keep.is_disabled()
    fill(fieldset(page, "features", 1), upper=".6262")
    understood(page, "0.6255 to 0.6262")
    keep.click()
    page.wait_for_selector('.form-said:text("Kept as revision 2.")')
    page.wait_for_selector('h1:text("Revision 2 holds.")')
    job = bench.record.job(number)
    assert (job.features["shank"].upper, dict(job.fits["button_in_plate"].press)) == (
        0.6262,
        {"length": 0.375, "outer": 2.0},
    )
    assert {batch.revision for batch in bench.record.batches(number)} == {1}
    page.get_by_role("button", name="as a text").click()
    page.wait_for_selector("#job-text")
    text = page.locator("#job-text").input_value()
    assert text == bench.record.job(number).text
    page.locator("#job-text").fill(text.replace("0.6262", "abc"))
    understood(page, "not TOML")
    page.locator("#job-text").fill(text.replace("0.6262", "0.6260"))
    understood(page, "0.6255 to 0.6260")
    page.get_by_role("button", name="keep as revision 3").click()
    page.wait_for_selector('.form-said:text("Kept as revision 3.")')
    assert bench.record.job(number).features["shank"].upper == 0.6260
    page.get_by_role("navigation", name="revision").get_by_role("link", name="1", exact=True).click()
    page.wait_for_selector('h1:text("which holds no longer")')
    page.wait_for_selector("#job-form .form-columns")
    assert fieldset(page, "features", 1).locator('[data-key="upper"]').input_value() == "0.6261"


def test_a_text_that_is_changed_as_a_text_keeps_its_remarks(bench, look):
    watched = look(bench.address)
    number = bench.jobs["coupling_pins"]
    before = bench.record.job(number).text
    assert "# Leak-test nest" in before
    page = watched.open(bench.at("/job", "coupling_pins"))
    page.wait_for_selector("#job-form .form-columns")
    understood(page, "Pin in coupling")
    page.get_by_role("button", name="as a text").click()
    page.wait_for_selector("#job-text")
    assert page.locator("#job-text").input_value() == before
    page.locator("#job-text").fill(before + "# looked at twice\n")
    page.get_by_role("button", name="keep as revision 2").click()
    page.wait_for_selector('.form-said:text("Kept as revision 2.")')
    assert bench.record.job(number).text == before + "# looked at twice\n"


def test_someone_elses_revision_is_said_and_not_written_over(bench, look):
    watched = look(bench.address)
    number = bench.jobs["guide_pins"]
    page = watched.open(bench.at("/job", "guide_pins"))
    page.wait_for_selector("#job-form .form-columns")
    fill(fieldset(page, "features", 0), pieces="9")
    theirs = bench.record.job(number).text + "# theirs\n"
    bench.record.revise_job(number, theirs, "bench 1")
    page.get_by_role("button", name="keep as revision 2").click()
    page.wait_for_selector('.form-said:text("Revision 2 was kept by someone else meanwhile")')
    assert fieldset(page, "features", 0).locator('[data-key="pieces"]').input_value() == "9"
    page.get_by_role("button", name="throw the changes away").click()
    page.wait_for_selector('button:text("keep as revision 3")')
    assert bench.record.job(number).text == theirs


def test_a_reading_kept_elsewhere_does_not_disturb_who_types(bench, look):
    watched = look(bench.address)
    page = watched.open(bench.at("/job", "guide_pins"))
    page.wait_for_selector("#job-form .form-columns")
    box = fieldset(page, "features", 0).locator('[data-key="pieces"]')
    box.fill("9")
    bench.record.add_reading(bench.jobs["guide_pins"], "pin", "99", ".3745", client_id="elsewhere")
    page.wait_for_timeout(3000)  # longer than the page takes to look again
    assert box.evaluate("(box) => box === document.activeElement && box.value === '9'")


def test_what_is_typed_outlives_a_reload_and_is_thrown_away_on_a_word(bench, look):
    watched = look(bench.address)
    page = watched.open(bench.at("/new"))
    page.wait_for_selector("#job-form .form-columns")
    page.get_by_label("name", exact=True).first.fill("half a job")
    page.reload()
    page.wait_for_selector('.form-said:text("What was typed before is back.")')
    assert page.get_by_label("name", exact=True).first.input_value() == "half a job"
    page.get_by_role("button", name="throw the changes away").click()
    page.wait_for_function("() => document.querySelector('[data-section=job] [data-key=name]').value === ''")


def test_the_form_works_by_keyboard_alone(bench, look):
    watched = look(bench.address)
    page = watched.open(bench.at("/new"))
    page.wait_for_selector("#job-form .form-columns")
    page.get_by_role("button", name="as a text").focus()
    page.keyboard.press("Tab")
    page.keyboard.type("by keys")
    for _ in ("unit", "assurance", "how readings are typed", "take out", "name"):
        page.keyboard.press("Tab")
    page.keyboard.type("bore")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.type(".625")
    understood(page, "Bore, internal")
    for _ in range(80):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent") == "keep the job":
            break
    page.keyboard.press("Enter")
    page.wait_for_url("**/job?job=*")
    assert bench.record.jobs()[0].name == "by keys"


def test_a_sum_a_press_and_a_material_are_said_without_a_file(empty_bench, look):
    address, record = empty_bench
    watched = look(address)
    page = watched.open(address + "/new")
    page.wait_for_selector("#job-form .form-columns")
    page.locator('[data-section="job"] [data-key="name"]').fill("stand")
    for number, (name, kind, size) in enumerate((("bore", "internal", ".6250"), ("shank", "external", ".6256"))):
        fill(fieldset(page, "features", number), name=name, nominal=size)
        assert fieldset(page, "features", number).locator('[data-key="kind"]').input_value() == kind
    bore = fieldset(page, "features", 0)
    bore.get_by_text("Material, master, plating").click()
    fill(bore, material="tool steel")
    bore.get_by_text("Cutting, and what it costs").click()
    bore.locator('[data-key="machine.operation"]').select_option("boring")
    fit = fieldset(page, "fits", 0)
    fill(fit, name="button", gap_lower="-.0009", gap_upper="-.0003")
    fit.locator('[data-key="internal"]').select_option("bore")
    fit.locator('[data-key="external"]').select_option("shank")
    fit.get_by_text("Pressing it in").click()
    fill(fit, **{"press.length": "much"})
    page.get_by_role("button", name="add a closure").click()
    fill(fieldset(page, "closures", 0), name="stand height", terms="bore - shim", lower="-.001", upper=".001")
    page.get_by_role("button", name="keep the job").click()
    page.wait_for_selector('.form-said[data-state="failed"]')
    wrong = fieldset(page, "closures", 0).locator(".wrong").all_inner_texts()
    assert any("is no sum of what is measured here" in words for words in wrong)
    assert record.jobs() == []
    fill(fieldset(page, "closures", 0), terms="bore - shank")
    page.wait_for_function(
        "() => [...document.querySelectorAll('.form-side li')].some((li) => li.innerText.includes('much'))"
    )
    fill(fit, **{"press.length": ".375"})
    understood(page, "Button asks for")
    page.get_by_role("button", name="keep the job").click()
    page.wait_for_url("**/job?*")
    job = record.job(1)
    assert dict(job.closures["stand height"].terms) == {"bore": 1.0, "shank": -1.0}
    assert (job.features["bore"].material, job.features["bore"].machine.operation) == ("tool steel", "boring")
    assert dict(job.fits["button"].press) == {"length": 0.375}


def test_a_row_is_added_and_taken_out(bench, look):
    watched = look(bench.address)
    page = watched.open(bench.at("/new"))
    page.wait_for_selector("#job-form .form-columns")
    page.get_by_role("button", name="add a feature").click()
    assert page.locator('fieldset[data-section="features"]').count() == 3
    assert page.evaluate("document.activeElement.closest('fieldset') === document.querySelectorAll('fieldset')[2]")
    fill(fieldset(page, "features", 2), name="<img src=x onerror=alert(1)>")
    page.get_by_role("button", name="take out <img").click()
    assert page.locator('fieldset[data-section="features"]').count() == 2
    assert page.locator("img").count() == 0


def test_a_folder_is_chosen_seen_kept_and_judged(empty_bench, look, tmp_path):
    address, record = empty_bench
    folder = tmp_path / "nest"
    folder.mkdir()
    for path in (SAMPLES / "rest_buttons").iterdir():
        if path.is_file():
            (folder / path.name).write_bytes(path.read_bytes())
    (folder / "more.csv").write_text("feature,piece,value\nshank,13,abc\nshank,14,.6257\nshank,15,15.888\n")
    watched = look(address)
    page = watched.open(address + "/bring")
    page.wait_for_selector(".drop")
    page.locator("input[type=file]").first.set_input_files(folder)
    page.wait_for_selector(".tallies", timeout=20_000)
    tallies = page.locator(".tallies").inner_text().split()
    assert tallies == ["121", "good", "1", "suspect", "1", "refused", "1", "event"]
    assert record.jobs() == []
    with page.expect_download() as saved:
        page.get_by_role("link", name="save refused more.csv").click()
    rows = list(csv.reader(Path(saved.value.path()).read_text().splitlines()))
    assert (len(rows), rows[1][:3]) == (2, ["shank", "13", "abc"])
    page.get_by_role("button", name="keep 121 readings, hold 1 back").click()
    page.wait_for_selector('h2:text("Kept in Leak-test nest, rest buttons")')
    assert (record.jobs()[0].readings, record.jobs()[0].waiting) == (121, 1)
    page.get_by_role("link", name="see the verdict").click()
    page.wait_for_selector(".badge")


def test_a_folder_is_dropped_and_nothing_is_kept_on_a_word(empty_bench, look):
    address, record = empty_bench
    watched = look(address)
    page = watched.open(address + "/bring")
    page.wait_for_selector(".drop")
    text = (SAMPLES / "guide_pins" / "job.toml").read_text(encoding="utf-8")
    held = page.evaluate_handle(
        "(text) => { const held = new DataTransfer(); held.items.add(new File([text], 'job.toml')); return held; }",
        text,
    )
    page.dispatch_event(".drop", "drop", {"dataTransfer": held})
    page.wait_for_selector(".tallies")
    page.get_by_role("button", name="keep nothing").click()
    page.wait_for_selector('.form-said:text("Nothing was kept.")')
    assert record.jobs() == []


def test_what_cannot_be_read_is_said_before_it_is_sent(bench, look, tmp_path):
    watched = look(bench.address)
    page = watched.open(bench.at("/bring"))
    page.wait_for_selector(".drop")
    odd = tmp_path / "photo.exe"
    odd.write_bytes(b"x")
    page.locator("input[type=file]").nth(1).set_input_files(odd)
    page.wait_for_selector(".bring-faults")
    assert "None of these files is read" in page.locator(".bring-faults").inner_text()


def test_readings_are_taken_out(bench, look):
    watched = look(bench.address)
    page = watched.open(bench.at("/job", "rest_buttons"))
    for word, ending in (("CSV", "csv"), ("XLSX", "xlsx"), ("JSON", "json")):
        with page.expect_download() as saved:
            page.get_by_role("link", name=f"{word}, readings").click()
        assert saved.value.suggested_filename == f"Leak-test nest rest buttons readings.{ending}"
        assert Path(saved.value.path()).stat().st_size > 1000


PLACES = [("/new", None), ("/job", "rest_buttons"), ("/bring", None)]


@pytest.mark.parametrize(("path", "job"), PLACES, ids=str)
def test_the_forms_fit_every_width_and_are_accessible(shared_bench, look, axe, path, job):
    watched = look(shared_bench.address)
    page = watched.open(shared_bench.at(path, job))
    page.wait_for_selector("#job-form .form-columns, .drop")
    page.evaluate(axe)
    for theme in ("light", "dark"):
        page.emulate_media(color_scheme=theme)
        for width in (390, 820, 1440):
            page.set_viewport_size({"width": width, "height": 900})
            watched.settle()
            assert page.evaluate("document.documentElement.scrollWidth") <= width
            found = page.evaluate(AXE)["violations"]
            assert [(item["id"], [node["target"] for node in item["nodes"]][:3]) for item in found] == []
