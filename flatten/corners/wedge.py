"""The leather that lies between two flaps of a piece at a folded corner, up to where both tack lines go on and meet.

A corner with a drop h leaves a square h x h over: a sheet laid over a box covers each side once and that square besides
(geometry of a box corner). What the corner's arc takes in is covered by it too.
"""

from dataclasses import dataclass

import numpy as np

from meshes.base.arrays import FloatArray

# Tack lines go on as they run over this length before the corner.
_ALONG_MM = 30.0
# Two tack lines that meet further out than this many legs are joined straight instead.
_FARTHEST_LEGS = 2.5


@dataclass(frozen=True, eq=False)
class Wedge:
    """Leather of a fold, mm on the piece. mouth (k, 2): from the foot of one leg out and on to that of the other; tip
    (2,): in the middle of the arc; legs: each from the foot up to the arc, (k, 2)."""

    mouth: FloatArray
    tip: FloatArray
    legs: tuple[FloatArray, FloatArray]

    @property
    def area_mm2(self) -> float:
        """Area of the fold's leather, from its mouth up to the arc."""
        ring = np.concatenate([self.mouth, self.legs[1][1:], self.tip[None], self.legs[0][::-1][:-1]])
        x, y = ring.T
        return float(0.5 * abs(x @ np.roll(y, -1) - y @ np.roll(x, -1)))

    @property
    def far(self) -> FloatArray:
        """Where the mouth lies farthest out, (2,)."""
        return np.asarray(self.mouth[len(self.mouth) // 2] if len(self.mouth) % 2 else self.mouth.mean(axis=0))


def wedge(before: FloatArray, notch: FloatArray, after: FloatArray, leg_share: float) -> Wedge:
    """The wedge at a notch (k, 2), from the end of the tack line `before` (a, 2) up, round and down to the beginning of
    `after` (b, 2), all counter-clockwise; leg_share: of the notch's length that one leg is."""
    one, two = _heading(before[::-1]), _heading(after)
    start, end = notch[0], notch[-1]
    steps = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(notch, axis=0), axis=1))])
    mouth = np.array([start, end])
    turn = one[0] * two[1] - one[1] * two[0]
    if abs(turn) > 1e-6:
        gap = end - start
        ahead = (gap[0] * two[1] - gap[1] * two[0]) / turn
        back = (gap[0] * one[1] - gap[1] * one[0]) / turn
        most = _FARTHEST_LEGS * leg_share * steps[-1]
        # `one` and `two` point away from the corner along the tack lines, the mouth goes the other way.
        if 0.0 < -ahead < most and 0.0 < -back < most:
            mouth = np.array([start, start + ahead * one, end])
    cuts = leg_share * steps[-1], (1.0 - leg_share) * steps[-1]
    first = notch[steps <= cuts[0] + 1e-6]
    last = notch[steps >= cuts[1] - 1e-6][::-1]
    tip = np.array([np.interp(0.5 * steps[-1], steps, notch[:, k]) for k in range(2)])
    return Wedge(mouth, tip, (first, last))


def _heading(points: FloatArray) -> FloatArray:
    """Unit direction in which a line sets out, over its first stretch."""
    away = np.linalg.norm(points - points[0], axis=1)
    far = points[int(np.argmax(away >= min(_ALONG_MM, 0.5 * away.max())))]
    return np.asarray((far - points[0]) / np.linalg.norm(far - points[0]))
