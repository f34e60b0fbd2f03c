"""What all tests share."""

import numpy as np
import pytest


@pytest.fixture(autouse=True)
def untouched_global_randomness():
    """Fail a test that uses numpy's global random state: chance is always an argument."""
    before = np.random.get_state()[1].tobytes()
    yield
    assert np.random.get_state()[1].tobytes() == before, "the global random state was used"
