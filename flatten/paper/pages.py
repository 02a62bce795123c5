"""A large sheet cut into pages that lie over each other: sizes, tiles, their names and neighbours.

Page sizes: ISO 216 (A4, A3) and ANSI Y14.1 (Letter), from memory. A page shows `net` = page less its margins;
neighbours share `overlap_mm`, so a length S takes n = ceil((S - o) / (p - o)) pages of net size p.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from flatten.paper.sheetlayout import SheetLayout, lay_out
from flatten.piece import Piece

PAGES_MM = {"a4": (210.0, 297.0), "a3": (297.0, 420.0), "letter": (215.9, 279.4)}
MARGIN_MM = 10.0
TILE_EDGE_MM = 3.0
MOST_ACROSS = 12
_NONE = 1e-9


@dataclass(frozen=True)
class Tile:
    """One page of the sheet: its row from the top and column from the left, and its lower left corner in mm."""

    row: int
    column: int
    x: float
    y: float

    @property
    def name(self) -> str:
        """Row letter and column number: A1 is at the top left."""
        return row_letters(self.row) + str(self.column + 1)


@dataclass(frozen=True)
class Tiling:
    """The pages a sheet needs. net_mm: width and height shown on a page; tiles: in reading order, empty ones left
    out."""

    net_mm: tuple[float, float]
    overlap_mm: float
    rows: int
    columns: int
    tiles: tuple[Tile, ...]

    def neighbour(self, tile: Tile, side: str) -> Tile | None:
        """The page next to a tile at its "left", "right", "top" or "bottom", None if there is none."""
        down, right = {"left": (0, -1), "right": (0, 1), "top": (-1, 0), "bottom": (1, 0)}[side]
        wanted = (tile.row + down, tile.column + right)
        return next((t for t in self.tiles if (t.row, t.column) == wanted), None)


def row_letters(row: int) -> str:
    """0 -> A, 25 -> Z, 26 -> AA."""
    letters = ""
    row += 1
    while row:
        row, rest = divmod(row - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def pages_along(length_mm: float, net_mm: float, overlap_mm: float) -> int:
    """How many pages cover a length. Raises ValueError unless the overlap lies between 0 and half of what is shown."""
    if not 0.0 <= overlap_mm <= 0.5 * net_mm:
        raise ValueError(f"an overlap of {overlap_mm:g} mm does not suit pages that show {net_mm:g} mm")
    return max(math.ceil((length_mm - overlap_mm) / (net_mm - overlap_mm) - _NONE), 1)


def net_size(page: str) -> tuple[float, float]:
    """Width and height in mm that a page shows. Raises ValueError for an unknown page."""
    if page not in PAGES_MM:
        raise ValueError(f"no such page: found {page!r}; use one of {', '.join(PAGES_MM)}")
    width, height = PAGES_MM[page]
    return width - 2.0 * MARGIN_MM, height - 2.0 * MARGIN_MM


def tile_sheet(layout: SheetLayout, *, net_mm: tuple[float, float], overlap_mm: float) -> Tiling:
    """Cut a layout into pages. A page is left out if no piece touches its own part of the sheet, which reaches to the
    middle of every overlap; whatever lies beyond is shown by the neighbour."""
    (width, height), half = net_mm, 0.5 * overlap_mm
    step_x, step_y = width - overlap_mm, height - overlap_mm
    columns = pages_along(layout.width_mm, width, overlap_mm)
    rows = pages_along(layout.length_mm, height, overlap_mm)
    shapes = [shapely.Polygon(place.points(place.piece.cut)) for place in layout.places]
    tiles = []
    for row in range(rows):
        y = layout.length_mm - height - row * step_y
        for column in range(columns):
            x = column * step_x
            own = shapely.box(x + half, y + half, x + width - half, y + height - half)
            if any(own.intersects(shape) for shape in shapes):
                tiles.append(Tile(row, column, x, y))
    return Tiling(net_mm, overlap_mm, rows, columns, tuple(tiles))


def tiled_layout(pieces: Sequence[Piece], *, page: str, overlap_mm: float) -> tuple[SheetLayout, Tiling]:
    """Lay pieces out on the number of pages across that takes the fewest pages, and cut the sheet into them.

    No piece comes nearer to the edge of the sheet than half an overlap, so every page's own part is what its
    neighbours do not show. Raises ValueError for an unknown page or an overlap that does not suit it.
    """
    net = net_size(page)
    edge = max(TILE_EDGE_MM, 0.5 * overlap_mm)
    best: tuple[SheetLayout, Tiling] | None = None
    for across in range(1, MOST_ACROSS + 1):
        width = across * (net[0] - overlap_mm) + overlap_mm
        pages_along(width, net[0], overlap_mm)
        layout = lay_out(pieces, width_mm=width, edge_mm=edge)
        tiling = tile_sheet(layout, net_mm=net, overlap_mm=overlap_mm)
        if best is None or len(tiling.tiles) < len(best[1].tiles):
            best = layout, tiling
    assert best is not None
    return best
