"""Panels and their flat maps become pieces: turned to the grain, with allowances, notches, centre marks and names.

A piece is drawn once for a mirrored pair. Notches stand at equal shares of the sewn length on both sides of a seam,
counted from the same end on the seat; the last one, towards the rear or the outside (right, on a seam
across the centre line), is doubled on both pieces.
"""

from collections.abc import Mapping, Sequence

import numpy as np

from flatten.allowance import cut_line
from flatten.develop import Flat
from flatten.grain import carried
from flatten.marks import notch_marks, stations
from flatten.piece import Edge, EdgeKind, FlatMesh, Mark, MarkKind, Piece
from flatten.seams import counted_from
from meshes.arrays import FloatArray
from meshes.pad_build import BuiltPad
from meshes.panels import Panel, RimEdge, Seam
from meshes.sheet import Allowance
from meshes.surface import curve_length


def pieces_of(pad: BuiltPad, flats: Mapping[str, Flat], allowance: Allowance) -> tuple[Piece, ...]:
    """All pieces of one pad in reading order; mirrored pairs once."""
    partner = {panel.mirror_of: panel for panel in pad.panels if panel.mirror_of}
    seams = {seam.name: seam for seam in pad.seams}
    return tuple(
        _piece(pad, panel, partner.get(panel.name), flats[panel.name], seams, allowance)
        for panel in pad.panels
        if panel.mirror_of is None
    )


def grain_turn(panel: Panel, flat: Flat) -> float:
    """Angle in rad that turns the flat map so that the panel's grain points up the paper.

    Where the piece lies to the backbone was chosen when it was flattened; otherwise the seat's grain direction is
    carried into every triangle by the map itself, and the area-weighted mean decides.
    """
    run = carried(panel.surface.vertices, panel.surface.triangles, flat.points, panel.grain)
    if flat.backbone is not None:
        # The backbone has no head; the arrow keeps to the side that the seat's direction is on.
        run = flat.backbone if flat.backbone @ run >= 0 else -flat.backbone
    return float(0.5 * np.pi - np.arctan2(run[1], run[0]))


def _piece(
    pad: BuiltPad,
    panel: Panel,
    partner: Panel | None,
    flat: Flat,
    seams: Mapping[str, Seam],
    allowance: Allowance,
) -> Piece:
    turn = grain_turn(panel, flat)
    turned = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    points = flat.points @ turned
    points = points - points.min(axis=0)
    edges = tuple(
        Edge(rim.name, EdgeKind(rim.kind), points[rim.vertices], float(getattr(allowance, rim.kind)), rim.seam)
        for rim in panel.rim
    )
    marks: list[Mark] = []
    for rim, edge in zip(panel.rim, edges, strict=True):
        marks += _notches(pad, panel, rim, edge, seams, allowance.notch_spacing)
    marks += _centre_marks(panel, edges, points)
    name = panel.part if partner is None else f"{panel.part} ({partner.part} mirrored)"
    return Piece(
        name=name,
        pad=panel.pad,
        panels=(panel.name,) if partner is None else (panel.name, partner.name),
        edges=edges,
        cut=cut_line(edges, corner=allowance.corner),
        marks=tuple(marks),
        grain=_grain_arrow(points),
        mesh=FlatMesh(points, panel.surface.triangles, flat.stretch, flat.along @ turned),
        cut_count=1,
        mirrored_count=0 if partner is None else 1,
    )


def _notches(
    pad: BuiltPad, panel: Panel, rim: RimEdge, edge: Edge, seams: Mapping[str, Seam], spacing_mm: float
) -> list[Mark]:
    if rim.seam is None:
        return []
    seam = seams[rim.seam]
    shares = np.asarray(stations(curve_length(pad.surface.vertices[seam.vertices]), spacing_mm))
    if len(shares) == 0:
        return []
    forward = counted_from(rim.vertices, panel.vertices, seam, pad.surface.vertices)
    last = float(shares.max()) if forward else 1.0 - float(shares.max())
    marks = list(notch_marks(edge, shares if forward else 1.0 - shares, double=False))
    single = [m for m, s in zip(marks, shares if forward else 1.0 - shares, strict=True) if s != last]
    return single + list(notch_marks(edge, np.array([last]), double=True))


def _centre_marks(panel: Panel, edges: Sequence[Edge], points: FloatArray) -> list[Mark]:
    marks = []
    for vertex in panel.centre:
        for rim, edge in zip(panel.rim, edges, strict=True):
            here = np.flatnonzero(rim.vertices == vertex)
            if len(here) and 0 < here[0] < len(rim.vertices) - 1:
                before, after = points[rim.vertices[here[0] - 1]], points[rim.vertices[here[0] + 1]]
                along = (after - before) / np.linalg.norm(after - before)
                outward = np.array([along[1], -along[0]])
                marks.append(Mark(MarkKind.CENTRE, points[vertex], outward, edge.allowance_mm, "centre"))
    return marks


def _grain_arrow(points: FloatArray) -> FloatArray:
    """Tail and head of an arrow up the middle of the piece's box; the drawing moves it to where it has room."""
    low, high = points.min(axis=0), points.max(axis=0)
    x, length = 0.5 * (low[0] + high[0]), min(0.4 * (high[1] - low[1]), 150.0)
    y = 0.5 * (low[1] + high[1])
    return np.array([[x, y - 0.5 * length], [x, y + 0.5 * length]])
