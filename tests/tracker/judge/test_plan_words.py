"""What is said of a plan is of one plan: what its figures leave out is said, what it leaves unmade is in no list."""

import dataclasses

import pytest

from dashboard.pages import plan as plan_page
from dashboard.parts.address import Address
from dashboard.parts.answers import Answer
from dashboard.parts.sentences import fit_answer
from dashboard.sheets.bench_lists import first_work
from tracker import check, verdict
from tracker.job import load_job
from tracker.judge import check_lines, readings_of

JOB = """
[job]
name = "Ten plugs"
unit = "in"
[features.bore]
kind = "internal"
lower = 0.4993
upper = 0.5007
gauge = "bore gauge"
[features.plug]
kind = "external"
lower = 0.5000
upper = 0.5014
gauge = "mic"
machine = { operation = "outside grinding", increment = 0.0001 }
[fits.f]
internal = "bore"
external = "plug"
gap = [-0.0012, -0.0003]
[gauges."bore gauge"]
resolution = 0.00001
[gauges.mic]
resolution = 0.00001
"""
COSTS = "[costs]\npress = 1\nrework = { plug = 8 }\nremake = { plug = 40 }\nspoiled_assembly = 200\n"
BORES = (0.50022, 0.49928, 0.49995, 0.50037, 0.49968, 0.50005, 0.50037, 0.49972, 0.50020, 0.50047)
PLUGS = (0.50107, 0.50107, 0.50003, 0.50210, 0.50038, 0.50038, 0.50093, 0.49920, 0.50062, 0.50100)


def folder(path, costs):
    (path / "job.toml").write_text(JOB + costs, encoding="utf-8")
    for name, sizes in (("bore", BORES), ("plug", PLUGS)):
        rows = "\n".join(f"{piece},{size}" for piece, size in enumerate(sizes, 1))
        (path / f"{name}.csv").write_text(f"piece,value\n{rows}\n", encoding="utf-8")
    return path


def words(lines):
    return " ".join(" ".join(lines).split())


def text_of(component):
    """Return every text of a page's parts."""
    if isinstance(component, str):
        return component
    if isinstance(component, list | tuple):
        return " ".join(text_of(item) for item in component)
    return text_of(getattr(component, "children", "") or "")


def page_of(path):
    job = load_job(path)
    readings = readings_of(path, job)
    answer = Answer(
        job_id=1, job=job, own_unit="in", unit="in", check=check(job, readings, []), readings=readings, events=[]
    )
    return plan_page.page(answer, Address(page="plan"))


def test_what_the_figures_leave_out_is_said_from_one_place(tmp_path):
    answer = check(folder(tmp_path, COSTS))
    fit = answer.fits[0]
    (new,) = fit.plan.to_make
    assert (fit.plan.remade, new.name, new.cost) == (1, "plug", 40.0)
    assert new.more == new.pieces.number - 1 > 1
    said = fit.plan.left_out
    assert said.startswith("Cost and chances of the plan are those of one new plug, good with ")
    assert said.endswith(f"are not in them: cost {new.more * 40} on top ({new.more} x 40).")
    assert said in words(check_lines(answer))
    assert said in first_work(fit).replace("\xa0", " ")
    page = page_of(tmp_path)
    assert said in " ".join(page.reasons)
    assert f"of {new.pieces.number} good" not in text_of(page.body)


def test_the_headline_names_the_new_pieces_beside_the_rework(tmp_path):
    answer = check(folder(tmp_path, COSTS))
    fit = answer.fits[0]
    number = fit.plan.to_make[0].pieces.number
    assert (fit.plan.reworked, fit.plan.remade, number) == (1, 1, 6)
    assert fit_answer(fit) == "Not yet. Rework one plug and make six new plugs."
    assert "one piece to rework and six pieces to make" in first_work(fit)


def test_a_plan_without_spare_pieces_leaves_nothing_out(tmp_path):
    fit = check(folder(tmp_path, "[costs]\nremake = {}\nrework = { plug = 8 }\n")).fits[0]
    assert fit.plan.to_make == ()
    assert fit.plan.left_out == ""
    assert fit_answer(fit).startswith("Not yet. Regrind plug 4 to ")


@pytest.fixture
def unmade(tmp_path):
    """Return a job whose plan leaves one assembly unmade."""
    answer = check(folder(tmp_path, "[costs]\nremake = {}\nrework = { plug = 8 }\nspoiled_assembly = 50\n"))
    assert answer.fits[0].plan.not_made == 1
    return answer


def test_an_assembly_left_unmade_stands_in_no_list(unmade, tmp_path):
    fit, text = unmade.fits[0], words(check_lines(unmade))
    assert len(fit.planned) == 9
    assert "new bore with new plug" not in text
    listed = text.partition("plan in full: ")[2].partition(" left over")[0]
    assert listed.count(" with ") == 9
    assert listed.endswith("; one assembly not made")
    body = text_of(page_of(tmp_path).body)
    assert "of 9 needs work first" in body
    assert "not made new" not in body


def test_the_chance_is_of_the_assemblies_that_are_made(unmade):
    fit = unmade.fits[0]
    assert fit.plan.chance_all == 0.0
    assert 0.1 < fit.plan.chance_made < 0.9
    assert "pressed unmeasured, all nine hold with only" in fit.verdict.action
    assert "assemblies expected good, all nine that are made with" in words(check_lines(unmade))


def test_a_chance_near_nothing_is_not_called_only_under():
    facts = {"internal": 6, "external": 6, "pairs_good": 5, "reworked": 1, "work": "Rework pin 6."}
    assert "hold with under 0.1 % chance" in verdict(**facts, chance_planned=0.0004).action
    assert "hold with only 4 % chance" in verdict(**facts, chance_planned=0.04).action


def test_one_assembly_is_good_or_not(tmp_path):
    path = folder(tmp_path, "")
    for name, size in (("bore", 0.5000), ("plug", 0.50075)):
        (path / f"{name}.csv").write_text(f"piece,value\n1,{size}\n", encoding="utf-8")
    text = words(check_lines(check(path)))
    assert "No rework and no new pieces: the assembly is good with over 99.9 % chance, at a cost of 1" in text


def test_a_plan_as_text_is_of_what_it_makes(unmade):
    assert "the nine made all so with" in str(unmade.fits[0].plan)
    whole = dataclasses.replace(unmade.fits[0].plan, not_made=0)
    assert "all of them with" in str(whole)
