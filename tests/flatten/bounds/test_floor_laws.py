"""A floor is a property of the panel: it does not depend on how it lies, on its size, on its hand or on its mesh."""

import numpy as np
import pytest

from flatten.bounds.floor import floor_of
from flatten.demand.develop import flatten
from tests import shapes


def lopsided(edge):
    """An oblong dome that is alike neither way, domed more at one end, with a flat map of it."""

    def z(x, y):
        return 45.0 * np.exp(-(((x - 40.0) / 90.0) ** 2) - ((y - 12.0) / 55.0) ** 2) + 0.0005 * x * y

    vertices, triangles = shapes.graph(z, width=300.0, depth=130.0, edge=edge)
    return vertices, triangles, flatten(vertices, triangles).points


@pytest.fixture(scope="module")
def dome():
    vertices, triangles, points = lopsided(14.0)
    return vertices, triangles, points, floor_of(vertices, triangles, points)


def test_the_dome_asks_something(dome):
    floor = dome[3]
    assert floor.kind == "disc"
    assert floor.value > 0.02


def test_the_mirrored_panel_has_the_same_floor(dome):
    vertices, triangles, points, floor = dome
    other = floor_of(vertices * [-1, 1, 1], triangles[:, ::-1], points * [-1, 1])
    assert other.log == pytest.approx(floor.log, rel=1e-6)
    assert other.radius_mm == pytest.approx(floor.radius_mm, rel=1e-6)
    assert other.centre == pytest.approx(floor.centre * [-1, 1, 1], abs=1e-3)


@pytest.mark.parametrize("degrees", [37.0, 90.0])
def test_a_piece_that_lies_another_way_has_the_same_floor(dome, degrees):
    vertices, triangles, points, floor = dome
    cos, sin = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    other = floor_of(vertices, triangles, points @ np.array([[cos, sin], [-sin, cos]]) + [300.0, -40.0])
    assert other.log == pytest.approx(floor.log, rel=1e-6)
    assert other.centre == pytest.approx(floor.centre, abs=1e-3)


@pytest.mark.parametrize("scale", [0.1, 25.4])
def test_a_panel_of_another_size_has_the_same_floor(dome, scale):
    vertices, triangles, points, floor = dome
    other = floor_of(scale * vertices, triangles, scale * points)
    assert other.log == pytest.approx(floor.log, rel=1e-6)
    assert other.radius_mm == pytest.approx(scale * floor.radius_mm, rel=1e-6)


def test_a_finer_mesh_has_nearly_the_same_floor(dome):
    """What the mesh leaves out of the shape is of the second order in its edge: 14 against 7 mm on bumps of 55 mm."""
    assert floor_of(*lopsided(7.0)).log == pytest.approx(dome[3].log, rel=0.05)
