"""Work shared out to processes behind one `map`; with one worker, or one task, everything stays in this process.

A worker is a fresh interpreter that runs `flatten.machine.worker` and speaks over its own two pipes. Nothing is forked,
so threads of the caller do no harm; the caller's main module is never run again, so a script needs no guard; and when
this process ends, however it ends, the pipes close, which every worker takes as the order to end at once.
"""

import os
import pickle
import queue
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager, suppress
from dataclasses import dataclass
from functools import partial
from typing import Any, TypeVar

from threadpoolctl import threadpool_limits

from flatten.machine.worker import PRELOAD, read_frame, write_frame
from meshes.base.problems import Problem, ProblemError
from meshes.base.progress import Progress, look_up

Task = TypeVar("Task")
Result = TypeVar("Result")
# Work on one core shorter than this is done before workers have loaded what they need.
WORTH_S = 4.0
# How long a worker may take to end by itself once it is told to.
PATIENCE_S = 2.0
# Dense algebra of a worker stays on one thread: small solves are many times slower when every process runs its own.
ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")


class WorkerGone(ProblemError):
    """A worker ended before its task was done."""


@dataclass(frozen=True)
class _Begun:
    """Tasks under way. done: number, result and fault of each as it ends; stop: set where the rest is not wanted."""

    done: "queue.SimpleQueue[tuple[int, Any, BaseException | None]]"
    stop: threading.Event


class WorkerPool:
    """Runs a function over tasks in at most `count` processes, which are started when they are first worth it."""

    def __init__(self, count: int) -> None:
        self.count = count
        self._workers: list[subprocess.Popen[bytes]] = []

    def start(self) -> None:
        """Start the processes, which load what they need while this one goes on."""
        while self.count > 1 and len(self._workers) < self.count:
            self._workers.append(started())

    def map(
        self,
        work: Callable[[Task], Result],
        tasks: Sequence[Task],
        say: Progress,
        doing: str = "",
        *,
        short: bool = False,
    ) -> list[Result]:
        """Results in the order of `tasks`; `say` hears how many are done.

        short: not worth starting processes for. Raises what the first failing task in order raised, as if one had been
        done after the other, and ProblemError when a worker is killed or the memory does not suffice.
        """
        if len(tasks) > 1 and not short:
            self.start()
        try:
            if len(tasks) > 1 and self._workers:
                return self._shared_out(work, tasks, say, doing)
            return _one_by_one(work, tasks, say, doing)
        except MemoryError as fault:
            raise ProblemError([_no_memory()]) from fault

    def map_if(self, worth: bool) -> Callable[..., Any]:
        """`map` for work that is worth processes, which are started at once, or for work that is too short for them."""
        if worth:
            self.start()
        return partial(self.map, short=not worth)

    def beside(
        self, work: Callable[[Task], Result], tasks: Sequence[Task]
    ) -> Callable[[Progress, str], list[Result]] | None:
        """Begin tasks in the processes while this one goes on; what is returned waits for their results, and nothing
        else may be asked of the pool before. None where no processes run, as too little was to do for them."""
        if not self._workers:
            return None
        begun = self._begun(work, tasks)

        def gathered(say: Progress, doing: str) -> list[Result]:
            return self._waited_for(begun, len(tasks), say, doing)

        return gathered

    def _shared_out(
        self, work: Callable[[Task], Result], tasks: Sequence[Task], say: Progress, doing: str
    ) -> list[Result]:
        say(doing, 0, len(tasks))
        return self._waited_for(self._begun(work, tasks), len(tasks), say, doing)

    def _begun(self, work: Callable[[Task], Result], tasks: Sequence[Task]) -> "_Begun":
        """Tasks handed to the processes as each is free."""
        waiting, done = iter(enumerate(tasks)), queue.SimpleQueue[tuple[int, Any, BaseException | None]]()
        turn, stop = threading.Lock(), threading.Event()

        def feed(worker: subprocess.Popen[bytes]) -> None:
            while True:
                with turn:
                    k, task = next(waiting, (-1, None))
                if k < 0 or stop.is_set():
                    return
                try:
                    done.put((k, _asked(worker, work, task), None))
                except BaseException as fault:
                    stop.set()
                    done.put((k, None, fault))

        for worker in self._workers:
            threading.Thread(target=feed, args=(worker,), daemon=True).start()
        return _Begun(done, stop)

    def _waited_for(self, begun: "_Begun", tasks: int, say: Progress, doing: str) -> list[Any]:
        try:
            return _gathered(begun.done, tasks, say, doing)
        except BaseException:
            # What is still being done is wanted no more; the next work starts new processes.
            begun.stop.set()
            self.close(at_once=True)
            raise

    def close(self, *, at_once: bool) -> None:
        """End the processes; `at_once` in the middle of what they do."""
        for worker in self._workers:
            if at_once:
                worker.kill()
            elif worker.stdin is not None:
                with suppress(OSError):
                    worker.stdin.close()
        for worker in self._workers:
            gone(worker)
        self._workers.clear()


