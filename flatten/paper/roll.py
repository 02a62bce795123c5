"""Pieces side by side on a roll: one layout for every paper.

A skyline packing (lowest place first, then the leftmost), larger pieces first, in the order of size (height, width,
area, longest side) that gives the shortest sheet. It depends on nothing but the pieces
and the width, so the same job gives the same sheet.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from flatten.draw.imprint import NO_IMPRINT, Imprint
from flatten.draw.marks import draw_piece
from flatten.draw.pen import MovedPen, Pen, RecordingPen
from flatten.pieces.piece import Piece
from flatten.pieces.turned_over import quarter_turned
from meshes.base.arrays import FloatArray

GAP_MM = 10.0
_NONE = 1e-9


@dataclass(frozen=True, eq=False)
class PlacedPiece:
    """Where a piece lies: turned a quarter counter-clockwise or not, then moved by `shift` mm."""

    piece: Piece
    shift: tuple[float, float]
    turned: bool

    def pen(self, pen: Pen) -> MovedPen:
        """A pen on which the piece draws itself in its own coordinates and lands in this place."""
        return MovedPen(pen, self.shift, self.turned)

    def draw(self, pen: Pen, *, imprint: Imprint = NO_IMPRINT) -> None:
        """Draw the piece in its place."""
        draw_piece(self.upright, MovedPen(pen, self.shift), imprint=imprint)

    @cached_property
    def upright(self) -> Piece:
        """The piece as it lies, so that words are written upright and read from top to bottom."""
        return quarter_turned(self.piece) if self.turned else self.piece

    def points(self, points: FloatArray) -> FloatArray:
        """Points (k, 2) of the piece in the coordinates of the layout, mm."""
        return self.pen(RecordingPen()).place(points)


@dataclass(frozen=True, eq=False)
class SheetLayout:
    """All pieces laid out from (0, 0) to (width_mm, length_mm), the roll running along y."""

    places: tuple[PlacedPiece, ...]
    width_mm: float
    length_mm: float
    notes: tuple[str, ...] = ()

    def draw(self, pen: Pen, *, imprint: Imprint = NO_IMPRINT) -> None:
        """Draw every piece in its place."""
        for place in self.places:
            place.draw(pen, imprint=imprint)


def lay_out_roll(
    pieces: Sequence[Piece], *, width_mm: float, edge_mm: float = GAP_MM, foot_mm: float = 0.0
) -> SheetLayout:
    """Lay pieces on a roll `width_mm` wide, GAP_MM apart and `edge_mm` from its edges, `foot_mm` free at its start.

    A piece is turned only if it is too wide for the roll as it stands. A piece that fits neither way makes the sheet
    wider, and a note says so. Raises ValueError without pieces or for a width that leaves no room.
    """
    if not pieces:
        raise ValueError("there is no piece to draw")
    if not width_mm > 2.0 * edge_mm:
        raise ValueError(f"a sheet {width_mm:g} mm wide leaves no room between edges of {edge_mm:g} mm")
    room = width_mm - 2.0 * edge_mm
    turned, notes = _turns(pieces, room)
    boxes = [_size(piece, turn) for piece, turn in zip(pieces, turned, strict=True)]
    room = max(room, max(w for w, _ in boxes))
    rules: tuple[Callable[[int], float], ...] = (
        lambda k: boxes[k][1],
        lambda k: boxes[k][0],
        lambda k: boxes[k][0] * boxes[k][1],
        lambda k: max(boxes[k]),
    )
    found = []
    for rule in rules:
        order = sorted(range(len(pieces)), key=lambda k: (-rule(k), -boxes[k][1], pieces[k].name, k))
        found.append((order, _packed([boxes[k] for k in order], room)))
    order, (corners, height) = min(found, key=lambda one: one[1][1])
    places = [
        placed_at(pieces[k], turned[k], np.array([x + edge_mm, y + edge_mm + foot_mm]))
        for k, (x, y) in zip(order, corners, strict=True)
    ]
    return SheetLayout(tuple(places), room + 2.0 * edge_mm, height + 2.0 * edge_mm + foot_mm, tuple(notes))


def too_wide(pieces: Sequence[Piece], *, width_mm: float, edge_mm: float = GAP_MM) -> list[tuple[Piece, float]]:
    """The pieces that fit no way on a roll `width_mm` wide, each with the width in mm that it needs."""
    needed = [(piece, min(_size(piece, False)) + 2.0 * edge_mm) for piece in pieces]
    return [(piece, need) for piece, need in needed if need > width_mm + _NONE]


def _packed(boxes: Sequence[tuple[float, float]], room: float) -> tuple[list[tuple[float, float]], float]:
    """Lower left corners of boxes (width, height) put down one after the other, and the height they reach."""
    skyline = [(0.0, 0.0, room + GAP_MM)]
    corners = []
    for width, height in boxes:
        x, y = _lowest(skyline, width + GAP_MM)
        skyline = _raised(skyline, x, width + GAP_MM, y + height + GAP_MM)
        corners.append((x, y))
    return corners, max(y for _, y, _ in skyline) - GAP_MM


def _turns(pieces: Sequence[Piece], room: float) -> tuple[list[bool], list[str]]:
    turned, notes = [], []
    for piece in pieces:
        w, h = _size(piece, False)
        turn = w > room + _NONE and h < w
        turned.append(turn)
        if min(w, h) > room + _NONE:
            notes.append(f"{piece.name} is {w:.0f} x {h:.0f} mm, wider than the roll either way; the sheet is wider")
    return turned, notes


def _size(piece: Piece, turned: bool) -> tuple[float, float]:
    x0, y0, x1, y1 = piece.box()
    return (y1 - y0, x1 - x0) if turned else (x1 - x0, y1 - y0)


def placed_at(piece: Piece, turned: bool, at: FloatArray) -> PlacedPiece:
    """The piece with the lower left corner of the box round its cut line at a point (2,), mm."""
    corner = MovedPen(RecordingPen(), (0.0, 0.0), turned).place(piece.cut).min(axis=0)
    return PlacedPiece(piece, (float(at[0] - corner[0]), float(at[1] - corner[1])), turned)


def _lowest(skyline: list[tuple[float, float, float]], width: float) -> tuple[float, float]:
    """Lowest, then leftmost, place for something `width` wide; skyline: (x, height, width) from left to right."""
    end = skyline[-1][0] + skyline[-1][2]
    best: tuple[float, float] | None = None
    for x, _, _ in skyline:
        if x + width > end + _NONE:
            break
        y = max(h for left, h, w in skyline if left < x + width - _NONE and left + w > x + _NONE)
        if best is None or y < best[1] - _NONE:
            best = (x, y)
    if best is None:
        raise ValueError(f"{width:g} mm do not fit on {end:g} mm")
    return best


def _raised(
    skyline: list[tuple[float, float, float]], x: float, width: float, height: float
) -> list[tuple[float, float, float]]:
    """The skyline with the stretch from x to x + width raised to `height`."""
    kept: list[tuple[float, float, float]] = []
    for left, h, w in skyline:
        right = left + w
        if left < x - _NONE:
            kept.append((left, h, min(right, x) - left))
        if right > x + width + _NONE:
            start = max(left, x + width)
            kept.append((start, h, right - start))
    kept.append((x, height, width))
    return sorted(kept)
