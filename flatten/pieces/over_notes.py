"""Where on a piece something is, in a trimmer's words, and what a piece says of places over its budget."""

from dataclasses import replace

import numpy as np

from flatten.leather.verdict import Verdict
from flatten.maps.flat import Flat
from flatten.pieces.piece import Piece

# Nearer to the edge than this share of the piece's smaller side counts as "along" that edge.
ALONG_SHARE = 0.25


def near(piece: Piece, triangle: int) -> str:
    """Where a triangle of the piece lies: near which of its edges, or in the middle."""
    middle = piece.mesh.points[piece.mesh.triangles[triangle]].mean(axis=0)
    away = [float(np.linalg.norm(edge.points - middle, axis=1).min()) for edge in piece.edges]
    x0, y0, x1, y1 = piece.box()
    if min(away) > ALONG_SHARE * min(x1 - x0, y1 - y0):
        return "in the middle"
    nearest = int(np.argmin(away))
    return f"near edge {nearest + 1} ({piece.edges[nearest].name})"


def over_by(flat: Flat) -> str:
    """By how much a piece is over its budget, and on how much of it; nothing when it is not."""
    if flat.over is None:
        return ""
    share = flat.over.share
    area = f"{100.0 * share:.0f}" if share >= 0.095 else f"{max(100.0 * share, 0.1):.1f}"
    beyond = max(100.0 * flat.over.excess, 0.1)
    return f"up to {beyond:.1f} % beyond what the leather gives, on {area} % of its area"


def over_words(piece: Piece, flat: Flat) -> str:
    """The same, and where most."""
    return "" if flat.over is None else f"{over_by(flat)}, most {near(piece, flat.over.triangle)}"


def with_over_note(piece: Piece, flat: Flat) -> Piece:
    """The piece with what the sewer has to know of places over its budget."""
    words = over_words(piece, flat)
    if not words:
        return piece
    advice = "ease the fullness in there" if flat.verdict == Verdict.EASE else f"{flat.verdict}: see the report first"
    return replace(piece, notes=(*piece.notes, f"{words}; {advice}"))
