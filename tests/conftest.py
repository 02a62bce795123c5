"""What holds for all tests: a slow or busy machine is no fault, so invented examples have no deadline of their own."""

import itertools
import os
import tempfile

import pytest
from hypothesis import settings

settings.register_profile("ours", deadline=None)
settings.load_profile("ours")

# No test finds what another one kept, nor what the user did, and none leaves anything behind.
_KEPT = tempfile.TemporaryDirectory(prefix="trimloft-tests-")
_number = itertools.count()
os.environ["XDG_CACHE_HOME"] = os.path.join(_KEPT.name, "shared")


@pytest.fixture(autouse=True)
def _nothing_kept_from_before(monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", os.path.join(_KEPT.name, str(next(_number))))


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    """Workers take runs of neighbouring tests, so that what a file's tests share is made in one worker, not in each."""
    from xdist.scheduler import WorkStealingScheduling

    return WorkStealingScheduling(config, log)


def pytest_addoption(parser):
    parser.addoption("--slow", action="store_true", help="run what takes minutes, too")


def pytest_collection_modifyitems(config, items):
    if not config.getoption("--slow"):
        skip = pytest.mark.skip(reason="takes minutes; run with --slow")
        for item in items:
            if "slow" in item.keywords:
                item.add_marker(skip)
