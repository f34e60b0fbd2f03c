"""A closure put together: by the names of its pieces, what is measured on one piece kept together."""

import pandas as pd

from tracker.job import parse_job
from tracker.judge import check
from tracker.judge.put_together import put_together
from tracker.readings import read_readings

JOB = """[job]
unit = "in"
[features.head]
kind = "length"
nominal = 0.5
{part}
[features.step]
kind = "length"
nominal = 0.1
{part}
[features.depth]
kind = "length"
nominal = 0.125
[closures.stand]
terms = {{ head = 1, step = -1, depth = -1 }}
limits = [0.2745, 0.2755]
"""
FIT_TOO = """[job]
unit = "in"
[features.bore]
kind = "internal"
nominal = 0.5
part = "plate"
[features.depth]
kind = "length"
nominal = 0.25
part = "plate"
[features.shank]
kind = "external"
nominal = 0.501
part = "button"
[features.head]
kind = "length"
nominal = 0.75
part = "button"
[fits.press]
internal = "bore"
external = "shank"
gap = [-0.0009, -0.0003]
[closures.stand]
terms = { head = 1, depth = -1 }
limits = [0.4995, 0.5005]
"""
SIZES = {
    "head": {"A": 0.5000, "B": 0.5010, "C": 0.5020},
    "step": {"C": 0.1010, "A": 0.1000, "B": 0.1005},
    "depth": {"1": 0.1250, "2": 0.1255, "3": 0.1260, "4": 0.1300},
}


def made(tmp_path, part=""):
    rows = [(name, piece, f"{size:.5f}") for name, own in SIZES.items() for piece, size in own.items()]
    pd.DataFrame(rows, columns=["feature", "piece", "value"]).to_csv(tmp_path / "readings.csv", index=False)
    job = parse_job(JOB.format(part=part))
    answer = check(job, read_readings(tmp_path, job), ())
    return put_together(job, answer, answer.closures[0])


def test_names_and_sums_go_together(tmp_path):
    found = made(tmp_path)
    for row, total in zip(found.pieces.tolist(), found.found.sums.tolist()):
        names = [term.pieces[place] for term, place in zip(found.terms, row)]
        assert abs(SIZES["head"][names[0]] - SIZES["step"][names[1]] - SIZES["depth"][names[2]] - total) < 1e-12
    assert [len(names) for names in found.left_over] == [0, 0, 1]


def test_features_of_one_part_stay_on_their_piece(tmp_path):
    found = made(tmp_path, part='part = "button"')
    for row in found.pieces.tolist():
        head, step, _ = (term.pieces[place] for term, place in zip(found.terms, row))
        assert head == step
    assert found.found.good == 3
    assert found.found.method == "as paired"
    assert found.left_over == ((), (), ("4",))


def test_what_is_not_measured_is_not_put_together(tmp_path):
    (tmp_path / "head.csv").write_text("piece,value\n1,.5\n")
    job = parse_job(JOB.format(part=""))
    answer = check(job, read_readings(tmp_path / "head.csv", job), ())
    assert put_together(job, answer, answer.closures[0]) is None


def test_what_the_pairs_must_meet_besides_decides(tmp_path):
    """The sheet of a closure and the bench sheet of the fit name the same pairs."""
    job = parse_job(FIT_TOO)
    rows = [
        (name, piece, f"{size:.5f}")
        for name, own in {
            "bore": {"A": 0.5000, "B": 0.5010},
            "depth": {"A": 0.2500, "B": 0.2501},
            "shank": {"1": 0.5016, "2": 0.5006},
            "head": {"1": 0.7500, "2": 0.7501},
        }.items()
        for piece, size in own.items()
    ]
    pd.DataFrame(rows, columns=["feature", "piece", "value"]).to_csv(tmp_path / "readings.csv", index=False)
    answer = check(job, read_readings(tmp_path, job), ())
    found = put_together(job, answer, answer.closures[0])
    pairs = [tuple(term.pieces[place] for term, place in zip(found.terms, row)) for row in found.pieces.tolist()]
    assert pairs == [(row.external, row.internal) for row in answer.fits[0].pairs] == [("2", "A"), ("1", "B")]
    assert "must meet" in found.found.method
