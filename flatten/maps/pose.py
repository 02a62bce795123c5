"""How a flat map is laid down once it is found: its size, its middle, and which way it lies."""

from dataclasses import dataclass
from typing import Self

import numpy as np

from flatten.leather.grain import as_it_lay
from flatten.leather.stretch import stretch
from meshes.base.arrays import FloatArray, IntArray
from meshes.base.surface import triangle_areas


def scaled_map(vertices: FloatArray, points: FloatArray, triangles: IntArray, pull: float | None) -> FloatArray:
    """The piece (n, 2) so scaled that no place of its leather is slack: the least stretch is 1 + pull or more.
    Without a leather (None) so that its largest stretch and the inverse of its least are equal."""
    values = stretch(vertices, points, triangles).values
    if pull is None:
        return np.asarray(points * np.sqrt(values.max() * values.min()))
    return np.asarray(points * min(values.min() / (1.0 + pull), 1.0))


def laid_out(points: FloatArray, triangles: IntArray) -> FloatArray:
    """The piece with its area's middle at zero and its longest way along x, whichever way it came out of the search."""
    middles = (points[triangles[:, 0]] + points[triangles[:, 1]] + points[triangles[:, 2]]) / 3.0
    middle = np.average(middles, axis=0, weights=triangle_areas(points, triangles))
    return np.asarray((points - middle) @ longest_along_x(points, triangles))


def longest_along_x(points: FloatArray, triangles: IntArray) -> FloatArray:
    """The turn (2, 2), to be applied from the right, that lays the longest way of a piece along x.

    Which end of that way is right is settled by the third moment, so moved or renumbered meshes give the same piece.
    """
    corners = [[np.ascontiguousarray(points[:, r])[triangles[:, k]] for k in range(3)] for r in (0, 1)]
    areas = triangle_areas(points, triangles)
    middles = [(x[0] + x[1] + x[2]) / 3.0 for x in corners]
    middle = [float(np.average(x, weights=areas)) for x in middles]
    spread = [[place - c for place in x] for x, c in zip(corners, middle, strict=True)]
    mean = np.stack([x - c for x, c in zip(middles, middle, strict=True)], axis=1)
    # Second moments of a triangle: (sum over its corners + 9 times its middle) / 12 of its area.
    moments = np.empty((2, 2))
    for r in (0, 1):
        for c in (0, 1):
            products = sum(a * b for a, b in zip(spread[r], spread[c], strict=True)) + 9.0 * mean[:, r] * mean[:, c]
            moments[r, c] = np.dot(areas, products) / 12.0
    axis = np.linalg.eigh(moments)[1][:, 1]
    lean = float(np.average((mean @ axis) ** 3, weights=areas))
    axis = axis if lean >= 0 else -axis
    return np.array([[axis[0], -axis[1]], [axis[1], axis[0]]])


@dataclass(frozen=True, eq=False)
class Heading:
    """Which way a piece lies to the bounds that differ along x and y: the sum of its points (n, 2) with these weights
    (n,), which add up to 0, stays along `toward` (2,), a unit direction."""

    weights: FloatArray
    toward: FloatArray

    @classmethod
    def on(cls, points: FloatArray, weights: FloatArray) -> Self:
        """The heading that points (n, 2) have."""
        run = weights @ points
        return cls(weights, run / np.linalg.norm(run))

    def followed(self, backbone: FloatArray, points: FloatArray) -> FloatArray:
        """A direction (2,) on the piece, turned as the points (n, 2) have turned away from the heading."""
        return as_it_lay(self.toward, backbone, Heading.on(points, self.weights).toward)

    def turned(self, points: FloatArray) -> FloatArray:
        """The points (n, 2) turned so that they keep it."""
        now = self.weights @ points
        c, s = np.array([now @ self.toward, now[0] * self.toward[1] - now[1] * self.toward[0]]) / np.linalg.norm(now)
        return np.asarray(points @ np.array([[c, s], [-s, c]]))

    @property
    def across(self) -> FloatArray:
        """The sum (n, 2) over the points that is 0 while they keep it."""
        return self.weights[:, None] * np.array([-self.toward[1], self.toward[0]])
