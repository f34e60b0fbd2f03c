"""The pages Plan and Gauges: what they say is what the results say, and a what-if moves it the way it must."""

from __future__ import annotations

import dataclasses
import datetime
import json

import pytest

from dashboard.figures.guard_bands import guard_bands, guard_title
from dashboard.figures.ways import ways_of, ways_picture, ways_title
from dashboard.pages import gauges as gauges_page
from dashboard.pages import plan as plan_page
from dashboard.parts.address import Address, read_address
from dashboard.parts.chosen_way import NEARLY, chosen_way
from dashboard.parts.gauging import drawn_rows, gauges_of, overdue
from dashboard.parts.what_if import changed_job, fit_if, ideas_of, read_figure
from dashboard.server import rendered
from tracker.plurals import noun

SAMPLES = ["coupling_pins", "depth_stops", "guide_pins", "lid_dowels", "rest_buttons"]


class _Encoder(json.JSONEncoder):
    def default(self, value):
        return value.to_plotly_json()


def text_at(answers, path: str, query: str) -> str:
    component, _ = rendered(answers, path, query)
    return json.dumps(component.to_plotly_json(), cls=_Encoder, ensure_ascii=False)


# -- the plan


def test_the_ways_are_those_of_the_plan(sample):
    fit = sample("rest_buttons").check.fits[0]
    ways = ways_of(fit)
    assert [(way.cost, way.good, way.risk) for way in ways] == [
        (item.cost, item.expected_good, item.risk) for item in fit.plan.alternatives
    ]
    assert [way.safe for way in ways] == [item.risk <= 1 - fit.plan.assurance for item in fit.plan.alternatives]
    assert {way.name for way in ways} >= {"paired", "any order", "the plan", "all shanks new"}


@pytest.mark.parametrize("folder", SAMPLES)
def test_the_chosen_way_costs_hardly_more_than_the_plan(sample, folder):
    for fit in sample(folder).check.fits:
        chosen = chosen_way(fit, fit.plan, 1 - fit.plan.assurance)
        assert chosen.cost <= fit.plan.cost * NEARLY
        assert chosen.risk <= max(1 - fit.plan.assurance, 1 - fit.plan.chance_all) + 1e-12


def test_no_way_is_called_sure_when_none_is(sample):
    answer = sample("depth_stops")
    page = plan_page.page(answer, Address(page="plan", job=answer.job_id))
    assert page.word == answer.check.fits[0].verdict.word == "measure better"
    assert page.answer == answer.check.fits[0].verdict.action
    assert page.answer.startswith("Take a better gauge, or repeat every reading; and have the gauge calibrated")
    assert "If it is not measured again: no way is sure enough" in page.reasons[1]


@pytest.mark.parametrize("folder", SAMPLES)
def test_plan_and_fit_say_one_verdict(sample, folder):
    from dashboard.pages import fit as fit_page

    answer = sample(folder)
    for fit in answer.check.fits:
        pages = [
            module.page(answer, Address(page="plan", job=answer.job_id, fit=fit.name))
            for module in (plan_page, fit_page)
        ]
        assert {page.word for page in pages} == {fit.verdict.word}


def test_a_pair_that_cannot_be_told_is_measured_again_before_anything_is_made(nest):
    """Ten and ten in pairs, one of them on the limit as it reads: measure better, and the cheapest way beneath."""
    import dataclasses

    answer = nest({"boss": [0.3760 - 0.00001 * n for n in range(10)], "shank": [0.3755] * 10}, 0.0002, 0.0010)
    fit = answer.check.fits[0]
    told = dataclasses.replace(
        fit.verdict,
        word="measure better",
        reason="All ten pairs are within limits as measured.",
        action="Measure the one pair near a limit again with a better gauge or more repeats.",
    )
    doubted = dataclasses.replace(fit, verdict=told)
    changed = dataclasses.replace(answer, check=dataclasses.replace(answer.check, fits=(doubted,)))
    page = plan_page.page(changed, Address(page="plan"))
    assert page.word == "measure better"
    assert page.answer == "Measure the one pair near a limit again with a better gauge or more repeats."
    assert page.reasons[0] == told.reason
    assert page.reasons[1].startswith("If it is not measured again: press in any order: it costs 10.")
    assert "says not to press yet" in str(page.body)


