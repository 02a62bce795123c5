"""How a piece lies to the backbone of the hide: which way the seat's grain direction runs on it, and the best turn.

Leather gives more across the backbone than along it, so how a piece lies decides how much of the budget it uses. Where
a trimmer leaves the angle free within a window, it is chosen by trying every few degrees on the map that is there.
"""

import numpy as np

from flatten.leather.budget_use import use_of
from flatten.leather.stretch import Stretch
from meshes.base.arrays import FloatArray, IntArray
from meshes.base.surface import triangle_areas

STEP_DEG = 2.5
# A direction that is so near to a line of symmetry runs along it.
ON_AXIS_DEG = 0.1
# Of a direction that lies in a triangle with less of its length nothing but rounding is left.
SQUARE_TO = 1e-9


def both_means(vertices: FloatArray, triangles: IntArray, grain: FloatArray) -> FloatArray:
    """Weights (n, 2) whose sums over a map's points (n, 2) are the means, over the seat's area, of where the map
    carries a direction of the seat (3,) laid into every triangle: as long as it comes to lie there, and of length 1.

    vertices (n, 3) mm, triangles (m, 3). The columns add up to 0, so that a map may lie anywhere. Triangles square to
    the direction count for nothing.
    """
    t = triangles
    e = np.stack([vertices[t[:, 1]] - vertices[t[:, 0]], vertices[t[:, 2]] - vertices[t[:, 0]]], axis=1)
    gram = np.einsum("mik,mjk->mij", e, e)
    onto = e @ grain
    parts = np.linalg.solve(gram, onto[:, :, None])[:, :, 0]
    long = np.sqrt(np.maximum(np.einsum("mi,mi->m", parts, onto), 0.0))
    areas = triangle_areas(vertices, t)
    parts *= (areas / areas.sum())[:, None]
    means: FloatArray = np.zeros((len(vertices), 2))
    for k, part in enumerate((parts, parts / np.where(long > SQUARE_TO, long, np.inf)[:, None])):
        each = np.stack([-part.sum(axis=1), part[:, 0], part[:, 1]], axis=1)
        means[:, k] = np.bincount(t.ravel(), weights=each.ravel(), minlength=len(vertices))
    return means


class MeansOnMap:
    """Both means (`both_means`) on one map, for one direction of the seat after the other: what does not depend on the
    direction is reckoned once.

    vertices (n, 3) mm, triangles (m, 3), points (n, 2): of the map.
    """

    def __init__(self, vertices: FloatArray, triangles: IntArray, points: FloatArray) -> None:
        t = triangles
        e = np.stack([vertices[t[:, 1]] - vertices[t[:, 0]], vertices[t[:, 2]] - vertices[t[:, 0]]], axis=1)
        p = np.stack([points[t[:, 1]] - points[t[:, 0]], points[t[:, 2]] - points[t[:, 0]]], axis=1)
        gram = np.einsum("mik,mjk->mij", e, e)
        areas = triangle_areas(vertices, t)
        # By triangle: what a direction of the seat becomes on the map, (m, 2, 3), and the triangle's normal, (m, 3).
        self._carry = np.einsum("mia,mik->mak", p, np.linalg.solve(gram, e)) * (areas / areas.sum())[:, None, None]
        normal = np.cross(e[:, 0], e[:, 1])
        self._normal = normal / np.linalg.norm(normal, axis=1, keepdims=True)

    def of(self, grain: FloatArray) -> FloatArray:
        """The means (2, 2), one a row, of a direction of the seat (3,)."""
        carried = self._carry @ grain
        long = np.sqrt(np.maximum(grain @ grain - (self._normal @ grain) ** 2, 0.0))
        unit = carried / np.where(long > SQUARE_TO, long, np.inf)[:, None]
        return np.stack([carried.sum(axis=0), unit.sum(axis=0)])


def carrying(vertices: FloatArray, triangles: IntArray, grain: FloatArray) -> FloatArray:
    """Weights (n,) whose sum over a map's points (n, 2) runs as the map carries a direction of the seat (3,), in the
    mean over the seat's area: between both means that a check may take (`both_means`), each counted alike.

    What the sum is to be is one linear equation in the points, however the piece is stretched.
    """
    means = both_means(vertices, triangles, grain)
    # On a flat map without stretch the sizes of both sums would be these.
    sizes = np.linalg.norm(means.T @ vertices, axis=1)
    return np.asarray(means @ (0.5 / np.where(sizes > 0.0, sizes, np.inf)))


def carried(vertices: FloatArray, triangles: IntArray, points: FloatArray, grain: FloatArray) -> FloatArray:
    """Unit direction (2,) on the piece that a direction of the seat (3,) is carried to, in the mean over its area.

    vertices (n, 3), triangles (m, 3), points (n, 2).
    """
    mean = carrying(vertices, triangles, grain) @ points
    return np.asarray(mean / np.linalg.norm(mean))


def even_backbone(middle: FloatArray, window_deg: float = 0.0) -> FloatArray | None:
    """The backbone's direction (2,) on a piece that is to come out the same left and right of x = 0: along that line or
    across it, whichever is nearer to `middle` (2,); None when both are farther off than the window allows."""
    axis = np.array([0.0, 1.0]) if abs(middle[1]) >= abs(middle[0]) else np.array([1.0, 0.0])
    off = np.arctan2(abs(middle).min(), abs(middle).max())
    return axis if off <= np.deg2rad(max(window_deg, ON_AXIS_DEG)) else None


def as_it_lay(start: FloatArray, backbone: FloatArray, now: FloatArray) -> FloatArray:
    """The backbone's direction (2,) once the seat's grain direction lies along `now`, when it lay along `start` before
    (both unit directions (2,) on the piece): as far off it as it was."""
    return turned_direction(backbone, float(np.arctan2(start[0] * now[1] - start[1] * now[0], start @ now)))


def turned_direction(direction: FloatArray, angle: float) -> FloatArray:
    """A direction (2,) turned counter-clockwise by an angle in rad."""
    c, s = np.cos(angle), np.sin(angle)
    return np.array([c * direction[0] - s * direction[1], s * direction[0] + c * direction[1]])


def upright(points: FloatArray, backbone: FloatArray) -> FloatArray:
    """The piece (n, 2) turned so that `backbone` (2,) runs up the paper, along +y."""
    x, y = backbone
    return np.asarray(points @ np.array([[y, x], [-x, y]]))


def chosen(
    field: Stretch, pull: float, middle: FloatArray, window_deg: float, limits: tuple[float, float]
) -> FloatArray:
    """The backbone's direction (2,) on the piece, within a window about `middle`, that uses the leather least.

    field: stretches of the map that is there; pull: ln of the least stretch, to which it is scaled first; window_deg:
    to either side; limits: ln of the most the leather may be stretched along and across the backbone. Of angles that
    use the same the one nearest the middle is taken.
    """
    if window_deg <= 0.0 or limits[0] == limits[1]:
        return middle
    count = int(np.ceil(window_deg / STEP_DEG))
    angles = np.deg2rad(window_deg) * np.arange(-count, count + 1) / count
    values = field.values * np.exp(pull) / field.values.min()
    uses = [use_of(values, field.along, turned_direction(middle, angle), limits).values.max() for angle in angles]
    near = np.flatnonzero(np.array(uses) <= (1.0 + 1e-6) * min(uses))
    return turned_direction(middle, float(angles[near[np.argmin(np.abs(angles[near]))]]))
