"""The piece that covers a flat board: the board's face, and round it what goes round the edge and is glued behind.

The sew line of such a piece is the edge of the board; nothing is sewn there. Openings are cut out inside the piece.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from flatten.coverings.covering import Coverings
from flatten.pieces.allowance import add_allowances
from flatten.pieces.piece import CutLine, InnerLine, LineKind, Piece
from flatten.trim.reliefs import Turned, reliefs_of
from flatten.trim.words import piece_notes
from meshes.base.arrays import FloatArray
from meshes.closed.fullness import wrap_mm
from meshes.outlines.openings import followed
from meshes.records.board import Board, Hole, Opening
from meshes.seat.build import BuiltPad

# A slit stops so far short of the board's edge, and of an opening's (P).
SLIT_STOP_MM, OPENING_STOP_MM = 2.0, 3.0
# Leather inside a small opening is left this far apart at least, so that there is an edge to turn (P).
LIPS_APART_MM = 4.0
# Flaps thinner than this between two notches are crumbs.
CRUMB_WIDE_MM = 0.5
# A pierced hole is drawn as a circle of so many corners, with a cross.
HOLE_CORNERS = 24


def covered_boards(pieces: Sequence[Piece], pads: Sequence[BuiltPad], coverings: Coverings) -> list[Piece]:
    """The pieces of a job, those of flat boards with all that their leather needs beyond the board's face."""
    boards = {pad.pad.name: pad for pad in pads if pad.pad.board is not None}
    return [
        _covered(piece, boards[piece.pad], coverings.card(piece.panels[0]).thickness_mm)
        if piece.pad in boards
        else piece
        for piece in pieces
    ]


def edge_mm(pad: BuiltPad, board: Board, leather_mm: float) -> float:
    """What leather goes round before it lies on the back: foam, board and its own thickness, mm."""
    return wrap_mm(pad.pad) + board.thickness + leather_mm


def plan_to_piece(piece: Piece, pad: BuiltPad, points: FloatArray) -> FloatArray:
    """Points (k, 2) of the pad's plan on the piece of its first panel, which is as flat as the plan."""
    panel = next(panel for panel in pad.panels if panel.name == piece.panels[0])
    plan, flat = panel.surface.vertices[:, :2], piece.mesh.points
    one, two = plan - plan.mean(axis=0), flat - flat.mean(axis=0)
    # The least squares rotation of Kabsch (1976).
    left, _, right = np.linalg.svd(one.T @ two)
    return np.asarray((points - plan.mean(axis=0)) @ (left @ right) + flat.mean(axis=0))


def _covered(piece: Piece, pad: BuiltPad, leather_mm: float) -> Piece:
    board = pad.pad.board
    assert board is not None
    turned = Turned(edge_mm(pad, board, leather_mm), board.wrap)
    edges = tuple(replace(edge, allowance_mm=turned.reach_mm) for edge in piece.edges)
    around = add_allowances(edges, corner="mitre")
    relief = reliefs_of(piece.sew, turned)
    body = _largest(Polygon(around.points).difference(shapely.union_all(relief.notches)))
    thin = 0.5 * CRUMB_WIDE_MM
    body = _largest(body.buffer(-thin, join_style="mitre").buffer(thin, join_style="mitre"))
    ring = shapely.get_coordinates(shapely.geometry.polygon.orient(body).exterior)[:-1]
    ring = np.roll(ring, -int(np.argmin(np.linalg.norm(ring - edges[0].points[0], axis=1))), axis=0)
    glue = _glue_lines(Polygon(piece.sew).buffer(turned.edge_mm, join_style="mitre"), body)
    slits = [
        InnerLine("", line, LineKind.SLIT)
        for at, out in relief.slits
        if (line := _slit(at, out, SLIT_STOP_MM, body)) is not None
    ]
    inside = [line for one in board.openings for line in _opening(piece, pad, one, turned.edge_mm)]
    holes = [line for one in board.holes for line in _hole(piece, pad, one)]
    return replace(
        piece,
        edges=edges,
        outline=CutLine(ring, around.faults),
        marks=tuple(replace(mark, allowance_mm=turned.reach_mm) for mark in piece.marks),
        inner=(*piece.inner, *glue, *slits, *inside, *holes),
        notes=(*piece.notes, *piece_notes(pad, board, leather_mm, slit=bool(slits))),
    )


