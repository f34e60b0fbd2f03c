"""The sample jobs judged once, for every test of figures and pages."""

from pathlib import Path

import pytest

from dashboard.commands import load_samples
from dashboard.parts.answers import Answers
from tracker.record import open_record

SAMPLES = Path(__file__).parents[2] / "sample_readings"


@pytest.fixture(scope="session")
def record(tmp_path_factory):
    """Return a record that holds every sample job."""
    with open_record(tmp_path_factory.mktemp("dashboard") / "samples.sqlite") as kept:
        load_samples(kept)
        yield kept


@pytest.fixture(scope="session")
def answers(record):
    """Return the judged jobs of that record."""
    return Answers(record)


@pytest.fixture(scope="session")
def numbers_of(record):
    """Return sample folder -> job number."""
    names = sorted(path.parent.name for path in SAMPLES.glob("*/job.toml"))
    return dict(zip(names, load_samples(record)))


@pytest.fixture
def sample(answers, numbers_of):
    """Return a function: sample folder and unit -> Answer."""
    return lambda name, unit="": answers.of(numbers_of[name], unit)
