"""Blocks of sheet foam on a pad's face: the body that a frame and its blocks are together.

A block lies on the face with its own outline: the pad's, moved out or in, or a strip along one side. Where it ends at
the rim its side carries the pad's own edge; where it ends on the face it rises there as a ramp. What is laid over a
body of blocks goes round its edges as it goes round those of a frame. Heights are counted upright. Lengths mm.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from meshes.base.arrays import FloatArray
from meshes.base.plane import Point, turn_at
from meshes.numerics.taut_line import taut_lines
from meshes.outlines.rounded import CornersTooRoundError, RoundedOutline, rounded_outline
from meshes.outlines.side_ramps import BOW_TURN_RAD
from meshes.outlines.turned_corner import SideSection
from meshes.records.built_up import BuiltUp
from meshes.records.pad import SIDES, Block, Layer, Outline, Pad
from meshes.support.face import Face
from meshes.support.rim import rimmed
from meshes.support.tack import TACK_STEP_MM, PerPlace

# Over a face a block's side rises no steeper than this: a taut cover never lies in the foot of a steeper one.
RAMP_DEG = 70.0
# On a face the top edge of a block is at least so round, as a taut cover makes it, and its foot by this factor rounder
# than what is laid over it is thick, or so round: tighter bends stall the search for the cover's rest.
LEAST_EDGE_MM, FOOT_SHARE, LEAST_FOOT_MM = 15.0, 2.0, 15.0
# Places by which a cover follows the frame's own edge, what is square to it turns evenly so far before and after a bend
# of its side, and a bend that is seen.
EDGE_NODES, BEND_MM, SEEN_BEND_DEG = 8, 4.0, 1.0


@dataclass(frozen=True)
class Ramp:
    """The side of a block over a face, seen in section. height: of the block; slope_rad: of its side; edge_mm, foot_mm:
    radii at its top and where it meets the face."""

    height: float
    slope_rad: float
    edge_mm: float
    foot_mm: float

    def share(self, inside: FloatArray) -> FloatArray:
        """Height (n,) as a share of the block's, by how far inside of its upper edge a place lies (n,)."""
        low = np.arccos(np.clip(1.0 - self.height / (self.edge_mm + self.foot_mm), -1.0, 1.0))
        slope = min(self.slope_rad, float(low))
        begun = self.edge_mm * np.tan(0.5 * slope)
        # A block too low for both rounds keeps the place where its top begins to turn.
        at = inside - self.edge_mm * np.tan(0.5 * self.slope_rad) + begun
        ends = -self.height / np.tan(slope) - self.foot_mm * np.tan(0.5 * slope)
        height = self.height + at * np.tan(slope)
        top = at > begun - self.edge_mm * np.sin(slope)
        near_top = np.clip(begun - at, 0.0, self.edge_mm)
        height = np.where(top, self.height - self.edge_mm + np.sqrt(self.edge_mm**2 - near_top**2), height)
        foot = at < ends + self.foot_mm * np.sin(slope)
        near_foot = np.clip(at - ends, 0.0, self.foot_mm)
        height = np.where(foot & ~top, self.foot_mm - np.sqrt(self.foot_mm**2 - near_foot**2), height)
        return np.clip(height / self.height, 0.0, 1.0)


@dataclass(frozen=True, eq=False)
class BlockForm:
    """One block where it lies. layer: its number, counted from 0 at the support; lower, upper: how far the lower edge
    of its outer sides lies outside the pad's outline, and the upper one; sides: those at whose rim it ends; ramp: its
    side over the face, None where it has none; outline: of its upper edge, for a block whose sides all stand on the
    face; line: the side (k, 2) that a strip lies along, and within what distance; crown: of its top."""

    layer: int
    thickness: float
    lower: float
    upper: float
    sides: tuple[str, ...]
    ramp: Ramp | None = None
    outline: RoundedOutline | None = None
    line: FloatArray | None = None
    within: float = 0.0
    crown: Face | None = None

    def height(self, plan: FloatArray) -> FloatArray:
        """How much it raises the face at plan positions (n, 2), shape (n,)."""
        full = np.full(len(plan), self.thickness)
        if self.crown is not None:
            full = full + self.crown.height(plan)
        if self.ramp is None:
            return full
        if self.outline is not None:
            inside = self.outline.nearest(plan)[1]
        else:
            line = shapely.linestrings(self.line)
            shapely.prepare(line)
            inside = self.within - np.asarray(shapely.distance(shapely.points(plan), line))
        return full * self.ramp.share(inside)


