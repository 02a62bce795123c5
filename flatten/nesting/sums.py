"""Where the origin of one outline may not stand because the outline would lie on another, on a grid of places.

The places at which two outlines meet are the sum of one and of the other turned by half a turn. Its boundary is part of
the convolution of both boundaries: every edge of one at every corner of the other whose turn takes in the edge's
direction (Guibas, Ramshaw, Stolfi, A kinetic framework for computational geometry, 1983). The number of times that
curve goes round a place counts the pieces in which the outlines would meet there, so a place is free exactly where
it is nought. Directions are whole numbers, so that parallel edges are told alike from both sides and the curve is
closed.
"""

import numpy as np
from scipy.ndimage import distance_transform_edt

from meshes.base.arrays import FloatArray, IntArray

# Directions in a full turn.
CIRCLE = 1 << 40


def _directions(points: FloatArray) -> tuple[IntArray, IntArray]:
    """Directions of the edges from each corner on, and the turn at each corner from the edge before it."""
    edges = np.roll(points, -1, axis=0) - points
    angle = np.rint(np.arctan2(edges[:, 1], edges[:, 0]) / (2.0 * np.pi) * CIRCLE).astype(np.int64) % CIRCLE
    turn = (angle - np.roll(angle, 1)) % CIRCLE
    return angle, np.where(turn > CIRCLE // 2, turn - CIRCLE, turn)


def _met(angle: IntArray, turn: IntArray, others: IntArray, *, first: bool) -> tuple[IntArray, IntArray, FloatArray]:
    """Corners and edges that belong together, and +1 or -1 for turns to the left or right. first: of parallel edges,
    whose come first: those of the outline that has the corners, or the others'."""
    into, out = np.roll(angle, 1), angle
    begin = np.where(turn > 0, into, out)
    span = np.abs(turn)
    rel = (others[None, :] - begin[:, None]) % CIRCLE
    inside = (rel > 0) & (rel <= span[:, None]) if first else rel < span[:, None]
    corner, edge = np.nonzero(inside)
    return corner, edge, np.sign(turn)[corner].astype(float)


def sum_edges(fixed: FloatArray, moving: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Edges of the curve that bounds where `moving` would lie on `fixed`, both (k, 2), counter-clockwise: begins (m,
    2), ends (m, 2), signs (m,). A ring that runs clockwise stands for what is outside it."""
    other = -moving
    angle_f, turn_f = _directions(fixed)
    angle_m, turn_m = _directions(other)
    corner_f, edge_m, sign_f = _met(angle_f, turn_f, angle_m, first=True)
    corner_m, edge_f, sign_m = _met(angle_m, turn_m, angle_f, first=False)
    # Each corner of the curve is the sum of the same two corners wherever it is met, to the last digit: else a row
    # of the grid could run between two edges that follow each other.
    next_f, next_m = np.roll(fixed, -1, axis=0), np.roll(other, -1, axis=0)
    begins = np.concatenate([fixed[corner_f] + other[edge_m], fixed[edge_f] + other[corner_m]])
    ends = np.concatenate([fixed[corner_f] + next_m[edge_m], next_f[edge_f] + other[corner_m]])
    return begins, ends, np.concatenate([sign_f, sign_m])


def windings(
    curve: tuple[FloatArray, FloatArray, FloatArray], low: tuple[int, int], shape: tuple[int, int]
) -> IntArray:
    """How often a curve in units of the grid goes round its places from `low` on, shape (columns, rows)."""
    begins, ends, signs = curve
    rows_a, rows_b = np.ceil(begins[:, 1]).astype(int), np.ceil(ends[:, 1]).astype(int)
    first = np.clip(np.minimum(rows_a, rows_b) - low[1], 0, shape[1])
    count = np.clip(np.maximum(rows_a, rows_b) - low[1], 0, shape[1]) - first
    which = np.repeat(np.arange(len(count)), count)
    row = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count) + first[which]
    begin, step = begins[which], ends[which] - begins[which]
    at = begin[:, 0] + (row + low[1] - begin[:, 1]) * step[:, 0] / step[:, 1]
    # From a falling edge on one is inside a curve that runs counter-clockwise.
    change = signs[which] * np.where(step[:, 1] < 0.0, 1.0, -1.0)
    column = np.clip(np.floor(at).astype(int) + 1 - low[0], 0, shape[0])
    steps = np.bincount(column * shape[1] + row, weights=change, minlength=(shape[0] + 1) * shape[1])
    return np.rint(np.cumsum(steps.reshape(shape[0] + 1, shape[1]), axis=0)[:-1]).astype(int)


def depths(taken: np.ndarray) -> FloatArray:
    """How many steps of the grid each taken place lies from the nearest free one; 0 for free places."""
    if not taken.any():
        return np.zeros(taken.shape, dtype=np.float32)
    return distance_transform_edt(taken).astype(np.float32)


def overlap_map(fixed: FloatArray, moving: FloatArray) -> tuple[FloatArray, tuple[int, int]]:
    """Depth at every place of the origin of `moving` relative to that of `fixed`, in units of the grid, and the
    lowest of these places. Outside the map all is free."""
    low = np.floor(fixed.min(axis=0) - moving.max(axis=0)).astype(int)
    high = np.ceil(fixed.max(axis=0) - moving.min(axis=0)).astype(int)
    size = (int(high[0] - low[0] + 1), int(high[1] - low[1] + 1))
    corner = (int(low[0]), int(low[1]))
    return depths(windings(sum_edges(fixed, moving), corner, size) > 0), corner


def outside_count(room: FloatArray, moving: FloatArray, shape: tuple[int, int]) -> IntArray:
    """In how many pieces `moving` would lie outside a ring, for places from (0, 0) on."""
    return 1 + windings(sum_edges(room[::-1], moving), (0, 0), shape)


def on_count(obstacle: FloatArray, moving: FloatArray, shape: tuple[int, int]) -> IntArray:
    """In how many pieces `moving` would lie on an obstacle, for places from (0, 0) on."""
    return windings(sum_edges(obstacle, moving), (0, 0), shape)
