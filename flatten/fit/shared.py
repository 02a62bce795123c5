"""A move shared by both sides of a seam round a bend, so that both stay of one length.

Taken in round a bend the side that bulges gets shorter, by the amount times the turn of the bend, and a straight one
does not. What both sides take together stays as it was asked for, and at every place one side takes more of it than the
other: the seam goes over by the difference, so far that both change their lengths alike, in all and over every stretch.
How much more changes along the seam no faster than an amount runs out.
"""

from collections.abc import Callable

import numpy as np
from scipy.optimize import lsq_linear

from flatten.fit.run_out import RUN_OUT
from flatten.pieces.seams import INTERVAL_MM, INTERVAL_TOLERANCE_MM, SEAM_TOLERANCE_MM, largest_local
from meshes.base.arrays import FloatArray

# Shares are known at places this far apart at least, and at so many at the most; how often lengths are taken again.
KNOTS_APART_MM, KNOTS_MOST, TURNS = 30.0, 24, 3
# How dear a share is, and a change of it from knot to knot, beside as much unlikeness as still sews.
SHARE_COST, CHANGE_COST = 0.1, 0.5
# A share for trying what shares do.
TRIED = 0.25

UnlikeSteps = Callable[[FloatArray], FloatArray]
"""By how much the second side of a seam gets longer than the first, edge by edge (k,), mm, with shares (m,)."""


def shares_of(unlike: UnlikeSteps, along: FloatArray, seat: FloatArray, amount_mm: float) -> FloatArray:
    """The shares s (m,), -1 to 1, by which the first side moves (1 + s) times the amount and the other (1 - s) times.

    unlike: what shares do; along: places (m,) of the shares along the seam, mm; seat: lengths (k,) of the seam's edges;
    amount_mm: the largest. All 0 where both sides stay near enough alike to be sewn, or no shares make them so.
    """
    none = np.zeros(len(along))
    plain = _off(unlike(none), seat)
    if plain <= 1.0:
        return none
    apart = max(RUN_OUT * amount_mm, KNOTS_APART_MM, float(along[-1]) / KNOTS_MOST)
    knots = np.linspace(along[0], along[-1], max(round(float(along[-1] - along[0]) / apart), 1) + 1)
    hats = np.array([np.interp(along, knots, row) for row in np.eye(len(knots))]).T
    windows = _windows(seat)
    found = np.zeros(len(knots))
    # What does not sew then either is not worth moving both sides unlike.
    best, off = none, min(plain, 1.0)
    for _ in range(TURNS):
        found = _solved(lambda x: windows @ unlike(hats @ x), found)
        shares = hats @ found
        reached = _off(unlike(shares), seat)
        if reached < off:
            best, off = shares, reached
    return best


def _off(steps: FloatArray, seat: FloatArray) -> float:
    """How much of what a hand eases in is used: 1 is as much as still sews."""
    return max(abs(float(steps.sum())) / SEAM_TOLERANCE_MM, abs(largest_local(steps, seat)) / INTERVAL_TOLERANCE_MM)


def _windows(seat: FloatArray) -> FloatArray:
    """Rows that sum steps (k,) over stretches of INTERVAL_MM and over all, as parts of what still sews."""
    ends = np.concatenate([[0.0], np.cumsum(seat)])
    starts = np.arange(0.0, max(float(ends[-1]) - INTERVAL_MM, 0.0) + 1e-9, 0.5 * INTERVAL_MM)
    over = np.minimum(ends[1:], starts[:, None] + INTERVAL_MM) - np.maximum(ends[:-1], starts[:, None])
    parts = np.clip(over, 0.0, None) / seat / INTERVAL_TOLERANCE_MM
    return np.vstack([parts, np.full(len(seat), 1.0 / SEAM_TOLERANCE_MM)])


def _solved(used: Callable[[FloatArray], FloatArray], at: FloatArray) -> FloatArray:
    """Shares at the knots (k,) that leave least unlike, from those at hand: a step of least squares within -1 to 1."""
    count, here = len(at), used(at)
    towards = np.where(at > 0.0, -TRIED, TRIED)
    slopes = np.array([(used(at + row) - here) / row.sum() for row in np.diag(towards)]).T
    uneven = CHANGE_COST * np.diff(np.eye(count), axis=0)
    rows = np.vstack([slopes, SHARE_COST * np.eye(count), uneven])
    wanted = np.concatenate([slopes @ at - here, np.zeros(count + len(uneven))])
    return np.asarray(lsq_linear(rows, wanted, bounds=(-1.0, 1.0)).x)