@dataclass(frozen=True, eq=False)
class BlockBody:
    """A pad's blocks together. forms: from the support outward; edges: by side, the radius of the edge that ends the
    body there; outward: how far outside the pad's outline the body's own one lies; beneath: layers that lie under a
    block's whole outline, by number, and beneath_mm: how much they raise it."""

    pad: Pad
    forms: tuple[BlockForm, ...]
    edges: dict[str, float]
    outward: float
    beneath: tuple[int, ...] = ()
    beneath_mm: float = 0.0

    @property
    def carrier(self) -> Pad:
        """The body as a frame: its own outline and the radii of its own edges."""
        sides = {s: replace(side, edge_radius=self.edges[s]) for s, side in self.pad.sides.items()}
        return replace(self.pad, outline=moved_out(self.pad.outline, self.outward), sides=sides)

    def height(self, plan: FloatArray) -> FloatArray:
        """How much all of them raise the face at plan positions (n, 2), shape (n,)."""
        return np.asarray(self.beneath_mm + sum(form.height(plan) for form in self.forms))

    def each(self, plan: FloatArray) -> FloatArray:
        """How much each of them does, shape (blocks, n)."""
        return np.array([form.height(plan) for form in self.forms]).reshape(len(self.forms), len(plan))


def body_of(pad: Pad) -> BlockBody | None:
    """The body of a pad's blocks; None without any. Raises CornersTooRoundError for an outline that leaves none."""
    if all(layer.block is None for layer in pad.layers):
        return None
    body = _body(pad)
    radii = _round_enough(pad.outline, body)
    return body if radii == pad.outline.radii else _body(replace(pad, outline=replace(pad.outline, radii=radii)))


def _body(pad: Pad) -> BlockBody:
    forms: list[BlockForm] = []
    at_rim, outward, edges = 0.0, 0.0, {s: side.edge_radius for s, side in pad.sides.items()}
    for k, layer in enumerate(pad.layers):
        if layer.block is None:
            continue
        form = _form(pad, k, layer.block, at_rim)
        forms.append(form)
        at_rim = form.upper if form.sides else at_rim
        edges |= {side: layer.block.edge_at(side) for side in form.sides}
        if len(form.sides) == len(SIDES):
            outward = form.upper + layer.block.roundest_mm * _short_of_square(layer.block)
    under = beneath_blocks(pad.layers)
    return BlockBody(pad, tuple(forms), edges, outward, under, sum(pad.layers[k].thickness for k in under))


def _round_enough(outline: Outline, body: BlockBody) -> tuple[float, ...]:
    """Radii of the corners, as a frame has them: at least as round, once moved out to the body's, as its edges."""
    names, found, over = outline.side_of_edge, [], set(body.pad.bands.over)
    for k, radius in enumerate(outline.radii):
        before, here, after = (outline.corners[j % len(outline.radii)] for j in (k - 1, k, k + 1))
        both = {names[k - 1], names[k]}
        # Beside a side over which the face runs on, a corner is as sharp as the edge of its gable.
        edge = max(body.edges[s] for s in both - over or both)
        turned = turn_at(before, here, after)
        found.append(max(radius, edge - body.outward) if turned > BOW_TURN_RAD else radius)
    return tuple(found)


def beneath_blocks(layers: Sequence[Layer]) -> tuple[int, ...]:
    """Numbers of the layers that lie under the whole outline of a block."""
    at_rim, whole = 0.0, 0
    for k, layer in enumerate(layers):
        if layer.block is not None and layer.within is None and _is_whole(layer, layer.block, at_rim):
            at_rim, whole = layer.block.overhang - layer.block.lean_mm(layer.thickness), k
    return tuple(k for k, one in enumerate(layers[:whole]) if _lies_under(one))


def _is_whole(layer: Layer, block: Block, at_rim: float) -> bool:
    """Whether a block ends at the rim, which lies `at_rim` outside the pad's outline, not on the face within it."""
    return block.overhang >= at_rim - layer.thickness / np.tan(np.deg2rad(RAMP_DEG))


def _lies_under(layer: Layer) -> bool:
    return layer.block is None and layer.where in ("all", "face")


def _short_of_square(block: Block) -> float:
    """How much further out an arc of radius 1 would reach if it turned by a quarter than where its lines meet."""
    return float(1.0 - np.tan(0.5 * np.deg2rad(90.0 - block.bevel_deg)))


