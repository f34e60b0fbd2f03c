"""From the bench to a checked table: entry, files, suspects, corrections, serial gauges."""

from tracker.readings.entry import Entry, read_entry
from tracker.readings.events import Event, read_events
from tracker.readings.files import iter_readings, read_readings
from tracker.readings.imports import COLUMNS, Import, readings_frame, refusal_words
from tracker.readings.refused import write_refused
from tracker.readings.serial_gauge import serial_lines

__all__ = [
    "COLUMNS",
    "Entry",
    "Event",
    "Import",
    "iter_readings",
    "read_entry",
    "read_events",
    "read_readings",
    "readings_frame",
    "refusal_words",
    "serial_lines",
    "write_refused",
]
