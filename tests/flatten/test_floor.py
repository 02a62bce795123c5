"""The floor: against known optima, and never above a demand that some map reaches."""

import numpy as np
import pytest

from flatten.develop import flatten
from flatten.floor import floor_of
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
