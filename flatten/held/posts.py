"""Where the cover goes round a post of the frame: a Y-cut, drawn on its pieces and cut only after the cover is pulled.

A slit runs in from the edge of the allowance and forks an inch before the post; its two branches end at the post's
corners (Hunker, Cut upholstery fabric corners; widths in inches). Between them is a flap that folds down in front of
the post. Beside a post the whole of a fly is slit. Lengths mm.
"""

from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from flatten.pieces.piece import Edge, InnerLine, LineKind, Piece
from meshes.base.arrays import FloatArray
from meshes.base.problems import Problem
from meshes.records.frame import Post
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel, PanelRole, RimEdge
from meshes.support.chart import MakeProblem
from meshes.support.line_roles import LineRole

# The slit ends an inch before the post, where it forks (B: trade page); its branches stop a little short of the post's
# corners, as leather tears on (common practice, no source).
FORK_MM, SHORT_OF_POST_MM = 25.4, 3.0
LATER_WORDS = "cut after the cover is pulled"
# Longer than any piece is deep.
_PAST_ANY_PIECE_MM = 5000.0


@dataclass(frozen=True, eq=False)
class _PostPlace:
    """Where the middle of a post crosses an edge of a piece: the place (2,), the way along the edge and out (2,) each,
    and how far inside the edge the post stands."""

    at: FloatArray
    along: FloatArray
    out: FloatArray
    inside_mm: float


def with_post_cuts(pad: BuiltPad, panel: Panel, piece: Piece) -> Piece:
    """The piece with the cuts that it needs at posts."""
    lines: list[InnerLine] = []
    notes: list[str] = []
    for post in pad.pad.fixings.posts:
        place = _place_on(pad, panel, piece, post)
        if place is None:
            continue
        through = panel.role is PanelRole.FLY and place.inside_mm > _fly_depth(pad, post)
        drawn = _slit_through(piece, place) if through else _y_cut(piece, place, post)
        if drawn:
            lines += drawn
            side = pad.pad.side_word(post.side)
            words = "slit" if through else "Y-cut"
            notes.append(f"{words} for the post at the {side} {post.at:g} mm: {LATER_WORDS}")
    return replace(piece, inner=(*piece.inner, *lines), notes=(*piece.notes, *notes)) if lines else piece


def post_notes(pad: BuiltPad, make_problem: MakeProblem) -> list[Problem]:
    """Posts that do not stand whole on an outer edge of their side."""
    notes = []
    for post in pad.pad.fixings.posts:
        runs = [
            panel.surface.vertices[rim.vertices][:, _axis(post)]
            for panel in pad.panels
            for rim in panel.rim
            if rim.side == post.side and rim.role is LineRole.TACK
        ]
        half = 0.5 * post.width
        if any(run.min() <= post.at - half and post.at + half <= run.max() for run in runs):
            continue
        low, high = min(run.min() for run in runs), max(run.max() for run in runs)
        word = "xy"[_axis(post)]
        text = (
            f"a post at {word} = {post.at:g} mm, {post.width:g} mm wide, does not stand whole on the "
            f"{pad.pad.side_word(post.side)} side, whose tack line "
        )
        text += f"runs from {low:.0f} to {high:.0f} mm; check place and width"
        notes.append(replace(make_problem("G202", ("post", post.row, "at"), text), warning=True))
    return notes


def _axis(post: Post) -> int:
    """0 where its place is an x, 1 where it is a y."""
    return 0 if post.side in ("front", "rear") else 1


def _fly_depth(pad: BuiltPad, post: Post) -> float:
    """How far it is from the tack line of the post's side up to the seam of its fly."""
    below = pad.pad.fixings.fly_below(post.side)
    return 0.0 if below is None else pad.pad.sides[post.side].drop - below


def _place_on(pad: BuiltPad, panel: Panel, piece: Piece, post: Post) -> _PostPlace | None:
    """Where a post crosses the outer edge of a piece, or the seam of a fly on the leather above it."""
    for rim, edge in zip(panel.rim, piece.edges, strict=True):
        above_fly = rim.role is LineRole.FLY and panel.role is not PanelRole.FLY
        if rim.side != post.side or not (above_fly or rim.role is LineRole.TACK):
            continue
        below = pad.pad.fixings.fly_below(post.side) if above_fly else pad.pad.sides[post.side].drop
        crossed = _crossing(panel, rim, edge, post)
        if crossed is not None and below is not None:
            return _PostPlace(*crossed, below - pad.pad.fixings.post_down(post))
    return None


def _crossing(panel: Panel, rim: RimEdge, edge: Edge, post: Post) -> tuple[FloatArray, FloatArray, FloatArray] | None:
    """The point of an edge at a post's middle, the way along it there and out of the piece."""
    off = panel.surface.vertices[rim.vertices][:, _axis(post)] - post.at
    found = np.flatnonzero((off[:-1] <= 0.0) != (off[1:] <= 0.0))
    if not len(found):
        return None
    k = int(found[0])
    step = edge.points[k + 1] - edge.points[k]
    along = step / np.linalg.norm(step)
    return edge.points[k] + step * off[k] / (off[k] - off[k + 1]), along, np.array([along[1], -along[0]])


def far_edge(piece: Piece, at: FloatArray, way: FloatArray) -> FloatArray:
    """The farthest point of a piece, up to its cut line, from a point in one direction without leaving it."""
    ray = LineString([at, at + _PAST_ANY_PIECE_MM * way]).intersection(
        shapely.make_valid(Polygon(piece.cut)).buffer(1e-6)
    )
    parts = [shapely.get_coordinates(part) for part in shapely.get_parts(ray)]
    own = min(parts, key=lambda part: float(np.linalg.norm(part - at, axis=1).min()))
    return np.asarray(own[int(np.argmax((own - at) @ way))])


def _slit_through(piece: Piece, place: _PostPlace) -> list[InnerLine]:
    ends = np.array([far_edge(piece, place.at, place.out), far_edge(piece, place.at, -place.out)])
    return [InnerLine(LATER_WORDS, ends, LineKind.LATER)]


def _y_cut(piece: Piece, place: _PostPlace, post: Post) -> list[InnerLine]:
    """The slit, its branches, and where the post stands; nothing where the post ends below the piece."""
    if place.inside_mm <= SHORT_OF_POST_MM:
        return []
    fork = place.at - max(place.inside_mm - FORK_MM, 0.0) * place.out
    front = place.at - place.inside_mm * place.out
    half = 0.5 * post.width * place.along
    tips = [front + SHORT_OF_POST_MM * place.out + side * half for side in (-1.0, 1.0)]
    return [
        InnerLine(LATER_WORDS, np.array([far_edge(piece, place.at, place.out), fork]), LineKind.LATER),
        InnerLine("", np.array([tips[0], fork, tips[1]]), LineKind.LATER),
        InnerLine("post, cut later", np.array([front - half, front + half]), LineKind.HELD),
    ]
