"""What the server keeps while it runs: the folder, the bench, the answers so far, and who listens for news."""

import asyncio
import logging
import re
from collections.abc import AsyncIterator, Callable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from flatten.bench.differences import changes
from flatten.bench.link import BenchLink, StoppedAskingError
from flatten.bench.process import BenchTask
from flatten.sheets.folder import SheetFolder
from flatten.sheets.history import mark_of
from flatten.sheets.refusals import RefusedError, told_as_json
from meshes.base.problems import Problem, ProblemError, plain

# Levels of an answer in the order they come; answers kept, and news waiting for one listener, at the most.
LEVELS = ("section", "draft", "final")
MOST_ANSWERS, MOST_NEWS = 6, 200
# A silent stream is closed by some networks: something is sent at least so often.
BEAT_S = 15.0
# The exact answer is begun so long after a draft: while a number is turned the next value comes before that, and
# nothing has to be stopped for it.
PAUSE_S = 0.25
# How often the folder is looked at for changes by other programs.
WATCH_S = 1.0

News = dict[str, Any]
# Errors go to the terminal that the server was started from.
_log = logging.getLogger("trimloft.page")


@dataclass
class KeptAnswer:
    """One answer: of which sheet and text, at which level, as plain data and as the seat's bytes."""

    sheet: str
    mark: str
    level: str
    answer: dict[str, Any]
    seat: bytes


