"""The outline of a padding layer's part as edges: where it is cut square, skived, mitred, or meets another part.

Every edge says by how much it is cut larger than it lies on the pad, and what has to be minded along it. Lengths mm.
"""

from itertools import pairwise

import numpy as np

from flatten.foam.layer_cut import LayerCut
from flatten.foam.lines import ON_MM, SHARP_MM
from flatten.foam.parts import LayerPart
from flatten.pieces.piece import Edge, EdgeKind
from meshes.base.arrays import FloatArray, IntArray
from meshes.base.surface import boundary_loops
from meshes.padding.layup import FACE, LaidLayer, Limit
from meshes.records.pad import SIDES, Pad


def rim_of(part: LayerPart) -> IntArray:
    """Vertices (r,) of a part's outline in order, counter-clockwise."""
    return boundary_loops(part.cloth.triangles)[0]


def cut_edges(pad: Pad, lie: LaidLayer, part: LayerPart, rim: IntArray, cut: LayerCut) -> list[Edge]:
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


def _half_turn(lie: LaidLayer, side: int, cut: LayerCut) -> float:
    """Half of how far the layer turns at a side, which is less where the face slopes down to its edge; rad."""
    turn = next((one.turn_deg for one in cut.roundings if one.side == SIDES[side]), lie.edges[SIDES[side]].turn_deg)
    return 0.5 * float(np.deg2rad(turn))


def _to_meet_mm(lie: LaidLayer, side: int, cut: LayerCut) -> float:
    """How much farther than the middle of the turn the inner face of a mitred part reaches: foam that does not bend
    goes straight on over the round of the edge, to where face and side would meet square; to a tenth of a mm."""
    half = _half_turn(lie, side, cut)
    return round(lie.edges[SIDES[side]].beneath_mm * (float(np.tan(half)) - half), 1)


def _mitre_words(lie: LaidLayer, side: int, cut: LayerCut) -> str:
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
