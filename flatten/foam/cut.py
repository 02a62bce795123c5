"""Padding layers as flat cutting shapes at full size: outline with oversize, bevels, mitres, marks, how many sheets.

A shape is drawn as it lies on what it is glued to: the broken line is the end of the layer on the pad, the full line
is cut. Foam is cut larger than the pad by an oversize (1/2 in a side, less when firm: coxontool.com; how much less is
common practice, no source) wherever it ends square, so that the cover presses it; not where it runs out to nothing, and
not where it meets another part. Lengths mm.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import LineString

from flatten.foam.parts import Part, parts_of
from flatten.pieces.allowance import add_allowances
from flatten.pieces.piece import Edge, EdgeKind, FlatMesh, InnerLine, LineKind, Mark, MarkKind, Piece, PieceKind
from meshes.base.arrays import FloatArray, IntArray
from meshes.base.surface import boundary_loops
from meshes.numerics.contours import contours, longer_than
from meshes.padding.layup import FACE, Lie, Limit, lie_of, twin_number
from meshes.records.materials import Material
from meshes.records.pad import SIDES, Layer, Pad
from meshes.sheet.read import Allowance
from meshes.support.chart import Blame

# Foam that pushes back with as much as this at 40 % is firm, and gets this share of the oversize (common practice, no
# source).
FIRM_KPA, FIRM_SHARE = 5.0, 0.5
# Triangles that shapes are found with, and shorter bevel lines than this that say nothing.
EDGE_MM, SHORT_MM = 12.0, 40.0
ON_MM = 1e-6


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
    blame: Blame,
    edge_mm: float = EDGE_MM,
) -> LayerShapes | None:
    """Cutting shapes of one layer of a pad, counted from 0 at the support. Mirrored layers share the right one's
    shapes; the left one has none of its own.

    Raises ProblemError for a layer that cannot be laid flat.
    """
    layer = pad.layers[index]
    lie = lie_of(pad, index, edge_mm=edge_mm, blame=blame)
    if lie.half and layer.where == "left":
        return None
    pair = lie.half and layer.where == "right"
    twin = twin_number(pad.layers, index) if pair else None
    numbers = (index,) if twin is None else (index, twin)
    material = materials[layer.material]
    over, sheets = oversize_mm(layer, material, allowance.foam), material.sheets_for(layer.thickness)
    parts = parts_of(lie, foam=material.foam)
    cut = _Cut(tuple(sorted(numbers)), material.thickness_mm, sheets, over, allowance.corner, len(parts))
    return LayerShapes(tuple(k + 1 for k in cut.numbers), tuple(_shape(pad, lie, part, cut) for part in parts))


@dataclass(frozen=True)
class _Cut:
    """How the shapes of one layer are cut: numbers of the layers counted from 0, sheets of what thickness, oversize,
    corner rule, and how many parts there are."""

    numbers: tuple[int, ...]
    sheet_mm: float | None
    sheets: int
    over_mm: float
    corner: str
    parts: int

    @property
    def words(self) -> str:
        """Which layers these are."""
        return ("layer " if len(self.numbers) < 2 else "layers ") + " and ".join(str(k + 1) for k in self.numbers)


def _shape(pad: Pad, lie: Lie, part: Part, cut: _Cut) -> Piece:
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
        cut=outline.points,
        faults=outline.faults,
        marks=tuple(_centres(pad, part, rim, cut)),
        grain=arrow,
        mesh=FlatMesh(part.flat, part.cloth.triangles, np.ones((len(part.cloth.triangles), 2)), _along(part)),
        cut_count=cut.sheets,
        mirrored_count=cut.sheets if part.pair else 0,
        inner=tuple(_bevels(pad, lie, part, rim)),
        notes=tuple(_notes(pad, lie, part, cut)),
        material=lie.layer.material,
        kind=PieceKind.PADDING,
    )


def _along(part: Part) -> FloatArray:
    return np.tile(np.array([1.0, 0.0]), (len(part.cloth.triangles), 1))


def _part_words(pad: Pad, layer: Layer, part: Part, cut: _Cut) -> str:
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


def _rim(part: Part) -> IntArray:
    return boundary_loops(part.cloth.triangles)[0]


def _edges(pad: Pad, lie: Lie, part: Part, rim: IntArray, cut: _Cut) -> list[Edge]:
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
        edges.append(Edge(name, EdgeKind.OVERSIZE if over > 0 else EdgeKind.BARE, part.flat[path], over, note=note))
    return edges


def _rim_keys(lie: Lie, part: Part, rim: IntArray) -> list[tuple[str, int]]:
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


def _at_corners(part: Part, rim: IntArray, keys: list[tuple[str, int]]) -> list[tuple[str, int]]:
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


def _limit(lie: Lie, kind: str) -> Limit:
    return next(limit for limit in lie.limits if limit.kind == kind)


def _edge_words(pad: Pad, lie: Lie, part: Part, kind: str, side: int) -> tuple[str, str]:
    """Name of an edge, and what else has to be minded along it."""
    word = pad.side_word(SIDES[side]) if side != FACE else ""
    thick = lie.layer.thickness
    if kind == "mitre":
        half = 0.5 * lie.turn_deg[SIDES[side]]
        on = thick * float(np.tan(np.deg2rad(half)))
        return f"{word} edge", f"mitre {half:.0f}°, outer side {on:.0f} mm longer"
    if kind == "tack":
        return f"{word} tack line", "trim once it is fixed"
    if kind == "corner":
        return "corner", "meets the next part" if part.band != FACE else "edges meet"
    if kind == "side":
        return "corner", "ends in the middle of the corner"
    where = f"{word} side" if kind == "rim" else "over the face"
    return where, "cut square" if _limit(lie, kind).square else "skived to nothing"


# ---- bevels ---------------------------------------------------------------------------------------------------------


def _bevels(pad: Pad, lie: Lie, part: Part, rim: IntArray) -> list[InnerLine]:
    """Lines where the full thickness ends, with what the bevel beyond them comes down to, and over how far."""
    lines = []
    for k, limit in enumerate(lie.limits):
        if limit.square:
            continue
        full = part.cloth.values[:, 4 + 2 * k]
        end = _bevel_end(part, rim, k, full)
        if end is None:
            continue
        drawn = longer_than(SHORT_MM, _full_lines(part, lie, k))
        for line, (run, rest) in zip(drawn, _bevel_runs(part, drawn, end), strict=True):
            words = f"bevel {lie.layer.thickness:.0f} to {rest:.0f} over {run:.0f} mm"
            lines.append(InnerLine(f"{words}, {_towards(pad, lie, limit)}", line, LineKind.BEVEL))
    return lines


def _full_lines(part: Part, lie: Lie, k: int) -> list[FloatArray]:
    """Lines (j, 2) on which the full thickness ends by one limit, as far as it has not ended by another before."""
    others = [part.cloth.values[:, 4 + 2 * j] for j, limit in enumerate(lie.limits) if j != k and not limit.square]
    left = np.min([np.full(len(part.flat), 1e6), *others], axis=0)
    lines = []
    for line in contours(
        np.column_stack([part.flat, left]), part.cloth.triangles, part.cloth.values[:, 4 + 2 * k], 0.0
    ):
        runs: list[list[FloatArray]] = [[]]
        for here, there in pairwise(line):
            runs[-1] += [here[:2]] if here[2] >= 0.0 else []
            if here[2] * there[2] < 0.0:
                runs[-1].append((here + here[2] / (here[2] - there[2]) * (there - here))[:2])
                runs += [[]] if here[2] > 0.0 else []
        runs[-1] += [line[-1, :2]] if line[-1, 2] >= 0.0 else []
        lines += [np.array(run) for run in runs if len(run) > 1]
    return lines


def _bevel_end(part: Part, rim: IntArray, k: int, full: FloatArray) -> IntArray | None:
    """Vertices of the rim where a layer ends beyond its full thickness; None where it is full to its rim."""
    inside = np.abs(part.cloth.values[rim, 3 + 2 * k]) < ON_MM
    tack = (np.abs(part.cloth.values[rim, 0]) < ON_MM) & (full[rim] < 0.0)
    ends = rim[inside] if inside.sum() > 1 else rim[tack]
    return ends if len(ends) > 1 else None


def _bevel_runs(part: Part, lines: list[FloatArray], end: IntArray) -> list[tuple[float, float]]:
    """How far it is from every line of full thickness to the end nearest to it, and how thick the layer still is
    there; medians."""
    ends = shapely.points(part.flat[end])
    away = np.array([shapely.distance(ends, LineString(line)) for line in lines])
    nearest = np.argmin(away, axis=0) if len(lines) else np.zeros(0)
    runs = []
    for k in range(len(lines)):
        own = nearest == k if (nearest == k).any() else np.ones(len(end), dtype=bool)
        runs.append((float(np.median(away[k, own])), float(np.median(part.cloth.values[end[own], 2]))))
    return runs


def _towards(pad: Pad, lie: Lie, limit: Limit) -> str:
    if limit.kind == "face":
        return "inward over the face"
    where = lie.layer.where
    return f"outward past the {pad.side_word(where)} edge" if where in SIDES else "outward"


# ---- marks and words ------------------------------------------------------------------------------------------------


def _centres(pad: Pad, part: Part, rim: IntArray, cut: _Cut) -> list[Mark]:
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


def _notes(pad: Pad, lie: Lie, part: Part, cut: _Cut) -> list[str]:
    layer = lie.layer
    notes = [f"{layer.thickness:g} mm {layer.material.replace('_', ' ')}"]
    if cut.sheet_mm is not None:
        whole = cut.sheets * cut.sheet_mm
        notes += [f"{cut.sheets} sheets of {cut.sheet_mm:g} mm on each other"] if cut.sheets > 1 else []
        notes += [f"split down from {whole:g} mm"] if whole > layer.thickness + 1e-6 else []
    bed = "the support" if cut.numbers[0] == 0 else f"layer {cut.numbers[0]}"
    notes.append(f"glue to {bed} (mind the caution on adhesive)")
    if part.band != FACE:
        notes.append("arrow: up to the edge")
    else:
        notes.append(f"arrow: to the {pad.side_word('front')}")
    if part.let_in and part.band == FACE:
        notes.append("corners: bring the cut edges together")
    if part.gives > 0.03:
        notes.append(f"has to give {100 * part.gives:.0f} % in places")
    return notes
