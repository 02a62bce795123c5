"""A usual hide of a measured area, and the zones of any hide by its outline and backbone.

Outline and shares are common practice, no source: an even hide with four legs, laid flat, tail at x = 0. Zones
follow from how far along the backbone a place lies and how far off it, so that they come out near the shares of area
that trade knows: butt 45 to 50, shoulder and neck 20 to 25, bellies and flanks 25 to 30 per cent (from memory).
"""

import numpy as np
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from meshes.base.arrays import FloatArray

# Half of a hide as shares of its length: along the backbone from the tail, and off it.
_HALF = (
    *((0.0, 0.0), (0.0, 0.05), (-0.02, 0.2), (0.03, 0.34), (0.12, 0.41), (0.18, 0.47), (0.23, 0.41), (0.30, 0.37)),
    *((0.42, 0.355), (0.56, 0.36), (0.68, 0.385), (0.74, 0.43), (0.79, 0.43), (0.82, 0.35), (0.88, 0.25), (0.95, 0.17)),
    *((0.995, 0.12), (1.0, 0.0)),
)
# Ends of butt and shoulder along the backbone, and of flanks; bellies begin off it at this share of the mean half
# width.
BUTT_END, SHOULDER_END, FLANK_END, BELLY_FROM = 0.66, 0.84, 0.36, 0.74


def standard_outline(area_m2: float) -> tuple[FloatArray, FloatArray]:
    """Outline (k, 2), counter-clockwise, and backbone (2, 2) of a usual hide of an area, mm."""
    half = np.array(_HALF)
    lower = half[1:-1] * [1.0, -1.0]
    ring = np.concatenate([lower, half[::-1]])
    rounded = Polygon(ring).buffer(0.02).buffer(-0.04).buffer(0.02)
    points = np.asarray(rounded.simplify(0.0008).exterior.coords)[:-1]
    factor = float(np.sqrt(area_m2 * 1e6 / Polygon(points).area))
    scaled = points * factor
    if Polygon(scaled).exterior.is_ccw is False:
        scaled = scaled[::-1]
    return scaled, np.array([[0.0, 0.0], [factor, 0.0]])


def derived_zones(places: FloatArray) -> dict[str, tuple[FloatArray, ...]]:
    """Zones of a hide. places (k, 2): its outline as distances along and off the backbone, mm; so are the zones'."""
    hide = Polygon(places)
    low, high = places.min(axis=0), places.max(axis=0)
    length = float(high[0] - low[0])
    off = BELLY_FROM * hide.area / length / 2.0

    def band(start: float, end: float, y0: float, y1: float) -> BaseGeometry:
        x = [float(low[0]) + share * length for share in (start, end)]
        return box(x[0] - (start == 0.0) * length, y0, x[1] + (end == 1.0) * length, y1)

    wide = float(np.abs(places[:, 1]).max()) + 1.0
    sides = ((off, wide), (-wide, -off))
    parts = {
        "butt": [band(0.0, BUTT_END, -off, off)],
        "shoulder": [band(BUTT_END, SHOULDER_END, -off, off)],
        "neck": [band(SHOULDER_END, 1.0, -wide, wide)],
        "flank": [band(0.0, FLANK_END, *side) for side in sides],
        "belly": [band(FLANK_END, SHOULDER_END, *side) for side in sides],
    }
    return {name: _rings([hide.intersection(part) for part in boxes]) for name, boxes in parts.items()}


def _rings(areas: list[BaseGeometry]) -> tuple[FloatArray, ...]:
    found = []
    for area in areas:
        for one in getattr(area, "geoms", [area]):
            if isinstance(one, Polygon) and not one.is_empty:
                found.append(np.asarray(one.exterior.coords)[:-1])
    return tuple(found)
