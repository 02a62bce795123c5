"""Pleated pads for tests. Measurements invented.

A "square" pad has sharp corners, edges without radius and no padding, so that closed forms hold on it: its face is the
outline itself. A profile drawn from a circle bends it into part of a cylinder or sphere.
"""

from collections.abc import Callable

import numpy as np

from meshes.seat.build import BuiltPad
from tests.pads import built

SQUARE = """
name = "test"
[[pad]]
name = "cushion"
kind = "cushion"
[pad.outline]
front_width = 400
rear_width = 400
depth = 300
{profiles}
[pad.sides.front]
drop = 80
edge_radius = 0
band = true
[pad.sides.right]
drop = 80
edge_radius = 0
band = true
[pad.sides.rear]
drop = 80
edge_radius = 0
band = true
[pad.pleats]
{pleats}
"""


def square(pleats: str, *, profiles: str = "", edge_mm: float = 8.0) -> BuiltPad:
    """A pad of 400 x 300 mm, banded all round, with these pleats."""
    return built(SQUARE.format(pleats=pleats, profiles=profiles), edge_mm=edge_mm)


def profile(direction: str, at: float, places: np.ndarray, height: Callable[[np.ndarray], np.ndarray]) -> str:
    """A measured profile that follows a given height."""
    points = ", ".join(f"[{p!r}, {h!r}]" for p, h in zip(places.tolist(), height(places).tolist(), strict=True))
    return f'[[pad.profile]]\ndirection = "{direction}"\nat = {at!r}\npoints = [{points}]\n'


def bent_across(radius: float) -> str:
    """A cylinder whose rulings run from front to rear: heights over x."""
    return profile("across", 150.0, np.linspace(-200, 200, 41), lambda x: np.sqrt(radius**2 - x**2) - radius)


def bent_along(radius: float) -> str:
    """A cylinder whose rulings run from side to side: heights over y."""
    return profile("along", 0.0, np.linspace(0, 300, 61), lambda y: np.sqrt(radius**2 - (y - 150) ** 2) - radius)


def domed(radius: float) -> str:
    """Part of a sphere round the middle of the pad, on thirteen profiles."""
    places = np.linspace(0.0, 300.0, 31)
    return "".join(
        profile("along", x, places, lambda y, x=x: np.sqrt(radius**2 - x**2 - (y - 150) ** 2) - radius)
        for x in np.linspace(0.0, 200.0, 13).tolist()
    )
