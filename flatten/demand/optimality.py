"""A lower limit of the bounds of a window, by first-order duality at a map: what confirms that a search has converged.

With pressures y >= 0 against the sides, each part's pressures against its bound adding up to its share, the Lagrangian
L = mean bound - sum of y x distance, less what L could still fall, is below the mean bound of every map of a convex
problem. It can fall by f . d, with f the forces left over and d a move. To bound that, f is written as the forces of
a symmetric stress, the strain of the displacements u that solve the linear elastic problem K u = f; then f . d is the
sum of w stress : strain(d), and strains of moves inside the window are no larger than its width. Weak duality: Boyd and
Vandenberghe, Convex optimization, 2004, chapter 5. The search is not a convex problem, so the limit says that no map
nearby is better, to first order, not that none is.
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
    return lagrangian - float(window.weights @ _most(window, at, strain))


def _most(window: Window, at: State, stress: FloatArray) -> FloatArray:
    """The most (m,) by which moves inside the window lower stress : strain; stress (m, 3) as xx, yy, sqrt 2 xy.

    A move that takes the tensor of ln stretch from E to one between pull and M has, as -strain, eigenvalues between
    pull - largest of E and M - smallest of E (Weyl).
    """
    mean, half = 0.5 * (stress[:, 0] + stress[:, 1]), 0.5 * (stress[:, 0] - stress[:, 1])
    radius = np.hypot(half, stress[:, 2] / np.sqrt(2.0))
    logs = window.logs(at.points)
    bound = (at.bound * window.ratio.max(axis=1))[window.of]
    shorter, longer = np.maximum(bound - logs[:, 0], 0.0), np.maximum(logs[:, 1] - window.pull, 0.0)
    ends = (mean - radius, mean + radius)
    return np.asarray(sum(np.maximum(r, 0.0) * shorter + np.maximum(-r, 0.0) * longer for r in ends))
