"""The pull of the cover: its area (or, in section, its length) as a function of heights along directors.

A cover under even tension T pulls itself to less area; T times the area is its energy. Every vertex moves along its own
straight director, so a vertex is one height, and area, slope and second slopes have closed forms (third-order parts
aside, those of Pinkall and Polthier 1993, "Computing discrete minimal surfaces and their conjugates", in one unknown
per vertex). Lengths mm.
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from meshes.base.arrays import BoolArray, FloatArray, IntArray


class TautCover(Protocol):
    """What the equilibrium asks of a cover. cells (m, k): vertices of every triangle or segment; count: vertices."""

    @property
    def cells(self) -> IntArray: ...

    @property
    def count(self) -> int: ...

    def size(self, heights: FloatArray) -> FloatArray:
        """Area (mm2) or length (mm) of every cell, shape (m,)."""

    def slopes(self, heights: FloatArray) -> tuple[FloatArray, FloatArray]:
        """First (m, k) and second (m, k, k) slopes of the sizes over the heights of the cell's vertices."""

    def upright(self, heights: FloatArray) -> BoolArray:
        """Whether a cell still faces outward, shape (m,)."""


@dataclass(frozen=True, eq=False)
class Membrane:
    """A cover of triangles: points (n, 3) at height 0, unit directors (n, 3), triangles (m, 3)."""

    points: FloatArray
    directors: FloatArray
    cells: IntArray

    @property
    def count(self) -> int:
        return len(self.points)

    def _corners(self, heights: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        at = self.points + heights[:, None] * self.directors
        a, b, c = (at[self.cells[:, k]] for k in range(3))
        return a, b, c

    def size(self, heights: FloatArray) -> FloatArray:
        a, b, c = self._corners(heights)
        return 0.5 * _length(np.cross(b - a, c - a))

    def slopes(self, heights: FloatArray) -> tuple[FloatArray, FloatArray]:
        a, b, c = self._corners(heights)
        d = [self.directors[self.cells[:, k]] for k in range(3)]
        normal = np.cross(b - a, c - a)
        long = np.maximum(_length(normal), 1e-300)
        unit = normal / long[:, None]
        turn = [np.cross(d[0], b - c), np.cross(d[1], c - a), np.cross(d[2], a - b)]
        along = np.stack([_dot(unit, turn[k]) for k in range(3)], axis=1)
        second = np.empty((len(a), 3, 3))
        for j in range(3):
            for k in range(j, 3):
                value = (_dot(turn[j], turn[k]) - along[:, j] * along[:, k]) / long
                if j != k:
                    # The order of a cyclic pair decides the sign: (0, 1), (1, 2), (2, 0).
                    first, then = (j, k) if k == j + 1 else (k, j)
                    value = value + _dot(unit, np.cross(d[first], d[then]))
                second[:, j, k] = second[:, k, j] = 0.5 * value
        return 0.5 * along, second

    def upright(self, heights: FloatArray) -> BoolArray:
        a, b, c = self._corners(heights)
        return _dot(np.cross(b - a, c - a), self.directors[self.cells].sum(axis=1)) > 0


@dataclass(frozen=True, eq=False)
class CoverLine:
    """A cover seen in section: points (n, 2) at height 0 in order, unit directors (n, 2)."""

    points: FloatArray
    directors: FloatArray

    @property
    def count(self) -> int:
        return len(self.points)

    @property
    def cells(self) -> IntArray:
        start = np.arange(len(self.points) - 1)
        return np.stack([start, start + 1], axis=1)

    def _spans(self, heights: FloatArray) -> FloatArray:
        return np.diff(self.points + heights[:, None] * self.directors, axis=0)

    def size(self, heights: FloatArray) -> FloatArray:
        return _length(self._spans(heights))

    def slopes(self, heights: FloatArray) -> tuple[FloatArray, FloatArray]:
        span = self._spans(heights)
        long = np.maximum(_length(span), 1e-300)
        ends = (-self.directors[:-1], self.directors[1:])
        along = np.stack([_dot(span, end) / long for end in ends], axis=1)
        second = np.empty((len(span), 2, 2))
        for j in range(2):
            for k in range(2):
                second[:, j, k] = (_dot(ends[j], ends[k]) - along[:, j] * along[:, k]) / long
        return along, second

    def upright(self, heights: FloatArray) -> BoolArray:
        span, out = self._spans(heights), self.directors[:-1] + self.directors[1:]
        first = np.diff(self.points, axis=0)
        hand = np.sign(first[:, 0] * out[:, 1] - first[:, 1] * out[:, 0])
        return (span[:, 0] * out[:, 1] - span[:, 1] * out[:, 0]) * hand > 0


def _dot(a: FloatArray, b: FloatArray) -> FloatArray:
    return np.einsum("ij,ij->i", a, b)


def _length(a: FloatArray) -> FloatArray:
    return np.sqrt(_dot(a, a))


def without_push(second: FloatArray) -> FloatArray:
    """The nearest matrices (m, k, k) without negative curvature: for steps that must go downhill."""
    values, axes = np.linalg.eigh(second)
    return np.einsum("mij,mj,mkj->mik", axes, np.maximum(values, 0.0), axes)
