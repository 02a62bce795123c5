"""Room on a machine that is made up, messages between processes, and how workers end, piece by piece."""

import io
import os
import pickle
import resource
import signal
import struct
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from flatten.machine import room as rooms
from flatten.machine import workers
from flatten.machine.estimate import _in_unit, _left, _make_room, _size, _time
from flatten.machine.room import FreeMemory
from flatten.machine.worker import answer, read_frame, write_frame
from flatten.machine.workers import ONE_THREAD, WorkerGone, WorkerPool, _asked, _gathered, gone, killed, worker_pool
from meshes.base.problems import ProblemError

GB = 1 << 30


@pytest.fixture
def machine(tmp_path, monkeypatch):
    """A machine with 8 GB available, a control group and no limit of its own; its places."""
    proc, groups = tmp_path / "proc", tmp_path / "groups"
    (proc / "self").mkdir(parents=True)
    (groups / "shop" / "job").mkdir(parents=True)
    (proc / "meminfo").write_text("MemTotal: 16777216 kB\nMemAvailable:    8388608 kB\nSwapFree: 1 kB\n")
    (proc / "self" / "cgroup").write_text("")
    (proc / "self" / "statm").write_text("1000 500 20\n")
    monkeypatch.setattr(rooms, "PROC", proc)
    monkeypatch.setattr(rooms, "CGROUP", groups)
    monkeypatch.setattr(resource, "getrlimit", lambda which: (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
    return SimpleNamespace(proc=proc, groups=groups)


def test_without_groups_and_limits_all_that_is_available_may_be_taken(machine):
    assert rooms.room() == FreeMemory(8 * GB, None)
    (machine.proc / "meminfo").write_text("MemTotal: 16777216 kB\n")
    whole = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    assert rooms.room().together == whole


def group(place, most, used, idle=None, names=("memory.max", "memory.current")):
    for name, value in zip(names, (most, used), strict=True):
        (place / name).write_text(f"{value}\n")
    if idle is not None:
        (place / "memory.stat").write_text(f"anon 5\ninactive_file {idle}\nactive_file 7\n")


def test_the_tightest_of_all_groups_round_a_process_holds(machine):
    (machine.proc / "self" / "cgroup").write_text("0::/shop/job\n")
    group(machine.groups / "shop" / "job", "max", 5)
    assert rooms.room().together == 8 * GB
    group(machine.groups / "shop", 3 * GB, GB)
    assert rooms.room().together == 2 * GB
    group(machine.groups / "shop", 3 * GB, GB, idle=GB // 2)
    assert rooms.room().together == 2 * GB + GB // 2
    group(machine.groups / "shop" / "job", GB, GB // 4)
    assert rooms.room().together == 3 * GB // 4
    group(machine.groups, GB // 8, 0)
    assert rooms.room().together == GB // 8
    group(machine.groups, GB, 2 * GB)
    assert rooms.room().together == 0
    # A path of the machine outside a container leads to no folder here, and up to the top all the same.
    (machine.proc / "self" / "cgroup").write_text("0::/elsewhere/deep\n")
    assert rooms.room().together == 0
    (machine.proc / "self" / "cgroup").unlink()
    assert rooms.room().together == 8 * GB


def test_groups_of_the_first_version_lie_below_their_kind(machine):
    names = ("memory.limit_in_bytes", "memory.usage_in_bytes")
    place = machine.groups / "memory" / "shop"
    place.mkdir(parents=True)
    group(place, 2 * GB, GB, names=names)
    (place / "memory.stat").write_text("total_inactive_file 4096\n")
    for kinds, counts in (("cpu,memory", True), ("memory", True), ("cpu", False), ("memoryless", False)):
        (machine.proc / "self" / "cgroup").write_text(f"4:{kinds}:/shop\n")
        assert rooms.room().together == (GB + 4096 if counts else 8 * GB), kinds
    # How the first version says that there is no limit.
    (machine.proc / "self" / "cgroup").write_text("4:memory:/shop\n")
    group(place, (1 << 63) - 4096, GB, names=names)
    assert rooms.room().together == 8 * GB
    group(place, 1 << 60, GB, names=names)
    assert rooms.room().together == 8 * GB


def test_a_limit_of_addresses_leaves_what_is_not_held_yet(machine, monkeypatch):
    monkeypatch.setattr(resource, "getrlimit", lambda which: (4 * GB, 9 * GB))
    assert rooms.room().each == 4 * GB - 1000 * resource.getpagesize()
    (machine.proc / "self" / "statm").write_text(f"{5 * GB // resource.getpagesize()} 1 1\n")
    assert rooms.room().each == 0
    (machine.proc / "self" / "statm").write_text("odd\n")
    assert rooms.room().each == 4 * GB


# ---- words of estimates ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0.2, "1 s"),
        (89.0, "89 s"),
        (89.5, "90 s"),
        (90.0, "2 min"),
        (121.0, "3 min"),
        (5399.0, "90 min"),
        (5400.0, "1.5 h"),
    ],
)
def test_time_is_told_in_what_it_is_counted_in(seconds, words):
    assert _time(seconds) == words


def test_what_stands_in_the_way_is_told_with_what_makes_room():
    found = SimpleNamespace(bytes=3 * GB, each=2 * GB)
    assert _left(found, FreeMemory(GB, GB)) == "only 1.0 GB is free"
    addresses = "ulimit -v leaves each process 512 MB of the 2.0 GB of addresses it takes"
    assert _left(found, FreeMemory(None, GB // 2)) == addresses
    assert _left(found, FreeMemory(3 * GB, GB // 2)) == addresses
    assert _make_room(FreeMemory(GB, None)) == "close other programs"
    assert _make_room(FreeMemory(GB, GB)) == "close other programs and raise ulimit -v"
    assert _in_unit(2.5, SimpleNamespace(unit="mm")) == "2.5"
    assert _in_unit(2.5, SimpleNamespace(unit="in")) == '"2.5 mm"'
    assert [_size(n << 20) for n in (0, 1, 1023, 1024, 1536)] == ["1 MB", "1 MB", "1023 MB", "1.0 GB", "1.5 GB"]


# ---- messages -------------------------------------------------------------------------------------------------------


def test_a_message_is_its_length_in_eight_bytes_and_itself():
    stream = io.BytesIO()
    write_frame(stream, b"abc")
    write_frame(stream, b"")
    assert stream.getvalue() == struct.pack(">Q", 3) + b"abc" + bytes(8)
    stream.seek(0)
    assert [read_frame(stream) for _ in range(3)] == [b"abc", b"", None]
    for cut in (4, 10):
        assert read_frame(io.BytesIO(stream.getvalue()[:cut])) is None


def doubled(task):
    return 2 * task


def refusing(task):
    raise ValueError(f"not {task}")


class Unsent(Exception):
    def __reduce__(self):
        raise TypeError("cannot be sent")


def unsent(task):
    raise Unsent(task)


def test_a_task_is_answered_with_its_result_or_what_it_raised():
    assert pickle.loads(answer(pickle.dumps((doubled, 21)))) == (True, 42)
    sound, fault = pickle.loads(answer(pickle.dumps((refusing, 7))))
    assert not sound
    assert str(fault) == "not 7"
    assert "in a worker process:" in fault.__notes__[0]
    assert "refusing" in fault.__notes__[0]
    sound, fault = pickle.loads(answer(pickle.dumps((unsent, 7))))
    assert not sound
    assert type(fault) is RuntimeError
    assert "Unsent: 7" in str(fault)


class Worker:
    """A process that answers at once."""

    def __init__(self, code=-9, lingers=False):
        self.code, self.lingers, self.killed, self.waited = code, lingers, False, []
        self.stdin, self.stdout = io.BytesIO(), io.BytesIO()

    def wait(self, patience=None):
        self.waited.append(patience)
        if self.lingers and not self.killed:
            raise subprocess.TimeoutExpired("worker", patience)
        return self.code

    def kill(self):
        self.killed = True


def test_a_worker_is_asked_and_what_it_says_is_taken():
    worker = Worker()
    write_frame(worker.stdout, pickle.dumps((True, 42)))
    worker.stdout.seek(0)
    assert _asked(worker, doubled, 21) == 42
    worker.stdin.seek(0)
    assert pickle.loads(read_frame(worker.stdin)) == (doubled, 21)
    worker = Worker()
    write_frame(worker.stdout, pickle.dumps((False, KeyError("x"))))
    worker.stdout.seek(0)
    with pytest.raises(KeyError):
        _asked(worker, doubled, 21)
    gone = Worker()
    with pytest.raises(WorkerGone) as told:
        _asked(gone, doubled, 21)
    assert [problem.code for problem in told.value.problems] == ["W101"]
    closed = Worker(code=3)
    closed.stdin = SimpleNamespace(write=lambda data: (_ for _ in ()).throw(BrokenPipeError()), close=lambda: None)
    with pytest.raises(WorkerGone) as told:
        _asked(closed, doubled, 21)
    assert "ended with status 3;" in told.value.problems[0].text


def test_a_worker_that_lingers_is_killed_after_two_seconds():
    for lingers in (False, True):
        worker = Worker(lingers=lingers)
        assert gone(worker) == -9
        assert worker.killed == lingers
        assert worker.waited == ([2.0, None] if lingers else [2.0])
        assert worker.stdin.closed
        assert worker.stdout.closed


@pytest.mark.parametrize(
    ("code", "words"),
    [
        (3, "ended with status 3;"),
        (0, "ended with status 0;"),
        (-15, "was ended by SIGTERM;"),
        (-9, "was ended by SIGKILL, as systems do when memory runs out;"),
        (-250, "ended with status -250;"),
    ],
)
def test_how_a_worker_ended_is_told(code, words):
    assert words in killed(code).text
    assert killed(code).code == "W101"


def queued(*told):
    waiting = list(told)

    def get(timeout):
        assert timeout == 0.1
        if waiting[0] is None:
            waiting.pop(0)
            raise workers.queue.Empty
        return waiting.pop(0)

    return SimpleNamespace(get=get)


def test_results_are_gathered_by_number_and_the_first_failure_is_raised_when_all_before_it_are_done():
    said = []
    found = _gathered(queued((1, "b", None), None, (0, "a", None)), 2, lambda *told: said.append(told), "work")
    assert found == ["a", "b"]
    assert said == [("work", 1, 2), ("work", 2, 2)]
    one, two = ValueError("one"), ValueError("two")
    with pytest.raises(ValueError, match="one"):
        _gathered(queued((2, None, two), (1, None, one), (0, "a", None)), 3, lambda *told: None, "")
    with pytest.raises(ValueError, match="two"):
        _gathered(queued((2, None, two), (0, "a", None), (1, "b", None)), 3, lambda *told: None, "")
    gone = WorkerGone([killed(-9)])
    with pytest.raises(WorkerGone):
        _gathered(queued((2, None, two), (1, None, gone)), 3, lambda *told: None, "")


# ---- the pool -------------------------------------------------------------------------------------------------------


@pytest.fixture
def started(monkeypatch):
    made = []
    monkeypatch.setattr(workers, "started", lambda: made.append(Worker()) or made[-1])
    return made


def test_processes_are_started_only_for_several_long_tasks(started):
    say = lambda *told: None  # noqa: E731
    pool = WorkerPool(2)
    assert pool.map(doubled, [1], say) == [2]
    assert pool.map(doubled, [], say) == []
    assert pool.map(doubled, [1, 2, 3], say, short=True) == [2, 4, 6]
    assert started == []
    assert WorkerPool(1).map(doubled, [1, 2], say) == [2, 4]
    assert started == []
    pool.map_if(False)
    assert started == []
    pool.map_if(True)
    assert len(started) == 2
    pool.start()
    assert len(started) == 2
    assert pool.map_if(True).keywords == {"short": False}
    assert pool.map_if(False).keywords == {"short": True}


def test_steps_are_told_from_nought_on_and_too_little_memory_is_a_problem(started):
    said = []
    WorkerPool(1).map(doubled, [5, 6], lambda *told: said.append(told), "maps")
    assert said == [("maps", 0, 2), ("maps", 1, 2), ("maps", 2, 2)]

    def greedy(task):
        raise MemoryError

    with pytest.raises(ProblemError) as told:
        WorkerPool(1).map(greedy, [5], lambda *told: None)
    assert [problem.code for problem in told.value.problems] == ["W102"]


@pytest.mark.parametrize("at_once", [False, True])
def test_a_pool_is_closed_gently_or_at_once(started, at_once):
    pool = WorkerPool(2)
    pool.start()
    pool.close(at_once=at_once)
    assert [worker.killed for worker in started] == [at_once] * 2
    assert all(worker.stdin.closed for worker in started)
    assert all(worker.waited for worker in started)
    pool.start()
    assert len(started) == 4


def test_a_block_has_its_own_pool_or_the_one_it_is_given(started, monkeypatch):
    closed = []
    monkeypatch.setattr(WorkerPool, "close", lambda self, *, at_once: closed.append(at_once))
    monkeypatch.setattr(os, "cpu_count", lambda: 3)
    with worker_pool(2) as pool:
        assert pool.count == 2
        with worker_pool(pool) as same:
            assert same is pool
        assert closed == []
    assert closed == [False]
    with worker_pool(9) as pool:
        assert pool.count == 3
    with pytest.raises(KeyError), worker_pool(2):
        raise KeyError
    assert closed == [False, False, True]
    monkeypatch.setattr(os, "cpu_count", lambda: None)
    with worker_pool(9) as pool:
        assert pool.count == 1
    monkeypatch.setattr(sys, "executable", "")
    with worker_pool(2) as pool:
        assert pool.count == 1


def test_a_worker_is_a_fresh_interpreter_that_finds_what_the_caller_finds(monkeypatch):
    asked = {}
    monkeypatch.setattr(subprocess, "Popen", lambda command, **more: asked.update(command=command, **more))
    monkeypatch.setattr(sys, "path", ["", "/one", "/one", "two"])
    workers.started()
    assert asked["command"] == [sys.executable, "-P", "-m", "flatten.machine.worker", "flatten.job.pipeline"]
    places = asked["env"]["PYTHONPATH"].split(os.pathsep)
    assert places == [os.getcwd(), "/one", str(Path.cwd() / "two")]
    assert {asked["env"][name] for name in ONE_THREAD} == {"1"}
    assert (asked["stdin"], asked["stdout"]) == (subprocess.PIPE, subprocess.PIPE)
    assert asked["process_group"] == 0
    assert "stderr" not in asked
    assert signal.SIGINT not in asked
