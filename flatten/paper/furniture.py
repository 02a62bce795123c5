"""What every tile carries besides the pattern: names, join lines, crosses, test square, rulers, piece names.

All of it is thin and grey or in the margin, so that no cut line is mistaken for it or hidden by it.
"""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from flatten.draw.fonts import LINE_ROOM, height_to_fit, words_width
from flatten.draw.imprint import Imprint
from flatten.draw.labels import FreeRoom, turned_box
from flatten.draw.lettering import SMALLEST_MM
from flatten.draw.pen import PenLayer, RecordingPen
from flatten.paper.checking import draw_rulers, draw_square
from flatten.paper.pages import MARGIN_MM, PageFormat, Tile, Tiling
from flatten.paper.pdf_pen import PdfPen
from flatten.paper.roll import PlacedPiece
from flatten.paper.wording import side_words

LIGHT = 0.65
CROSS_MM = 4.0
TAG_MM = SMALLEST_MM
SQUARE_STEP_MM = 6.0
SQUARE_CLEAR_MM = 1.5
"""The checking square is tried at places so far apart and keeps so far from lines and words."""


def draw_furniture(
    pen: PdfPen,
    tiling: Tiling,
    tile: Tile,
    place_words: str,
    records: Sequence[tuple[PlacedPiece, RecordingPen]],
    *,
    imprint: Imprint,
) -> None:
    """Everything but the pattern on one tile.

    place_words: which page of how many; records: each piece as it is drawn on the layout.
    """
    sheet = tiling.sheet
    _join_lines(pen, tiling, tile)
    _margin_words(pen, tiling, tile, place_words)
    height = height_to_fit(imprint.line, SMALLEST_MM, 0.5 * sheet.height_mm)
    beside = (sheet.width_mm - 0.5 * MARGIN_MM - 1.0, 20.0)
    pen.write(beside, imprint.line, height_mm=height, angle_deg=90.0, side=0.0)
    draw_rulers(pen, (20.0, 5.0), (5.0, 20.0), imprint=imprint)
    shift = (MARGIN_MM - tile.box[0], MARGIN_MM - tile.box[1])
    here = [(place, _obstacles(record, tile, shift)) for place, record in records if place in tile.touches]
    taken = shapely.union_all([shape for _, shape in here])
    # Over the lines where pages are joined no word can be read.
    taken = taken.union(affinity.translate(_joins(tiling, tile), *shift))
    for place, _ in here:
        taken = taken.union(_draw_tag(pen, place, sheet, taken, shift))
    square = square_place(sheet, taken, imprint.square.length_mm)
    if square is not None:
        draw_square(pen, square, imprint=imprint)


def draw_cross(pen: PdfPen, x: float, y: float) -> None:
    """A register cross, at the same place of the pattern on both pages that meet there."""
    pen.rule([(x - CROSS_MM, y), (x + CROSS_MM, y)], width_mm=0.25, ink=0.2)
    pen.rule([(x, y - CROSS_MM), (x, y + CROSS_MM)], width_mm=0.25, ink=0.2)


def _join_lines(pen: PdfPen, tiling: Tiling, tile: Tile) -> None:
    """Lines in the middle of each overlap, drawn on both pages, with crosses to lay one over the other."""
    sheet, half = tiling.sheet, 0.5 * tiling.sheet.overlap_mm
    x0, x1 = MARGIN_MM + half, sheet.width_mm - MARGIN_MM - half
    y0, y1 = MARGIN_MM + half, sheet.height_mm - MARGIN_MM - half
    sides = {
        (-1, 0): ((x0, y0 - half), (x0, y1 + half)),
        (1, 0): ((x1, y0 - half), (x1, y1 + half)),
        (0, -1): ((x0 - half, y0), (x1 + half, y0)),
        (0, 1): ((x0 - half, y1), (x1 + half, y1)),
    }
    crosses = set()
    for side, line in sides.items():
        if not tiling.neighbour(tile, *side):
            continue
        pen.rule(line, width_mm=0.15, dash_mm=(1.5, 1.5), ink=LIGHT)
        ends = [(x, y) for x in (x0, x1) for y in (y0, y1) if (x if side[0] else y) == line[0][0 if side[0] else 1]]
        crosses |= {*ends, (0.5 * (ends[0][0] + ends[1][0]), 0.5 * (ends[0][1] + ends[1][1]))}
    for x, y in sorted(crosses):
        draw_cross(pen, x, y)


def _margin_words(pen: PdfPen, tiling: Tiling, tile: Tile, place_words: str) -> None:
    sheet, middle = tiling.sheet, 0.5 * MARGIN_MM + 1.0
    top = sheet.height_mm - middle
    # What is mirrored is said on the piece; here it would leave no room for the names of others.
    names = dict.fromkeys(f"{place.piece.pad} {place.piece.name.split(' (')[0]}" for place in tile.touches)
    pen.write((MARGIN_MM, top), tile.name, height_mm=4.0, side=0.0)
    # Before all names: a page is laid on the leather by it, and names may be left out where there are many.
    up = side_words([place.piece for place in tile.touches])
    start = MARGIN_MM + words_width(tile.name, 4.0) + 4.0
    words = _fitting([place_words, up, *names], SMALLEST_MM, 0.74 * sheet.width_mm - start)
    pen.write((start, top), words, height_mm=SMALLEST_MM, side=0.0)
    across, along = 0.88 * sheet.width_mm, 0.8 * sheet.height_mm
    spots = {
        (-1, 0): ((middle, along), 90.0),
        (1, 0): ((sheet.width_mm - middle, along), 90.0),
        (0, -1): ((across, middle), 0.0),
        (0, 1): ((across, top), 0.0),
    }
    for side, (at, angle) in spots.items():
        other = tiling.neighbour(tile, *side)
        if other:
            pen.write(at, f"joins {other}", height_mm=SMALLEST_MM, angle_deg=angle)


