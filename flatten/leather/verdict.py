"""The verdict on a piece: what its leather gives, how much of that every place uses, and where it is not enough.

A place is over when in some direction it is stretched more than the leather gives in that direction. A piece with no
place over fits. Fullness worked into a seam helps where the excess is small, near such a seam, and on little of the
piece: that is `fits with ease`. All else is `too tight`, and `proven too tight` when what no piece in one part can do
without is beyond the leather even with ease, in the direction in which it gives most.

The budget told with a verdict is the demand that the piece would have if all its stretch grew, or shrank, until its
first place is at the limit: (1 + demand) / (1 + excess) - 1. Where the largest stretch decides that is what the leather
gives in its direction, from the least stretch of the piece on. So demand > budget says the same as a place over.
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import shapely

from flatten.bounds.floor import Floor
from flatten.leather.budget_use import beyond, use_of
from flatten.leather.card import Card
from flatten.leather.stretch import Stretch
from meshes.base.arrays import FloatArray, IntArray, locked_floats

# P: proposed, common practice without a source. Excess that a seam can swallow when it is steamed or eased; how far
# from the seam that still helps; on how much of the piece's area.
EASE = 0.015
EASE_REACH_MM = 60.0
EASE_AREA = 0.1
# Shares that differ by less are rounding.
USE_ROUNDING = 1e-9


class Verdict(StrEnum):
    """Whether a leather takes a piece."""

    FITS = "fits"
    EASE = "fits with ease"
    TIGHT = "too tight"
    PROVEN = "proven too tight"


def is_tight(verdict: str | None) -> bool:
    """Whether a piece asks more than its leather gives."""
    return verdict in (Verdict.TIGHT, Verdict.PROVEN)


@dataclass(frozen=True)
class Over:
    """Where a piece is over its budget. excess: by what share, at the most; share: of its area on the seat; triangle:
    the one that is most over; away_mm: how far on the piece the farthest such place is from a seam in which fullness
    can be worked, None when that does not decide."""

    excess: float
    share: float
    triangle: int
    away_mm: float | None = None

    @property
    def eases(self) -> bool:
        """Whether fullness worked into a seam makes up for it."""
        near = self.away_mm is not None and self.away_mm <= EASE_REACH_MM
        return near and self.excess <= EASE and self.share <= EASE_AREA


@dataclass(frozen=True, eq=False)
class Judged:
    """budget: a fraction, None when none is known; verdict; use (m,): share of the budget by triangle, None likewise;
    over: where the piece is over its budget, None where it is not."""

    budget: float | None
    verdict: Verdict | None
    use: FloatArray | None
    over: Over | None = None


@dataclass(frozen=True, eq=False)
class LaidPiece:
    """A piece as it lies: points (n, 2) mm, triangles (m, 3); backbone (2,): unit direction, None when it may lie in
    any; runs: vertices along each edge in which fullness can be worked."""

    points: FloatArray
    triangles: IntArray
    backbone: FloatArray | None
    runs: tuple[IntArray, ...]


def judged(field: Stretch, floor: Floor | None, laid: LaidPiece, *, card: Card | None, budget: float | None) -> Judged:
    """Judge a piece.

    field: its stretches; floor: its proven limit; card: its leather; budget: the demand allowed, a fraction, in every
    direction, instead of the card's.
    """
    allowed = card.budget if card is not None and budget is None else budget
    if card is not None and budget is None and laid.backbone is not None:
        # Leather that is slack is first pulled smooth.
        values = field.values * max(1.0, (1.0 + card.pull) / field.values.min())
        over = beyond(values, field.along, laid.backbone, card.limits)
        use, widest = use_of(values, field.along, laid.backbone, card.limits).values, card.widest_budget
    elif allowed is not None:
        widest = allowed
        ratio = field.values[:, 0] / field.values.min()
        over = ratio / (1.0 + widest) - 1.0
        logs = np.log(ratio)
        use = logs / np.log1p(widest) if widest > 0.0 else np.where(logs > 0.0, np.inf, 0.0)
    else:
        return Judged(None, None, None)
    told = (1.0 + field.demand) / (1.0 + float(over.max())) - 1.0
    if over.max() <= USE_ROUNDING:
        return Judged(max(told, field.demand), Verdict.FITS, locked_floats(use))
    places = _over(over, field.areas_seat, laid)
    verdict = Verdict.EASE if places.eases else Verdict.TIGHT
    if floor is not None and floor.value > with_ease(widest):
        verdict = Verdict.PROVEN
    return Judged(told, verdict, locked_floats(use), places)


def with_ease(budget: float) -> float:
    """The demand that a budget meets with what a seam can swallow on top."""
    return (1.0 + budget) * (1.0 + EASE) - 1.0


def by_demand(demand: float, budget: float) -> Verdict:
    """The verdict where only a demand is known and not where the piece asks it: nothing is then said of ease."""
    return Verdict.FITS if demand <= budget else Verdict.TIGHT


def _over(over: FloatArray, areas: FloatArray, laid: LaidPiece) -> Over:
    here = over > USE_ROUNDING
    worst = int(np.argmax(over))
    found = Over(float(over[worst]), float(areas[here].sum() / areas.sum()), worst)
    if found.excess > EASE or found.share > EASE_AREA or not laid.runs:
        return found
    corners = laid.points[np.unique(laid.triangles[here])]
    return Over(found.excess, found.share, worst, float(_away(corners, laid).max()))


def _away(places: FloatArray, laid: LaidPiece) -> FloatArray:
    """Distance (k,) of places (k, 2) from the nearest edge in which fullness can be worked."""
    steps = [np.stack([laid.points[run[:-1]], laid.points[run[1:]]], axis=1) for run in laid.runs]
    spots, away = shapely.STRtree(shapely.linestrings(np.concatenate(steps))).query_nearest(
        shapely.points(places), return_distance=True, all_matches=False
    )
    found: FloatArray = np.zeros(len(places))
    found[spots[0]] = away
    return found
