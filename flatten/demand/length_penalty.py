"""Lengths held while a window is searched, to numbers or of two sewn edges to each other, by springs between their ln.

With both sides of a seam free a spring lets the seam take the length that costs its two pieces least.
"""

from dataclasses import dataclass

import numpy as np

from meshes.base.arrays import FloatArray, IntArray
from meshes.numerics.mesh_pattern import MeshPattern


@dataclass(frozen=True, eq=False)
class RimLengths:
    """Wanted lengths on the piece: edges (k, 2) vertex numbers, lengths (k,) mm, weights (k,) summing to about 1."""

    edges: IntArray
    lengths: FloatArray
    weights: FloatArray


@dataclass(frozen=True, eq=False)
class Joins:
    """Edges sewn together: edges and others (k, 2) vertex numbers, weights (k,) summing to about 1; eased (k,): ln of
    how much longer than its other an edge should be, 0 where they are to be equal."""

    edges: IntArray
    others: IntArray
    weights: FloatArray
    eased: FloatArray | float = 0.0


class LengthPenalty:
    """LengthPenalty on the edges of one mesh's pattern, which joins widen: pairs of vertices that only a join connects,
    or that are linked in fours (k, 4).

    indptr, indices: the widened pattern.
    """

    def __init__(
        self, rim: RimLengths | None, joins: Joins | None, pattern: MeshPattern, linked: IntArray | None = None
    ) -> None:
        self.rim, self.joins, self.n = rim, joins, pattern.n
        self.indptr, self.indices = pattern.indptr, pattern.indices
        self._own: IntArray | None = None
        if rim is not None:
            i, j = rim.edges.T
            self._rim_spots = [pattern.block_spots(a, b) for a, b in ((i, i), (j, j), (i, j), (j, i))]
        groups = [] if linked is None or not len(linked) else [linked]
        if joins is not None:
            groups.append(np.concatenate([joins.edges, joins.others], axis=1))
        if groups:
            spots = self._widened(np.concatenate(groups))
            self._join_spots = spots[len(spots) - (0 if joins is None else len(joins.edges)) :]

    def _widened(self, corners: IntArray) -> IntArray:
        """Make room in the pattern for pairs of vertices in groups of four (k, 4); where entries (a, b, r, c) of every
        group's block stand: corner a's component r against corner b's component c."""
        rows = 2 * np.repeat(corners, 4, axis=1)[:, :, None] + [0, 1]
        columns = 2 * np.tile(corners, (1, 4))[:, :, None] + [0, 1]
        row, column = (x.ravel() for x in np.broadcast_arrays(rows[:, :, :, None], columns[:, :, None, :]))
        size = 2 * self.n
        own = np.repeat(np.arange(size), np.diff(self.indptr)) * size + self.indices
        keys = np.union1d(own, column * size + row)
        self._own = np.searchsorted(keys, own)
        self.indices = keys % size
        self.indptr = np.concatenate([[0], np.cumsum(np.bincount(keys // size, minlength=size))])
        return np.searchsorted(keys, column * size + row).reshape(len(corners), 4, 4, 2, 2)

    def meets(self, points: FloatArray, within: float) -> bool:
        """Whether every length is what it should be, by its ln."""
        held = [] if self.rim is None else [self.off(points)[0]]
        held += [] if self.joins is None else [self.apart(points)[0]]
        return all(bool((np.abs(ln) < within).all()) for ln in held)

    def off(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """ln(length / wanted) of the held rim edges, and its slope (k, 2) by their second ends."""
        assert self.rim is not None
        size, slope = _ln_length(points, self.rim.edges)
        return size - np.log(self.rim.lengths), slope

    def apart(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """ln(length / the other's length) of joined edges less the ease, and its slope (k, 4, 2) by their four ends."""
        assert self.joins is not None
        one, slope = _ln_length(points, self.joins.edges)
        other, back = _ln_length(points, self.joins.others)
        return one - other - self.joins.eased, np.stack([-slope, slope, back, -back], axis=1)

    def value(self, points: FloatArray, stiff: float) -> float:
        """What the springs add."""
        value = 0.0
        if self.rim is not None:
            value += 0.5 * stiff * float(self.rim.weights @ self.off(points)[0] ** 2)
        if self.joins is not None:
            value += 0.5 * stiff * float(self.joins.weights @ self.apart(points)[0] ** 2)
        return value

    def limit(self, points: FloatArray, move: FloatArray, stiff: float, pulled: FloatArray) -> float:
        """What the springs add at least, by the forces (multipliers of the lengths) that they have after a move (n, 2)
        to first order: f c - f^2 / (2 k) is below k c^2 / 2 whatever f. The slope is added to `pulled` (n, 2)."""
        value = 0.0
        if self.rim is not None:
            off, slope = self.off(points)
            ends = self.rim.edges
            after = off + (slope * (move[ends[:, 1]] - move[ends[:, 0]])).sum(axis=1)
            force = stiff * self.rim.weights * after
            value += float(force @ (off - 0.5 * after))
            np.add.at(pulled, ends[:, 1], force[:, None] * slope)
            np.add.at(pulled, ends[:, 0], -force[:, None] * slope)
        if self.joins is not None:
            apart, slopes = self.apart(points)
            corners = np.concatenate([self.joins.edges, self.joins.others], axis=1)
            after = apart + (slopes * move[corners]).sum(axis=(1, 2))
            force = stiff * self.joins.weights * after
            value += float(force @ (apart - 0.5 * after))
            np.add.at(pulled, corners, force[:, None, None] * slopes)
        return value

    def added(self, points: FloatArray, stiff: float, pulled: FloatArray, values: FloatArray) -> FloatArray:
        """The springs' slope added to `pulled` (n, 2), their curvature to `values`, which are returned."""
        if self.rim is not None:
            self._add_rim(points, stiff, pulled, values)
        values = self.on_pattern(values)
        if self.joins is not None:
            self._add_joins(points, stiff, pulled, values)
        return values

    def on_pattern(self, own: FloatArray) -> FloatArray:
        """Values on the mesh's own pattern, on the pattern with the joins."""
        if self._own is None:
            return own
        values = np.zeros(len(self.indices))
        values[self._own] = own
        return values

    def _add_rim(self, points: FloatArray, stiffness: float, pulled: FloatArray, values: FloatArray) -> None:
        """LengthPenalty of the rim: slope into `pulled`, curvature (without its negative part) into `values`."""
        assert self.rim is not None
        off, slope = self.off(points)
        stiff = stiffness * self.rim.weights
        force = (stiff * off)[:, None] * slope
        np.add.at(pulled, self.rim.edges[:, 1], force)
        np.add.at(pulled, self.rim.edges[:, 0], -force)
        block = stiff[:, None, None] * slope[:, :, None] * slope[:, None, :]
        for spots, sign in zip(self._rim_spots, (1.0, 1.0, -1.0, -1.0), strict=True):
            for r in (0, 1):
                for c in (0, 1):
                    np.add.at(values, spots[r, c], sign * block[:, r, c])

    def _add_joins(self, points: FloatArray, stiffness: float, pulled: FloatArray, values: FloatArray) -> None:
        """The same for the springs between joined edges."""
        assert self.joins is not None
        apart, slope = self.apart(points)
        stiff = stiffness * self.joins.weights
        corners = np.concatenate([self.joins.edges, self.joins.others], axis=1)
        np.add.at(pulled, corners, (stiff * apart)[:, None, None] * slope)
        block = stiff[:, None, None, None, None] * slope[:, :, None, :, None] * slope[:, None, :, None, :]
        np.add.at(values, self._join_spots, block)


def _ln_length(points: FloatArray, edges: IntArray) -> tuple[FloatArray, FloatArray]:
    """ln of the lengths (k,) of edges (k, 2), and its slope (k, 2) by their second ends."""
    along = points[edges[:, 1]] - points[edges[:, 0]]
    square = np.einsum("ij,ij->i", along, along)
    return 0.5 * np.log(square), along / square[:, None]
