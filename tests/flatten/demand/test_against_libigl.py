"""The same meshes through libigl: an independent minimiser never finds less energy."""

import igl
import numpy as np
import pytest

import flatten
from flatten.demand.options import Aim, Options
from flatten.leather.stretch import stretch
from flatten.maps.start import circle_map
from tests import shapes


def least_energy(vertices, triangles, **options):
    """The map of least energy: the optimum is unique and known to all digits, so laws can be held to all digits."""
    return flatten.flatten(vertices, triangles, options=Options(aim=Aim.ENERGY), **options)


MESHES = {
    "saddle": lambda: shapes.saddle(rings=12),
    "cushion": lambda: shapes.cushion(edge=25.0),
    "free form": lambda: shapes.free_form(edge=20.0),
    "torus": lambda: shapes.torus_quarter(cells=(24, 16)),
    "cap": lambda: shapes.cap(1.0, rings=12),
    "loose cone": lambda: shapes.loose_cone(20.0),
}


def slim(seat, triangles, *, rounds=400):
    """libigl's SLIM (Rabinovich et al., Scalable locally injective mappings, 2017) until it gains nothing more."""
    start = circle_map(seat, triangles) * np.sqrt(
        stretch(seat, circle_map(seat, triangles), triangles).values.prod(axis=1).mean()
    )
    data = igl.slim_precompute(
        np.asfortranarray(seat),
        np.asfortranarray(triangles.astype(np.int32)),
        np.asfortranarray(start),
        igl.MappingEnergyType.SYMMETRIC_DIRICHLET,
        np.zeros(0, dtype=np.int32),
        np.asfortranarray(np.zeros((0, 2))),
        0.0,
    )
    energy = np.inf
    for _ in range(rounds // 20):
        points = np.asarray(igl.slim_solve(data, 20))[:, :2]
        now = stretch(seat, points, triangles).energy
        if energy - now < 1e-12 * now:
            break
        energy = now
    return points


@pytest.mark.parametrize("name", MESHES)
def test_energy_is_never_above_slims(name):
    seat, triangles = MESHES[name]()
    ours, theirs = least_energy(seat, triangles), stretch(seat, slim(seat, triangles), triangles)
    assert ours.figures.energy <= theirs.energy * (1 + 1e-12)
    # Both ends are the same minimum: neither is a map of something else.
    assert ours.figures.energy == pytest.approx(theirs.energy, rel=1e-5)
    assert ours.demand == pytest.approx(theirs.demand, rel=0.02, abs=1e-5)


@pytest.mark.parametrize("name", MESHES)
def test_energy_is_below_least_squares_conformal(name):
    # Levy et al., Least squares conformal maps, 2002; at its best size.
    seat, triangles = MESHES[name]()
    rim = igl.boundary_loop(triangles.astype(np.int64))
    pins = np.array([rim[0], rim[len(rim) // 2]], dtype=np.int64)
    away = np.linalg.norm(seat[pins[1]] - seat[pins[0]])
    points = np.asarray(igl.lscm(seat, triangles.astype(np.int64), pins, np.array([[0.0, 0.0], [away, 0.0]]))[0])
    squares = stretch(seat, points, triangles)
    grown = np.average((squares.values**2).sum(axis=1), weights=squares.areas_seat)
    shrunk = np.average((squares.values**-2.0).sum(axis=1), weights=squares.areas_seat)
    flat = least_energy(seat, triangles)
    assert flat.figures.energy <= 2 * np.sqrt(grown * shrunk) * (1 + 1e-12)
