"""The inset of a pad in its chart: its line, the lines from its corners to the pad's, and its region.

On a plan whose sides part in bows each side is moved in by its margin, blended between them; where the margin of a side
is nothing, the line runs out over it. Lengths mm.
"""

from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from meshes.base.arrays import FloatArray
from meshes.base.problems import ProblemError
from meshes.outlines.rounded import CornersTooRoundError, rounded_outline
from meshes.outlines.side_ramps import BOW_TURN_RAD
from meshes.records.pad import SIDES, Pad
from meshes.support.chart import Chart, MakeProblem
from meshes.support.line_roles import MIRRORED_CORNER, OVERSHOOT_MM, ChartLine, LineIdentity, LineRole

# How far past the edge seam the line of an inset is carried that runs out over a side.
PAST_SEAM_MM = 20.0
# Lines are followed on points this close before they are set out in mesh steps: chord error under 0.01 mm.
DENSE_MM = 1.0
# A face of the moved outline belongs to the inset when its middle lies no nearer to the outline than its margin, less
# this.
NEARER_MM = 0.5


def inset_polygon(pad: Pad, chart: Chart, make_problem: MakeProblem) -> Polygon | None:
    """The inset as a region of the chart, None without one."""
    if pad.inset is None:
        return None
    ring = inset_lines(pad, chart, make_problem)[0].line
    return Polygon(ring.coords)


def inset_lines(pad: Pad, chart: Chart, make_problem: MakeProblem) -> list[ChartLine]:
    """The outline of the inset and the lines from its corners to the pad's corners that part the bolsters."""
    inset = pad.inset
    if inset is None:
        return []
    margin = {s: float(getattr(inset, s)) for s in SIDES}
    line, starts = (_ring_in_bows if _parts_in_a_bow(chart) else _ring_by_runs)(pad, chart, make_problem)
    drawn = [ChartLine(LineIdentity(LineRole.INSET, sewn=True, welt=inset.welt, tied=inset.tied), line)]
    for k, (a, b) in enumerate(zip(SIDES, SIDES[1:] + SIDES[:1], strict=True)):
        if margin[a] > 0 and margin[b] > 0:
            start, stop = starts[k], _bolster_end(pad, chart, starts[k], k)
            # Begun a little inside the inset, so that it crosses the inset's line; the dead end is dropped later.
            ends = [start - OVERSHOOT_MM * (stop - start) / np.linalg.norm(stop - start), stop]
            drawn.append(ChartLine(LineIdentity(LineRole.CORNER, k, MIRRORED_CORNER[k], sewn=True), LineString(ends)))
    return drawn


def _bolster_end(pad: Pad, chart: Chart, start: FloatArray, corner: int) -> FloatArray:
    """Where the seam (2,) between two bolsters runs to from a corner of the inset: to the corner of the pad, or, where
    one of both goes on past the other, straight on along it and out over the rim."""
    before, after = SIDES[corner], SIDES[(corner + 1) % len(SIDES)]
    middle = chart.outline.corner_between(before, after)
    word = "mitred" if pad.inset is None else pad.inset.bolsters
    if word == "mitred":
        return chart.seam_corner(before, after)
    first = (word == "sides") == (before in ("right", "left"))
    if _parts_in_a_bow(chart):
        way = np.array(
            [1.0 if corner < 2 else -1.0, 0.0] if word == "ends" else [0.0, -1.0 if corner in (0, 3) else 1.0]
        )
    else:
        # On the run before the corner, or on that after it: its direction, a quarter turn from its outward normal.
        normal = chart.outline.normal(np.array([middle - 1.0 if first else middle + 1.0]))[0]
        way = np.array([-normal[1], normal[0]]) * (1.0 if first else -1.0)
    far = float(np.ptp(np.asarray(pad.outline.corners), axis=0).max())
    return np.asarray(start + way * far)


def _ring_by_runs(pad: Pad, chart: Chart, make_problem: MakeProblem) -> tuple[LineString, list[FloatArray]]:
    """The line round an inset whose pad has clear corners, and where its own corners are: every run moved in."""
    inset = pad.inset
    assert inset is not None
    margin = {s: float(getattr(inset, s)) for s in SIDES}
    corners = np.asarray(pad.outline.corners, dtype=np.float64)
    # A margin of nothing lets the inset run out over that side: its line is carried past the seam there and cut at the
    # rim. No farther: lines beside it that run together would cross out there. Corners outside are not rounded.
    out = _past_seam_mm(chart)
    names = pad.outline.side_of_edge
    moved = moved_in(corners, [margin[s] if margin[s] > 0 else -out for s in names])
    rounds = [names[k - 1] != s and min(margin[names[k - 1]], margin[s]) > 0 for k, s in enumerate(names)]
    try:
        ring = rounded_outline([(x, y) for x, y in moved], [inset.corner_radius if r else 0.0 for r in rounds], names)
    except CornersTooRoundError as fault:
        raise ProblemError(
            [make_problem("G103", ("inset",), f"{fault}; make its corner radius or margins smaller")]
        ) from fault
    path = ring.point(ring.samples(DENSE_MM))
    line = LineString(np.concatenate([path, path[:1]]))
    if not line.is_simple:
        raise ProblemError(
            [make_problem("G103", ("inset",), "the inset's margins leave nothing of it; make them smaller")]
        )
    starts = [
        ring.point(np.array([ring.corner_between(a, b)]))[0] for a, b in zip(SIDES, SIDES[1:] + SIDES[:1], strict=True)
    ]
    return line, starts


