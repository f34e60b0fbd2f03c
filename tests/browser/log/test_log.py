"""The Log page as a gauge and a hand use it: exact, in order, by keys alone, nothing lost."""

import re

from playwright.sync_api import expect

from tracker.record import open_record


def ready(page):
    expect(page.locator(".kept")).to_have_attribute("data-kept", re.compile(r"\d+"))
    expect(page.locator("h1.now")).not_to_be_empty()


def all_kept(page, number):
    expect(page.locator(".kept")).to_have_attribute("data-waiting", "0", timeout=30_000)
    expect(page.locator(".kept")).to_have_attribute("data-kept", str(number), timeout=30_000)


def gauge_types(page, values):
    """Send keys as fast as the browser takes them, as a gauge with keyboard output does."""
    for value in values:
        page.keyboard.type(value)
        page.keyboard.press("Enter")


def test_a_burst_of_thirty_without_a_pause_arrives_exact_and_in_order(plugs, opened):
    values = [f"0.50{index:02d}5" for index in range(60, 90)]
    with opened(plugs.address) as page:
        page.goto(plugs.at("log", feature="plug"))
        ready(page)
        gauge_types(page, values)
        all_kept(page, 30)
    kept = plugs.kept("plug")
    assert [typed for _, _, typed in kept] == values
    assert [piece for piece, _, _ in kept] == [str(number) for number in range(1, 31)]


def test_eight_pieces_by_keys_alone_change_the_verdict(plugs, opened):
    with opened(plugs.address) as page:
        page.goto(plugs.at("fit"))
        expect(page.locator("h1")).not_to_be_empty()
        before = page.locator("h1").inner_text()
        page.goto(plugs.at("log", feature="plug"))
        ready(page)
        assert page.evaluate("document.activeElement.className").startswith("entry")
        gauge_types(
            page,
            [
                f"{size + 0.0006:.5f} in"
                for size in (0.50015, 0.5002, 0.50025, 0.5002, 0.50015, 0.50025, 0.5002, 0.5003)
            ],
        )
        all_kept(page, 8)
        expect(page.locator(".log-verdict")).to_contain_text("press as they come", timeout=15_000)
        page.goto(plugs.at("fit"))
        expect(page.locator(".answer")).to_contain_text("press as they come", timeout=15_000)
        assert page.locator("h1").inner_text() != before
    assert len(plugs.kept("plug")) == 8


def test_a_comparator_deviation_is_kept_as_typed_and_counted_from_the_master(plugs, opened):
    with opened(plugs.address) as page:
        page.goto(plugs.at("log", feature="plug"))
        ready(page)
        page.keyboard.type("+8 tenths")
        expect(page.locator(".reads")).to_contain_text("0.50080")
        page.keyboard.press("Enter")
        all_kept(page, 1)
    entry = plugs.record.log_state(plugs.job, "plug").entries[0]
    assert (entry.typed, entry.kind) == ("+8 tenths", "comparator")
    assert abs(entry.value - 0.5008) < 1e-12


def test_goes_and_does_not_go_is_a_reading(plugs, opened):
    with opened(plugs.address) as page:
        page.goto(plugs.at("log", feature="bore"))
        ready(page)
        page.keyboard.press("ArrowDown")
        page.keyboard.type("goes .5001 / not .5003")
        page.keyboard.press("Enter")
        all_kept(page, 9)
    entry = plugs.record.log_state(plugs.job, "bore").entries[0]
    assert entry.kind == "go_no_go"


def test_what_is_no_value_is_refused_in_place_and_takes_no_piece(plugs, opened):
    with opened(plugs.address) as page:
        page.goto(plugs.at("log", feature="plug"))
        ready(page)
        gauge_types(page, ["ERR-3", "0.50075"])
        all_kept(page, 1)
    assert plugs.kept("plug") == [("1", 1, "0.50075")]


def test_strike_out_by_keys_keeps_it_readable_and_frees_the_place(plugs, opened):
    with opened(plugs.address) as page:
        page.goto(plugs.at("log", feature="plug"))
        ready(page)
        gauge_types(page, ["0.50075", "0.50070"])
        all_kept(page, 2)
        page.keyboard.press("F8")
        expect(page.locator(".asks")).to_contain_text("Strike out piece 2")
        page.keyboard.press("F2")
        all_kept(page, 1)
        expect(page.locator("tr.gone")).to_contain_text("misread")
        expect(page.locator("h1.now")).to_have_text("Plug 2")
        gauge_types(page, ["0.50072"])
        all_kept(page, 2)
    assert [(piece, typed) for piece, _, typed in plugs.kept("plug")] == [("1", "0.50075"), ("2", "0.50072")]
    struck = [entry for entry in plugs.record.log_state(plugs.job, "plug").entries if entry.struck]
    assert [(entry.typed, entry.struck_reason, entry.struck_by) for entry in struck] == [
        ("0.50070", "misread", "bench 2")
    ]


