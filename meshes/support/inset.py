"""The inset of a pad in its chart: its line, the lines from its corners to the pad's, and its region."""

from collections.abc import Sequence

import numpy as np
from shapely.geometry import LineString, Polygon

from meshes.base.arrays import FloatArray
from meshes.base.problems import ProblemError
from meshes.records.pad import SIDES, Inset, Pad
from meshes.support.chart import Blame, Chart
from meshes.support.line_roles import DENSE_MM, MIRRORED_CORNER, OVERSHOOT_MM, ChartLine, LineIdentity, LineRole
from meshes.support.outline import CornersTooRoundError, RoundedOutline, rounded_outline


def inset_polygon(pad: Pad, chart: Chart, blame: Blame) -> Polygon | None:
    """The inset as a region of the chart, None without one."""
    if pad.inset is None:
        return None
    ring = inset_lines(pad, chart, blame)[0].line
    return Polygon(ring.coords)


def inset_lines(pad: Pad, chart: Chart, blame: Blame) -> list[ChartLine]:
    """The outline of the inset and the lines from its corners to the pad's corners that part the bolsters. Raises
    ProblemError for an inset of which nothing is left, or whose corners are too round for it."""
    if pad.inset is None:
        return []
    ring = _ring(pad, pad.inset, blame)
    path = ring.point(ring.samples(DENSE_MM))
    line = LineString(np.concatenate([path, path[:1]]))
    if not line.is_simple:
        raise ProblemError([blame("G103", ("inset",), "the inset's margins leave nothing of it; make them smaller")])
    whole = LineIdentity(LineRole.INSET, sewn=True, welt=pad.inset.welt, tied=pad.inset.tied)
    return [ChartLine(whole, line), *_corner_lines(pad.inset, ring, chart)]


def _ring(pad: Pad, inset: Inset, blame: Blame) -> RoundedOutline:
    """The outline of the inset, rounded at its corners."""
    margin = {s: float(getattr(inset, s)) for s in SIDES}
    corners = np.asarray(pad.outline.corners, dtype=np.float64)
    far = float(np.ptp(corners, axis=0).max())
    # A margin of nothing lets the inset run out over that side: its line is carried well past it and cut at the rim.
    moved = moved_in(corners, [margin[s] if margin[s] > 0 else -far for s in pad.outline.side_of_edge])
    changes = [pad.outline.side_of_edge[k - 1] != s for k, s in enumerate(pad.outline.side_of_edge)]
    try:
        return rounded_outline(
            [(x, y) for x, y in moved],
            [inset.corner_radius if c else 0.0 for c in changes],
            pad.outline.side_of_edge,
        )
    except CornersTooRoundError as fault:
        raise ProblemError(
            [blame("G103", ("inset",), f"{fault}; make its corner radius or margins smaller")]
        ) from fault


def _corner_lines(inset: Inset, ring: RoundedOutline, chart: Chart) -> list[ChartLine]:
    """From every corner of the inset that has a margin on both sides to the pad's corner."""
    drawn = []
    for k, (a, b) in enumerate(zip(SIDES, SIDES[1:] + SIDES[:1], strict=True)):
        if min(getattr(inset, a), getattr(inset, b)) > 0:
            u = np.array([chart.outline.corner_between(a, b)])
            start = ring.point(np.array([ring.corner_between(a, b)]))[0]
            stop = chart.to_plane(u, chart.seam(u))[0]
            # Begun a little inside the inset, so that it crosses the inset's line; the dead end is dropped later.
            ends = [start - OVERSHOOT_MM * (stop - start) / np.linalg.norm(stop - start), stop]
            drawn.append(ChartLine(LineIdentity(LineRole.CORNER, k, MIRRORED_CORNER[k], sewn=True), LineString(ends)))
    return drawn


def sharp_inset(pad: Pad) -> LineString:
    """The line round the inset before its corners are rounded, for a pad that has one."""
    assert pad.inset is not None
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
    """Polygon with every run moved inward by its own margin: the crossings of neighbouring moved runs."""
    forward = np.roll(corners, -1, axis=0) - corners
    forward /= np.linalg.norm(forward, axis=1, keepdims=True)
    inward = np.stack([-forward[:, 1], forward[:, 0]], axis=1)
    level = np.sum(inward * corners, axis=1) + np.asarray(margins)
    moved = []
    for k in range(len(corners)):
        rows = inward[[k - 1, k]]
        if abs(np.linalg.det(rows)) < 1e-9:
            moved.append(corners[k] + inward[k] * margins[k])
        else:
            moved.append(np.linalg.solve(rows, level[[k - 1, k]]))
    return np.array(moved)
