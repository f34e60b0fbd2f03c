"""The bank of published check values: one fixture hands out a case by its id."""

import json
from pathlib import Path

import pytest

BANK = Path(__file__).parent / "bank"
_loaded = json.loads((BANK / "cases.json").read_text(encoding="utf-8"))
CASES = {item["id"]: item for item in (_loaded["cases"] if isinstance(_loaded, dict) else _loaded)}


@pytest.fixture(scope="session")
def case():
    """Return a function that gives the case of an id."""
    return CASES.__getitem__


@pytest.fixture(scope="session")
def bank_data():
    """Return the folder with the data files of the bank."""
    return BANK / "data"
