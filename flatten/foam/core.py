"""The core of a closed cover and its wrap as shapes to cut: a block of foam, or a cylinder, and a sheet round it.

The core is as large as the sheet says; the cover is the smaller. Lengths mm.
"""

from collections.abc import Mapping

import numpy as np
from scipy.interpolate import LinearNDInterpolator

from flatten.foam.cut import LayerShapes
from flatten.foam.plan import PadPlan, Stock
from flatten.foam.too_much import height_of
from flatten.pieces.piece import BOARD, CutLine, CutOrder, Edge, EdgeKind, FlatMesh, Piece, PieceKind
from meshes.base.arrays import FloatArray
from meshes.closed.rim import rim_curve, smaller_outline, stations
from meshes.closed.words import wedge_words
from meshes.records.closed import BOARD_CLEAR_MM, Closed
from meshes.records.materials import Material
from meshes.records.pad import Layer, Pad
from meshes.seat.build import BuiltPad
from meshes.seat.panels import PanelRole

# Steps along a core's outline, mm.
CORE_STEP_MM = 20.0
# So far in from the edge the thickness of a core is told that is shaved to a knife edge.
FEATHER_AT_MM = (25.0, 50.0, 100.0, 150.0)


def core_plan(pad: BuiltPad, closed: Closed, materials: Mapping[str, Material]) -> PadPlan:
    """What a closed cover is filled with. The core counts as layer 0, the wraps from 1."""
    if not closed.filled:
        return PadPlan(pad.pad.name, (), (), height_of(pad), (), ())
    outline, length = _outline(pad.pad, 0.0)
    area = _area(outline)
    thickest = max(closed.thickness, closed.rear or 0.0)
    sheets = materials[closed.core].laid_up(thickest) if closed.form != "roll" else ()
    stock = [Stock(0, closed.core, thickest, sheets, max(len(sheets), 1) * area)]
    shapes = [LayerShapes((0,), (_core(pad, closed, outline, sheets),))]
    thick = 0.0
    for k, layer in enumerate(pad.pad.layers, start=1):
        thick += layer.thickness
        flat, count = outline, closed.wrapped_faces
        where = "it to the upper face" if count == 1 else "one to each face"
        words = f"glue {where} (mind the caution on adhesive)"
        if closed.form == "roll":
            round_mm = length + 2.0 * np.pi * (thick - 0.5 * layer.thickness)
            flat, count = np.array([[0, 0], [round_mm, 0], [round_mm, closed.thickness], [0, closed.thickness]]), 1
            words = "wrap it once round, its ends butted (mind the caution on adhesive)"
        each, how = materials[layer.material].laid_up(layer.thickness), [words]
        if sum(each) > layer.thickness + 1e-6:
            split = "split down from" if materials[layer.material].foam else "bought or peeled thinner than the usual"
            how.append(f"{split} {sum(each):g} mm")
        stock.append(Stock(k, layer.material, layer.thickness, each, max(len(each), 1) * count * _area(flat)))
        shapes.append(LayerShapes((k,), (_wrap(pad.pad, k, layer, flat, count * max(len(each), 1), how),)))
    if closed.board:
        board = _board_inside(pad, closed, materials)
        number = len(pad.pad.layers) + 1
        stock.append(Stock(number, BOARD, closed.board, (closed.board,), _area(board.outline.points)))
        shapes.append(LayerShapes((number,), (board,)))
    return PadPlan(pad.pad.name, tuple(stock), tuple(shapes), height_of(pad), (), ())


def _board_inside(pad: BuiltPad, closed: Closed, materials: Mapping[str, Material]) -> Piece:
    """The board below a core, drawn in from the finished cover, which is smaller than the core."""
    less = 0.5 * closed.smaller(materials[closed.core]).mm + BOARD_CLEAR_MM
    notes = [
        f"{closed.board:g} mm thick, {less:.1f} mm smaller than the core all round, so that it clears the seams",
        "round off its edges and corners, and glue the core to it (mind the caution on adhesive)",
        "put it in through the open zip, core up",
    ]
    return _shape(pad.pad, BOARD, _outline(pad.pad, less)[0], CutOrder(1, 0, BOARD, PieceKind.PADDING), notes)


