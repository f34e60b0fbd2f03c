"""Take a picture of every page and state into ``.screens/``, to be looked at: ``make screens``.

With words behind it only the pictures whose names hold one of them are taken: ``screens.py fit-1440 phone``.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import product
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

ROOT = Path(__file__).parents[2]
OUT = ROOT / ".screens"
CHROMIUM = "/usr/bin/chromium"
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
WIDTHS = {1440: 900, 820: 1180, 390: 844}
STATES = {
    "jobs": "/",
    "new": "/new",
    "job": "/job?job={rest_buttons}",
    "job-closures": "/job?job={sums}",
    "bring": "/bring",
    "fit": "/fit?job={rest_buttons}",
    "fit-millimetres": "/fit?job={rest_buttons}&unit=mm",
    "fit-forty": "/fit?job={coupling_pins}",
    "fit-slip": "/fit?job={guide_pins}",
    "fit-bad-gauge": "/fit?job={depth_stops}",
    "fit-go-no-go": "/fit?job={lid_dowels}",
    "fit-one-side": "/fit?job={one_side}",
    "fit-one-piece": "/fit?job={one_piece}",
    "fit-long-names": "/fit?job={long_names}",
    "fit-sixty": "/fit?job={sixty}",
    "batch": "/batch?job={rest_buttons}&feature=shank",
    "batch-bores": "/batch?job={rest_buttons}&feature=bore",
    "batch-forty": "/batch?job={coupling_pins}&feature=pin",
    "batch-go-no-go": "/batch?job={lid_dowels}&feature=hole",
    "batch-empty": "/batch?job={empty}",
    "batch-one-piece": "/batch?job={one_piece}",
    "next": "/next?job={rest_buttons}",
    "next-bores": "/next?job={rest_buttons}&feature=bore",
    "next-alone": "/next?job={guide_pins}",
    "next-wear": "/next?job={coupling_pins}",
    "next-one-side": "/next?job={one_side}",
    "next-unmade": "/next?job={one_side}&feature=shank",
    "wear": "/wear?job={coupling_pins}&feature=pin",
    "wear-none": "/wear?job={rest_buttons}&feature=bore",
    "wear-batches": "/wear?job={repeat_orders}&feature=guide_pin",
    "wear-too-few": "/wear?job={one_piece}",
    "wear-signals": "/wear?job={signals}&feature=shank",
    "log": "/log?job={rest_buttons}&feature=shank",
    "gauges": "/gauges?job={rest_buttons}",
    "gauges-bad": "/gauges?job={depth_stops}",
    "gauges-go-no-go": "/gauges?job={lid_dowels}",
    "gauges-empty": "/gauges?job={empty}",
    "gauges-long-names": "/gauges?job={long_names}",
    "plan": "/plan?job={rest_buttons}",
    "plan-tried": "/plan?job={rest_buttons}&if-spoiled=20&if-assurance=80",
    "plan-none-sure": "/plan?job={depth_stops}",
    "plan-empty": "/plan?job={empty}",
    "plan-one-piece": "/plan?job={one_piece}",
    "plan-sixty": "/plan?job={sixty}",
    "plan-long-names": "/plan?job={long_names}",
    "sheets": "/sheets?job={rest_buttons}",
    "sheets-set-up": "/sheets?job={guide_pins}&sheet=set-up",
    "sheets-labels": "/sheets?job={rest_buttons}&sheet=labels",
    "sheets-report": "/sheets?job={coupling_pins}&sheet=report",
    "sheets-closures": "/sheets?job={sums}&sheet=closures",
    "sheets-report-struck": "/sheets?job={sums}&sheet=report",
    "fit-closures": "/fit?job={sums}",
    "sheets-empty": "/sheets?job={empty}",
    "history": "/history",
    "history-part": "/history?by=part",
    "history-month-millimetres": "/history?by=month&unit=mm",
    "nowhere": "/nothing-here",
    "fault": "/fit?job=9999",
}
BOTH_THEMES = {
    "jobs",
    "fit",
    "batch",
    "next",
    "next-alone",
    "wear",
    "log",
    "fit-bad-gauge",
    "gauges",
    "plan",
    "sheets",
    "history",
}

PLAIN = """[job]
name = "{name}"
unit = "in"
[features.{bore}]
kind = "internal"
nominal = 0.6250
lower = 0.6250
upper = 0.6257
[features.{shank}]
kind = "external"
nominal = 0.6255
lower = 0.6255
upper = 0.6261
[fits.button_in_plate]
internal = "{bore}"
external = "{shank}"
gap = [-0.0009, -0.0003]
"""


SUMS = """[job]
name = "Rest buttons, stand height"
unit = "in"
[features.head_height]
kind = "length"
nominal = 0.5
[features.counterbore_depth]
kind = "length"
nominal = 0.125
[closures.stand_height]
terms = { head_height = 1, counterbore_depth = -1 }
limits = [0.3747, 0.3753]
"""


def sums(record) -> int:
    """Keep a job with a sum of lengths, a reading struck out and a suspect one confirmed."""
    number = record.add_job(SUMS, client_id="sums").id
    for feature, middle in (("head_height", 0.5), ("counterbore_depth", 0.125)):
        for index in range(12):
            value = middle + 0.00008 * ((index * 7) % 11 - 5)
            record.add_reading(number, feature, str(index + 1), f"{value:.5f}", client_id=f"{feature} {index}")
    wrong = record.add_reading(number, "head_height", "3", ".4998", client_id="wrong")
    record.strike(wrong.id, "dirty part or gauge", "bench 2")
    odd = record.add_reading(number, "head_height", "4", ".5021", client_id="odd")
    record.confirm(odd.id, "bench 2")
    record.strike(odd.id, "misread", "bench 1")
    return number


def fill(record) -> dict[str, int]:
    """Keep the sample jobs and the odd ones, and return name -> number."""
    from dashboard.commands import SAMPLES, load_samples

    numbers = dict(zip(sorted(path.parent.name for path in SAMPLES.glob("*/job.toml")), load_samples(record)))

    def odd(
        name: str, bores: list[float], shanks: list[float], *, bore="bore", shank="shank", piece="{}", title=""
    ) -> None:
        text = PLAIN.format(name=title or name.replace("_", " "), bore=bore, shank=shank)
        number = record.add_job(text, client_id=name).id
        for feature, values in ((bore, bores), (shank, shanks)):
            for index, value in enumerate(values):
                record.add_reading(
                    number, feature, piece.format(index + 1), f"{value:.5f}", client_id=f"{name} {feature} {index}"
                )
        numbers[name] = number

    odd("empty", [], [])
    odd("one_side", [0.62531, 0.62524, 0.62528, 0.62535, 0.62522], [])
    odd("one_piece", [0.6253], [0.6259])
    odd(
        "long_names",
        [0.62531, 0.62524, 0.62528, 0.62535],
        [0.62581, 0.62574, 0.62588, 0.62592],
        bore="locating_bore_of_the_lower_clamping_plate_left",
        shank="hardened_and_ground_rest_button_shank_diameter",
        piece="plate A-2026-{:03d}",
        title="Leak-test nest for the pump housings of the second line, clamping plates and rest buttons, repeat order",
    )
    odd(
        "sixty",
        [0.62505 + 0.00001 * ((index * 37) % 53) for index in range(60)],
        [0.62555 + 0.00001 * ((index * 29) % 47) for index in range(60)],
    )
    numbers["sums"] = sums(record)
    level = [((index * 29) % 11 - 5) * 0.00001 for index in range(14)]
    odd(
        "signals",
        [0.62531, 0.62524, 0.62528, 0.62535],
        [0.6257 + value for value in level]
        + [0.6259 + value for value in level]
        + [0.62594 + abs(value) for value in level[:9]]
        + [0.6259 + value for value in level[:6]]
        + [0.62575],
    )
    record.add_event(numbers["signals"], "shank", "14", "offset_change", 0.0002, client_id="signals", by="bench 2")
    return numbers


@contextmanager
def served() -> Iterator[tuple[str, dict[str, int]]]:
    """Serve a fresh record with every state in it."""
    from dashboard.loopback import serving
    from dashboard.server import create_app
    from tracker.record import open_record

    with tempfile.TemporaryDirectory() as folder, open_record(Path(folder) / "screens.sqlite") as record:
        numbers = fill(record)
        with serving(create_app(record, bench="bench 2").server) as address:
            yield address, numbers


def wait_for_page(page: Page) -> None:
    """Wait until the page is there and every picture is drawn at its width."""
    page.wait_for_selector("#page-room")
    page.wait_for_function(
        "() => document.fonts.status === 'loaded' && [...document.querySelectorAll('[data-picture]')]"
        ".every((room) => room.classList.contains('lost')"
        " || room.dataset.drawn === `${room.dataset.picture}&width=${Math.floor(room.clientWidth / 4) * 4}`)"
        " && [...document.querySelectorAll('[data-sheet]')].every((room) => room.dataset.shown === room.dataset.sheet)"
    )


def take(browser: Browser, address: str, path: str, name: str, width: int, theme: str) -> None:
    """Take one picture of a whole page."""
    context = browser.new_context(viewport={"width": width, "height": WIDTHS[width]}, color_scheme=theme)
    page = context.new_page()
    page.goto(address + path)
    wait_for_page(page)
    page.wait_for_timeout(150)
    page.screenshot(path=OUT / f"{name}-{width}-{theme}.png", full_page=True)
    context.close()


def take_people(browser: Browser, wanted: list[str]) -> None:
    """Take the pictures of a dashboard in which people sign in: the way in, and the page of people."""
    from datetime import timedelta

    from dashboard.loopback import serving
    from dashboard.people.door import Door, own_token
    from dashboard.server import create_app
    from tracker.record import open_record

    with tempfile.TemporaryDirectory() as folder, open_record(Path(folder) / "people.sqlite") as record:
        for name, role in (("lead toolmaker", "administers"), ("inspector", "signs off"), ("operator A", "logs")):
            record.add_user(name, role, "four words at the bench", by="command line")
        record.add_token("press cell", "logs", by="lead toolmaker")
        door = Door(sign_in=True)
        with serving(create_app(record, door=door).server) as address:
            secret = record.begin_session("lead toolmaker", timedelta(hours=1))
            inside = {door.session_cookie: secret, "tenthwise-own": own_token(secret)}
            states = (("sign-in", "/sign-in", {}, "main.door"), ("people", "/people", inside, "#people-room table"))
            for (name, path, cookies, there), width, theme in product(states, WIDTHS, ("light", "dark")):
                if wanted and not any(word in f"{name}-{width}-{theme}" for word in wanted):
                    continue
                context = browser.new_context(viewport={"width": width, "height": WIDTHS[width]}, color_scheme=theme)
                context.add_cookies([{"name": key, "value": value, "url": address} for key, value in cookies.items()])
                page = context.new_page()
                page.goto(address + path)
                page.wait_for_selector(there)
                page.wait_for_timeout(200)
                page.screenshot(path=OUT / f"{name}-{width}-{theme}.png", full_page=True)
                context.close()
                print(f"{name}-{width}-{theme}.png")


def main() -> None:
    """Take all pictures, or those that the words name."""
    wanted = sys.argv[1:]
    OUT.mkdir(exist_ok=True)
    with served() as (address, numbers), sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        for name, pattern in STATES.items():
            try:
                path = pattern.format(**numbers)
            except KeyError:
                continue
            for width in WIDTHS:
                for theme in ("light", "dark") if name in BOTH_THEMES and width != 820 else ("light",):
                    if not wanted or any(word in f"{name}-{width}-{theme}" for word in wanted):
                        take(browser, address, path, name, width, theme)
                        print(f"{name}-{width}-{theme}.png")
        take_people(browser, wanted)
        browser.close()


if __name__ == "__main__":
    main()
