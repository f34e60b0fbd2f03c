"""What all tests share."""

import pytest
from numpy.random import mtrand


@pytest.fixture(autouse=True)
def untouched_global_randomness():
    """Fail a test that uses numpy's global random state: chance is always an argument."""
    before = mtrand._rand.get_state(legacy=False)["state"]["key"].tobytes()
    yield
    assert mtrand._rand.get_state(legacy=False)["state"]["key"].tobytes() == before, "the global random state was used"
