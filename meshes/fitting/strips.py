"""Strips of leather under weights: their readings, and what a leather's card has of them.

The law is the card's own: stretch grows with the pull on a millimetre of width, so its stiffness is the slope, found by
least squares over all strips of one way. Small stretches are read no better than a rule reads and large ones vary from
place to place, so a reading weighs by both, and the scatter is never said to be less than both come to. The most a
leather may be stretched is taken where it begins to stay longer: a line of the stretch over what stays, read at nothing
(common practice, no source). Scatter is a standard error; what is true lies within so many of them in 95 of 100
tests (Student's t).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from meshes.base.arrays import FloatArray

GRAVITY_N_PER_KG = 9.80665
# A steel rule held against a mark is read so well (half a mark of it, common practice).
RULE_READ_MM = 0.25
# Readings of one leather vary by such a share of the stretch from place to place, until the readings themselves tell.
VARIES_SHARE = 0.03
# A stretch beyond what earlier weights gave by more than this share is past the yield.
YIELD_SHARE = 0.25
# The law is found so often with weights from the law before.
WEIGHED_AGAIN = 4
# What stays has to differ by this share of the largest before a line is drawn through it.
DIFFERS_SHARE = 0.25
# Student's t below which 95 of 100 lie, for 1, 2, 3 ... readings beyond those that fix the law.
_STUDENT_95 = (12.71, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179, 2.160, 2.145, 2.131)
# Scatter that is known beforehand is as one of so many readings.
MANY_SPARE = len(_STUDENT_95)


@dataclass(frozen=True)
class StripReading:
    """kg: the weight; with_mm: between the marks after 5 minutes with it; after_mm: after 5 minutes without."""

    kg: float
    with_mm: float
    after_mm: float


@dataclass(frozen=True)
class StripTest:
    """One strip. way: "along" or "across" the backbone; row: its number in the sheet; yielded: how many of the first
    readings lie before the yield."""

    way: str
    width_mm: float
    marks_mm: float
    readings: tuple[StripReading, ...]
    row: int = 0

    @property
    def pull(self) -> FloatArray:
        """Pull (k,) of every reading, N per mm of width."""
        return np.array([one.kg * GRAVITY_N_PER_KG / self.width_mm for one in self.readings])

    @property
    def stretch(self) -> FloatArray:
        """Stretch (k,) with every weight, a fraction."""
        return np.array([one.with_mm / self.marks_mm - 1.0 for one in self.readings])

    @property
    def stays(self) -> FloatArray:
        """What stays (k,) after every weight, a fraction."""
        return np.array([one.after_mm / self.marks_mm - 1.0 for one in self.readings])

    @property
    def read_share(self) -> float:
        """How well a stretch is read: what a rule reads over the distance of the marks."""
        return RULE_READ_MM / self.marks_mm

    @property
    def before_yield(self) -> int:
        """How many readings, from the first on, lie before the yield: where a stretch goes beyond what the earlier
        weights gave, and more stays than before, the strip was pulled past it."""
        gives = self.stretch / self.pull
        for k in range(2, len(gives)):
            grown = self.stays[k] > self.stays[k - 1] + self.read_share
            if grown and gives[k] > (1.0 + YIELD_SHARE) * float(gives[:k].mean()):
                return k
        return len(gives)


@dataclass(frozen=True)
class Measured:
    """A number with its scatter: error is one standard error, spare how many readings there are beyond those that fix
    it."""

    value: float
    error: float
    spare: int

    @property
    def within(self) -> float:
        """What is true lies no farther off than this in 95 of 100 tests."""
        place = min(max(self.spare, 1), len(_STUDENT_95)) - 1
        return _STUDENT_95[place] * self.error


@dataclass(frozen=True)
class WayFound:
    """What strips of one way gave. stiffness: N per mm of width for a stretch of 1; most: the most it may be stretched,
    a fraction; at_least: where it begins to stay longer is not known, so that is only what it came back from; strips:
    how many; past_yield: readings that were left out of the stiffness; stays: the most that stayed, a fraction, 0 for
    no more than a rule reads."""

    stiffness: Measured
    most: Measured
    at_least: bool
    strips: int
    past_yield: int
    stays: float = 0.0


def way_found(strips: Sequence[StripTest]) -> WayFound:
    """What the strips of one way give; each has two readings before its yield at least."""
    pull = np.concatenate([one.pull[: one.before_yield] for one in strips])
    stretch = np.concatenate([one.stretch[: one.before_yield] for one in strips])
    read = np.concatenate([np.full(one.before_yield, one.read_share) for one in strips])
    gives = float((stretch / pull).mean())
    for _ in range(WEIGHED_AGAIN):
        # Weighed by what the law has there: by the readings themselves, those that came out low would weigh more.
        weight = 1.0 / ((VARIES_SHARE * gives * pull) ** 2 + read**2)
        gives = float((weight * pull * stretch).sum() / (weight * pull**2).sum())
    spare = len(pull) - 1
    misfit = max(float((weight * (stretch - gives * pull) ** 2).sum() / spare), 1.0)
    error = np.sqrt(misfit / (weight * pull**2).sum())
    stiffness = Measured(1.0 / gives, float(error) / gives**2, spare)
    most, at_least = _most(strips, VARIES_SHARE * float(np.sqrt(misfit)), spare)
    past = sum(len(one.readings) - one.before_yield for one in strips)
    stays = max(float(one.stays.max()) if one.stays.max() > 2.0 * one.read_share else 0.0 for one in strips)
    return WayFound(stiffness, most, at_least, len(strips), past, stays)


def _most(strips: Sequence[StripTest], varies: float, spare: int) -> tuple[Measured, bool]:
    """Where a leather begins to stay longer; varies: by what share of itself a stretch scatters."""
    stretch = np.concatenate([one.stretch for one in strips])
    stays = np.concatenate([one.stays for one in strips])
    read = np.concatenate([np.full(len(one.readings), one.read_share) for one in strips])
    stayed = stays > 2.0 * read
    if stayed.sum() < 2 or np.ptp(stays[stayed]) <= DIFFERS_SHARE * stays[stayed].max():
        tried = stretch[~stayed] if (~stayed).any() else stretch[:1]
        return Measured(float(tried.max()), float(read.max()), spare), True
    e, s, r = stretch[stayed], stays[stayed], read[stayed]
    columns = np.column_stack([np.ones(len(e)), s])
    slope = float(np.polyfit(s, e, 1)[0])
    spread = (varies * e) ** 2 + (slope * varies * s) ** 2 + (1.0 + slope**2) * r**2
    normal = columns.T @ (columns / spread[:, None])
    start = np.linalg.solve(normal, columns.T @ (e / spread))
    return Measured(float(start[0]), float(np.sqrt(np.linalg.inv(normal)[0, 0])), spare), False
