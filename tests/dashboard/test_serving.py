"""The commands that serve: what they refuse, before any work is done."""

import socket

import pytest
from click.testing import CliRunner

from dashboard.commands import demo, serve
from tracker.errors import TrackerError
from tracker.record import open_record


@pytest.mark.parametrize("command", [demo, serve], ids=["demo", "serve"])
def test_a_port_in_use_is_said_at_once(command, tmp_path):
    record = tmp_path / "bench.sqlite"
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        done = CliRunner().invoke(command, ["--no-open", "--port", str(port), "--record", str(record)])
    assert isinstance(done.exception, TrackerError)
    assert f"port {port}" in str(done.exception)
    assert "--port" in str(done.exception)
    assert not record.exists()


WORDS = "four words at the bench"
OTHERS = [["--host", "0.0.0.0"], ["--host", "192.0.2.5"], ["--sign-in"], ["--https"], ["--name", "bench.example"]]
OTHERS += [["--proxy", "127.0.0.1"]]


@pytest.fixture
def served(monkeypatch, tmp_path):
    """Return a function that calls serve and gives what it would have served: the app's door and the options."""
    seen = {}

    class Server:
        effective_port = 8050

        def run(self):
            raise KeyboardInterrupt

        def close(self):
            pass

    def instead(app, **options):
        seen.update(options)
        return Server()

    monkeypatch.setattr("waitress.server.create_server", instead)
    monkeypatch.setattr("dashboard.commands.checked_port", lambda *_: None)
    made = []

    def create(record, **given):
        made.append(given["door"])
        return type("App", (), {"server": None})

    monkeypatch.setattr("dashboard.server.create_app", create)

    def go(*arguments):
        record = str(tmp_path / "bench.sqlite")
        done = CliRunner().invoke(serve, ["--no-open", "--record", record, *arguments])
        return done, (made[-1] if made else None), dict(seen)

    return go


@pytest.mark.parametrize("arguments", OTHERS, ids=[" ".join(item) for item in OTHERS])
def test_whoever_lets_others_in_needs_someone_who_administers(served, arguments, tmp_path):
    done, _, seen = served(*arguments)
    assert isinstance(done.exception, TrackerError)
    assert "tenthwise users add NAME --role administers" in str(done.exception)
    assert seen == {}
    with open_record(tmp_path / "bench.sqlite") as record:
        record.add_user("operator A", "logs", WORDS)
    assert isinstance(served(*arguments)[0].exception, TrackerError)
    with open_record(tmp_path / "bench.sqlite") as record:
        record.add_user("lead", "administers", WORDS)
    done, door, _ = served(*arguments)
    assert done.exception is None
    assert door.sign_in
    assert ("caution: passwords" in done.output) == (arguments[0] == "--host")


def test_this_machine_alone_needs_nobody(served):
    for host in ("127.0.0.1", "localhost", "::1"):
        done, door, seen = served("--host", host)
        assert done.exception is None
        assert not door.sign_in
        assert "trusted_proxy" not in seen
        assert seen["clear_untrusted_proxy_headers"] is False


def test_what_is_stated_reaches_the_door_and_the_server(served, tmp_path):
    with open_record(tmp_path / "bench.sqlite") as record:
        record.add_user("lead", "administers", WORDS)
    done, door, seen = served("--https", "--proxy", "127.0.0.1", "--name", "Bench.example.", "--name", "b2.example")
    assert done.exception is None
    assert (door.sign_in, door.https, door.names) == (True, True, ("bench.example", "b2.example"))
    assert (seen["trusted_proxy"], seen["clear_untrusted_proxy_headers"]) == ("127.0.0.1", True)
    assert seen["ident"] is None


@pytest.mark.parametrize("host", ["0.0.0.0", "192.0.2.5", "bench"])
def test_the_demo_is_for_this_machine_alone(host, tmp_path):
    done = CliRunner().invoke(demo, ["--no-open", "--host", host, "--record", str(tmp_path / "bench.sqlite")])
    assert isinstance(done.exception, TrackerError)
    assert "without a sign-in" in str(done.exception)


def test_the_help_names_the_options_and_roles_that_there_are():
    import re
    from pathlib import Path

    from tracker.record import ROLES

    text = (Path(__file__).parents[2] / "dashboard" / "help" / "serving.md").read_text(encoding="utf-8")
    known = {option for part in serve.params for option in part.opts}
    assert {"--https", "--proxy", "--name"} <= set(re.findall(r"--[a-z-]+", text)) & known
    assert re.findall(r"^\| (reads|logs|signs off|administers) \|", text, re.MULTILINE) == list(ROLES)


def test_changed_samples_begin_a_fresh_record_of_the_demo_in_the_cache(monkeypatch, tmp_path):
    import shutil

    from dashboard.commands import SAMPLES
    from dashboard.demo_record import demo_record
    from tracker.record import default_record_path

    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    shutil.copytree(SAMPLES, tmp_path / "samples")
    first = demo_record(tmp_path / "samples")
    assert first.parent == tmp_path / "cache" / "tenthwise"
    assert first == demo_record(tmp_path / "samples") == demo_record(SAMPLES)
    changed = next((tmp_path / "samples").glob("*/*.csv"))
    changed.write_text(changed.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    second = demo_record(tmp_path / "samples")
    assert second != first
    changed.rename(changed.with_name("renamed.csv"))
    assert demo_record(tmp_path / "samples") not in (first, second)
    assert not default_record_path().parent.exists()


def test_the_demo_opens_the_record_of_the_cache_and_keeps_it(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "data"))
    monkeypatch.setattr("sys.platform", "linux")
    ran = []
    monkeypatch.setattr("dashboard.commands.run", lambda record, *_, **__: ran.append(len(record.jobs())))
    for _ in range(2):
        done = CliRunner().invoke(demo, ["--no-open", "--port", "0"])
        assert done.exception is None, done.output
    assert ran[0] == ran[1] > 0
    assert [path.suffix for path in (tmp_path / "cache" / "tenthwise").glob("demo-*.sqlite")] == [".sqlite"]
    assert not (tmp_path / "data").exists()
