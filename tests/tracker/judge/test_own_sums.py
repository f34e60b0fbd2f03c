"""Closures on one part, and on three: each piece has its own sum, and nothing is promised that is not listed."""

import math

import numpy as np
import pytest

from tracker import check
from tracker.fit import closure
from tracker.judge import check_lines

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


def test_a_closure_over_three_parts_prints_and_says_that_it_lists_no_pairs(tmp_path):
    features = [feature("a", 30), feature("b", 10), feature("c", 5)]
    sizes = {"a": A, "b": [10.004, 9.996, 10.0, 10.010, 9.99, 10.0], "c": [5.0, 5.004, 4.996, 5.002, 4.998, 5.0]}
    answer = check(job(tmp_path / "job", features, "a = 1, b = -1, c = -2", [9.98, 10.02], **sizes))
    text = " ".join("\n".join(check_lines(answer)).split())
    assert answer.closures[0].verdict.word == "pair"
    assert "Which go together is worked out for two parts, and these are 3." in text


def test_the_noise_of_each_term_leaves_its_own_scatter_and_not_that_of_the_whole_sum(tmp_path):
    """The sd of a sum is the root of the squares of what each term scatters beside its own noise (JCGM 100, 5.1.2)."""
    rng = np.random.default_rng(5)
    a, b = rng.normal(30, 0.01, 12), rng.normal(5, 0.01, 12)
    noise = {"a": 0.004, "b": 0.006}
    found = closure({"a": (1, a), "b": (-2, b)}, 19.0, 21.0, uncertainty=noise)
    sds = [math.sqrt(np.var(x, ddof=1) - u**2) for x, u in ((a, 0.004), (b, 0.006))]
    assert found.sd == pytest.approx(math.hypot(sds[0], 2 * sds[1]))