def test_a_suspect_is_asked_in_place_and_enter_never_answers(plugs, opened):
    with opened(plugs.address) as page:
        page.goto(plugs.at("log", feature="plug"))
        ready(page)
        gauge_types(page, ["0.50075", "0.50070", "0.50080", "0.50075", "0.57050"])
        expect(page.locator(".asks")).to_contain_text("Piece 5")
        gauge_types(page, ["0.50070"])
        all_kept(page, 6)
        expect(page.locator(".asks")).to_contain_text("Piece 5")
        page.keyboard.press("F4")
        expect(page.locator(".asks")).to_have_count(0)
    entry = next(item for item in plugs.record.log_state(plugs.job, "plug").entries if item.piece == "5")
    assert entry.confirmed_by is not None
    assert not entry.struck


def test_reload_loses_neither_what_was_kept_nor_what_was_half_typed(plugs, opened):
    with opened(plugs.address) as page:
        page.goto(plugs.at("log", feature="plug"))
        ready(page)
        gauge_types(page, ["0.50075", "0.50070"])
        page.keyboard.type("0.50")
        page.reload()
        ready(page)
        all_kept(page, 2)
        expect(page.locator("input.entry")).to_have_value("0.50")
        page.keyboard.type("080")
        page.keyboard.press("Enter")
        all_kept(page, 3)
    assert [typed for _, _, typed in plugs.kept("plug")] == ["0.50075", "0.50070", "0.50080"]


def test_what_was_refused_is_said_until_it_is_seen_through_a_reload(plugs, opened):
    with opened(plugs.address, allowed=["400"]) as page:
        page.goto(plugs.at("log", feature="plug"))
        ready(page)
        gauge_types(page, ["ERR-3", "0.50075", "goes .5001 / not .5003"])  # over a plug the larger one goes
        said = page.locator(".asks", has_text="was not kept")
        expect(said).to_contain_text("goes .5001")
        all_kept(page, 1)
        for _ in range(2):
            expect(said).to_contain_text("ERR-3")
            expect(said).to_contain_text("for piece 2")
            page.reload()
            ready(page)
        page.goto(plugs.at("log", feature="bore"))
        ready(page)
        expect(said).to_contain_text("ERR-3")
        page.keyboard.press("Escape")
        expect(said).to_have_count(0)
        page.reload()
        ready(page)
        expect(page.locator(".asks")).to_have_count(0)
    assert plugs.kept("plug") == [("1", 1, "0.50075")]


def test_two_at_one_batch_see_each_other_within_two_seconds(plugs, opened):
    with opened(plugs.address) as one, opened(plugs.address) as two:
        for page in (one, two):
            page.goto(plugs.at("log", feature="plug"))
            ready(page)
        for number, (writer, reader) in enumerate(((one, two), (two, one)) * 2, start=1):
            gauge_types(writer, [f"0.5007{number}"])
            expect(writer.locator(".kept")).to_have_attribute("data-waiting", "0")
            expect(reader.locator(".kept")).to_have_attribute("data-kept", str(number), timeout=2000)
            expect(reader.locator(".entries-room")).to_contain_text(f"0.5007{number}")
            expect(reader.locator("h1.now")).to_have_text(f"Plug {number + 1}")
    kept = [(piece, typed) for piece, _, typed in plugs.kept("plug")]
    assert kept == [(str(number), f"0.5007{number}") for number in range(1, 5)]