def test_a_batch_to_sort_names_one_way(nest):
    """Headline, picture, table, steps and list all say trays; as many as the fit itself is sorted into."""
    answer = nest()
    fit = answer.check.fits[0]
    assert fit.verdict.word == "sort"
    page = plan_page.page(answer, Address(page="plan"))
    text = str(page.body)
    assert page.word == "sort"
    assert page.answer == "Press from trays: it costs 60."
    assert "In trays costs 60 and gives 60.0 of 60 good" in text
    assert "Sort both batches into three trays a side." in text
    assert "Sort both sides into three trays and press within a tray" in text
    assert "as listed" not in text
    assert "The plan, assembly by assembly" not in text


@pytest.mark.parametrize("folder", SAMPLES)
def test_fit_and_plan_sort_into_as_many_trays(sample, folder):
    """The one rule: three trays a side, two where three cannot be told apart, fewer where more give less."""
    from tracker.decide.alternatives import TRAYS
    from tracker.judge import joined

    assert TRAYS == joined.TRAYS
    for fit in sample(folder).check.fits:
        way = next((item for item in fit.plan.alternatives if item.name == "sort into classes"), None)
        if way is not None and fit.classes is not None:
            trays = len(fit.classes.labels)
            assert way.words.startswith(f"{trays} {noun(trays, 'tray')} a side")


@pytest.mark.parametrize("width", [340, 820, 1300])
@pytest.mark.parametrize("folder", SAMPLES)
def test_the_picture_of_the_ways_stays_on_its_paper(sample, folder, width):
    import re

    fit = sample(folder).check.fits[0]
    drawn = ways_picture(ways_of(fit), fit.plan.wanted, 1 - fit.plan.assurance, width)
    assert drawn.title == ways_title(ways_of(fit), fit.plan.wanted)
    text = drawn.svg()
    for way in ways_of(fit):
        assert way.name in text
    for x in re.findall(r'c?x[12]?="([-\d.]+)"', text):
        assert -1 <= float(x) <= width + 1


def test_a_dearer_spoiled_assembly_never_buys_fewer_good_ones(sample):
    """Of two cheapest plans the one for the dearer spoiled assembly cannot spoil more: add both comparisons up.

    The chance that all hold at once may still fall: gaps share the gauge's error, and the cost counts each by itself.
    """
    answer = sample("depth_stops")
    fit = answer.check.fits[0]
    good = []
    for cost in ("2", "21", "400"):
        found = fit_if(answer, fit, (("spoiled", cost),))
        assert found.plan.prices.spoiled_assembly == float(cost)
        good.append(found.plan.expected_good)
    assert good[0] <= good[1] + 1e-9 <= good[2] + 2e-9


def test_a_step_that_is_not_done_can_be_tried(sample):
    answer = sample("rest_buttons")
    fit = answer.check.fits[0]
    before = {idea.name: idea for idea in ideas_of(answer.job, fit, ())}
    assert before["rework-bore"].value is None
    assert before["rework-shank"].value == before["rework-shank"].own == 4.0
    asked = (("rework-bore", "2"),)
    found = fit_if(answer, fit, asked)
    after = {idea.name: idea for idea in ideas_of(answer.job, found, asked)}
    assert after["rework-bore"].value == 2.0
    assert after["rework-bore"].tried
    assert after["rework-shank"].value == 4.0
    assert found.plan.cost <= fit.plan.cost + 1e-9


def test_what_is_not_asked_changes_nothing(sample):
    answer = sample("rest_buttons")
    fit = answer.check.fits[0]
    assert fit_if(answer, fit, ()) is fit
    assert fit_if(answer, fit, (("press", "four"), ("nothing", "3"), ("spoiled", "nan"))) is fit
    assert changed_job(answer.job, fit, (("press", "1"),)) == answer.job


def test_assurance_is_held_between_half_and_nearly_all(sample):
    answer = sample("rest_buttons")
    fit = answer.check.fits[0]
    assert changed_job(answer.job, fit, (("assurance", "200"),)).assurance == 0.999
    assert changed_job(answer.job, fit, (("assurance", "1"),)).assurance == 0.5


@pytest.mark.parametrize("text", ["", "-1", "nan", "inf", "1e9", "1,5", "=1+1", "<b>"])
def test_a_figure_that_is_none_is_passed_over(text):
    assert read_figure(text) is None