@dataclass
class Office:
    """State of one server. Only its event loop touches it. papers_of: by sheet the mark of the text that its papers
    were made from."""

    folder: SheetFolder
    link: BenchLink = field(default_factory=BenchLink)
    answers: dict[str, KeptAnswer] = field(default_factory=dict)
    papers_of: dict[str, str] = field(default_factory=dict)
    _listeners: set["asyncio.Queue[News | None]"] = field(default_factory=set)
    _work: "asyncio.Task[None] | None" = None
    _pause: "asyncio.Event | None" = None
    _wanted: tuple[str, str] | None = None
    _busy_with: str = ""
    _seen: dict[str, str] = field(default_factory=dict)
    _runs: int = 0

    def tell(self, **news: Any) -> None:
        """Tell all listeners; one that does not keep up loses the oldest news."""
        self._send(news)

    def end_news(self) -> None:
        """End what listeners hear: the server stops."""
        self._send(None)

    def _send(self, news: News | None) -> None:
        for waiting in self._listeners:
            if waiting.full():
                waiting.get_nowait()
            waiting.put_nowait(news)

    async def news(self) -> AsyncIterator[News]:
        """What happens from now on."""
        waiting: asyncio.Queue[News | None] = asyncio.Queue(MOST_NEWS)
        self._listeners.add(waiting)
        try:
            yield {"kind": "hello"}
            while True:
                try:
                    row = await asyncio.wait_for(waiting.get(), BEAT_S)
                except TimeoutError:
                    row = {"kind": "beat"}
                if row is None:
                    return
                yield row
        finally:
            self._listeners.discard(waiting)

    def noted(self, sheet: str, mark: str) -> None:
        """A sheet was written by the page itself: all windows hear of it."""
        self._seen[sheet] = mark
        self.tell(kind="sheet", sheet=sheet, mark=mark)

    async def watch(self) -> None:
        """Look at the folder again and again, and tell what other programs changed."""
        while True:
            found = await asyncio.to_thread(self._marks)
            for name in self._seen.keys() | found.keys():
                if self._seen and self._seen.get(name) != found.get(name):
                    self.tell(kind="sheet", sheet=name, mark=found.get(name), elsewhere=True)
            self._seen = found
            await asyncio.sleep(WATCH_S)

    def _marks(self) -> dict[str, str]:
        found = {}
        with suppress(OSError):
            for name in self.folder.names():
                with suppress(RefusedError, ProblemError):
                    found[name] = self.folder.state(name).mark
        return found

    async def look(self, sheet: str, text: str) -> None:
        """Compute a sheet, draft first; what was under way for an older text is stopped."""
        if self._busy_with == "papers":
            self._wanted = (sheet, text)
            return
        if self._work is not None and not self._work.done():
            self._wanted = (sheet, text)
            await self._interrupt()
            return
        self._work = asyncio.get_running_loop().create_task(self._looks(sheet, text))

    async def _looks(self, sheet: str, text: str) -> None:
        while True:
            self._wanted = None
            for level in LEVELS:
                stopped = not (await self._paused(sheet, text, level) and await self._one_look(sheet, text, level))
                if stopped or self._newer():
                    break
            newer = self._newer()
            if newer is None:
                return
            sheet, text = newer

    def _newer(self) -> tuple[str, str] | None:
        """What is asked for since."""
        return self._wanted

    async def _paused(self, sheet: str, text: str, level: str) -> bool:
        """Wait a little before the exact answer; False when something else was wanted meanwhile."""
        mark = mark_of(text)
        if level != LEVELS[-1] or self._known(sheet, mark, level):
            return True
        self._pause = asyncio.Event()
        try:
            await asyncio.wait_for(self._pause.wait(), PAUSE_S)
        except TimeoutError:
            return True
        finally:
            self._pause = None
        self.tell(kind="work", sheet=sheet, mark=mark, level=level, state="stopped")
        return False

    async def _interrupt(self) -> None:
        """End what is under way, be it work or the pause before it."""
        if self._pause is not None:
            self._pause.set()
        await self.link.stop()

    def _known(self, sheet: str, mark: str, level: str) -> bool:
        """Whether this level of a text, or a better one, has been answered."""
        return any(
            k.sheet == sheet and k.mark == mark and k.level in (level, LEVELS[-1]) for k in self.answers.values()
        )

    async def _one_look(self, sheet: str, text: str, level: str) -> bool:
        """Work out one level and tell of it; False when it was stopped."""
        mark = mark_of(text)
        what = {"kind": "work", "sheet": sheet, "mark": mark, "level": level}
        if self._known(sheet, mark, level):
            self.tell(**what, state="done")
            return True
        self.tell(**what, state="running", doing="", done=0, of=0)
        try:
            found = await self.link.ask(
                "look", BenchTask(self.folder.place, sheet, text), level, on_say=self._saying(what)
            )
        except StoppedAskingError:
            self.tell(**what, state="stopped")
            return False
        except RefusedError as fault:
            self.tell(**what, state="refused", problems=told_as_json([fault.problem]))
            return False
        except ProblemError as fault:
            # A draft that cannot be made with coarse triangles may still be made with the sheet's own.
            if level == LEVELS[-1]:
                self.tell(**what, state="refused", problems=told_as_json(fault.problems))
            return True
        except Exception as fault:
            # A fault of ours is told at every level, whatever comes after it.
            _log.error("%s of %s failed", level, ascii(sheet), exc_info=fault)
            self.tell(**what, state="failed", problems=_failure(fault, draft=level != LEVELS[-1]))
            return True
        if "sections" in found:
            self.tell(**what, state="done", sections=found["sections"])
            return True
        self._keep(KeptAnswer(sheet, mark, level, found["answer"], found["seat"]))
        self.tell(**what, state="done")
        return True

    def _keep(self, kept: KeptAnswer) -> None:
        before = [k for k in self.answers.values() if k.sheet == kept.sheet and k.mark != kept.mark]
        kept.answer["changes"] = changes(before[-1].answer if before else None, kept.answer)
        # A draft that is made exact stays for whoever was just told of it and comes for its seat.
        self._runs += 1
        kept.answer["id"] = f"{self._runs}"
        self.answers[kept.answer["id"]] = kept
        for old in list(self.answers)[:-MOST_ANSWERS]:
            del self.answers[old]

    def latest(self, sheet: str, mark: str | None = None) -> KeptAnswer | None:
        """The newest answer about a sheet; with a mark, about that text of it."""
        found = [k for k in self.answers.values() if k.sheet == sheet and mark in (None, k.mark)]
        return found[-1] if found else None

    async def final(self, sheet: str, text: str) -> KeptAnswer:
        """The exact answer about a text, computed where it is not kept. Raises as `other` does."""
        kept = self.latest(sheet, mark_of(text))
        if kept is not None and kept.level == LEVELS[-1]:
            return kept
        found = await self.other("look", sheet, text, LEVELS[-1])
        self._keep(KeptAnswer(sheet, mark_of(text), LEVELS[-1], found["answer"], found["seat"]))
        return self.answers[found["answer"]["id"]]

    async def papers(self, sheet: str, text: str, choices: dict[str, Any]) -> dict[str, Any]:
        """Write the papers of a sheet. Raises RefusedError when they are being written, ProblemError, RefusedError when
        stopped."""
        if self._busy_with == "papers":
            raise RefusedError(409, "W319", "papers", "papers are being made already; wait for them, or stop them")
        self._busy_with = "papers"
        try:
            self._wanted = None
            if self._work is not None and not self._work.done():
                await self._interrupt()
                await asyncio.wait([self._work])
            what = {"kind": "papers", "sheet": sheet, "mark": mark_of(text)}
            task = BenchTask(self.folder.place, sheet, text)
            found = await self._asked("papers", task, papers_folder(sheet), choices, what=what)
            self.papers_of[sheet] = what["mark"]
        finally:
            self._busy_with = ""
            # What was looked at when the papers were asked for goes on, newest first.
            if self._work is None or self._work.done():
                self._work = asyncio.get_running_loop().create_task(self._looks(*(self._newer() or (sheet, text))))
        return dict(found)

    async def other(self, verb: str, sheet: str, text: str, *arguments: Any) -> Any:
        """Something else of a sheet that takes the bench: a still picture, a section."""
        what = {"kind": verb, "sheet": sheet, "mark": mark_of(text)}
        return await self._asked(verb, BenchTask(self.folder.place, sheet, text), *arguments, what=what)

    async def _asked(self, verb: str, *arguments: Any, what: News) -> Any:
        try:
            found = await self.link.ask(verb, *arguments, on_say=self._saying(what))
        except StoppedAskingError:
            self.tell(**what, state="stopped")
            raise RefusedError(409, "W321", verb, "it was stopped before its end; nothing was written") from None
        except (ProblemError, RefusedError):
            self.tell(**what, state="refused")
            raise
        except Exception as fault:
            _log.error("%s of %s failed", verb, ascii(what["sheet"]), exc_info=fault)
            self.tell(**what, state="failed", problems=_failure(fault))
            raise
        finally:
            if self._wanted is not None and (self._work is None or self._work.done()):
                self._work = asyncio.get_running_loop().create_task(self._looks(*self._wanted))
        self.tell(**what, state="done")
        return found

    async def stop(self) -> None:
        """Stop what is under way; nothing waits any more."""
        self._wanted = None
        await self._interrupt()

    def _saying(self, what: News) -> Callable[[str, int, int], None]:
        def say(doing: str, done: int, of: int) -> None:
            self.tell(**what, state="running", doing=doing, done=done, of=of)

        return say


def papers_folder(sheet: str) -> str:
    """Name of the folder beside a sheet that its papers are written to."""
    stem = re.sub(r"\.toml$", "", sheet)
    return f"{stem} patterns"


def papers_place(folder: Path, sheet: str) -> Path:
    """Where the papers of a sheet are."""
    return folder / papers_folder(sheet)


def _failure(fault: Exception, *, draft: bool = False) -> list[dict[str, Any]]:
    """What is told of a fault of the program; draft: what is exact comes yet."""
    last = plain(f"{type(fault).__name__}: {fault}".strip().splitlines()[-1][:300])
    if draft:
        text = f"the quick look failed by a fault of the program ({last}); the exact figures are computed all the same"
        return told_as_json([Problem("W340", "bench", text, warning=True)])
    text = f"the program failed ({last}); the sheet is saved, and can be changed or computed again"
    return told_as_json([Problem("W322", "bench", text)])
