"""A soft solid in plane strain against closed forms: bars, turning, and derivatives of its energy."""

import numpy as np
import pytest

from meshes.numerics.plane_strain import PlaneSolid
from meshes.numerics.triangulate import triangulate

RIM = np.array([[0.0, 0], [30, 0], [60, 0], [60, 20], [30, 20], [0, 20]])
STIFFNESS = 0.02


def spring(stretch):
    """Linear in the stretch: w = E (s - 1)^2 / 2."""
    return 0.5 * STIFFNESS * (stretch - 1) ** 2, STIFFNESS * (stretch - 1), np.full(stretch.shape, STIFFNESS)


@pytest.fixture(scope="module")
def block():
    segments = np.stack([np.arange(6), np.roll(np.arange(6), -1)], axis=1)
    return triangulate(RIM, segments, rim=np.ones(6, dtype=bool), edge_mm=10.0)


@pytest.fixture(scope="module")
def solid(block):
    return PlaneSolid(block.points, block.triangles, spring)


def test_its_area_is_that_of_the_rectangle(solid):
    assert solid.area.min() > 0
    assert solid.area.sum() == pytest.approx(1200.0, rel=1e-12)


def test_a_bar_pressed_one_way_answers_as_its_law(block, solid):
    for share in (0.7, 0.9, 1.2):
        pressed = block.points * [1.0, share]
        assert solid.energy(pressed) == pytest.approx(1200.0 * 0.5 * STIFFNESS * (share - 1) ** 2, rel=1e-12)


def test_turning_and_moving_cost_nothing(block, solid):
    turn = np.deg2rad(37.0)
    turned = block.points @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]) + [5.0, -3.0]
    assert solid.energy(turned) == pytest.approx(0.0, abs=1e-20)
    squeezed = block.points * [1.0, 0.8]
    both = squeezed @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    assert solid.energy(both) == pytest.approx(solid.energy(squeezed), rel=1e-12)


def test_two_stretches_add_up(block, solid):
    alone = [solid.energy(block.points * part) for part in ([0.8, 1.0], [1.0, 1.1])]
    assert solid.energy(block.points * [0.8, 1.1]) == pytest.approx(sum(alone), rel=1e-12)


def test_a_solid_turned_over_has_no_energy(block, solid):
    assert solid.energy(block.points * [-1.0, 1.0]) == np.inf


def test_slope_and_stiffness_are_derivatives_where_nothing_is_left_out(block, solid):
    """Stretched both ways all eigenvalues are positive, so nothing is cut off the stiffness."""
    rng = np.random.default_rng(3)
    at = block.points * [1.15, 1.25] + rng.uniform(-0.2, 0.2, block.points.shape)
    state, way, step = solid.state(at), rng.uniform(-1, 1, block.points.shape), 1e-5
    ahead, behind = at + step * way, at - step * way
    assert state.slope @ way.ravel() == pytest.approx(
        (solid.energy(ahead) - solid.energy(behind)) / (2 * step), rel=1e-7
    )
    change = (solid.state(ahead).slope - solid.state(behind).slope) / (2 * step)
    assert np.allclose(state.stiffness @ way.ravel(), change, rtol=1e-6, atol=1e-9)


def test_the_stiffness_never_falls_below_zero(block, solid):
    rng = np.random.default_rng(5)
    at = block.points * [0.6, 0.7] + rng.uniform(-0.5, 0.5, block.points.shape)
    assert np.linalg.eigvalsh(solid.state(at).stiffness.toarray()).min() > -1e-12