def _form(pad: Pad, number: int, block: Block, at_rim: float) -> BlockForm:
    """One block on what lies beneath it, whose rim lies `at_rim` outside the pad's outline."""
    layer = pad.layers[number]
    thick = layer.thickness
    lean = block.lean_mm(thick)
    crown = None
    if block.top:
        outline = moved_out(pad.outline, at_rim if layer.within is not None else block.overhang)
        crown = rimmed(replace(pad, outline=outline, profiles=block.top)).face
    steep = np.deg2rad(min(90.0 - block.bevel_deg, RAMP_DEG))
    beneath = beneath_blocks(pad.layers)
    over = sum(one.thickness for k, one in enumerate(pad.layers) if _lies_under(one) and k not in beneath)
    ramp = Ramp(thick, steep, max(block.roundest_mm, LEAST_EDGE_MM), max(FOOT_SHARE * over, LEAST_FOOT_MM))
    if layer.within is not None:
        line = rounded(moved_out(pad.outline, at_rim)).side_line(layer.where)
        within = layer.within - lean
        return BlockForm(number, thick, at_rim, at_rim, (layer.where,), ramp, line=line, within=within, crown=crown)
    lower, upper = block.overhang, block.overhang - lean
    if _is_whole(layer, block, at_rim):
        return BlockForm(number, thick, lower, upper, SIDES, crown=crown)
    upper_edge = rounded(moved_out(pad.outline, upper))
    return BlockForm(number, thick, lower, upper, (), ramp, outline=upper_edge, crown=crown)


def rounded(outline: Outline) -> RoundedOutline:
    """An outline with its corners as the sheet has them. Raises CornersTooRoundError."""
    return rounded_outline(outline.corners, outline.radii, outline.side_of_edge)


def moved_out(outline: Outline, by_mm: float) -> Outline:
    """The outline moved out by `by_mm` all round, in below 0; its arcs keep their middles as far as they have room.
    Raises CornersTooRoundError where a run between two corners is gone."""
    if by_mm == 0.0:
        return outline
    corners = np.asarray(outline.corners)
    ahead = np.roll(corners, -1, axis=0) - corners
    ahead /= np.linalg.norm(ahead, axis=1)[:, None]
    behind = np.roll(ahead, 1, axis=0)
    out = np.stack([ahead[:, 1] + behind[:, 1], -ahead[:, 0] - behind[:, 0]], axis=1)
    moved = corners + by_mm * out / (1.0 + np.einsum("ij,ij->i", ahead, behind))[:, None]
    run = np.roll(moved, -1, axis=0) - moved
    if (np.einsum("ij,ij->i", run, ahead) <= 0.0).any():
        raise CornersTooRoundError(f"moved by {by_mm:.1f} mm, a run of the outline is gone")
    turn = np.arctan2(behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0], np.einsum("ij,ij->i", ahead, behind))
    radii = []
    for radius, angle in zip(outline.radii, turn, strict=True):
        # A point of a traced bow has no radius of its own.
        bow = radius == 0.0 and abs(angle) < BOW_TURN_RAD
        radii.append(0.0 if bow else max(radius + float(np.sign(angle)) * by_mm, 0.0))
    points: Sequence[Point] = [(float(x), float(y)) for x, y in moved]
    return replace(outline, corners=tuple(points), radii=tuple(radii))


def face_of(pad: Pad, built_up: BuiltUp | None = None) -> Face:
    """The face of a pad: what was measured, brought to its rim, what is built up on it, and its blocks."""
    return replace(rimmed(pad).face, built_up=built_up, raised=body_of(pad))


def bare_edge_mm(pad: Pad, side: str) -> float:
    """Radius of the edge at a side that layers are laid over: that of a block which ends there, else the frame's."""
    body = body_of(pad)
    return pad.sides[side].edge_radius if body is None else body.edges[side]


