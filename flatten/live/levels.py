"""The levels of a live answer, each worked out in the working process: cuts, draft, final."""

import os
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, partial
from pathlib import Path
from typing import Any

import numpy as np

from flatten.hides.parted import make_for_hides
from flatten.job.flats import least_energy_flats
from flatten.job.pads import Tensions, built_pads, tension_of
from flatten.job.pulls import mean_tension
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
from meshes.base.arrays import FloatArray
from meshes.base.problems import Key, Problem, ProblemError
from meshes.base.progress import Progress, look_up, unheard
from meshes.records.alignment import Alignment
from meshes.records.materials import Material
from meshes.records.pad import Pad
from meshes.schema.lines import toml_lines
from meshes.schema.toml_text import parsed
from meshes.schema.words import SheetPlaces
from meshes.seat.build import BuiltPad, Tension
from meshes.settle.proposal import Comparison
from meshes.settle.section import Section, as_measured, section_along
from meshes.settle.section_line import Cut, section_line
from meshes.sheet.read import sheet_of_tables
from meshes.sheet.whole import Sheet

# Triangles of a draft are at least so large, mm.
DRAFT_MESH_MM = 20.0
# Of so many cuts it is remembered how the cover lay in them.
MOST_CUTS_KNOWN = 100


def one_by_one(work: Callable[[Any], Any], tasks: Sequence[Any], *_: object) -> list[Any]:
    """Every task in this process."""
    return [work(task) for task in tasks]


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


@dataclass(frozen=True, eq=False)
class LastKnown:
    """What the last answers found, for sections and drafts to begin with. tensions: at which pads were settled, by pad
    and what was wished for; alignments: of pads with their neighbours, by pad; sunk_mm:
    how deep the cover lay in its padding along a cut, by pad, cut and number of layers."""

    tensions: dict[tuple[str, float], Tension] = field(default_factory=dict)
    alignments: dict[str, Alignment] = field(default_factory=dict)
    sunk_mm: dict[tuple[str, Cut, int], FloatArray] = field(default_factory=dict)

    def tension(self, pad: str, wish: float) -> Tension:
        """What a pad was settled at when the same was wished for; the wish itself where that is not known."""
        return self.tensions.get((pad, wish), wish)

    def aligned(self, pads: Sequence[Pad]) -> list[Alignment] | None:
        """How pads lay, None where that is not known of all."""
        known = [self.alignments.get(pad.name) for pad in pads]
        return [one for one in known if one is not None] if None not in known else None

    def learn(self, pads: Sequence[BuiltPad]) -> None:
        """Keep how pads lie now."""
        self.alignments.clear()
        self.alignments.update({pad.pad.name: pad.alignment for pad in pads})


_LAST = LastKnown()


def section_answer(task: LiveTask, sheet: Sheet) -> SectionAnswer:
    """The cuts of every pad on a frame, each as measured and as padded, at what the cover was last found to pull."""
    begin = time.perf_counter()
    wish = tension_of(sheet, card_from_sheet(sheet))
    tensions = {pad.name: mean_tension(_LAST.tension(pad.name, wish)) for pad in sheet.pads if pad.on_frame}
    cuts: dict[str, tuple[Comparison, ...]] = {}
    problems: list[Problem] = []
    for k, pad in enumerate(sheet.pads):
        if pad.on_frame:
            cuts[pad.name], notes = _cuts_of(sheet, k, tensions[pad.name], task.cuts)
            problems += notes
    return SectionAnswer(task.ticket, sheet, cuts, tensions, tuple(problems), time.perf_counter() - begin)


@dataclass(frozen=True, eq=False)
class CutTask:
    """All that a cut is made from. places: words for what is told of it; index: number of the pad in the sheet."""

    pad: Pad
    index: int
    cut: Cut
    tension: float
    materials: Mapping[str, Material]
    places: SheetPlaces


def _cut(task: CutTask) -> Section | ProblemError:
    """One cut of a pad, let down from where the cover last lay in it: as deep in its padding as then."""
    look_up()

    def make_problem(code: str, keys: Sequence[Key], text: str) -> Problem:
        return task.places.problem(code, ("pad", task.index, *keys), text)

    try:
        line = section_line(task.pad, task.cut, materials=task.materials, make_problem=make_problem)
        place, free = (task.pad.name, task.cut, len(task.pad.layers)), line.stack.free_mm()
        sunk = _LAST.sunk_mm.get(place)
        # Places along a cut shift a little with its length: the same share of the way is the same place.
        start = None if sunk is None else free - np.interp(_shares(len(free)), _shares(len(sunk)), sunk)
        along = partial(section_along, task.pad, task.cut, line, tension_n_per_mm=task.tension)
        try:
            found = along(make_problem=make_problem, start_mm=start)
        except ProblemError:
            # From there it may not find to rest, where it does from above.
            found = along(make_problem=make_problem)
        if found.settled is not None:
            _LAST.sunk_mm[place] = free - found.settled.heights_mm
            while len(_LAST.sunk_mm) > MOST_CUTS_KNOWN:
                # A cut that is dragged over a pad leaves one behind at every place.
                del _LAST.sunk_mm[next(iter(_LAST.sunk_mm))]
        return found
    except ProblemError as fault:
        return fault


