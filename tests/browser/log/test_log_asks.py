"""What the Log page says and asks in place: refusals of this job, a reason in words, what goes and what does not."""

import re

import pytest
from playwright.sync_api import expect

PLAIN = """
[job]
name = "Collars, no repeats stated"
unit = "mm"

[features.collar_bore]
kind = "internal"
nominal = 12.0
lower = 12.000
upper = 12.018
"""


def ready(page):
    expect(page.locator(".kept")).to_have_attribute("data-kept", re.compile(r"\d+"))
    expect(page.locator("h1.now")).not_to_be_empty()


def all_kept(page, number):
    expect(page.locator(".kept")).to_have_attribute("data-waiting", "0", timeout=30_000)
    expect(page.locator(".kept")).to_have_attribute("data-kept", str(number), timeout=30_000)


def types(page, *values):
    for value in values:
        page.keyboard.type(value)
        page.keyboard.press("Enter")


@pytest.fixture
def collars(plugs):
    """Return the number of a second job, which states no repeats."""
    return plugs.record.add_job(PLAIN, "operator A").id


def test_a_job_that_states_no_repeats_takes_one_reading_a_piece(plugs, collars, opened):
    with opened(plugs.address) as page:
        page.goto(f"{plugs.address}/log?job={collars}")
        ready(page)
        expect(page.locator(".place")).to_have_text("reading 1 of 1")
        types(page, "12.004", "12.009", "12.011")
        all_kept(page, 3)
        expect(page.locator("h1.now")).to_have_text("Collar bore 4")
    entries = reversed(plugs.record.log_state(collars, "collar_bore", 10).entries)
    assert [(entry.piece, entry.typed) for entry in entries] == [("1", "12.004"), ("2", "12.009"), ("3", "12.011")]


def test_a_refusal_stands_on_the_log_of_its_own_job_alone(plugs, collars, opened):
    with opened(plugs.address) as page:
        page.goto(f"{plugs.address}/log?job={collars}")
        ready(page)
        types(page, "12,008")
        said = page.locator(".asks", has_text="was not kept")
        expect(said).to_contain_text("“12,008” for the collar bore was not kept: it has a comma.")
        expect(said).to_contain_text("the job's form, under “How readings are typed”")
        page.goto(plugs.at("log", feature="plug"))
        ready(page)
        types(page, "0.50075")
        all_kept(page, 1)
        expect(page.locator(".asks")).to_have_count(0)
        page.keyboard.press("Escape")
        page.goto(f"{plugs.address}/log?job={collars}")
        ready(page)
        expect(said).to_have_count(1)
        page.keyboard.press("Escape")
        expect(said).to_have_count(0)


def test_what_the_record_refuses_after_the_page_is_left_is_pointed_at(plugs, collars, opened):
    held = []
    with opened(plugs.address, allowed=["400", "ERR_FAILED"]) as page:
        page.goto(plugs.at("log", feature="plug"))
        ready(page)
        page.route("**/readings", lambda route: held.append(route) or route.abort(), times=1)
        types(page, "goes .5001 / not .5003")  # over a plug the larger one goes: the record refuses it
        page.wait_for_timeout(200)
        page.goto(f"{plugs.address}/log?job={collars}")
        ready(page)
        expect(page.locator(".kept")).to_contain_text(f"see the Log of job {plugs.job}")
        expect(page.locator(".asks")).to_have_count(0)
        page.goto(plugs.at("log", feature="plug"))
        ready(page)
        expect(page.locator(".asks")).to_contain_text("(plug), was not kept")
        page.goto(f"{plugs.address}/log?job={collars}")
        ready(page)
        expect(page.locator(".kept")).not_to_contain_text("not kept elsewhere")


