"""One of a thing is not said as several."""

import numpy as np
import pytest

from tracker import check, load_job
from tracker.judge import check_lines
from tracker.plurals import noun
from tracker.readings import read_readings

JOB = """
[job]
name = "Nest, one pin"
unit = "mm"
[features.pin]
kind = "external"
nominal = 12.0
lower = 11.98
upper = 12.02
"""


@pytest.mark.parametrize(
    ("number", "said"), [(0, "categories"), (1, "category"), (np.int64(1), "category"), (2, "categories")]
)
def test_the_noun_goes_with_its_number(number, said):
    assert noun(number, "category", "categories") == said


def test_one_piece_read_once_is_said_in_the_singular(tmp_path):
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    (tmp_path / "pin.csv").write_text("feature,piece,value,unit\npin,1,12.001,mm\n", encoding="utf-8")
    job = load_job(tmp_path)
    found = read_readings(tmp_path, job)
    text = "\n".join(check_lines(check(job, found), found))
    assert "1 reading counts, 0 suspect" in text
    assert "pin: 1 piece, 1 reading, size by mean" in text
    assert "1 readings" not in text
    assert "1 pieces" not in text
