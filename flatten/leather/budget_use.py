"""How much of the leather's budget a piece uses, by direction, and where.

Leather gives less along the backbone than across it, and something between in between. In direction n on the piece the
most it may be stretched is b(n) with b(n)^2 = (b_along cos)^2 + (b_across sin)^2, an ellipse. A stretch takes the use u
of the budget when it is as large as the ellipse of b_along^u and b_across^u allows: u = 1 is the limit itself, and for
a leather alike in all directions u = ln stretch / ln b. With C = F^T F (F the triangle's map from piece to seat) the
use of a triangle is the least u for which diag(b^2u) - C has no negative eigenvalue; the direction of the eigenvalue 0
is the one that decides.
"""

from dataclasses import dataclass

import numpy as np

from meshes.base.arrays import FloatArray

_BISECTIONS = 50


@dataclass(frozen=True, eq=False)
class BudgetUse:
    """values (m,): use of the budget by triangle; toward (m, 2): unit direction on the piece that decides it; most
    (m,): the largest stretch the leather gives in that direction."""

    values: FloatArray
    toward: FloatArray
    most: FloatArray

    @property
    def worst(self) -> int:
        """The triangle that uses most."""
        return int(np.argmax(self.values))


def squared(values: FloatArray, along: FloatArray) -> FloatArray:
    """C = F^T F (m, 3) as xx, xy, yy, from principal stretches (m, 2) and the direction (m, 2) of the larger one."""
    x, y = along.T
    large, small = values.T**2
    return np.stack([large * x * x + small * y * y, (large - small) * x * y, large * y * y + small * x * x], axis=1)


def least_bound(c: FloatArray, ratio: tuple[float, float]) -> FloatArray:
    """The least M (m,) for which stretches with C (m, 3) stay within exp(M ratio) along x and along y."""
    top = 0.5 * np.log(0.5 * (c[:, 0] + c[:, 2]) + np.hypot(0.5 * (c[:, 0] - c[:, 2]), c[:, 1]))
    if ratio[0] == ratio[1]:
        return np.asarray(top / ratio[0])
    ends = np.stack([top / ratio[0], top / ratio[1]])
    low, high = ends.min(axis=0), ends.max(axis=0)
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        x, y = np.exp(2 * ratio[0] * middle) - c[:, 0], np.exp(2 * ratio[1] * middle) - c[:, 2]
        holds = (x >= 0) & (y >= 0) & (x * y >= c[:, 1] ** 2)
        low, high = np.where(holds, low, middle), np.where(holds, middle, high)
    return high


def use_of(values: FloatArray, along: FloatArray, backbone: FloatArray, limits: tuple[float, float]) -> BudgetUse:
    """Use of the budget by every triangle.

    values, along: principal stretches (m, 2), larger first, and unit direction (m, 2) of the larger on the piece;
    backbone (2,): unit direction on the piece; limits: ln of the most it may be stretched along and across it, > 0.
    """
    turned = along @ np.array([[backbone[0], -backbone[1]], [backbone[1], backbone[0]]])
    c = squared(values, turned)
    use = least_bound(c, limits)
    x, y = np.exp(2 * limits[0] * use) - c[:, 0], np.exp(2 * limits[1] * use) - c[:, 2]
    # The eigenvector of the eigenvalue 0, from the row with more digits.
    first = np.abs(x) >= np.abs(y)
    toward = np.where(first[:, None], np.stack([c[:, 1], x], axis=1), np.stack([y, c[:, 1]], axis=1))
    length = np.linalg.norm(toward, axis=1, keepdims=True)
    toward = np.where(length > 1e-12, toward / np.maximum(length, 1e-300), turned)
    most = np.sqrt((np.exp(limits[0]) * toward[:, 0]) ** 2 + (np.exp(limits[1]) * toward[:, 1]) ** 2)
    back = toward @ np.array([[backbone[0], backbone[1]], [-backbone[1], backbone[0]]])
    return BudgetUse(use, back, most)


def beyond(values: FloatArray, along: FloatArray, backbone: FloatArray, limits: tuple[float, float]) -> FloatArray:
    """By what share (m,) some direction of a triangle is stretched beyond what the leather gives there; below 0: none.

    Arguments as for `use_of`.
    """
    turned = along @ np.array([[backbone[0], -backbone[1]], [backbone[1], backbone[0]]])
    x, y = np.exp(limits[0]), np.exp(limits[1])
    c = squared(values, turned) / np.array([x * x, x * y, y * y])
    top = 0.5 * (c[:, 0] + c[:, 2]) + np.hypot(0.5 * (c[:, 0] - c[:, 2]), c[:, 1])
    return np.asarray(np.sqrt(top) - 1.0)
