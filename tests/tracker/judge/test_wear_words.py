"""What is said of wear: past the limit, one piece left, and a jump that no event explains."""

import numpy as np
import pytest
from click.testing import CliRunner

from tracker.cli.entrance import tenthwise

JOB = """
[job]
name = "Nest, test pins"
unit = "mm"
[features.pin]
kind = "external"
nominal = 12.0
lower = 11.980
upper = {upper}
gauge = "g"
[gauges.g]
resolution = 0.0001
"""


def worn(folder, sizes, upper="12.010"):
    (folder / "job.toml").write_text(JOB.format(upper=upper), encoding="utf-8")
    rows = [f"pin,P{index},{size:.4f},mm" for index, size in enumerate(sizes, start=1)]
    (folder / "pin.csv").write_text("feature,piece,value,unit\n" + "\n".join(rows) + "\n", encoding="utf-8")
    done = CliRunner().invoke(tenthwise, ["wear", str(folder)])
    return done.exit_code, " ".join(done.output.split())


def pins(n=30, wear=0.0003, drop=0.0):
    made = np.arange(n)
    noise = np.random.default_rng(2).normal(0, 0.0003, n)
    return 11.99 + wear * made - np.where(made >= 15, drop, 0.0) + noise


def test_a_jump_that_no_event_explains_is_named_by_its_piece_and_withholds_pieces_left(tmp_path):
    code, said = worn(tmp_path, pins(drop=0.004))
    assert code == 2
    assert said.startswith("pin: something changed that no event explains")
    assert "looks as if something changed after piece P15, where size jumps by -" in said
    assert "log the event" in said
    assert "more pieces are each within limits" not in said


@pytest.mark.parametrize(
    ("upper", "words"),
    [
        ("11.995", "; the mean is past the limit already"),
        ("11.9995", "more piece is within limits with 95 %"),
        ("12.010", "more pieces are each within limits with 95 %, the mean reaches the limit after"),
    ],
    ids=["past", "one", "several"],
)
def test_pieces_left_in_plain_words(tmp_path, upper, words):
    code, said = worn(tmp_path, pins(), upper=upper)
    assert code == 1
    assert words in said
    assert "after 0" not in said
    assert "1 more pieces" not in said


def test_a_series_exactly_on_a_line_shows_no_signal(tmp_path):
    _, said = worn(tmp_path, [11.99 + 0.0004 * k for k in range(12)])
    assert "3 sigma" not in said
    assert "exactly on the wear line" in said
