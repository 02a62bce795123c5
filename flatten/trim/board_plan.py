"""What lies under the leather of a flat board, as shapes to cut: its foam, and the board itself.

Foam is glued to the face and trimmed flush with the board's edge, inside openings too, so that the leather lies sharp
on both; an oversize in the sheet is left all round to be trimmed. Lengths mm.
"""

from collections.abc import Mapping

import numpy as np
import shapely
from shapely.geometry import Polygon

from flatten.foam.cut import LayerShapes
from flatten.foam.plan import PadPlan, Stock
from flatten.foam.too_much import height_of
from flatten.pieces.piece import (
    BOARD,
    CutLine,
    CutOrder,
    Edge,
    EdgeKind,
    FlatMesh,
    InnerLine,
    LineKind,
    Piece,
    PieceKind,
)
from meshes.base.arrays import FloatArray
from meshes.outlines.openings import followed
from meshes.records.board import Board
from meshes.records.materials import Material
from meshes.records.pad import Layer
from meshes.seat.build import BuiltPad


def board_plan(pad: BuiltPad, board: Board, materials: Mapping[str, Material]) -> PadPlan:
    """Foam and board of a flat board; the board counts as layer 0, foam from 1."""
    many = 1 if board.pair is None else 2
    area = many * board_mm2(pad, board)
    stock = [Stock(0, BOARD, board.thickness, (board.thickness,), area)]
    shapes = [LayerShapes((0,), (_board(pad, board),))]
    for k, layer in enumerate(pad.pad.layers, start=1):
        sheets = materials[layer.material].laid_up(layer.thickness)
        stock.append(Stock(k, layer.material, layer.thickness, sheets, max(len(sheets), 1) * area))
        shapes.append(LayerShapes((k,), (_foam(pad, board, k, layer, max(len(sheets), 1)),)))
    return PadPlan(pad.pad.name, tuple(stock), tuple(shapes), height_of(pad), (), ())


def board_mm2(pad: BuiltPad, board: Board) -> float:
    """Area of one board without its openings."""
    return float(_face(pad).area - sum(Polygon(followed(one.corners, one.radii)).area for one in board.openings))


def _face(pad: BuiltPad) -> Polygon:
    """The board as it was measured; of a pair the one whose outline is given."""
    panel = pad.panels[0]
    loop = np.concatenate([edge.vertices[:-1] for edge in panel.rim])
    return Polygon(panel.surface.vertices[loop, :2])


def _board(pad: BuiltPad, board: Board) -> Piece:
    notes = [f"{board.thickness:g} mm thick; round its edges off, or they cut the leather"]
    if board.holes:
        notes.append("drill the holes before it is covered")
    outline = shapely.get_coordinates(_face(pad).exterior)[:-1]
    return _shape(pad, board, (BOARD, CutOrder(1, _mirrored(board), BOARD, PieceKind.PADDING)), outline, notes)


def _foam(pad: BuiltPad, board: Board, number: int, layer: Layer, sheets: int) -> Piece:
    notes = [
        f"{layer.thickness:g} mm {layer.material.replace('_', ' ')}, glued to the face, trimmed flush with the board "
        "(mind the caution on adhesive)",
        "sand the skin of closed-cell foam before it is glued",
    ]
    over = layer.oversize or 0.0
    face = _face(pad).buffer(over, join_style="mitre") if over else _face(pad)
    outline = shapely.get_coordinates(shapely.geometry.polygon.orient(face).exterior)[:-1]
    order = CutOrder(sheets, sheets * _mirrored(board), layer.material, PieceKind.PADDING)
    return _shape(pad, board, (f"foam {number}", order), outline, notes, over)


def _mirrored(board: Board) -> int:
    return 0 if board.pair is None else 1


def _shape(
    pad: BuiltPad,
    board: Board,
    what: tuple[str, CutOrder],
    outline: FloatArray,
    notes: list[str],
    over_mm: float = 0.0,
) -> Piece:
    """A shape with the board's openings and holes; what: its name and how often it is cut; over_mm: larger by that."""
    name, order = what
    shift = -outline.min(axis=0)
    points, low, high = outline + shift, np.zeros(2), np.ptp(outline, axis=0)
    middle, reach = 0.5 * (low + high), min(0.2 * float(high[1]), 75.0)
    inner = [
        InnerLine(one.name, _ring(followed(one.corners, one.radii)) + shift, LineKind.OPENING) for one in board.openings
    ]
    for hole in board.holes:
        angles = np.linspace(0.0, 2.0 * np.pi, 25)
        circle = np.array(hole.at) + 0.5 * hole.diameter * np.stack([np.cos(angles), np.sin(angles)], axis=1)
        inner.append(InnerLine(f"{hole.name} {hole.diameter:g}", circle + shift, LineKind.HOLE))
    edge = _ring(points if not over_mm else shapely.get_coordinates(_face(pad).exterior)[:-1] + shift)
    kind = EdgeKind.OVERSIZE if over_mm else EdgeKind.BARE
    return Piece(
        name=name,
        pad=pad.pad.name,
        panels=(),
        edges=(Edge("all round", kind, edge, over_mm),),
        outline=CutLine(points),
        marks=(),
        grain=middle + np.array([[0.0, -reach], [0.0, reach]]),
        mesh=FlatMesh(points, np.zeros((0, 3), dtype=np.int64), np.zeros((0, 2)), np.zeros((0, 2))),
        inner=tuple(inner),
        notes=tuple(notes),
        order=order,
    )


def _ring(points: FloatArray) -> FloatArray:
    return np.vstack([points, points[:1]])