Workers = int | WorkerPool


@contextmanager
def worker_pool(workers: Workers) -> Iterator[WorkerPool]:
    """A pool of at most `workers` processes, gone when the block is left; a pool handed in serves, and stays."""
    if isinstance(workers, WorkerPool):
        yield workers
        return
    pool = WorkerPool(processes_for(workers))
    at_once = True
    try:
        with one_thread():
            yield pool
        at_once = False
    finally:
        pool.close(at_once=at_once)


def processes_for(workers: int) -> int:
    """How many processes a pool of at most `workers` has."""
    # A program with Python built into it has no interpreter to start.
    return min(workers, os.cpu_count() or 1) if sys.executable else 1


def one_thread() -> AbstractContextManager[object]:
    """Dense algebra of this process on one thread while the context lasts."""
    return threadpool_limits(1, user_api="blas")


def _one_by_one(work: Callable[[Task], Result], tasks: Sequence[Task], say: Progress, doing: str) -> list[Result]:
    say(doing, 0, len(tasks))
    results = []
    for k, task in enumerate(tasks):
        results.append(work(task))
        say(doing, k + 1, len(tasks))
    return results


def _gathered(done: "queue.SimpleQueue[Any]", tasks: int, say: Progress, doing: str) -> list[Any]:
    """Results by number; raises the failure with the lowest number, and at once that a worker is gone."""
    found: dict[int, Any] = {}
    faults: dict[int, BaseException] = {}
    while len(found) < tasks:
        try:
            # With a limit, so that a signal is heard in between wherever waiting cannot be interrupted, and that work
            # which is wanted no more ends.
            k, result, fault = done.get(timeout=0.1)
        except queue.Empty:
            look_up()
            continue
        if fault is None:
            found[k] = result
            say(doing, len(found), tasks)
        elif isinstance(fault, WorkerGone):
            raise fault
        else:
            faults[k] = fault
        if faults and all(before in found for before in range(min(faults))):
            raise faults[min(faults)]
    return [found[k] for k in range(tasks)]


def _asked(worker: subprocess.Popen[bytes], work: Callable[[Any], Any], task: Any) -> Any:
    """What one task comes to in a worker. Raises what it raises there, ProblemError when the worker is gone."""
    assert worker.stdin is not None
    assert worker.stdout is not None
    frame = pickle.dumps((work, task), protocol=pickle.HIGHEST_PROTOCOL)
    try:
        write_frame(worker.stdin, frame)
        answer = read_frame(worker.stdout)
    except OSError:
        answer = None
    if answer is None:
        raise WorkerGone([killed(gone(worker))])
    sound, value = pickle.loads(answer)
    if not sound:
        raise value
    return value


def started(preload: str = PRELOAD) -> subprocess.Popen[bytes]:
    """A worker process, which loads a module while it waits for its first task."""
    # The caller's own list of places, so that a worker finds what the caller finds.
    places = os.pathsep.join(dict.fromkeys(os.path.abspath(place) for place in sys.path))
    surroundings = os.environ | dict.fromkeys(ONE_THREAD, "1") | {"PYTHONPATH": places}
    # In a group of their own, where Ctrl-C does not reach them: this process hears it and ends them.
    apart: dict[str, Any] = {"process_group": 0}
    if sys.platform == "win32":
        apart = {"creationflags": subprocess.CREATE_NEW_PROCESS_GROUP}
    command = [sys.executable, "-P", "-m", "flatten.machine.worker", preload]
    return subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, env=surroundings, **apart)


def gone(worker: subprocess.Popen[bytes]) -> int:
    """How a worker ended, once it has; one that lingers is killed."""
    try:
        code = worker.wait(PATIENCE_S)
    except subprocess.TimeoutExpired:
        worker.kill()
        code = worker.wait()
    for pipe in (worker.stdin, worker.stdout):
        if pipe is not None:
            with suppress(OSError):
                pipe.close()
    return code


def killed(code: int) -> Problem:
    """The problem that a worker ended by itself with this code."""
    how = f"ended with status {code}"
    if code < 0:
        with suppress(ValueError):
            how = f"was ended by {signal.Signals(-code).name}"
    if code == -9:
        how += ", as systems do when memory runs out"
    text = f"a worker process {how}; close other programs, or make mesh in [output] larger, and run it again"
    return Problem("W101", "worker processes", text)


def _no_memory() -> Problem:
    text = "the memory does not suffice for so many triangles; make mesh in [output] larger, or close other programs"
    return Problem("W102", "memory", text)
