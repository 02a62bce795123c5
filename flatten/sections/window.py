"""A window on a cut through a pad: from places in the cut to pixels, and lines and areas cut off at its rim."""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from flatten.draw.drawing import Drawing
from meshes.base.arrays import FloatArray

# Lines are drawn with as few points as are seen.
FINE_PX = 0.1


@dataclass(frozen=True, eq=False)
class View:
    """A window on cuts. rect: its left, top, width, height in pixels; low: its lower left corner mm, of the cut as it
    is turned; scale: pixels per mm; standing: the cut is turned upright."""

    rect: tuple[float, float, float, float]
    low: FloatArray
    scale: float
    standing: bool

    def __call__(self, points: FloatArray) -> FloatArray:
        """Places of the cut (k, 2) mm in pixels."""
        at = (upright_points(np.atleast_2d(points), self.standing) - self.low) * self.scale
        return np.column_stack([self.rect[0] + at[:, 0], self.rect[1] + self.rect[3] - at[:, 1]])

    @property
    def window(self) -> Polygon:
        """The view's rectangle."""
        left, top, wide, high = self.rect
        return box(left, top, left + wide, top + high)


def upright_points(points: FloatArray, standing: bool) -> FloatArray:
    """Places as they are drawn: upright, with the front of the pad to the left, when standing."""
    return np.column_stack([-points[:, 1], points[:, 0]]) if standing else points


def fitted(rect: tuple[float, float, float, float], points: FloatArray, standing: bool, margin: float) -> View:
    at = upright_points(points, standing)
    low, high = at.min(axis=0), at.max(axis=0)
    room = np.array(rect[2:])
    scale = float(((room - np.array([2.0, 1.0]) * margin) / np.maximum(high - low, 1.0)).min())
    return View(rect, 0.5 * (low + high) - 0.5 * room / scale, scale, standing)


def clipped(
    drawing: Drawing,
    view: View,
    points: FloatArray,
    colour: str,
    width: float,
    *,
    dash: tuple[float, float] | None = None,
) -> BaseGeometry:
    """A line of the cut within the view; returns what of it shows."""
    kept = LineString(view(points)).simplify(FINE_PX).intersection(view.window)
    for part in getattr(kept, "geoms", [kept]):
        if part.geom_type == "LineString" and not part.is_empty:
            drawing.line(np.array(part.coords), colour, width, dash=dash)
    return kept


def filled(drawing: Drawing, view: View, ring: BaseGeometry, fill: str, edge: str = "") -> BaseGeometry:
    kept = shapely.make_valid(ring.simplify(FINE_PX)).intersection(view.window)
    for part in getattr(kept, "geoms", [kept]):
        if part.geom_type == "Polygon" and part.area > 0.05:
            drawing.area(np.array(part.exterior.coords)[:-1], fill, edge=edge, width=0.5)
    return kept
