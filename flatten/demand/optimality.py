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
    at, low = duals.at, duals.pressures.dual_below
    pressed = window.summed(duals.pressures.dual_above)
    if not (pressed > 0.0).all():
        return -float("inf")
    # Pressures against a bound that do not add up to its share would make the Lagrangian fall without end.
    high = duals.pressures.dual_above * (window.share / pressed)[window.of, None]
    above, below = window.distances(at)
    lagrangian = float(window.share @ at.bound)
    lagrangian -= float(window.weights @ (high * above + low * below).sum(axis=1))
    forces = window.forces(at.points, high, low)
    lagrangian += window.springs.limit(at.points, duals.step, duals.stiff, forces)
    strain = _strains(window, at.points, solve(_elastic(window, at.points), forces.ravel()).reshape(-1, 2))
    return lagrangian - float(window.weights @ _most(window, at, strain))


def _elastic(window: Window, points: FloatArray) -> FloatArray:
    """Values on the pattern of the matrix of sum of w |strain|^2, the strain that of the piece (`_strains`)."""
    inverse = np.linalg.inv(window.maps(points))
    rows = np.zeros((3, 4, len(window.triangles)))
    for c in (0, 1):
        rows[0, c], rows[1, 2 + c] = inverse[:, c, 0], inverse[:, c, 1]
        rows[2, c], rows[2, 2 + c] = inverse[:, c, 1] / np.sqrt(2.0), inverse[:, c, 0] / np.sqrt(2.0)
    pairs = [(i, j) for i in range(4) for j in range(i, 4)]
    curve = tuple(window.weights * np.einsum("km,km->m", rows[:, i], rows[:, j]) for i, j in pairs)
    return window.springs.on_pattern(window.on_pattern(curve))


def _strains(window: Window, points: FloatArray, move: FloatArray) -> FloatArray:
    """Strain (m, 3) of a move (n, 2) of the piece: along x, along y, and sqrt 2 times the shear."""
    slope = window.maps(move) @ np.linalg.inv(window.maps(points))
    return np.stack([slope[:, 0, 0], slope[:, 1, 1], (slope[:, 0, 1] + slope[:, 1, 0]) / np.sqrt(2.0)], axis=1)


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
