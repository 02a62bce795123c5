"""Edges along which one more seam ends: where more than three leathers meet there, they are pared.

Only where the sheet says how seams are sewn: the thickness of a crossing follows from the kinds of both seams.
"""

from dataclasses import replace

import numpy as np

from flatten.edges.makes import MOST_LEATHERS, USUAL_MAKES, SeamMake
from flatten.edges.named import Makes
from flatten.pieces.piece import Edge, MarkKind, Piece
from meshes.records.seam_kinds import WELTED
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel, Seam

# A mark stands on the corner between two edges of a piece that it belongs to, up to rounding.
AT_JOINT_MM = 0.05


def with_skived_joints(pad: BuiltPad, panel: Panel, piece: Piece, makes: Makes) -> Piece:
    """The piece with the word along its edges where a seam that ends in them makes more than three leathers meet."""
    if not makes:
        return piece
    joints = np.array([mark.at for mark in piece.marks if mark.kind is MarkKind.JOINT]).reshape(-1, 2)
    notes: dict[int, int] = {}
    for k, (rim, edge) in enumerate(zip(panel.rim, piece.edges, strict=True)):
        away = np.linalg.norm(joints - edge.points[0], axis=1)
        if not len(away) or away.min() > AT_JOINT_MM:
            continue
        vertex = int(panel.vertices[rim.vertices[0]])
        own = {rim.seam, panel.rim[k - 1].seam}
        crossing = [seam for seam in pad.seams if seam.name not in own and vertex in seam.vertices[[0, -1]]]
        for seam in crossing:
            for n in (k - 1, k):
                thick = _leathers(piece.edges[n], pad, makes, seam)
                notes[n % len(piece.edges)] = max(notes.get(n % len(piece.edges), 0), thick)
    edges = [_told(edge, notes.get(k, 0)) for k, edge in enumerate(piece.edges)]
    return replace(piece, edges=tuple(edges))


def _leathers(edge: Edge, pad: BuiltPad, makes: Makes, crossing: Seam) -> int:
    """How many leathers meet where a seam ends in the seam of an edge: this piece, what crosses, a welt between."""
    along = next((seam for seam in pad.seams if seam.name == edge.seam), None)
    welt = along is not None and _make(along, makes).kind == WELTED
    return 1 + _make(crossing, makes).crossed + 2 * welt


def _make(seam: Seam, makes: Makes) -> SeamMake:
    return makes.get(seam.name, USUAL_MAKES["welted" if seam.welt else "sewn"])


def _told(edge: Edge, leathers: int) -> Edge:
    if leathers <= MOST_LEATHERS or edge.seam is None:
        return edge
    words = f"skive at the triangle, {leathers} leathers meet"
    return replace(edge, note="; ".join(part for part in (edge.note, words) if part))