@dataclass(frozen=True, eq=False)
class SideWay:
    """How a taut cover goes from the body's upper edge over feet of blocks and the edge of the frame to the tack line,
    at places u (n,) of the outline: nodes (n, K, 3) outward and along from the outline, and their height; length (n, K)
    from the end of the turn to each; heading_rad (n, K) of the run before each, from level; turn (n,); feet: nodes that
    are lower edges of blocks, with the numbers of their layers; foot: the one below which layers go on that lie beneath
    the blocks."""

    u: FloatArray
    turn: FloatArray
    nodes: FloatArray
    length: FloatArray
    heading_rad: FloatArray
    feet: tuple[tuple[int, int], ...]
    foot: int
    period: float

    def at(self, values: FloatArray, u: FloatArray) -> FloatArray:
        """Values (n, ...) of the table at other places (m,)."""
        place = np.mod(u, self.period)
        known = np.append(self.u, self.u[0] + self.period)
        k = np.clip(np.searchsorted(known, place, side="right") - 1, 0, len(self.u) - 1)
        share = (place - known[k]) / (known[k + 1] - known[k])
        share = share.reshape(-1, *([1] * (values.ndim - 1)))
        return np.asarray((1.0 - share) * values[k] + share * values[(k + 1) % len(self.u)])

    def place(self, u: FloatArray, below: FloatArray, start: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Nodes' coordinates (m, 3) of places `below` the end of the turn, which lies at start (m, 3), and the angle
        from upright of what is square to the cover there (m,), even over bends."""
        nodes, length, heading = (self.at(v, u) for v in (self.nodes, self.length, self.heading_rad))
        here, passed = start.copy(), np.zeros(len(u))
        for k in range(nodes.shape[1]):
            run = length[:, k] - passed
            share = np.clip((below - passed) / np.maximum(run, 1e-9), 0.0, 1.0)[:, None]
            before = start if k == 0 else nodes[:, k - 1]
            on = below >= passed
            here[on] = (before + share * (nodes[:, k] - before))[on]
            passed = length[:, k]
        angle = heading[:, 0].copy()
        for k in range(nodes.shape[1] - 1):
            even = np.clip((below - length[:, k] + BEND_MM) / (2.0 * BEND_MM), 0.0, 1.0)
            angle += even * (heading[:, k + 1] - heading[:, k])
        return here, angle

    def bends(self) -> tuple[int, ...]:
        """The feet at which the cover bends."""
        turned = np.diff(self.heading_rad, axis=1)
        return tuple(k for k, _ in self.feet if np.abs(turned[:, k]).max() > np.deg2rad(SEEN_BEND_DEG))


@dataclass(frozen=True, eq=False)
class FrameRim:
    """The frame that a body lies on: its outline, and its section at places (n,) of it."""

    outline: RoundedOutline
    section: Callable[[FloatArray], SideSection]

    def nodes(self, bare: Face, u: FloatArray) -> list[tuple[FloatArray, FloatArray]]:
        """Places round its edge and the tack line, plan (n, 2) and height (n,), from above."""
        section = self.section(u)
        point, normal = self.outline.point(u), self.outline.normal(u)
        turned = [section.turn * k / EDGE_NODES for k in range(1, EDGE_NODES + 1)]
        ends = [(section.radius * (np.sin(a) - 1.0), section.radius * (1.0 - np.cos(a))) for a in turned]
        plans = [point + aside[:, None] * normal for aside, _ in (*ends, section.end)]
        sunk = [below for _, below in (*ends, section.end)]
        return [(plan, bare.height(plan) - below) for plan, below in zip(plans, sunk, strict=True)]


def side_way(body: BlockBody, frame: FrameRim, outline: RoundedOutline, radius_mm: PerPlace) -> SideWay:
    """The way down the sides of a body; frame: what it lies on; outline: of the body, with its corners as round as its
    edges need, and radius_mm: of these. Raises CornersTooRoundError."""
    u = outline.samples(TACK_STEP_MM)
    top, normal, edge = outline.point(u), outline.normal(u), radius_mm(u)
    bare = rimmed(body.pad).face
    middle = replace(bare, raised=body).height(top) - edge
    nodes, feet = _block_nodes(body, bare, u)
    nodes += frame.nodes(bare, u)
    plan = np.stack([plan for plan, _ in nodes], axis=1) - top[:, None]
    height = np.stack([z for _, z in nodes], axis=1)
    outward = np.einsum("nkj,nj->nk", plan, normal)
    along = plan[..., 1] * normal[:, None, 0] - plan[..., 0] * normal[:, None, 1]
    seen = np.stack([outward + edge[:, None], middle[:, None] - height], axis=2)
    # The corner that the edge itself rounds off is no node of its own.
    seen[:, :-1][seen[:, :-1, 1] < -1e-9] = 0.0
    taut = taut_lines(edge, seen)
    out, z = taut.points[..., 0] - edge[:, None], middle[:, None] - taut.points[..., 1]
    lowest = max((k for k, number in feet if number > max(body.beneath, default=-1)), default=0)
    return SideWay(
        u,
        taut.turn,
        np.stack([out, along, z], axis=2),
        taut.length,
        taut.heading,
        tuple(feet),
        lowest,
        outline.period,
    )


def _block_nodes(
    body: BlockBody, bare: Face, u: FloatArray
) -> tuple[list[tuple[FloatArray, FloatArray]], list[tuple[int, int]]]:
    """Upper and lower edges of the blocks that end at the rim, plan (n, 2) and height (n,), from above; and which of
    them are lower edges, with the number of the block's layer. The uppermost edge is left out: it is the body's own."""
    rows: list[tuple[FloatArray, FloatArray, int]] = []
    level = np.zeros(len(u))
    forms = {form.layer: form for form in body.forms if form.sides}
    for k, layer in enumerate(body.pad.layers):
        if k in body.beneath:
            level = level + layer.thickness
        if k in forms:
            lower = rounded(moved_out(body.pad.outline, forms[k].lower)).point(u)
            upper = rounded(moved_out(body.pad.outline, forms[k].upper)).point(u)
            rows.append((lower, bare.height(lower) + level, k))
            level = level + forms[k].height(upper)
            rows.append((upper, bare.height(upper) + level, -1))
    rows = rows[-2::-1]
    return [(plan, z) for plan, z, _ in rows], [(j, k) for j, (_, _, k) in enumerate(rows) if k >= 0]
