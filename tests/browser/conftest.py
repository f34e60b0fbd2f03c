"""A server on a fresh record, and a real headless Chromium that may talk to nothing else."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
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


def missing(what: str) -> None:
    """Skip by name where a part is missing; in CI nothing may be missing."""
    if os.environ.get("CI"):
        pytest.fail(f"{what} is missing, and CI must have it")
    pytest.skip(f"{what} is missing")


def pytest_collection_modifyitems(items):
    """Mark every test here."""
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="session")
def browser():
    """Return Debian's Chromium, headless."""
    if not Path(CHROMIUM).exists():
        missing("Chromium (/usr/bin/chromium)")
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    with playwright.sync_playwright() as driver:
        found = driver.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield found
        found.close()


class Bench:
    """A running dashboard: its address, its record, and the numbers of the sample jobs."""

    def __init__(self, address, record, jobs):
        self.address = address
        self.record = record
        self.jobs = jobs

    def at(self, path: str, job: str | None = None, **state: str) -> str:
        """Return the address of a page, of a job where one is named."""
        query = {"job": self.jobs[job]} if job else {}
        query |= state
        return f"{self.address}{path}" + (
            "?" + "&".join(f"{name}={value}" for name, value in query.items()) if query else ""
        )


@pytest.fixture
def bench(tmp_path):
    """Return a dashboard of its own, on a record with the sample jobs."""
    yield from _served(tmp_path / "bench.sqlite")


@pytest.fixture(scope="module")
def shared_bench(tmp_path_factory):
    """Return a dashboard that several tests only look at."""
    yield from _served(tmp_path_factory.mktemp("bench") / "bench.sqlite")


@pytest.fixture
def served():
    """Hand out `serving`."""
    from dashboard.loopback import serving

    return serving


def _served(path):
    from dashboard.commands import SAMPLES, load_samples
    from dashboard.loopback import serving
    from dashboard.server import create_app
    from tracker.record import open_record

    with open_record(path) as record:
        names = sorted(item.parent.name for item in SAMPLES.glob("*/job.toml"))
        jobs = dict(zip(names, load_samples(record), strict=True))
        with serving(create_app(record, bench="bench 2").server) as address:
            yield Bench(address, record, jobs)


class Watched:
    """A page that notes what should never happen: console errors, faults, requests to elsewhere."""

    def __init__(self, page, address):
        self.page = page
        self.faults: list[str] = []
        page.on("console", lambda said: self.faults.append(said.text) if said.type in ("error", "warning") else None)
        page.on("pageerror", lambda error: self.faults.append(str(error)))
        page.on("request", lambda asked: self._asked(asked.url, address))
        page.on("response", lambda got: self.faults.append(f"{got.status} {got.url}") if got.status >= 400 else None)

    def _asked(self, url: str, address: str) -> None:
        if not url.startswith((address, "data:", "blob:", "about:")):
            self.faults.append(f"asked elsewhere: {url}")

    def open(self, url: str):
        """Open an address and wait until the page and its pictures are there."""
        self.page.goto(url)
        self.settle()
        return self.page

    def settle(self) -> None:
        """Wait until the page is there, its fonts loaded and every picture drawn."""
        self.page.wait_for_selector("#page-room")
        self.page.wait_for_function(
            "() => document.fonts.status === 'loaded' && [...document.querySelectorAll('[data-picture]')]"
            ".every((room) => room.dataset.drawn"
            " === `${room.dataset.picture}&width=${Math.floor(room.clientWidth / 4) * 4}`)"
        )


@pytest.fixture
def look(browser):
    """Return a function that opens a watched page: width, height, theme -> Watched; no fault may remain at the end."""
    contexts, pages = [], []

    def begin(address: str, width: int = 1440, height: int = 900, theme: str = "light") -> Watched:
        context = browser.new_context(viewport={"width": width, "height": height}, color_scheme=theme)
        contexts.append(context)
        watched = Watched(context.new_page(), address)
        pages.append(watched)
        return watched

    yield begin
    faults = [fault for watched in pages for fault in watched.faults]
    for context in contexts:
        context.close()
    assert faults == []


@pytest.fixture(scope="session")
def axe():
    """Return the text of axe-core: from AXE, from .tenthwise/axe.min.js, or from node_modules."""
    named = os.environ.get("AXE")
    places = [Path(named)] if named else []
    places += [ROOT / ".tenthwise" / "axe.min.js", ROOT / "node_modules" / "axe-core" / "axe.min.js"]
    for place in places:
        if place.exists():
            return place.read_text(encoding="utf-8")
    missing(
        "axe-core (.tenthwise/axe.min.js, made by `make test` where npm is there)"
        if shutil.which("npm")
        else "npm, for axe-core"
    )
    return ""
