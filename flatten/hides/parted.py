"""The main job of a sheet with hides or rolls: a pleated piece that none of them has room for is parted at valleys.

It is parted before anything is drawn, as if the sheet had joins there: the parts are panels of their own, with flat
map, seam, allowance and marks, so that plan, papers, cut list and job sheet say one thing.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise
from pathlib import Path

import numpy as np
from shapely.geometry import LineString, Polygon
from shapely.ops import split

from flatten.hides.asks import CutAsk, LeatherCut, asks_of, leather_cuts
from flatten.hides.by_leather import LeatherTask, fits_alone
from flatten.hides.laid import has_something_to_lay_on, tasks_of
from flatten.hides.pinned import PinnedCuts
from flatten.job.make import Job, make
from flatten.machine.workers import Workers, worker_pool
from flatten.nesting.outline import ring
from flatten.pieces.piece import LineKind
from meshes.base.arrays import FloatArray
from meshes.base.problems import Problem, ProblemError, and_words
from meshes.base.progress import Progress
from meshes.pleats.parts import Parts
from meshes.pleats.plan import PleatPlan, run_names
from meshes.schema.cover_tables import ZONES
from meshes.sheet.read import read_sheet
from meshes.sheet.whole import Sheet
from meshes.support.face import is_even

# A valley's line is carried on by so much past the cut line, to part the allowances too.
CARRIED_ON_MM = 200.0
# What a valley leaves of less than this on one side is no part, mm2.
LEAST_PART_MM2 = 2_000.0
# Parts are flattened anew and come out a little other than what the whole piece lets expect: looked at so often.
MOST_LOOKS = 4

Again = Callable[[Sheet], Job]


@dataclass(frozen=True)
class ValleyParting:
    """A piece to be parted. pad: its name; piece: what it is called whole; joins: numbers of the valleys, mirrored ones
    too; words: what those at the piece are called; renamed: what names of pieces and panels become."""

    pad: str
    piece: str
    joins: tuple[int, ...]
    words: tuple[str, ...]
    renamed: tuple[tuple[str, tuple[str, ...]], ...] = ()


@dataclass(frozen=True, eq=False)
class _ValleyAcross:
    """A valley across a piece. share: how far across it lies, 0 to 1."""

    number: int
    name: str
    line: FloatArray
    share: float


def make_for_hides(sheet: Sheet | str | Path, *, progress: Progress | None = None, workers: Workers = 2) -> Job:
    """The main job, as `make` does it, its pleated pieces parted at valleys where no hide or roll of the sheet has room
    for them whole. Raises ProblemError with every problem found. Writes nothing."""
    try:
        given = sheet if isinstance(sheet, Sheet) else read_sheet(Path(sheet))
    except ProblemError:
        # Told with what would help, which is sought there.
        return make(sheet, progress=progress, workers=workers)
    if not _may_be_parted(given):
        return make(given if isinstance(sheet, Sheet) else sheet, progress=progress, workers=workers)
    with worker_pool(workers) as pool:
        again = partial(make, progress=progress, workers=pool)
        try:
            whole = again(given)
        except ProblemError as fault:
            # Rows of the sheet may name parts, which there are only once it is parted.
            whole = _without_rows(given, fault, again)
        return _parted(whole, given, again)


def sheet_for_hides(sheet: Sheet, *, progress: Progress | None = None, workers: Workers = 2) -> Sheet:
    """The sheet with the joins that its hides and rolls ask for, itself where they ask for none. Raises
    ProblemError."""
    return make_for_hides(sheet, progress=progress, workers=workers).sheet if _may_be_parted(sheet) else sheet


def made_for_other_hides(job: Job, sheet: Sheet, again: Again) -> Job:
    """A job for its sheet with other hides: made again only where those part its pieces otherwise. again: as
    `make_for_hides`."""
    there = replace(job.sheet, hides=sheet.hides, places=sheet.places, revision=sheet.revision)
    now = replace(job, sheet=there)
    return again(sheet) if _joinings(job.sheet) != _joinings(sheet) or partings(now) else now


def _joinings(sheet: Sheet) -> list[object]:
    return [pad.pleats and pad.pleats.joining for pad in sheet.pads]


def _may_be_parted(sheet: Sheet) -> bool:
    pleated = any(pad.pleats is not None and pad.pleats.joining.construction != "strips" for pad in sheet.pads)
    return pleated and has_something_to_lay_on(sheet)


def _without_rows(given: Sheet, fault: ProblemError, again: Again) -> Job:
    """The job without rows that name seams and pieces, where hides part its pieces; raises the fault otherwise."""
    bare = replace(given, fits=(), eases=(), seams=(), cuts=())
    if not (given.fits or given.eases or given.seams or given.cuts):
        raise fault
    try:
        whole = again(bare)
    except ProblemError:
        raise fault from None
    if not partings(whole):
        raise fault
    return whole


def _parted(job: Job, sheet: Sheet, again: Again) -> Job:
    """A job, made again with the joins that its pieces need, until all parts have room or nothing more helps."""
    for _ in range(MOST_LOOKS):
        ways = partings(job)
        if not ways:
            break
        joined = _joined(sheet, ways, job)
        try:
            job, sheet = again(joined), joined
        except ProblemError as fault:
            if job.sheet.fits != sheet.fits or job.sheet.seams != sheet.seams:
                raise
            notes = tuple(_refused(way, fault.problems[0]) for way in ways)
            return replace(job, problems=(*job.problems, *notes))
    return job


def partings(job: Job) -> list[ValleyParting]:
    """The pieces that no hide or roll has room for, and the fewest valleys at which they come to parts that there is
    room for; pieces of which even single pleats find none are left out, and pinned ones."""
    cuts = leather_cuts(job)
    pinned = {pin.piece for hide in job.sheet.hides.hides for pin in hide.pins}
    found, panels = list[ValleyParting](), set[str]()
    for task in tasks_of(job, cuts, asks_of(job, cuts, job.sheet.hides.placings), PinnedCuts({}), (0, None)):
        for cut, ask in zip(task.cuts, task.asks, strict=True):
            if cut.piece is None or not cut.piece.panels or cut.name in pinned or panels & {*cut.piece.panels}:
                continue
            way = _way_to_part(task, cut, ask)
            if way is not None:
                found.append(way)
                panels.update(cut.piece.panels)
    return found


def _way_to_part(task: LeatherTask, cut: LeatherCut, ask: CutAsk) -> ValleyParting | None:
    assert cut.piece is not None
    panel = task.job.panels[cut.piece.panels[0]]
    pad = next(pad for pad in task.job.pads if panel in pad.panels)
    plan = None if pad.pleats is None else pad.pleats.plan
    if plan is None or not (task.hides or task.covering.roll) or _has_room(task, cut, replace(ask, zones=ZONES)):
        return None
    valleys = _valleys(plan, cut)
    even = is_even(pad.pad) and plan.pleats.direction == "along"
    numbers = {one.number for one in valleys}
    across = even and all(plan.count - number in numbers for number in numbers)
    allowance = task.job.sheet.allowance.sewn
    for zones in (ask.zones, ZONES):
        for joins in _spread(valleys, plan.count, even=across):
            parts = part_outlines(cut.points, [one.line for one in joins], allowance)
            alone = [replace(cut, piece=None, points=part) for part in parts]
            if len(parts) == len(joins) + 1 and all(_has_room(task, one, replace(ask, zones=zones)) for one in alone):
                at = {one.number for one in joins}
                whole = {*plan.parts.joins, *at, *({plan.count - number for number in at} if even else ())}
                words, renamed = (
                    tuple(one.name for one in joins),
                    _renamed(plan, pad.pad.name, Parts(tuple(sorted(whole)))),
                )
                return ValleyParting(pad.pad.name, cut.name, tuple(sorted(whole)), words, renamed)
    return None


def _has_room(task: LeatherTask, cut: LeatherCut, ask: CutAsk) -> bool:
    """Whether a piece goes onto a hide or the roll by itself. On a roll it lies along, and is not turned."""
    if task.covering.roll is not None:
        return float(np.ptp(cut.points[:, 0])) <= task.covering.roll.usable_mm
    return fits_alone(task, cut, ask)


def _valleys(plan: PleatPlan, cut: LeatherCut) -> list[_ValleyAcross]:
    """The valleys across a piece, in order."""
    assert cut.piece is not None
    lines = [line for line in cut.piece.inner if line.kind is LineKind.STITCH and len(line.points) > 1]
    found = []
    for line in lines:
        # On a piece that is also cut mirrored valleys have no side.
        named = [one for one in plan.valleys if one.name == line.name]
        named = named or [one for one in plan.valleys if one.unsided == line.name and one.side != "left"]
        if not named:
            continue
        way = line.points[-1] - line.points[0]
        across = cut.points @ (np.array([way[1], -way[0]]) / max(float(np.hypot(*way)), 1e-9))
        place = float((line.points @ (np.array([way[1], -way[0]]) / max(float(np.hypot(*way)), 1e-9))).mean())
        share = (place - float(across.min())) / max(float(np.ptp(across)), 1e-9)
        found.append(_ValleyAcross(named[0].number, named[0].name, line.points, share))
    return sorted(found, key=lambda one: one.share)


def _spread(valleys: Sequence[_ValleyAcross], count: int, *, even: bool) -> Iterator[tuple[_ValleyAcross, ...]]:
    """Valleys that part a piece the most evenly, in two parts and more. count: of the pad's pleats; even: they have to
    mirror each other."""
    for parts in range(2, len(valleys) + 2):
        targets = [k / parts for k in range(1, parts)]
        chosen = [min(valleys, key=lambda one: (abs(one.share - target), one.number)) for target in targets]
        if even:
            half = [one for one, target in zip(chosen, targets, strict=True) if target < 0.5 - 1e-9]
            mirrored = [next(one for one in valleys if one.number == count - here.number) for here in reversed(half)]
            middle = [one for one in valleys if 2 * one.number == count] if parts % 2 == 0 else []
            chosen = [*half, *middle, *mirrored]
        if len({one.number for one in chosen}) == parts - 1 and all(a.share < b.share for a, b in pairwise(chosen)):
            yield tuple(chosen)


def part_outlines(points: FloatArray, lines: Sequence[FloatArray], allowance_mm: float) -> list[FloatArray]:
    """Cut lines of what some valleys (k, 2) leave of a piece's cut line, each with an allowance beyond the valley."""
    whole = Polygon(points)
    parts = [whole]
    for line in lines:
        parts = [half for part in parts for half in split(part, _carried_on(line)).geoms if half.area > LEAST_PART_MM2]
    return [ring(_largest(part.buffer(allowance_mm, join_style="mitre").intersection(whole))) for part in parts]


