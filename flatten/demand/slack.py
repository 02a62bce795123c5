"""What an interior-point search keeps of every principal stretch beside the map itself.

Its distances to both sides of the window are unknowns of their own, which the map need not have exactly until the end,
so that a step is not cut short by the bend of the sides; and how hard it presses against both sides is kept too, so
that the number of steps does not grow as triangles become many (primal-dual method with slacks: Wright, Primal-dual
interior-point methods, 1997, chapter 1; Waechter and Biegler, Mathematical Programming 106, 2006, 25-57).
"""

from dataclasses import dataclass, replace

import numpy as np

from meshes.base.arrays import FloatArray

# How many times larger or smaller than their mean products of pressure and distance may be, and the share of the
# distance thought that a true one must have to be believed.
FAR, BELIEVED = 10.0, 0.1


@dataclass(frozen=True, eq=False)
class Slack:
    """Distances to the upper and the lower side, and pressures against them: (m, 2) each, all positive."""

    above: FloatArray
    below: FloatArray
    high: FloatArray
    low: FloatArray

    def shares(self, change: "Slack") -> tuple[float, float]:
        """The shares of a change at which the first distance, and the first pressure, would be gone."""
        distances = _meets((self.above, change.above), (self.below, change.below))
        return distances, _meets((self.high, change.high), (self.low, change.low))

    def moved(self, change: "Slack", share: float, dual: float, true: tuple[FloatArray, FloatArray]) -> "Slack":
        """After a share of a change, another share for the pressures; a map that is inside, by its true distances (m,
        2) each, is believed."""
        return Slack(
            _believed(self.above + share * change.above, true[0]),
            _believed(self.below + share * change.below, true[1]),
            self.high + dual * change.high,
            self.low + dual * change.low,
        )

    def pushing(self) -> "Slack":
        """Without pressures that pull."""
        return replace(self, high=np.maximum(self.high, 0.0), low=np.maximum(self.low, 0.0))

    def evened(self, weights: FloatArray) -> "Slack":
        """With pressures for which no product of pressure and distance is far from the mean: a few triangles whose
        products run away would cut every step short."""
        mean = self.product(weights)
        least, most = mean / FAR, mean * FAR
        return replace(
            self,
            high=np.clip(self.high, least / self.above, most / self.above),
            low=np.clip(self.low, least / self.below, most / self.below),
        )

    def product(self, weights: FloatArray) -> float:
        """Mean of pressure times distance over both sides and both stretches, weighed by triangle (m,): what may still
        be won is four times as much."""
        return float(weights @ (self.high * self.above + self.low * self.below).sum(axis=1)) / 4.0


def _believed(thought: FloatArray, true: FloatArray) -> FloatArray:
    """The true distance, where it is not so much smaller than thought that it may be none at all."""
    return np.where(true > BELIEVED * thought, true, thought)


def _meets(*pairs: tuple[FloatArray, FloatArray]) -> float:
    fastest = max(float((-change / have).max()) for have, change in pairs)
    return 1.0 / fastest if fastest > 0.0 else float("inf")
