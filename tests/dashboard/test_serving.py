"""The commands that serve: what they refuse, before any work is done."""

import socket

import pytest
from click.testing import CliRunner

from dashboard.commands import demo, serve
from tracker.errors import TrackerError


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


@pytest.mark.parametrize("host", ["0.0.0.0", "192.168.1.5", "bench"])
def test_an_address_that_others_reach_is_refused_while_there_is_no_sign_in(host, tmp_path):
    done = CliRunner().invoke(serve, ["--no-open", "--host", host, "--record", str(tmp_path / "bench.sqlite")])
    assert isinstance(done.exception, TrackerError)
    assert "sign-in" in str(done.exception)
