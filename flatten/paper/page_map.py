"""The map of a set of pages: pieces and pages to one scale, as they lie when they are joined."""

import numpy as np
import shapely
from shapely.geometry import LineString, box
from shapely.geometry.base import BaseGeometry

from flatten.draw.fonts import words_width
from flatten.draw.lettering import SMALLEST_MM
from flatten.paper.checking import GREY
from flatten.paper.pages import Tiling
from flatten.paper.pdf_pen import PdfPen


def _size(tiling: Tiling) -> tuple[float, float]:
    """Width and height of all pages, mm."""
    sheet = tiling.sheet
    step_x, step_y = sheet.print_width_mm - sheet.overlap_mm, sheet.print_height_mm - sheet.overlap_mm
    return tiling.columns * step_x + sheet.overlap_mm, tiling.rows * step_y + sheet.overlap_mm


def _scale(tiling: Tiling, room: tuple[float, float]) -> float:
    width, height = _size(tiling)
    return min(room[0] / width, room[1] / height, 0.25)


def map_height(tiling: Tiling, wide_mm: float) -> float:
    """How high the map is where it may be so wide."""
    return _scale(tiling, (wide_mm, float("inf"))) * _size(tiling)[1]


def map_is_readable(tiling: Tiling, room: tuple[float, float]) -> bool:
    """Whether the names of the pages have room on a map of this width and height, mm."""
    scale = _scale(tiling, room)
    widest = max(words_width(tile.name, SMALLEST_MM) for tile in tiling.tiles)
    sheet = tiling.sheet
    return scale * (sheet.print_width_mm - sheet.overlap_mm) >= widest + 2.0


def draw_map(pen: PdfPen, tiling: Tiling, room: tuple[float, float, float, float]) -> None:
    """The map in a room (x0, y0, x1, y1), mm."""
    scale = _scale(tiling, (room[2] - room[0], room[3] - room[1]))
    width, height = _size(tiling)
    x = room[0] + 0.5 * (room[2] - room[0] - scale * width)
    y = room[3] - scale * height
    left = min(
        tile.box[0] - tile.column * (tiling.sheet.print_width_mm - tiling.sheet.overlap_mm) for tile in tiling.tiles
    )
    low = tiling.layout.length_mm - height
    outlines = []
    for place in tiling.layout.places:
        outline = [(x + scale * (p - left), y + scale * (q - low)) for p, q in place.points(place.piece.cut)]
        pen.rule(outline, width_mm=0.3, closed=True)
        outlines.append(LineString([*outline, outline[0]]))
    drawn = shapely.union_all(outlines)
    shapely.prepare(drawn)
    half = 0.5 * tiling.sheet.overlap_mm
    cells = []
    for tile in tiling.tiles:
        x0, y0 = x + scale * (tile.box[0] + half - left), y + scale * (tile.box[1] - low + half)
        x1, y1 = x + scale * (tile.box[2] - half - left), y + scale * (tile.box[3] - low - half)
        pen.rule([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], width_mm=0.15, ink=GREY, closed=True)
        cells.append((x0, y0, x1, y1))
    # Names last, each on a blank of its own: among narrow strips no spot is clear.
    for tile, cell in zip(tiling.tiles, cells, strict=True):
        at = _clear_spot(cell, tile.name, drawn)
        pen.blank(_around(at, tile.name))
        pen.write(at, tile.name, height_mm=SMALLEST_MM, side=0.0, ink=0.25)


def _around(at: tuple[float, float], name: str) -> tuple[float, float, float, float]:
    """The box of a name that begins at a place, with a little room."""
    half = 0.5 * SMALLEST_MM + 0.4
    return at[0] - 0.3, at[1] - half, at[0] + words_width(name, SMALLEST_MM) + 0.3, at[1] + half


def _clear_spot(cell: tuple[float, float, float, float], name: str, drawn: BaseGeometry) -> tuple[float, float]:
    """Where in its page's cell a name is crossed by no piece's outline: the upper left if it can be."""
    x0, y0, x1, y1 = cell
    wide = words_width(name, SMALLEST_MM)
    across = np.linspace(x0 + 0.8, max(x1 - 0.8 - wide, x0 + 0.8), 4)
    spots = [(float(x), float(y)) for y in np.linspace(y1 - 2.6, max(y0 + 2.6, y1 - 20.0), 7) for x in across]
    for x, y in spots:
        if not shapely.intersects(drawn, box(*_around((x, y), name))):
            return x, y
    return spots[0]