def _outline(pad: Pad, by_mm: float) -> tuple[FloatArray, float]:
    """The core's outline (k, 2) and its length."""
    rim = rim_curve(smaller_outline(pad.outline, by_mm, 0.0)[0])
    return stations(rim, (), CORE_STEP_MM, symmetric=pad.symmetric).points, rim.length


def _area(points: FloatArray) -> float:
    x, y = points.T
    return float(0.5 * (x * np.roll(y, -1) - y * np.roll(x, -1)).sum())


def _core(built: BuiltPad, closed: Closed, outline: FloatArray, sheets: tuple[float, ...]) -> Piece:
    pad, material = built.pad, closed.core.replace("_", " ")
    if closed.form == "roll":
        notes = [f"end of a cylinder of {material}, {closed.thickness:g} mm long"]
        return _shape(pad, "core", outline, CutOrder(1, 0, closed.core, PieceKind.PADDING), notes)
    notes = [f"{closed.thickness:g} mm {material}, sides upright"]
    if closed.rear is not None:
        thin = min(closed.thickness, closed.rear)
        notes = [f"a wedge of {material}, {wedge_words(pad, closed)}, sides upright"]
        notes.append(f"split slanting from {max(closed.thickness, closed.rear):g} mm to {thin:g} mm")
    if closed.form == "knife_edge":
        notes = [f"{closed.thickness:g} mm {material} in the middle", *feathered(built, closed)]
    if len(sheets) > 1:
        notes.append(f"glued up of {' + '.join(f'{mm:g} mm' for mm in sheets)} sheets")
    if sheets and sum(sheets) > closed.thickness + 1e-6 and closed.rear is None:
        notes.append(f"split down from {sum(sheets):g} mm")
    return _shape(pad, "core", outline, CutOrder(max(len(sheets), 1), 0, closed.core, PieceKind.PADDING), notes)


def feathered(pad: BuiltPad, closed: Closed) -> list[str]:
    """How the core of a knife edge is shaved away on both faces from its middle to its front edge: its thickness at
    some distances, as the cover stands there less its share of wrap."""
    top = next(panel for panel in pad.panels if panel.role is PanelRole.FACE)
    at = top.surface.vertices
    rim = min((at[edge.vertices] for edge in top.rim), key=lambda run: float(run[:, 1].min()))
    front = rim[int(np.argmin(rim[:, 1]))]
    middle = at[int(np.argmax(at[:, 2])), :2]
    deep = float(np.linalg.norm(middle - front[:2]))
    away = np.array([mm for mm in FEATHER_AT_MM if mm < deep])
    height = LinearNDInterpolator(at[:, :2], at[:, 2])(front[:2] + away[:, None] / deep * (middle - front[:2]))
    share = closed.thickness / float(at[:, 2].max())
    thick = ", ".join(f"{share * mm:.0f} mm at {off:g}" for mm, off in zip(height, away, strict=True))
    return [f"shave both faces alike to nothing at the edge; from the front edge: {thick} mm in"] if thick else []


def _wrap(pad: Pad, number: int, layer: Layer, flat: FloatArray, count: int, how: list[str]) -> Piece:
    order = CutOrder(count, 0, layer.material, PieceKind.PADDING)
    return _shape(
        pad, f"wrap {number}", flat, order, [f"{layer.thickness:g} mm {layer.material.replace('_', ' ')}", *how]
    )


def _shape(pad: Pad, name: str, outline: FloatArray, order: CutOrder, notes: list[str]) -> Piece:
    points = outline - outline.min(axis=0)
    low, high = points.min(axis=0), points.max(axis=0)
    middle, reach = 0.5 * (low + high), min(0.2 * float(high[1] - low[1]), 75.0)
    return Piece(
        name=name,
        pad=pad.name,
        panels=(),
        edges=(Edge("all round", EdgeKind.BARE, np.vstack([points, points[:1]]), 0.0),),
        outline=CutLine(points),
        marks=(),
        grain=middle + np.array([[0.0, reach], [0.0, -reach]]),
        mesh=FlatMesh(points, np.zeros((0, 3), dtype=np.int64), np.zeros((0, 2)), np.zeros((0, 2))),
        notes=tuple(notes),
        order=order,
    )
