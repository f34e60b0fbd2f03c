"""Gauges on a serial port: one line a reading, cut out of the line by the job's pattern."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any, Protocol

from tracker.errors import ReadingsError

LONGEST_LINE = 200
ACCEPTED_PATTERN = (
    "accepted is a regular expression with a group named value, and one named unit where the gauge sends it, such as"
    " line = '(?P<value>[+-]?[0-9.]+) *(?P<unit>mm|in)?'"
)


class Port(Protocol):
    """What is asked of a port: bytes, or none when nothing came in time."""

    def read(self, size: int = 1, /) -> bytes:
        """Return up to ``size`` bytes."""
        ...


def line_pattern(pattern: str | None) -> re.Pattern[str] | None:
    """Return the compiled pattern of a gauge's line; None when the line is the value.

    Raises
    ------
    ReadingsError
        If it is no regular expression, or has no group named value.
    """
    if pattern is None:
        return None
    try:
        compiled = re.compile(pattern)
    except re.error as error:
        raise ReadingsError(f"the gauge's line {pattern!r} is no pattern: {error}; {ACCEPTED_PATTERN}") from error
    if "value" not in compiled.groupindex:
        raise ReadingsError(f"the gauge's line {pattern!r} has no group named value; {ACCEPTED_PATTERN}")
    return compiled


def reading_in_line(line: str, pattern: re.Pattern[str] | None) -> str:
    """Return the reading that a gauge's line holds, as one would type it.

    Raises
    ------
    ReadingsError
        If the line does not have the form of the pattern.

    Examples
    --------
    >>> reading_in_line("01A+000.6252 in", re.compile(r"01A[+]?0*(?P<value>[0-9.]+) (?P<unit>in|mm)"))
    '0.6252 in'
    """
    text = line.strip()
    if pattern is None:
        return text
    match = pattern.search(text)
    if match is None:
        raise ReadingsError(f"the gauge sent {text[:60]!r}, which does not have the form {pattern.pattern!r}")
    value = match["value"].strip()
    if value.startswith("."):
        value = f"0{value}"
    unit = match["unit"] if "unit" in pattern.groupindex else None
    return f"{value} {unit}" if unit else value


def serial_lines(
    port: str, *, pattern: str | None = None, speed: int = 9600, quiet: float | None = None
) -> Iterator[str]:
    """Yield the readings a gauge sends, one a line, as one would type them.

    Parameters
    ----------
    port : str
        The name of the port, for example ``/dev/ttyUSB0`` or ``COM3``.
    pattern : str, optional
        The form of a line (``line`` of the gauge in job.toml): a regular expression with a group named ``value`` and
        perhaps one named ``unit``. Without it the whole line is the reading.
    speed : int
        Bits a second.
    quiet : float, optional
        Seconds without a byte after which the readings end; without it they go on until the caller stops.

    Yields
    ------
    str
        What does not have the form of the pattern is yielded as it came, so that it is refused where readings are
        read, in the same words as a mistyped value, and not lost unseen.

    Raises
    ------
    ReadingsError
        If pyserial is not installed, the port cannot be opened or is lost, or the pattern is none.
    """
    form = line_pattern(pattern)
    try:
        import serial
    except ImportError as error:
        raise ReadingsError("a serial gauge needs pyserial; install it with: pip install tenthwise[serial]") from error
    try:
        opened = serial.Serial(port, speed, timeout=quiet if quiet is not None else 0.5)
    except (serial.SerialException, ValueError) as error:
        raise ReadingsError(
            f"the port {port!r} cannot be opened: {error}; look for its name and whether it is in use"
        ) from error
    with opened:
        try:
            for line in lines_of(opened, ends_when_quiet=quiet is not None):
                try:
                    yield reading_in_line(line, form)
                except ReadingsError:
                    yield line.strip()
        except serial.SerialException as error:
            raise ReadingsError(f"the gauge on {port!r} was lost: {error}; the readings before it are kept") from error


def lines_of(port: Port, *, ends_when_quiet: bool) -> Iterator[str]:
    """Yield whole lines from a port; CR, LF and CR LF end a line, empty lines are passed over.

    Raises
    ------
    ReadingsError
        If a line is longer than any reading: wrong speed or wrong device.
    """
    held = bytearray()
    while True:
        some = port.read(_waiting(port))
        if not some and ends_when_quiet:
            break
        for byte in some:
            if byte in (10, 13):
                text = held.decode("ascii", errors="replace").strip()
                held.clear()
                if text:
                    yield text
            else:
                held.append(byte)
        if len(held) > LONGEST_LINE:
            raise ReadingsError(
                f"{len(held)} bytes came without the end of a line; look whether speed and device are right"
            )
    text = held.decode("ascii", errors="replace").strip()
    if text:
        yield text


def _waiting(port: Any) -> int:
    return max(1, int(getattr(port, "in_waiting", 0) or 0))
