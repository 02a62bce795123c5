"""The rim kept apart from itself: the push against differences, its reach, pieces that would lie over themselves."""

import numpy as np
import pytest

from flatten.maps.certify import certify
from flatten.maps.energy import Energy
from flatten.maps.rim_barrier import _RIM_NEAR_SHARE, _STRENGTH, RimBarrier, relax_apart
from flatten.maps.start import circle_map, starts
from meshes.base.surface import boundary_loops
from tests import shapes

# A strip bent nearly into a ring, its ends 3 mm apart.
RING = np.array([[np.cos(a), np.sin(a)] for a in np.linspace(0.1, 2 * np.pi - 0.1, 40)])


def ring(inner=20.0, outer=30.0):
    """The rim of that strip, counter-clockwise."""
    return np.concatenate([outer * RING, inner * RING[::-1]])


RIM = np.arange(80)


def by_hand(points, near):
    """The push's value by trying every vertex against every edge that it does not end."""
    total, n = 0.0, len(points)
    for v in range(n):
        for e in range(n):
            if v in (e, (e + 1) % n):
                continue
            a, b = points[e], points[(e + 1) % n]
            share = np.clip((points[v] - a) @ (b - a) / ((b - a) @ (b - a)), 0.0, 1.0)
            away = np.linalg.norm(points[v] - a - share * (b - a))
            if away < near:
                total += (near / away - 1.0) ** 2
    return _STRENGTH * total


@pytest.mark.parametrize("near", [1.0, 4.5, 6.5, 11.0])
def test_all_that_is_nearer_pushes_and_nothing_else(near):
    points = ring() + np.random.default_rng(3).uniform(-0.3, 0.3, (80, 2))
    assert RimBarrier(points, RIM, near).value() == pytest.approx(by_hand(points, near), rel=1e-12)
    assert (RimBarrier(points, RIM, near).value() > 0.0) == (near > 4.0)


def test_the_push_is_the_slope_of_its_value():
    points = ring() + np.random.default_rng(4).uniform(-0.3, 0.3, (80, 2))
    gradient, _ = RimBarrier(points, RIM, 8.0).derivatives(80)
    rng = np.random.default_rng(5)
    for _ in range(10):
        move, t = rng.normal(size=points.shape), 1e-6
        rise = (by_hand(points + t * move, 8.0) - by_hand(points - t * move, 8.0)) / (2 * t)
        assert (gradient * move).sum() == pytest.approx(rise, rel=1e-5)
    # Pairs push each other: no force and no turn is left over.
    assert np.abs(gradient.sum(axis=0)).max() < 1e-15
    assert abs((points[:, 0] * gradient[:, 1] - points[:, 1] * gradient[:, 0]).sum()) < 1e-14


def test_the_stiffness_is_the_curvature_along_the_push_and_never_negative():
    """Of one vertex over the middle of an edge: two sides of a rectangle, moved together and apart."""
    points = np.array([[0.0, 0], [10, 0], [10, 0.5], [5, 0.5], [0, 0.5]])
    rim, near = np.arange(5), 0.8
    _, stiffness = RimBarrier(points, rim, near).derivatives(5)
    matrix = stiffness.toarray()
    assert np.allclose(matrix, matrix.T)
    assert np.linalg.eigvalsh(matrix)[0] > -1e-12
    move, t = np.zeros((5, 2)), 1e-4
    move[3, 1] = 1.0
    values = [by_hand(points + s * move, near) for s in (-t, 0.0, t)]
    # Edges that turn about the far vertices bend the value a little on top.
    found = move.ravel() @ matrix @ move.ravel()
    assert found == pytest.approx((values[0] - 2 * values[1] + values[2]) / t**2, rel=5e-3)


def winding(turns=1.15):
    """A flat strip cut from a cone so steep that its exact map laps over itself by more than a turn."""
    uv, triangles = shapes.grid(90, 4)
    angle, radius = 2 * np.pi * turns * uv[:, 0], 30.0 + 12.0 * uv[:, 1]
    # On the cone a full turn is more than once round: the strip is a spiral stair that does not meet itself.
    seat = np.column_stack([radius * np.cos(angle), radius * np.sin(angle), 40.0 * uv[:, 0]])
    return seat, triangles[:, [0, 2, 1]]


def test_what_would_lie_over_itself_is_kept_apart():
    """A spiral stair of more than a turn: its best map laps over itself; begun round it ends apart, certified."""
    seat, triangles = winding()
    start = circle_map(seat, triangles) * 30.0
    assert certify(start, triangles).holds
    told = []
    found = relax_apart(seat, start, triangles, progress=lambda step, value: told.append(value))
    assert certify(found.points, triangles).holds
    energy = Energy(seat, triangles)
    assert found.energy == pytest.approx(energy.value(found.points), rel=1e-12)
    assert found.energy < 0.5 * energy.value(start)
    assert np.all(np.diff(told) <= 0.0)
    assert found.steps == len(told) - 1 > 5
    # The rim was not let come near itself by much.
    rim = boundary_loops(triangles)[0]
    near = _RIM_NEAR_SHARE * np.linalg.norm(np.roll(seat[rim], -1, axis=0) - seat[rim], axis=1).mean()
    assert RimBarrier(found.points, rim, near).value() < 0.1 * found.energy


def test_what_stays_apart_by_itself_comes_to_least_energy():
    """Where nothing comes near nothing pushes: the same least energy as without."""
    seat, triangles = shapes.cap(0.6, rings=6)
    start = next(starts(seat, triangles)).points
    found = relax_apart(seat, start, triangles)
    assert found.status.converged
    slope = Energy(seat, triangles).gradient(found.points)
    assert np.abs(slope).max() * np.ptp(seat) < 1e-4
