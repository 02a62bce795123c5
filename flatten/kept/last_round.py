"""Work done in rounds, of which some tasks are the same from one round to the next: their results are taken as they
were."""

from collections.abc import Callable, Sequence
from typing import Any

from flatten.kept.digest import UndigestedError, digest
from meshes.base.progress import Progress

RunOver = Callable[..., Sequence[Any]]
"""Runs a function over tasks, as `WorkerPool.map` does."""


def from_last_round(each: RunOver) -> RunOver:
    """The same way to run a function over tasks, which does no task again that is equal to one of the last round of
    that function, as it was then called what is being done. Only for functions whose results follow from their tasks
    alone; frozen results are shared."""
    last: dict[tuple[Callable[[Any], Any], str], dict[str, Any]] = {}

    def run(
        work: Callable[[Any], Any], tasks: Sequence[Any], say: Progress, doing: str = "", **options: Any
    ) -> Sequence[Any]:
        keys = [_key(task) for task in tasks]
        known = last.get((work, doing), {})
        left = [k for k, key in enumerate(keys) if key not in known]
        done = each(work, [tasks[k] for k in left], say, doing, **options) if left else []
        new = dict(zip(left, done, strict=True))
        found = [new[k] if k in new else known[keys[k] or ""] for k in range(len(tasks))]
        last[work, doing] = {key: one for key, one in zip(keys, found, strict=True) if key is not None}
        return found

    return run


def _key(task: object) -> str | None:
    """The digest of a task; None where it has none, which no result is known for."""
    try:
        return digest(task)
    except UndigestedError:
        return None
