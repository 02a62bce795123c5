"""Where rows of thread run on a piece: beside its sew line, at their distance, as far as the piece goes."""

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from meshes.base.arrays import FloatArray

# A run shorter than this, cut off by a corner, is not drawn.
LEAST_RUN_MM = 5.0


def row_beside(points: FloatArray, sew: FloatArray, away_mm: float) -> tuple[FloatArray, ...]:
    """Runs (k, 2) of a row at a distance inside one edge of a piece, in the edge's direction.

    points (n, 2): the edge, counter-clockwise round the piece; sew (m, 2): the whole sew line. Where the piece is
    narrower than the distance there is none.
    """
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    points = points[np.concatenate([[True], steps > 1e-9])]
    if len(points) < 2:
        return ()
    line = LineString(points).offset_curve(away_mm, quad_segs=32)
    body = Polygon(sew)
    inside = line.intersection(body if body.is_valid else shapely.make_valid(body))
    merged = shapely.line_merge(inside) if inside.geom_type == "MultiLineString" else inside
    runs = [part for part in shapely.get_parts(merged) if part.geom_type == "LineString" and part.length > LEAST_RUN_MM]
    return tuple(shapely.get_coordinates(run) for run in runs)