def test_forty_in_one_burst_with_the_server_gone_in_between(shop, opened):
    values = [f"0.50{index:02d}0" for index in range(50, 90)]
    gone = [
        "ERR_CONNECTION_REFUSED",
        "ERR_CONNECTION_RESET",
        "ERR_EMPTY_RESPONSE",
        "Failed to fetch",
        "503",
        "ERR_SOCKET",
        "Callback failed",
    ]
    with opened(shop.address, allowed=gone) as page:
        page.goto(f"{shop.address}/log?job={shop.job}&feature=plug")
        ready(page)
        gauge_types(page, values[:10])
        shop.stop()
        gauge_types(page, values[10:])
        expect(page.locator(".kept")).to_contain_text("No connection", timeout=15_000)
        expect(page.locator("tr.waits").first).to_contain_text("not in the record yet")
        page.wait_for_timeout(5000)
        shop.start()
        all_kept(page, 40)
    shop.stop()
    with open_record(str(shop.file), create=False) as record:
        entries = list(reversed(record.log_state(shop.job, "plug", 1000).entries))
    assert [entry.typed for entry in entries] == values
    assert [entry.piece for entry in entries] == [str(number) for number in range(1, 41)]


def test_the_phone_fits_what_gauging_needs_on_one_screen(plugs, opened):
    with opened(plugs.address, width=390, height=844) as page:
        page.goto(plugs.at("log", feature="plug"))
        ready(page)
        for key in ("0", ".", "5", "0", "0", "7", "5"):
            page.locator(".keypad button", has_text=re.compile(f"^{re.escape(key)}$")).dispatch_event("pointerdown")
        expect(page.locator("input.entry")).to_have_value("0.50075")
        page.locator(".keypad button.enter").dispatch_event("pointerdown")
        all_kept(page, 1)
        for part in ("h1.now", "input.entry", ".off-by", ".kept", ".keypad button.enter"):
            box = page.locator(part).bounding_box()
            assert box["y"] + box["height"] <= 844
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert plugs.kept("plug") == [("1", 1, "0.50075")]


def test_a_refusal_stays_in_sight_beside_a_question_and_frees_its_place(plugs, opened):
    with opened(plugs.address, allowed=["400"]) as page:
        page.goto(plugs.at("log", feature="plug"))
        ready(page)
        gauge_types(page, ["0.50075", "0.50070", "0.50080", "0.50075", "0.57050"])
        expect(page.locator(".asks")).to_contain_text("Piece 5")
        gauge_types(page, ["goes .5001 / not .5003"])  # over a plug the larger one goes: the record refuses it
        refusal = page.locator(".asks", has_text="was not kept")
        expect(refusal).to_contain_text("for piece 6")
        expect(page.locator(".asks", has_text="Piece 5")).to_have_count(1)
        expect(page.locator("h1.now")).to_have_text("Plug 6")
        expect(page.locator("tr.waits")).to_have_count(0)
        gauge_types(page, ["0.50070"])
        all_kept(page, 6)
        expect(refusal).to_have_count(1)
        page.keyboard.press("Escape")
        expect(refusal).to_have_count(0)
    assert plugs.kept("plug")[-1] == ("6", 1, "0.50070")


def test_a_comma_is_said_to_be_one_before_it_is_sent(plugs, opened):
    with opened(plugs.address) as page:
        page.goto(plugs.at("log", feature="plug"))
        ready(page)
        page.keyboard.type("0,5007")
        expect(page.locator(".reads")).to_have_text("not a length yet")
        page.keyboard.press("Enter")
        expect(page.locator(".asks")).to_contain_text("decimal_comma = true")
    assert plugs.kept("plug") == []


def test_deviations_are_told_from_the_round_size_under_the_nominal(plugs, opened):
    """As on every other page: nominal 0.5006 in, so tenths from 0.5000."""
    with opened(plugs.address) as page:
        page.goto(plugs.at("log", feature="plug"))
        ready(page)
        page.keyboard.type("0.50075")
        expect(page.locator(".reads")).to_contain_text("from 0.5000")
        expect(page.locator(".off-by")).to_have_text("+7.5 tenths")
        expect(page.locator(".how-to-read")).to_contain_text("Tenths from 0.5000 in.")


def test_values_typed_before_the_job_has_arrived_are_kept_in_order(plugs, opened):
    held = []
    with opened(plugs.address) as page:
        page.route("**/api/jobs/*/log?feature=plug*", lambda route: held.append(route), times=1)
        page.goto(plugs.at("log", feature="plug"))
        page.wait_for_selector("input.entry")
        gauge_types(page, ["0.50075", "0.50070"])
        page.wait_for_timeout(500)
        for route in held:
            route.continue_()
        all_kept(page, 2)
    assert len(held) == 1
    assert [(piece, typed) for piece, _, typed in plugs.kept("plug")] == [("1", "0.50075"), ("2", "0.50070")]
