"""The closed body of a loose cover: two plates over each other on one rim, and the band between them.

Both plates have the same triangles; the band hangs in columns under the rim's vertices. Everything is even up and down,
and left and right where the plate is. Vertices are numbered: upper plate, lower plate, then the band's levels between.
A knife edge has no band: both plates share the vertices of their rim, at height 0.
"""

from dataclasses import dataclass

import numpy as np

from meshes.base.arrays import BoolArray, FloatArray, IntArray
from meshes.closed.plate_mesh import PlateMesh


@dataclass(frozen=True, eq=False)
class ClosedBody:
    """plate: of both plates; heights_mm (n,) of the upper one's vertices above the middle; half_levels: levels of the
    band from a plate's rim to the middle, 0 where both plates share one rim; middle_mm (n,): how high the middle itself
    lies at the plate's vertices, None where it is level: of a wedge, whose lower plate lies flat."""

    plate: PlateMesh
    heights_mm: FloatArray
    half_levels: int
    middle_mm: FloatArray | None = None

    @property
    def columns(self) -> int:
        """How many columns the band has."""
        return len(self.plate.rim)

    @property
    def own(self) -> BoolArray:
        """Which vertices of the lower plate are not those of the upper one, (n,)."""
        own = np.ones(len(self.plate.points), dtype=bool)
        if self.half_levels == 0:
            own[self.plate.rim] = False
        return own

    @property
    def lower(self) -> IntArray:
        """Number of every vertex of the lower plate, (n,)."""
        own, n = self.own, len(self.plate.points)
        return np.asarray(np.where(own, n + np.cumsum(own) - 1, np.arange(n)))

    def vertex(self, level: IntArray, column: IntArray) -> IntArray:
        """Number of the vertex at a level of the band, from 0 at the upper rim, and a column; both (k,)."""
        first, last = len(self.plate.points) + int(self.own.sum()), 2 * self.half_levels
        column = np.mod(column, self.columns)
        rim = self.plate.rim[column]
        between = first + (level - 1) * self.columns + column
        return np.asarray(np.where(level == 0, rim, np.where(level == last, self.lower[rim], between)))

    @property
    def vertices(self) -> FloatArray:
        """All vertices, (k, 3) mm: both plates and the levels between."""
        plan, heights = self.plate.points, self.heights_mm
        upper, lower = np.column_stack([plan, heights]), np.column_stack([plan, -heights])[self.own]
        # Levels below the middle are those above it with another sign, to the last digit.
        shares = (self.half_levels - np.arange(1, 2 * self.half_levels)) / max(self.half_levels, 1)
        rim = upper[self.plate.rim]
        levels = [np.column_stack([rim[:, :2], share * rim[:, 2]]) for share in shares]
        whole = np.concatenate([upper, lower, *levels])
        if self.middle_mm is not None:
            lift, rims = self.middle_mm, self.middle_mm[self.plate.rim]
            whole[:, 2] += np.concatenate([lift, lift[self.own], *(rims for _ in levels)])
        return whole

    @property
    def over(self) -> IntArray:
        """For every vertex the one that mirrors it up and down."""
        last = 2 * self.half_levels
        levels = [self.vertex(np.full(self.columns, last - k), np.arange(self.columns)) for k in range(1, last)]
        return np.concatenate([self.lower, np.flatnonzero(self.own), *levels])

    @property
    def across(self) -> IntArray | None:
        """For every vertex the one that mirrors it left and right; None where the plate is not even."""
        mirror, last = self.plate.mirror, 2 * self.half_levels
        if mirror is None:
            return None
        columns = -np.arange(self.columns)
        levels = [self.vertex(np.full(self.columns, k), columns) for k in range(1, last)]
        return np.concatenate([mirror, self.lower[mirror[self.own]], *levels])

    def strip(self, columns: IntArray, top: int, bottom: int) -> tuple[IntArray, IntArray]:
        """A part of the band: vertices (n,) of its grid, level by level from the top, and its triangles (m, 3) by
        numbers among these. columns: in order, counter-clockwise."""
        levels = np.arange(top, bottom + 1)
        wide = len(columns)
        vertices = self.vertex(np.repeat(levels, wide), np.tile(columns, len(levels)))
        i, j = (grid.ravel() for grid in np.meshgrid(np.arange(len(levels) - 1), np.arange(wide - 1), indexing="ij"))
        upper_left = i * wide + j
        upper_right, lower_left, lower_right = upper_left + 1, upper_left + wide, upper_left + wide + 1
        # Diagonals run alike in mirror images.
        right = np.mod(columns[j], self.columns) >= self.plate.front
        falls = right ^ (levels[i] < self.half_levels)
        one = np.where(falls, [lower_left, lower_right, upper_left], [lower_left, lower_right, upper_right])
        two = np.where(falls, [lower_right, upper_right, upper_left], [lower_left, upper_right, upper_left])
        return vertices, np.stack([one, two]).transpose(2, 0, 1).reshape(-1, 3)
