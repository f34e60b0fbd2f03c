"""A bench of its own for the Log page: one job whose plugs are not measured yet, and a shop that can be shut."""

import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from contextlib import contextmanager
from dataclasses import dataclass, field

import pytest

JOB = """
[job]
name = "Nest, test buttons"
unit = "in"

[features.bore]
kind = "internal"
nominal = 0.5000
lower = 0.5000
upper = 0.5008
pieces = 8
repeats = 1

[features.plug]
kind = "external"
nominal = 0.5006
lower = 0.5003
upper = 0.5012
pieces = 8
repeats = 1
master = 0.5000

[fits.plug_in_bore]
internal = "bore"
external = "plug"
gap = [-0.0009, -0.0003]
"""
BORES = (0.50015, 0.50020, 0.50025, 0.50020, 0.50015, 0.50025, 0.50020, 0.50030)


@dataclass
class Listener:
    """What a page said and where it went."""

    address: str
    allowed: list
    said: list = field(default_factory=list)
    left: list = field(default_factory=list)

    def watch(self, page):
        page.on("console", lambda message: self.heard(message.text) if message.type in ("error", "warning") else None)
        page.on("pageerror", lambda error: self.heard(str(error)))
        page.on("request", lambda request: self.requested(request.url))

    def heard(self, text):
        if not any(word in text for word in self.allowed):
            self.said.append(text)

    def requested(self, url):
        if not url.startswith((self.address, "data:", "blob:")):
            self.left.append(url)


@pytest.fixture
def opened(browser):
    """Hand out pages that must end without a console error and without a request to anywhere else."""

    @contextmanager
    def one(address, *, width=1440, height=1000, theme="light", allowed=()):
        context = browser.new_context(viewport={"width": width, "height": height}, reduced_motion="reduce")
        context.add_cookies([{"name": "tenthwise-theme", "value": theme, "url": address}])
        page = context.new_page()
        listener = Listener(address, list(allowed))
        listener.watch(page)
        yield page
        context.close()
        assert listener.said == []
        assert listener.left == []

    return one


@dataclass
class PlugBench:
    """A record, the number of its job, and where it is served."""

    address: str
    record: object
    job: int

    def at(self, page, **query):
        rest = "&".join(f"{name}={value}" for name, value in {"job": self.job, **query}.items())
        return f"{self.address}/{page}?{rest}"

    def entries(self, feature):
        return list(reversed(self.record.log_state(self.job, feature, 1000).entries))

    def kept(self, feature):
        """Return piece, repeat and what was typed of each reading that counts, as they were kept."""
        return [(entry.piece, entry.repeat, entry.typed) for entry in self.entries(feature) if not entry.struck]


@pytest.fixture
def plugs(tmp_path, served):
    """Serve a record with one job: bores measured, plugs not yet."""
    from dashboard.server import create_app
    from tracker.record import open_record

    record = open_record(str(tmp_path / "bench.sqlite"))
    job = record.add_job(JOB, "operator A").id
    for piece, size in enumerate(BORES, 1):
        record.add_reading(job, "bore", str(piece), f"{size:.5f}", client_id=f"bore {piece}", operator="operator A")
    with served(create_app(record, bench="bench 2").server) as address:
        yield PlugBench(address, record, job)
    record.close()


class Shop:
    """A server in a process of its own, to be stopped and started again on the same record and port."""

    def __init__(self, folder):
        self.file = folder / "shop.sqlite"
        with socket.socket() as taken:
            taken.bind(("127.0.0.1", 0))
            self.port = taken.getsockname()[1]
        self.address = f"http://127.0.0.1:{self.port}"
        self.process = None

    def start(self):
        place = ["--no-open", "--port", str(self.port), "--record", str(self.file)]
        silent = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        self.process = subprocess.Popen([sys.executable, "-m", "tracker.cli", "serve", *place], **silent)
        until = time.monotonic() + 90
        while time.monotonic() < until:
            assert self.process.poll() is None, "the server ended by itself"
            try:
                with urllib.request.urlopen(f"{self.address}/health", timeout=2) as answer:
                    if answer.status == 200:
                        return
            except (urllib.error.URLError, ConnectionError, TimeoutError):
                time.sleep(0.1)
        raise AssertionError("the server did not come up")

    def stop(self):
        if self.process is not None:
            self.process.kill()
            self.process.wait(timeout=20)
            self.process = None


@pytest.fixture
def shop(tmp_path):
    """Serve a record with one job and no reading, in a process of its own."""
    from tracker.record import open_record

    found = Shop(tmp_path)
    with open_record(str(found.file)) as record:
        found.job = record.add_job(JOB, "operator A").id
    found.start()
    yield found
    found.stop()
