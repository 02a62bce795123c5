"""The energy and its minimisation: derivatives against differences, steps that stop before a fold, the minimum."""

import numpy as np
import pytest
from scipy import sparse

from flatten.leather.stretch import singular, stretch
from flatten.maps.energy import Axes, Energy, first_fold, rebuilt
from flatten.maps.relax import CONVERGED, relax
from flatten.maps.start import circle_map, flipped, starts
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


def density_slope(f):
    """Slope of |F|^2 (1 + J^-2) by F (2, 2), written down anew; takes complex numbers."""
    det, square = f[0, 0] * f[1, 1] - f[0, 1] * f[1, 0], (f * f).sum()
    cofactor = np.array([[f[1, 1], -f[1, 0]], [-f[0, 1], f[0, 0]]])
    return 2.0 * f * (1.0 + det**-2) - 2.0 * square * det**-3 * cofactor


def density_curvature(f):
    """Its curvature (4, 4), to rounding: a complex step has no difference to lose digits in."""
    bend, tiny = np.zeros((4, 4)), 1e-30
    for k in range(4):
        away = f.astype(complex).ravel()
        away[k] += 1j * tiny
        bend[:, k] = density_slope(away.reshape(2, 2)).ravel().imag / tiny
    return bend


@pytest.mark.parametrize("size", [0.5, 0.6, 1.0, 1.7])
@pytest.mark.parametrize("clamp", [False, True])
def test_each_triangle_clamped_is_its_curvature_without_the_negative_part(bent, size, clamp):
    """The nearest positive matrix (Higham 1988) of each triangle by LAPACK, put together by the maps' own linearity."""
    energy, points = bent
    points = size * points
    maps, unit = energy.maps(points), np.eye(points.size)
    by_points = np.stack([energy.maps(move.reshape(-1, 2)).reshape(-1, 4) for move in unit], axis=2)
    whole, negative = np.zeros((points.size, points.size)), 0
    for weight, f, b in zip(energy.weights, maps, by_points, strict=True):
        sizes, modes = np.linalg.eigh(density_curvature(f))
        negative += sizes[0] < -1e-9
        sizes = np.maximum(sizes, 0.0) if clamp else sizes
        whole += weight * b.T @ (modes * sizes) @ modes.T @ b
    assert negative > 0 or size > 1.0
    found = dense(energy, energy.hessian(points, clamp=clamp))
    assert np.allclose(found, whole, rtol=1e-9, atol=1e-9 * np.abs(whole).max())


def test_the_pattern_takes_any_curvature_and_any_modes(bent):
    """Two ways to one matrix: the curvature by the map entry by entry, and by its modes in the principal directions."""
    energy, points = bent
    rng = np.random.default_rng(8)
    first, second, flip, twist = rng.uniform(0.1, 2.0, (4, len(energy.triangles)))
    _, left, right = singular(energy.maps(points))
    curve = []
    for k in range(len(energy.triangles)):
        turn, back = (np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]]) for a in (left[k], right[k]))
        half = np.sqrt(0.5)
        shapes_of = ([[1, 0], [0, 0]], [[0, 0], [0, 1]], [[0, half], [half, 0]], [[0, -half], [half, 0]])
        modes = [(turn @ np.array(shape) @ back).ravel() for shape in shapes_of]
        sizes = (first[k], second[k], flip[k], twist[k])
        curve.append(sum(size * np.outer(mode, mode) for size, mode in zip(sizes, modes, strict=True)))
    curve = np.array(curve)
    entries = tuple(curve[:, i, j] for i in range(4) for j in range(i, 4))
    by_modes = energy.filled(energy.blocks_of_modes(first, second, flip, twist, Axes.of(left, right)))
    assert np.allclose(energy.on_pattern(entries), by_modes, atol=1e-12 * np.abs(by_modes).max())


def test_energy_and_its_slope_turn_with_the_piece_and_forget_where_it_lies(bent):
    energy, points = bent
    turn = np.array([[0.6, -0.8], [0.8, 0.6]])
    moved = points @ turn.T + [3.0, -7.0]
    assert energy.value(moved) == pytest.approx(energy.value(points), rel=1e-12)
    assert np.allclose(energy.gradient(moved), energy.gradient(points) @ turn.T, atol=1e-10)
    # No force moves or turns a piece as a whole.
    force = energy.gradient(points)
    assert np.abs(force.sum(axis=0)).max() < 1e-12
    assert abs((points[:, 0] * force[:, 1] - points[:, 1] * force[:, 0]).sum()) < 1e-12


def test_the_best_scale_has_no_slope_left(bent):
    energy, points = bent
    best = energy.best_scale(points)
    assert best != pytest.approx(1.0, abs=0.01)
    assert (energy.gradient(best * points) * best * points).sum() == pytest.approx(0.0, abs=1e-12)
    assert energy.best_scale(best * points) == pytest.approx(1.0, rel=1e-12)


def test_principal_directions_rebuild_the_maps(bent):
    energy, points = bent
    sizes, left, right = singular(energy.maps(points))
    assert np.allclose(rebuilt(sizes, Axes.of(left, right)), energy.maps(points), atol=1e-13)


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
    relax(seat, circle_map(seat, triangles), triangles, progress=lambda step, value: told.append(value))
    assert len(told) > 5
    # Rounding of the mean may show in the last digits of the final steps.
    assert np.all(np.diff(told) <= 1e-13 * told[0])


def test_a_folded_start_is_refused():
    seat, triangles = shapes.cap(0.5, rings=4)
    with pytest.raises(ValueError, match="folded"):
        relax(seat, -shapes.disc(4)[0] * [1, -1], triangles)
