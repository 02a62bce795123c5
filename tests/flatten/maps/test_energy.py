"""The energy and its minimisation: derivatives against differences, steps that stop before a fold, the minimum."""

import numpy as np
import pytest
from scipy import sparse

from flatten.leather.stretch import stretch
from flatten.maps.energy import Energy, first_fold
from flatten.maps.relax import CONVERGED, relax
from flatten.maps.start import circle, flipped, starts
from tests import shapes


@pytest.fixture
def bent():
    """A small cap, its energy, and a map of it that is far from the best one."""
    seat, triangles = shapes.cap(1.0, rings=4, radius=1.0)
    rng = np.random.default_rng(3)
    points = shapes.disc(4)[0] @ np.array([[1.1, 0.2], [-0.1, 0.7]]) + rng.uniform(-0.03, 0.03, (len(seat), 2))
    assert flipped(points, triangles) == 0
    return Energy(seat, triangles), points


def dense(energy, values):
    size = 2 * energy.n
    return sparse.csc_matrix((values, energy.indices, energy.indptr), shape=(size, size)).toarray()


def test_value_is_the_mean_of_the_stretches(bent):
    energy, points = bent
    seat, triangles = shapes.cap(1.0, rings=4, radius=1.0)
    assert energy.value(points) == pytest.approx(stretch(seat, points, triangles).energy, rel=1e-12)


def test_gradient_against_differences(bent):
    energy, points = bent
    gradient, step = energy.gradient(points).ravel(), 1e-6
    for k in range(points.size):
        there, back = points.copy().ravel(), points.copy().ravel()
        there[k] += step
        back[k] -= step
        rise = (energy.value(there.reshape(-1, 2)) - energy.value(back.reshape(-1, 2))) / (2 * step)
        assert gradient[k] == pytest.approx(rise, rel=1e-6, abs=1e-8)


def test_hessian_against_differences(bent):
    energy, points = bent
    hessian, step = dense(energy, energy.hessian(points, clamp=False)), 1e-6
    for k in range(points.size):
        there, back = points.copy().ravel(), points.copy().ravel()
        there[k] += step
        back[k] -= step
        rise = (energy.gradient(there.reshape(-1, 2)) - energy.gradient(back.reshape(-1, 2))).ravel() / (2 * step)
        assert np.allclose(hessian[:, k], rise, rtol=1e-5, atol=1e-6)


def test_clamped_hessian_has_no_negative_curvature(bent):
    energy, points = bent
    squeezed = 0.6 * points
    plain = np.linalg.eigvalsh(dense(energy, energy.hessian(squeezed, clamp=False)))
    clamped = np.linalg.eigvalsh(dense(energy, energy.hessian(squeezed, clamp=True)))
    assert plain[0] < -1e-3
    assert clamped[0] > -1e-10


def test_first_fold_is_where_an_area_vanishes(bent):
    energy, points = bent
    rng = np.random.default_rng(9)
    for _ in range(20):
        step = rng.normal(size=points.shape)
        t = first_fold(points, step, energy.triangles)
        assert flipped(points + 0.999 * t * step, energy.triangles) == 0
        assert flipped(points + 1.001 * t * step, energy.triangles) > 0


def test_moving_away_never_folds(bent):
    energy, points = bent
    assert first_fold(points, points, energy.triangles) == np.inf
    assert first_fold(points, np.ones_like(points), energy.triangles) == np.inf


@pytest.mark.parametrize("made", [shapes.saddle, shapes.cushion, shapes.free_form, shapes.torus_quarter])
def test_both_starts_end_in_one_minimum(made):
    seat, triangles = made()
    size = np.ptp(seat)
    found = [relax(seat / size, start.points / size, triangles) for start in starts(seat, triangles)]
    assert len(found) >= 2
    for relaxed in found:
        assert relaxed.status.converged, relaxed.status
        assert relaxed.status.fallbacks == 0
        assert relaxed.energy == pytest.approx(found[0].energy, rel=1e-13)


def test_the_minimum_is_one():
    seat, triangles = shapes.cap(1.0, rings=12, radius=1.0)
    relaxed = relax(seat, next(starts(seat, triangles)).points, triangles)
    energy = Energy(seat, triangles)
    bends, moves = np.linalg.eigh(dense(energy, energy.hessian(relaxed.points, clamp=False)))
    # Three rigid motions cost nothing, every other move costs.
    assert np.abs(bends[:3]).max() < 1e-10
    assert bends[3] > 1e-4
    # What an exact Newton step would still gain is less than the search promises when it says converged.
    slope = moves.T @ energy.gradient(relaxed.points).ravel()
    assert relaxed.status.converged
    assert 0.5 * (slope[3:] ** 2 / bends[3:]).sum() < CONVERGED * relaxed.energy
    assert np.abs(slope[:3]).max() < 1e-12


def test_energy_falls_from_step_to_step():
    seat, triangles = shapes.cap(2.0, rings=16, radius=1.0)
    told = []
    relax(seat, circle(seat, triangles), triangles, progress=lambda step, value: told.append(value))
    assert len(told) > 5
    # Rounding of the mean may show in the last digits of the final steps.
    assert np.all(np.diff(told) <= 1e-13 * told[0])


def test_a_folded_start_is_refused():
    seat, triangles = shapes.cap(0.5, rings=4)
    with pytest.raises(ValueError, match="folded"):
        relax(seat, -shapes.disc(4)[0] * [1, -1], triangles)
