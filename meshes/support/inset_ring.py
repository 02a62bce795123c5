"""The line round an inset on a plan whose sides part in bows: each side moved in by its margin, blended between them.

Where the margin of a side is nothing, the line runs out over it. Lengths mm, in the plane of the chart.
"""

from collections.abc import Mapping

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from meshes.base.arrays import FloatArray
from meshes.records.pad import SIDES
from meshes.support.chart import Chart
from meshes.support.side_ramps import BOW_TURN_RAD

# How far past the edge seam the line of an inset is carried that runs out over a side.
PAST_SEAM_MM = 20.0
# Lines are followed on points this close before they are set out in mesh steps: chord error under 0.01 mm.
DENSE_MM = 1.0
# A face of the moved outline belongs to the inset when its middle lies no nearer to the outline than its margin, less
# this.
NEARER_MM = 0.5


def parts_in_a_bow(chart: Chart) -> bool:
    """Whether two sides of a pad part where its outline has no corner."""
    sides, turn = chart.outline.sides, np.abs(chart.outline.sweep_rad)
    return any(sides[k - 1] != sides[k] and turn[k] < BOW_TURN_RAD for k in range(len(sides)))


def inset_ring(chart: Chart, margins: Mapping[str, float], corner_radius: float) -> LineString | None:
    """The line round an inset with these margins, closed; None when they leave nothing of it."""
    u = chart.outline.samples(DENSE_MM)
    margin = _margin(chart, margins, u)
    path = chart.outline.point(u) - chart.outline.normal(u) * margin[:, None]
    loop = LineString(np.concatenate([path, path[:1]]))
    faces = [face for face in shapely.get_parts(shapely.polygonize([shapely.node(loop)])) if face.area > 1.0]
    middles = np.array([face.representative_point().coords[0] for face in faces]).reshape(-1, 2)
    place, depth = chart.outline.nearest(middles)
    kept = [face for face, d, m in zip(faces, depth, _margin(chart, margins, place), strict=True) if d >= m - NEARER_MM]
    if not kept:
        return None
    region = max(kept, key=lambda face: face.area)
    if corner_radius > 0.0:
        region = region.buffer(-corner_radius, quad_segs=32).buffer(corner_radius, quad_segs=32)
    return LineString(region.exterior.coords) if isinstance(region, Polygon) and not region.is_empty else None


def inset_corner(chart: Chart, ring: LineString, before: str, after: str) -> FloatArray:
    """The point (2,) of the line round an inset from which a seam runs to where two sides part."""
    u = np.array([chart.outline.corner_between(before, after)])
    rim, normal = chart.outline.point(u)[0], chart.outline.normal(u)[0]
    square = LineString([rim, rim - normal * 10.0 * chart.outline.lengths.max()])
    met = shapely.get_coordinates(shapely.intersection(ring, square))
    if not len(met):
        near = ring.interpolate(ring.project(shapely.Point(rim)))
        return np.array(near.coords[0])
    return np.asarray(met[int(np.argmin(np.linalg.norm(met - rim, axis=1)))])


def _margin(chart: Chart, margins: Mapping[str, float], u: FloatArray) -> FloatArray:
    out = PAST_SEAM_MM + float(np.max(chart.seam(chart.outline.samples(DENSE_MM * 20)) - chart.radius(np.zeros(1))))
    return chart.outline.blend({s: margins[s] if margins[s] > 0.0 else -out for s in SIDES})(u)
