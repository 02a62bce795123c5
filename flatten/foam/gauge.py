"""Gauges for rounding foam with the knife: card templates at full size whose hollow is the rounded edge.

The hollow follows the outer face of the foam round the turn, with straight legs along face and side. Marks across the
card stand where the rounding begins and ends and in its middle. Lengths mm.
"""

from collections.abc import Sequence

import numpy as np

from flatten.foam.rounding import Rounding, grouped, side_words
from flatten.pieces.piece import (
    CARD,
    CutLine,
    CutOrder,
    Edge,
    EdgeKind,
    FlatMesh,
    InnerLine,
    LineKind,
    Piece,
    PieceKind,
)
from meshes.base.arrays import FloatArray
from meshes.base.units import Unit, length_words
from meshes.records.pad import Pad

# How far the legs run along face and side past the rounding, how wide the card is there, and how long its marks are.
LEG_MM, HOLLOW_CARD_MM, MARK_MM = 40.0, 45.0, 27.0


def rounding_gauges(pad: Pad, roundings: Sequence[Rounding], *, unit: Unit) -> tuple[Piece, ...]:
    """One gauge for all roundings of a pad that are alike."""
    groups = grouped(roundings)
    names = [f"rounding gauge {group[0].radius_words(unit)}" for group in groups]
    told = [
        f"{name}, {side_words(pad, group)}" if names.count(name) > 1 else name
        for group, name in zip(groups, names, strict=True)
    ]
    return tuple(_gauge(pad, group, name, unit) for group, name in zip(groups, told, strict=True))


def hollow_of(rounding: Rounding) -> FloatArray:
    """The hollow (k, 2) from the end of the leg along the face to that of the leg down the side, outward and up."""
    line, (into, out) = rounding.line, rounding.ways
    return np.vstack([line[0] - LEG_MM * into, line, line[-1] + LEG_MM * out])


def _gauge(pad: Pad, group: Sequence[Rounding], name: str, unit: Unit) -> Piece:
    first = group[0]
    hollow, back = hollow_of(first), _back(first)
    shift = -np.vstack([hollow, back]).min(axis=0)
    hollow, back = hollow + shift, back + shift
    rim = np.vstack([hollow, back[1:-1]])
    middle = rim.mean(axis=0)
    first_bevel = f"first a flat bevel from {length_words(first.bevel_mm, unit=unit)} outside the lines"
    where = _where(pad, group)
    return Piece(
        name=name,
        pad=pad.name,
        panels=(),
        edges=(
            Edge("against the foam", EdgeKind.BARE, hollow, 0.0),
            *_backs(back, ("; ".join(where), first_bevel)),
        ),
        outline=CutLine(rim),
        marks=(),
        grain=middle + np.array([[0.0, -10.0], [0.0, 10.0]]),
        mesh=FlatMesh(rim, np.zeros((0, 3), dtype=np.int64), np.zeros((0, 2)), np.zeros((0, 2))),
        inner=_marks(first, shift),
        notes=(*where, first_bevel),
        order=CutOrder(material=CARD, kind=PieceKind.GAUGE),
    )


def _where(pad: Pad, group: Sequence[Rounding]) -> list[str]:
    """Where and when the gauge is used, side by side where that differs."""
    found = dict.fromkeys(one.when for one in group)
    return [f"{side_words(pad, [one for one in group if one.when == when])}, {when}" for when in found]


def _off(way: FloatArray) -> FloatArray:
    """Away from the foam, square to the way along it."""
    return np.array([-way[1], way[0]])


def _back(rounding: Rounding) -> FloatArray:
    """The other edges of the card (5, 2), from the end of the leg down the side to that along the face: its outer edges
    run along the legs, and meet beyond the corner."""
    hollow, off = hollow_of(rounding), np.array([_off(way) for way in rounding.ways])
    reach = HOLLOW_CARD_MM + np.array([off[0] @ hollow[0], off[1] @ hollow[-1]])
    corner = np.linalg.solve(off, reach)
    return np.array(
        [hollow[-1], hollow[-1] + HOLLOW_CARD_MM * off[1], corner, hollow[0] + HOLLOW_CARD_MM * off[0], hollow[0]]
    )


def _backs(back: FloatArray, words: tuple[str, str]) -> list[Edge]:
    """The other edges of the card, one by one; words: what is written along its outer two."""
    notes = ("", *words, "")
    return [Edge("card", EdgeKind.BARE, back[k : k + 2], 0.0, note=note) for k, note in enumerate(notes)]


def _marks(rounding: Rounding, shift: FloatArray) -> tuple[InnerLine, ...]:
    """Lines across the card where the rounding begins, at its middle, and where it ends."""
    line, (into, out) = rounding.line, rounding.ways
    across = (into + out) / np.linalg.norm(into + out)
    ends = ((line[0], into), (line[len(line) // 2], across), (line[-1], out))
    return tuple(
        InnerLine(word, np.array([at, at + MARK_MM * _off(way)]) + shift, LineKind.ROUNDING)
        for word, (at, way) in zip(("rounding begins", "middle", "rounding begins"), ends, strict=True)
    )
