"""Snips in the allowance of a roll's tube, so that it spreads round its discs: its edge lies outside its seam, and
would have to be longer by 2 pi times the allowance."""

from dataclasses import replace

import numpy as np

from flatten.pieces.notches import notch_marks
from flatten.pieces.piece import MarkKind, Piece
from meshes.base.surface import curve_length
from meshes.closed.words import snip_spacing_mm
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel, PanelRole

# A snip nearer to the slit of another mark is the same cut (common practice, no source).
CLEAR_OF_MARKS_MM = 1.5


def with_snips(pad: BuiltPad, panel: Panel, piece: Piece) -> Piece:
    """The piece of a tube with its snips, evenly along its round seams, left out beside other marks; others as they
    are."""
    apart = snip_spacing_mm(pad)
    if apart is None or panel.role is not PanelRole.BAND:
        return piece
    snips = []
    for edge in piece.edges:
        if edge.seam is None:
            continue
        count = max(int(np.ceil(curve_length(edge.points) / apart - 1e-9)), 1)
        marks = notch_marks(edge, (np.arange(count) + 0.5) / count, double=False)
        snips += [replace(mark, kind=MarkKind.SNIP, pen=True) for mark in marks]
    others = np.array([spot for mark in piece.marks for spot in mark.spots]).reshape(-1, 2)
    clear = [
        snip
        for snip in snips
        if not len(others) or float(np.linalg.norm(others - snip.at, axis=1).min()) >= CLEAR_OF_MARKS_MM
    ]
    return replace(piece, marks=(*piece.marks, *clear))
