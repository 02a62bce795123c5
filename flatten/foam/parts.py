"""Parts that a layer of padding is cut in: what it covers, where it is parted or let in, and each part laid flat.

One part for as long as the stuff takes the shape. Foam more than twice as thick as the edge beneath it is round does
not bend round it, as its inner side would be crushed by more than half against its middle: it is parted along the
middle of that edge into a face part and bands, mitred at the turn. An edge that turns by much more than a quarter has
no mitre: foam is rolled over it. Where one part asks the stuff to give more than it does, it is let in at the corners
of the pad; foam that still asks too much is parted along all edges. Flat parts are those of least energy. Lengths mm.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from flatten.demand.develop import flatten
from flatten.demand.options import Aim, Options
from flatten.leather.grain import carried, upright
from meshes.base.arrays import BoolArray, FloatArray, IntArray
from meshes.base.surface import components, directed_edges, triangle_areas
from meshes.padding.layup import FACE, LaidLayer
from meshes.records.pad import SIDES

# How much stuff gives, as a share of its length, before it is let in or parted (common practice, no source).
FOAM_GIVES, STUFFING_GIVES = 0.10, 0.25
# Most turn of an edge at which foam is mitred, degrees (common practice, no source).
MITRE_DEG = 100.0
# The share of a part's area that may ask for more.
OUTSIDE = 0.02
# Beyond any length on a seat.
FAR_MM = 1e6
# Foam bends round an edge up to so many times as thick as the edge is round; see above.
BENDS = 2.0
# Number of the side that mirrors each.
MIRRORED = tuple(SIDES.index({"left": "right", "right": "left"}.get(s, s)) for s in SIDES)
# A corner of a triangle this near to where a layer ends, as a share of the side there, is moved onto the end.
END_SNAP_SHARE = 0.1
# Specks left over where a line only grazes a layer, mm2.
SPECK_MM2 = 400.0


@dataclass(frozen=True, eq=False)
class Cloth:
    """Triangles with what is known at their corners, in whatever division. points (n, 3); triangles (m, 3); side, near
    (m,); values (n, k): to_tack, past_edge, thickness, inside and full of every limit, and in_turn; mirror (n,), or
    None."""

    points: FloatArray
    triangles: IntArray
    side: IntArray
    near: IntArray
    values: FloatArray
    mirror: IntArray | None = None


@dataclass(frozen=True, eq=False)
class LayerPart:
    """One part of a layer. words: "" for a layer in one part, "face part", or a side's number for its band; flat (n, 2)
    mm with what was on the pad pointing up: the rear of a face, the edge above a band; pair: it stands for its mirror
    image too; parted: numbers of the sides along whose edge it is mitred; let_in: at the corners; gives: how much it
    asks of the stuff, as a share of its length, for all but OUTSIDE of its area."""

    cloth: Cloth
    flat: FloatArray
    band: int
    pair: bool
    parted: frozenset[int]
    let_in: bool
    gives: float


def parts_of(lie: LaidLayer, *, foam: bool) -> tuple[LayerPart, ...]:
    """The parts of a layer, of foam or of stuffing. Raises ProblemError for one that cannot be laid flat."""
    limit = FOAM_GIVES if foam else STUFFING_GIVES
    thick = lie.layer.thickness
    edges = [lie.edges[side] for side in SIDES]
    goes_on = frozenset(k for k, e in enumerate(edges) if e.reach_mm > thick and e.turn_deg <= MITRE_DEG)
    stiff = frozenset(k for k in goes_on if foam and thick > BENDS * edges[k].beneath_mm)
    whole = _covered(lie)
    best = _divided(lie, whole, stiff, let_in=False)
    if _most(best) > limit:
        best = min(best, _divided(lie, whole, stiff, let_in=True), key=_most)
    if foam and _most(best) > limit and stiff != goes_on:
        best = min(best, _divided(lie, whole, goes_on, let_in=False), key=_most)
    return best


def mitred_sides(lie: LaidLayer, parts: Sequence[LayerPart]) -> frozenset[str]:
    """Names of the sides along whose edge a layer is parted into a face and a band that meet in a mitre, on the whole
    pad; of a layer that lies at one side only that side."""
    sides = [{k for part in parts if part.band == FACE for k in part.parted}, {part.band for part in parts} - {FACE}]
    if lie.half:
        sides = [found | {MIRRORED[k] for k in found} for found in sides]
    own = {lie.layer.where} & set(SIDES) or set(SIDES)
    return frozenset(SIDES[k] for k in sides[0] & sides[1] if SIDES[k] in own)


def _most(parts: Sequence[LayerPart]) -> float:
    return max((part.gives for part in parts), default=0.0)


def _covered(lie: LaidLayer) -> Cloth:
    """The triangles a layer covers, cut along its ends."""
    columns = [lie.to_tack, lie.past_edge, lie.thickness_mm]
    for limit in lie.limits:
        columns += [limit.inside, limit.full]
    columns.append(lie.in_turn)
    values = np.clip(np.column_stack(columns), -FAR_MM, FAR_MM)
    cloth = Cloth(lie.points, lie.triangles, lie.side, lie.near, values)
    for k in range(len(lie.limits)):
        cloth = _trimmed(cloth, 3 + 2 * k)
    return cloth


def _trimmed(cloth: Cloth, column: int) -> Cloth:
    """The part of a cloth where a value is not negative; triangles across its zero line are cut."""
    table = np.column_stack([cloth.points, cloth.values])
    at = 3 + column
    old = table[:, at].copy()
    _snap(table, cloth.triangles, at)
    f = table[:, at]
    # In a corner all three of a triangle may lie on the end: it belongs to the layer unless it was moved there.
    keep = (f[cloth.triangles] >= 0.0).all(axis=1) & (old[cloth.triangles].sum(axis=1) >= 0.0)
    rows, owner = [cloth.triangles[keep]], [np.flatnonzero(keep)]
    made: dict[tuple[int, int], int] = {}
    added: list[FloatArray] = []
    for k in np.flatnonzero((f[cloth.triangles] < 0.0).any(axis=1) & (f[cloth.triangles] > 0.0).any(axis=1)):
        ring: list[int] = []
        corners = cloth.triangles[k].tolist()
        for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
            if f[a] >= 0.0:
                ring.append(a)
            if f[a] * f[b] < 0.0:
                pair = (min(a, b), max(a, b))
                if pair not in made:
                    made[pair] = len(table) + len(added)
                    p, q = pair
                    share = f[p] / (f[p] - f[q])
                    new = (1.0 - share) * table[p] + share * table[q]
                    new[at] = 0.0
                    added.append(new)
                ring.append(made[pair])
        fan = [[ring[0], ring[j], ring[j + 1]] for j in range(1, len(ring) - 1)]
        rows.append(np.array(fan, dtype=np.int64))
        owner.append(np.full(len(fan), k))
    table = np.concatenate([table, np.array(added).reshape(-1, table.shape[1])])
    own = np.concatenate(owner)
    whole = Cloth(table[:, :3], np.concatenate(rows), cloth.side[own], cloth.near[own], table[:, 3:])
    return _some(whole, np.ones(len(whole.triangles), dtype=bool))


def _snap(table: FloatArray, triangles: IntArray, at: int) -> None:
    """Move rows that are almost on the zero line of a column onto it, so that no cut leaves slivers.

    Along the rim only along the rim, which keeps its shape. Changes the table.
    """
    edges = directed_edges(triangles)
    keys, count = np.unique(np.sort(edges, axis=1), axis=0, return_counts=True)
    on_rim = np.zeros(len(table), dtype=bool)
    on_rim[keys[count == 1].ravel()] = True
    f, old = table[:, at].copy(), table.copy()
    table[np.abs(f) < 1e-9, at] = 0.0
    rim = keys[count == 1]
    ways = [(rim, True), (rim[:, ::-1], True), (keys, False), (keys[:, ::-1], False)]
    for p, q, along in ((p, q, along) for rows, along in ways for p, q in rows.tolist()):
        if f[p] * f[q] >= 0.0 or table[p, at] == 0.0 or table[q, at] == 0.0:
            continue
        share = f[p] / (f[p] - f[q])
        if share < END_SNAP_SHARE and (along or not on_rim[p]):
            table[p] = (1.0 - share) * old[p] + share * old[q]
            table[p, at] = 0.0


def _some(cloth: Cloth, keep: BoolArray) -> Cloth:
    """Some triangles of a cloth with their own vertices."""
    used, local = np.unique(cloth.triangles[keep], return_inverse=True)
    return Cloth(
        cloth.points[used],
        local.reshape(-1, 3).astype(np.int64),
        cloth.side[keep],
        cloth.near[keep],
        cloth.values[used],
    )


def _divided(lie: LaidLayer, whole: Cloth, parted: frozenset[int], *, let_in: bool) -> tuple[LayerPart, ...]:
    """The parts, laid flat, when a layer is parted along the edges of some sides."""
    band = np.where(np.isin(whole.side, sorted(parted)), whole.side, FACE)
    parts = []
    for number in np.unique(band).tolist():
        # Of a half, the band on the left is the right one's mirror image.
        cloth = _some(whole, band == number)
        for piece in _pieces(cloth):
            face = number == FACE
            opened = _let_in(piece) if face and let_in else piece
            even = lie.half and bool((np.abs(opened.points[:, 0]) < 1e-9).any())
            parts.append(_flat(lie, _unfolded(opened) if even else opened, number, parted, even=even, let_in=let_in))
    return tuple(parts)


def _pieces(cloth: Cloth) -> list[Cloth]:
    """The connected pieces of a cloth, without specks."""
    if not len(cloth.triangles):
        return []
    group = components(cloth.triangles)
    areas = np.bincount(group, triangle_areas(cloth.points, cloth.triangles))
    return [_some(cloth, group == k) for k in np.flatnonzero(areas > SPECK_MM2)]


def _let_in(cloth: Cloth) -> Cloth:
    """The cloth cut open below the edge, down every line along which two sides meet."""
    sides: dict[int, set[int]] = {}
    for corners, side in zip(cloth.triangles.tolist(), cloth.side.tolist(), strict=True):
        for v in corners:
            sides.setdefault(v, set()).add(side)
    shared = {v: sorted(found) for v, found in sides.items() if FACE not in found and len(found) > 1}
    triangles, origin = cloth.triangles.copy(), list(range(len(cloth.points)))
    for v, found in sorted(shared.items()):
        for side in found[1:]:
            triangles[(cloth.side == side)[:, None] & (cloth.triangles == v)] = len(origin)
            origin.append(v)
    return Cloth(cloth.points[origin], triangles, cloth.side, cloth.near, cloth.values[origin])


def _unfolded(cloth: Cloth) -> Cloth:
    """Both halves of a cloth whose right one is given."""
    n = len(cloth.points)
    centre = np.abs(cloth.points[:, 0]) < 1e-9
    image = np.arange(n)
    image[~centre] = n + np.arange(int((~centre).sum()))
    swap = np.array([*MIRRORED, FACE])
    return Cloth(
        np.concatenate([cloth.points, cloth.points[~centre] * np.array([-1.0, 1.0, 1.0])]),
        np.concatenate([cloth.triangles, image[cloth.triangles][:, [0, 2, 1]]]),
        np.concatenate([cloth.side, swap[cloth.side]]),
        np.concatenate([cloth.near, swap[cloth.near]]),
        np.concatenate([cloth.values, cloth.values[~centre]]),
        np.concatenate([image, np.flatnonzero(~centre)]),
    )


def _flat(lie: LaidLayer, cloth: Cloth, band: int, parted: Collection[int], *, even: bool, let_in: bool) -> LayerPart:
    options = Options(mirror=cloth.mirror, aim=Aim.ENERGY, prove=False)
    flat = flatten(cloth.points, cloth.triangles, options=options)
    up = np.array([0.0, 1.0, 0.0]) if band == FACE else np.array([0.0, 0.0, 1.0])
    points = upright(flat.points, carried(cloth.points, cloth.triangles, flat.points, up))
    if even:
        points = _evened(points, cloth.mirror)
    areas = triangle_areas(cloth.points, cloth.triangles)
    asked = np.abs(np.log(flat.stretch)).max(axis=1)
    order = np.argsort(asked)
    held = np.cumsum(areas[order])
    gives = float(np.expm1(asked[order[int(np.searchsorted(held, (1.0 - OUTSIDE) * held[-1]))]]))
    mitred = frozenset(parted) if band == FACE else frozenset({band})
    touched = set(np.unique(cloth.near).tolist())
    return LayerPart(cloth, points, band, lie.half and not even, mitred & touched, let_in, gives)


def _evened(points: FloatArray, mirror: IntArray | None) -> FloatArray:
    """A map that is the same left and right, laid with its centre line exactly along x = 0."""
    if mirror is None:
        return points
    points = points - np.array([float(points[:, 0].mean()), 0.0])
    return np.asarray(0.5 * (points + points[mirror] * np.array([-1.0, 1.0])))
