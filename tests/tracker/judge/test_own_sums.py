"""Closures on one part, and on three: each piece has its own sum, and nothing is promised that is not listed."""

import itertools
import math

import numpy as np
import pytest
from click.testing import CliRunner

from tracker import check
from tracker.cli.entrance import tenthwise
from tracker.fit import closure
from tracker.job import load_job
from tracker.judge import check_lines, closure_pair_lines
from tracker.judge.put_together import put_together

HEAD = """
[job]
name = "Nest, pins with a neck"
unit = "mm"
[gauges.g]
resolution = 0.001
"""


def feature(name, nominal, part=""):
    stated = f'part = "{part}"\n' if part else ""
    return f'[features.{name}]\nkind = "length"\nnominal = {nominal}\ngauge = "g"\n{stated}'


def job(path, features, terms, limits, **columns):
    path.mkdir(exist_ok=True)
    text = HEAD + "".join(features) + f"[closures.neck]\nterms = {{ {terms} }}\nlimits = {limits}\n"
    (path / "job.toml").write_text(text, encoding="utf-8")
    for name, sizes in columns.items():
        rows = "".join(f"{k},{size:.3f},{size:.3f}\n" for k, size in enumerate(sizes, 1))
        (path / f"{name}.csv").write_text(f"piece,r1,r2\n{rows}", encoding="utf-8")
    return path


def one_part(path, a, b, limits):
    features = [feature("a", 30, "pin"), feature("b", 10, "pin")]
    return check(job(path, features, "a = 1, b = -1", limits, a=a, b=b))


A = [30.012, 29.990, 30.003, 29.984, 30.020, 30.001]


def test_sums_of_one_part_are_its_own_and_not_those_of_any_two_pieces(tmp_path):
    b = [size - 20.0 for size in A]
    answer = one_part(tmp_path / "job", A, b, [19.99, 20.01])
    (found,) = answer.closures
    assert found.verdict.word == "press as they come"
    assert (found.result.worst_case.low, found.result.worst_case.high) == pytest.approx((20.0, 20.0))
    assert found.result.measured_share == 1.0
    assert found.result.sd == pytest.approx(0.0, abs=1e-9)
    assert "whichever pieces meet" not in found.verdict.reason.lower()


def test_a_piece_whose_own_sum_is_out_is_named_and_no_choice_of_mates_is_offered(tmp_path):
    b = [size - 20.0 for size in A]
    b[2] -= 0.020
    answer = one_part(tmp_path / "job", A, b, [19.99, 20.01])
    (found,) = answer.closures
    assert found.verdict.word == "remake"
    assert found.verdict.reason == (
        "1 of 6 pins is out of the limits of neck by itself, whatever they meet: pin 3 (20.0200)."
    )
    assert found.verdict.action == "Remake pin 3, or rework where there is material left."
    assert "Choose" not in "\n".join(check_lines(answer))


def test_a_closure_over_three_parts_lists_which_pieces_go_together(tmp_path):
    features = [feature("a", 30), feature("b", 10), feature("c", 5)]
    b, c = [10.004, 9.996, 10.0, 10.010, 9.99, 10.0], [5.0, 5.004, 4.996, 5.002, 4.998, 5.0]
    folder = job(tmp_path / "job", features, "a = 1, b = -1, c = -2", [9.98, 10.02], a=A, b=b, c=c)
    answer = check(folder)
    (found,) = answer.closures
    assert found.verdict.word == "pair"
    assert found.verdict.action == "Put the pieces together as listed."
    for name in "abc":
        assert sorted(row.pieces[name] for row in found.made) == list("123456")
    for row in found.made:
        place = {name: int(piece) - 1 for name, piece in row.pieces.items()}
        assert row.total == pytest.approx(A[place["a"]] - b[place["b"]] - 2 * c[place["c"]])
        assert row.within
        assert 9.98 <= row.total <= 10.02
    assert found.chance_pairs >= 0.95
    assert "6 of 6 are, and all hold" in " ".join("\n".join(check_lines(answer)).split())
    text = list(closure_pair_lines(answer, found))
    assert text[0] == "neck: 6 of 6 sums within limits"
    assert CliRunner().invoke(tenthwise, ["pair", str(folder)]).exit_code == 0
    listed = put_together(load_job(folder), answer, found)
    assert [[term.pieces[p] for term, p in zip(listed.terms, row)] for row in listed.pieces.tolist()] == [
        list(row.pieces.values()) for row in found.made
    ]


STACK = {
    "a": [0.4996, 0.49934, 0.49988, 0.50021, 0.50057],
    "b": [0.25002, 0.24989, 0.24984, 0.25015, 0.25033],
    "c": [0.75114, 0.75038, 0.75052, 0.7518, 0.7511],
}


