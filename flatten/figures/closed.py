"""Figures of pads without a frame: how a closed cover is smaller than its core, how full it is, how long its zip; what
a flat board is covered with."""

from typing import Any

from flatten.figures.rounded import length
from flatten.trim.board_plan import board_mm2
from meshes.closed.words import zip_side_words
from meshes.seat.build import BuiltPad


def closed_row(pad: BuiltPad) -> dict[str, Any] | None:
    """What follows of a closed cover; None for a pad on a frame."""
    closed, facts = pad.pad.closed, pad.closed
    if closed is None or facts is None:
        return None
    return {
        "form": closed.form,
        "core": closed.core,
        "thickness_mm": length(closed.thickness),
        "rear_thickness_mm": None if closed.rear is None else length(closed.rear),
        "band_mm": length(closed.height),
        "board_mm": length(closed.board),
        "undersize_mm": length(facts.smaller.mm),
        "undersize_row": facts.smaller.row,
        "tension_n_per_mm": length(facts.tension_n_per_mm),
        "rise_mm": length(facts.rise_mm),
        "zip_mm": length(facts.zip_mm),
        "zip_along": None if closed.form == "roll" or not closed.filled else zip_side_words(pad.pad, closed),
    }


def board_row(pad: BuiltPad) -> dict[str, Any] | None:
    """What is said of a board that is covered flat; None for any other pad."""
    board = pad.pad.board
    if board is None:
        return None
    return {
        "thickness_mm": length(board.thickness),
        "wrap_mm": length(board.wrap),
        "area_mm2": length(board_mm2(pad, board)),
        "pair": board.pair,
        "openings": [{"name": one.name, "wrap_mm": length(one.wrap)} for one in board.openings],
        "holes": [{"name": one.name, "diameter_mm": length(one.diameter)} for one in board.holes],
    }
