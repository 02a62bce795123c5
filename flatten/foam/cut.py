"""Padding layers as flat cutting shapes at full size: outline with oversize, bevels, mitres, marks, how many sheets.

A shape is drawn as it lies on what it is glued to: the broken line is the end of the layer on the pad, the full line
is cut. Foam is cut larger than the pad by an oversize (1/2 in a side, less when firm: coxontool.com; how much less is
common practice, no source) wherever it ends square, so that the cover presses it; not where it runs out to nothing, and
not where it meets another part. Lengths mm.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from flatten.foam.cut_edges import cut_edges, rim_of
from flatten.foam.layer_cut import LayerCut
from flatten.foam.lines import bevel_lines, rounding_lines
from flatten.foam.parted import EDGE_MM, PartedLayer, parted_layer
from flatten.foam.parts import MIRRORED, LayerPart
from flatten.foam.rounding import Rounding, roundings_of, texts_of
from flatten.pieces.allowance import add_allowances
from flatten.pieces.piece import CutOrder, FlatMesh, Mark, MarkKind, Piece, PieceKind
from meshes.base.arrays import FloatArray, IntArray
from meshes.base.units import Unit
from meshes.padding.layup import FACE, LaidLayer
from meshes.records.materials import Material
from meshes.records.pad import SIDES, Layer, Pad
from meshes.sheet.whole import Allowance
from meshes.support.chart import MakeProblem

# Foam that pushes back with as much as this at 40 % is firm, and gets this share of the oversize (common practice, no
# source).
FIRM_KPA, FIRM_SHARE = 5.0, 0.5


def oversize_mm(layer: Layer, material: Material, foam_mm: float) -> float:
    """By how much a layer is cut larger where it ends square; foam_mm: what the sheet asks for foam."""
    if layer.oversize is not None:
        return layer.oversize
    if not material.foam:
        return 0.0
    return foam_mm * (FIRM_SHARE if material.compression_kpa[1] >= FIRM_KPA else 1.0)


@dataclass(frozen=True, eq=False)
class LayerShapes:
    """What one layer, or a mirrored pair of them, is cut from. layers: their numbers from 1 at the support."""

    layers: tuple[int, ...]
    shapes: tuple[Piece, ...]


def layer_shapes(
    pad: Pad,
    index: int,
    materials: Mapping[str, Material],
    allowance: Allowance,
    *,
    make_problem: MakeProblem,
    edge_mm: float = EDGE_MM,
) -> LayerShapes | None:
    """Cutting shapes of one layer of a pad by itself, counted from 0 at the support, as if no other were mitred.
    Mirrored layers share the right one's shapes; the left one has none of its own.

    Raises ProblemError for a layer that cannot be laid flat.
    """
    laid = parted_layer(pad, index, materials, make_problem=make_problem, edge_mm=edge_mm)
    if laid is None:
        return None
    roundings = roundings_of(pad, laid.mitred(), make_problem=make_problem)
    return shapes_of(pad, laid, materials[pad.layers[index].material], allowance, roundings=roundings)


def shapes_of(
    pad: Pad,
    laid: PartedLayer,
    material: Material,
    allowance: Allowance,
    *,
    roundings: Sequence[Rounding] = (),
    unit: Unit = "mm",
) -> LayerShapes:
    """Cutting shapes of a layer that is parted and laid flat; roundings: of its pad, those of other layers too."""
    numbers, thick = tuple(sorted(laid.numbers)), laid.lie.layer.thickness
    own = tuple(one for one in roundings if {k + 1 for k in numbers} & set(one.layers))
    over, sheets = oversize_mm(laid.lie.layer, material, allowance.foam), material.laid_up(thick)
    cut = LayerCut(numbers, material.foam, sheets, over, allowance.corner, len(laid.parts), own, unit)
    rolled = tuple(one.short_words(pad) for one in laid.rolled)
    shapes = tuple(_shape(pad, laid.lie, part, cut, rolled if part.band == FACE else ()) for part in laid.parts)
    return LayerShapes(tuple(k + 1 for k in numbers), shapes)


def _shape(pad: Pad, lie: LaidLayer, part: LayerPart, cut: LayerCut, rolled: Sequence[str]) -> Piece:
    rim = rim_of(part)
    edges = tuple(cut_edges(pad, lie, part, rim, cut))
    outline = add_allowances(edges, corner=cut.corner)
    low, high = outline.points.min(axis=0), outline.points.max(axis=0)
    middle, reach = 0.5 * (low + high), min(0.2 * float(high[1] - low[1]), 75.0)
    # The arrow shows how it is laid: a face to the front or bottom, a band up to the edge.
    arrow = middle + np.array([[0.0, reach], [0.0, -reach]]) * (1.0 if part.band == FACE else -1.0)
    return Piece(
        name=f"{cut.words} {_part_words(pad, lie.layer, part, cut)}",
        pad=pad.name,
        panels=(),
        edges=edges,
        outline=outline,
        marks=tuple(_centres(pad, part, rim, cut)),
        grain=arrow,
        mesh=FlatMesh(part.flat, part.cloth.triangles, np.ones((len(part.cloth.triangles), 2)), _along(part)),
        inner=(*bevel_lines(pad, lie, part, rim), *rounding_lines(lie, part, cut.last, cut.unit)),
        notes=(*_notes(pad, lie, part, cut), *rolled),
        order=CutOrder(cut.sheets, cut.sheets if part.pair else 0, lie.layer.material, PieceKind.PADDING),
    )


def _along(part: LayerPart) -> FloatArray:
    return np.tile(np.array([1.0, 0.0]), (len(part.cloth.triangles), 1))


def _part_words(pad: Pad, layer: Layer, part: LayerPart, cut: LayerCut) -> str:
    if part.band != FACE:
        return f"{_word(pad, part.band, part.pair)} band"
    if layer.where not in SIDES:
        return "face part" if cut.parts > 1 else "face" if layer.where == "face" else "all over"
    word = _word(pad, SIDES.index(layer.where), part.pair)
    return f"{word} strip" if layer.within is not None else "side" if word == "side" else f"{word} side"


def _word(pad: Pad, side: int, pair: bool) -> str:
    """What a side is called; the right one of a mirrored pair stands for both."""
    return "side" if pair and SIDES[side] in ("left", "right") else pad.side_word(SIDES[side])


def _centres(pad: Pad, part: LayerPart, rim: IntArray, cut: LayerCut) -> list[Mark]:
    """Where the centre line of the pad crosses the outline of a part that is the same left and right."""
    if part.cloth.mirror is None:
        return []
    marks = []
    for v in rim[part.cloth.mirror[rim] == rim].tolist():
        at = part.flat[v]
        up = bool(at[1] >= part.flat[rim, 1].mean())
        outward = np.array([0.0, 1.0 if up else -1.0])
        words = "centre"
        if part.band == FACE:
            words = f"centre {pad.side_word('rear' if up else 'front')}"
        marks.append(Mark(MarkKind.CENTRE, at, outward, max(cut.over_mm, 0.5), words))
    return marks


def _on_each_other(sheets_mm: Sequence[float]) -> str:
    counts = {mm: sheets_mm.count(mm) for mm in sheets_mm}
    if len(counts) == 1:
        return f"{len(sheets_mm)} sheets of {sheets_mm[0]:g} mm on each other"
    each = " and ".join(f"{count} of {mm:g} mm" for mm, count in counts.items())
    return f"{len(sheets_mm)} sheets on each other: {each}"


def _notes(pad: Pad, lie: LaidLayer, part: LayerPart, cut: LayerCut) -> list[str]:
    layer = lie.layer
    notes = [f"{layer.thickness:g} mm {layer.material.replace('_', ' ')}"]
    if cut.sheets_mm:
        whole = sum(cut.sheets_mm)
        notes += [_on_each_other(cut.sheets_mm)] if cut.sheets > 1 else []
        split = f"split down from {whole:g} mm"
        thinner = split if cut.foam else f"bought or peeled thinner than the usual {whole:g} mm"
        notes += [thinner] if whole > layer.thickness + 1e-6 else []
    bed = "the support" if cut.numbers[0] == 0 else f"layer {cut.numbers[0]}"
    notes.append(f"glue to {bed} (mind the caution on adhesive)")
    if part.band != FACE:
        notes.append("arrow: up to the edge")
    else:
        notes.append(f"arrow: to the {pad.side_word('front')}")
    sides = part.parted | ({MIRRORED[k] for k in part.parted} if part.pair else set())
    rounded = [one for one in cut.roundings if SIDES.index(one.side) in sides]
    notes += texts_of(pad, [one for one in rounded if one in cut.last], cut.unit)
    later = dict.fromkeys(one.layer_words for one in rounded if one not in cut.last)
    notes += [f"leave the edge square: {words} are rounded together" for words in later]
    if part.let_in and part.band == FACE:
        notes.append("corners: bring the cut edges together")
    if part.gives > 0.03:
        notes.append(f"has to give {100 * part.gives:.0f} % in places")
    return notes