def _shares(count: int) -> FloatArray:
    """Even shares of a way, from 0 to 1."""
    return np.linspace(0.0, 1.0, count)


def _cuts_of(
    sheet: Sheet, k: int, tension: float, asked: Sequence[AskedCut]
) -> tuple[tuple[Comparison, ...], list[Problem]]:
    pad, places = sheet.pads[k], sheet.places.of_pad(k)
    if pad.pleats is None or not pad.pleats.tied:
        # Only valleys that are tied down matter to a cut, so the pad they line up with may change as it likes.
        pad = replace(pad, wanted=replace(pad.wanted, leader=None))
    cuts = (*_middle_cuts(pad), *(one.cut for one in asked if one.pad == pad.name))
    # Each by itself: as measured a cut stays the same while the outer layers change.
    tasks = [CutTask(one, k, cut, tension, sheet.materials, places) for cut in cuts for one in (pad, as_measured(pad))]
    found = _here(_cut, tasks)
    faults = [problem for one in found if isinstance(one, ProblemError) for problem in one.problems]
    notes = [replace(sheet.places.located(problem), warning=True) for problem in faults]
    pairs = zip(found[::2], found[1::2], strict=True)
    whole = [both for both in pairs if not any(isinstance(one, ProblemError) for one in both)]
    return tuple(Comparison(padded.name, bare, padded) for padded, bare in whole), notes


def _middle_cuts(pad: Pad) -> tuple[Cut, Cut]:
    """Along and across the middle of a pad, as the report has them."""
    places = [y for _, y in pad.outline.corners]
    return Cut("along", 0.0), Cut("across", round(0.5 * (min(places) + max(places)), 1))


def draft_answer(task: LiveTask, sheet: Sheet) -> DraftAnswer:
    """Seat and pieces on coarse triangles, from the tensions and alignments that were last found."""
    begin = time.perf_counter()
    wish = tension_of(sheet, card_from_sheet(sheet))
    tensions = [_LAST.tension(pad.name, wish) for pad in sheet.pads]
    found = drafted(sheet, tensions, _LAST.aligned(sheet.pads), each=_here, say=_saying(task))
    _LAST.learn(found.pads)
    return replace(found, ticket=task.ticket, seconds=time.perf_counter() - begin)


def drafted(
    sheet: Sheet,
    tensions: Tensions,
    aligned: Sequence[Alignment] | None,
    *,
    each: Callable[..., Sequence[Any]] = one_by_one,
    say: Progress = unheard,
) -> DraftAnswer:
    """A draft of a sheet: settled at these tensions and aligned so, least energy, nothing proven. Raises
    ProblemError."""
    leather = card_from_sheet(sheet)
    coarse = replace(sheet, output=replace(sheet.output, mesh=max(sheet.output.mesh, DRAFT_MESH_MM)))
    pads = panels_told_apart(built_pads(coarse, tensions, each, say, sections=False, aligned=aligned))
    flats = least_energy_flats(coarse, leather, pads, each, say)
    pieces = tuple(piece for pad in pads for piece in pieces_of(pad, flats, sheet.allowance))
    panels = {panel.name: panel for pad in pads for panel in pad.panels}
    seams = tuple(row for pad in pads for row in seam_figures(pad.seams, panels, flats, sheet.eases))
    problems = (*sheet.warnings, *(problem for pad in pads for problem in pad.problems))
    return DraftAnswer(coarse, leather, pads, flats, pieces, seams, problems, 0.0)


def final_answer(task: LiveTask, sheet: Sheet) -> FinalAnswer:
    """The whole job, as `make` does it."""
    begin = time.perf_counter()
    job = make_for_hides(sheet, progress=_saying(task), workers=_pool(task.workers))
    wish = tension_of(sheet, job.leather)
    for pad, tension in zip(job.before_cuts.pads, job.before_cuts.tensions, strict=True):
        _LAST.tensions[pad.pad.name, wish] = tension
    _LAST.learn(job.before_cuts.pads)
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
