"""How a flat map is laid down once it is found: its size, its middle, and which way it lies."""

import numpy as np

from flatten.stretch import stretch
from meshes.arrays import FloatArray, IntArray
from meshes.surface import triangle_areas


def scaled(vertices: FloatArray, points: FloatArray, triangles: IntArray, pull: float | None) -> FloatArray:
    """The piece (n, 2) so scaled that no place of its leather is slack: the least stretch is 1 + pull or more.
    Without a leather (None) so that its largest stretch and the inverse of its least are equal."""
    values = stretch(vertices, points, triangles).values
    if pull is None:
        return np.asarray(points * np.sqrt(values.max() * values.min()))
    return np.asarray(points * min(values.min() / (1.0 + pull), 1.0))


def laid_out(points: FloatArray, triangles: IntArray) -> FloatArray:
    """The piece with its area's middle at zero and its longest way along x, whichever way it came out of the search."""
    corners = points[triangles]
    middle = np.average(corners.mean(axis=1), axis=0, weights=triangle_areas(points, triangles))
    return np.asarray((points - middle) @ laying(points, triangles))


def laying(points: FloatArray, triangles: IntArray) -> FloatArray:
    """The turn (2, 2), to be applied from the right, that lays the longest way of a piece along x.

    Which end of that way is right is settled by the third moment, so moved or renumbered meshes give the same piece.
    """
    corners = points[triangles]
    areas = triangle_areas(points, triangles)
    middle = np.average(corners.mean(axis=1), axis=0, weights=areas)
    spread = corners - middle
    mean = spread.mean(axis=1)
    # Second moments of a triangle: (sum over its corners + 9 times its middle) / 12 of its area.
    moments = np.einsum("m,mki,mkj->ij", areas / 12, spread, spread)
    moments += np.einsum("m,mi,mj->ij", 9 * areas / 12, mean, mean)
    axis = np.linalg.eigh(moments)[1][:, 1]
    lean = float(np.average((mean @ axis) ** 3, weights=areas))
    axis = axis if lean >= 0 else -axis
    return np.array([[axis[0], -axis[1]], [axis[1], axis[0]]])