def _obstacles(record: RecordingPen, tile: Tile, shift: tuple[float, float]) -> BaseGeometry:
    """What one piece has drawn on a tile, as shapes to keep clear of, in page coordinates."""
    area = box(*tile.box)
    shapes: list[BaseGeometry] = []
    for layer, points, closed in record.lines:
        line = LineString(np.vstack([points, points[:1]]) if closed else points)
        shapes.append(line.intersection(area).buffer(1.2 if layer is PenLayer.CUT else 0.8))
    shapes += [Polygon(points).intersection(area) for _, points in record.fills]
    for text in record.texts:
        width = words_width(text.words, text.height_mm)
        shapes.append(turned_box(text.at, width, text.height_mm * LINE_ROOM, text.angle_deg).intersection(area))
    return affinity.translate(shapely.union_all(shapes), *shift)


def _joins(tiling: Tiling, tile: Tile) -> BaseGeometry:
    """Where a tile overlaps with those joined to it, in mm of the layout."""
    whole, off = box(*tile.box), tiling.sheet.overlap_mm + 0.5
    x0, y0, x1, y1 = tile.box
    sides = {(-1, 0): 0, (0, -1): 1, (1, 0): 2, (0, 1): 3}
    inner = [x0, y0, x1, y1]
    for side, k in sides.items():
        if tiling.neighbour(tile, *side):
            inner[k] += off if k < 2 else -off
    return whole.difference(box(*inner))


def _fitting(words: Sequence[str], height_mm: float, room_mm: float) -> str:
    """As many words as there is room for beside each other, and how many more there are."""
    told = [one for one in words if one]
    for count in range(len(told), 0, -1):
        more = f" + {len(told) - count} more" if count < len(told) else ""
        line = " – ".join(told[:count]) + more
        if words_width(line, height_mm) <= room_mm:
            return line
    return ""


def square_place(sheet: PageFormat, taken: BaseGeometry, side: float) -> tuple[float, float] | None:
    """Lower left corner of the checking square where it is clear of all lines and words; None without such a place."""
    low, right = MARGIN_MM + 4.0, sheet.width_mm - MARGIN_MM - 4.0 - side
    top = sheet.height_mm - MARGIN_MM - 4.0 - side
    x, y = np.meshgrid(np.arange(low, right, SQUARE_STEP_MM), np.arange(low, top, SQUARE_STEP_MM))
    x, y = x.ravel(), y.ravel()
    off = SQUARE_CLEAR_MM
    squares = shapely.box(x - off, y - off, x + side + off, y + side + off)
    shapely.prepare(taken)
    free = np.flatnonzero(~shapely.intersects(taken, squares))
    return (float(x[free[0]]), float(y[free[0]])) if len(free) else None


def _draw_tag(
    pen: PdfPen, place: PlacedPiece, sheet: PageFormat, taken: BaseGeometry, shift: tuple[float, float]
) -> BaseGeometry:
    """The piece's name and an arrow along its grain wherever this page shows enough of it; returns the room used."""
    page = box(MARGIN_MM, MARGIN_MM, sheet.width_mm - MARGIN_MM, sheet.height_mm - MARGIN_MM)
    shown = affinity.translate(Polygon(place.points(place.piece.cut)), *shift).intersection(page)
    words = f"{place.piece.pad} {place.piece.name}"
    width, height = words_width(words, TAG_MM) + 9.0, 8.0
    spot = FreeRoom(shown.difference(taken)).best_place(width, height, (0.0, 90.0))
    if spot.scale < 1.0:
        return Polygon()
    turn = np.radians(spot.angle_deg)
    along = np.array([np.cos(turn), np.sin(turn)])
    text_at = spot.at + 3.5 * spot.scale * along
    at = (float(text_at[0]), float(text_at[1]))
    pen.write(at, words, height_mm=TAG_MM * spot.scale, angle_deg=spot.angle_deg, ink=0.25)
    tail, head = place.points(place.piece.grain)
    grain = (head - tail) / max(float(np.linalg.norm(head - tail)), 1e-9)
    _small_arrow(pen, spot.at - (0.5 * width - 3.5) * spot.scale * along, grain, 6.5 * spot.scale)
    return turned_box(spot.at, width * spot.scale, height * spot.scale, spot.angle_deg)


def _small_arrow(pen: PdfPen, middle: np.ndarray, along: np.ndarray, length: float) -> None:
    across = np.array([-along[1], along[0]])
    tip, tail = middle + 0.5 * length * along, middle - 0.5 * length * along
    foot = tip - 0.4 * length * along
    pen.rule([tuple(tail), tuple(foot)], width_mm=0.25, ink=0.25)
    pen.fill(PenLayer.GRAIN, np.array([tip, foot + 0.15 * length * across, foot - 0.15 * length * across]))
