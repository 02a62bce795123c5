"""Work shared out to processes behind one `each`; with one worker, or one task, everything stays in this process."""

import multiprocessing
import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from typing import TypeVar

from threadpoolctl import threadpool_limits

Task = TypeVar("Task")
Result = TypeVar("Result")
Count = Callable[[int, int], None]


@dataclass(frozen=True)
class Crew:
    """Runs a function over tasks, in order of the tasks whatever finishes first."""

    pool: ProcessPoolExecutor | None

    def each(self, work: Callable[[Task], Result], tasks: Sequence[Task], count: Count) -> list[Result]:
        """Results in the order of `tasks`; `count` hears how many are done. A task's exception is raised here."""
        count(0, len(tasks))
        if self.pool is None or len(tasks) < 2:
            results = []
            for k, task in enumerate(tasks):
                results.append(work(task))
                count(k + 1, len(tasks))
            return results
        waiting = [self.pool.submit(work, task) for task in tasks]
        results = []
        for k, future in enumerate(waiting):
            results.append(future.result())
            count(k + 1, len(tasks))
        return results


@contextmanager
def crew(workers: int) -> Iterator[Crew]:
    """A crew of at most `workers` processes, gone when the block is left."""
    count = min(workers, os.cpu_count() or 1)
    if count < 2:
        with one_thread():
            yield Crew(None)
        return
    # Small solves are many times slower when every process runs its own threads. The variable only reaches children
    # that load numpy anew; forked ones, and this one, are told by hand.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # A forked child starts at once with everything loaded; where there is no fork, a fresh one is started.
    start = "fork" if "fork" in multiprocessing.get_all_start_methods() else "spawn"
    context = multiprocessing.get_context(start)
    with one_thread(), ProcessPoolExecutor(count, mp_context=context, initializer=_alone) as pool:
        yield Crew(pool)


def one_thread() -> AbstractContextManager[object]:
    """Dense algebra of this process on one thread while the context lasts."""
    return threadpool_limits(1, user_api="blas")


def _alone() -> None:
    # Kept for as long as the process lives.
    threadpool_limits(1, user_api="blas")
