"""Marks where something meets a piece's seam line between its corners: the centre line, a valley, one more seam.

Two pieces lie alongside each other in a seam; what arrives between its ends is marked on each of them on which the
sew line runs straight on there. Where it turns, the piece has a corner, which is mark enough.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatten.pieces.piece import Edge, EdgeKind, Mark, MarkKind
from meshes.base.arrays import FloatArray
from meshes.pleats.plan import Valley
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel

# A sew line that turns by more than this has a corner.
SEW_CORNER_RAD = np.deg2rad(35.0)
# What is sewn through is notched; leather that is only pulled down is marked with a pen, as a cut would run.
CUT_KINDS = (
    EdgeKind.SEWN,
    EdgeKind.WELTED,
    EdgeKind.TOPSTITCHED,
    EdgeKind.DOUBLE_TOPSTITCHED,
    EdgeKind.LAPPED_UNDER,
    EdgeKind.CLOSED,
)
# Edges that are drawn down on a frame, and sides that a centre line across meets.
DRAWN_KINDS = (EdgeKind.PULLED, EdgeKind.GLUED, EdgeKind.RINGED, EdgeKind.CLIPPED, EdgeKind.CORDED, EdgeKind.BLIND)
SIDES_ACROSS = ("right", "left")
ACROSS_WORDS = "centre across"
# Marks that lie nearer than this are one place to a hand.
SAME_SPOT_MM = 6.0


@dataclass(frozen=True, eq=False)
class _CrossingPlace:
    """A vertex of the rim where the sew line runs straight on: its number in the pad and the next one's, where the mark
    is, and the edges on both sides of it (one and the same within an edge)."""

    vertex: int
    ahead: int
    at: FloatArray
    outward: FloatArray
    edges: tuple[Edge, Edge]

    def mark(self, kind: MarkKind, text: str) -> Mark:
        allowance = min(edge.allowance_mm for edge in self.edges)
        pen = any(edge.kind not in CUT_KINDS for edge in self.edges)
        return Mark(kind, self.at, self.outward, allowance, text, pen)


def crossing_marks(pad: BuiltPad, panel: Panel, edges: Sequence[Edge], *, paired: bool) -> list[Mark]:
    """All such marks of a panel's piece, in the order of its rim; edges: those of the piece, one for each of the
    panel's rim; paired: it is also cut mirrored, so that left and right are left out of what is written."""
    centre = set(panel.vertices[panel.centre].tolist())
    valleys = _valleys(pad)
    marks = []
    for place in _places(panel, edges):
        if place.vertex in centre:
            marks.append(place.mark(MarkKind.CENTRE, "centre"))
        valley = valleys.get(place.vertex)
        # An edge that runs along a valley is its join, and not crossed by it.
        if valley is not None and valleys.get(place.ahead) is not valley:
            marks.append(place.mark(MarkKind.VALLEY, valley.unsided if paired else valley.name))
        one, two = place.edges
        if one is not two and (one.seam is not None or two.seam is not None):
            marks.append(place.mark(MarkKind.JOINT, ""))
    return _joints_counted(marks, np.concatenate([edge.points[:-1] for edge in edges]))


def side_centres(pad: BuiltPad, panel: Panel, edges: Sequence[Edge], known: Sequence[Mark]) -> list[Mark]:
    """Where the edges of a cover with folded corners pass the middle between front and rear at the right and the left,
    for the centre line across of its board; edges, known: edges and marks of the piece, none of it within SAME_SPOT_MM
    of a mark."""
    tacks = [p.vertices[rim.vertices] for p in pad.panels for rim in p.rim if rim.seam is None and rim.side]
    if not tacks or not pad.division.folds:
        return []
    along = pad.surface.vertices[:, 1]
    ends = along[np.concatenate(tacks)]
    middle = 0.5 * float(ends.min() + ends.max())
    marks = []
    for rim, edge in zip(panel.rim, edges, strict=True):
        if rim.seam is not None or rim.side not in SIDES_ACROSS or edge.kind not in DRAWN_KINDS:
            continue
        off = along[panel.vertices[rim.vertices]] - middle
        for k in np.flatnonzero(off[:-1] * off[1:] < 0.0):
            step = edge.points[k + 1] - edge.points[k]
            at = edge.points[k] + step * off[k] / (off[k] - off[k + 1])
            if all(np.linalg.norm(at - mark.at) > SAME_SPOT_MM for mark in known):
                out = np.array([step[1], -step[0]]) / np.linalg.norm(step)
                marks.append(Mark(MarkKind.CENTRE, at, out, edge.allowance_mm, ACROSS_WORDS, pen=True))
    return marks


def _joints_counted(marks: Sequence[Mark], sew: FloatArray) -> list[Mark]:
    """Joints numbered by how far they are from the nearest centre mark along the sew line (k, 2), alike on both sides
    of it; from the sew line's first corner on a piece without one."""
    ends = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.roll(sew, -1, axis=0) - sew, axis=1))])
    place = [ends[int(np.argmin(np.linalg.norm(sew - mark.at, axis=1)))] for mark in marks]
    zeros = [p for p, mark in zip(place, marks, strict=True) if mark.kind is MarkKind.CENTRE] or [0.0]
    away = [round(min(min(abs(p - z), ends[-1] - abs(p - z)) for z in zeros)) for p in place]
    order = sorted({a for a, mark in zip(away, marks, strict=True) if mark.kind is MarkKind.JOINT})
    return [
        replace(mark, text=str(order.index(a) + 1)) if mark.kind is MarkKind.JOINT else mark
        for a, mark in zip(away, marks, strict=True)
    ]


def _valleys(pad: BuiltPad) -> Mapping[int, Valley]:
    """The valley that every vertex of the pad lies on, for those that lie on one."""
    if pad.pleats is None:
        return {}
    paths = zip(pad.pleats.plan.valleys, pad.pleats.valleys, strict=True)
    return {int(v): valley for valley, path in paths for v in path}


def _places(panel: Panel, edges: Sequence[Edge]) -> Iterator[_CrossingPlace]:
    """Every vertex of the rim at which the sew line has no corner."""
    for before, rim, edge in zip([edges[-1], *edges[:-1]], panel.rim, edges, strict=True):
        for k in range(len(rim.vertices) - 1):
            last = edge.points[k] - (edge.points[k - 1] if k else before.points[-2])
            step = edge.points[k + 1] - edge.points[k]
            if _turn(last, step) > SEW_CORNER_RAD:
                continue
            along = last / np.linalg.norm(last) + step / np.linalg.norm(step)
            along /= np.linalg.norm(along)
            yield _CrossingPlace(
                vertex=int(panel.vertices[rim.vertices[k]]),
                ahead=int(panel.vertices[rim.vertices[k + 1]]),
                at=edge.points[k],
                outward=np.array([along[1], -along[0]]),
                edges=(edge, edge) if k else (before, edge),
            )


def _turn(one: FloatArray, two: FloatArray) -> float:
    return float(abs(np.arctan2(one[0] * two[1] - one[1] * two[0], one @ two)))
