"""Principal stretches of a piece's triangles, as a search over many maps needs them: made when asked for.

With F = rot(left) diag(s) rot(right) the map of a triangle from seat to piece, a stretch, length on the seat / length
on the piece, is 1 / s.
"""

from functools import cached_property

import numpy as np

from flatten.leather.stretch import sizes, split
from flatten.maps.energy import Axes
from meshes.base.arrays import FloatArray


class PrincipalStretches:
    """Of maps (m, 2, 2) from seat to piece; s (m, 2): singular values, the larger first, the second negative where a
    triangle is folded."""

    def __init__(self, maps: FloatArray) -> None:
        self._parts = split(maps)
        self.s = sizes(*self._parts).T

    @cached_property
    def logs(self) -> FloatArray:
        """ln of the principal stretches (m, 2), the smaller first; +inf where a triangle is folded."""
        if self.s.min() > 0:
            return np.asarray(-np.log(self.s))
        return np.asarray(-np.log(self.s, out=np.full_like(self.s, -np.inf), where=self.s > 0))

    @cached_property
    def axes(self) -> Axes:
        """The principal directions."""
        e, h, d, g = self._parts
        turn, skew = np.arctan2(h, e), np.arctan2(g, d)
        return Axes.of(0.5 * (turn + skew), 0.5 * (turn - skew))

    def change(self, by: FloatArray) -> FloatArray:
        """Change (m, 2) of the logs, to first order, when the maps change by `by` (m, 2, 2)."""
        cl, sl, cr, sr = self.axes.cl, self.axes.sl, self.axes.cr, self.axes.sr
        a, b, c, d = by[:, 0, 0], by[:, 0, 1], by[:, 1, 0], by[:, 1, 1]
        # The diagonal of rot(left)^T by rot(right)^T.
        first = (cl * a + sl * c) * cr - (cl * b + sl * d) * sr
        second = (cl * c - sl * a) * sr + (cl * d - sl * b) * cr
        return np.asarray(-np.stack([first, second], axis=1) / self.s)
