"""The process that computes for the page: reads what is asked from its standard input, tells how far it is and what it
came to on its standard output, until the input ends. Run as `python -m flatten.bench.process`.

Messages are framed as those of workers are. Towards it: ("do", number, verb, arguments) and ("stop", number). From it:
("say", number, what, done, of), ("done", number, result), ("refused", number, problems), ("stopped", number) and
("failed", number, text). What is under way is left between two stages once it is to stop.
"""

import base64
import importlib
import os
import pickle
import queue
import threading
import traceback
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, BinaryIO

from flatten.machine.worker import read_frame, write_frame
from meshes.base.plane import extent
from meshes.base.problems import ProblemError

# A draft is computed with triangles of this size, mm, or the sheet's own where those are larger; on a small pad with so
# many across it.
DRAFT_MESH_MM, DRAFT_ACROSS = 24.0, 14.0
Say = Callable[[str, int, int], None]


@dataclass(frozen=True)
class Task:
    """One sheet of the folder at a time. place: the folder; name: of the file; text: what it is to hold."""

    place: Path
    name: str
    text: str


class _StoppedWork(BaseException):
    """What is under way is wanted no more. No handler for faults takes it for one."""


class Bench:
    """Keeps the last job, so that papers and pictures of it need no second reckoning."""

    def __init__(self) -> None:
        self._last: tuple[Task, Any] | None = None

    def look(self, task: Task, level: str, *, say: Say) -> dict[str, Any]:
        """A sheet computed in draft or to the end: {answer, seat}. Raises ProblemError."""
        from flatten.bench.seat_data import seat_bytes
        from flatten.bench.told import answer_of

        job = self._job(task, level, say)
        return {"answer": answer_of(job, level=level), "seat": seat_bytes(job)}

    def papers(self, task: Task, out: str, choices: dict[str, Any], *, say: Say) -> dict[str, Any]:
        """Everything `trimloft make` writes, into the folder `out` beside the sheet. choices: page, pictures, both,
        flesh_up. Raises ProblemError."""
        from flatten.sheets.refusals import told_as_json
        from flatten.written.choices import paper_named, seen_from_flesh
        from flatten.written.job_folder import write_job
        from flatten.written.writers import MAKE
        from meshes.folder.output import output_folder

        page = None if choices.get("page") is None else paper_named(str(choices["page"]))
        with output_folder(task.place / out, MAKE) as folder:
            job = self._job(task, "final", say)
            job = seen_from_flesh(job) if choices.get("flesh_up") else job
            wants = {"pictures": bool(choices.get("pictures", True)), "both": bool(choices.get("both"))}
            job, notes = write_job(job, folder, page=page, say=say, **wants)
        return {"notes": told_as_json([*job.problems, *notes])}

    def still(self, task: Task, show: str, side: str, *, say: Say) -> bytes:
        """A still picture of the seat as PNG, for a browser that cannot draw it. Raises ProblemError."""
        from flatten.seatview.pictures import png
        from flatten.seatview.scenes import scene
        from meshes.view.view import Shot, pictures

        job = self._last[1] if self._last and self._last[0] == task else self._job(task, "draft", say)
        return png(pictures([Shot(scene(job, show), side)]).images[0])

    def section(self, task: Task, pad: str, direction: str, place_mm: float, *, say: Say) -> dict[str, Any]:
        """A pad on a frame cut open at a place: its drawing, and gauges to print. Raises ProblemError."""
        from flatten.bench.told import radius
        from flatten.sections.drawing import section_drawing
        from flatten.sections.section import PadCut
        from flatten.sections.section import gauge_papers as papers

        found: PadCut = self._cut(task, pad, direction, place_mm, say)
        record = next(one for one in found.sheet.pads if one.name == pad)
        return {
            "drawing": section_drawing(record, found.cut, found.sheet.unit).svg(),
            "bare_mm": radius(found.cut.ridge_radius_bare_mm),
            "radius_mm": radius(found.cut.ridge_radius_mm),
            "side": found.cut.ridge.side,
            "gauges": base64.b64encode(papers(found).get("gauges.pdf", b"")).decode(),
        }

    def _cut(self, task: Task, pad: str, direction: str, place_mm: float, say: Say) -> Any:
        from flatten.sections.section import cut_sheet

        sheet = self._sheet(task)
        along, across = (place_mm, None) if direction == "along" else (None, place_mm)
        return cut_sheet(sheet, pad, along=along, across=across, progress=say)

    def _sheet(self, task: Task) -> Any:
        from flatten.sheets.folder import SheetFolder

        return SheetFolder(task.place).sheet(task.name, task.text)

    def _job(self, task: Task, level: str, say: Say) -> Any:
        from flatten.job.make import make

        if self._last is not None and self._last[0] == task:
            return self._last[1]
        sheet = self._sheet(task)
        if level == "final":
            job = make(sheet, progress=say)
            self._last = (task, job)
            return job
        return make(_coarse(sheet), progress=say, workers=1)


