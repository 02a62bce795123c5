"""Heights at named places of a pad, to be checked with a ruler before the cover goes on and when it is fixed.

Places are named by the sides of the pad, so that two people with a ruler find the same ones. Lengths mm.
"""

from dataclasses import dataclass

import numpy as np
from shapely.geometry import LineString, Polygon

from meshes.base.arrays import FloatArray, IntArray
from meshes.base.plane import Point, extent
from meshes.seat.build import BuiltPad

# Places near an edge lie so far inside it, clear of where it turns.
INSIDE_MM = 60.0
_JUST_INSIDE = 1e-9


@dataclass(frozen=True)
class PlaceHeight:
    """One place: its name, where it lies seen square on, and its height above the pad's zero on the free padding and
    under the fitted cover; None where no cover presses."""

    name: str
    at: Point
    free_mm: float
    settled_mm: float | None


def heights_of(pad: BuiltPad) -> tuple[PlaceHeight, ...]:
    """Heights at the middle of a pad and near the middles of its sides; pad: as it was before panels were cut."""
    settled = pad.settled
    free = pad.surface.vertices if pad.rest is None else pad.rest.free
    found = []
    for name, at in named_places(pad):
        before = height_at(free, pad.surface.triangles, at)
        after = None if settled is None else height_at(pad.shown.vertices, pad.shown.triangles, at)
        if before is not None:
            found.append(PlaceHeight(name, at, before, after))
    return tuple(found)


def named_places(pad: BuiltPad) -> list[tuple[str, Point]]:
    """Names and places (x, y) of a pad that heights are checked at; of the right side only where left is the same."""
    corners = np.asarray(pad.pad.outline.corners)
    body, (wide, deep) = Polygon(corners), extent(pad.pad.outline.corners)
    low = corners.min(axis=0)
    middle = (float(low[0]) + 0.5 * wide, float(low[1]) + 0.5 * deep)
    if pad.pad.symmetric:
        middle = (0.0, middle[1])
    along = _inside(body, (middle[0], low[1] - 1.0), (middle[0], low[1] + deep + 1.0))
    across = _inside(body, (low[0] - 1.0, middle[1]), (low[0] + wide + 1.0, middle[1]))
    word = pad.pad.side_word
    places = [("middle", middle)]
    if along is not None:
        places += [
            (f"{INSIDE_MM:g} mm in from the {word('front')} edge", (middle[0], along[0][1])),
            (f"{INSIDE_MM:g} mm in from the {word('rear')} edge", (middle[0], along[1][1])),
        ]
    if across is not None and pad.pad.symmetric:
        places.append((f"{INSIDE_MM:g} mm in from the right and left edges", across[1]))
    elif across is not None:
        places.append((f"{INSIDE_MM:g} mm in from the left edge", across[0]))
        places.append((f"{INSIDE_MM:g} mm in from the right edge", across[1]))
    return places


def _inside(body: Polygon, start: Point, end: Point) -> tuple[Point, Point] | None:
    """Places INSIDE_MM in from both ends of a straight cut through an outline; None where it is too short for both."""
    cut = body.intersection(LineString([start, end]))
    if cut.geom_type != "LineString" or cut.length < 4.0 * INSIDE_MM:
        return None
    one, two = cut.interpolate(INSIDE_MM), cut.interpolate(cut.length - INSIDE_MM)
    return (one.x, one.y), (two.x, two.y)


def height_at(points: FloatArray, triangles: IntArray, at: Point) -> float | None:
    """Height of the upper surface above a place, mm; None where there is none. points (n, 3)."""
    found = _heights(points, triangles, at)
    return float(found.max()) if len(found) else None


def thickness_at(points: FloatArray, triangles: IntArray, at: Point) -> float | None:
    """How thick a closed body is at a place, from its lowest surface to its highest."""
    found = _heights(points, triangles, at)
    return float(found.max() - found.min()) if len(found) > 1 else None


def _heights(points: FloatArray, triangles: IntArray, at: Point) -> FloatArray:
    """Heights (k,) at which an upright line through a place meets the triangles."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    a, b, c, upright = a[:, :2], b[:, :2], c[:, :2], points[:, 2]
    p = np.asarray(at)
    whole = _cross(b - a, c - a)
    # An upright triangle covers no place; anything over 1 keeps it out.
    whole = np.where(np.abs(whole) > _JUST_INSIDE, whole, np.nan)
    second = np.nan_to_num(_cross(p - a, c - a) / whole, nan=2.0)
    third = np.nan_to_num(_cross(b - a, p - a) / whole, nan=2.0)
    here = np.flatnonzero((np.minimum(second, third) >= -_JUST_INSIDE) & (second + third <= 1.0 + _JUST_INSIDE))
    share = np.stack([1.0 - second[here] - third[here], second[here], third[here]], axis=1)
    return np.asarray(np.einsum("ij,ij->i", share, upright[triangles[here]]))


def _cross(one: FloatArray, two: FloatArray) -> FloatArray:
    return np.asarray(one[..., 0] * two[..., 1] - one[..., 1] * two[..., 0])
