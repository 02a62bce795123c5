"""The drawing of a whole piece on any pen.

A piece is drawn once, here. What does not have to be somewhere exact (names, arrow, scale bar) finds its own room
inside the sew line, so that no word hides a line or hangs over the edge.
"""

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from flatten.draw.fonts import LINE_ROOM, words_width
from flatten.draw.imprint import NO_IMPRINT, Imprint, PrintedMeasure
from flatten.draw.labels import FreeRoom, LabelPlace, long_way, readable, turned_box
from flatten.draw.lettering import LINE_MM, SMALLEST_MM, WordBlock, draw_block, draw_edge_name, place_block
from flatten.draw.pen import Pen, PenLayer, RecordingPen
from flatten.draw.seam_marks import draw_mark
from flatten.pieces.piece import InnerLine, LineKind, Piece
from meshes.base.arrays import FloatArray

LINE_NAME_MM = SMALLEST_MM
NAME_FROM_MM = 15.0
"""Names of lines begin so far from their end, clear of what is written along the seam."""
ARROW_MM = 8.0
"""Width kept free for the grain arrow."""


LINE_LAYERS = {
    LineKind.INNER: PenLayer.INNER,
    LineKind.STITCH: PenLayer.STITCH,
    LineKind.CREST: PenLayer.CREST,
    LineKind.JOIN: PenLayer.JOIN,
    LineKind.BACKING: PenLayer.BACKING,
    LineKind.BEVEL: PenLayer.INNER,
    LineKind.FOLD: PenLayer.INNER,
    LineKind.ROUNDING: PenLayer.ROUNDING,
    LineKind.ROW: PenLayer.STITCH,
    LineKind.LATER: PenLayer.LATER,
    LineKind.HELD: PenLayer.INNER,
    LineKind.GLUE: PenLayer.GLUE,
    LineKind.OPENING: PenLayer.OPENING,
    LineKind.SLIT: PenLayer.SLIT,
    LineKind.HOLE: PenLayer.HOLE,
    LineKind.BEFORE: PenLayer.BEFORE,
}
NAMED_LINES = (
    *(LineKind.STITCH, LineKind.BACKING, LineKind.JOIN),
    *(LineKind.BEVEL, LineKind.ROUNDING, LineKind.FOLD, LineKind.ROW, LineKind.LATER, LineKind.HELD),
    *(LineKind.OPENING, LineKind.HOLE, LineKind.BEFORE),
)


def draw_piece(piece: Piece, pen: Pen, *, imprint: Imprint = NO_IMPRINT, words_in: BaseGeometry | None = None) -> None:
    """Draw everything on a piece: cut line, sew line, marks, inner lines, words, grain arrow, scale bar.

    imprint: job, revision and unit; words_in: where on the piece words, arrow and bar may stand, for paper that is
    joined across it; None: wherever there is room.
    """
    _recorded(piece, imprint, words_in).replay(pen)


def line_record(piece: Piece) -> RecordingPen:
    """Only what has its exact place on a piece: cut line, sew line, marks, inner lines."""
    pen = RecordingPen()
    _draw_lines(replace(piece, inner=tuple(replace(line, name="") for line in piece.inner)), pen, FreeRoom(Polygon()))
    return pen


@lru_cache(maxsize=256)
def _recorded(piece: Piece, imprint: Imprint, words_in: BaseGeometry | None) -> RecordingPen:
    """The drawing of a piece, made once: finding room for its words takes longer than all papers together."""
    pen = RecordingPen()
    inside = Polygon(piece.sew).buffer(-1.0)
    room = FreeRoom(inside if words_in is None else inside.intersection(words_in))
    _draw_lines(piece, pen, room)
    angles = tuple(dict.fromkeys((0.0, long_way(Polygon(piece.sew)), 90.0)))
    bar, arrow, block = _bar_arrow_and_block(piece, room, angles, imprint)
    if bar is not None:
        _draw_bar(*bar, pen)
    _draw_arrow(arrow, pen)
    draw_block(block, pen)
    for edge in piece.edges:
        draw_edge_name(edge, pen, room, imprint=imprint)
    return pen


