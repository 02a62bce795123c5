"""A line pulled taut over a circle and points in order, as a cover over a rounded edge and what lies below it.

In the section square to the edge, (outward, down), counted from the circle's middle; angles rad from the level, down
being positive. Where two points pull alike, the farther one is taken.
"""

from dataclasses import dataclass

import numpy as np

from meshes.base.arrays import BoolArray, FloatArray, IntArray

# Points no further from the circle than this lie on it; pulls that differ by less are alike.
ON_CIRCLE_MM, ALIKE_RAD = 1e-6, 1e-9


@dataclass(frozen=True, eq=False)
class TautLines:
    """Lines at n places over K points each. turn (n,): where each leaves its circle; start (n, 2): there; points
    (n, K, 2): the points, those that it passes by moved onto it; length (n, K): up to each of them, from the start;
    heading (n, K): of the run before each."""

    turn: FloatArray
    start: FloatArray
    points: FloatArray
    length: FloatArray
    heading: FloatArray


def taut_lines(radius: FloatArray, points: FloatArray) -> TautLines:
    """Lines from above over circles of radii (n,) and over points (n, K, 2) to the last of them."""
    n, count = points.shape[:2]
    every, order = np.arange(n), np.arange(count)
    from_middle = np.hypot(points[..., 0], points[..., 1])
    tangent = np.sqrt(np.maximum(from_middle**2 - radius[:, None] ** 2, 0.0))
    leaving = np.arctan2(points[..., 1], points[..., 0]) + np.arctan2(radius[:, None], tangent)
    # Only the last point has to be reached; what lies in the circle is passed by.
    leaving[:, :-1][from_middle[:, :-1] <= radius[:, None] + ON_CIRCLE_MM] = np.inf
    turn, picked = _least(leaving)
    start = radius[:, None] * np.stack([np.sin(turn), -np.cos(turn)], axis=1)
    moved = np.empty_like(points)
    before, here, heading = np.full(n, -1), start, turn
    headings = np.empty((n, count))
    for _ in range(count):
        there = points[every, picked]
        between = (order > before[:, None]) & (order <= picked[:, None])
        _lay(moved, points, here, there, between)
        headings[between] = np.broadcast_to(heading[:, None], (n, count))[between]
        if (picked == count - 1).all():
            break
        before, here = picked, there
        way = points - here[:, None]
        angle = np.arctan2(way[..., 1], way[..., 0])
        # Never back over the way that the line came.
        angle = np.where(angle < heading[:, None] - np.pi, angle + 2.0 * np.pi, angle)
        angle[(order <= before[:, None]) | (np.hypot(way[..., 0], way[..., 1]) < ON_CIRCLE_MM)] = np.inf
        done = ~np.isfinite(angle).any(axis=1)
        angle[done, -1] = heading[done]
        heading, picked = _least(angle)
    steps = np.diff(np.concatenate([start[:, None], moved], axis=1), axis=1)
    return TautLines(turn, start, moved, np.cumsum(np.hypot(steps[..., 0], steps[..., 1]), axis=1), headings)


def _least(angles: FloatArray) -> tuple[FloatArray, IntArray]:
    """The least angle of every row, and the last point that has it."""
    least = angles.min(axis=1)
    alike = angles <= least[:, None] + ALIKE_RAD
    return least, angles.shape[1] - 1 - np.argmax(alike[:, ::-1], axis=1)


def _lay(moved: FloatArray, points: FloatArray, here: FloatArray, there: FloatArray, chosen: BoolArray) -> None:
    """Put chosen points onto the run from here to there, square to it, in their order."""
    run = there - here
    length2 = np.maximum((run**2).sum(axis=1), 1e-300)
    share = np.einsum("nkj,nj->nk", points - here[:, None], run) / length2[:, None]
    share = np.maximum.accumulate(np.where(chosen, np.clip(share, 0.0, 1.0), 0.0), axis=1)
    on = here[:, None] + share[..., None] * run[:, None]
    moved[chosen] = on[chosen]
