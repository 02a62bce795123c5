"""Layers of padding as they lie: the surface each one is laid on, where on it the layer ends, and where it is full.

A layer lies on the bare support with the layers beneath it, laid along the directors. That surface is meshed for each
layer anew, on a chart whose edges are as round as the edge beneath the layer, so that even sharp edges give sound
triangles. Seams and pleats of the cover play no part. Lengths mm.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from meshes.base.arrays import FloatArray, IntArray
from meshes.numerics.sizes import Sizes
from meshes.padding.handed import handed_mesh
from meshes.padding.layers import PadDistances, edge_thickness, laid_thickness, layer_thickness, places
from meshes.records.alignment import UNALIGNED, Alignment
from meshes.records.pad import MIRROR_SIDE, SIDES, Layer, Pad
from meshes.support.blocks import bare_edge_mm, face_of
from meshes.support.chart import Chart, MakeProblem, pad_chart
from meshes.support.chart_mesh import ChartMesh
from meshes.support.face import is_even
from meshes.support.loft import loft

# Inner places of the chart that belong to no side.
FACE = -1


@dataclass(frozen=True, eq=False)
class Limit:
    """One way in which a layer comes to its end. kind: "rim" past the edge or at the tack line, "face" over the face,
    "side" where it meets another side. inside (n,): how far inside the end every vertex lies, negative beyond; full
    (n,): how far inside the line where the layer has its full thickness; square: it is cut off square there."""

    kind: str
    inside: FloatArray
    full: FloatArray
    square: bool


@dataclass(frozen=True)
class LaidEdge:
    """The edge of one side where a layer lies over it. beneath_mm: radius of the edge beneath the layer; turn_deg: of
    the side; reach_mm: how far past the edge the layer goes on at its full thickness, 0 where it does not cover it."""

    beneath_mm: float
    turn_deg: float
    reach_mm: float


@dataclass(frozen=True, eq=False)
class LaidLayer:
    """Where one layer lies. points (n, 3) mm of the surface beneath it; triangles (m, 3), the right half only where
    `half`; side (m,): number of the side below the edge, FACE above it; to_tack (n,): way to the tack line, 0 on it;
    past_edge (n,): way past the middle of the edge, negative on the face; in_turn (n,): way inside the turn from
    the nearer of its ends, negative outside; thickness_mm (n,) of the layer itself;
    near (m,): number of the side a triangle lies at; limits: where it ends short of the tack line; edges: by
    side."""

    layer: Layer
    points: FloatArray
    triangles: IntArray
    side: IntArray
    half: bool
    to_tack: FloatArray
    past_edge: FloatArray
    in_turn: FloatArray
    thickness_mm: FloatArray
    near: IntArray
    limits: tuple[Limit, ...]
    edges: dict[str, LaidEdge]


def twin_of(layer: Layer) -> Layer:
    """The layer seen in the mirror."""
    return layer.mirrored()


def twin_number(layers: Sequence[Layer], index: int) -> int | None:
    """Number of the layer that mirrors layer `index`, both counted from 0; None where there is no other.

    Of several alike the first mirrors the first, the second the second.
    """
    layer = layers[index]
    if twin_of(layer) == layer:
        return None
    alike = [k for k, one in enumerate(layers) if one == layer]
    twins = [k for k, one in enumerate(layers) if one == twin_of(layer)]
    return dict(zip(alike, twins, strict=False)).get(index)


def lie_of(
    pad: Pad, index: int, *, edge_mm: float, make_problem: MakeProblem, alignment: Alignment = UNALIGNED
) -> LaidLayer:
    """Where layer `index` of a pad lies, counted from 0 at the support, in triangles of about `edge_mm`; alignment:
    of the pad with its neighbours.

    Of a pad that is the same left and right one half is meshed. Raises ProblemError as `handed_mesh`.
    """
    layer = pad.layers[index]
    under, half = _beneath(pad, index)
    bed = _bed(pad, [pad.layers[k] for k in under], symmetric=half)
    chart = pad_chart(bed, edge_thickness(bed), make_problem)
    mesh = handed_mesh(bed, chart, make_problem, half=half, sizes=Sizes(edge_mm))
    mesh = _right_half(mesh) if half else mesh
    over = _below_blocks(pad, index)
    at = _on_outer(chart, pad_chart(over, edge_thickness(over), make_problem), mesh)
    support = loft(chart, face_of(pad, alignment.built_up), mesh.plan, mesh.u, mesh.c)
    beneath = laid_thickness(over.layers, at)[under].sum(axis=0)
    points = support.points + beneath[:, None] * support.directors
    if half:
        points[np.abs(mesh.plan[:, 0]) < 1e-9, 0] = 0.0
    return LaidLayer(
        layer=layer,
        points=points,
        triangles=mesh.triangles,
        side=mesh.side,
        half=half,
        to_tack=chart.tack(mesh.u) - mesh.c,
        past_edge=mesh.c - chart.edge(mesh.u),
        in_turn=np.minimum(mesh.c, chart.turn_end(mesh.u) - mesh.c),
        thickness_mm=layer_thickness(layer, at),
        near=_near(chart, mesh),
        limits=_limits(layer, at),
        edges=_edges(layer, chart, bed),
    )


def _beneath(pad: Pad, index: int) -> tuple[list[int], bool]:
    """Numbers of the layers beneath layer `index`, and whether one half of the pad says all of how it lies."""
    layer, under = pad.layers[index], list(range(index))
    if not is_even(pad) or _reaches_over(layer, pad):
        return under, False
    # Of two mirrored strips neither lies on the other: both are laid on the same bed.
    under = [k for k in under if pad.layers[k] != twin_of(layer) or layer == twin_of(layer)]
    below = [pad.layers[k] for k in under]
    return under, sorted(map(repr, below)) == sorted(repr(twin_of(one)) for one in below)


def _below_blocks(pad: Pad, index: int) -> Pad:
    """The pad up to the first block that lies on layer `index`: what comes above that does not shape the layer."""
    blocks = [k for k, layer in enumerate(pad.layers) if layer.block is not None and k > index]
    return replace(pad, layers=pad.layers[: blocks[0]]) if blocks else pad


def _reaches_over(layer: Layer, pad: Pad) -> bool:
    """Whether a layer of the left or right side reaches over the centre line."""
    if layer.where not in MIRROR_SIDE:
        return False
    outline, count = pad.outline, len(pad.outline.corners)
    own = [k for k in range(count) if outline.side_of_edge[k] == layer.where]
    width = min(abs(outline.corners[j % count][0]) for k in own for j in (k, k + 1))
    return (layer.within or 0.0) + layer.taper >= width


def _bed(pad: Pad, below: Sequence[Layer], *, symmetric: bool) -> Pad:
    """The pad with nothing but some layers, and its edge line along the middle of the turn on every side but where the
    face runs on."""
    over = pad.bands.over
    sides = {s: replace(side, band=s not in over, seam_below=0.0, welt=False) for s, side in pad.sides.items()}
    return replace(
        pad,
        layers=tuple(below),
        sides=sides,
        inset=None,
        lines=(),
        pleats=None,
        symmetric=symmetric,
    )


def _right_half(mesh: ChartMesh) -> ChartMesh:
    """The right half of a mesh that was mirrored; the left half's vertices come last."""
    assert mesh.mirror is not None
    right = np.arange(len(mesh.plan)) <= mesh.mirror
    own = right[mesh.triangles].all(axis=1)
    number = np.cumsum(right) - 1
    return replace(
        mesh,
        plan=mesh.plan[right],
        u=mesh.u[right],
        c=mesh.c[right],
        triangles=number[mesh.triangles[own]],
        side=mesh.side[own],
        mirror=None,
    )


