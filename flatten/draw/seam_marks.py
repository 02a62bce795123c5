"""Marks on the seam line, each told from the others by its shape (common practice, no source).

One slit is a counted notch, two the last one towards the right or the rear, a triangle a joint with one more seam, a
long line the centre; a short line inside the sew line is a valley. Leather is slit at the cut edge no further than a
seam bears, and marked with a pen for the rest; a V cut out of it would tear.
"""

from functools import lru_cache

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from flatten.draw.fonts import LINE_ROOM, words_width
from flatten.draw.labels import FreeRoom, readable, turned_box
from flatten.draw.lettering import SMALLEST_MM
from flatten.draw.pen import Pen, PenLayer
from flatten.pieces.piece import SLITS_APART_MM, Mark, MarkKind, Piece
from meshes.base.arrays import FloatArray

SLIT_MM, SLIT_SHARE, KEPT_MM = 4.0, 0.5, 6.0
"""A slit is no deeper than the first, no deeper than this share of the allowance, and ends no nearer to the stitches
than the last (common practice, no source)."""
SNIP_KEPT_MM = 3.0
"""A snip that lets an allowance spread goes on to so near the stitches (common practice, no source)."""
LEAST_SLIT_MM = 0.4
"""A slit that would come out shorter is left out: a knife does not make it, and the mark is drawn all the same."""
OFF_SEW_MM = 0.2
"""So far from the sew line a ray is beside it for certain."""
TICK_MM = 1.5
VALLEY_TICK_MM = 5.0
TRIANGLE_MM = 5.0
CENTRE_MM = 12.0
"""How far the line of a centre mark reaches inside the sew line."""
WORDS_MM = SMALLEST_MM
CUT_MARKS = (MarkKind.NOTCH, MarkKind.DOUBLE_NOTCH)


def slit_mm(mark: Mark) -> float:
    """How deep a mark is slit from the cut edge at most, mm; 0 where it is drawn only."""
    if mark.pen or mark.kind is MarkKind.VALLEY:
        return 0.0
    return max(min(SLIT_MM, SLIT_SHARE * mark.allowance_mm, mark.allowance_mm - KEPT_MM), 0.0)


def draw_mark(piece: Piece, mark: Mark, pen: Pen, room: FreeRoom) -> None:
    """Draw one mark of a piece: its slits, its shape, and its number or word where there is room."""
    if mark.kind is MarkKind.SNIP:
        _draw_snip(mark, pen)
        return
    across = np.array([-mark.outward[1], mark.outward[0]])
    slits = [] if _slit_already(piece, mark) else [_slit(piece, spot, mark) for spot in mark.spots]
    # Of a doubled notch both are slit or neither: one slit alone is another mark.
    if all(slit is not None for slit in slits):
        for slit in slits:
            pen.line(PenLayer.NOTCH, np.array(slit))
    reach = _shape(piece, mark, across, pen)
    room.take(LineString([mark.at - reach * mark.outward, mark.at]).buffer(1.0))
    _words(mark, across, reach, pen, room)


def _draw_snip(mark: Mark, pen: Pen) -> None:
    """Where an allowance is snipped when it is sewn, from the cut edge in; never a line to cut along before."""
    ends = np.array([mark.allowance_mm, min(SNIP_KEPT_MM, mark.allowance_mm)])
    if ends[0] - ends[1] >= LEAST_SLIT_MM:
        pen.line(PenLayer.LATER, mark.at + ends[:, None] * mark.outward)


def _slit(piece: Piece, spot: FloatArray, mark: Mark) -> FloatArray | None:
    """A slit (2, 2) from the cut line towards a spot on the sew line, KEPT_MM clear of every sew line of the piece;
    None where the leather is not cut there or leaves no room, as between the legs of a narrow dart."""
    depth = slit_mm(mark)
    ray = LineString([spot + OFF_SEW_MM * mark.outward, spot + 2.0 * mark.allowance_mm * mark.outward])
    hits = shapely.get_coordinates(ray.intersection(Polygon(piece.cut).exterior))
    if depth < LEAST_SLIT_MM or not len(hits):
        return None
    away = float(((hits - spot) @ mark.outward).min())
    if _room_out(piece, spot, mark.outward, away) < away:
        return None
    rim = spot + away * mark.outward
    near = LineString([rim, rim - depth * mark.outward]).intersection(_kept(piece))
    if not near.is_empty:
        depth = float(near.distance(Point(rim)))
    return np.array([rim, rim - depth * mark.outward]) if depth >= LEAST_SLIT_MM else None


@lru_cache(maxsize=8)
def _kept(piece: Piece) -> BaseGeometry:
    """Where no slit may reach: the piece within its sew line, and KEPT_MM round it."""
    return Polygon(piece.sew).buffer(KEPT_MM, quad_segs=64)


def _room_out(piece: Piece, spot: FloatArray, outward: FloatArray, most: float) -> float:
    """How far from a spot on the sew line it is outwards to the next sew line, mm; `most` where there is none."""
    start = spot + OFF_SEW_MM * outward
    if most <= OFF_SEW_MM:
        return most
    sew = Polygon(piece.sew)
    if sew.contains(Point(start)):
        return 0.0
    hits = shapely.get_coordinates(LineString([start, spot + most * outward]).intersection(sew.exterior))
    return float(((hits - spot) @ outward).min()) if len(hits) else most


def _shape(piece: Piece, mark: Mark, across: FloatArray, pen: Pen) -> float:
    """The pen lines of a mark; returns how far they reach inside the sew line, mm."""
    out, at, depth = mark.outward, mark.at, slit_mm(mark)

    def outwards(spot: FloatArray, most: float) -> float:
        room = _room_out(piece, spot, out, most + OFF_SEW_MM)
        # Halfway to another sew line at most, so that it is plain which of them is marked.
        return most if room >= most + OFF_SEW_MM else 0.5 * room

    match mark.kind:
        case MarkKind.VALLEY:
            # Pleats are measured where they are sewn: at the cut edge they would be too wide or too narrow.
            beyond = outwards(at, min(TICK_MM, mark.allowance_mm))
            pen.line(PenLayer.VALLEY, np.array([at - VALLEY_TICK_MM * out, at + beyond * out]))
            return VALLEY_TICK_MM
        case MarkKind.CENTRE:
            high = outwards(at, max(mark.allowance_mm - depth, 0.0))
            pen.line(PenLayer.INNER, np.array([at - CENTRE_MM * out, at + high * out]))
            return CENTRE_MM
        case MarkKind.JOINT:
            high = outwards(at, min(TRIANGLE_MM, max(mark.allowance_mm - depth, 0.0)))
            # Where nothing is cut outside, the triangle stands inside the sew line.
            inside = high < TICK_MM
            side = TRIANGLE_MM if inside else high
            base = at + (-side if inside else side) * out
            corners = np.array([at, base + 0.6 * side * across, base - 0.6 * side * across])
            pen.line(PenLayer.INNER, corners, closed=True)
            return TRIANGLE_MM if inside else TICK_MM
        case _:
            # Where leather ends at the sew line, as the raw edge of a lapped seam does, all of the tick lies on it.
            high = min(TICK_MM, mark.allowance_mm)
            low = 2.0 * TICK_MM - high
            for spot in mark.spots:
                pen.line(PenLayer.INNER, np.array([spot - low * out, spot + outwards(spot, high) * out]))
            return low


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
