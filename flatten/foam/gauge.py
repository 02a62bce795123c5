"""Gauges for shaping foam with the knife: card templates at full size whose hollow is the rounded edge, or a crown.

The hollow of a rounding gauge follows the outer face of the foam round the turn, with straight legs along face and
side. Marks across the card stand where the rounding begins and ends and in its middle. Lengths mm.
"""

from collections.abc import Sequence

import numpy as np
from shapely.geometry import LineString, Polygon

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
from meshes.outlines.moved import moved_out, rounded
from meshes.records.pad import Pad
from meshes.support.blocks import BlockForm, body_of

# Places along a crown gauge, mm, and the least length of one.
CROWN_STEP_MM, LEAST_GAUGE_MM = 4.0, 60.0
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


def crown_gauges(pad: Pad) -> tuple[Piece, ...]:
    """A gauge for every profile of a block that is cut with a crown: it stands on the block along the profile, from rim
    to rim of its upper face."""
    body = body_of(pad)
    found = []
    for form in () if body is None else body.forms:
        block = pad.layers[form.layer].block
        if block is None or form.crown is None:
            continue
        outline = form.outline or rounded(moved_out(form.base, form.upper))
        region = Polygon(outline.point(outline.samples(CROWN_STEP_MM)))
        lines = dict.fromkeys((profile.direction, profile.at) for profile in block.top)
        found += [one for way, at in lines if (one := _crown_gauge(pad, form, region, (way, at))) is not None]
    return tuple(found)


def _crown_gauge(pad: Pad, form: BlockForm, region: Polygon, cut: tuple[str, float]) -> Piece | None:
    """The gauge along one line, None where that misses the block's upper face."""
    (direction, at), axis = cut, 1 if cut[0] == "along" else 0
    low, high = np.array(region.bounds).reshape(2, 2)[:, axis]
    ends = np.full((2, 2), at)
    ends[:, axis] = low - 1.0, high + 1.0
    met = region.intersection(LineString(ends))
    parts = [part for part in getattr(met, "geoms", [met]) if part.length > LEAST_GAUGE_MM]
    if not parts or form.crown is None:
        return None
    run = np.sort(np.asarray(max(parts, key=lambda part: float(part.length)).coords)[:, axis])
    place = np.linspace(run[0], run[-1], max(round((run[-1] - run[0]) / CROWN_STEP_MM), 2) + 1)
    plan = np.full((len(place), 2), at)
    plan[:, axis] = place
    hollow = np.column_stack([place, form.crown.height(plan)])
    top = float(hollow[:, 1].max()) + HOLLOW_CARD_MM
    shift = -np.array([hollow[0, 0], hollow[:, 1].min()])
    back = np.array([hollow[-1], [hollow[-1, 0], top], [hollow[0, 0], top], hollow[0]]) + shift
    hollow = hollow + shift
    rim = np.vstack([hollow, back[1:-1]])
    name = f"crown gauge, layer {form.layer + 1} {direction} {at:g}"
    ways = ("front", "rear") if direction == "along" else ("left", "right")
    where = f"stands on layer {form.layer + 1}, {pad.side_word(ways[0])} to {pad.side_word(ways[1])}, from rim to rim"
    middle = rim.mean(axis=0)
    return Piece(
        name=name,
        pad=pad.name,
        panels=(),
        edges=(
            Edge("against the foam", EdgeKind.BARE, hollow, 0.0),
            Edge("card", EdgeKind.BARE, back[0:2], 0.0, note=pad.side_word(ways[1])),
            Edge("card", EdgeKind.BARE, back[1:3], 0.0, note=where),
            Edge("card", EdgeKind.BARE, back[2:4], 0.0, note=pad.side_word(ways[0])),
        ),
        outline=CutLine(rim),
        marks=(),
        grain=middle + np.array([[0.0, -10.0], [0.0, 10.0]]),
        mesh=FlatMesh(rim, np.zeros((0, 3), dtype=np.int64), np.zeros((0, 2)), np.zeros((0, 2))),
        notes=(where, "plane the crown until the gauge touches all along"),
        order=CutOrder(material=CARD, kind=PieceKind.GAUGE),
    )


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
