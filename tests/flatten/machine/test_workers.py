"""The worker pool: same results whatever the number of workers, no trace left behind, nobody left running."""

import math
import os
import signal
import subprocess
import threading
import time
from pathlib import Path

import pytest

from flatten.job import pipeline
from flatten.job.make import make
from flatten.machine.workers import WorkerGone, worker_pool
from meshes.base.problems import Problem, ProblemError
from meshes.base.progress import Cancelled, while_wanted
from tests.running import LIMIT_S, OTHER, SHEET, alive, children, ended_with_the_test, needs_proc, started, until


def silent(doing, done, total):
    return None


def talking(x):
    print("a task that prints")
    return x * x


def failing(x):
    if x >= 3:
        time.sleep(0.4 if x == 3 else 0.0)
        raise ProblemError([Problem("G100", f"task {x}", "it fails")])
    return x


class Odd(Exception):
    """Cannot be read back from a pickle."""

    def __init__(self, one, two):
        super().__init__(f"{one} {two}")


def odd(x):
    raise Odd("left", "right")


def greedy(x):
    raise MemoryError


def stuck(path):
    Path(path).write_text(str(os.getpid()))
    time.sleep(LIMIT_S)


def surroundings(x):
    return {name: os.environ.get(name) for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS")}


@pytest.mark.parametrize("workers", [1, 2])
def test_results_come_in_the_order_of_the_tasks_and_are_counted(workers):
    heard = []
    with worker_pool(workers) as pool:
        found = pool.map(talking, range(9), lambda doing, done, total: heard.append((done, total)))
        assert pool.map(math.sqrt, [4.0, 9.0], silent) == [2.0, 3.0]
    assert found == [k * k for k in range(9)]
    assert heard == [(k, 9) for k in range(10)]


@pytest.mark.parametrize("workers", [1, 2])
def test_the_first_failure_in_order_is_told_and_the_pool_goes_on(workers):
    with worker_pool(workers) as pool:
        with pytest.raises(ProblemError) as told:
            pool.map(failing, range(6), silent)
        assert told.value.problems == (Problem("G100", "task 3", "it fails"),)
        assert pool.map(talking, range(3), silent) == [0, 1, 4]


def test_a_failure_that_cannot_be_sent_is_told_in_words():
    with worker_pool(2) as pool, pytest.raises(RuntimeError, match="left right"):
        pool.map(odd, range(2), silent)


@pytest.mark.parametrize("workers", [1, 2])
def test_too_little_memory_is_a_numbered_problem(workers):
    with worker_pool(workers) as pool, pytest.raises(ProblemError, match="W102"):
        pool.map(greedy, range(2), silent)


def test_workers_have_one_thread_and_the_caller_keeps_its_surroundings():
    before = dict(os.environ)
    with worker_pool(2) as pool:
        assert pool.map(surroundings, [0, 1], silent) == [dict.fromkeys(surroundings(0), "1")] * 2
        assert dict(os.environ) == before
    assert dict(os.environ) == before


@needs_proc
def test_nobody_is_left_when_the_block_is_left():
    with worker_pool(2) as pool:
        pool.map(talking, range(2), silent)
        mine = set(children(os.getpid()))
        assert len(mine) >= 2
    assert not [number for number in mine if alive(number)]
    with pytest.raises(ZeroDivisionError), worker_pool(2) as pool:
        pool.map(talking, range(2), lambda doing, done, total: mine.update(children(os.getpid())) or 1 // (2 - done))
    assert not [number for number in mine if alive(number)]


@needs_proc
def test_a_worker_that_is_killed_is_told_at_once():
    def kill():
        until(lambda: children(os.getpid()), "the workers")
        time.sleep(0.2)
        os.kill(children(os.getpid())[0], signal.SIGKILL)

    before = time.monotonic()
    killer = threading.Thread(target=kill)
    killer.start()
    with worker_pool(2) as pool, pytest.raises(WorkerGone, match=r"W101.*SIGKILL.*memory"):
        pool.map(time.sleep, [LIMIT_S, LIMIT_S], silent)
    assert time.monotonic() - before < LIMIT_S / 2


@needs_proc
@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGTERM, signal.SIGHUP, signal.SIGINT])
def test_workers_end_with_the_script_that_had_them_however_it_ends(number, tmp_path):
    marks = [str(tmp_path / name) for name in "ab"]
    code = (
        "from flatten.machine.workers import worker_pool\n"
        "from tests.flatten.machine.test_workers import silent, stuck\n"
        f"with worker_pool(2) as pool: pool.map(stuck, {marks}, silent)\n"
    )
    with ended_with_the_test(started("-c", code)) as script:
        workers = until(lambda: all(Path(m).exists() for m in marks) and children(script.pid), "tasks under way")
        assert len(workers) == 2
        script.send_signal(number)
        script.wait(LIMIT_S)
        until(lambda: not [worker for worker in workers if alive(worker)], "the workers to end")


