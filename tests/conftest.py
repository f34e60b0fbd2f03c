"""What all tests share."""

import pytest
from hypothesis import settings
from numpy.random import mtrand

# Nothing in the tests fails on time: a busy machine is no fault.
settings.register_profile("tenthwise", deadline=None)
settings.load_profile("tenthwise")


def global_state():
    """Return all of numpy's global random state, the place in the block too."""
    state = mtrand._rand.get_state(legacy=False)
    return state["state"]["key"].tobytes(), state["state"]["pos"], state["has_gauss"]


@pytest.fixture(autouse=True)
def untouched_global_randomness():
    """Fail a test that uses numpy's global random state: chance is always an argument."""
    before = global_state()
    yield
    assert global_state() == before, "the global random state was used"


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    """Keep the browser's tests in one worker, those of a simulation in one each, and hand out all others one by one.

    Two browsers at once leave neither the time that a page promises, and a simulation is run once for all the tests of
    its file. (Groups by mark need node ids that can be written, which pytest 9.2 no longer has.)
    """
    from xdist.scheduler import LoadScopeScheduling

    class Together(LoadScopeScheduling):
        def _split_scope(self, nodeid):
            if nodeid.startswith("tests/calibration/"):
                return nodeid.partition("::")[0]
            return "browser" if nodeid.startswith("tests/browser/") else nodeid

    return Together(config, log)
