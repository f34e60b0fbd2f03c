"""The PostgreSQL server of the record's tests, for its faults too."""

import importlib.util
from pathlib import Path

import pytest

_PLACE = Path(__file__).parent.parent / "tracker" / "record" / "conftest.py"
_SPEC = importlib.util.spec_from_file_location("record_conftest", _PLACE)
_SHARED = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(_SHARED)

postgres_server = _SHARED.postgres_server
url = _SHARED.url
record = _SHARED.record
blank_file = _SHARED.blank_file
blank_database = _SHARED.blank_database
job_text = _SHARED.job_text


@pytest.fixture
def new_server():
    """What starts a server for one test alone, which may stop it."""
    return _SHARED.new_server
