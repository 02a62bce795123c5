"""The pieces of one leather laid on its hides, or of one covering laid on its roll: rooms for the same search."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely.geometry import Polygon, box

from flatten.coverings.covering import Covering
from flatten.coverings.roll_length import roll_length_mm
from flatten.hides.asks import CutAsk, LeatherCut
from flatten.hides.laid_cut import ALONG_DEG, LaidCut
from flatten.hides.like_leather import ties_of
from flatten.hides.pinned import PinnedCuts
from flatten.hides.rooms import hide_area, room_of
from flatten.job.pipeline import Job
from flatten.nesting.check import faults
from flatten.nesting.layout import lay_out
from flatten.nesting.task import CutLayout, Effort, FixedCut, Room, Ties, ToPlace
from meshes.base.problems import Problem
from meshes.hides.records import Hide
from meshes.schema.cover_tables import ZONES

# A piece so many times as wide as its arrow is long lies across the hide, and what would lay it along.
LIES_ACROSS, QUARTER_TURN_DEG = 1.5, 90.0
# On a roll welt may run along or across; everything else has its arrow along the roll.
WELT_TURNS_DEG, ALONG_THE_ROLL = (0.0, 90.0), (0.0,)


@dataclass(frozen=True, eq=False)
class LeatherTask:
    """What is cut from one leather, and from which hides, by their numbers, or the roll it comes on. effort: how long
    is looked."""

    job: Job
    covering: Covering
    cuts: tuple[LeatherCut, ...]
    asks: tuple[CutAsk, ...]
    hides: tuple[int, ...]
    pinned: PinnedCuts
    effort: Effort


@dataclass(frozen=True, eq=False)
class LaidLeather:
    """What came of it. cut, asks: what was cut in the end, and what that was asked; roll: the length taken of one."""

    cuts: tuple[LaidCut, ...]
    asks: tuple[CutAsk, ...]
    layout: CutLayout
    problems: tuple[Problem, ...]
    roll: Hide | None = None
    cut: tuple[LeatherCut, ...] = ()


def laid_on_hides(task: LeatherTask) -> LaidLeather:
    """The pieces of one leather on its hides. Where some find no room in their zones alone, all is laid once more with
    all zones for them, which is told."""
    layout = layout_of(task)
    narrow = {cut.label for cut, ask in zip(task.cuts, task.asks, strict=True) if len(ask.zones) < len(ZONES)}
    short = narrow & set(layout.unplaced)
    notes = []
    if short:
        wider = tuple(
            replace(ask, zones=ZONES, why="its zones had no room") if cut.label in short else ask
            for cut, ask in zip(task.cuts, task.asks, strict=True)
        )
        again = layout_of(replace(task, asks=wider))
        if len(again.unplaced) < len(layout.unplaced):
            task, layout = replace(task, asks=wider), again
            text = (
                "finds no room in its zones and lies in others; give another hide, or say in [[placing]] where it may"
            )
            wide = {cut.label: across_words(cut, ask) for cut, ask in zip(task.cuts, task.asks, strict=True)}
            notes = [
                Problem("H008", label, f"{text} lie{wide[label]}", warning=True)
                for label in sorted(short - set(again.unplaced))
            ]
    return LaidLeather(_laid(task, layout), task.asks, layout, tuple(notes), cut=task.cuts)


def _order(task: LeatherTask) -> list[int]:
    """Hides in the order they are cut: those with pinned pieces, then the largest."""
    hides = task.job.sheet.hides.hides
    areas = {k: hide_area(hides[k]).area for k in task.hides}
    return sorted(areas, key=lambda k: (k not in task.pinned.hides, -areas[k], k))


def layout_of(task: LeatherTask) -> CutLayout:
    """Where the pieces that are not pinned lie on the hides. Raises RuntimeError for a layout that does not hold."""
    plan = task.job.sheet.hides
    wanted = [
        ToPlace(cut.label, cut.points, tuple(turn + ALONG_DEG for turn in ask.turns_deg), ask.grade, _along_ranges(ask))
        for cut, ask in zip(task.cuts, task.asks, strict=True)
        if cut.label not in task.pinned.labels
    ]
    grades = {one.grade for one in wanted}
    rooms = [room_of(plan.hides[k], plan.cutting, grades, task.pinned.on(k)) for k in _order(task)]
    left = [room for room in rooms if room is not None]
    if not left or not wanted:
        return CutLayout((), tuple(one.name for one in wanted), 0.0, 0.0, None, 0)
    names = {room.name for room in left}
    fixed = [
        FixedCut(label, plan.hides[pin.hide].name, pin.turn_deg + ALONG_DEG, pin.points)
        for label, pin in task.pinned.labels.items()
        if plan.hides[pin.hide].name in names
    ]
    ties = Ties(tuple(ties_of(task.cuts, task.job.panels, plan.cutting)), tuple(fixed))
    return _held(wanted, left, plan.cutting.gap_mm, task.effort, ties)


def _along_ranges(ask: CutAsk) -> tuple[tuple[float, float], ...]:
    """The turns a piece may have, (from, to), with its arrow along y."""
    return tuple((low + ALONG_DEG, high + ALONG_DEG) for low, high in ask.ranges_deg)


def _held(
    wanted: Sequence[ToPlace], rooms: Sequence[Room], gap_mm: float, effort: Effort, ties: Ties | None
) -> CutLayout:
    layout = lay_out(wanted, rooms, gap_mm=gap_mm, effort=effort, ties=ties)
    wrong = faults(layout, wanted, rooms, gap_mm)
    if wrong:
        raise RuntimeError(f"the layout does not hold: {'; '.join(wrong)}")
    return layout


def _laid(task: LeatherTask, layout: CutLayout) -> tuple[LaidCut, ...]:
    numbers = {hide.name: k for k, hide in enumerate(task.job.sheet.hides.hides)}
    placed = {one.wanted.name: one for one in layout.placed}
    found = []
    for cut, ask in zip(task.cuts, task.asks, strict=True):
        if cut.label in task.pinned.labels:
            pin = task.pinned.labels[cut.label]
            found.append(LaidCut(cut, ask, pin.hide, pin.turn_deg % 360.0, pin.shift, pin.points, True))
        elif cut.label in placed:
            one = placed[cut.label]
            turn = (one.turn_deg - ALONG_DEG) % 360.0
            found.append(LaidCut(cut, ask, numbers[one.room], turn, one.shift, one.points))
    return tuple(found)


def laid_on_roll(task: LeatherTask, number: int) -> LaidLeather:
    """The pieces of one covering along its roll, none turned but strips of welt. number: of the roll after all hides.

    Along is measured from the end of the roll, off from the edge of what is usable, at the right.
    """
    roll, gap = task.covering.roll, task.job.sheet.hides.cutting.gap_mm
    assert roll is not None
    sizes = [np.ptp(cut.points, axis=0) for cut in task.cuts]
    boxes = [(float(wide) + gap, float(long) + gap) for wide, long in sizes]
    length, _ = roll_length_mm(boxes, roll.usable_mm + gap)
    # Boxes in rows fit into so much; strips of welt turned across need no more.
    length += max(float(size.max()) for size in sizes)
    name = f"roll of {task.covering.card.name}"
    room = Room(name, {"": box(0.0, 0.0, length, roll.usable_mm)})
    wanted = [ToPlace(cut.label, cut.points, tuple(turn + ALONG_DEG for turn in _roll_turns(cut))) for cut in task.cuts]
    layout = _held(wanted, [room], gap, task.effort, None)
    end = max((float(one.points[:, 0].max()) for one in layout.placed), default=0.0)
    corners = np.array([[0.0, 0.0], [end, 0.0], [end, roll.usable_mm], [0.0, roll.usable_mm]])
    hide = Hide(name, corners, corners[:2], {}, leather=task.covering.card.name, roll=True)
    placed = {one.wanted.name: one for one in layout.placed}
    cuts = []
    for cut, ask in zip(task.cuts, task.asks, strict=True):
        if cut.label in placed:
            one = placed[cut.label]
            turn = (one.turn_deg - ALONG_DEG) % 360.0
            cuts.append(LaidCut(cut, replace(ask, zones=(), why=name), number, turn, one.shift, one.points))
    notes = [
        Problem("H017", label, f"is wider than {roll.usable_mm:g} mm of {name}, which is usable; part it", warning=True)
        for label in layout.unplaced
    ]
    return LaidLeather(tuple(cuts), task.asks, layout, tuple(notes), hide if cuts else None)


def _roll_turns(cut: LeatherCut) -> tuple[float, ...]:
    return WELT_TURNS_DEG if cut.piece is None else ALONG_THE_ROLL


def room_missing(task: LeatherTask, layout: CutLayout) -> list[Problem]:
    """Pieces that found no room: because no hide is large enough for one, or beside the others."""
    sheet, found = task.job.sheet, []
    by_label = {cut.label: (cut, ask) for cut, ask in zip(task.cuts, task.asks, strict=True)}
    for label in layout.unplaced:
        cut, ask = by_label[label]
        area = Polygon(cut.points).area / 1e6
        if not fits_alone(task, cut, ask):
            text = f"no hide has room for it ({area:.3f} m2) clear of flaws and in its zones ({', '.join(ask.zones)})"
            text += f"; part it, or find a larger hide{across_words(cut, ask)}"
            found.append(sheet.problem("H003", ("hide",), f"{label}: {text}", True))
        else:
            text = f"found no room beside the others; {area:.3f} m2 are missing: add a hide"
            found.append(sheet.problem("H005", ("hide",), f"{label}: {text}", True))
    return found


def across_words(cut: LeatherCut, ask: CutAsk) -> str:
    """What helps a piece that is much wider than its arrow is long, and so lies across the hide; "" for any other and
    for one that may be turned already."""
    wide, long = (float(size) for size in np.ptp(cut.points, axis=0))
    if wide < LIES_ACROSS * long or ask.turn_deg >= QUARTER_TURN_DEG:
        return ""
    return (
        f"; it lies {wide:.0f} mm across the backbone and {long:.0f} mm along it, as its arrow goes along its short "
        f"side: turn = {QUARTER_TURN_DEG:g} in [[placing]] lets it lie the other way, if it may stretch so"
    )


def fits_alone(task: LeatherTask, cut: LeatherCut, ask: CutAsk) -> bool:
    """Whether a hide has room for a piece by itself, beside what is pinned."""
    pinned = replace(task.pinned, labels={k: p for k, p in task.pinned.labels.items() if k != cut.label})
    return not layout_of(
        replace(task, cuts=(cut,), asks=(ask,), pinned=pinned, effort=Effort(rounds=0, moves=0))
    ).unplaced
