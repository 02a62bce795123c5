"""Blocks of the padding plan: each one flat shape with its own outline, cut square or bevelled, its edges rolled.

The shape is the larger of the block's two faces; a bevel is cut off what is glued up of its sheets. Nothing is added
all round: how far it is larger than the pad its overhang says, and the cover's surface has it too. Lengths mm.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from shapely.geometry import LineString, Polygon

from flatten.foam.cut import LayerShapes
from flatten.foam.rounding import Rounding, texts_of
from flatten.pieces.piece import (
    CutLine,
    CutOrder,
    Edge,
    EdgeKind,
    FlatMesh,
    InnerLine,
    LineKind,
    Mark,
    MarkKind,
    Piece,
    PieceKind,
)
from meshes.base.arrays import FloatArray
from meshes.base.problems import Problem, and_words
from meshes.base.units import Unit
from meshes.outlines.moved import moved_out, rounded
from meshes.padding.block_edge import EdgeForm, rounded_edge
from meshes.padding.layup import twin_number
from meshes.records.compression import curve
from meshes.records.materials import Material
from meshes.records.pad import SIDES, Block, Layer, Outline, Pad
from meshes.seat.build import BuiltPad
from meshes.support.blocks import BlockBody, BlockForm, body_of
from meshes.support.chart import MakeProblem

# Steps along a block's outline, mm, and places through the turn of its edge.
SHAPE_STEP_MM, ROLL_PLACES = 4.0, 33
# A square edge is looked at in triangles of this size, which tell what it takes within 3 %; its radius is taken over so
# much of the cover to both sides; less than this is not told, and a thinner block has no edge to speak of.
EDGE_STEP_MM, WIDE_MM, TOLD_SHORTER_MM, LEAST_BLOCK_MM = 5.0, 20.0, 4.0, 20.0


def block_shapes(
    pad: Pad, index: int, material: Material, roundings: Sequence[Rounding], unit: Unit
) -> LayerShapes | None:
    """The shape of the block that layer `index` is, counted from 0 at the support. Of two that mirror each other the
    right one is drawn; the left one has none of its own."""
    layer, body = pad.layers[index], body_of(pad)
    if layer.block is None or body is None or (layer.where == "left" and _twin(pad, index) is not None):
        return None
    form = next(one for one in body.forms if one.layer == index)
    twin = _twin(pad, index) if layer.where == "right" else None
    outline, line = _outlines(body, form)
    name = f"layer {index + 1}" if twin is None else f"layers {min(index, twin) + 1} and {max(index, twin) + 1}"
    word = "block" if layer.within is None else f"{'side' if twin is not None else pad.side_word(layer.where)} strip"
    sheets = material.laid_up(cut_from_mm(layer))
    rolled = [one for one in roundings if index + 1 in one.layers]
    notes = [*_notes(layer, layer.block, sheets), *_bed(index, pad)]
    notes += [*texts_of(pad, rolled, unit)] if rolled else _rolled(layer.block)
    inner = () if line is None else (InnerLine(_bevel_words(layer, layer.block), line, LineKind.BEVEL),)
    count = max(len(sheets), 1)
    order = CutOrder(count, 0 if twin is None else count, layer.material, PieceKind.PADDING)
    shape = _piece(pad, f"{name} {word}", outline, inner, tuple(notes), order)
    return LayerShapes((index + 1,) if twin is None else tuple(sorted((index + 1, twin + 1))), (shape,))


def cut_from_mm(layer: Layer) -> float:
    """Thickness of the foam that a block is cut from: its crown is cut off it."""
    top = () if layer.block is None else layer.block.top
    return layer.thickness + max([0.0, *(height for profile in top for _, height in profile.points)])


def rolled_edges(pad: Pad) -> tuple[Rounding, ...]:
    """Where blocks that end at the rim have rolled edges, side by side."""
    body = body_of(pad)
    found = []
    for form in () if body is None else body.forms:
        block = pad.layers[form.layer].block
        if block is None:
            continue
        turn = np.deg2rad(90.0 - block.bevel_deg)
        angle = np.linspace(0.0, turn, ROLL_PLACES)
        line = np.column_stack([np.sin(angle) - 1.0, np.cos(angle) - 1.0])
        ways = np.array([[1.0, 0.0], [np.cos(turn), -np.sin(turn)]])
        found += [
            Rounding(side, (form.layer + 1,), block.edge_at(side) * line, ways)
            for side in form.sides
            if block.edge_at(side) > 0.0
        ]
    return tuple(found)


def _twin(pad: Pad, index: int) -> int | None:
    return twin_number(pad.layers, index) if pad.symmetric else None


def _outlines(body: BlockBody, form: BlockForm) -> tuple[FloatArray, FloatArray | None]:
    """The shape to cut (k, 2), and the line of the other face inside it where the sides lean."""
    if form.line is not None:
        base = _around(form.base, form.lower)
        outer = base.intersection(LineString(form.line).buffer(body.pad.layers[form.layer].within, quad_segs=32))
        inner = base.intersection(LineString(form.line).buffer(form.within, quad_segs=32))
        return _ring(outer if outer.area >= inner.area else inner), _edge_over(form, inner, outer)
    lower, upper = _around(form.base, form.lower), _around(form.base, form.upper)
    block = body.pad.layers[form.layer].block
    if form.sides and form.outline is not None and block is not None and block.outline is not None:
        # Its own outline, cut off where what it lies on ends.
        inner, outer = (
            lower.intersection(_around(block.outline, by)) for by in (block.overhang - form.lean, block.overhang)
        )
        return _ring(outer if outer.area >= inner.area else inner), _edge_over(form, inner, outer)
    if form.lower == form.upper:
        return _ring(lower), None
    small, large = sorted((lower, upper), key=lambda region: region.area)
    ring = _ring(small)
    return _ring(large), np.vstack([ring, ring[:1]])


def _edge_over(form: BlockForm, inner: Polygon, outer: Polygon) -> FloatArray | None:
    """The line over the face where a strip's side leans."""
    if inner.equals(outer):
        return None
    small, large = sorted((inner, outer), key=lambda region: region.area)
    line = small.exterior.intersection(large.buffer(-0.01))
    lines = [one for one in getattr(line, "geoms", [line]) if one.length > SHAPE_STEP_MM]
    return np.asarray(max(lines, key=lambda one: float(one.length)).coords) if lines else None