def test_a_reason_in_words_is_taken_and_a_reading_stays_a_reading(plugs, opened):
    with opened(plugs.address) as page:
        page.goto(plugs.at("log", feature="plug"))
        ready(page)
        types(page, "0.50075", "0.50070")
        all_kept(page, 2)
        page.keyboard.press("F8")
        why = page.locator(".asks.why")
        expect(why).to_contain_text("Strike out piece 2")
        types(page, "0.50080 in", "ERR-3", "A0.50071")
        all_kept(page, 3)
        expect(why).to_contain_text("Strike out piece 2")
        expect(page.locator(".asks", has_text="“ERR-3”")).to_contain_text("“A0.50071”")
        page.keyboard.type("burr on the tip, 2 o'clock")
        expect(page.locator(".reads")).to_have_text("Enter strikes out for this reason")
        page.keyboard.press("Enter")
        all_kept(page, 2)
        expect(page.locator("tr.gone")).to_contain_text("burr on the tip, 2 o'clock")
        expect(why).to_have_count(0)
        types(page, "burr on the tip")  # nothing is asked now, so it is no reason
        expect(page.locator(".asks").first).to_contain_text("“burr on the tip” for the plug was not kept")
    assert plugs.kept("plug") == [("1", 1, "0.50075"), ("3", 1, "0.50080 in")]


def test_on_a_phone_the_whole_question_stands_above_the_keys_and_takes_words(plugs, opened):
    with opened(plugs.address, width=390, height=844) as page:
        page.goto(plugs.at("log", feature="plug"))
        ready(page)
        types(page, "0.50075", "0.50070")
        all_kept(page, 2)
        page.locator("[data-strike]").first.click()
        why, keypad = page.locator(".asks.why"), page.locator(".keypad")
        expect(why).to_be_visible()
        for at_top in (False, True):
            if at_top:
                page.evaluate("scrollTo(0, 0)")
            box = why.bounding_box()
            assert box["y"] >= 0
            assert box["y"] + box["height"] <= keypad.bounding_box()["y"]
        assert page.locator("input.entry").get_attribute("inputmode") == "none"
        page.locator(".in-words").click()
        expect(keypad).to_be_hidden()
        assert page.evaluate("[document.activeElement.className, document.activeElement.inputMode]") == [
            "entry",
            "text",
        ]
        types(page, "burr on the tip")
        all_kept(page, 1)
        expect(keypad).to_be_visible()
        assert page.locator("input.entry").get_attribute("inputmode") == "none"
    struck = [entry for entry in plugs.record.log_state(plugs.job, "plug").entries if entry.struck]
    assert [entry.struck_reason for entry in struck] == ["burr on the tip"]


def test_what_goes_and_what_does_not_counts_as_measured(plugs, collars, opened):
    with opened(plugs.address) as page:
        page.goto(f"{plugs.address}/log?job={collars}")
        ready(page)
        title = page.locator(".log-right h2")
        expect(title).to_have_text("Nothing measured yet")
        types(page, "goes 12.004 / not 12.010")
        all_kept(page, 1)
        expect(title).to_have_text("One measured by what goes: within limits")
        types(page, "goes 12.010 / not 12.022", "goes 12.020 / not 12.026")
        all_kept(page, 3)
        expect(title).to_have_text(
            "Three measured by what goes: 1 within limits, 1 outside, 1 cannot be told", timeout=10_000
        )
        types(page, "12.009")
        all_kept(page, 4)
        expect(title).to_contain_text("One measured: within limits")
        expect(title).to_contain_text("3 more by what goes")


@pytest.mark.parametrize("width", [1440, 390])
@pytest.mark.parametrize("value", ["0.57050", "0.43050"])
def test_no_limit_runs_through_the_words_off_the_scale(plugs, opened, width, value):
    with opened(plugs.address, width=width) as page:
        page.goto(plugs.at("log", feature="plug"))
        ready(page)
        types(page, "0.50075", "0.50070", "0.50080", "0.50075", value)
        all_kept(page, 5)
        words = page.locator(".strip text", has_text="off the scale")
        expect(words).to_have_count(1)
        through = page.evaluate(
            """() => {
              const room = (node) => node.getBoundingClientRect();
              const all = [...document.querySelectorAll(".strip text")];
              const words = all.find((node) => node.textContent === "off the scale");
              const ground = words.previousElementSibling;
              if (ground && ground.classList.contains("asked-ground")) {
                const [a, b] = [room(ground), room(words)];
                return !(a.left <= b.left && a.right >= b.right);
              }
              return [...document.querySelectorAll(".strip .limit")].some((limit) =>
                room(limit).left < room(words).right && room(limit).right > room(words).left);
            }"""
        )
        assert not through
