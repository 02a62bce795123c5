"""A large drawing cut into pages: sizes of paper, tiles with overlap, their names, and which ones are needed.

Along one direction a drawing of size S needs ceil((S - o) / (p - o)) tiles of printable size p with overlap o.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from shapely.geometry import Polygon, box

from flatten.paper.roll import PlacedPiece, SheetLayout, lay_out_roll
from flatten.pieces.piece import Piece

PAGE_MM = {"a4": (210.0, 297.0), "a3": (297.0, 420.0), "letter": (215.9, 279.4)}
"""Width and height. A4 and A3 after ISO 216, letter after ANSI Y14.1."""
MARGIN_MM = 10.0
MOST_COLUMNS = 9
PAGE_EDGE_MM = 3.0


@dataclass(frozen=True)
class PageFormat:
    """Paper, and how much of each page its neighbour shows again."""

    width_mm: float
    height_mm: float
    overlap_mm: float

    @property
    def print_width_mm(self) -> float:
        """Width inside the margins."""
        return self.width_mm - 2.0 * MARGIN_MM

    @property
    def print_height_mm(self) -> float:
        """Height inside the margins."""
        return self.height_mm - 2.0 * MARGIN_MM


@dataclass(frozen=True, eq=False)
class Tile:
    """One page of the drawing: its box (x0, y0, x1, y1) in mm of the layout, and the pieces it touches."""

    row: int
    column: int
    box: tuple[float, float, float, float]
    touches: tuple[PlacedPiece, ...]

    @property
    def name(self) -> str:
        """Row letters from the top and column number from the left: A1 is the upper left page."""
        return tile_name(self.row, self.column)


@dataclass(frozen=True, eq=False)
class Tiling:
    """A layout and the pages that show it; pages that would be empty are left out."""

    layout: SheetLayout
    sheet: PageFormat
    rows: int
    columns: int
    tiles: tuple[Tile, ...]

    def neighbour(self, tile: Tile, right: int, up: int) -> str:
        """Name of the page beside a tile, or nothing where there is none."""
        for other in self.tiles:
            if (other.row, other.column) == (tile.row - up, tile.column + right):
                return other.name
        return ""


def page_named(name: str, overlap_mm: float) -> PageFormat:
    """A page by its name. Raises ValueError for an unknown name or an overlap that leaves less than half a page."""
    key = name.lower()
    if key not in PAGE_MM:
        raise ValueError(f"no such page: found {name!r}; use one of {', '.join(PAGE_MM)}")
    width, height = PAGE_MM[key]
    if not 0.0 <= overlap_mm <= 0.5 * (min(width, height) - 2.0 * MARGIN_MM):
        raise ValueError(f"overlap must be between 0 and half a page: found {overlap_mm:g} mm")
    return PageFormat(width, height, overlap_mm)


def tile_count(size_mm: float, print_mm: float, overlap_mm: float) -> int:
    """How many tiles cover a size: ceil((S - o) / (p - o)), at least one."""
    return max(1, ceil((size_mm - overlap_mm) / (print_mm - overlap_mm) - 1e-9))


def tile_name(row: int, column: int) -> str:
    """A1, A2, ... B1; after Z comes AA."""
    letters = ""
    number = row + 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return f"{letters}{column + 1}"


def tiled(pieces: Sequence[Piece], sheet: PageFormat) -> Tiling:
    """The layout, among widths of one to MOST_COLUMNS pages, that needs the fewest pages, and its pages."""
    step = sheet.print_width_mm - sheet.overlap_mm
    best: Tiling | None = None
    for columns in range(1, MOST_COLUMNS + 1):
        layout = lay_out_roll(pieces, width_mm=columns * step + sheet.overlap_mm, edge_mm=PAGE_EDGE_MM)
        found = _tiling(layout, sheet)
        if best is None or len(found.tiles) < len(best.tiles):
            best = found
    assert best is not None
    return best


def _tiling(layout: SheetLayout, sheet: PageFormat) -> Tiling:
    step_x = sheet.print_width_mm - sheet.overlap_mm
    step_y = sheet.print_height_mm - sheet.overlap_mm
    columns = tile_count(layout.width_mm, sheet.print_width_mm, sheet.overlap_mm)
    rows = tile_count(layout.length_mm, sheet.print_height_mm, sheet.overlap_mm)
    shapes = [(one, Polygon(one.points(one.piece.cut)).buffer(0.5)) for one in layout.places]
    tiles, half = [], 0.5 * sheet.overlap_mm
    for row in range(rows):
        for column in range(columns):
            x, y = column * step_x, layout.length_mm - sheet.print_height_mm - row * step_y
            area = (x, y, x + sheet.print_width_mm, y + sheet.print_height_mm)
            # Between its join lines a page is the only one to show what it shows; these cores leave no gap.
            core = box(
                x + half * (column > 0),
                y + half * (row < rows - 1),
                area[2] - half * (column < columns - 1),
                area[3] - half * (row > 0),
            )
            touched = tuple(one for one, shape in shapes if shape.intersects(box(*area)))
            if any(shape.intersects(core) for _, shape in shapes):
                tiles.append(Tile(row, column, area, touched))
    return Tiling(layout, sheet, rows, columns, tuple(tiles))
