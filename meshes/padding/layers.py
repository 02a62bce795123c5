"""Padding layers on the bare support: where each lies, how it runs out, and the free thickness they add up to.

Free thickness is what the layers measure before any cover presses on them. It is laid along the directors of the
support, so it fans round edges. A layer runs out with continuous curvature over its taper; thickness in mm.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from meshes.base.arrays import FloatArray
from meshes.numerics.smooth import smooth_step
from meshes.records.pad import SIDES, Layer, Pad
from meshes.support.blocks import BlockBody, beneath_blocks
from meshes.support.chart import Chart
from meshes.support.over import RolledOver

# Padding carries a little beyond the end of what holds it: springs, gaps and blocks begin over this width.
SHORE_MM = 6.0
# A block gives as columns do from so far inside its edge.
STANDS_MM = 20.0


@dataclass(frozen=True, eq=False)
class PadDistances:
    """What a layer asks about every place of a pad, arrays of shape (n,), lengths in mm.

    below: how far below the middle of the edge's turn (negative on the face); to_tack: how far still to the tack line;
    share: per side, 1 on that side and 0 on the others, blended over the corners; from_side: per side, how far
    inward of that side's outline on the face, 0 beyond the outline; in_from_turn: how far in on the face from where the
    edges begin to turn, negative beyond.
    """

    below: FloatArray
    to_tack: FloatArray
    share: Mapping[str, FloatArray]
    from_side: Mapping[str, FloatArray]
    in_from_turn: FloatArray
    blocks: "BlockPlaces | None" = None


@dataclass(frozen=True, eq=False)
class BlockPlaces:
    """What blocks are at every place of a pad. thickness_mm (blocks, n): of those under the cover, from the support
    outward, nothing beside or below them; gives (n,): what share of them gives under the cover; past_foot (n,): how far
    below the lower edge of the blocks under whose whole outline other layers lie, negative above it; beneath: numbers
    of those layers."""

    thickness_mm: FloatArray
    gives: FloatArray
    past_foot: FloatArray
    beneath: tuple[int, ...]


def places(chart: Chart, plan: FloatArray, u: FloatArray, c: FloatArray) -> PadDistances:
    """Answers for chart vertices: plan (n, 2) on the face, section places u, c (n,)."""
    onto = np.where((c < chart.radius(u))[:, None], plan, chart.outline.point(u))
    share = {s: chart.outline.blend({t: float(t == s) for t in SIDES})(u) for s in SIDES}
    from_side = {s: _distance(chart, s, onto) for s in SIDES}
    blocks = None if chart.blocks is None else _block_places(chart, chart.blocks, onto, (u, c))
    found = PadDistances(c - chart.edge(u), chart.tack(u) - c, share, from_side, -c, blocks)
    for over in chart.overs:
        found = _rolled(chart, over, (plan, u, c), found)
    return found


def _block_places(chart: Chart, body: BlockBody, onto: FloatArray, place: tuple[FloatArray, FloatArray]) -> BlockPlaces:
    u, c = place
    # Columns know no corner: under its edge, square or rolled, a block stands on its own side and gives by nothing.
    gives = smooth_step(-c / STANDS_MM)
    past = c - chart.turn_end(u) - chart.foot(u)
    return BlockPlaces(np.where(c < 0.0, body.each(onto), 0.0), gives, past, body.beneath)


def _rolled(
    chart: Chart, over: RolledOver, vertices: tuple[FloatArray, FloatArray, FloatArray], found: PadDistances
) -> PadDistances:
    """The same where the face runs on over a side, vertices as handed to `places`: in its corners what is said passes
    from the over-side to the plane of the gable, the way the edge turns."""
    plan, u, c = vertices
    at = over.rolled_of(plan, u, c, chart.turn_end(u))
    on, local = at.on, over.local(plan[at.on])
    u_over = over.places(local[:, 0])
    below, to_tack = at.c_over - chart.edge(u_over), chart.tack(u_over) - at.c_over
    over_share = np.ones(len(local))
    for k, b in enumerate(over.beside):
        own = (at.number == k) & (at.c_side > 0.0)
        c_side, c_over, place = at.c_side[own], at.c_over[own], u[on][own]
        turned = b.angle(c_side) / (0.5 * np.pi)
        deep = b.turn_end + at.sunk[own] - b.radius * (1.0 - np.cos(at.angle[own]))
        below[own] += turned * (deep - chart.edge(place) - below[own])
        to_tack[own] += turned * (chart.tack(place) - deep - to_tack[own])
        way = np.arctan2(np.maximum(c_over, 0.0), c_side) / (0.5 * np.pi)
        over_share[own] = smooth_step(way) * smooth_step(1.0 - turned)
    share, from_side = {s: v.copy() for s, v in found.share.items()}, {s: v.copy() for s, v in found.from_side.items()}
    for s, values in share.items():
        values[on] = np.where(s == over.side, over_share, 0.0)
    for k, b in enumerate(over.beside):
        share[b.side][on] += np.where(at.number == k, 1.0 - over_share, 0.0)
        from_side[b.side][on] = np.maximum(-(at.plan - b.corner) @ b.normal, 0.0)
    from_side[over.side][on] = np.maximum(-local[:, 1], 0.0)
    in_from = found.in_from_turn.copy()
    in_from[on] = -np.maximum(at.c_over, at.c_side)
    below_all, tack_all = found.below.copy(), found.to_tack.copy()
    below_all[on], tack_all[on] = below, to_tack
    return PadDistances(below_all, tack_all, share, from_side, in_from, found.blocks)


def _distance(chart: Chart, side: str, at: FloatArray) -> FloatArray:
    """Distance in plan to one side, as far as its corners begin to turn."""
    line = shapely.linestrings(chart.outline.side_line(side))
    shapely.prepare(line)
    return np.asarray(shapely.distance(shapely.points(at), line), dtype=np.float64)


def laid_thickness(layers: Sequence[Layer], at: PadDistances) -> FloatArray:
    """Thickness (layers, n) mm of what is laid over at every place: nothing of blocks, which the cover's support holds,
    nor of what lies beneath them, which comes out below their sides."""
    found = np.zeros((len(layers), len(at.below)))
    for k, layer in enumerate(layers):
        if layer.block is not None:
            continue
        found[k] = layer_thickness(layer, at)
        if at.blocks is not None and k in at.blocks.beneath:
            found[k] *= smooth_step(at.blocks.past_foot / SHORE_MM)
    return found


def all_thickness(layers: Sequence[Layer], at: PadDistances) -> FloatArray:
    """Thickness (layers, n) mm of what lies at every place, blocks and what is beneath them too."""
    found = laid_thickness(layers, at)
    if at.blocks is None:
        return found
    forms = [k for k, layer in enumerate(layers) if layer.block is not None]
    found[forms] = at.blocks.thickness_mm
    for k in at.blocks.beneath:
        found[k] += layers[k].thickness * (at.blocks.thickness_mm.max(axis=0) > 0.0)
    return found


def layer_thickness(layer: Layer, at: PadDistances) -> FloatArray:
    """Thickness of one layer, shape (n,) mm."""
    taper = max(layer.taper, 1e-6)
    if layer.where == "all":
        # Full to the tack line, where the cover ends too, unless the sheet lets it run out above.
        weight = smooth_step(at.to_tack / taper) if layer.taper > 0 else np.ones(len(at.to_tack))
    elif layer.where == "face":
        weight = smooth_step(1.0 - (at.below - layer.below) / taper)
    elif layer.within is None:
        weight = at.share[layer.where] * smooth_step(1.0 + at.below / taper)
    else:
        on_face = smooth_step(1.0 - (at.from_side[layer.where] - layer.within) / taper)
        weight = on_face * smooth_step(1.0 - (at.below - layer.below) / taper)
    return layer.thickness * weight


def free_thickness(layers: Sequence[Layer], at: PadDistances) -> FloatArray:
    """Sum of all that is laid over, shape (n,) mm."""
    return np.asarray(laid_thickness(layers, at).sum(axis=0))


def edge_thickness(pad: Pad) -> dict[str, float]:
    """Padding on the middle of every side's edge, mm, away from corners: it sets the radius of the padded edge."""
    result, beneath = {}, beneath_blocks(pad)
    for side in SIDES:
        far = np.array([1e6])
        here = PadDistances(
            below=np.zeros(1),
            to_tack=np.array([pad.sides[side].drop]),
            share={s: np.array([float(s == side)]) for s in SIDES},
            from_side={s: np.zeros(1) if s == side else far for s in SIDES},
            in_from_turn=np.full(1, -pad.sides[side].edge_radius),
            blocks=BlockPlaces(np.zeros((0, 1)), np.zeros(1), np.full(1, -np.inf), beneath),
        )
        result[side] = float(free_thickness(pad.layers, here)[0])
    return result
