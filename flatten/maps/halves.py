"""A panel that is the same left and right is flattened as one half, its centre line kept straight, and unfolded.

Half the work, and both halves of the piece are equal to the last digit. Unless a panel is built even there is nothing
to unfold, and a start that is not even enough to halve is told by None.
"""

from dataclasses import dataclass

import numpy as np

from meshes.base.arrays import FloatArray, IntArray
from meshes.numerics.predicates import orientation


@dataclass(frozen=True, eq=False)
class Half:
    """The right half of a mesh: vertices (k,) numbers in the whole; triangles (m / 2, 3) in the half's numbers; axis
    (j,) the half's numbers of the vertices on the centre line; mirror (n,) of the whole."""

    vertices: IntArray
    triangles: IntArray
    axis: IntArray
    mirror: IntArray

    def held(self) -> IntArray:
        """Unknowns that stay where they are: x of the centre line, and y of the first vertex on it."""
        return np.append(2 * self.axis, 2 * self.axis[0] + 1)

    def unfolded(self, points: FloatArray) -> FloatArray:
        """Points (n, 2) of the whole from those of the half (k, 2), whose centre line lies on x = 0."""
        whole = np.empty((len(self.mirror), 2))
        whole[self.mirror[self.vertices]] = points * np.array([-1.0, 1.0])
        whole[self.vertices] = points
        return whole

    def local(self, edges: IntArray) -> tuple[IntArray, IntArray]:
        """Of edges (k, 2) of the whole those in the half, in the half's numbers, and which they were."""
        number = np.full(len(self.mirror), -1)
        number[self.vertices] = np.arange(len(self.vertices))
        mine = number[edges]
        keep = np.flatnonzero((mine >= 0).all(axis=1))
        return mine[keep], keep


def right_half(vertices: FloatArray, triangles: IntArray, mirror: IntArray) -> Half | None:
    """The half on the far side of the plane that `mirror` (n,) reflects vertices (n, 3) in; None when it is no clean
    half."""
    apart = vertices - vertices[mirror]
    widest = apart[int(np.argmax(np.einsum("ij,ij->i", apart, apart)))]
    # Of panels that mirror in one plane the halves lie on one side.
    widest = widest * np.sign(widest[int(np.argmax(np.abs(widest)))])
    side = apart @ widest
    own = (side[triangles] >= 0).all(axis=1) & (side[triangles] > 0).any(axis=1)
    if 2 * int(own.sum()) != len(triangles) or not _same(mirror[triangles[own]], triangles[~own]):
        return None
    used, local = np.unique(triangles[own], return_inverse=True)
    axis = np.flatnonzero(mirror[used] == used)
    if len(axis) < 2:
        return None
    return Half(used, local.reshape(-1, 3).astype(np.int64), axis, mirror)


def _same(one: IntArray, other: IntArray) -> bool:
    """Whether two lists of triangles name the same vertices, in whatever order."""
    first, second = (np.sort(t, axis=1) for t in (one, other))
    return np.array_equal(first[np.lexsort(first.T)], second[np.lexsort(second.T)])


def halved(half: Half, points: FloatArray) -> FloatArray | None:
    """A map (n, 2) of the whole made even, its centre line laid on x = 0, as points (k, 2) of the half; None when
    that folds."""
    line = points[half.vertices[half.axis]]
    middle = line.mean(axis=0)
    up = np.linalg.svd(line - middle)[2][0]
    # The half lies to the right of its centre line walked upward.
    turned = (points - middle) @ np.array([[up[1], up[0]], [-up[0], up[1]]])
    if turned[half.vertices, 0].mean() < 0:
        turned = -turned
    even = 0.5 * (turned + turned[half.mirror] * np.array([-1.0, 1.0]))
    mine = even[half.vertices]
    mine[half.axis, 0] = 0.0
    corners = (mine[half.triangles[:, k]] for k in range(3))
    return mine if bool((orientation(*corners) > 0).all()) else None
