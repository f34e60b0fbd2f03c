"""A TOML text from outside: what takes too much of the machine is refused before it does."""

import resource
import time
import tomllib
from decimal import Decimal

import pytest

from tracker.errors import JobError
from tracker.job import parse_job
from tracker.toml_tables import DEEPEST, toml_tables

DEEP = {
    "dotted key": ".".join(["a"] * 90_000) + " = 1",
    "dotted key with spaces": " . ".join(["a"] * 40_000) + " = 1",
    "quoted key": ".".join(['"a"'] * 40_000) + " = 1",
    "key of two kinds of quotes": ".".join(["'a'", '"b"'] * 20_000) + " = 1",
    "table": "[" + ".".join(["a"] * 90_000) + "]",
    "list of tables": "[[" + ".".join(["a"] * 90_000) + "]]",
    "inside an inline table": "a = {" + ".".join(["b"] * 90_000) + " = 1}",
    "lists": "a = " + "[" * 90_000,
    "closed lists": "a = " + "[" * 200 + "]" * 200,
    "inline tables": "a = " + "{a = " * 300 + "1" + "}" * 300,
}


@pytest.mark.parametrize("kind", DEEP)
def test_too_deep_is_refused_at_once_and_in_little_memory(kind):
    before, begun = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, time.perf_counter()
    with pytest.raises(tomllib.TOMLDecodeError, match="deep"):
        toml_tables(DEEP[kind])
    assert time.perf_counter() - begun < 2.0
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 100_000  # kB


@pytest.mark.parametrize(
    "text", ["a" * 900_000, '"' * 900_000, '"a"' * 300_000, "a." * 12 + " " * 900_000, "- " * 400_000]
)
def test_what_is_no_key_is_looked_through_in_one_go(text):
    begun = time.perf_counter()
    with pytest.raises(tomllib.TOMLDecodeError):
        toml_tables(text)
    assert time.perf_counter() - begun < 2.0


@pytest.mark.parametrize("text", ["a = " + "1" * 5000, "a = 1.5e99999999999999999999999999"])
def test_a_number_that_is_none_is_named(text):
    with pytest.raises(tomllib.TOMLDecodeError, match="number"):
        toml_tables(text, parse_float=Decimal)


def test_too_long_is_refused():
    with pytest.raises(tomllib.TOMLDecodeError, match="accepted are 1,000,000"):
        toml_tables("# " + "x" * 1_000_000)


def test_what_is_as_deep_as_accepted_is_read():
    assert toml_tables(".".join(["a"] * DEEPEST) + " = 1")
    pins = ", ".join(f"{0.6240 + 0.0001 * place:.4f}" for place in range(60))
    assert len(toml_tables(f"pins = [{pins}]")["pins"]) == 60


def test_a_job_says_what_is_wrong_with_it():
    with pytest.raises(JobError, match="is not TOML"):
        parse_job(DEEP["dotted key"])
    with pytest.raises(JobError, match="is not TOML"):
        parse_job("a = " + "1" * 5000)