def _around(base: Outline, by_mm: float) -> Polygon:
    outline = rounded(moved_out(base, by_mm))
    return Polygon(outline.point(outline.samples(SHAPE_STEP_MM)))


def _ring(region: Polygon) -> FloatArray:
    """The rim of a region (k, 2), counter-clockwise."""
    points = np.asarray(region.exterior.coords)[:-1]
    return points if region.exterior.is_ccw else points[::-1]


def _bevel_words(layer: Layer, block: Block) -> str:
    face = "upper" if block.bevel_deg > 0.0 else "lower"
    return f"{face} edge, {abs(block.lean_mm(layer.thickness)):.0f} mm in"


def _notes(layer: Layer, block: Block, sheets: Sequence[float]) -> list[str]:
    notes = [f"{layer.thickness:g} mm {layer.material.replace('_', ' ')}"]
    if block.bevel_deg:
        word = "lean in towards the top" if block.bevel_deg > 0.0 else "are undercut"
        notes.append(f"its sides {word} by {abs(block.bevel_deg):g}°, cut once it is glued up")
    else:
        notes.append("cut square, its sides upright")
    if len(sheets) > 1:
        notes.append(f"glued up of {' + '.join(f'{mm:g} mm' for mm in sheets)} sheets")
    whole = cut_from_mm(layer)
    if sheets and sum(sheets) > whole + 1e-6:
        to = f" to {whole:g} mm" if whole > layer.thickness else ""
        notes.append(f"split down from {sum(sheets):g} mm{to}")
    if whole > layer.thickness:
        notes.append(f"crowned: {whole - layer.thickness:g} mm higher inside than at its edge, cut to the crown gauges")
    return notes


