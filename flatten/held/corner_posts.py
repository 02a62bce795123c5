"""Where the cover goes round a post at a corner: a cut towards the corner, drawn in short dashes and cut on the seat.

A post that comes up in the corner itself is met by one cut along the diagonal, from the corner of the leather to the
corner of the post that faces the middle; both flaps are turned under along its faces. One that stands across has a
Y-cut, whose branches end at both ends of its face. A post that meets the cover below the edge has a Y-cut from below;
where a seam runs down there it is left open instead (all common practice, no source). Lengths mm.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import LineString

from flatten.held.posts import FORK_MM, LATER_WORDS, SHORT_OF_POST_MM, far_edge
from flatten.pieces.piece import Edge, InnerLine, LineKind, Piece
from meshes.base.arrays import FloatArray
from meshes.base.problems import Problem
from meshes.base.surface import curve_length
from meshes.base.units import SAME_MM
from meshes.records.corners import CORNERS_AFTER
from meshes.records.frame import CornerPost
from meshes.records.pad import SIDES, Pad
from meshes.seat.build import BuiltPad
from meshes.seat.panels import CornerFold, Panel, RimEdge
from meshes.support.chart import MakeProblem
from meshes.support.line_roles import LineRole

# A cut that ends nearer to a seam than an allowance and a little leather tears into it (common practice, no source).
SEAM_ROOM_MM = 15.0
# Of a mark at which a seam stops.
_STOP_MARK_MM = 8.0
# How finely the faces of a post are drawn, and how far below a corner's arc its tack line may lie.
_FACE_STEPS, _BEYOND_ARC_MM = 12, 60.0
# A cover that stands steeper is no face any more (cosine of its slope).
_LEAST_FACE = 0.3


@dataclass(frozen=True, eq=False)
class CornerCut:
    """What a piece has of one post: its lines, what is said of it, and how near its tips come to a seam, with the name
    of the edge; no number where no seam is near by, or the seam itself stays open."""

    lines: tuple[InnerLine, ...]
    note: str
    room_mm: float | None = None
    beside: str = ""


@dataclass(frozen=True, eq=False)
class _CornerPlace:
    """Where both sides of a corner would meet, (2,), the unit way along each away from it, by side, and how far
    away the outline may already leave it."""

    at: FloatArray
    ways: dict[str, FloatArray]
    reach_mm: float

    @property
    def out(self) -> FloatArray:
        """The unit way out, half way between both sides."""
        both = -np.sum(list(self.ways.values()), axis=0)
        return np.asarray(both / np.linalg.norm(both))


def corner_words(pad: Pad, post: CornerPost) -> str:
    """Where a post stands: "rear left corner"."""
    end, side = post.corner.split("_")
    return f"{pad.side_word(end)} {side} corner"


def with_corner_cuts(pad: BuiltPad, panel: Panel, piece: Piece) -> Piece:
    """The piece with the cuts that it needs at posts at corners."""
    cuts = [_cut_on(pad, panel, piece, post) for post in pad.pad.fixings.corner_posts]
    found = [cut for cut in cuts if cut is not None]
    lines = tuple(line for cut in found for line in cut.lines)
    return replace(piece, inner=(*piece.inner, *lines), notes=(*piece.notes, *(cut.note for cut in found)))


def corner_post_notes(pad: BuiltPad, pieces: Sequence[Piece], make_problem: MakeProblem) -> list[Problem]:
    """Posts at corners that no piece has room for, and cuts that end too near to a seam."""
    panels = {panel.name: panel for panel in pad.panels}
    own = [(panels[piece.panels[0]], piece) for piece in pieces if piece.panels and piece.panels[0] in panels]
    posts = pad.pad.fixings.corner_posts
    cuts = [[_cut_on(pad, panel, piece, post) for panel, piece in own] for post in posts]
    told: dict[int, Problem] = {}
    for post, mine in zip(posts, cuts, strict=True):
        if post.row in told:
            continue
        # Of a mirrored pair one piece is drawn, and one of both posts stands on it.
        row = [cut for other, row in zip(posts, cuts, strict=True) if other.row == post.row for cut in row]
        keys, where = ("post", post.row), f"the post at the {corner_words(pad.pad, post)}"
        if not any(cut is not None for cut in row):
            size = f"{post.width:g} mm wide" + (f" and {post.depth:g} deep" if post.depth else "")
            text = f"{where}, {size}, ends on no piece that goes round that corner; check width, depth and corner"
            told[post.row] = replace(make_problem("G202", keys, text), warning=True)
        near = [cut for cut in mine if cut is not None and cut.room_mm is not None and cut.room_mm < SEAM_ROOM_MM]
        if near:
            text = f"the cut for {where} ends {near[0].room_mm:.0f} mm from the seam with {near[0].beside}, and needs "
            text += f"{SEAM_ROOM_MM:g}; move the seam, or check width, depth and down"
            told[post.row] = replace(make_problem("G208", keys, text), warning=True)
    return list(told.values())


def _cut_on(pad: BuiltPad, panel: Panel, piece: Piece, post: CornerPost) -> CornerCut | None:
    """What one piece has of a post; None where it goes past it."""
    fold = next((fold for fold in pad.division.folds if fold.corner == post.corner), None)
    if fold is not None:
        if fold.panel != panel.name:
            return None
        at = next(k for k, rim in enumerate(panel.rim) if rim.name == fold.name)
        if post.through:
            return _through(pad.pad, panel, piece, post, piece.edges[at])
        return _up_a_fold(pad.pad, (panel, panel.rim[at]), (piece, piece.edges[at]), post, fold)
    return None if post.through else _from_below(pad, panel, piece, post)


def _place(pad: Pad, post: CornerPost) -> _CornerPlace:
    outline, k = pad.outline, CORNERS_AFTER.index(post.corner)
    sides = (SIDES[k], SIDES[(k + 1) % len(SIDES)])
    count, points = len(outline.corners), np.asarray(outline.corners)
    at = next(n for n in range(count) if (outline.side_of_edge[n - 1], outline.side_of_edge[n]) == sides)
    ways = (points[at - 1] - points[at], points[(at + 1) % count] - points[at])
    deep = max([outline.radii[at], *(pad.sides[side].drop for side in sides)])
    named = {side: way / np.linalg.norm(way) for side, way in zip(sides, ways, strict=True)}
    return _CornerPlace(points[at], named, deep + _BEYOND_ARC_MM)


def _face_line(place: _CornerPlace, post: CornerPost) -> FloatArray:
    """The faces of a post that stands in a corner, seen square on: from one side of the corner to the other, (k, 2)."""
    ways = list(place.ways.items())
    if post.turned:
        between = float(np.arccos(np.clip(ways[0][1] @ ways[1][1], -1.0, 1.0)))
        leg = 0.5 * post.width / np.sin(0.5 * between)
        ends = [place.at + leg * way for _, way in ways]
        return np.linspace(ends[0], ends[1], 2 * _FACE_STEPS + 1)
    legs = [(post.width if side in ("front", "rear") else post.depth) * way for side, way in ways]
    inner = place.at + legs[0] + legs[1]
    faces = [np.linspace(place.at + leg, inner, _FACE_STEPS + 1) for leg in legs]
    return np.concatenate([faces[0], faces[1][::-1][1:]])


def _on_piece(panel: Panel, piece: Piece, plan: FloatArray) -> FloatArray:
    """Where places of the seat seen square on, (k, 2), lie on a piece, (k, 2); NaN where its panel is not there."""
    flat = piece.mesh.points[panel.surface.triangles]
    corners = panel.surface.vertices[panel.surface.triangles]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    up = normals[:, 2] > _LEAST_FACE * np.linalg.norm(normals, axis=1)
    flat, corners = flat[up], corners[up]
    a, b, c = corners[:, 0, :2], corners[:, 1, :2], corners[:, 2, :2]
    twice = _cross(b - a, c - a)
    found = np.full((len(plan), 2), np.nan)
    for n, at in enumerate(plan):
        v, w = _cross(at - a, c - a) / twice, _cross(b - a, at - a) / twice
        shares = np.stack([1.0 - v - w, v, w], axis=1)
        inside = np.flatnonzero(shares.min(axis=1) >= -1e-9)
        if len(inside):
            heights = np.sum(shares[inside] * corners[inside, :, 2], axis=1)
            best = inside[int(np.argmax(heights))]
            found[n] = shares[best] @ flat[best]
    return found


def _cross(one: FloatArray, two: FloatArray) -> FloatArray:
    return np.asarray(one[..., 0] * two[..., 1] - one[..., 1] * two[..., 0])


def _through(pad: Pad, panel: Panel, piece: Piece, post: CornerPost, mouth: Edge) -> CornerCut | None:
    """The cut for a post in the corner itself; mouth: the edge of the piece round that corner."""
    faces = _on_piece(panel, piece, _face_line(_place(pad, post), post))
    front = faces[_FACE_STEPS]
    if np.isnan(front).any():
        return None
    drawn = faces[~np.isnan(faces).any(axis=1)]
    out = _unit(_middle(mouth.points) - front)
    kind = "Y-cut" if post.turned else "diagonal cut"
    if post.turned:
        fork, tips = front + FORK_MM * out, drawn[[0, -1]] + SHORT_OF_POST_MM * out
        lines = [
            _later(far_edge(piece, fork, out), fork),
            InnerLine("", np.array([tips[0], fork, tips[1]]), LineKind.LATER),
        ]
    else:
        tips = (front + SHORT_OF_POST_MM * out)[None]
        lines = [_later(far_edge(piece, tips[0], out), tips[0])]
    lines.append(InnerLine("post, cut later", drawn, LineKind.HELD))
    note = f"{kind} for the post in the {corner_words(pad, post)}: {LATER_WORDS}"
    return CornerCut(tuple(lines), note, *_room(piece, tips))


def _up_a_fold(
    pad: Pad, rim: tuple[Panel, RimEdge], drawn: tuple[Piece, Edge], post: CornerPost, fold: CornerFold
) -> CornerCut | None:
    """The cut up the diagonal of a fold's leather, to a post that meets the cover below the edge."""
    piece, mouth = drawn
    notch = piece.mesh.points[rim[1].vertices]
    steps = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(notch, axis=0), axis=1))])
    tip = np.array([np.interp(0.5 * steps[-1], steps, notch[:, k]) for k in range(2)])
    far = _middle(mouth.points)
    left = min((post.down or 0.0) / max(fold.depth_mm, 1e-9), 1.0)
    if left >= 1.0:
        return None
    out = _unit(far - tip)
    lines, tips = _y_lines(piece, tip + left * (far - tip), out, post)
    note = f"Y-cut up the fold for the post at the {corner_words(pad, post)}: {LATER_WORDS}"
    return CornerCut(tuple(lines), note, *_room(piece, tips))


