"""A gauge on a serial port, played by a pseudo-terminal."""

import os
import termios
import threading
import time
import tty

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.errors import ReadingsError
from tracker.readings import serial_lines
from tracker.readings.serial_gauge import LONGEST_LINE, line_pattern, lines_of, reading_in_line

PATTERN = r"(?P<value>[+-]?[0-9.]+) *(?P<unit>mm|in)?"


@pytest.fixture
def gauge():
    """Return a function that sends bytes in pieces, and the name of the port they come out of."""
    ours, theirs = os.openpty()
    tty.setraw(ours)
    tty.setraw(theirs)
    name = os.ttyname(theirs)
    unopened = termios.tcgetattr(theirs)

    def send(*pieces):
        def sending():
            until = time.monotonic() + 30
            while termios.tcgetattr(theirs) == unopened and time.monotonic() < until:
                time.sleep(0.01)
            time.sleep(0.3)  # a port throws away what came before it was opened, as a real one does
            for piece in pieces:
                os.write(ours, piece)

        thread = threading.Thread(target=sending)
        thread.start()
        return thread

    yield send, name
    os.close(ours)
    os.close(theirs)


def test_one_line_is_one_reading(gauge):
    send, name = gauge
    thread = send(b"0.6252\r\n0.62", b"53\r\n\r\n", b"+00.6254 in\n", b"?!\r")
    assert list(serial_lines(name, quiet=2.0)) == ["0.6252", "0.6253", "+00.6254 in", "?!"]
    thread.join()


def test_the_job_says_where_in_the_line_the_reading_is(gauge):
    send, name = gauge
    thread = send(b"01A+015.880 mm\r\n01A+015.881 mm\r\nlow battery\r\n")
    pattern = r"01A[+]0*(?P<value>[0-9.]+) (?P<unit>in|mm)"
    assert list(serial_lines(name, pattern=pattern, quiet=2.0)) == ["15.880 mm", "15.881 mm", "low battery"]
    thread.join()


def test_thirty_readings_in_a_burst_come_whole_and_in_order(gauge):
    send, name = gauge
    expected = [f"0.{6200 + i}" for i in range(30)]
    thread = send("".join(f"{value}\r\n" for value in expected).encode())
    assert list(serial_lines(name, quiet=2.0)) == expected
    thread.join()


def test_a_port_that_is_not_there_is_said():
    with pytest.raises(ReadingsError, match="cannot be opened"):
        next(serial_lines("/dev/no-such-port"))


@pytest.mark.parametrize("pattern", ["(", "[0-9.]+"])
def test_a_pattern_that_cannot_work_is_refused(pattern):
    with pytest.raises(ReadingsError, match="group named value"):
        line_pattern(pattern)


def test_a_line_without_the_form_is_refused_by_name():
    with pytest.raises(ReadingsError, match="low battery"):
        reading_in_line("low battery", line_pattern(PATTERN))


class Pieces:
    """A port that hands out given pieces, then nothing."""

    def __init__(self, pieces):
        self.pieces = list(pieces)

    def read(self, size=1):
        return self.pieces.pop(0) if self.pieces else b""


def test_bytes_without_an_end_of_line_are_refused():
    with pytest.raises(ReadingsError, match="without the end of a line"):
        list(lines_of(Pieces([b"9" * (LONGEST_LINE + 1)]), ends_when_quiet=True))


@given(st.lists(st.from_regex(r"[0-9]{1,3}\.[0-9]{1,5}", fullmatch=True), max_size=20), st.data())
def test_however_the_bytes_are_cut_the_readings_are_the_same(values, data):
    sent = "".join(f"{value}\r\n" for value in values).encode()
    cuts = sorted(data.draw(st.lists(st.integers(0, len(sent)), max_size=8)))
    pieces = [sent[a:b] for a, b in zip([0, *cuts], [*cuts, len(sent)]) if b > a]
    assert list(lines_of(Pieces(pieces), ends_when_quiet=True)) == values
