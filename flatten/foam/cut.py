"""Padding layers as flat cutting shapes at full size: outline with oversize, bevels, mitres, marks, how many sheets.

A shape is drawn as it lies on what it is glued to: the broken line is the end of the layer on the pad, the full line
is cut. Foam is cut larger than the pad by an oversize (1/2 in a side, less when firm: coxontool.com; how much less is
common practice, no source) wherever it ends square, so that the cover presses it; not where it runs out to nothing, and
not where it meets another part. Lengths mm.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from flatten.foam.lines import ON_MM, SHARP_MM, bevel_lines, rounding_lines
from flatten.foam.parted import EDGE_MM, PartedLayer, parted_layer
from flatten.foam.parts import MIRRORED, LayerPart
from flatten.foam.rounding import Rounding, roundings_of, texts_of
from flatten.pieces.allowance import add_allowances
from flatten.pieces.piece import CutOrder, Edge, EdgeKind, FlatMesh, Mark, MarkKind, Piece, PieceKind
from meshes.base.arrays import FloatArray, IntArray
from meshes.base.surface import boundary_loops
from meshes.base.units import Unit
from meshes.padding.layup import FACE, LaidLayer, Limit
from meshes.records.materials import Material
from meshes.records.pad import SIDES, Layer, Pad
from meshes.sheet.read import Allowance
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
    over, sheets = oversize_mm(laid.lie.layer, material, allowance.foam), material.sheets_for(thick)
    cut = _LayerCut(
        numbers, material.foam, material.thickness_mm, sheets, over, allowance.corner, len(laid.parts), own, unit
    )
    shapes = tuple(_shape(pad, laid.lie, part, cut) for part in laid.parts)
    return LayerShapes(tuple(k + 1 for k in numbers), shapes)


@dataclass(frozen=True)
class _LayerCut:
    """How the shapes of one layer are cut: numbers of the layers counted from 0, whether they are foam, which can be
    split, sheets of what thickness, oversize,
    corner rule, how many parts there are, roundings that the layer is in, and the unit of the sheet."""

    numbers: tuple[int, ...]
    foam: bool
    sheet_mm: float | None
    sheets: int
    over_mm: float
    corner: str
    parts: int
    roundings: tuple[Rounding, ...]
    unit: Unit

    @property
    def last(self) -> tuple[Rounding, ...]:
        """Roundings that are done once this layer is glued."""
        return tuple(one for one in self.roundings if one.layers[-1] - 1 in self.numbers)

    @property
    def words(self) -> str:
        """Which layers these are."""
        return ("layer " if len(self.numbers) < 2 else "layers ") + " and ".join(str(k + 1) for k in self.numbers)


def _shape(pad: Pad, lie: LaidLayer, part: LayerPart, cut: _LayerCut) -> Piece:
    rim = _rim(part)
    edges = tuple(_edges(pad, lie, part, rim, cut))
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
        notes=tuple(_notes(pad, lie, part, cut)),
        order=CutOrder(cut.sheets, cut.sheets if part.pair else 0, lie.layer.material, PieceKind.PADDING),
    )


def _along(part: LayerPart) -> FloatArray:
    return np.tile(np.array([1.0, 0.0]), (len(part.cloth.triangles), 1))


def _part_words(pad: Pad, layer: Layer, part: LayerPart, cut: _LayerCut) -> str:
    if part.band != FACE:
        return f"{_word(pad, part.band, part.pair)} band"
    if layer.where not in SIDES:
        return "face part" if cut.parts > 1 else "face" if layer.where == "face" else "all over"
    word = _word(pad, SIDES.index(layer.where), part.pair)
    return f"{word} strip" if layer.within is not None else "side" if word == "side" else f"{word} side"


def _word(pad: Pad, side: int, pair: bool) -> str:
    """What a side is called; the right one of a mirrored pair stands for both."""
    return "side" if pair and SIDES[side] in ("left", "right") else pad.side_word(SIDES[side])


# ---- edges ----------------------------------------------------------------------------------------------------------


def _rim(part: LayerPart) -> IntArray:
    return boundary_loops(part.cloth.triangles)[0]


def _edges(pad: Pad, lie: LaidLayer, part: LayerPart, rim: IntArray, cut: _LayerCut) -> list[Edge]:
    """The outline as it lies on the pad, in runs of one kind along one side."""
    keys = _rim_keys(lie, part, rim)
    breaks = [k for k in range(len(rim)) if keys[k] != keys[k - 1]] or [0]
    edges = []
    for start, end in pairwise([*breaks, breaks[0] + len(rim)]):
        path = rim[np.arange(start, end + 1) % len(rim)]
        kind, side = keys[start]
        square = kind == "tack" or (kind in ("rim", "face") and _limit(lie, kind).square)
        over = cut.over_mm if square else 0.0
        name, note = _edge_words(pad, lie, part, kind, side)
        if kind == "mitre":
            over, note = _to_meet_mm(lie, side, cut), _mitre_words(lie, side, cut)
        what = EdgeKind.MITRED if kind == "mitre" else EdgeKind.OVERSIZE
        edges.append(Edge(name, what if over > 0 else EdgeKind.BARE, part.flat[path], over, note=note))
    return edges


def _half_turn(lie: LaidLayer, side: int, cut: _LayerCut) -> float:
    """Half of how far the layer turns at a side, which is less where the face slopes down to its edge; rad."""
    turn = next((one.turn_deg for one in cut.roundings if one.side == SIDES[side]), lie.edges[SIDES[side]].turn_deg)
    return 0.5 * float(np.deg2rad(turn))


def _to_meet_mm(lie: LaidLayer, side: int, cut: _LayerCut) -> float:
    """How much farther than the middle of the turn the inner face of a mitred part reaches: foam that does not bend
    goes straight on over the round of the edge, to where face and side would meet square; to a tenth of a mm."""
    half = _half_turn(lie, side, cut)
    return round(lie.edges[SIDES[side]].beneath_mm * (float(np.tan(half)) - half), 1)


def _mitre_words(lie: LaidLayer, side: int, cut: _LayerCut) -> str:
    """Angle of a mitre, how much longer the outer side is, and how round it is made once glued."""
    half = _half_turn(lie, side, cut)
    words = f"mitre {np.rad2deg(half):.0f}°, outer side {lie.layer.thickness * float(np.tan(half)):.0f} mm longer"
    for one in cut.last:
        if one.side == SIDES[side]:
            sharp = lie.edges[one.side].beneath_mm <= SHARP_MM
            begins = " from straight above this edge" if sharp else ""
            return f"{words}, then rounded to {one.radius_words(cut.unit)}{begins}"
    return words


def _rim_keys(lie: LaidLayer, part: LayerPart, rim: IntArray) -> list[tuple[str, int]]:
    """What happens at every side of the outline, from each vertex of the rim to the next, and at which side of the
    pad."""
    values, after = part.cloth.values, np.roll(rim, -1)
    owner: dict[tuple[int, int], int] = {}
    for t, (a, b, c) in enumerate(part.cloth.triangles.tolist()):
        owner |= {(a, b): t, (b, c): t, (c, a): t}
    on: dict[str, FloatArray] = {limit.kind: values[:, 3 + 2 * k] for k, limit in enumerate(lie.limits)}
    on |= {"tack": values[:, 0]}
    if part.parted:
        on["mitre"] = values[:, 1]
    keys = []
    for a, b in zip(rim.tolist(), after.tolist(), strict=True):
        side = int(part.cloth.near[owner[a, b]])
        kind = next((name for name, f in on.items() if abs(f[a]) < ON_MM and abs(f[b]) < ON_MM), "corner")
        keys.append((kind, FACE if kind in ("corner", "face") else side))
    return _at_corners(part, rim, keys)


def _at_corners(part: LayerPart, rim: IntArray, keys: list[tuple[str, int]]) -> list[tuple[str, int]]:
    """The same, changing from side to side at the corner itself where a triangle of the next side reaches past it."""
    points = part.flat[rim]
    along = np.roll(points, -1, axis=0) - points
    heading = np.arctan2(along[:, 1], along[:, 0])
    turn = np.abs(np.angle(np.exp(1j * (heading - np.roll(heading, 1)))))
    moved, n = list(keys), len(rim)
    for k in range(n):
        before, after = keys[k - 1], keys[k]
        if before[0] != after[0] or before == after:
            continue
        sharpest = max((k, k - 1, (k + 1) % n), key=lambda j: (round(float(turn[j]), 6), j == k))
        if sharpest == k - 1 or (k == 0 and sharpest == n - 1):
            moved[k - 1] = after
        elif sharpest == (k + 1) % n and sharpest != k:
            moved[k] = before
    return moved


def _limit(lie: LaidLayer, kind: str) -> Limit:
    return next(limit for limit in lie.limits if limit.kind == kind)


def _edge_words(pad: Pad, lie: LaidLayer, part: LayerPart, kind: str, side: int) -> tuple[str, str]:
    """Name of an edge, and what else has to be minded along it."""
    word = pad.side_word(SIDES[side]) if side != FACE else ""
    if kind == "mitre":
        return f"{word} edge", ""
    if kind == "tack":
        return f"{word} tack line", "trim once it is fixed"
    if kind == "corner":
        return "corner", "meets the next part" if part.band != FACE else "edges meet"
    if kind == "side":
        return "corner", "ends in the middle of the corner"
    where = f"{word} side" if kind == "rim" else "over the face"
    return where, "cut square" if _limit(lie, kind).square else "skived to nothing"


# ---- marks and words ------------------------------------------------------------------------------------------------


def _centres(pad: Pad, part: LayerPart, rim: IntArray, cut: _LayerCut) -> list[Mark]:
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


def _notes(pad: Pad, lie: LaidLayer, part: LayerPart, cut: _LayerCut) -> list[str]:
    layer = lie.layer
    notes = [f"{layer.thickness:g} mm {layer.material.replace('_', ' ')}"]
    if cut.sheet_mm is not None:
        whole = cut.sheets * cut.sheet_mm
        notes += [f"{cut.sheets} sheets of {cut.sheet_mm:g} mm on each other"] if cut.sheets > 1 else []
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
