"""The drawing of a whole piece on any pen.

A piece is drawn once, here. What does not have to be somewhere exact (names, arrow, scale bar) finds its own room
inside the sew line, so that no word hides a line or hangs over the edge.
"""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from flatten.draw.fonts import LINE_ROOM, words_width
from flatten.draw.labels import FreeRoom, LabelPlace, long_way, readable, turned_box
from flatten.draw.lettering import Block, draw_block, draw_edge_name, place_block
from flatten.draw.pen import Pen, PenLayer, RecordingPen
from flatten.draw.seam_marks import draw_mark
from flatten.pieces.piece import InnerLine, LineKind, Piece
from meshes.base.arrays import FloatArray

LINE_NAME_MM = 2.0
NAME_FROM_MM = 15.0
"""Names of lines begin so far from their end, clear of what is written along the seam."""
ARROW_MM = 8.0
"""Width kept free for the grain arrow."""
SCALE_BARS_MM = (100.0, 50.0, 20.0)
"""Lengths of the scale bar: the longest that has room is drawn."""


LINE_LAYERS = {
    LineKind.INNER: PenLayer.INNER,
    LineKind.STITCH: PenLayer.STITCH,
    LineKind.CREST: PenLayer.CREST,
    LineKind.JOIN: PenLayer.JOIN,
    LineKind.BACKING: PenLayer.BACKING,
    LineKind.BEVEL: PenLayer.INNER,
    LineKind.ROUNDING: PenLayer.ROUNDING,
}
NAMED_LINES = (LineKind.STITCH, LineKind.BACKING, LineKind.JOIN, LineKind.BEVEL, LineKind.ROUNDING)


def draw_piece(piece: Piece, pen: Pen) -> None:
    """Draw everything on a piece: cut line, sew line, marks, inner lines, words, grain arrow, scale bar."""
    _recorded(piece).replay(pen)


@lru_cache(maxsize=64)
def _recorded(piece: Piece) -> RecordingPen:
    """The drawing of a piece, made once: finding room for its words takes longer than all papers together."""
    pen = RecordingPen()
    pen.line(PenLayer.CUT, piece.cut, closed=True)
    pen.line(PenLayer.SEW, piece.sew, closed=True)
    room = FreeRoom(Polygon(piece.sew).buffer(-1.0))
    for inner in piece.inner:
        pen.line(LINE_LAYERS[inner.kind], inner.points)
        room.take(LineString(inner.points).buffer(1.5))
        if inner.kind in NAMED_LINES:
            _name_line(inner, pen, room)
    for mark in piece.marks:
        draw_mark(piece, mark, pen, room)
    angles = tuple(dict.fromkeys((0.0, long_way(Polygon(piece.sew)), 90.0)))
    for length in SCALE_BARS_MM:
        bar = _scale_bar(room, angles, length)
        if bar is not None:
            _draw_bar(bar, length, pen)
            break
    arrow, block = _arrow_and_block(piece, room, angles)
    _draw_arrow(arrow, pen)
    draw_block(block, pen)
    for edge in piece.edges:
        draw_edge_name(edge, pen, room)
    return pen


def _name_line(inner: InnerLine, pen: Pen, room: FreeRoom) -> None:
    """The name of a line along its left side, a little after its first end; on a join inside the piece."""
    ends = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(inner.points, axis=0), axis=1))])
    width = words_width(inner.name, LINE_NAME_MM)
    spots = min(NAME_FROM_MM + 0.5 * width, 0.5 * ends[-1]) + np.array([-0.5, 0.0, 0.5]) * width
    run = np.stack([np.interp(spots, ends, inner.points[:, k]) for k in (0, 1)], axis=1)
    along = (run[2] - run[0]) / max(float(np.linalg.norm(run[2] - run[0])), 1e-9)
    at = run[1] + (0.5 * LINE_ROOM * LINE_NAME_MM + 0.6) * np.array([-along[1], along[0]])
    angle = readable(float(np.degrees(np.arctan2(along[1], along[0]))))
    pen.text(PenLayer.TEXT, (float(at[0]), float(at[1])), inner.name, height_mm=LINE_NAME_MM, angle_deg=angle)
    room.take(turned_box(at, width + 1.0, LINE_NAME_MM * LINE_ROOM, angle))


