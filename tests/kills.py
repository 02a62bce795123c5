"""A child process that kills itself before a given line: what is left must be sound after every single one."""

import os
import signal
import sys
from collections.abc import Callable, Collection

import pytest

needs_fork = pytest.mark.skipif(not hasattr(os, "fork"), reason="a child is killed by a signal")


def killed_at(line: int, work: Callable[[], object], watched: Collection[str]) -> bool:
    """Run `work` in a child that kills itself before the given line it runs of the watched files; False when it ended
    before that."""
    child = os.fork()
    if child == 0:
        count = 0

        def trace(frame, event, argument):
            nonlocal count
            if frame.f_code.co_filename not in watched:
                return None
            if event == "line":
                if count == line:
                    os.kill(os.getpid(), signal.SIGKILL)
                count += 1
            return trace

        # Whatever happens in the child must not run into the test runner's own code.
        try:
            sys.settrace(trace)
            work()
            sys.settrace(None)
            os._exit(0)
        finally:
            os._exit(1)
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        assert os.WTERMSIG(status) == signal.SIGKILL
        return True
    assert os.WEXITSTATUS(status) == 0, "the child failed before it was killed"
    return False
