"""How far a stitch line moves along an edge: the full amount between two marks, run out smoothly beyond them.

Beyond its marks an amount runs out to the next mark, over at least RUN_OUT times the amount, along half a wave of a
cosine: steepest where it is pi / 16 of the amount a mm of run-out, 11 degrees off the old line at the most. At a corner
that is sewn on both sides it is out; there it begins within the stretch where there is no room before it. At a corner
whose other edge is held, not sewn, it may go on to the end.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from meshes.base.arrays import FloatArray

# An amount runs out over so many times itself at least.
RUN_OUT = 8.0
# A run-out is drawn with points no farther apart than this.
POINTS_APART_MM = 2.0
# Ends of two stretches that lie nearer than this are one place.
SAME_MARK_MM = 0.05
# Less than this is no amount.
NO_AMOUNT_MM = 1e-9


@dataclass(frozen=True)
class AskedStretch:
    """One stretch of an edge as a row asks for it. start_mm, end_mm: along the edge; out_mm: each layer; before_mm,
    after_mm: where the next marks are; row: its number in the sheet."""

    row: int
    start_mm: float
    end_mm: float
    out_mm: float
    before_mm: float
    after_mm: float

    @property
    def least_mm(self) -> float:
        """Over how much it has to run out at least."""
        return RUN_OUT * abs(self.out_mm)


@dataclass(frozen=True)
class EdgeGround:
    """The edge it happens on: its length, and whether a stretch may go on to its start and its end in full."""

    length_mm: float
    open_start: bool = False
    open_end: bool = False


class NoRoomError(Exception):
    """Two stretches, or one and the end of its edge, leave no room for a run-out. rows: those concerned."""

    def __init__(self, rows: tuple[int, ...], text: str) -> None:
        self.rows = rows
        super().__init__(text)


@dataclass(frozen=True)
class RunOut:
    """One stretch with its run-outs: nothing up to from_mm, all of it from start_mm to end_mm, nothing from to_mm on.
    Where it goes on to a corner in full both places are that corner."""

    asked: AskedStretch
    from_mm: float
    start_mm: float
    end_mm: float
    to_mm: float

    def out_at(self, at: FloatArray) -> FloatArray:
        """How far the line lies outside the old one at places (k,) along the edge, mm."""
        rise, fall = self.start_mm - self.from_mm, self.to_mm - self.end_mm
        up = _wave(at, self.from_mm, self.start_mm) if rise > 0.0 else np.ones(len(at))
        down = 1.0 - _wave(at, self.end_mm, self.to_mm) if fall > 0.0 else np.ones(len(at))
        return np.asarray(self.asked.out_mm * np.minimum(up, down))

    @property
    def places(self) -> list[float]:
        """Where it is to be drawn with a point: its four ends, and along its run-outs."""
        runs = ((self.from_mm, self.start_mm), (self.end_mm, self.to_mm))
        found = [np.linspace(a, b, max(int(np.ceil((b - a) / POINTS_APART_MM)), 1) + 1) for a, b in runs]
        return [float(place) for run in found for place in run]


def run_outs(stretches: Sequence[AskedStretch], ground: EdgeGround) -> tuple[RunOut, ...]:
    """The stretches of one round with their run-outs, along the edge. They do not overlap. Raises NoRoomError."""
    merged = _merged(sorted(stretches, key=lambda one: one.start_mm))
    found = [_alone(one, ground) for one in merged]
    for k, (one, two) in enumerate(pairwise(found)):
        if one.to_mm > two.from_mm + SAME_MARK_MM:
            found[k], found[k + 1] = _into_each_other(one, two)
    return tuple(found)


def out_mm(runs: Sequence[RunOut], at: FloatArray) -> FloatArray:
    """How far the stretches of one round move the line at places (k,) along the edge, mm, below 0 inwards."""
    total = np.zeros(len(at))
    for one in runs:
        total = total + one.out_at(at)
    for one, two in pairwise(runs):
        # Where one stretch goes over into the next, the line goes straight from amount to amount.
        if one.to_mm == two.start_mm and one.end_mm == two.from_mm and one.end_mm < two.start_mm:
            inside = (at >= one.end_mm) & (at <= two.start_mm)
            share = _wave(at, one.end_mm, two.start_mm)
            total = np.where(inside, one.asked.out_mm + share * (two.asked.out_mm - one.asked.out_mm), total)
    return np.asarray(total)


def _wave(at: FloatArray, start: float, end: float) -> FloatArray:
    """0 up to start, 1 from end on, half a wave between."""
    share = np.clip((at - start) / (end - start), 0.0, 1.0)
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * share))


def _merged(rows: Sequence[AskedStretch]) -> list[AskedStretch]:
    """Stretches that touch and are moved alike are one."""
    found: list[AskedStretch] = []
    for row in rows:
        last = found[-1] if found else None
        if last is not None and row.start_mm <= last.end_mm + SAME_MARK_MM and row.out_mm == last.out_mm:
            end, after = max((last.end_mm, last.after_mm), (row.end_mm, row.after_mm))
            found[-1] = AskedStretch(last.row, last.start_mm, end, last.out_mm, last.before_mm, after)
        else:
            found.append(row)
    return found


def _alone(asked: AskedStretch, ground: EdgeGround) -> RunOut:
    """A stretch by itself on its edge."""
    start = _begun(asked.start_mm, asked.start_mm - asked.before_mm, asked.least_mm, ground.open_start)
    rest = ground.length_mm - asked.end_mm
    end = _begun(rest, asked.after_mm - asked.end_mm, asked.least_mm, ground.open_end)
    found = RunOut(asked, start[0], start[1], ground.length_mm - end[1], ground.length_mm - end[0])
    if found.start_mm > found.end_mm + SAME_MARK_MM:
        text = f"{abs(asked.out_mm):.1f} mm need {asked.least_mm:.0f} mm to run out before a corner that is sewn on "
        text += "both sides, and the stretch is too short for that; take marks farther apart, or a smaller amount"
        raise NoRoomError((asked.row,), text)
    return found


def _begun(room: float, to_next: float, least: float, free: bool) -> tuple[float, float]:
    """Where a run-out begins and ends, counted from the end of the edge; room: from there to the stretch."""
    if room <= SAME_MARK_MM:
        return (0.0, 0.0) if free else (0.0, least)
    run = max(to_next, least)
    if run <= room + SAME_MARK_MM or free:
        return room - run, room
    return 0.0, max(room, least)


def _into_each_other(one: RunOut, two: RunOut) -> tuple[RunOut, RunOut]:
    """Two stretches whose run-outs would cross: the line goes from the one amount over into the other."""
    gap, change = two.start_mm - one.end_mm, abs(two.asked.out_mm - one.asked.out_mm)
    if gap < RUN_OUT * change - SAME_MARK_MM:
        text = f"there are {max(gap, 0.0):.0f} mm between both stretches, and to go from {one.asked.out_mm:+.1f} to "
        text += f"{two.asked.out_mm:+.1f} mm takes {RUN_OUT * change:.0f} mm; leave a mark more between them"
        raise NoRoomError((one.asked.row, two.asked.row), text)
    return (
        RunOut(one.asked, one.from_mm, one.start_mm, one.end_mm, two.start_mm),
        RunOut(two.asked, one.end_mm, two.start_mm, two.end_mm, two.to_mm),
    )