def _ring_in_bows(pad: Pad, chart: Chart, make_problem: MakeProblem) -> tuple[LineString, list[FloatArray]]:
    """The same on a pad some of whose sides part in bows."""
    assert pad.inset is not None
    margins = {s: float(getattr(pad.inset, s)) for s in SIDES}
    line = _inset_ring(chart, margins, pad.inset.corner_radius)
    if line is None:
        raise ProblemError(
            [make_problem("G103", ("inset",), "the inset's margins leave nothing of it; make them smaller")]
        )
    return line, [_inset_corner(chart, line, a, b) for a, b in zip(SIDES, SIDES[1:] + SIDES[:1], strict=True)]


def sharp_inset(pad: Pad, chart: Chart) -> LineString:
    """The line round the inset before its corners are rounded, for a pad that has one."""
    assert pad.inset is not None
    if _parts_in_a_bow(chart):
        ring = _inset_ring(chart, {s: float(getattr(pad.inset, s)) for s in SIDES}, 0.0)
        return LineString() if ring is None else ring
    margins = [float(getattr(pad.inset, s)) for s in pad.outline.side_of_edge]
    moved = moved_in(np.asarray(pad.outline.corners, dtype=np.float64), margins)
    return LineString(np.concatenate([moved, moved[:1]]))


def face_corners(pad: Pad, chart: Chart) -> FloatArray:
    """What is inside the edge seam, and of the inset where there is one, before corners are rounded: (k, 2) mm."""
    # Place u in the middle of the straight run from corner k on.
    u = np.arange(1.5, 2.0 * len(pad.outline.corners), 2.0)
    out = chart.radius(u) - chart.seam(u)
    inset = [0.0 if pad.inset is None else float(getattr(pad.inset, s)) for s in pad.outline.side_of_edge]
    margins = [m if m > 0.0 else float(o) for m, o in zip(inset, out, strict=True)]
    return moved_in(np.asarray(pad.outline.corners, dtype=np.float64), margins)


def moved_in(corners: FloatArray, margins: Sequence[float]) -> FloatArray:
    """Polygon with every run moved inward by its own margin: the crossings of neighbouring moved runs; at a point of a
    bow, where they run nearly alike, a move by the mean of both margins."""
    forward = np.roll(corners, -1, axis=0) - corners
    forward /= np.linalg.norm(forward, axis=1, keepdims=True)
    turn = np.arccos(np.clip(np.sum(forward * np.roll(forward, 1, axis=0), axis=1), -1.0, 1.0))
    inward = np.stack([-forward[:, 1], forward[:, 0]], axis=1)
    level = np.sum(inward * corners, axis=1) + np.asarray(margins)
    moved = []
    for k in range(len(corners)):
        rows = inward[[k - 1, k]]
        if turn[k] < BOW_TURN_RAD:
            way = rows.sum(axis=0) / np.linalg.norm(rows.sum(axis=0))
            moved.append(corners[k] + way * (0.5 * (margins[k - 1] + margins[k]) / np.cos(0.5 * turn[k])))
        else:
            moved.append(np.linalg.solve(rows, level[[k - 1, k]]))
    return np.array(moved)


def _parts_in_a_bow(chart: Chart) -> bool:
    """Whether two sides of a pad part where its outline has no corner."""
    sides, turn = chart.outline.sides, np.abs(chart.outline.sweep_rad)
    return any(sides[k - 1] != sides[k] and turn[k] < BOW_TURN_RAD for k in range(len(sides)))


def _inset_ring(chart: Chart, margins: Mapping[str, float], corner_radius: float) -> LineString | None:
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


def _inset_corner(chart: Chart, ring: LineString, before: str, after: str) -> FloatArray:
    """The point (2,) of the line round an inset from which a seam runs to where two sides part."""
    u = np.array([chart.outline.corner_between(before, after)])
    rim, normal = chart.outline.point(u)[0], chart.outline.normal(u)[0]
    square = LineString([rim, rim - normal * 10.0 * chart.outline.lengths.max()])
    met = shapely.get_coordinates(shapely.intersection(ring, square))
    if not len(met):
        near = ring.interpolate(ring.project(shapely.Point(rim)))
        return np.array(near.coords[0])
    return np.asarray(met[int(np.argmin(np.linalg.norm(met - rim, axis=1)))])


def _past_seam_mm(chart: Chart) -> float:
    """How far outside the outline a line of the inset has to be carried to lie past every seam below an edge."""
    return PAST_SEAM_MM + float(np.max(chart.seam(chart.outline.samples(DENSE_MM * 20)) - chart.radius(np.zeros(1))))


def _margin(chart: Chart, margins: Mapping[str, float], u: FloatArray) -> FloatArray:
    out = _past_seam_mm(chart)
    return chart.outline.blend({s: margins[s] if margins[s] > 0.0 else -out for s in SIDES})(u)
