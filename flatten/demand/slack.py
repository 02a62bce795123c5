"""What an interior-point search keeps of every principal stretch beside the map itself.

Its distances to both sides of the window are slacks, unknowns of their own that the map need not have exactly until the
end, so that a step is not cut short by the bend of the sides; and the dual variables of both sides, how hard the map
presses against them, are kept too, so that the number of steps does not grow as triangles become many (primal-dual
method with slacks: Wright, Primal-dual interior-point methods, 1997, chapter 1; Waechter and Biegler, Mathematical
Programming 106, 2006, 25-57).
"""

from dataclasses import dataclass, replace

import numpy as np

from meshes.base.arrays import FloatArray

# How many times larger or smaller than their mean complementarity products may be; the share of a slack that a true
# distance must have to take its place.
COMPLEMENTARITY_RATIO, LEAST_TRUE_SHARE = 10.0, 0.1


@dataclass(frozen=True, eq=False)
class Slack:
    """Slacks, distances to the upper and the lower side, and the dual variables of both: (m, 2) each, all positive."""

    above: FloatArray
    below: FloatArray
    dual_above: FloatArray
    dual_below: FloatArray

    def shares(self, change: "Slack") -> tuple[float, float]:
        """The shares of a change at which the first slack, and the first dual variable, would be gone."""
        slacks = _ratio_test((self.above, change.above), (self.below, change.below))
        return slacks, _ratio_test((self.dual_above, change.dual_above), (self.dual_below, change.dual_below))

    def moved(self, change: "Slack", share: float, dual: float, true: tuple[FloatArray, FloatArray]) -> "Slack":
        """After a share of a change, another share for the dual variables; slacks take on the map's true distances (m,
        2) each where it is inside."""
        return Slack(
            _reset(self.above + share * change.above, true[0]),
            _reset(self.below + share * change.below, true[1]),
            self.dual_above + dual * change.dual_above,
            self.dual_below + dual * change.dual_below,
        )

    def feasible(self) -> "Slack":
        """With dual variables that are nowhere negative."""
        return replace(self, dual_above=np.maximum(self.dual_above, 0.0), dual_below=np.maximum(self.dual_below, 0.0))

    def safeguarded(self, weights: FloatArray) -> "Slack":
        """With dual variables for which no complementarity product is far from the mean: a few triangles whose products
        run away would cut every step short (Waechter and Biegler, equation 16)."""
        mean = self.complementarity(weights)
        least, most = mean / COMPLEMENTARITY_RATIO, mean * COMPLEMENTARITY_RATIO
        return replace(
            self,
            dual_above=np.clip(self.dual_above, least / self.above, most / self.above),
            dual_below=np.clip(self.dual_below, least / self.below, most / self.below),
        )

    def complementarity(self, weights: FloatArray) -> float:
        """Mean of dual variable times slack over both sides and both stretches, weighed by triangle (m,): the duality
        gap is four times as much."""
        return float(weights @ (self.dual_above * self.above + self.dual_below * self.below).sum(axis=1)) / 4.0


def _reset(slack: FloatArray, true: FloatArray) -> FloatArray:
    """The true distance, where it is not so much smaller than the slack that it may be none at all."""
    return np.where(true > LEAST_TRUE_SHARE * slack, true, slack)


def _ratio_test(*pairs: tuple[FloatArray, FloatArray]) -> float:
    """The share of the changes at which the first of the values is 0."""
    fastest = max(float((-change / have).max()) for have, change in pairs)
    return 1.0 / fastest if fastest > 0.0 else float("inf")