def _bed(index: int, pad: Pad) -> list[str]:
    bed = "the board" if index == 0 else f"layer {index}"
    return [f"glue to {bed} (mind the caution on adhesive)", f"arrow: to the {pad.side_word('front')}"]


def _rolled(block: Block) -> list[str]:
    return [f"round its upper edges to R {block.roundest_mm:g} mm"] if block.roundest_mm > 0.0 else []


def _piece(
    pad: Pad, name: str, outline: FloatArray, inner: tuple[InnerLine, ...], notes: tuple[str, ...], order: CutOrder
) -> Piece:
    low, high = outline.min(axis=0), outline.max(axis=0)
    middle, reach = 0.5 * (low + high), min(0.2 * float(high[1] - low[1]), 75.0)
    marks = []
    if pad.symmetric and abs(float(middle[0])) < 1e-6:
        for word, y, way in (("rear", high[1], 1.0), ("front", low[1], -1.0)):
            at = np.array([0.0, float(y)])
            marks.append(Mark(MarkKind.CENTRE, at, np.array([0.0, way]), 0.5, f"centre {pad.side_word(word)}"))
    return Piece(
        name=name,
        pad=pad.name,
        panels=(),
        edges=(Edge("all round", EdgeKind.BARE, np.vstack([outline, outline[:1]]), 0.0, note="cut square"),),
        outline=CutLine(outline),
        marks=tuple(marks),
        grain=middle + np.array([[0.0, reach], [0.0, -reach]]),
        mesh=FlatMesh(outline, np.zeros((0, 3), dtype=np.int64), np.zeros((0, 2)), np.zeros((0, 2))),
        inner=inner,
        notes=notes,
        order=order,
    )


def square_edge_notes(
    pad: BuiltPad, tension_n_per_mm: float, materials: Mapping[str, Material], make_problem: MakeProblem
) -> list[Problem]:
    """A block whose upper edge ends the body, is cut square and is pressed round by its cover: to what radius, and how
    much less of the cover goes round it than is drawn (`block_edge`)."""
    body = body_of(pad.pad) if pad.pad.on_frame and tension_n_per_mm > 0.0 else None
    outer = [form for form in body.forms if form.whole] if body is not None else []
    if not outer:
        return []
    layer = pad.pad.layers[outer[-1].layer]
    square = [side for side in SIDES if layer.block is not None and layer.block.edge_at(side) <= 0.0]
    if layer.block is None or not square or layer.thickness < LEAST_BLOCK_MM:
        return []
    form = EdgeForm(layer.thickness, turn_deg=90.0 - layer.block.bevel_deg)
    pressed = rounded_edge(form, curve(materials[layer.material].table), tension_n_per_mm, edge_mm=EDGE_STEP_MM)
    if not pressed.status.converged or pressed.shorter_mm < TOLD_SHORTER_MM:
        return []
    radius = min(pressed.radius(WIDE_MM), layer.thickness)
    text = f"a cover that pulls with {1000.0 * tension_n_per_mm:.0f} N/m presses the square edge of "
    text += f"{layer.thickness:g} mm {layer.material} round to about {radius:.0f} mm, and goes round it in "
    whole = len(square) == len(SIDES)
    where = "on every side" if whole else f"at the {and_words([pad.pad.side_word(side) for side in square])}"
    text += f"{pressed.shorter_mm:.0f} mm less {where} than round the square one; cut it rolled, edge = "
    text += f"{radius:.0f}{'' if whole else ' there'}, and the cover is drawn round that"
    return [replace(make_problem("G228", ("layer", outer[-1].layer, "edge"), text), warning=True)]
