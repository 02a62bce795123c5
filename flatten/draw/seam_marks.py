"""Marks on the seam line, each told from the others by its shape (common practice, no source).

One slit is a counted notch, two the last one towards the right or the rear, a triangle a joint with one more seam, a
long line the centre; a short line inside the sew line is a valley. Leather is slit at the cut edge no further than a
seam bears, and marked with a pen for the rest; a V cut out of it would tear.
"""

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from flatten.draw.fonts import LINE_ROOM, words_width
from flatten.draw.labels import FreeRoom, readable, turned_box
from flatten.draw.lettering import SMALLEST_MM
from flatten.draw.pen import Pen, PenLayer
from flatten.pieces.piece import SLITS_APART_MM, Mark, MarkKind, Piece
from meshes.base.arrays import FloatArray

SLIT_MM, SLIT_SHARE, KEPT_MM = 4.0, 0.5, 6.0
"""A slit is no deeper than the first, no deeper than this share of the allowance, and ends no nearer to the stitches
than the last (common practice, no source)."""
TICK_MM = 1.5
VALLEY_TICK_MM = 5.0
TRIANGLE_MM = 5.0
CENTRE_MM = 12.0
"""How far the line of a centre mark reaches inside the sew line."""
WORDS_MM = SMALLEST_MM
CUT_MARKS = (MarkKind.NOTCH, MarkKind.DOUBLE_NOTCH)


def slit_mm(mark: Mark) -> float:
    """How deep a mark is slit from the cut edge, mm; 0 where it is drawn only."""
    if mark.pen or mark.kind is MarkKind.VALLEY:
        return 0.0
    return max(min(SLIT_MM, SLIT_SHARE * mark.allowance_mm, mark.allowance_mm - KEPT_MM), 0.0)


def draw_mark(piece: Piece, mark: Mark, pen: Pen, room: FreeRoom) -> None:
    """Draw one mark of a piece: its slits, its shape, and its number or word where there is room."""
    across = np.array([-mark.outward[1], mark.outward[0]])
    spots = list(mark.spots)
    depth = slit_mm(mark)
    if depth > 0.0 and not _slit_already(piece, mark):
        for spot in spots:
            rim = _cut_edge(piece, spot, mark)
            pen.line(PenLayer.NOTCH, np.array([rim, rim - depth * mark.outward]))
    reach = _shape(mark, spots, across, depth, pen)
    room.take(LineString([mark.at - reach * mark.outward, mark.at]).buffer(1.0))
    _words(mark, across, reach, pen, room)


def _shape(mark: Mark, spots: list[FloatArray], across: FloatArray, depth: float, pen: Pen) -> float:
    """The pen lines of a mark; returns how far they reach inside the sew line, mm."""
    out, at = mark.outward, mark.at
    match mark.kind:
        case MarkKind.VALLEY:
            # Pleats are measured where they are sewn: at the cut edge they would be too wide or too narrow.
            pen.line(PenLayer.VALLEY, np.array([at - VALLEY_TICK_MM * out, at + TICK_MM * out]))
            return VALLEY_TICK_MM
        case MarkKind.CENTRE:
            pen.line(PenLayer.INNER, np.array([at - CENTRE_MM * out, at + max(mark.allowance_mm - depth, 0.0) * out]))
            return CENTRE_MM
        case MarkKind.JOINT:
            high = min(TRIANGLE_MM, mark.allowance_mm - depth)
            base = at + high * out
            pen.line(
                PenLayer.INNER, np.array([at, base + 0.6 * high * across, base - 0.6 * high * across]), closed=True
            )
            return TICK_MM
        case _:
            for spot in spots:
                pen.line(PenLayer.INNER, np.array([spot - TICK_MM * out, spot + TICK_MM * out]))
            return TICK_MM


def _slit_already(piece: Piece, mark: Mark) -> bool:
    """Whether a slit of another mark stands where this one's would, so that a second one would only tear."""
    if mark.kind in CUT_MARKS:
        return False
    before = (*CUT_MARKS, MarkKind.CENTRE) if mark.kind is MarkKind.JOINT else CUT_MARKS
    others = [other.at for other in piece.marks if other.kind in before]
    return any(float(np.linalg.norm(at - mark.at)) < SLITS_APART_MM for at in others)


def _words(mark: Mark, across: FloatArray, reach: float, pen: Pen, room: FreeRoom) -> None:
    """A mark's number or word inside the sew line; a valley's along its line."""
    if not mark.text:
        return
    along = mark.outward if mark.kind is MarkKind.VALLEY else across
    wide, high = words_width(mark.text, WORDS_MM) + 1.0, WORDS_MM * LINE_ROOM
    deep, broad = (wide, high) if mark.kind is MarkKind.VALLEY else (high, wide)
    angle = readable(float(np.degrees(np.arctan2(along[1], along[0]))))
    # Straight behind the mark, else beside it, so that it can still be told which one the words are of.
    beside = 0.5 * broad + 1.2
    for away, aside in ((reach + 1.1, 0.0), (0.9, beside), (0.9, -beside), (reach + 4.0, 0.0)):
        at = mark.at - (away + 0.5 * deep) * mark.outward + aside * across
        shape = turned_box(at, wide, high, angle)
        if room.holds(shape):
            pen.text(PenLayer.TEXT, (float(at[0]), float(at[1])), mark.text, height_mm=WORDS_MM, angle_deg=angle)
            room.take(shape)
            return


def _cut_edge(piece: Piece, at: FloatArray, mark: Mark) -> FloatArray:
    """Where a ray from the sew line outwards meets the cut line; the allowance's end if it meets none nearby."""
    ray = LineString([at - 0.5 * mark.outward, at + 2.0 * mark.allowance_mm * mark.outward])
    hits = shapely.get_coordinates(ray.intersection(Polygon(piece.cut).exterior))
    if not len(hits):
        return at + mark.allowance_mm * mark.outward
    return hits[int(np.argmin(np.abs((hits - at) @ mark.outward - mark.allowance_mm)))]