def _draw_lines(piece: Piece, pen: Pen, room: FreeRoom) -> None:
    """Lines and marks with their own words; takes the room they need."""
    pen.line(PenLayer.CUT, piece.cut, closed=True)
    pen.line(PenLayer.SEW, piece.sew, closed=True)
    for inner in piece.inner:
        line = LineString(inner.points)
        room.take((Polygon(inner.points) if inner.kind is LineKind.OPENING else line).buffer(1.5))
    for inner in piece.inner:
        ring = len(inner.points) > 3 and bool((inner.points[0] == inner.points[-1]).all())
        pen.line(LINE_LAYERS[inner.kind], inner.points[:-1] if ring else inner.points, closed=ring)
        if inner.kind in NAMED_LINES and inner.name:
            _name_line(inner, pen, room)
    for mark in piece.marks:
        draw_mark(piece, mark, pen, room)


def _name_line(inner: InnerLine, pen: Pen, room: FreeRoom) -> None:
    """The name of a line beside it, a little after its first end or as near to that as there is room."""
    ends = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(inner.points, axis=0), axis=1))])
    width = words_width(inner.name, LINE_NAME_MM)
    first = min(NAME_FROM_MM + 0.5 * width, 0.5 * ends[-1])
    for place in (first, *np.arange(first + 10.0, ends[-1] - NAME_FROM_MM - 0.5 * width, 10.0)):
        spots = place + np.array([-0.5, 0.0, 0.5]) * width
        run = np.stack([np.interp(spots, ends, inner.points[:, k]) for k in (0, 1)], axis=1)
        along = (run[2] - run[0]) / max(float(np.linalg.norm(run[2] - run[0])), 1e-9)
        angle = readable(float(np.degrees(np.arctan2(along[1], along[0]))))
        for side in (1.0, -1.0):
            at = run[1] + side * (0.5 * LINE_ROOM * LINE_NAME_MM + 1.6) * np.array([-along[1], along[0]])
            shape = turned_box(at, width + 1.0, LINE_NAME_MM * LINE_ROOM, angle)
            if room.holds(shape):
                x, y = float(at[0]), float(at[1])
                pen.text(PenLayer.TEXT, (x, y), inner.name, height_mm=LINE_NAME_MM, angle_deg=angle)
                room.take(shape)
                return


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


def _draw_bar(bar: LabelPlace, measure: PrintedMeasure, pen: Pen) -> None:
    length = measure.length_mm
    turn = np.radians(bar.angle_deg)
    along, up = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    start = bar.at - 0.5 * length * along - 2.0 * up
    pen.line(PenLayer.TEXT, np.array([start, start + length * along]))
    for k in range(round(length / measure.tick_mm) + 1):
        foot = start + measure.tick_mm * k * along
        pen.line(PenLayer.TEXT, np.array([foot, foot + (2.0 if k % measure.labelled == 0 else 1.0) * up]))
    x, y = bar.at + 2.6 * up
    pen.text(PenLayer.TEXT, (float(x), float(y)), measure.words, height_mm=SMALLEST_MM, angle_deg=bar.angle_deg)


def _bar_arrow_and_block(
    piece: Piece, room: FreeRoom, angles: Sequence[float], imprint: Imprint
) -> tuple[tuple[LabelPlace, PrintedMeasure] | None, FloatArray | None, WordBlock]:
    """The longest scale bar beside which there is room to say what the piece is and which side lies up, and these; a
    small piece does without a bar."""
    start = room.free
    for bar in (*imprint.bars, None):
        room.free = start
        place = _scale_bar(room, angles, bar.length_mm) if bar is not None else None
        if bar is not None and place is None:
            continue
        arrow, block = _arrow_and_block(piece, room, angles, imprint)
        said = " ".join(words for words, _ in block.lines)
        if said and piece.side_text in said:
            break
    return (place, bar) if place is not None and bar is not None else None, arrow, block


def _arrow_and_block(
    piece: Piece, room: FreeRoom, angles: Sequence[float], imprint: Imprint
) -> tuple[FloatArray | None, WordBlock]:
    """Words as large as they may be while an arrow of decent length still has room beside them."""
    wanted = float(np.linalg.norm(piece.grain[1] - piece.grain[0]))
    least_share = SMALLEST_MM / LINE_MM
    for share in (1.0, 0.5 * (1.0 + least_share), least_share):
        trial = FreeRoom(room.free)
        block = place_block(piece, trial, angles, share, imprint=imprint)
        arrow = _arrow(piece, trial, wanted, least=min(0.5 * wanted, 30.0) if share > least_share else 5.0)
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
