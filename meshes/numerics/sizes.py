"""How long the edges of triangles are to be, place by place: short where the shape bends, long where it is flat.

A chord of length h over an arc of radius R lies h^2 / (8 R) off it, so edges of one error grow with the root of R. From
place to place they grow no faster than by a share of the way, or triangles between short and long edges come out thin
(graded meshes: Persson, Mesh size functions for implicit geometries and PDE-based gradient limiting, Engineering with
Computers 22, 2006, 95-109).
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import map_coordinates

from meshes.base.arrays import FloatArray, IntArray

# Edges are as long as asked on arcs of this radius and below, mm, and at most so many times as long on flat ones, none
# of them longer than the last figure unless that is asked, mm.
FINE_RADIUS_MM, LONGEST_SHARE, LONGEST_EDGE_MM = 25.0, 3.0, 20.0
# By how much an edge may be longer than another, as a share of the way between them.
EDGE_GROWTH = 0.25
# Sizes are kept in whole steps, so that rounding does not tell mirror images apart, mm.
WHOLE_SIZE_MM = 0.01


@dataclass(frozen=True, eq=False)
class Sizes:
    """Sizes over a plane, mm. least: the shortest; grid (rows, columns): sizes at `low` (2,) + step x (column, row),
    None where all are the shortest; down: distances and sizes (2, k) below the edge, for the sides, None for all alike.
    """

    least: float
    grid: FloatArray | None = None
    low: FloatArray | None = None
    step: float = 1.0
    down: FloatArray | None = None

    def at(self, points: FloatArray) -> FloatArray:
        """The sizes (n,) at points (n, 2)."""
        if self.grid is None or self.low is None:
            return np.full(len(points), self.least)
        spots = ((points - self.low) / self.step).T[::-1]
        return np.asarray(map_coordinates(self.grid, spots, order=1, mode="nearest"))

    def along(self, path: FloatArray) -> FloatArray:
        """Places (k,) along a path (n, 2), its ends among them, in steps of the sizes there, mm from its start."""
        reach = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
        if self.grid is None:
            count = max(int(np.ceil(reach[-1] / self.least - 1e-9)), 1)
            return np.linspace(0.0, reach[-1], count + 1)
        fine = np.linspace(0.0, reach[-1], max(int(np.ceil(reach[-1] / (0.25 * self.least))), 1) + 1)
        sizes = self.at(np.stack([np.interp(fine, reach, path[:, k]) for k in (0, 1)], axis=1))
        return _evenly(fine, sizes)

    def down_to(self, start: float, depth: float) -> FloatArray:
        """Shares (k,) of the depth of a side at which its rows lie, mm; start: how far below the edge it begins."""
        if self.down is None:
            rows = max(int(np.ceil(depth / self.least)), 1)
            return np.arange(1, rows + 1) / rows
        fine = np.linspace(0.0, depth, max(int(np.ceil(depth / (0.25 * self.least))), 1) + 1)
        return np.asarray(_evenly(fine, np.interp(start + fine, *self.down))[1:] / depth)

    def refined(self, points: FloatArray, sizes: FloatArray) -> "Sizes":
        """The same, but no longer than sizes (n,) at points (n, 2), and as much longer beside them as may be."""
        if self.grid is None or self.low is None or not len(points):
            return self
        grid = self.grid.copy()
        column, row = np.round((points - self.low) / self.step).astype(np.int64).T
        inside = (row >= 0) & (row < grid.shape[0]) & (column >= 0) & (column < grid.shape[1])
        np.minimum.at(grid, (row[inside], column[inside]), np.maximum(sizes[inside], self.least))
        return Sizes(self.least, _limited(grid, self.step), self.low, self.step, self.down)

    @property
    def places(self) -> FloatArray:
        """The points (k, 2) at which sizes are known, none where all are alike."""
        if self.grid is None or self.low is None:
            return np.zeros((0, 2))
        row, column = np.indices(self.grid.shape)
        return np.asarray(self.low + self.step * np.stack([column.ravel(), row.ravel()], axis=1))

    def mirrored(self) -> "Sizes":
        """The same, left and right exchanged."""
        return self if self.grid is None else replace(self, grid=self.grid[:, ::-1].copy())

    @classmethod
    def graded(cls, points: FloatArray, radii: FloatArray, least: float) -> "Sizes":
        """Sizes over the plane from the least radii (n,) of a surface at points (n, 2)."""
        most = longest(least)
        low, high = points.min(axis=0) - least, points.max(axis=0) + least
        # A grid that is its own mirror image in x = 0.
        low[0] = -(np.floor(max(-low[0], high[0]) / least) + 1.0) * least
        high[0] = -low[0]
        columns, rows = (np.ceil((high - low) / least - 1e-9).astype(np.int64) + 1).tolist()
        grid = np.full((rows, columns), most)
        return cls(least, grid, low, least).refined(points, sizes_of(radii, least))

    def with_sides(self, below: FloatArray, radii: FloatArray) -> "Sizes":
        """The same with sizes on the sides, from the least radii (n,) of the surface so far (n,) below the edge."""
        at = np.arange(0.0, max(float(below.max()), self.least) + self.least, 0.5 * self.least)
        sizes = np.full(len(at), longest(self.least))
        spots = np.clip(np.round(below / (at[1] - at[0])).astype(np.int64), 0, len(at) - 1)
        np.minimum.at(sizes, spots, sizes_of(radii, self.least))
        sizes = (sizes + EDGE_GROWTH * np.abs(at[:, None] - at)).min(axis=1)
        return Sizes(self.least, self.grid, self.low, self.step, np.stack([at, sizes]))


def longest(least: float) -> float:
    """The longest edges where the shortest are so long, mm."""
    return max(min(LONGEST_SHARE * least, LONGEST_EDGE_MM), least)


def sizes_of(radii: FloatArray, least: float) -> FloatArray:
    """How long edges on arcs of these radii may be (n,), mm."""
    sizes = np.clip(least * np.sqrt(radii / FINE_RADIUS_MM), least, longest(least))
    return np.asarray(np.floor(sizes / WHOLE_SIZE_MM) * WHOLE_SIZE_MM).clip(least)


def least_radii(vertices: FloatArray, triangles: IntArray) -> FloatArray:
    """The least radius (n,) mm at every vertex of a surface, (n, 3) and (m, 3): from how much the triangles at its
    edges turn towards each other over the way between them; infinite where nothing turns."""
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    across = np.cross(b - a, c - a)
    normals = across / np.maximum(np.linalg.norm(across, axis=1, keepdims=True), 1e-12)
    centres = (a + b + c) / 3.0
    edges = np.sort(np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]]), axis=1)
    owner = np.tile(np.arange(len(triangles)), 3)
    order = np.lexsort((edges[:, 1], edges[:, 0]))
    edges, owner = edges[order], owner[order]
    twice = np.flatnonzero((edges[1:] == edges[:-1]).all(axis=1))
    one, two = owner[twice], owner[twice + 1]
    turn = np.arccos(np.clip((normals[one] * normals[two]).sum(axis=1), -1.0, 1.0))
    bent = turn / np.maximum(np.linalg.norm(centres[one] - centres[two], axis=1), 1e-9)
    most = np.zeros(len(vertices))
    for end in (0, 1):
        np.maximum.at(most, edges[twice, end], bent)
    return np.divide(1.0, most, out=np.full(len(most), np.inf), where=most > 1e-9)


def path_radii(path: FloatArray, over: float) -> FloatArray:
    """The radius (n,) mm of a path (n, 2) at every point, over chords of `over` mm to either side."""
    at = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])

    def there(places: FloatArray) -> FloatArray:
        return np.stack([np.interp(places, at, path[:, k]) for k in (0, 1)], axis=1)

    before, after = path - there(at - over), there(at + over) - path
    turn = np.abs(np.arctan2(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], (before * after).sum(axis=1)))
    long = 0.5 * (np.linalg.norm(before, axis=1) + np.linalg.norm(after, axis=1))
    return np.divide(long, turn, out=np.full(len(path), np.inf), where=turn > 1e-9)


def _evenly(at: FloatArray, sizes: FloatArray) -> FloatArray:
    """Places from the first to the last of `at` (n,), as far apart as the sizes (n,) there, or a little nearer."""
    steps = np.diff(at) * 0.5 * (1.0 / sizes[:-1] + 1.0 / sizes[1:])
    counted = np.concatenate([[0.0], np.cumsum(steps)])
    count = max(int(np.ceil(counted[-1] - 1e-6)), 1)
    return np.asarray(np.interp(np.linspace(0.0, counted[-1], count + 1), counted, at))


def _limited(grid: FloatArray, step: float) -> FloatArray:
    """Sizes on a grid that grow no faster than they may."""
    grow = EDGE_GROWTH * step
    ways = [(i, j, grow * float(np.hypot(i, j))) for i in (-1, 0, 1) for j in (-1, 0, 1) if i or j]
    rows, columns = grid.shape
    while True:
        wide = np.pad(grid, 1, constant_values=np.inf)
        near = [wide[1 + i : 1 + i + rows, 1 + j : 1 + j + columns] + more for i, j, more in ways]
        smaller = np.minimum(grid, np.min(near, axis=0))
        if (grid - smaller).max() < 1e-9:
            return smaller
        grid = smaller