def _carried_on(points: FloatArray) -> LineString:
    """A line carried on straight at both ends."""
    ends = []
    for end, before in ((points[0], points[1]), (points[-1], points[-2])):
        way = end - before
        ends.append(end + CARRIED_ON_MM * way / max(float(np.hypot(*way)), 1e-9))
    return LineString([ends[0], *points, ends[1]])


def _largest(shape: object) -> Polygon:
    return max((one for one in getattr(shape, "geoms", [shape]) if isinstance(one, Polygon)), key=lambda one: one.area)


def _renamed(plan: PleatPlan, pad: str, parts: Parts) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What the pleated pieces of a pad are called once it has these parts, by what they are called now."""
    word, runs = plan.pleats.where, parts.runs(plan.count)
    then = [f"{pad} {name}" for name, _ in run_names(plan, parts, word)]
    now = [f"{pad} {name}" for name, _ in run_names(plan, plan.parts, word)]
    found = []
    for name, (first, last) in zip(now, plan.parts.runs(plan.count), strict=True):
        found.append((name, tuple(one for one, (a, b) in zip(then, runs, strict=True) if first <= a and b <= last)))
    return tuple(found)


def _joined(sheet: Sheet, ways: Sequence[ValleyParting], job: Job) -> Sheet:
    """The sheet as if it had these joins, with what is told of them; what it says of a whole piece holds for parts."""
    joins = {way.pad: tuple(sorted({n for one in ways if one.pad == way.pad for n in one.joins})) for way in ways}
    pads = []
    for pad in sheet.pads:
        if pad.pleats is not None and pad.name in joins:
            joining = replace(pad.pleats.joining, joins=joins[pad.name], largest_width=None, largest_area_m2=None)
            pad = replace(pad, pleats=replace(pad.pleats, joining=joining))
        pads.append(pad)
    renamed = dict(pair for way in ways for pair in way.renamed)

    def parts(names: Sequence[str]) -> tuple[str, ...]:
        return tuple(part for name in names for part in renamed.get(name, (name,)))

    placings = tuple(replace(one, pieces=parts(one.pieces)) for one in sheet.hides.placings)
    coverings = tuple(replace(one, panels=parts(one.panels)) for one in sheet.coverings)
    notes = tuple(_told(way, joins[way.pad], job) for way in ways)
    hides = replace(sheet.hides, placings=placings)
    return replace(sheet, pads=tuple(pads), hides=hides, coverings=coverings, warnings=(*sheet.warnings, *notes))


def _told(way: ValleyParting, joins: Sequence[int], job: Job) -> Problem:
    numbers = ", ".join(str(one) for one in joins)
    count = len(way.words) + 1
    text = (
        f"no hide or roll has room for it whole: it is cut in {count} parts, sewn to each other at "
        f"{and_words(way.words)} with {job.sheet.allowance.sewn:g} mm beyond the line on both, on all papers too; with "
        f"joins = [{numbers}] under [pad.pleats] it stays parted so whatever hides there are"
    )
    return Problem("H018", way.piece, text, warning=True)


def _refused(way: ValleyParting, fault: Problem) -> Problem:
    text = f"no hide or roll has room for it whole, and parted at {and_words(way.words)} it is refused: {fault.text}"
    return Problem("H018", way.piece, text, warning=True)