def _largest(shape: shapely.Geometry) -> Polygon:
    return max((part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"), key=lambda part: part.area)


def _glue_lines(within: Polygon, body: Polygon) -> list[InnerLine]:
    """From where on leather is glued to the back, as far as there is leather."""
    parts = shapely.get_parts(shapely.line_merge(within.exterior.intersection(body)))
    lines = [shapely.get_coordinates(part) for part in parts if part.geom_type == "LineString" and part.length > 1.0]
    return [InnerLine("", line, LineKind.GLUE) for line in lines]


def _slit(at: FloatArray, out: FloatArray, stop_mm: float, body: Polygon) -> FloatArray | None:
    """From beside the edge out to the cut line (2, 2); None where no leather is left to slit."""
    far = max(body.bounds[2] - body.bounds[0], body.bounds[3] - body.bounds[1])
    ray = LineString([at, at + far * out]).intersection(body)
    own = next((part for part in shapely.get_parts(ray) if part.distance(shapely.Point(at)) < 1e-6), None)
    length = 0.0 if own is None else float(own.length)
    return np.array([at + stop_mm * out, at + length * out]) if length > stop_mm + 1.0 else None


def _opening(piece: Piece, pad: BuiltPad, opening: Opening, edge: float) -> list[InnerLine]:
    """The lines of one opening: its edge, what is cut out, where leather is glued, slits."""
    ring = plan_to_piece(piece, pad, followed(opening.corners, opening.radii))
    if not opening.wrapped:
        return [InnerLine(opening.name, _closed(ring), LineKind.OPENING)]
    room = float(shapely.maximum_inscribed_circle(Polygon(ring)).length) - 0.5 * LIPS_APART_MM
    turned = Turned(edge, min(opening.wrap, room - edge))
    # Run the other way round the leather lies on the left of the line, as round the board.
    relief = reliefs_of(ring[::-1], turned)
    hole = Polygon(ring).buffer(-turned.reach_mm, join_style="mitre")
    hole = _largest(hole.union(shapely.union_all(relief.notches).intersection(Polygon(ring))))
    flap = Polygon(ring).buffer(1e-9).difference(hole)
    glue = _glue_lines(Polygon(ring).buffer(-edge, join_style="mitre"), flap)
    slits = [_slit(at, out, OPENING_STOP_MM, flap) for at, out in relief.slits]
    cut = shapely.get_coordinates(shapely.geometry.polygon.orient(hole).exterior)
    return [
        InnerLine(f"edge of {opening.name}", _closed(ring), LineKind.INNER),
        InnerLine(opening.name, cut, LineKind.OPENING),
        *glue,
        *(InnerLine("", line, LineKind.SLIT) for line in slits if line is not None),
    ]


def _hole(piece: Piece, pad: BuiltPad, hole: Hole) -> list[InnerLine]:
    """A hole that is pierced later: a broken circle and a cross."""
    at = plan_to_piece(piece, pad, np.array([hole.at]))[0]
    angles = 2.0 * np.pi * np.arange(HOLE_CORNERS + 1) / HOLE_CORNERS
    circle = at + 0.5 * hole.diameter * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    arm = 0.5 * hole.diameter + 3.0
    cross = [np.array([at - arm * way, at + arm * way]) for way in np.eye(2)]
    name = f"{hole.name} {hole.diameter:g}, pierce later"
    return [InnerLine(name, circle, LineKind.HOLE), *(InnerLine("", line, LineKind.HOLE) for line in cross)]


def _closed(ring: FloatArray) -> FloatArray:
    return np.vstack([ring, ring[:1]])
