"""Finds room for words and arrows inside a piece: nothing outside, nothing on top of anything else.

Free room is a polygon from which everything placed is taken away. A box of given shape finds its largest place at
the pole of inaccessibility of the room (the centre of the largest inscribed circle), seen in a frame that is turned
and stretched until the box is a square.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from meshes.base.arrays import FloatArray


@dataclass(frozen=True)
class LabelPlace:
    """A box inside a piece: centre, turn, and the scale at which it fits (1 = as asked for)."""

    at: tuple[float, float]
    angle_deg: float
    scale: float


NO_PLACE = LabelPlace((0.0, 0.0), 0.0, 0.0)
_CORNERS = np.array([[1.0, -1.0], [1.0, 1.0], [-1.0, 1.0], [-1.0, -1.0]])


class FreeRoom:
    """What is still free inside a piece."""

    def __init__(self, inside: BaseGeometry) -> None:
        self.free = inside

    def holds(self, shape: BaseGeometry) -> bool:
        """Whether a shape lies wholly in free room."""
        # Many shapes are asked of one room.
        shapely.prepare(self.free)
        return bool(shapely.contains(self.free, shape))

    def take(self, shape: BaseGeometry) -> None:
        """Keep a place from being used again."""
        self.free = self.free.difference(shape)

    def best_place(self, width: float, height: float, angles_deg: Sequence[float], *, most: float = 1.0) -> LabelPlace:
        """The largest place of a box with these proportions, no larger than `most` times its size; earlier angles
        win unless a later one gives a fifth more."""
        best = NO_PLACE
        for angle in angles_deg:
            found = self._place(width, height, angle, most)
            if found.scale > best.scale * (1.2 if best.scale else 1.0):
                best = found
        return best

    def _place(self, width: float, height: float, angle: float, most: float) -> LabelPlace:
        part = self.free
        if part.is_empty:
            return NO_PLACE
        squared = affinity.scale(affinity.rotate(part, -angle, origin=(0, 0)), height / width, 1.0, origin=(0, 0))
        polygons = [p for p in shapely.get_parts(squared) if p.geom_type == "Polygon"]
        if not polygons:
            return NO_PLACE
        centre = shapely.get_coordinates(_largest_circle(polygons, 0.02 * height))[0] * [width / height, 1.0]
        turn = np.radians(angle)
        x, y = centre @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
        at = float(x), float(y)

        def fits(scale: float) -> bool:
            return self.holds(turned_box(at, scale * width, scale * height, angle))

        if fits(most):
            return LabelPlace(at, angle, most)
        low, high = 0.0, most
        for _ in range(11):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if fits(middle) else (low, middle)
        return LabelPlace(at, angle, low)


def _largest_circle(polygons: Sequence[Polygon], tolerance: float) -> BaseGeometry:
    """The largest circle inside any of some polygons, as a line from its centre to its rim; the first of equals."""
    left, low, right, high = shapely.bounds(polygons).T
    # No circle is wider than the polygon's box.
    most = 0.5 * np.minimum(right - left, high - low)
    found: dict[int, BaseGeometry] = {}
    radius = 0.0
    for k in np.argsort(-most, kind="stable").tolist():
        if most[k] < radius:
            break
        found[k] = shapely.maximum_inscribed_circle(polygons[k], tolerance=tolerance)
        radius = max(radius, float(found[k].length))
    return max((found[k] for k in sorted(found)), key=lambda circle: circle.length)


def turned_box(at: tuple[float, float] | FloatArray, width: float, height: float, angle_deg: float) -> Polygon:
    """A box with its centre at `at`, turned counter-clockwise."""
    turn = np.radians(angle_deg)
    along, up = (
        0.5 * width * np.array([np.cos(turn), np.sin(turn)]),
        0.5 * height * np.array([-np.sin(turn), np.cos(turn)]),
    )
    return Polygon(np.asarray(at) + _CORNERS @ np.stack([along, up]))


def readable(angle_deg: float) -> float:
    """The same line of writing, turned so that it is never upside down: in (-90, 90]."""
    return 90.0 - (90.0 - angle_deg) % 180.0


def long_way(shape: BaseGeometry) -> float:
    """Direction in degrees, readable, of the longer side of a shape's smallest turned box."""
    frame = shapely.get_coordinates(shape.minimum_rotated_rectangle)
    if len(frame) < 4:
        return 0.0
    sides = frame[1:3] - frame[0:2]
    side = sides[int(np.argmax(np.linalg.norm(sides, axis=1)))]
    return readable(float(np.degrees(np.arctan2(side[1], side[0]))))