def _from_below(pad: BuiltPad, panel: Panel, piece: Piece, post: CornerPost) -> CornerCut | None:
    """The cut in from the tack line at the middle of a corner, or the seam that is left open there."""
    place = _place(pad.pad, post)
    lows = [
        one.surface.vertices[rim.vertices][:, :2] for one in pad.panels for rim in one.rim if rim.role is LineRole.TACK
    ]
    all_low = np.concatenate(lows) if lows else np.zeros((0, 2))
    near = all_low[np.linalg.norm(all_low - place.at, axis=1) <= place.reach_mm]
    if not len(near):
        return None
    corner = near[int(np.argmax(near @ place.out))]
    drops = [pad.pad.sides[side].drop for side in place.ways]
    deep = float(np.mean(drops)) - (post.down or 0.0)
    hits = [
        (k, int(i))
        for k, rim in enumerate(panel.rim)
        if rim.role is LineRole.TACK
        for i in np.flatnonzero(np.linalg.norm(panel.surface.vertices[rim.vertices][:, :2] - corner, axis=1) <= SAME_MM)
    ]
    if not hits or deep <= SHORT_OF_POST_MM:
        return None
    k, i = hits[0]
    count, points = len(panel.rim), piece.edges[k].points
    if len(hits) == 1 and i in (0, len(points) - 1):
        return _open_seam(pad.pad, piece, post, (k - 1) % count if i == 0 else (k + 1) % count, deep)
    if i in (0, len(points) - 1):
        into, on = (next(n for n, at in hits if (at == 0) == begins) for begins in (False, True))
        if (into + 1) % count != on:
            # The panel is sewn to itself down the corner.
            return _open_seam(pad.pad, piece, post, (into + 1) % count, deep)
        ends, at = (piece.edges[into].points[-2], piece.edges[on].points[1]), points[i]
    else:
        ends, at = (points[i - 1], points[i + 1]), points[i]
    along = _unit(ends[1] - ends[0])
    out = np.array([along[1], -along[0]])
    lines, tips = _y_lines(piece, at - deep * out, out, post)
    note = f"Y-cut for the post at the {corner_words(pad.pad, post)}: {LATER_WORDS}"
    return CornerCut(tuple(lines), note, *_room(piece, tips))