def test_the_address_keeps_what_is_tried_and_no_more():
    address = read_address("/plan", "?job=2&if-press=3&if-rework-shank=1.5&other=4")
    assert address.ideas == (("press", "3"), ("rework-shank", "1.5"))
    assert read_address("/plan", address.query) == address
    assert "if-press=3" in address.to(unit="mm").href
    many = read_address("/plan", "?" + "&".join(f"if-x{index}=1" for index in range(300)))
    assert len(many.ideas) == 24


def test_the_page_answers_what_is_tried(answers, numbers_of):
    job = numbers_of["rest_buttons"]
    own, tried = (text_at(answers, "/plan", f"?job={job}{more}") for more in ("", "&if-remake-shank=40"))
    assert "it costs 34." in own
    assert "it costs 92." in tried
    assert "One figure tried" in tried
    assert "back to the job's own" in tried


def test_a_plan_that_presses_with_force_shows_the_cautions(answers, numbers_of):
    press, slip = (text_at(answers, "/plan", f"?job={numbers_of[name]}") for name in ("rest_buttons", "guide_pins"))
    assert "Before you press" in press
    assert "Local codes" in press
    assert "Before you press" not in slip


# -- the gauges


@pytest.mark.parametrize("folder", SAMPLES)
@pytest.mark.parametrize("unit", ["in", "mm"])
def test_the_share_of_the_tolerance_does_not_hang_on_the_unit(sample, folder, unit):
    own, shown = gauges_of(sample(folder)), gauges_of(sample(folder, unit))
    for (one, _), (other, _) in zip(own, shown):
        assert one.serves == other.serves
        assert other.share_of_tolerance == pytest.approx(one.share_of_tolerance, rel=1e-9)


def test_the_accept_limits_are_the_limits_less_the_expanded_uncertainty(sample):
    """ISO 14253-1: the acceptance zone is the tolerance reduced by the expanded uncertainty at each limit."""
    answer = sample("rest_buttons")
    for item, found in gauges_of(answer):
        expanded = 1.959963984540054 * item.uncertainty
        words = gauges_page.accept_words(item, answer.numbers(item.feature))
        low, high = (float(part) for part in words.split(" to "))
        assert low == pytest.approx(found.lower + expanded, abs=5e-6)
        assert high == pytest.approx(found.upper - expanded, abs=5e-6)


def test_a_gauge_that_cannot_tell_is_said_so(sample, answers, numbers_of):
    rows = drawn_rows(gauges_of(sample("depth_stops")))
    assert guard_title(rows) == "The doubt of a slot reading is wider than its tolerance"
    assert "no reading is surely within" in guard_bands(rows, [sample("depth_stops").numbers()] * 2).svg()
    text = text_at(answers, "/gauges", f"?job={numbers_of['depth_stops']}")
    assert "measure better" in text
    assert "does not serve" in text
    assert "Two operators on slots" in text


def test_a_gauge_past_its_date_is_not_trusted(sample):
    answer = sample("rest_buttons")
    today = datetime.date(2028, 1, 1)
    assert overdue(answer, today) == ["bore gauge", "tenths micrometer"]
    assert overdue(answer, datetime.date(2026, 1, 1)) == []
    said = gauges_page.gauge_answer([item for item, _ in gauges_of(answer)], ["bore gauge"])
    assert said == "Not to be trusted: the bore gauge is past calibration."


def test_one_limit_alone_is_not_drawn_but_told(sample):
    answer = sample("rest_buttons")
    item, found = gauges_of(answer)[0]
    one = dataclasses.replace(found, upper=None)
    guarded = dataclasses.replace(item.guarded, accept_upper=None, reject_above=None)
    item = dataclasses.replace(item, guarded=guarded)
    assert drawn_rows([(item, one)]) == []
    assert gauges_page.accept_words(item, answer.numbers(item.feature)).startswith("from 0.62505")


@pytest.mark.parametrize(
    ("page", "says"),
    [
        ("plan", "Cannot say: this job states no fit."),
        ("gauges", "Cannot say yet."),
        ("sheets", "The batch report is ready."),
        ("sheets&sheet=bench", "No press bench sheet yet."),
    ],
)
def test_a_job_of_one_part_with_no_reading_still_answers(record, answers, page, says):
    text = '[job]\nname = "bare"\nunit = "mm"\n[features.pin]\nkind = "external"\nnominal = 6.0\n'
    number = record.add_job(text, client_id="bare job").id
    path, _, more = page.partition("&")
    said = text_at(answers, f"/{path}", f"?job={number}&{more}")
    assert says in said
    assert "Something is in the way" not in said
