"""A layout that lies free is made better by taking a few pieces out and laying them down again, each where that costs
least (ruin and recreate: Schrimpf, Schneider, Stamm-Wilbrandt, Dueck, J. Computational Physics 159, 2000).

What a layout costs is how far it reaches, and what its ties cost. A little worse is accepted at first, nothing in the
end.
"""

from collections.abc import Callable

import numpy as np

from flatten.nesting.search import ApartSearch, OnGrid
from flatten.nesting.ties import TieCosts
from meshes.base.arrays import FloatArray

# What it counts that pieces reach far on the average, beside how far they reach at most; and that a room more is used,
# mm, half of it by the share of the pieces that lie there.
MEAN_REACH, ROOM_MORE_MM = 0.3, 3000.0
# A piece is laid down as if it were no smaller a share of all than this, so that small ones lie up as well.
SMALLEST_SHARE = 0.15
# How much worse a layout may be to go on from, at first, mm; and the most pieces that are taken out at once.
FIRST_WORSE_MM, MOST_OUT = 80.0, 6


class Ruin:
    """Ruin and recreate over one table whose outlines may not lie on each other at all."""

    def __init__(self, search: ApartSearch, ties: TieCosts, areas: FloatArray) -> None:
        self.search, self.ties = search, ties
        self.step, self.draw = search.table.step, search.draw
        self.areas = np.asarray(areas, dtype=float)
        self.shares = self.areas / self.areas.sum()
        self.room_ends = np.array([high + search.table.half_mm for _, high in search.table.boxes[:-1]])

    def ends(self, state: OnGrid) -> FloatArray:
        """How far along the table each piece reaches, mm."""
        return np.array(
            [at[0] * self.step + one.outline.size[0] for one, at in zip(state.lying, state.at, strict=True)]
        )

    def cost(self, state: OnGrid) -> float:
        """What a layout costs, mm."""
        ends = self.ends(state)
        rooms = np.searchsorted(self.room_ends, ends - self.step)
        rest = 0.5 * ROOM_MORE_MM * (float(rooms.max()) + float(rooms @ self.shares))
        reach = max(float(ends.max()), self.ties.fixed_reach_mm)
        return reach + MEAN_REACH * float(ends @ self.shares) + rest + float(self.ties.each(state).sum())

    def lay(self, order: list[int], state: OnGrid, laid: list[int], *, reach: float, ways: int | None = None) -> bool:
        """Lay pieces down one after the other where each costs least, changing `state`; whether all found room. ways:
        how many of their directions are tried, None for all."""
        reach = max(reach, self.ties.fixed_reach_mm)
        weights = np.ones(self.search.count + 1)
        for index in order:
            found = None
            for oriented in self.search.table.choices[index][:ways]:
                total = self.search.costs(index, oriented, state, weights, laid)
                if total is None:
                    continue
                ends = np.arange(total.shape[0]) * self.step + float(oriented.outline.size[0])
                rooms = np.searchsorted(self.room_ends, ends - self.step)
                last = int(np.searchsorted(self.room_ends, reach - self.step))
                along = np.maximum(ends - reach, 0.0) + MEAN_REACH * SMALLEST_SHARE * ends
                along += 0.5 * ROOM_MORE_MM * (np.maximum(rooms - last, 0) + self.shares[index] * rooms)
                worth = np.where(total > 0.0, np.inf, along[:, None])
                tied = self.ties.places(index, oriented, state, laid, (total.shape[0], total.shape[1]))
                if tied is not None:
                    worth += tied
                k = int(np.argmin(worth))
                cost = float(worth.flat[k])
                if np.isfinite(cost) and (found is None or cost < found[0]):
                    found = (cost, oriented, divmod(k, total.shape[1]))
            if found is None:
                return False
            _, state.lying[index], state.at[index] = found
            laid.append(index)
            reach = max(reach, state.at[index][0] * self.step + float(state.lying[index].outline.size[0]))
        return True

    def begun(self, order: list[int], *, ways: int | None = None) -> OnGrid | None:
        """A layout from nothing, None where a piece finds no free place. ways: as `lay` has it."""
        choices = self.search.table.choices
        state = OnGrid([options[0] for options in choices], [(0, 0)] * self.search.count)
        return state if self.lay(order, state, [], reach=0.0, ways=ways) else None

    def shuffled(self) -> list[int]:
        """An order by size in which pieces of like size change over."""
        sizes = np.log(self.areas) + self.draw.normal(0.0, 0.5, self.search.count)
        return [int(k) for k in np.argsort(-sizes, kind="stable")]

    def together(self, order: list[int]) -> list[int]:
        """The same order with pieces that are tied drawn up to the first of them."""
        found: list[int] = []
        for index in order:
            if index not in found:
                found.append(index)
                mirrored = [other for other, tie in self.ties.of.get(index, ()) if tie.mirrored]
                found += [other for other in mirrored if other not in found and other < self.search.count]
        return found

    def _near(self, place: FloatArray, state: OnGrid, count: int) -> list[int]:
        """The pieces whose boxes lie nearest to a place."""
        low = np.array(state.at) * self.step
        size = np.array([one.outline.size for one in state.lying])
        away = np.maximum(np.maximum(low - place, place - low - size), 0.0)
        return [int(k) for k in np.argsort(np.hypot(*away.T), kind="stable")[:count]]

    def _out(self, state: OnGrid) -> list[int]:
        """Which pieces to take out."""
        draw, count = self.draw, 1 + int(self.draw.integers(MOST_OUT))
        way = int(draw.integers(4))
        costs = self.ties.each(state)
        if way < 2 and len(costs) and costs.sum() > 0.0:
            k = int(draw.choice(len(costs), p=costs / costs.sum()))
            a, b, _ = self.ties.ties[k]
            a, b = (a, b) if b >= self.search.count or (a < self.search.count and draw.integers(2)) else (b, a)
            found = [a, *self._near(self.ties.wished(a, b, state), state, 1 + int(draw.integers(3)))]
            if draw.integers(2) and b < self.search.count:
                found.append(b)
        elif way == 2:
            last = int(np.argmax(self.ends(state)))
            found = [last, *(int(k) for k in draw.permutation(self.search.count)[:count])]
        else:
            one = int(draw.integers(self.search.count))
            middle = np.array(state.at[one]) * self.step + 0.5 * state.lying[one].outline.size
            found = self._near(middle, state, 1 + count)
        return list(dict.fromkeys(found))

    def _order(self, out: list[int]) -> list[int]:
        way = int(self.draw.integers(3))
        if way == 0:
            return [int(k) for k in self.draw.permutation(out)]
        by_size = sorted(out, key=lambda k: (-self.areas[k], k))
        return by_size if way == 1 else [k for k in self.together(by_size) if k in out]

    def improved(self, state: OnGrid, work: int, more: Callable[[int], bool]) -> OnGrid:
        """The best of the layouts that are met. work: over how much of it the tolerance goes down to nothing; more:
        whether to go on after so much."""
        now, best = state.copy(), state.copy()
        cost = least = self.cost(state)
        begin = self.search.work
        while more(done := self.search.work - begin):
            worse = FIRST_WORSE_MM * max(0.0, 1.0 - (done % max(work, 1)) / max(0.8 * work, 1.0))
            trial, out = now.copy(), self._out(now)
            left = [k for k in range(self.search.count) if k not in out]
            ends = self.ends(trial)
            reach = float(ends[left].max()) if left else 0.0
            if not self.lay(self._order(out), trial, left, reach=reach):
                continue
            found = self.cost(trial)
            if found <= cost + worse:
                now, cost = trial, found
                if found < least - 1e-9:
                    best, least = trial.copy(), found
        return best
