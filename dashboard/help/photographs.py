"""The pictures of the help, taken from the running program on the sample job."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

PICTURES = Path(__file__).parent / "pictures"
CHROMIUM = "/usr/bin/chromium"
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"]
WIDTH = 1440
JOB = "rest_buttons"
VIEWS = {
    "fit": ("/fit", 1130),
    "log": ("/log?feature=shank", 860),
    "batch": ("/batch?feature=shank", 1000),
    "next": ("/next?feature=shank", 900),
    "sheets": ("/sheets?sheet=bench", 1000),
}
"""Name, address and how many pixels of the top are shown."""


@contextmanager
def served() -> Iterator[tuple[str, int]]:
    """Serve a fresh record of the sample jobs; yield the address and the number of the job."""
    from dashboard.commands import SAMPLES, load_samples
    from dashboard.loopback import serving
    from dashboard.server import create_app
    from tracker.record import open_record

    with tempfile.TemporaryDirectory() as folder, open_record(Path(folder) / "samples.sqlite") as record:
        names = sorted(path.parent.name for path in SAMPLES.glob("*/job.toml"))
        number = dict(zip(names, load_samples(record), strict=True))[JOB]
        with serving(create_app(record, bench="bench 2").server) as address:
            yield address, number


def take_all(folder: Path = PICTURES) -> list[Path]:
    """Take every picture into a folder and return the files."""
    taken = []
    with served() as (address, number), sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        for name, (path, height) in VIEWS.items():
            where = f"{address}{path}{'&' if '?' in path else '?'}job={number}"
            taken.append(_take(browser, where, folder / f"{name}.png", height))
        browser.close()
    return taken


def _take(browser: Browser, where: str, file: Path, height: int) -> Path:
    context = browser.new_context(viewport={"width": WIDTH, "height": height}, color_scheme="light")
    page = context.new_page()
    page.goto(where)
    _settle(page)
    page.screenshot(path=file)
    context.close()
    return file


def _settle(page: Page) -> None:
    """Wait until the page is there and every picture on it is drawn at its width."""
    page.wait_for_selector("#page-room")
    page.wait_for_function(
        "() => document.fonts.status === 'loaded' && [...document.querySelectorAll('[data-picture]')]"
        ".every((room) => room.dataset.drawn"
        " === `${room.dataset.picture}&width=${Math.floor(room.clientWidth / 4) * 4}`)"
    )
    page.wait_for_timeout(300)
