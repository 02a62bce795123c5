"""Pieces that are cut from another leather than the sheet's say so."""

from collections.abc import Sequence
from dataclasses import replace

from flatten.coverings.covering import Coverings
from flatten.pieces.piece import Piece


def from_coverings(pieces: Sequence[Piece], coverings: Coverings) -> list[Piece]:
    """The pieces, each with the leather it is cut from where that is not the sheet's own."""
    return [
        replace(piece, order=replace(piece.order, leather=coverings.card(piece.panels[0]).name))
        if piece.panels[0] in coverings.other
        else piece
        for piece in pieces
    ]