@needs_proc
def test_a_job_is_the_same_whatever_the_number_of_workers(tmp_path, monkeypatch):
    sheet = tmp_path / "seat.toml"
    sheet.write_text(SHEET + OTHER)
    monkeypatch.setattr(os, "cpu_count", lambda: 3)
    # Even so short a job is shared out.
    monkeypatch.setattr(pipeline, "WORTH_S", 0.0)
    jobs = []
    for workers in (1, 2, 3):
        had = []
        jobs.append(make(sheet, workers=workers, progress=lambda *_, had=had: had.append(len(children(os.getpid())))))
        assert max(had) == (workers if workers > 1 else 0)
    for job in jobs[1:]:
        assert job.flats.keys() == jobs[0].flats.keys()
        for name, flat in job.flats.items():
            assert flat.points.tobytes() == jobs[0].flats[name].points.tobytes()
            assert (flat.demand, flat.floor, flat.verdict) == (
                jobs[0].flats[name].demand,
                jobs[0].flats[name].floor,
                jobs[0].flats[name].verdict,
            )
        assert job.problems == jobs[0].problems


@needs_proc
def test_a_script_that_is_waited_for_in_vain_is_not_left_running():
    """Nor what it has started."""
    code = "import subprocess, sys; subprocess.run([sys.executable, '-c', 'import time; time.sleep(600)'])"
    with pytest.raises(subprocess.TimeoutExpired), ended_with_the_test(started("-c", code)) as script:
        script.wait(0.01 if (below := until(lambda: children(script.pid), "its process")) else None)
    assert script.poll() is not None
    until(lambda: not any(alive(number) for number in below), "what it had started")


WITHOUT_GUARD = """
import os, sys, threading
import flatten
before = dict(os.environ)
found = []
sheet = {sheet!r}
thread = threading.Thread(target=lambda: found.append(flatten.make(sheet, workers=2)))
thread.start()
from tests.running import children
had = 0
while thread.is_alive():
    had = max(had, len(children(os.getpid())))
    thread.join(0.05)
assert had == 2, had
assert dict(os.environ) == before
print("once", len(found[0].flats))
"""


@pytest.mark.parametrize("how", ["file", "stdin"])
def test_a_script_without_a_main_guard_makes_a_seat_from_a_thread(how, tmp_path):
    sheet = tmp_path / "seat.toml"
    sheet.write_text((SHEET + OTHER).replace("mesh = 20", "mesh = 6"))
    code = WITHOUT_GUARD.format(sheet=str(sheet))
    (tmp_path / "script.py").write_text(code)
    with ended_with_the_test(started(tmp_path / "script.py") if how == "file" else started("-", stdin=-1)) as script:
        out, err = script.communicate(code if how == "stdin" else None, timeout=LIMIT_S)
    assert script.returncode == 0, err
    assert out.startswith("once ")
    assert out.count("once") == 1


def test_waiting_for_workers_ends_when_their_work_is_wanted_no_more(tmp_path):
    begun = time.monotonic()
    with worker_pool(2) as pool, pytest.raises(Cancelled), while_wanted(lambda: False):
        pool.map(stuck, [str(tmp_path / "a"), str(tmp_path / "b")], silent)
    assert time.monotonic() - begun < LIMIT_S / 2
    assert not pool._workers


def elsewhere(_):
    time.sleep(0.2)
    return os.getpid()


def test_tasks_are_done_beside_what_goes_on_here():
    with worker_pool(2) as pool:
        assert pool.beside(elsewhere, [0]) is None, "no processes run yet, and none are started for it"
        pool.start()
        heard = []
        begin = time.monotonic()
        waits = pool.beside(elsewhere, range(3))
        assert time.monotonic() - begin < 0.2, "it is only begun"
        found = waits(lambda *told: heard.append(told), "the papers")
        assert len(found) == 3
        assert os.getpid() not in found
        assert heard == [("the papers", k, 3) for k in (1, 2, 3)]
        with pytest.raises(ProblemError, match="task 3"):
            pool.beside(failing, range(5))(silent, "")
        assert pool.map(talking, range(3), silent) == [0, 1, 4]
