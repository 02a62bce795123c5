"""Lines that should be straight, paid for with demand: which of them come out straight, for how much, and what the rest
would ask.

A piece of least demand may bow lines along which hands need straight ones. So bounds are raised a little, and what
freedom that gives is used for those lines: first half of what may be paid, then all of it; a line that bows even so is
given up, so that what is paid serves the others. A piece of which no more lines come straight pays nothing. Then it is
tried what the lines given up would ask, up to what the leather gives. All that is told was tried; another map may do
with less.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from flatten.demand.fairness import STRAIGHT_BOW_MM, Lines
from flatten.maps.flat import Straightening
from meshes.base.arrays import BoolArray, FloatArray, IntArray

# The most that is paid, in ln stretch: a little less than half a point of demand, which counts from 1 up; the shares of
# it that are paid.
PAID, SHARES = 0.0044, (0.0, 0.5, 1.0)
# The most that is paid as demand, a fraction, and by how much less is tried where a map came out beyond it.
MOST_PAID, LESS = 0.005, 0.97
# A line counts as straight here a little before it does on the piece, which may come to be drawn larger.
WITHIN = 0.99 * STRAIGHT_BOW_MM
# Lines that bow by so much with all paid, and by more than this share of the worst, are given up at once, but the one
# that bows least is left; else the one that bows most.
HOPELESS_MM, HOPELESS_SHARE = 2.0 * STRAIGHT_BOW_MM, 0.5
# Lines that bow alike are the same line left and right, mm.
TWIN_BOW_MM = 1e-6
# Tries at most until it is settled which lines are straight.
TRIES = 3
# What the rest would ask, where all that the leather gives is enough: tries at most; by how much more, in ln stretch,
# it is tried first; how near, in ln stretch, what is straight and what is not are brought to each other; how far beyond
# the place that a straight line through the last two bows points to; and the least and most of the way between two that
# is gone.
PRICE_TRIES, MORE, NEAR_ENOUGH, PAST_IT, LEAST_WAY, MOST_WAY = 4, 0.02, 0.004, 1.1, 0.2, 0.8
# A try is broken off when none of its lines comes straight any more even if all of them go on straightening as fast as
# in the last steps: how many steps are looked back, and after how many a try is first looked at.
LOOK_BACK, LOOK_FROM = 2, 6


@dataclass(frozen=True, eq=False)
class Tried:
    """A map with its bounds: points (n, 2), bound (p,) of every part, spreads (p,), ln(largest / smallest stretch), and
    bows (l,) of all lines in 300 mm, mm; whole: whether the walk to it was not broken off."""

    points: FloatArray
    bound: FloatArray
    spreads: FloatArray
    bows: FloatArray
    whole: bool = True

    @property
    def bowed(self) -> BoolArray:
        """Which lines (l,) are not straight."""
        return np.asarray(self.bows > WITHIN)


@dataclass(frozen=True, eq=False)
class Bought:
    """The map that is kept, and of every part (p,): how much higher its demand is than it need be, and how much more
    its lines would ask to be straight, 0 where they are, infinite where that was not found within what the leather
    gives."""

    kept: Tried
    paid: FloatArray
    asks: FloatArray


def straightening_of(bought: Bought, part: int) -> Straightening:
    """What it cost one part."""
    asks = float(bought.asks[part])
    return Straightening(float(bought.paid[part]), asks if np.isfinite(asks) else None)


class Try(Protocol):
    """What comes of bounds raised by (p,) when these lines are wanted; whole: whether it is gone on with even when no
    line comes straight any more."""

    def __call__(self, raised: FloatArray, lines: Lines, *, whole: bool = False) -> Tried: ...


def hopeless(bows: Sequence[FloatArray], wanted: BoolArray, left: int) -> bool:
    """Whether none of the lines (l,) that are wanted and bow comes straight within so many more steps; bows: of all
    lines after every step so far."""
    if len(bows) < LOOK_FROM:
        return False
    now = bows[-1]
    rate = (bows[-1 - LOOK_BACK] - now) / LOOK_BACK
    asked = wanted & (now > WITHIN)
    return bool(asked.any() and (now - left * rate > WITHIN)[asked].all())


def straightened(plain: Tried, lines: Lines, part: IntArray, left: FloatArray, attempt: Try, *, prices: bool) -> Bought:
    """Pay for lines that should be straight.

    plain: the map that pays nothing; part (l,): of every line; left (p,): how far bounds may be raised at all;
    prices: whether it is tried what lines that bow would ask, else nothing is said of it.
    """
    kept, raised, wanted = _paid(plain, lines, part, np.minimum(PAID, left), attempt)
    if not prices:
        return Bought(kept, _more(kept, plain), np.zeros(len(left)))
    asked = _asked(kept, raised, lines, part, left, attempt)
    found = _cheap(plain, kept, asked, (lines, wanted), part, attempt)
    if found is None:
        return Bought(kept, _more(kept, plain), asked.asks)
    asks = np.where(
        _worst(found.bows, part, len(left)) <= WITHIN, 0.0, np.maximum(asked.asks - _more(found, kept), 0.0)
    )
    return Bought(found, _more(found, plain), asks)


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


def _paid(
    plain: Tried, lines: Lines, part: IntArray, spare: FloatArray, attempt: Try
) -> tuple[Tried, FloatArray, BoolArray]:
    """The map that is kept, by how much its bounds are raised (p,), and which lines (l,) are wanted on it."""
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
        given_up = bowed & (level == most)[part] & (last.bows >= hopeless[part])
        wanted &= ~(given_up & ~_last_hope(last.bows, wanted, given_up, part, len(parts)))
        level[part[bowed]] = np.minimum(level[part[bowed]] + 1, most)
        level[~np.isin(parts, part[wanted & plain.bowed])] = 0
    if not best.raised.any():
        return plain, best.raised, best.wanted
    same = (best.raised == raised).all() and (best.bowed == _count(last.bowed, part, len(parts))).all()
    raised = best.raised
    kept = last if same and last.whole else attempt(raised, lines.wanting(best.wanted), whole=True)
    price = _more(kept, plain)
    if (price > MOST_PAID).any():
        # A walk may end a little beyond its bounds.
        raised = raised * _less(price)
        kept = attempt(raised, lines.wanting(best.wanted), whole=True)
    return kept, raised, best.wanted


def _less(price: FloatArray) -> FloatArray:
    """The share (p,) of what bounds were raised by that brings a price (p,) back to what may be paid."""
    return np.asarray(np.minimum(1.0, LESS * MOST_PAID / np.maximum(price, LESS * MOST_PAID)))


def _more(tried: Tried, plain: Tried) -> FloatArray:
    """By how much the demand of every part (p,) is higher."""
    return np.asarray(np.maximum(np.expm1(tried.spreads) - np.expm1(plain.spreads), 0.0))


def _count(marked: BoolArray, part: IntArray, parts: int) -> IntArray:
    """How many lines of every part are marked."""
    return np.bincount(part, weights=marked, minlength=parts).astype(np.int64)


def _last_hope(bows: FloatArray, wanted: BoolArray, given_up: BoolArray, part: IntArray, parts: int) -> BoolArray:
    """Of parts of which several lines are wanted and all would be given up, the lines (l,) that bow least."""
    # Lines that need only be fair have no bow.
    own = wanted & (bows > 0.0)
    least, most = np.full(parts, np.inf), np.zeros(parts)
    np.minimum.at(least, part[own], bows[own])
    np.maximum.at(most, part[own], bows[own])
    every = (_count(given_up & own, part, parts) == _count(own, part, parts)) & (most > least + TWIN_BOW_MM)
    return np.asarray(every[part] & own & (bows <= least[part] + TWIN_BOW_MM))


@dataclass(frozen=True, eq=False)
class _LinePrice:
    """How much more demand (p,) the lines that bow would ask: the least of what was tried with which all came straight,
    infinite where none did; and by how much bounds (p,) were raised then, and before it was tried."""

    asks: FloatArray
    raised: FloatArray
    before: FloatArray


def _cheap(
    plain: Tried, kept: Tried, asked: _LinePrice, of: tuple[Lines, BoolArray], part: IntArray, attempt: Try
) -> Tried | None:
    """The map in which parts whose lines turned out to be straight for what may be paid have them straight, where that
    holds together and nothing else bows more; None without any: what may be paid was spent in too few steps. of: all
    lines, and which of them (l,) are wanted on the map that is kept."""
    (lines, wanted), parts = of, len(asked.asks)
    paid = _more(kept, plain)
    worth = (asked.asks > 0.0) | (_worst(kept.bows, part, parts) > WITHIN)
    worth &= paid + asked.asks <= MOST_PAID
    if not worth.any():
        return None
    # Lines that other parts gave up stay given up.
    lines, raised = lines.wanting(wanted | worth[part]), np.where(worth, asked.raised, asked.before)
    found = attempt(raised, lines, whole=True)
    price = _more(found, plain)
    if (price > MOST_PAID).any():
        # A walk may end a little beyond what the try of it came to.
        found = attempt(raised * _less(price), lines, whole=True)
    bowed, before = (_count(one.bowed, part, parts) for one in (found, kept))
    good = (bowed <= before).all() and (bowed[worth] == 0).all() and (_more(found, plain) <= MOST_PAID).all()
    return found if good else None


def _asked(kept: Tried, raised: FloatArray, lines: Lines, part: IntArray, left: FloatArray, attempt: Try) -> _LinePrice:
    """What the lines that bow would ask. All that the leather gives is tried first: where a line bows even so, no less
    is tried."""
    parts = len(left)
    bow = _worst(kept.bows, part, parts)
    asks = np.where(bow > WITHIN, np.inf, 0.0)
    able, straight_at = (bow > WITHIN) & (left > raised), raised
    if able.any():
        tried = attempt(np.where(able, left, raised), lines)
        able &= _worst(tried.bows, part, parts) <= WITHIN
        asks, straight_at = np.where(able, _more(tried, kept), asks), np.where(able, left, straight_at)
    bracket = _Bracket(raised, bow, raised, bow, np.full(parts, np.inf), np.zeros(parts))
    for turn in range(PRICE_TRIES):
        at = bracket.next(left, first=turn == 0, last=turn == PRICE_TRIES - 1)
        asked = able & (at > raised) & (at > bracket.low) & (at < bracket.high) & ~bracket.close
        if not asked.any():
            break
        tried = attempt(np.where(asked, at, raised), lines)
        found = _worst(tried.bows, part, parts)
        less = asked & (found <= WITHIN) & (_more(tried, kept) <= asks)
        asks, straight_at = np.where(less, _more(tried, kept), asks), np.where(less, at, straight_at)
        bracket = bracket.narrowed(at, found, asked)
    return _LinePrice(asks, straight_at, raised)


@dataclass(frozen=True, eq=False)
class _Bracket:
    """For every part (p,) what its bound was raised by and how much its worst line bowed then: the most with which one
    bowed, `low`, the one before it, and the least with which all were straight, `high`, infinite where none was yet."""

    before: FloatArray
    before_bow: FloatArray
    low: FloatArray
    low_bow: FloatArray
    high: FloatArray
    high_bow: FloatArray

    @property
    def close(self) -> BoolArray:
        return np.asarray(self.high - self.low <= NEAR_ENOUGH)

    def next(self, left: FloatArray, *, first: bool, last: bool) -> FloatArray:
        """By how much bounds are raised next; left (p,): the most."""
        known = np.isfinite(self.high)
        high = np.where(known, self.high, self.low)
        drop = self.low_bow - np.where(known, self.high_bow, self.low_bow)
        share = np.divide(self.low_bow - WITHIN, drop, out=np.full(len(left), 0.5), where=drop > 0.0)
        between = self.low + np.clip(PAST_IT * share, LEAST_WAY, MOST_WAY) * (high - self.low)
        slope = np.divide(
            self.before_bow - self.low_bow,
            self.low - self.before,
            out=np.zeros(len(left)),
            where=self.low > self.before,
        )
        way = np.divide(self.low_bow - WITHIN, slope, out=np.full(len(left), np.inf), where=slope > 0.0)
        onward = self.low + (MORE if first else PAST_IT * way)
        return np.where(known, between, left if last else np.minimum(onward, left))

    def narrowed(self, at: FloatArray, bow: FloatArray, asked: BoolArray) -> "_Bracket":
        """The same after a try at (p,) in which the worst lines bowed by so much, for the parts that were asked."""
        lower, higher = asked & (bow > WITHIN), asked & (bow <= WITHIN)
        return _Bracket(
            np.where(lower, self.low, self.before),
            np.where(lower, self.low_bow, self.before_bow),
            np.where(lower, at, self.low),
            np.where(lower, bow, self.low_bow),
            np.where(higher, at, self.high),
            np.where(higher, bow, self.high_bow),
        )


def _worst(bows: FloatArray, part: IntArray, parts: int) -> FloatArray:
    """The largest bow of the lines of every part."""
    worst = np.zeros(parts)
    np.maximum.at(worst, part, bows)
    return worst
