"""A command that is stopped: one line, 128 + signal, nothing half written, nobody left running."""

import signal
import time

import pytest

from tests.running import LIMIT_S, OTHER, SHEET, alive, children, listens, needs_proc, started, until

pytestmark = needs_proc
SIGNALS = [signal.SIGINT, signal.SIGTERM, signal.SIGHUP]


@pytest.fixture
def sheet(tmp_path):
    path = tmp_path / "seat.toml"
    path.write_text((SHEET + OTHER).replace("mesh = 20", "mesh = 5"))
    return path


def stopped(sheet, number, *, after=None, workers=False):
    """Start `make`, stop it, and hold what is left to the law; returns the exit code."""
    folder = sheet.parent
    command = started("-m", "flatten", "make", sheet, "--out", folder / "out", "--no-pictures")
    until(lambda: listens(command) or command.poll() is not None, "the command to listen")
    if workers:
        until(lambda: len(children(command.pid)) > 1 or command.poll() is not None, "its workers")
    time.sleep(after or 0.0)
    below = children(command.pid)
    command.send_signal(number)
    out, err = command.communicate(timeout=LIMIT_S)
    until(lambda: not [worker for worker in below if alive(worker)], "the workers to end")
    if command.returncode != 0:
        assert command.returncode == 128 + number, err
        assert out == ""
        assert err.strip().count("\n") == 0, err
        assert err.startswith("trimloft: stopped by")
        assert [path.name for path in folder.iterdir()] == [sheet.name]
    return command.returncode


@pytest.mark.parametrize("number", SIGNALS)
def test_a_signal_with_workers_under_way(sheet, number):
    assert stopped(sheet, number, workers=True) == 128 + number


def test_ctrl_c_at_the_first_moment(sheet):
    assert stopped(sheet, signal.SIGINT) == 130


@pytest.mark.parametrize("after", [0.1, 0.3, 0.6, 1.0, 1.5])
def test_ctrl_c_at_any_moment(sheet, after):
    assert stopped(sheet, signal.SIGINT, after=after) in (0, 130)


def test_a_signal_that_the_caller_ignores_stays_ignored():
    code = (
        "import signal; signal.signal(signal.SIGHUP, signal.SIG_IGN)\n"
        "from flatten.app.stopping import listen; listen(); signal.raise_signal(signal.SIGHUP); print('still here')"
    )
    out, err = started("-c", code).communicate(timeout=LIMIT_S)
    assert out.strip() == "still here", err


def test_a_stop_that_a_finalizer_swallows_is_raised_again():
    code = (
        "import signal, time\n"
        "from flatten.app.stopping import Stopped, listen\n"
        "listen()\n"
        "class Left:\n"
        "    def __del__(self): signal.raise_signal(signal.SIGTERM)\n"
        "try:\n"
        "    left = Left(); del left\n"
        f"    time.sleep({LIMIT_S})\n"
        "except Stopped as fault: print(fault.exit_code)\n"
    )
    out, err = started("-c", code).communicate(timeout=LIMIT_S / 2)
    assert (out.strip(), err) == ("143", "")
