"""The levels of a live answer, each worked out in the working process: cuts, draft, final."""

import os
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

from flatten.job.flats import least_energy_flats
from flatten.job.make import make
from flatten.job.pads import built_pads, tension_of
from flatten.kept.disk import DiskStore
from flatten.kept.memory import MemoryStore
from flatten.kept.pool import Kept, KeptPool
from flatten.leather.card_file import card_from_sheet
from flatten.live.answers import (
    Answer,
    AskedCut,
    DraftAnswer,
    FinalAnswer,
    Level,
    LiveTask,
    ProgressAnswer,
    RefusedAnswer,
    SectionAnswer,
)
from flatten.machine.worker import tell
from flatten.pieces.pattern import pieces_of
from flatten.pieces.seams import seam_figures
from flatten.relief.panel_names import panels_told_apart
from meshes.base.problems import Problem, ProblemError
from meshes.base.progress import look_up, unheard
from meshes.records.materials import Material
from meshes.records.pad import Pad
from meshes.schema.lines import toml_lines
from meshes.schema.toml_text import parsed
from meshes.schema.words import SheetPlaces
from meshes.settle.proposal import Comparison
from meshes.settle.section import as_measured, section
from meshes.settle.section_line import Cut
from meshes.sheet.read import sheet_of_tables
from meshes.sheet.whole import Sheet

# Triangles of a draft are at least so large, mm.
DRAFT_MESH_MM = 20.0


def worked_out(task: LiveTask) -> Answer:
    """The answer to one task. Raises Cancelled when it is wanted no more."""
    try:
        sheet = sheet_of_text(task.text, Path(task.file))
        return _LEVELS[task.level](task, sheet)
    except ProblemError as fault:
        return RefusedAnswer(task.ticket, fault.problems, task.level)


def sheet_of_text(text: str, path: Path) -> Sheet:
    """The sheet a text says, wherever it is kept. Raises ProblemError with every fault."""
    return sheet_of_tables(parsed(text, str(path)), path, lines=toml_lines(text))


def section_answer(task: LiveTask, sheet: Sheet) -> SectionAnswer:
    """The cuts of every pad on a frame, each as measured and as padded."""
    begin = time.perf_counter()
    tension = tension_of(sheet, card_from_sheet(sheet))
    cuts: dict[str, tuple[Comparison, ...]] = {}
    problems: list[Problem] = []
    for k, pad in enumerate(sheet.pads):
        if pad.on_frame:
            found, notes = _cuts_of(sheet, k, tension, task.cuts)
            cuts[pad.name] = found
            problems += notes
    seconds = time.perf_counter() - begin
    return SectionAnswer(task.ticket, sheet, cuts, dict.fromkeys(cuts, tension), tuple(problems), seconds)


@dataclass(frozen=True, eq=False)
class CutTask:
    """All that a cut is made from. places: words for what is told of it; index: number of the pad in the sheet."""

    pad: Pad
    index: int
    cut: Cut
    tension: float
    materials: Mapping[str, Material]
    places: SheetPlaces


def _compared(task: CutTask) -> Comparison | ProblemError:
    """A cut of a pad as measured and as padded."""
    look_up()
    try:
        padded, bare = (
            section(
                one,
                task.cut,
                tension_n_per_mm=task.tension,
                materials=task.materials,
                make_problem=lambda code, keys, text: task.places.problem(code, ("pad", task.index, *keys), text),
            )
            for one in (task.pad, as_measured(task.pad))
        )
    except ProblemError as fault:
        return fault
    return Comparison(padded.name, bare, padded)


def _cuts_of(
    sheet: Sheet, k: int, tension: float, asked: Sequence[AskedCut]
) -> tuple[tuple[Comparison, ...], list[Problem]]:
    pad, places = sheet.pads[k], sheet.places.of_pad(k)
    cuts = (*_middle_cuts(pad), *(one.cut for one in asked if one.pad == pad.name))
    found = _here(_compared, [CutTask(pad, k, cut, tension, sheet.materials, places) for cut in cuts])
    faults = [problem for one in found if isinstance(one, ProblemError) for problem in one.problems]
    notes = [replace(sheet.places.located(problem), warning=True) for problem in faults]
    return tuple(one for one in found if isinstance(one, Comparison)), notes


def _middle_cuts(pad: Pad) -> tuple[Cut, Cut]:
    """Along and across the middle of a pad, as the report has them."""
    places = [y for _, y in pad.outline.corners]
    return Cut("along", 0.0), Cut("across", round(0.5 * (min(places) + max(places)), 1))


def draft_answer(task: LiveTask, sheet: Sheet) -> DraftAnswer:
    """Seat and pieces on coarse triangles: settled at the tension wished for, least energy, nothing proven."""
    begin = time.perf_counter()
    say = _saying(task)
    leather = card_from_sheet(sheet)
    coarse = replace(sheet, output=replace(sheet.output, mesh=max(sheet.output.mesh, DRAFT_MESH_MM)))
    tensions = [tension_of(sheet, leather)] * len(sheet.pads)
    pads = panels_told_apart(built_pads(coarse, tensions, _here, say, sections=False))
    flats = least_energy_flats(coarse, leather, pads, _here, say)
    pieces = tuple(piece for pad in pads for piece in pieces_of(pad, flats, sheet.allowance))
    panels = {panel.name: panel for pad in pads for panel in pad.panels}
    seams = tuple(row for pad in pads for row in seam_figures(pad.seams, panels, flats, sheet.eases))
    problems = (*sheet.warnings, *(problem for pad in pads for problem in pad.problems))
    seconds = time.perf_counter() - begin
    return DraftAnswer(task.ticket, coarse, leather, pads, flats, pieces, seams, problems, seconds)


def final_answer(task: LiveTask, sheet: Sheet) -> FinalAnswer:
    """The whole job, as `make` does it."""
    begin = time.perf_counter()
    job = make(sheet, progress=_saying(task), workers=_pool(task.workers))
    return FinalAnswer(task.ticket, job, time.perf_counter() - begin)


@cache
def _kept() -> Kept:
    """What this process has found so far, and what earlier ones left on disk."""
    return Kept(MemoryStore(), DiskStore())


@cache
def _pool(workers: int) -> KeptPool:
    """Processes that stay from one final answer to the next, started when they are first worth it."""
    return KeptPool(min(workers, os.cpu_count() or 1), _kept())


def _here(work: Callable[[Any], Any], tasks: Sequence[Any], *_: object) -> list[Any]:
    """Every task that is not known yet in this process."""
    return _pool(1).map(work, tasks, unheard)


def _saying(task: LiveTask) -> Callable[[str, int, int], None]:
    """Progress that goes to whoever asked, and ends the work when it is wanted no more."""

    def say(doing: str, done: int, of: int) -> None:
        look_up()
        tell(ProgressAnswer(task.ticket, doing, done, of, task.level))

    return say


_LEVELS: Mapping[Level, Callable[[LiveTask, Sheet], Answer]] = {
    Level.SECTION: section_answer,
    Level.DRAFT: draft_answer,
    Level.FINAL: final_answer,
}
