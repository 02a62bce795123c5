"""What draws pieces to each other: mirror images to mirrored places of one room, neighbours near each other.

Costs are millimetres, so that they stand beside how far a layout reaches. They never make pieces lie on each other:
only places that are free anyhow are compared by them.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import affinity

from flatten.nesting.search import OnGrid
from flatten.nesting.table import CuttingTable, Oriented
from flatten.nesting.task import FixedCut, Tie
from meshes.base.arrays import FloatArray, IntArray

# What a millimetre within what is good enough counts, beside one beyond it; and what it counts, mm, that arrows point
# opposite ways or that neighbours lie in unlike parts of a room.
WITHIN, OPPOSITE_MM, UNLIKE_MM = 0.25, 120.0, 150.0


@dataclass(frozen=True, eq=False)
class _Lying:
    """Where something lies on the table: middle (2,) and size (2,) of its box, mm, and its turn."""

    middle: FloatArray
    size: FloatArray
    turn_deg: float


class TieCosts:
    """Costs of the ties of one task on its table. fixed: what lies in a room already and stays there; such pieces have
    the numbers after those of the pieces to be laid."""

    def __init__(self, table: CuttingTable, ties: Sequence[Tie], fixed: Sequence[FixedCut] = ()) -> None:
        self.table = table
        fixed = [one for one in fixed if any(room.name == one.room for room in table.rooms)]
        self._fixed = [self._there(one) for one in fixed]
        names = [*(one.name for one in table.wanted), *(one.name for one in fixed)]
        numbers = {name: k for k, name in enumerate(names)}
        known = [tie for tie in ties if tie.one in numbers and tie.other in numbers]
        all_ties = [(numbers[tie.one], numbers[tie.other], tie) for tie in known]
        self.ties = [row for row in all_ties if min(row[:2]) < len(table.wanted)]
        self.of: dict[int, list[tuple[int, Tie]]] = {}
        for a, b, tie in self.ties:
            self.of.setdefault(a, []).append((b, tie))
            self.of.setdefault(b, []).append((a, tie))
        self._labels = self._labelled() if any(not tie.mirrored for _, _, tie in self.ties) else None

    def _there(self, one: FixedCut) -> _Lying:
        k = [room.name for room in self.table.rooms].index(one.room)
        points = one.points + self.table.moves[k]
        low, high = points.min(axis=0), points.max(axis=0)
        return _Lying(0.5 * (low + high), high - low, one.turn_deg)

    @property
    def fixed_reach_mm(self) -> float:
        """How far along the table pieces that stay where they are reach."""
        return max((float(one.middle[0] + 0.5 * one.size[0]) for one in self._fixed), default=0.0)

    def _lies(self, index: int, state: OnGrid) -> _Lying:
        if index >= len(self.table.wanted):
            return self._fixed[index - len(self.table.wanted)]
        one = state.lying[index]
        low = np.array(state.at[index]) * self.table.step
        return _Lying(low + 0.5 * one.outline.size, one.outline.size, one.turn_deg)

    def _labelled(self) -> IntArray:
        """The number of the part of its room that each place of the grid lies in, 0 for none."""
        table = self.table
        shape = [int(np.ceil(mm / table.step)) + 2 for mm in (table.length_mm, table.width_mm)]
        x, y = np.meshgrid(np.arange(shape[0]) * table.step, np.arange(shape[1]) * table.step, indexing="ij")
        found = np.zeros(shape, dtype=int)
        names = sorted({name for room in table.rooms for name in room.parts})
        for room, move in zip(table.rooms, table.moves, strict=True):
            for name, area in room.parts.items():
                inside = shapely.contains_xy(affinity.translate(area, *move), x, y)
                found[inside] = 1 + names.index(name)
        return found

    def _mirrored(self, middle: FloatArray) -> FloatArray | None:
        """The mirrored place of one on the table, None in a room without an axis."""
        ends = [high for _, high in self.table.boxes]
        k = min(int(np.searchsorted(ends, float(middle[0]))), len(ends) - 1)
        axis = self.table.rooms[k].axis_mm
        if axis is None:
            return None
        return np.array([middle[0], 2.0 * (axis + self.table.moves[k][1]) - middle[1]])

    def _label(self, middle: FloatArray) -> int:
        assert self._labels is not None
        i, j = (round(float(v) / self.table.step) for v in middle)
        return int(self._labels[min(i, self._labels.shape[0] - 1), min(max(j, 0), self._labels.shape[1] - 1)])

    def _cost(self, tie: Tie, one: Oriented | _Lying, other: _Lying, x: FloatArray, y: FloatArray) -> FloatArray:
        """What it costs that the middle of one piece lies at x (n, 1), y (1, m), its part of the room left out."""
        place = self._mirrored(other.middle) if tie.mirrored else None
        if place is not None:
            away = np.hypot(x - place[0], y - place[1])
        else:
            size = one.outline.size if isinstance(one, Oriented) else one.size
            room = np.zeros(2) if tie.mirrored else 0.5 * (size + other.size)
            dx, dy = np.abs(x - other.middle[0]) - room[0], np.abs(y - other.middle[1]) - room[1]
            away = np.hypot(np.maximum(dx, 0.0), np.maximum(dy, 0.0))
        apart = abs((one.turn_deg - other.turn_deg + 180.0) % 360.0 - 180.0)
        fixed = OPPOSITE_MM if apart > 90.0 else 0.0
        return np.asarray(WITHIN * away + np.maximum(away - tie.free_mm, 0.0) + fixed)

    def places(
        self, index: int, oriented: Oriented, state: OnGrid, among: Collection[int], shape: tuple[int, int]
    ) -> FloatArray | None:
        """What ties to pieces among those that lie, and to fixed ones, cost a piece at every place, None without
        any."""
        count = len(self.table.wanted)
        ties = [(other, tie) for other, tie in self.of.get(index, ()) if other in among or other >= count]
        if not ties:
            return None
        x = (np.arange(shape[0]) * self.table.step + 0.5 * oriented.outline.size[0])[:, None]
        y = (np.arange(shape[1]) * self.table.step + 0.5 * oriented.outline.size[1])[None, :]
        total = np.zeros(shape)
        for other, tie in ties:
            there = self._lies(other, state)
            total += self._cost(tie, oriented, there, x, y)
            if not tie.mirrored and self._labels is not None:
                i, j = (round(0.5 * float(v) / self.table.step) for v in oriented.outline.size)
                here = self._labels[i : i + shape[0], j : j + shape[1]]
                total[: here.shape[0], : here.shape[1]] += UNLIKE_MM * (here != self._label(there.middle))
        return total

    def each(self, state: OnGrid) -> FloatArray:
        """What every tie costs in a layout, shape (ties,)."""
        found = []
        for a, b, tie in self.ties:
            here, there = self._lies(a, state), self._lies(b, state)
            cost = float(self._cost(tie, here, there, here.middle[:1, None], here.middle[None, 1:])[0, 0])
            if not tie.mirrored and self._labels is not None and self._label(here.middle) != self._label(there.middle):
                cost += UNLIKE_MM
            found.append(cost)
        return np.array(found)

    def wished(self, index: int, other: int, state: OnGrid) -> FloatArray:
        """Where on the table a piece should lie for its mirror image to lie well, or its neighbour's middle."""
        middle = self._lies(other, state).middle
        tie = next(tie for found, tie in self.of[index] if found == other)
        place = self._mirrored(middle) if tie.mirrored else None
        return middle if place is None else place