def _open_seam(pad: Pad, piece: Piece, post: CornerPost, seam: int, deep_mm: float) -> CornerCut | None:
    """What is said where a seam runs down the corner: it ends above the post; seam: number of its edge on the piece."""
    edge = piece.edges[seam]
    length = curve_length(edge.points)
    if edge.seam is None or deep_mm >= length:
        return None
    low = edge.points[0] if _is_low(piece, seam) else edge.points[-1]
    line = LineString(edge.points if low is edge.points[0] else edge.points[::-1])
    at, before = (np.asarray(line.interpolate(d).coords[0]) for d in (deep_mm, deep_mm - 1.0))
    along = _unit(at - before) * (1.0 if low is edge.points[0] else -1.0)
    inward = np.array([-along[1], along[0]])
    tick = InnerLine("open below", np.array([at, at + _STOP_MARK_MM * inward]), LineKind.HELD)
    words = f"leave the seam with {edge.name} open for the lowest {deep_mm:.0f} mm: there the post at the "
    return CornerCut((tick,), f"{words}{corner_words(pad, post)} goes through")


def _is_low(piece: Piece, seam: int) -> bool:
    """Whether an edge begins at the tack line: it follows one."""
    return piece.edges[seam - 1].seam is None


def _y_lines(piece: Piece, front: FloatArray, out: FloatArray, post: CornerPost) -> tuple[list[InnerLine], FloatArray]:
    """A slit from the cut line in, its branches to both ends of a post's face, the face, and the tips (2, 2)."""
    across = 0.5 * post.width * np.array([-out[1], out[0]])
    fork = front + FORK_MM * out
    tips = np.array([front - across, front + across]) + SHORT_OF_POST_MM * out
    lines = [
        _later(far_edge(piece, fork, out), fork),
        InnerLine("", np.array([tips[0], fork, tips[1]]), LineKind.LATER),
        InnerLine("post, cut later", np.array([front - across, front + across]), LineKind.HELD),
    ]
    return lines, tips


def _later(start: FloatArray, end: FloatArray) -> InnerLine:
    return InnerLine(LATER_WORDS, np.array([start, end]), LineKind.LATER)


def _room(piece: Piece, tips: FloatArray) -> tuple[float | None, str]:
    """How near the tips of a cut come to a seam of the piece, and what that edge is called."""
    seams = [edge for edge in piece.edges if edge.seam is not None]
    if not seams:
        return None, ""
    away = [float(shapely.distance(shapely.points(tips), LineString(edge.points)).min()) for edge in seams]
    nearest = int(np.argmin(away))
    return away[nearest], seams[nearest].name


def _middle(points: FloatArray) -> FloatArray:
    """Where the mouth of a fold lies farthest out."""
    return np.asarray(points[len(points) // 2] if len(points) % 2 else points.mean(axis=0))


def _unit(way: FloatArray) -> FloatArray:
    return np.asarray(way / max(float(np.linalg.norm(way)), 1e-12))
