"""A lower limit of the bounds of a window, by first-order duality at a map: what confirms that a search has converged.

With pressures y >= 0 against the sides, each part's pressures against its bound adding up to its share, the Lagrangian
L = mean bound - sum of y x distance is below the mean bound of every map of a convex problem, by as much as L could
still fall: f . d for the forces f left over and a move d. To bound that, f is written as the forces of a symmetric
stress, sigma = the strain of the displacements u that solve the linear elastic problem K u = f; then |f . d| <= sum of
w |sigma| |strain(d)|, and no strain of a move inside the window is larger than sqrt 2 times its width (both principal
ones at most the width). Weak duality: Boyd and Vandenberghe, Convex optimization, 2004, chapter 5. Least stretches are
not a convex problem, so this says that no map nearby is better, to first order, not that none is.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from flatten.demand.slack import Slack
from flatten.demand.window import State, Window
from meshes.base.arrays import FloatArray

Solve = Callable[[FloatArray, FloatArray], FloatArray]


@dataclass(frozen=True, eq=False)
class Duals:
    """What a search has found besides a map: the map and its bounds before a step, the pressures (m, 2) >= 0 on either
    side after it, the step itself (n, 2), and the stiffness of the springs."""

    at: State
    pressures: Slack
    step: FloatArray
    stiff: float


def lower_limit(window: Window, duals: Duals, solve: Solve) -> float:
    """What the mean bound, springs added, cannot be below, to first order.

    solve: with matrix values on the window's pattern and a right-hand side (2 n,), held unknowns left out.
    """
    at, low = duals.at, duals.pressures.low
    pressed = window.summed(duals.pressures.high)
    if not (pressed > 0.0).all():
        return -float("inf")
    # Pressures against a bound that do not add up to its share would make the Lagrangian fall without end.
    high = duals.pressures.high * (window.share / pressed)[window.of, None]
    above, below = window.distances(at)
    lagrangian = float(window.share @ at.bound)
    lagrangian -= float(window.weights @ (high * above + low * below).sum(axis=1))
    forces = window.forces(at.points, high, low)
    lagrangian += window.springs.limit(at.points, duals.step, duals.stiff, forces)
    strain = window.strains(at.points, solve(window.elastic(at.points), forces.ravel()).reshape(-1, 2))
    width = (at.bound - window.pull)[window.of]
    return lagrangian - float(np.sqrt(2.0)) * float((window.weights * width) @ np.linalg.norm(strain, axis=1))