def _coarse(sheet: Any) -> Any:
    """The sheet with the triangles of a draft."""
    across = [max(extent(pad.outline.corners)) for pad in sheet.pads]
    mesh = max(sheet.output.mesh, min(DRAFT_MESH_MM, min(across) / DRAFT_ACROSS))
    return replace(sheet, output=replace(sheet.output, mesh=mesh))


class _Desk:
    """What comes in and what goes out; which task is to stop."""

    def __init__(self, source: BinaryIO, sink: BinaryIO) -> None:
        self.tasks: queue.SimpleQueue[tuple[Any, ...]] = queue.SimpleQueue()
        self._source, self._sink = source, sink
        self._stopped: set[int] = set()

    def listen(self) -> None:
        """Take messages in; the end of the input ends the process, in the middle of a task too."""
        while (frame := read_frame(self._source)) is not None:
            message = pickle.loads(frame)
            if message[0] == "stop":
                self._stopped.add(message[1])
            else:
                self.tasks.put(message)
        os._exit(0)

    def tell(self, *message: Any) -> None:
        """Send a message. Ends the process where nobody reads any more."""
        try:
            write_frame(self._sink, pickle.dumps(message, protocol=pickle.HIGHEST_PROTOCOL))
        except OSError:
            os._exit(0)

    def say_for(self, number: int) -> Say:
        """The progress of one task; raises _StoppedWork once it is to stop."""

        def say(what: str, done: int, of: int) -> None:
            if number in self._stopped:
                raise _StoppedWork
            self.tell("say", number, what, done, of)

        return say


def _serve(desk: _Desk, bench: Bench) -> None:
    while True:
        _, number, verb, arguments = desk.tasks.get()
        say = desk.say_for(number)
        try:
            say("", 0, 0)
            desk.tell("done", number, getattr(bench, verb)(*arguments, say=say))
        except _StoppedWork:
            desk.tell("stopped", number)
        except ProblemError as fault:
            desk.tell("refused", number, fault.problems)
        except Exception as fault:
            problem = getattr(fault, "problem", None)
            if problem is not None:
                desk.tell("refused", number, (problem,))
            else:
                desk.tell("failed", number, "".join(traceback.format_exception(fault)))


def main() -> None:
    """Serve until the input ends."""
    # Whatever a library prints must not run into the messages.
    source, sink = os.fdopen(os.dup(0), "rb"), os.fdopen(os.dup(1), "wb")
    with open(os.devnull, "rb") as nothing:
        os.dup2(nothing.fileno(), 0)
    os.dup2(2, 1)
    desk = _Desk(source, sink)
    threading.Thread(target=desk.listen, daemon=True).start()
    for module in ("flatten.job.make", "flatten.bench.told", "flatten.bench.seat_data"):
        importlib.import_module(module)
    _serve(desk, Bench())


if __name__ == "__main__":
    main()