def stack(path, limits="[-0.0005, 0.0005]", gauge="", **sizes):
    path.mkdir()
    text = f'[job]\nname = "Stack of three"\nunit = "in"\n{gauge and "[gauges.g]" + chr(10) + gauge + chr(10)}'
    for name, middle in (("a", 0.5), ("b", 0.25), ("c", 0.75)):
        text += f'[features.{name}]\nkind = "length"\nnominal = {middle}\npart = "{name.upper()}"\n'
        text += f"lower = {middle - 0.001}\nupper = {middle + 0.001}\n" + ('gauge = "g"\n' if gauge else "")
    text += f"[closures.stack]\nterms = {{ c = 1, a = -1, b = -1 }}\nlimits = {limits}\n"
    (path / "job.toml").write_text(text, encoding="utf-8")
    for name, own in (STACK | sizes).items():
        rows = "".join(f"{k},{size:.5f}\n" for k, size in enumerate(own, 1))
        (path / f"{name}.csv").write_text(f"piece,value\n{rows}", encoding="utf-8")
    return path


def test_pieces_whose_mean_sum_is_out_of_limits_are_not_promised_to_go_together(tmp_path):
    """Five sums average 0.00102 in any arrangement, over the limit; all 14,400 ways give three within it at most."""
    best = 0
    for a in itertools.permutations(STACK["a"]):
        for b in itertools.permutations(STACK["b"]):
            best = max(best, sum(abs(z - x - y) <= 0.0005 + 1e-12 for x, y, z in zip(a, b, STACK["c"])))
    folder = stack(tmp_path / "stack")
    answer = check(folder)
    (found,) = answer.closures
    assert best == sum(row.within for row in found.made) == 3
    assert found.verdict.word == answer.verdict.word == "remake"
    assert "only 3 of 5 can be put together within limits" in found.verdict.reason
    assert "0.00102 in, is the same in every arrangement and stands 5.2 tenths over the upper" in found.verdict.reason
    assert found.verdict.action.startswith("Bring every c 10.2 tenths smaller")
    assert "Choose" not in "\n".join(check_lines(answer))
    for command in ("check", "pair"):
        ran = CliRunner().invoke(tenthwise, [command, str(folder)])
        assert ran.exit_code == 1
        assert "3 of 5" in ran.output
    listed = put_together(load_job(folder), answer, found)
    assert (listed.found.good, len(listed.found.sums)) == (3, 5)
    cut = check(stack(tmp_path / "cut", c=[size - 0.00102 for size in STACK["c"]]))
    assert cut.closures[0].verdict.word == "pair"
    assert all(row.within for row in cut.closures[0].made)


def test_a_piece_too_far_off_is_named_with_what_to_take_off_it(tmp_path):
    c = [0.7501, 0.7499, 0.7500, 0.7502, 0.7512]
    a, b = [0.5001, 0.4999, 0.5000, 0.5002, 0.4998], [0.2500, 0.2501, 0.2499, 0.2500, 0.2500]
    found = check(stack(tmp_path / "stack", a=a, b=b, c=c)).closures[0]
    assert found.verdict.word == "remake"
    assert "only 4 of 5" in found.verdict.reason
    assert found.verdict.action.startswith("Put those together that are within limits, as listed; for the others bring")
    assert "c 5" in found.verdict.action
    assert "smaller (to go with" in found.verdict.action
    assert {item.piece for item in found.left_over if item.feature == "c"} == {"5"}


@pytest.mark.parametrize(
    ("gauge", "limits", "says", "says_not"),
    [
        ('calibration = "1 tenth"', "[-0.0002, 0.0002]", "calibrated more closely", "repeat every"),
        ('resolution = "4 tenths"', "[-0.0002, 0.0002]", "repeat every reading", "calibrated"),
        ('calibration = "1 tenth"\nresolution = "4 tenths"', "[-0.0003, 0.0003]", "calibrated more closely", "help"),
    ],
    ids=["common only", "own only", "both"],
)
def test_what_makes_a_sum_better_known_hangs_on_what_is_in_the_way(tmp_path, gauge, limits, says, says_not):
    found = check(stack(tmp_path / "stack", limits=limits, gauge=gauge)).closures[0]
    assert found.verdict.word == "measure better"
    assert says in found.verdict.action
    assert says_not not in found.verdict.action


def test_the_noise_of_each_term_leaves_its_own_scatter_and_not_that_of_the_whole_sum(tmp_path):
    """The sd of a sum is the root of the squares of what each term scatters beside its own noise (JCGM 100, 5.1.2)."""
    rng = np.random.default_rng(5)
    a, b = rng.normal(30, 0.01, 12), rng.normal(5, 0.01, 12)
    noise = {"a": 0.004, "b": 0.006}
    found = closure({"a": (1, a), "b": (-2, b)}, 19.0, 21.0, uncertainty=noise)
    sds = [math.sqrt(np.var(x, ddof=1) - u**2) for x, u in ((a, 0.004), (b, 0.006))]
    assert found.sd == pytest.approx(math.hypot(sds[0], 2 * sds[1]))
