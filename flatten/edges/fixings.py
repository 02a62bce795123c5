"""What a fixing asks of an outer edge: lines beyond the sew line, what the hand has to know there, what is bought by
length, and how far a fly reaches.

Common practice without a source unless another code is given; allowances are the sheet's. All lengths mm.
"""

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString

from flatten.edges.makes import edge_allowance
from flatten.edges.named import Makes
from meshes.base.arrays import FloatArray
from meshes.records.closed import FLAP
from meshes.records.frame import FIXED, STAPLED
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel, PanelRole
from meshes.sheet.whole import Allowance
from meshes.support.line_roles import LineRole

PULLED = FIXED[STAPLED]
# What a kind of edge is called as a fixing.
FIXED_HOW = {kind: word for word, kind in FIXED.items()}
# A sleeve for a wire, and a hem for a cord, are sewn so far from their fold.
SLEEVE_MM = 15.0
# A glued edge is pared over its last 12 mm (M: from memory).
PARED_MM = 12.0
# A hog ring every 50 to 75 mm of the wire (M: from memory).
RINGS_APART_MM = 60.0
# So much of a draw cord hangs out to be tied.
CORD_TO_TIE_MM = 300.0
# What is sewn along an outer edge, before the cover is pulled on.
SEWN_ALONG = {
    "ringed": f"turn the edge over and sew it {SLEEVE_MM:g} mm from the fold, a sleeve for the wire",
    "corded": f"turn the edge over and sew it {SLEEVE_MM:g} mm from the fold, a hem for the cord, open at both ends",
    "clipped": "sew the edge clip on along the line",
}


@dataclass(frozen=True)
class HeldEdge:
    """note: what has to be minded along an edge; lines: name and distance from the sew line, outwards, of what is drawn
    beyond it; rows: distances of rows of thread there."""

    note: str = ""
    lines: tuple[tuple[str, float], ...] = ()
    rows: tuple[float, ...] = ()


def held_edge(kind: str, allowance_mm: float, *, under_mm: float | None = None) -> HeldEdge:
    """What the kind of an outer edge asks. under_mm: how far in under a board it is stapled, None where nothing says
    that it is."""
    if kind == PULLED and under_mm is not None:
        return HeldEdge(f"staples {under_mm:g} mm in under the board", (("staples", under_mm),))
    if kind == FLAP:
        return HeldEdge("fold back at half of it, over the end of the zip", (("fold", 0.5 * allowance_mm),))
    sewn = (min(SLEEVE_MM, allowance_mm),)
    return {
        "ringed": HeldEdge(f"sleeve for a wire, a ring every {RINGS_APART_MM:g} mm", rows=sewn),
        "corded": HeldEdge("hem for a cord, both ends open", rows=sewn),
        "clipped": HeldEdge("edge clip sewn on along the line"),
        "glued": HeldEdge(
            f"skive the last {min(PARED_MM, allowance_mm):g} mm", (("skive", max(allowance_mm - PARED_MM, 0.0)),)
        ),
    }.get(kind, HeldEdge())


def rings_for(length_mm: float) -> int:
    """How many hog rings hold a wire of a length, one at each end."""
    return math.ceil(length_mm / RINGS_APART_MM - 1e-9) + 1


def line_beyond(points: FloatArray, cut: FloatArray, away_mm: float) -> tuple[FloatArray, ...]:
    """Runs (k, 2) of a line at a distance outside one edge of a piece, as far as the piece's cut line goes.

    points (n, 2): the edge, counter-clockwise round the piece; cut (m, 2): the whole cut line.
    """
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    line = LineString(points[np.concatenate([[True], steps > 1e-9])])
    if away_mm > 0.0:
        line = line.offset_curve(-away_mm, quad_segs=32)
    inside = line.intersection(shapely.make_valid(shapely.Polygon(cut)).buffer(1e-6))
    merged = shapely.line_merge(inside) if inside.geom_type == "MultiLineString" else inside
    runs = [p for p in shapely.get_parts(merged) if p.geom_type == "LineString" and not p.is_empty]
    return tuple(shapely.get_coordinates(run) for run in runs)


def fly_depth_mm(panel: Panel, points: FloatArray) -> float | None:
    """How far it is on the piece of a fly, points (n, 2), from its seam down to the tack line, in the mean; None for
    what is no fly."""
    if panel.role is not PanelRole.FLY:
        return None
    seam = next(points[edge.vertices] for edge in panel.rim if edge.role is LineRole.FLY)
    low = np.concatenate([points[edge.vertices] for edge in panel.rim if edge.role is LineRole.TACK])
    return float(np.mean(shapely.distance(shapely.points(low), LineString(seam))))


def fly_grip_mm(pad: BuiltPad, panel: Panel, points: FloatArray, allowances: tuple[Allowance, Makes]) -> float | None:
    """What the strip of a fly leaves to grip beyond the tack line, at least 0; None for what is no fly."""
    deep = fly_depth_mm(panel, points)
    if deep is None:
        return None
    allowance, makes = allowances
    seam = next(edge for edge in panel.rim if edge.role is LineRole.FLY)
    sewn = edge_allowance(seam.kind, makes.get(seam.seam or ""), allowance)
    # Cloth is cut to a tenth of a millimetre at best.
    return round(max(pad.pad.fixings.strip - sewn - deep, 0.0), 1)