def _near(chart: Chart, mesh: ChartMesh) -> IntArray:
    """The side every triangle lies at, by those two of its corners that lie farthest out."""
    outmost = np.argsort(-mesh.c[mesh.triangles], axis=1, kind="stable")[:, :2]
    u = np.take_along_axis(mesh.u[mesh.triangles], outmost, axis=1)
    period = chart.outline.period
    ahead = np.mod(u[:, 1] - u[:, 0] + 0.5 * period, period) - 0.5 * period
    middle = u[:, 0] + 0.5 * ahead
    gaps = np.mod(np.array(chart.corners)[None] - middle[:, None], period)
    return np.where(mesh.side >= 0, mesh.side, np.argmin(gaps, axis=1))


def _on_outer(chart: Chart, outer: Chart, mesh: ChartMesh) -> PadDistances:
    """What layers ask about the vertices, whose places count along the outermost surface of the padding.

    A place round the edge has the same angle of turn on every surface; below the turn it has the same way to go.
    """
    u, c = mesh.u, mesh.c
    inner, wide, turn = chart.padded_radius(u), outer.padded_radius(u), chart.turn(u)
    angle = np.where(
        inner > 1e-9, np.clip(c, 0.0, None) / np.maximum(inner, 1e-9), np.where(c > 1e-9, turn, 0.5 * turn)
    )
    angle = np.minimum(np.where(c < 0.0, 0.0, angle), turn)
    turn_end = chart.turn_end(u)
    moved = np.where(c < 0.0, c, angle * wide + np.maximum(c - turn_end, 0.0))
    plan = np.where((c < 0.0)[:, None], mesh.plan, outer.to_plane(u, moved))
    for one, other in zip(chart.overs, outer.overs, strict=True):
        on, drawn, own = one.onto(other, mesh.plan, u, (c, turn_end))
        plan[on], moved[on] = drawn, own
    return places(outer, plan, u, moved)


