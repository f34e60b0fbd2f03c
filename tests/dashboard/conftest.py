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


NEST = """[job]
name = "invented nest"
unit = "in"
[features.boss]
kind = "internal"
nominal = 0.3750
material = "aluminium"
[features.shank]
kind = "external"
nominal = 0.3756
[fits.nest]
internal = "boss"
external = "shank"
gap = [LOWER, UPPER]
press = { length = 0.25, outer = 0.55, outer_yield = YIELD }
[gauges."bench gauge"]
resolution = 0.00001
"""


def sixty():
    """Return {feature: sizes} of sixty bosses and shanks, evenly spread, too far apart for any order but not trays."""
    at = [(2 * piece + 1) / 60 - 1 for piece in range(60)]
    return {
        name: [round(middle + 0.00028 * place, 5) for place in at]
        for name, middle in (("boss", 0.3750), ("shank", 0.3756))
    }


@pytest.fixture
def nest(tmp_path):
    """Return a function: sizes a feature, gap limits and strength of the outer part -> Answer of an invented nest."""
    from dashboard.parts.outside import answer_of
    from tracker.cli.source import open_source

    def made(sizes=None, lower=-0.0009, upper=-0.0003, strength=40000):
        job = NEST.replace("LOWER", str(lower)).replace("UPPER", str(upper)).replace("YIELD", str(strength))
        (tmp_path / "job.toml").write_text(job, encoding="utf-8")
        rows = [
            f"{name},{piece},{size:.6f}"
            for name, own in (sizes or sixty()).items()
            for piece, size in enumerate(own, 1)
            for _ in range(2)
        ]
        (tmp_path / "readings.csv").write_text("feature,piece,value\n" + "\n".join(rows) + "\n", encoding="utf-8")
        return answer_of(open_source(str(tmp_path), None))

    return made
