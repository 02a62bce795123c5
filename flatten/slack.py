"""What an interior-point search keeps of every principal stretch beside the map itself.

Its distances to both sides of the window are unknowns of their own, which the map need not have exactly until the end,
so that a step is not cut short by the bend of the sides; and how hard it presses against both sides is kept too, so
that the number of steps does not grow as triangles become many (primal-dual method with slacks: Wright, Primal-dual
interior-point methods, 1997, chapter 1; Waechter and Biegler, Mathematical Programming 106, 2006, 25-57).
"""

from dataclasses import dataclass

import numpy as np

from meshes.arrays import FloatArray


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
        """After a share of a change, another share for the pressures; a map that is farther inside than thought, by its
        true distances (m, 2) each, is believed."""
        return Slack(
            np.maximum(self.above + share * change.above, true[0]),
            np.maximum(self.below + share * change.below, true[1]),
            self.high + dual * change.high,
            self.low + dual * change.low,
        )

    def product(self, weights: FloatArray) -> float:
        """Mean of pressure times distance over both sides and both stretches, weighed by triangle (m,): what may still
        be won is four times as much."""
        return float(weights @ (self.high * self.above + self.low * self.below).sum(axis=1)) / 4.0


def _meets(*pairs: tuple[FloatArray, FloatArray]) -> float:
    fastest = max(float((-change / have).max()) for have, change in pairs)
    return 1.0 / fastest if fastest > 0.0 else float("inf")
