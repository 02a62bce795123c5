"""Pieces that lie on each other are moved apart: one at a time to where they lie least deep, with weights that grow.

Guided local search on overlap (Egeblad, Nielsen, Odgaard, European J. Operational Research 183, 2007; Umetani and
others, Int. Trans. Operational Research 16, 2009), with whole maps of the table in place of single lines, so that
each move is the best of all there are in all directions a piece may lie in. Weights grow by factors and fade again,
as Gardeyn, Vanden Berghe and Wauters have it (arXiv 2509.13329, 2025).
"""

from dataclasses import dataclass

import numpy as np

from flatten.nesting.table import CuttingTable, Oriented
from meshes.base.arrays import FloatArray

# Rounds without less overlap after which a search is given up.
STALE_ROUNDS = 60
# What the weight of an overlap is multiplied by after a round, by its depth beside the deepest, and that of one that
# is gone.
LEAST_GROWTH, MOST_GROWTH, FADING = 1.2, 2.0, 0.95
# What a map of the whole table takes beside one of a pair.
MAP_WORK = 4


@dataclass
class OnGrid:
    """Where the pieces lie at this moment: the direction of each, and its place on the grid."""

    lying: list[Oriented]
    at: list[tuple[int, int]]

    def copy(self) -> "OnGrid":
        return OnGrid(list(self.lying), list(self.at))


class ApartSearch:
    """Guided local search over one table. limit: how many columns of the grid may be used."""

    def __init__(self, table: CuttingTable, seed: int) -> None:
        self.table = table
        self.draw = np.random.default_rng(seed)
        self.count = len(table.wanted)
        self.limit_mm = table.length_mm + table.half_mm
        self.moves = 0
        # How many maps were laid over each other, which takes the time.
        self.work = 0

    def columns(self, oriented: Oriented) -> int:
        """How many columns of places an outline has before the limit."""
        room = self.limit_mm - oriented.outline.size[0]
        return min(self.table.places(oriented).depth.shape[0], int(np.floor(room / self.table.step + 1e-9)) + 1)

    def costs(
        self, index: int, oriented: Oriented, state: OnGrid, weights: FloatArray, among: list[int]
    ) -> FloatArray | None:
        """What a piece would cost at every place, None where it has none. weights (n + 1,): by neighbour, then the
        rim."""
        columns = self.columns(oriented)
        base = self.table.places(oriented).depth
        if columns <= 0 or base.shape[1] == 0:
            return None
        self.work += MAP_WORK + len(among)
        total = base[:columns] * np.float32(weights[-1])
        width, height = total.shape
        for other in among:
            if other == index:
                continue
            found = self.table.pair(oriented, state.lying[other])
            x, y = state.at[other][0] + found.low[0], state.at[other][1] + found.low[1]
            nx, ny = found.depth.shape
            x0, y0, x1, y1 = max(x, 0), max(y, 0), min(x + nx, width), min(y + ny, height)
            if x0 < x1 and y0 < y1:
                total[x0:x1, y0:y1] += np.float32(weights[other]) * found.depth[x0 - x : x1 - x, y0 - y : y1 - y]
        return total

    def best(
        self, index: int, state: OnGrid, weights: FloatArray, among: list[int]
    ) -> tuple[float, Oriented, tuple[int, int]] | None:
        """The place of least cost for a piece, the leftmost and lowest of several."""
        found: tuple[float, Oriented, tuple[int, int]] | None = None
        for oriented in self.table.choices[index]:
            total = self.costs(index, oriented, state, weights, among)
            if total is None:
                continue
            k = int(np.argmin(total))
            at = divmod(k, total.shape[1])
            cost = float(total.flat[k])
            ends = at[0] * self.table.step + oriented.outline.size[0]
            if found is None or cost < found[0] or (cost == found[0] and ends < self._ends(found)):
                found = (cost, oriented, at)
        return found

    def _ends(self, found: tuple[float, Oriented, tuple[int, int]]) -> float:
        return found[2][0] * self.table.step + float(found[1].outline.size[0])

    def begin(self, order: list[int]) -> OnGrid:
        """Pieces laid down one after the other, each as far left as it lies free, or where it lies least deep."""
        blank = self.table.choices
        state = OnGrid([options[0] for options in blank], [(0, 0)] * self.count)
        weights = np.ones(self.count + 1)
        laid: list[int] = []
        for index in order:
            found = self.best(index, state, weights, laid)
            if found is not None:
                _, state.lying[index], state.at[index] = found
            laid.append(index)
        return state

    def depth_of(self, a: int, b: int, state: OnGrid) -> float:
        """How deep one piece lies in another, in steps."""
        found = self.table.pair(state.lying[a], state.lying[b])
        x = state.at[a][0] - state.at[b][0] - found.low[0]
        y = state.at[a][1] - state.at[b][1] - found.low[1]
        nx, ny = found.depth.shape
        return float(found.depth[x, y]) if 0 <= x < nx and 0 <= y < ny else 0.0

    def outside(self, index: int, state: OnGrid) -> float:
        """How deep a piece lies outside its rooms or beyond the limit, in steps."""
        depth = self.table.places(state.lying[index]).depth
        x, y = state.at[index]
        beyond = max(0, x - max(self.columns(state.lying[index]) - 1, 0))
        if not (0 <= x < depth.shape[0] and 0 <= y < depth.shape[1]):
            return 1e3
        return float(depth[x, y]) + beyond

    def overlaps(self, state: OnGrid) -> FloatArray:
        """Depths (n, n + 1): of each pair, in the last column of each piece and its rooms."""
        found = np.zeros((self.count, self.count + 1))
        for a in range(self.count):
            for b in range(a):
                found[a, b] = found[b, a] = self.depth_of(a, b, state)
            found[a, -1] = self.outside(a, state)
        return found

    def resolve(self, state: OnGrid, rounds: int) -> OnGrid:
        """Move pieces until none lies on another, or for so many rounds; the state of least overlap."""
        everyone = list(range(self.count))
        weights = np.ones((self.count, self.count + 1))
        found = self.overlaps(state)
        least, best, stale = np.inf, state.copy(), 0
        for _ in range(rounds):
            bad = [k for k in everyone if found[k].sum() > 0.0]
            if not bad:
                return state
            self.draw.shuffle(bad)
            for index in bad:
                now = float(weights[index] @ found[index])
                if now == 0.0:
                    continue
                better = self.best(index, state, weights[index], everyone)
                self.moves += 1
                if better is None or better[0] >= now:
                    continue
                _, state.lying[index], state.at[index] = better
                for other in everyone:
                    if other != index:
                        found[index, other] = found[other, index] = self.depth_of(index, other, state)
                found[index, -1] = self.outside(index, state)
            total = 0.5 * float(found[:, :-1].sum()) + float(found[:, -1].sum())
            if total < least:
                least, best, stale = total, state.copy(), 0
            else:
                stale += 1
            if total == 0.0:
                return state
            if stale > STALE_ROUNDS:
                return best
            share = found / found.max()
            weights = np.where(
                found > 0.0, weights * (LEAST_GROWTH + share * (MOST_GROWTH - LEAST_GROWTH)), weights * FADING
            )
            np.maximum(weights, 1.0, out=weights)
        return best
