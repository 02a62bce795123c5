"""Exact answers to two questions about points of the plane: which way do three turn, and do two segments meet?

Signs are decided in floating point where an error bound allows it and in rational arithmetic elsewhere, so the
answer is that of the numbers as stored, whatever the machine. The bound is that of J. R. Shewchuk, Adaptive precision
floating-point arithmetic and fast robust geometric predicates, Discrete & Computational Geometry 18 (1997) 305-363.
"""

from fractions import Fraction

import numpy as np

from meshes.base.arrays import BoolArray, FloatArray, IntArray

_UNIT = 2.0**-53
# Shewchuk's bound A for the orientation determinant, valid while nothing underflows.
_BOUND = (3.0 + 16.0 * _UNIT) * _UNIT
_UNDERFLOW = 1e-290


def orientation(a: FloatArray, b: FloatArray, c: FloatArray) -> IntArray:
    """Sign of the turn a -> b -> c for rows of three (k, 2) arrays: +1 counter-clockwise, -1 clockwise, 0 straight."""
    left = (a[:, 0] - c[:, 0]) * (b[:, 1] - c[:, 1])
    right = (a[:, 1] - c[:, 1]) * (b[:, 0] - c[:, 0])
    twice_area = left - right
    bound = _BOUND * (np.abs(left) + np.abs(right)) + _UNDERFLOW
    signs = np.sign(twice_area).astype(np.int64)
    for k in np.flatnonzero(~(np.abs(twice_area) > bound)):
        signs[k] = _exact_turn(a[k], b[k], c[k])
    return signs


def _exact_turn(a: FloatArray, b: FloatArray, c: FloatArray) -> int:
    ax, ay, bx, by, cx, cy = (Fraction(float(v)) for point in (a, b, c) for v in point)
    twice_area = (ax - cx) * (by - cy) - (ay - cy) * (bx - cx)
    return (twice_area > 0) - (twice_area < 0)


def segments_meet(a: FloatArray, b: FloatArray, c: FloatArray, d: FloatArray) -> BoolArray:
    """Whether the closed segments a-b and c-d, rows of (k, 2) arrays, have a point in common (touching counts)."""
    abc, abd, cda, cdb = orientation(a, b, c), orientation(a, b, d), orientation(c, d, a), orientation(c, d, b)
    meet = (abc * abd < 0) & (cda * cdb < 0)
    meet |= (abc == 0) & _within(a, b, c)
    meet |= (abd == 0) & _within(a, b, d)
    meet |= (cda == 0) & _within(c, d, a)
    meet |= (cdb == 0) & _within(c, d, b)
    return meet


def _within(a: FloatArray, b: FloatArray, p: FloatArray) -> BoolArray:
    """Whether p, known to lie on the line through a and b, lies between them."""
    return np.all((np.minimum(a, b) <= p) & (p <= np.maximum(a, b)), axis=1)


def crossings(points: FloatArray) -> IntArray:
    """Pairs (i, j), i < j, of edges of the closed polygon `points` (n, 2) that meet where they should not.

    Edge k runs from point k to point k + 1. Neighbouring edges share their corner and count only when they fold back
    onto each other. A simple polygon gives an empty array (0, 2).
    """
    n = len(points)
    after = np.roll(points, -1, axis=0)
    found = [_overlapping(points, after, i, j) for i, j in _near_pairs(points, after)]
    back = orientation(points, after, np.roll(points, -2, axis=0)) == 0
    reverse = np.einsum("ij,ij->i", after - points, np.roll(points, -2, axis=0) - after) <= 0
    folded = np.flatnonzero(back & reverse)
    found.append(np.sort(np.stack([folded, (folded + 1) % n], axis=1), axis=1))
    return np.unique(np.concatenate(found), axis=0)


def _overlapping(points: FloatArray, after: FloatArray, i: IntArray, j: IntArray) -> IntArray:
    n = len(points)
    apart = ((i + 1) % n != j) & ((j + 1) % n != i)
    i, j = i[apart], j[apart]
    meet = segments_meet(points[i], after[i], points[j], after[j])
    return np.stack([np.minimum(i, j)[meet], np.maximum(i, j)[meet]], axis=1)


def _near_pairs(points: FloatArray, after: FloatArray, chunk: int = 1_000_000) -> list[tuple[IntArray, IntArray]]:
    """Pairs of edges whose boxes overlap: a sweep along the longer side of the polygon, in portions."""
    axis = int(np.argmax(np.ptp(points, axis=0)))
    low, high = np.minimum(points, after), np.maximum(points, after)
    order = np.argsort(low[:, axis], kind="stable")
    last = np.searchsorted(low[order, axis], high[order, axis], side="right")
    counts = last - np.arange(len(points)) - 1
    ends = np.cumsum(counts)
    pairs, start = [], 0
    while start < len(points):
        done = ends[start - 1] if start else 0
        stop = max(int(np.searchsorted(ends, done + chunk, side="right")), start + 1)
        first = np.repeat(np.arange(start, stop), counts[start:stop])
        offset = np.arange(len(first)) - np.repeat(ends[start:stop] - counts[start:stop] - done, counts[start:stop])
        i, j = order[first], order[first + 1 + offset]
        other = 1 - axis
        near = (low[i, other] <= high[j, other]) & (low[j, other] <= high[i, other])
        pairs.append((i[near], j[near]))
        start = stop
    return pairs