def _edges(layer: Layer, chart: Chart, bed: Pad) -> dict[str, LaidEdge]:
    """By side the edge beneath a layer; how far it reaches counts from the middle of the edge, along its bed."""
    thick, edges = edge_thickness(bed), {}
    for name in SIDES:
        # The run of a side ends where its corner's arc begins.
        u = np.array([chart.outline.corner_between(name, SIDES[(SIDES.index(name) + 1) % 4]) - 1.0])
        down = float((chart.tack(u) - chart.edge(u))[0])
        covers = layer.where in ("all", "face", name)
        goes = down - layer.taper if layer.where == "all" else layer.below
        if layer.where == name and layer.within is None:
            goes = down
        side = bed.sides[name]
        edges[name] = LaidEdge(bare_edge_mm(bed, name) + thick[name], side.turn_deg, min(goes, down) if covers else 0.0)
    return edges


def _limits(layer: Layer, at: PadDistances) -> tuple[Limit, ...]:
    """Where the layer ends. A taper no longer than the layer is thick is a plain cut that the cover rounds off."""
    taper, square = layer.taper, layer.taper <= layer.thickness
    if layer.where == "all":
        if taper <= 0.0:
            return ()
        return (Limit("rim", at.to_tack, at.to_tack - taper, square),)
    past = layer.below - at.below
    if layer.where == "face":
        return (_rim(past, taper, square=square),)
    if layer.within is None:
        inner = at.below
        own = 2.0 * at.share[layer.where] - 1.0
        inside = inner if square else inner + taper
        return Limit("face", inside, inner, square), Limit("side", own, np.full(len(own), np.inf), True)
    full = layer.within - at.from_side[layer.where]
    return Limit("face", full + taper, full, taper <= 0.0), _rim(past, taper, square=square)


def _rim(past: FloatArray, taper: float, *, square: bool) -> Limit:
    return Limit("rim", past if square else past + taper, past, square)
