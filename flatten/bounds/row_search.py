"""Where a row of discs is likely to prove most: a search on the flat piece, as if it were the seat.

Nothing here is proven: distances on the piece stand for those on the seat. What is found is handed to `row_bound`.
"""

from dataclasses import dataclass, replace

import numpy as np

from flatten.bounds.own_axes import own_axes
from flatten.bounds.row_bound import concave, unbent
from meshes.base.arrays import FloatArray, IntArray

# Discs in a row, shares of its length at which they stand, and how many lumps of curvature are told apart.
_SHARES = np.array([0.0, 0.25, 0.5, 0.75, 1.0])
_LUMPS = 600
# Directions against the piece's longest axis, and half lengths as shares of the piece's, of the first rows tried.
_TURNS, _HALVES = (0.0, 0.25 * np.pi, 0.5 * np.pi, 0.75 * np.pi), (0.02, 0.25, 0.5)
# How many of these are improved, how often steps are halved, and rounds of steps of one length.
_ROWS_IMPROVED, _HALVINGS, _STEPS_ALIKE = 2, 5, 4


@dataclass(frozen=True, eq=False)
class Row:
    """Discs in a row on the piece: knots (k, 2), radius (k,), and about what log they prove."""

    knots: FloatArray
    radius: FloatArray
    log: float


class RowSearch:
    """The piece in its own axes, with its curvature in lumps. points (n, 2); rim (k, 2, 2): ends of its rim's edges on
    the piece; defects (n,): 2 pi less the angles at each vertex, 0 on the rim."""

    def __init__(self, points: FloatArray, rim: FloatArray, defects: FloatArray) -> None:
        self._own = own_axes(points)
        points, rim = self._own.seen(points), self._own.seen(rim)
        self._start, self._ahead = rim[:, 0], rim[:, 1] - rim[:, 0]
        self._square = np.maximum((self._ahead**2).sum(axis=1), 1e-300)
        self.places, self.lumps = _lumped(points, defects)
        self.half = 0.5 * np.ptp(points, axis=0)

    def best(self, starts: FloatArray) -> list[Row]:
        """The best rows found, set out from middles `starts` (k, 2), best first; none where none proves anything."""
        middles = self._own.seen(starts)
        first = [self._state(c, turn, half) for c in middles for turn in _TURNS for half in _HALVES]
        worths = np.array([self._worth(state).log for state in first])
        order = np.argsort(-worths, kind="stable")[:_ROWS_IMPROVED]
        found = [self._improved(first[k], worths[k]) for k in order if worths[k] > 0.0]
        return [replace(row, knots=self._own.back(row.knots)) for row in sorted(found, key=lambda row: -row.log)]

    def _improved(self, state: FloatArray, log: float) -> Row:
        """The best row near one, by steps of its ends along and across it and of its largest radius."""
        size = np.array([0.2, 0.2, 0.2, 0.2, 0.1]) * self.half.min()
        for _ in range(_HALVINGS):
            for _ in range(_STEPS_ALIKE):
                before, frame = log, self._frame(state)
                for move in np.concatenate([frame, -frame]) * size:
                    worth = self._worth(state + move).log
                    if worth > log:
                        log, state = worth, state + move
                if log <= before:
                    break
            size = 0.5 * size
        return self._worth(state)

    def _frame(self, state: FloatArray) -> FloatArray:
        """Unit moves (5, 5): both ends outward, both the same way, each aside, and the largest radius."""
        way = state[2:4] - state[:2]
        way = way / max(float(np.linalg.norm(way)), 1e-300)
        aside, still = np.array([-way[1], way[0]]), np.zeros(2)
        moves = [(-way, way), (way, way), (aside, still), (still, aside)]
        return np.array([*([*a, *b, 0.0] for a, b in moves), [0.0, 0.0, 0.0, 0.0, 1.0]])

    def _state(self, middle: FloatArray, turn: float, half: float) -> FloatArray:
        """Both ends of a row in a direction, and the largest radius it may take, in one array (5,)."""
        cos, sin = np.cos(turn), np.sin(turn)
        reach = float(np.hypot(self.half[0] * cos, self.half[1] * sin))
        way = half * reach * np.array([cos, sin])
        return np.array([*(middle - way), *(middle + way), self.half.max()])

    def _worth(self, state: FloatArray) -> Row:
        knots = (1 - _SHARES[:, None]) * state[:2] + _SHARES[:, None] * state[2:4]
        run = _SHARES * float(np.linalg.norm(state[2:4] - state[:2]))
        radius = np.minimum(self._inside(knots), state[4])
        if radius.min() <= 0.0 or run[-1] <= 0.0:
            return Row(knots, radius, 0.0)
        radius = concave(run, radius)
        if radius.min() <= 0.0:
            return Row(knots, radius, 0.0)
        missing = self._missing_rim(state, run, radius)
        return Row(knots, radius, float(-np.log(max(1.0 - missing / unbent(run, radius), 1e-9))))

    def _inside(self, places: FloatArray) -> FloatArray:
        """Distance of places (k, 2) from the rim, below 0 outside."""
        off = places[:, None] - self._start
        share = np.clip((off * self._ahead).sum(axis=2) / self._square, 0.0, 1.0)
        away = np.sqrt(((off - share[..., None] * self._ahead) ** 2).sum(axis=2).min(axis=1))
        below, above = off[..., 1] >= 0.0, off[..., 1] < self._ahead[:, 1]
        side = self._ahead[:, 0] * off[..., 1] - self._ahead[:, 1] * off[..., 0]
        # Sides of the rim that lie to the right: an odd number of them, whichever way each is told.
        right = np.where(below, above & (side > 0), ~above & (side < 0)).sum(axis=1)
        return np.where(right % 2 == 1, away, -away)

    def _missing_rim(self, state: FloatArray, run: FloatArray, radius: FloatArray) -> float:
        """Sum over lumps of their curvature times how deep they lie in the row."""
        way = (state[2:4] - state[:2]) / run[-1]
        off = self.places - state[:2]
        x, y = off @ way, np.abs(off @ np.array([-way[1], way[0]]))
        deep = np.zeros(len(x))
        for k in range(len(run) - 1):
            slope = (radius[k + 1] - radius[k]) / (run[k + 1] - run[k])
            at = np.clip(x + y * slope / np.sqrt(1.0 - slope**2), run[k], run[k + 1])
            deep = np.maximum(deep, radius[k] + slope * (at - run[k]) - np.hypot(x - at, y))
        return float((self.lumps * deep).sum())


def _lumped(points: FloatArray, defects: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Places (k, 2) and sums (k,) of the curvature in the cells of a square lattice with a cell about the middle."""
    cell = float(np.sqrt(np.prod(np.ptp(points, axis=0)) / _LUMPS))
    at: IntArray = np.rint(points / max(cell, 1e-300)).astype(np.int64)
    at -= at.min(axis=0)
    _, which = np.unique(at[:, 0] * (int(at[:, 1].max()) + 1) + at[:, 1], return_inverse=True)
    weight = np.abs(defects) + 1e-300
    whole = np.bincount(which, weights=weight)
    places = np.stack([np.bincount(which, weights=weight * points[:, x]) / whole for x in range(2)], axis=1)
    return places, np.asarray(np.bincount(which, weights=defects), dtype=np.float64)