def _scale_bar(room: FreeRoom, angles: Sequence[float], length: float) -> LabelPlace | None:
    place = room.best_place(length + 6.0, 9.0, angles)
    if place.scale < 1.0:
        return None
    # The bar goes to the far end of the room, so that the middle stays free for the name.
    ends = shapely.get_coordinates(room.free.convex_hull)
    turn = np.radians(place.angle_deg)
    down = np.array([np.sin(turn), -np.cos(turn)])
    far = float(((ends - place.at) @ down).max())
    for drop in np.linspace(far, 0.0, 40):
        at = place.at + drop * down
        if room.holds(turned_box(at, length + 6.0, 16.0, place.angle_deg)):
            place = LabelPlace((float(at[0]), float(at[1])), place.angle_deg, 1.0)
            break
    room.take(turned_box(place.at, length + 6.0, 9.0, place.angle_deg))
    return place


def _draw_bar(bar: LabelPlace, length: float, pen: Pen) -> None:
    turn = np.radians(bar.angle_deg)
    along, up = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    start = bar.at - 0.5 * length * along - 2.0 * up
    pen.line(PenLayer.TEXT, np.array([start, start + length * along]))
    for k in range(round(length / 10.0) + 1):
        foot = start + 10.0 * k * along
        pen.line(PenLayer.TEXT, np.array([foot, foot + (3.0 if k % 5 == 0 else 1.5) * up]))
    x, y = bar.at + 2.8 * up
    pen.text(PenLayer.TEXT, (float(x), float(y)), f"{length:g} mm", height_mm=2.0, angle_deg=bar.angle_deg)


def _arrow_and_block(piece: Piece, room: FreeRoom, angles: Sequence[float]) -> tuple[FloatArray | None, Block]:
    """Words as large as they may be while an arrow of decent length still has room beside them."""
    wanted = float(np.linalg.norm(piece.grain[1] - piece.grain[0]))
    for share in (1.0, 0.8, 0.65, 0.5, 0.4, 0.3):
        trial = FreeRoom(room.free)
        block = place_block(piece, trial, angles, share)
        arrow = _arrow(piece, trial, wanted, least=min(0.5 * wanted, 30.0) if share > 0.3 else 5.0)
        if arrow is not None:
            break
    room.free = trial.free
    return arrow, block


def _arrow(piece: Piece, room: FreeRoom, wanted: float, least: float) -> FloatArray | None:
    """The grain arrow, as long as wanted if it can be, nearest to the piece's middle; None where no arrow fits."""
    along = piece.grain[1] - piece.grain[0]
    angle = float(np.degrees(np.arctan2(along[1], along[0])))
    along = along / np.linalg.norm(along)
    for size in (wanted * k for k in (1.0, 0.75, 0.5, 0.35, 0.25, 0.15)):
        if size < least:
            break
        middle = _arrow_middle(piece, room, size, angle)
        if middle is not None:
            room.take(turned_box(middle, size + 2.0, ARROW_MM, angle))
            return middle + np.array([[-0.5], [0.5]]) * size * along
    return None


def _arrow_middle(piece: Piece, room: FreeRoom, size: float, angle: float) -> FloatArray | None:
    """Middle of an arrow with space round it, sought outwards from the piece's middle, else wherever one just fits."""
    x0, y0, x1, y1 = piece.box()
    spread = np.array([[x, y] for x in np.linspace(-0.5, 0.5, 25) for y in (-0.2, -0.1, 0.0, 0.1, 0.2)])
    steps = spread * [x1 - x0, y1 - y0]
    for step in steps[np.argsort(np.linalg.norm(steps, axis=1), kind="stable")]:
        middle = piece.grain.mean(axis=0) + step
        if room.holds(turned_box(middle, size + 8.0, 3.0 * ARROW_MM, angle)):
            return middle
    place = room.best_place(size + 2.0, ARROW_MM, (angle,))
    return np.array(place.at) if place.scale >= 1.0 else None


def _draw_arrow(arrow: FloatArray | None, pen: Pen) -> None:
    if arrow is None:
        return
    along = arrow[1] - arrow[0]
    length = float(np.linalg.norm(along))
    along = along / length
    across = np.array([-along[1], along[0]])
    head = min(8.0, 0.4 * length)
    foot = arrow[1] - head * along
    pen.line(PenLayer.GRAIN, np.array([arrow[0], foot]))
    pen.fill(PenLayer.GRAIN, np.array([arrow[1], foot + 0.35 * head * across, foot - 0.35 * head * across]))
