"""The live engine: hand it a sheet, then changes; it answers in levels, each better than the one before.

One process works for it, on one computation at a time; at most one change waits. A newer change takes the place of the
one that waits, and what is under way ends between two steps of its search. Answers come from a thread of the engine.
"""

import threading
from collections.abc import Callable, Sequence
from pathlib import Path
from types import TracebackType
from typing import Self

from flatten.live.answers import Answer, AskedCut, Level, LiveTask, RefusedAnswer
from flatten.live.computer import Computer
from meshes.base.problems import ProblemError
from meshes.base.progress import Cancelled
from meshes.schema.toml_text import text_of


class Engine:
    """Answers a sheet and its changes.

    sheet: the path of a sheet, or its text; answered: called with every answer, from a thread of the engine, one after
    the other; file: where a sheet given as text stands or will, which problems name and beside which it looks for cards
    of leather; levels: which are worked out, in this order; workers: processes for a final answer. Use it in a with
    block, or call `close`. Raises ProblemError for a path that cannot be read.
    """

    def __init__(
        self,
        sheet: str | Path,
        answered: Callable[[Answer], None],
        *,
        file: str | Path = "sheet.toml",
        levels: Sequence[Level] = tuple(Level),
        workers: int = 2,
    ) -> None:
        self._text = text_of(sheet) if isinstance(sheet, Path) else sheet
        self._file = str(sheet) if isinstance(sheet, Path) else str(file)
        self._cuts: tuple[AskedCut, ...] = ()
        self._answered, self._levels, self._workers = answered, tuple(levels), workers
        self._computer = Computer()
        self._state = threading.Condition()
        self._newest = self._begun = 0
        self._closed = self._busy = False
        self._computer.warm()
        self._thread = threading.Thread(target=self._run, name="live engine", daemon=True)
        self._thread.start()
        self.change()

    def change(self, text: str | None = None, *, cuts: Sequence[AskedCut] | None = None) -> int:
        """Answer another text of the sheet, or other cuts beside the usual ones; what is not given stays. Returns the
        change's ticket, a number that rises; answers carry it."""
        with self._state:
            self._text = self._text if text is None else text
            self._cuts = self._cuts if cuts is None else tuple(cuts)
            self._newest += 1
            if self._busy:
                self._computer.give_up()
            self._state.notify_all()
            return self._newest

    @property
    def newest(self) -> int:
        """The ticket of the newest change."""
        return self._newest

    @property
    def at_rest(self) -> bool:
        """Whether everything asked for has been answered."""
        with self._state:
            return self._begun == self._newest and not self._busy

    def wait(self, timeout_s: float | None = None) -> bool:
        """Wait until everything asked for has been answered; False when that takes longer."""
        with self._state:
            return self._state.wait_for(
                lambda: self._closed or (self._begun == self._newest and not self._busy), timeout_s
            )

    def close(self) -> None:
        """End the engine and its process; nothing more is answered."""
        with self._state:
            self._closed = True
            self._state.notify_all()
        self._computer.close()
        if threading.current_thread() is not self._thread:
            self._thread.join()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def _run(self) -> None:
        while True:
            with self._state:
                self._state.wait_for(lambda: self._closed or self._newest > self._begun)
                if self._closed:
                    return
                self._begun, text, cuts = self._newest, self._text, self._cuts
            for level in self._levels:
                task = LiveTask(self._begun, text, self._file, level, cuts, self._workers)
                if not self._level(task):
                    break

    def _level(self, task: LiveTask) -> bool:
        """Work out one level and tell it; whether the next one is wanted."""
        with self._state:
            if self._closed or self._newest > task.ticket:
                return False
            self._busy = True
        answer: Answer | None = None
        more = True
        try:
            answer = self._computer.ask(task, self._tell)
            # What fails on coarse triangles may be sound on those of the sheet.
            more = not isinstance(answer, RefusedAnswer) or task.level is Level.DRAFT
        except Cancelled:
            more = False
        except ProblemError as fault:
            answer, more = RefusedAnswer(task.ticket, fault.problems, task.level), False
        finally:
            if answer is not None:
                self._tell(answer)
            with self._state:
                self._busy = False
                self._state.notify_all()
        return more

    def _tell(self, answer: Answer) -> None:
        """Hand an answer on, unless a newer change has made it stale."""
        if not self._closed and answer.ticket == self._newest:
            self._answered(answer)
