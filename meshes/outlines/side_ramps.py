"""How a quantity given for each side of a pad passes from one side to the next along the outline.

Sides part in a corner: there it passes over the corner's arc. Where they part in a bow, as on a round plan, no place is
the corner: it passes evenly with the turn of that bow, at most from the middle of one side to the middle of the next.
Places are numbers u as in `outline`: element 2 k is the arc of corner k, element 2 k + 1 the run after it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from meshes.base.arrays import BoolArray, FloatArray
from meshes.numerics.smooth import smooth_step

# A corner that turns less than this is part of a bow, not a corner.
BOW_TURN_RAD = np.deg2rad(30.0)


@dataclass(frozen=True, eq=False)
class SideRamp:
    """From the middle of one side to the middle of the next. before, after: names of the sides; u (n,): rising places,
    beyond the period where the outline begins again; share (n,): how much of the way is done there, 0 to 1."""

    before: str
    after: str
    u: FloatArray
    share: FloatArray

    def weight(self, u: FloatArray, period: float) -> tuple[FloatArray, BoolArray]:
        """At places u in [0, period): how much of the next side there is, and which places lie on this ramp."""
        ahead = self.u[0] + np.mod(u - self.u[0], period)
        return smooth_step(np.interp(ahead, self.u, self.share)), ahead <= self.u[-1]


def side_ramps(sides: Sequence[str], sweep_rad: FloatArray, lengths: FloatArray) -> tuple[SideRamp, ...]:
    """The ramps round a closed outline. sides: name of the run after every corner; sweep_rad (k,): turn of the corners;
    lengths (2 k,) mm: of all arcs and runs."""
    count = len(sides)
    changes = [k for k in range(count) if sides[k - 1] != sides[k]]
    # The whole outline twice, so that no run of elements wraps round.
    reach = np.concatenate([[0.0], np.cumsum(np.tile(lengths, 2))])
    place = np.arange(len(reach), dtype=np.float64)
    turn = np.repeat(np.tile(np.abs(sweep_rad), 2), 2)
    turn[1::2] = 0.0
    turned = np.concatenate([[0.0], np.cumsum(turn)])
    ends = [2.0 * k + 0.5 for k in [*changes, *(k + count for k in changes)]]
    at = np.interp(ends, place, reach)
    middles = np.interp(0.5 * (at[:-1] + at[1:]), reach, place)
    ramps = []
    for n in range(1, len(changes) + 1):
        corner = int(ends[n] - 0.5) // 2
        low, high = float(middles[n - 1]), float(middles[n])
        first, last = _bow(corner, low, high, turn) if turn[2 * corner] < BOW_TURN_RAD else (2 * corner, 2 * corner + 1)
        u = np.concatenate([[low], place[(place > low) & (place < high)], [high]])
        begun = np.interp(np.clip(u, max(first, low), min(last, high)), place, turned)
        share = (begun - begun[0]) / max(float(begun[-1] - begun[0]), 1e-300)
        ramps.append(SideRamp(sides[(corner - 1) % count], sides[corner % count], u, share))
    return tuple(ramps)


def _bow(corner: int, low: float, high: float, turn: FloatArray) -> tuple[float, float]:
    """First and last place of the bow round a corner, between two places of the outline: up to the next corner."""
    first, last = corner, corner
    while 2 * (first - 1) >= low and turn[2 * (first - 1)] < BOW_TURN_RAD:
        first -= 1
    while 2 * (last + 1) + 1 <= high and turn[2 * (last + 1)] < BOW_TURN_RAD:
        last += 1
    # What is cut by the middle of a side belongs to the bow up to there.
    before, after = 2 * (first - 1), 2 * (last + 1)
    low = low if before < low < before + 1 and turn[before] < BOW_TURN_RAD else float(2 * first)
    high = high if after < high < after + 1 and turn[after] < BOW_TURN_RAD else float(2 * last + 1)
    return low, high
