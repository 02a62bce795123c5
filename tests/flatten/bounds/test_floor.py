"""The floor: against known optima, and never above a demand that some map reaches."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flatten.bounds.floor import floor_of
from flatten.demand.develop import flatten
from flatten.demand.least_demand import Member, least_demand
from flatten.leather.stretch import stretch
from flatten.maps.relax import relax
from flatten.maps.start import circle_map, starts
from tests import shapes

ANGLES = (0.25, 0.5, np.pi / 4, 1.0, np.pi / 3)


@pytest.mark.parametrize("angle", ANGLES)
def test_caps_come_within_a_hair_of_the_optimum(angle):
    vertices, triangles = shapes.cap(angle, rings=54)
    flat = np.arccos(np.clip(vertices[:, 2:] / 100.0, -1, 1)) * vertices[:, :2]
    flat /= np.maximum(np.linalg.norm(vertices[:, :2], axis=1), 1e-9)[:, None]
    floor = floor_of(vertices, triangles, flat)
    # Least possible ln(largest / smallest stretch) of a spherical cap: Milnor, Amer. Math. Monthly 76 (1969).
    best = np.log(angle / np.sin(angle))
    assert 0.993 * best < floor.log <= best
    assert floor.kind == "disc"
    assert np.allclose(floor.centre, [0, 0, 100], atol=1.0)


@pytest.mark.parametrize("mesh", [shapes.cone(), shapes.cylinder()])
def test_nothing_is_proven_of_what_unrolls(mesh):
    vertices, triangles = mesh
    floor = floor_of(vertices, triangles, flatten(vertices, triangles).points)
    assert floor.value <= 1e-9


@pytest.mark.parametrize("bend", [0.01, 0.05, 0.1, 0.2, 0.3])
def test_saddles_prove_most_of_what_is_reached(bend):
    """bend: |K| r^2 in the middle."""
    curvature = np.sqrt(bend) / 100.0
    vertices, triangles = shapes.round_graph(lambda x, y: 0.5 * curvature * (x**2 - y**2), radius=100.0, rings=40)
    start = flatten(vertices, triangles).points
    reached = np.log1p(stretch(vertices, least_demand(Member(vertices, triangles, start)).points, triangles).demand)
    floor = floor_of(vertices, triangles, start)
    assert 0.85 * reached < floor.log <= reached
    assert floor.kind == "circle"


COEFFICIENTS = st.lists(st.floats(-1.0, 1.0), min_size=9, max_size=9)


def wavy(coefficients, height, *, square):
    """A random smooth surface with bumps of both signs."""
    c = np.array(coefficients).reshape(3, 3)

    def z(x, y):
        return height * sum(
            c[i, j] * np.cos((i + 1) * x / 60 + j) * np.sin((j + 1) * y / 60 + i) for i in range(3) for j in range(3)
        )

    if square:
        return shapes.graph(z, width=160, depth=110, edge=9)
    return shapes.round_graph(z, radius=80, rings=11)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(COEFFICIENTS, st.floats(0.5, 14.0), st.booleans())
def test_never_above_what_any_map_reaches(coefficients, height, square):
    vertices, triangles = wavy(coefficients, height, square=square)
    energy = next(starts(vertices, triangles)).points
    maps = [energy, relax(vertices, energy, triangles).points]
    maps += [circle_map(vertices, triangles), least_demand(Member(vertices, triangles, maps[-1])).points]
    reached = min(stretch(vertices, points, triangles).demand for points in maps)
    for points in maps:
        floor = floor_of(vertices, triangles, points)
        assert 0.0 <= floor.value <= reached
        assert floor.value == pytest.approx(np.expm1(floor.log))
        assert (floor.kind == "none") == (floor.value == 0.0)
