"""The gauge of a feature: what few repeats leave open is said."""

import math

import numpy as np
import pytest
from scipy import stats

from tracker import check, load_job
from tracker.judge import judge_gauge
from tracker.readings import read_readings

JOB = """
[job]
name = "Nest, test buttons"
unit = "mm"
[features.plug]
kind = "external"
nominal = 12.0
lower = 11.98
upper = 12.02
gauge = "g"
[gauges.g]
resolution = 0.0001
"""


def judged(folder, pieces, noise):
    (folder / "job.toml").write_text(JOB, encoding="utf-8")
    rng = np.random.default_rng(3)
    rows = [
        f"plug,{piece},{turn},{12 + size + noise * rng.normal():.4f},mm"
        for piece, size in enumerate(rng.normal(0, 0.004, pieces), start=1)
        for turn in (1, 2)
    ]
    (folder / "plug.csv").write_text("feature,piece,repeat,value,unit\n" + "\n".join(rows) + "\n", encoding="utf-8")
    job = load_job(folder)
    found = read_readings(folder, job)
    answer = check(job, found)
    return judge_gauge(job, answer.feature("plug"), found.readings)


def test_few_repeats_leave_it_open_and_it_is_said_how_many_more_would_settle_it(tmp_path):
    found = judged(tmp_path, pieces=5, noise=0.0023)
    low, high = (
        6 * math.hypot(found.repeatability.estimate * math.sqrt(5 / stats.chi2.ppf(end, 5) / 2), 0.0001 / math.sqrt(12))
        for end in (0.975, 0.025)
    )
    assert low / 0.04 < 0.3 < high / 0.04
    assert f"5 repeats leave it open between {100 * low / 0.04:.0f} and {100 * high / 0.04:.0f} %" in found.reason
    assert "more would settle it" in found.reason


@pytest.mark.parametrize(("pieces", "noise"), [(60, 0.0018), (5, 0.0003)])
def test_nothing_is_said_where_the_repeats_are_enough(tmp_path, pieces, noise):
    assert "leave it open" not in judged(tmp_path, pieces, noise).reason
