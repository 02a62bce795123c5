"""What every tile carries besides the pattern: names, join lines, crosses, test square, rulers, piece names.

All of it is thin and grey or in the margin, so that no cut line is mistaken for it or hidden by it.
"""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from flatten.draw.fonts import LINE_ROOM, words_width
from flatten.draw.labels import FreeRoom, turned_box
from flatten.draw.pen import PenLayer, RecordingPen
from flatten.paper.pages import MARGIN_MM, PageFormat, Tile, Tiling
from flatten.paper.pdf_pen import PdfPen
from flatten.paper.roll import PlacedPiece
from flatten.paper.wording import side_words

GREY = 0.45
LIGHT = 0.65
SQUARE_MM = 50.0
RULER_MM = 100.0
CROSS_MM = 4.0
TAG_MM = 2.6


def draw_furniture(
    pen: PdfPen, tiling: Tiling, tile: Tile, place_words: str, records: Sequence[tuple[PlacedPiece, RecordingPen]]
) -> None:
    """Everything but the pattern on one tile.

    place_words: which page of how many; records: each piece as it is drawn on the layout.
    """
    sheet = tiling.sheet
    _join_lines(pen, tiling, tile)
    _margin_words(pen, tiling, tile, place_words)
    draw_rulers(pen, (20.0, 5.0), (5.0, 20.0))
    shift = (MARGIN_MM - tile.box[0], MARGIN_MM - tile.box[1])
    here = [(place, _obstacles(record, tile, shift)) for place, record in records if place in tile.touches]
    taken = shapely.union_all([shape for _, shape in here])
    square = _square_place(sheet, taken)
    draw_square(pen, (square.bounds[0], square.bounds[1]))
    for place, _ in here:
        tag = _draw_tag(pen, place, sheet, taken.union(square.boundary.buffer(1.5)), shift)
        taken = taken.union(tag)


def draw_cross(pen: PdfPen, x: float, y: float) -> None:
    """A register cross, at the same place of the pattern on both pages that meet there."""
    pen.rule([(x - CROSS_MM, y), (x + CROSS_MM, y)], width_mm=0.25, ink=0.2)
    pen.rule([(x, y - CROSS_MM), (x, y + CROSS_MM)], width_mm=0.25, ink=0.2)


def draw_square(pen: PdfPen, at: tuple[float, float]) -> None:
    """The square to be measured before anything is cut; `at` is its lower left corner."""
    x, y = at
    end = SQUARE_MM
    pen.rule([(x, y), (x + end, y), (x + end, y + end), (x, y + end)], width_mm=0.15, ink=GREY, closed=True)
    pen.write((x + 2.0, y + 2.5), "50 x 50 mm", height_mm=1.8, ink=GREY, side=0.0)


def draw_rulers(pen: PdfPen, level: tuple[float, float], upright: tuple[float, float]) -> None:
    """A ruler of 100 mm along the page, beginning at `level`, and one up the page, beginning at `upright`."""
    for (x, y), along, up in ((level, np.array([1.0, 0.0]), np.array([0.0, 1.0])), (upright, *_UP)):
        start = np.array([x, y])
        pen.rule([tuple(start), tuple(start + RULER_MM * along)], width_mm=0.15, ink=GREY)
        for k in range(21):
            foot = start + 5.0 * k * along
            tick = 3.0 if k % 10 == 0 else 2.0 if k % 2 == 0 else 1.2
            pen.rule([tuple(foot), tuple(foot + tick * up)], width_mm=0.15, ink=GREY)
        at = start + (RULER_MM + 2.0) * along + 1.5 * up
        angle = 90.0 if along[1] else 0.0
        pen.write((at[0], at[1]), "100 mm", height_mm=1.8, ink=GREY, side=0.0, angle_deg=angle)


_UP = (np.array([0.0, 1.0]), np.array([1.0, 0.0]))


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
    names = ", ".join(dict.fromkeys(f"{place.piece.pad} {place.piece.name}" for place in tile.touches))
    pen.write((MARGIN_MM, top), tile.name, height_mm=4.0, side=0.0)
    up = side_words([place.piece for place in tile.touches])
    words = " – ".join(text for text in (place_words, up, names) if text)
    start = MARGIN_MM + words_width(tile.name, 4.0) + 4.0
    pen.write((start, top), words, height_mm=2.2, side=0.0, widest_mm=0.72 * sheet.width_mm - start)
    across, along = 0.8 * sheet.width_mm, 0.8 * sheet.height_mm
    spots = {
        (-1, 0): ((middle, along), 90.0),
        (1, 0): ((sheet.width_mm - middle, along), 90.0),
        (0, -1): ((across, middle), 0.0),
        (0, 1): ((across, top), 0.0),
    }
    for side, (at, angle) in spots.items():
        other = tiling.neighbour(tile, *side)
        if other:
            pen.write(at, f"joins {other}", height_mm=2.4, angle_deg=angle)


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


def _square_place(sheet: PageFormat, taken: BaseGeometry) -> Polygon:
    """Where the test square meets least: nothing if possible, else as little of lines and words as can be."""
    low, right = MARGIN_MM + 8.0, sheet.width_mm - MARGIN_MM - 8.0 - SQUARE_MM
    top = sheet.height_mm - MARGIN_MM - 8.0 - SQUARE_MM
    best, least = None, float("inf")
    for y in np.linspace(low, top, 12):
        for x in np.linspace(low, right, 8):
            square = box(x, y, x + SQUARE_MM, y + SQUARE_MM)
            label = box(x + 1.0, y + 0.5, x + 20.0, y + 5.0)
            cost = square.boundary.intersection(taken).length + 3.0 * label.intersection(taken).area
            cost += 0.02 * square.intersection(taken).area
            if cost < least - 1e-6:
                best, least = square, cost
    assert best is not None
    return best


def _draw_tag(
    pen: PdfPen, place: PlacedPiece, sheet: PageFormat, taken: BaseGeometry, shift: tuple[float, float]
) -> BaseGeometry:
    """The piece's name and an arrow along its grain wherever this page shows enough of it; returns the room used."""
    page = box(MARGIN_MM, MARGIN_MM, sheet.width_mm - MARGIN_MM, sheet.height_mm - MARGIN_MM)
    shown = affinity.translate(Polygon(place.points(place.piece.cut)), *shift).intersection(page)
    words = f"{place.piece.pad} {place.piece.name}"
    width, height = words_width(words, TAG_MM) + 9.0, 8.0
    spot = FreeRoom(shown.difference(taken)).best_place(width, height, (0.0, 90.0))
    if spot.scale < 0.5:
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
