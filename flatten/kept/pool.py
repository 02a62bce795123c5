"""Work shared out as ever, but for what was done before: results are looked for under the digest of their task."""

import pickle
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial
from typing import Any

from flatten.kept.digest import UndigestedError, digest
from flatten.kept.disk import DiskStore
from flatten.kept.memory import MemoryStore
from flatten.kept.versions import surroundings
from flatten.machine.workers import WorkerPool, one_thread, processes_for, worker_pool
from meshes.base.progress import Progress

# A result goes to the disk when it took at least so long, and so much longer than writing and reading it will.
WORTH_KEEPING_S, BYTES_A_SECOND = 0.1, 50e6


@dataclass
class Kept:
    """Where results are kept, and what came of looking there. memory, disk: None for none; hits, misses: how often a
    stage was found or had to be done, by the name of its function."""

    memory: MemoryStore | None = None
    disk: DiskStore | None = None
    hits: dict[str, int] = field(default_factory=dict)
    misses: dict[str, int] = field(default_factory=dict)

    def key(self, work: Callable[[Any], Any], task: object) -> str | None:
        """The digest of a task with everything else that may decide its result; None where that cannot be told."""
        try:
            return digest(surroundings(), work, task)
        except UndigestedError:
            return None

    def find(self, key: str | None) -> bytes | None:
        """The pickled result under a key."""
        if key is None:
            return None
        data = None if self.memory is None else self.memory.get(key)
        if data is None and self.disk is not None:
            data = self.disk.get(key)
            if data is not None and self.memory is not None:
                self.memory.put(key, data)
        return data

    def keep(self, key: str | None, result: object, seconds: float) -> None:
        """Keep a result that took so long; a refusal is not kept."""
        if key is None or isinstance(result, BaseException):
            return
        worth = self.disk is not None and seconds >= WORTH_KEEPING_S
        if self.memory is None and not worth:
            return
        data = pickle.dumps(result, protocol=pickle.HIGHEST_PROTOCOL)
        if self.memory is not None:
            self.memory.put(key, data)
        if self.disk is not None and worth and seconds >= len(data) / BYTES_A_SECOND:
            self.disk.put(key, data)


class KeptPool(WorkerPool):
    """A pool that does only the tasks whose results are not kept."""

    def __init__(self, count: int, kept: Kept) -> None:
        super().__init__(count)
        self.kept = kept

    def map(
        self,
        work: Callable[[Any], Any],
        tasks: Sequence[Any],
        say: Progress,
        doing: str = "",
        *,
        short: bool = False,
    ) -> list[Any]:
        """As `WorkerPool.map`."""
        name = stage_name(work)
        keys = [self.kept.key(work, task) for task in tasks]
        found = {k: data for k, key in enumerate(keys) if (data := self.kept.find(key)) is not None}
        left = [k for k in range(len(tasks)) if k not in found]
        self.kept.hits[name] = self.kept.hits.get(name, 0) + len(found)
        self.kept.misses[name] = self.kept.misses.get(name, 0) + len(left)
        done = super().map(Timed(work), [tasks[k] for k in left], say, doing, short=short) if left else []
        for k, (result, seconds) in zip(left, done, strict=True):
            self.kept.keep(keys[k], result, seconds)
        results = {k: result for k, (result, _) in zip(left, done, strict=True)}
        return [results[k] if k in results else pickle.loads(found[k]) for k in range(len(tasks))]


@dataclass(frozen=True)
class Timed:
    """Does a task and tells how long it took, s."""

    work: Callable[[Any], Any]

    def __call__(self, task: Any) -> tuple[Any, float]:
        begin = time.perf_counter()
        result = self.work(task)
        return result, time.perf_counter() - begin


def stage_name(work: Callable[[Any], Any]) -> str:
    """The name of the function that does a stage, without the underscore in front."""
    return str(getattr(work.func if isinstance(work, partial) else work, "__name__", "")).lstrip("_")


@contextmanager
def kept_pool(kept: Kept | None, workers: int = 2) -> Iterator[WorkerPool]:
    """A pool of at most `workers` processes that looks first for what is kept; a plain one where nothing is."""
    if kept is None:
        with worker_pool(workers) as pool:
            yield pool
        return
    with_memory = KeptPool(processes_for(workers), kept)
    at_once = True
    try:
        with one_thread():
            yield with_memory
        at_once = False
    finally:
        with_memory.close(at_once=at_once)


def kept_on_disk(wanted: bool = True) -> Kept | None:
    """Results kept in files alone, for one run of a command; None where that is not wanted."""
    return Kept(disk=DiskStore()) if wanted else None
