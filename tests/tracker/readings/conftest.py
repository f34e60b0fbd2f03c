"""A job to read files for, and a way to write them."""

import pytest

from tracker.job import parse_job

JOB = """
[job]
name = "rest buttons"
unit = "in"

[features.bore]
kind = "internal"
nominal = 0.6250
lower = 0.6250
upper = 0.6257
gauge = "bore gauge"

[features.shank]
kind = "external"
nominal = 0.6256

[fits.button_in_plate]
internal = "bore"
external = "shank"
gap = [-0.0009, -0.0003]

[gauges."bore gauge"]
resolution = 0.00005
"""


@pytest.fixture
def job():
    return parse_job(JOB)


@pytest.fixture
def write(tmp_path):
    """Return a function that writes a file into a folder of its own and returns its path."""

    def writing(name, content, encoding="utf-8"):
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode(encoding))
        return path

    return writing
