"""A finished layout held against what was asked, by distances between the exact polygons: nothing of the search is
used."""

from collections.abc import Sequence

import numpy as np
from shapely import STRtree
from shapely.geometry import Polygon

from flatten.nesting.task import CutLayout, Room, ToPlace

# Distances are told to a ten-thousandth; what is off by less comes of that.
EXACT_MM = 1e-4


def faults(layout: CutLayout, wanted: Sequence[ToPlace], rooms: Sequence[Room], gap_mm: float) -> tuple[str, ...]:
    """What is wrong with a layout, in words: pieces too near, outside their rooms, mirrored, missing or placed
    twice."""
    named = {room.name: room for room in rooms}
    found = []
    shapes = [Polygon(one.points) for one in layout.placed]
    tree = STRtree(shapes)
    for k, (one, shape) in enumerate(zip(layout.placed, shapes, strict=True)):
        for other in tree.query(shape.buffer(gap_mm)):
            second = layout.placed[int(other)]
            if int(other) >= k or second.room != one.room:
                continue
            away = shape.distance(shapes[int(other)])
            if away < gap_mm - EXACT_MM or (
                gap_mm == 0.0 and shape.intersection(shapes[int(other)]).area > _thin(shape)
            ):
                found.append(f"{one.wanted.name} and {second.wanted.name} lie {away:.2f} mm apart")
        area = named[one.room].areas[one.wanted.grade]
        if shape.difference(area.buffer(EXACT_MM)).area > 0.0 and shape.difference(area).area > _thin(shape):
            found.append(f"{one.wanted.name} lies outside what {one.room} has for it")
        if abs(shape.area - Polygon(one.wanted.points).area) > _thin(shape):
            found.append(f"{one.wanted.name} has another area than its piece")
        if shape.exterior.is_ccw != Polygon(one.wanted.points).exterior.is_ccw:
            found.append(f"{one.wanted.name} is mirrored")
    names = sorted([one.wanted.name for one in layout.placed] + list(layout.unplaced))
    if names != sorted(one.name for one in wanted):
        found.append("what is placed is not what was asked for")
    return tuple(found)


def _thin(shape: Polygon) -> float:
    """An area that comes of the last digits: a ribbon along the rim."""
    low, high = np.array(shape.bounds[:2]), np.array(shape.bounds[2:])
    return float(shape.length * max(EXACT_MM, 4e-6 * float((high - low).max())))
