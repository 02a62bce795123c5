"""Stretch of the cover, triangle by triangle: how much longer a line is on the seat than on the piece.

A triangle's map is linear; its singular values are the principal stretches (Tissot's indicatrix). The figures are
computed from edge vectors in a frame laid on each triangle's longest edge, which stays accurate for slivers.
"""

from dataclasses import dataclass

import numpy as np

from meshes.base.arrays import FloatArray, IntArray


@dataclass(frozen=True, eq=False)
class Stretch:
    """Principal stretches of m triangles.

    values (m, 2): length on the seat / length on the piece, larger first; along (m, 2): unit direction of the larger
    one on the piece; along_seat (m, 3): the same direction on the seat; areas_seat (m,) mm2.
    """

    values: FloatArray
    along: FloatArray
    along_seat: FloatArray
    areas_seat: FloatArray

    @property
    def demand(self) -> float:
        """Largest stretch / smallest stretch - 1 over all triangles and directions."""
        return float(self.values[:, 0].max() / self.values[:, 1].min() - 1.0)

    @property
    def p995(self) -> float:
        """The stretch that only 0.5 % of the seat's area exceeds."""
        order = np.argsort(self.values[:, 0], kind="stable")
        share = np.cumsum(self.areas_seat[order])
        place = min(int(np.searchsorted(share, 0.995 * share[-1])), len(order) - 1)
        return float(self.values[order[place], 0])

    @property
    def energy(self) -> float:
        """Area-weighted mean of s1^2 + s2^2 + s1^-2 + s2^-2, which is 4 for a piece without any stretch."""
        squares = self.values**2
        return float(np.average((squares + 1.0 / squares).sum(axis=1), weights=self.areas_seat))


def frames(vertices: FloatArray, triangles: IntArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Each triangle laid flat: edges from its first corner as rows, (m, 2, 2), and the two unit axes in space, (m, 3).

    The first axis runs along the longest edge; the second is to its left seen from the outer side.
    """
    corner = [[np.ascontiguousarray(vertices[:, c])[triangles[:, k]] for c in range(3)] for k in range(3)]
    edges = np.array([[corner[(k + 1) % 3][c] - corner[k][c] for c in range(3)] for k in range(3)])
    squares = (edges * edges).sum(axis=1)
    longest = np.argmax(squares, axis=0)
    base = np.where(longest == 0, edges[0], np.where(longest == 1, edges[1], edges[2]))
    first = base / np.sqrt(squares.max(axis=0))
    u, v = edges[0], -edges[2]
    normal = _crossed(u, v)
    second = _crossed(normal, first)
    second /= np.sqrt((second * second).sum(axis=0))
    flat = np.array([[(side * axis).sum(axis=0) for axis in (first, second)] for side in (u, v)])
    return flat.transpose(2, 0, 1), first.T, second.T


def _crossed(u: FloatArray, v: FloatArray) -> FloatArray:
    """The cross product of vectors given as (3, m)."""
    return np.array([u[i] * v[j] - u[j] * v[i] for i, j in ((1, 2), (2, 0), (0, 1))])


def singular(f: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Singular values (m, 2), the larger first and the second signed like the determinant, and the angles (m,) of the
    left and right rotations in f = rot(left) diag(s) rot(right), for f (m, 2, 2). Blinn 1996, closed form.
    """
    e, h, d, g = split(f)
    turn, skew = np.arctan2(h, e), np.arctan2(g, d)
    return sizes(e, h, d, g).T, 0.5 * (turn + skew), 0.5 * (turn - skew)


def split(f: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """A map as a turn with growth, (e, -h; h, e), and a turned mirroring with growth, (d, g; g, -d); (m,) each."""
    a, b, c, d = f[:, 0, 0], f[:, 0, 1], f[:, 1, 0], f[:, 1, 1]
    return 0.5 * (a + d), 0.5 * (c - b), 0.5 * (a - d), 0.5 * (c + b)


def sizes(e: FloatArray, h: FloatArray, d: FloatArray, g: FloatArray) -> FloatArray:
    """Singular values (2, m) of maps in these parts, the larger first and the second signed like the determinant."""
    q, r = np.sqrt(e * e + h * h), np.sqrt(d * d + g * g)
    return np.array([q + r, q - r])


def stretch(vertices: FloatArray, points: FloatArray, triangles: IntArray) -> Stretch:
    """Principal stretches from the piece `points` (n, 2) to the seat `vertices` (n, 3), both in mm.

    The triangles must not be degenerate on either side.
    """
    flat, first, second = frames(vertices, triangles)
    paper = np.empty((2, 2, len(triangles)))
    for r in (0, 1):
        place = np.ascontiguousarray(points[:, r])
        corner = place[triangles[:, 0]]
        paper[0, r], paper[1, r] = place[triangles[:, 1]] - corner, place[triangles[:, 2]] - corner
    det = paper[0, 0] * paper[1, 1] - paper[0, 1] * paper[1, 0]
    inverse = np.array([[paper[1, 1], -paper[0, 1]], [-paper[1, 0], paper[0, 0]]]) / det
    # Edges are rows: seat = paper @ f.T, hence f.T = inverse @ seat.
    f = np.empty((2, 2, len(triangles))).transpose(2, 0, 1)
    for k in (0, 1):
        for i in (0, 1):
            f[:, k, i] = inverse[i, 0] * flat[:, 0, k] + inverse[i, 1] * flat[:, 1, k]
    values, left, right = singular(f)
    along = np.stack([np.cos(right), -np.sin(right)], axis=1)
    on_seat = np.cos(left)[:, None] * first + np.sin(left)[:, None] * second
    areas = 0.5 * np.abs(flat[:, 0, 0] * flat[:, 1, 1] - flat[:, 0, 1] * flat[:, 1, 0])
    return Stretch(np.abs(values), along, on_seat, areas)
