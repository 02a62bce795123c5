"""A flat piece seen along axes of its own: a search on it goes the same way however the piece is turned or mirrored."""

from dataclasses import dataclass

import numpy as np

from meshes.base.arrays import FloatArray


@dataclass(frozen=True, eq=False)
class OwnAxes:
    """middle (2,) of a piece and its principal axes (2, 2), rows of unit length, the longest first, each pointing to
    where more of the piece lies far out: the sum of third powers along it is not negative. May be left-handed."""

    middle: FloatArray
    axes: FloatArray

    def seen(self, places: FloatArray) -> FloatArray:
        """Places (..., 2) of the piece in its own axes."""
        return (places - self.middle) @ self.axes.T

    def back(self, seen: FloatArray) -> FloatArray:
        """Places (..., 2) of the piece from those in its own axes."""
        return seen @ self.axes + self.middle


def own_axes(points: FloatArray) -> OwnAxes:
    """The axes of points (n, 2)."""
    middle = points.mean(axis=0)
    _, _, axes = np.linalg.svd(points - middle, full_matrices=False)
    lean = (((points - middle) @ axes.T) ** 3).sum(axis=0)
    return OwnAxes(middle, np.where(lean < 0.0, -1.0, 1.0)[:, None] * axes)
