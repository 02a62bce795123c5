"""Lines that should be straight, paid for with demand: which of them come out straight, for how much, and what the rest
would ask.

A piece of least demand may bow lines along which hands need straight ones. So bounds are raised a little, and what
freedom that gives is used for those lines: first half of what may be paid, then all of it; a line that bows even so is
given up, so that what is paid serves the others. A piece of which no more lines come straight pays nothing. Then it is
tried what the lines given up would ask, up to what the leather gives. All that is told was tried; another map may do
with less.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from flatten.demand.fairness import STRAIGHT_BOW_MM, Lines
from flatten.maps.flat import Straightening
from meshes.base.arrays import BoolArray, FloatArray, IntArray

# The most that is paid, in ln stretch: a little less than half a point of demand, which counts from 1 up; the shares of
# it that are paid.
PAID, SHARES = 0.0046, (0.0, 0.5, 1.0)
# A line counts as straight here a little before it does on the piece, which may come to be drawn larger.
WITHIN = 0.99 * STRAIGHT_BOW_MM
# Lines that bow by so much with all paid, and by more than this share of the worst, are given up at once; else the one
# that bows most.
HOPELESS_MM, HOPELESS_SHARE = 2.0 * STRAIGHT_BOW_MM, 0.5
# Tries at most until it is settled which lines are straight; by how much more, in ln stretch, it is tried first what
# the rest would ask.
TRIES, MORE = 3, 0.02


@dataclass(frozen=True, eq=False)
class Tried:
    """A map with its bounds: points (n, 2), bound (p,) of every part, spreads (p,), ln(largest / smallest stretch), and
    bows (l,) of all lines in 300 mm, mm."""

    points: FloatArray
    bound: FloatArray
    spreads: FloatArray
    bows: FloatArray

    @property
    def bowed(self) -> BoolArray:
        """Which lines (l,) are not straight."""
        return np.asarray(self.bows > WITHIN)


@dataclass(frozen=True, eq=False)
class Bought:
    """The map that is kept, and of every part (p,): how much higher its demand is than it need be, and how much more
    its lines would ask to be straight, 0 where they are, infinite where the leather does not give it."""

    kept: Tried
    paid: FloatArray
    asks: FloatArray


def straightening_of(bought: Bought, part: int) -> Straightening:
    """What it cost one part."""
    asks = float(bought.asks[part])
    return Straightening(float(bought.paid[part]), asks if np.isfinite(asks) else None)


# What comes of bounds raised by (p,) when these lines are wanted.
Try = Callable[[FloatArray, Lines], Tried]


def straightened(plain: Tried, lines: Lines, part: IntArray, left: FloatArray, attempt: Try, *, prices: bool) -> Bought:
    """Pay for lines that should be straight.

    plain: the map that pays nothing; part (l,): of every line; left (p,): how far bounds may be raised at all;
    prices: whether it is tried what lines that bow would ask, else nothing is said of it.
    """
    kept, raised = _paid(plain, lines, part, np.minimum(PAID, left), attempt)
    more = np.expm1(kept.spreads) - np.expm1(plain.spreads)
    asks = _asked(kept, raised, lines, part, left, attempt) if prices else np.zeros(len(left))
    return Bought(kept, np.maximum(more, 0.0), asks)


@dataclass(frozen=True, eq=False)
class _Best:
    """The try of which most lines of every part (p,) came out straight: how many bow, by how much the bound is raised,
    and which lines (l,) are wanted there."""

    bowed: IntArray
    raised: FloatArray
    wanted: BoolArray

    def or_else(self, other: "_Best", part: IntArray) -> "_Best":
        """The better of both, part by part."""
        better = other.bowed < self.bowed
        return _Best(
            np.where(better, other.bowed, self.bowed),
            np.where(better, other.raised, self.raised),
            np.where(better[part], other.wanted, self.wanted),
        )


def _paid(plain: Tried, lines: Lines, part: IntArray, spare: FloatArray, attempt: Try) -> tuple[Tried, FloatArray]:
    """The map that is kept, and by how much its bounds are raised (p,)."""
    parts, most, can = np.arange(len(spare)), len(SHARES) - 1, (spare > 0.0)[part]
    wanted = np.ones(len(part), dtype=bool)
    level = np.isin(parts, part[plain.bowed & can]) + np.isin(parts, part[(plain.bows > HOPELESS_MM) & can]).astype(int)
    best = _Best(_count(plain.bowed, part, len(parts)), np.zeros(len(parts)), wanted)
    last, raised = plain, best.raised
    for _ in range(TRIES if level.any() else 0):
        raised = np.array(SHARES)[level] * spare
        last = attempt(raised, lines.wanting(wanted))
        best = best.or_else(_Best(_count(last.bowed, part, len(parts)), raised, wanted.copy()), part)
        bowed = last.bowed & wanted & can
        if not bowed.any():
            break
        worst = np.zeros(len(parts))
        np.maximum.at(worst, part[bowed], last.bows[bowed])
        hopeless = np.minimum(np.maximum(HOPELESS_MM, HOPELESS_SHARE * worst), worst)
        wanted &= ~(bowed & (level == most)[part] & (last.bows >= hopeless[part]))
        level[part[bowed]] = np.minimum(level[part[bowed]] + 1, most)
        level[~np.isin(parts, part[wanted & plain.bowed])] = 0
    if not best.raised.any():
        return plain, best.raised
    if (best.raised == raised).all() and (best.bowed == _count(last.bowed, part, len(parts))).all():
        return last, raised
    return attempt(best.raised, lines.wanting(best.wanted)), best.raised


def _count(marked: BoolArray, part: IntArray, parts: int) -> IntArray:
    """How many lines of every part are marked."""
    return np.bincount(part, weights=marked, minlength=parts).astype(np.int64)


def _asked(kept: Tried, raised: FloatArray, lines: Lines, part: IntArray, left: FloatArray, attempt: Try) -> FloatArray:
    """How much more demand (p,) the lines that bow would ask."""
    parts = np.arange(len(left))
    asks = np.where(np.isin(parts, part[kept.bowed]), np.inf, 0.0)
    low, high = raised, np.minimum(raised + MORE, left)
    for share in (1.0, 0.5):
        # What is straight with a little more is tried with half of it, what is not with all that the leather gives.
        at = np.where(asks > 0.0, low + share * (high - low), raised)
        if not (at > raised).any():
            break
        tried = attempt(at, lines)
        straight = (asks > 0.0) & ~np.isin(parts, part[tried.bowed])
        more = np.maximum(np.expm1(tried.spreads) - np.expm1(kept.spreads), 0.0)
        asks = np.where(straight, np.minimum(asks, more), asks)
        # So that half of the way from here is all of it.
        high = np.where(np.isfinite(asks), high, np.where(high < left, 2.0 * left - low, low))
    return asks
