"""A large drawing cut into pages: sizes of paper, tiles with overlap, their names, and which ones are needed.

Along one direction a drawing of size S needs ceil((S - o) / (p - o)) tiles of printable size p with overlap o.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import ceil

import numpy as np
import shapely
from shapely.affinity import translate
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from flatten.draw.marks import line_record
from flatten.paper.page_grid import PageGrid
from flatten.paper.page_plan import plan_pages
from flatten.paper.roll import PlacedPiece, SheetLayout
from flatten.pieces.piece import Piece

PAGE_MM = {"a4": (210.0, 297.0), "a3": (297.0, 420.0), "letter": (215.9, 279.4)}
"""Width and height. A4 and A3 after ISO 216, letter after ANSI Y14.1."""
MARGIN_MM = 10.0
WORDS_CLEAR_MM = 1.5
"""Words keep so far from where pages overlap."""
PAGE_EDGE_MM, HAIR_MM = 3.0, 1e-6


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
    """One page of the drawing: its box (x0, y0, x1, y1) in mm of the layout, the pieces it touches, and those whose
    lines it is printed for; pages that a piece ties together are in one group and are joined."""

    row: int
    column: int
    box: tuple[float, float, float, float]
    touches: tuple[PlacedPiece, ...]
    carries: tuple[PlacedPiece, ...]
    group: int

    @property
    def name(self) -> str:
        """Row letters from the top and column number from the left: A1 is the upper left page."""
        return tile_name(self.row, self.column)


@dataclass(frozen=True, eq=False)
class Tiling:
    """A layout and the pages that show it, in the order in which they are printed and joined; pages without a line are
    left out. Rows count from the top, columns from the left."""

    layout: SheetLayout
    sheet: PageFormat
    rows: int
    columns: int
    tiles: tuple[Tile, ...]

    def neighbour(self, tile: Tile, right: int, up: int) -> str:
        """Name of the page that is joined to a tile on a side, or nothing where there is none."""
        other = self._at.get((tile.row - up, tile.column + right))
        return other.name if other is not None and other.group == tile.group else ""

    @cached_property
    def _at(self) -> dict[tuple[int, int], Tile]:
        return {(tile.row, tile.column): tile for tile in self.tiles}

    def core(self, tile: Tile) -> tuple[float, float, float, float]:
        """What a tile shows between its join lines; where nothing joins, up to the end of what it prints."""
        half = 0.5 * self.sheet.overlap_mm
        sides = [half if self.neighbour(tile, *side) else 0.0 for side in ((-1, 0), (0, -1), (1, 0), (0, 1))]
        x0, y0, x1, y1 = tile.box
        return x0 + sides[0], y0 + sides[1], x1 - sides[2], y1 - sides[3]

    def words_in(self, place: PlacedPiece) -> BaseGeometry:
        """Where on a piece as it lies, before it is moved into its place, words do not lie across a join of pages."""
        off = self.sheet.overlap_mm + WORDS_CLEAR_MM
        wanted = {tile.group for tile in self.tiles if place in tile.carries}
        boxes = []
        for tile in (tile for tile in self.tiles if tile.group in wanted and place in tile.touches):
            x0, y0, x1, y1 = tile.box
            boxes.append(box(x0 + off, y0 + off, x1 - off, y1 - off))
        return translate(shapely.union_all(boxes), -place.shift[0], -place.shift[1])


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
    """The pieces laid so that few pages show all their lines, and these pages. Raises ValueError without pieces."""
    grid = PageGrid((sheet.print_width_mm, sheet.print_height_mm), sheet.overlap_mm, PAGE_EDGE_MM)
    places = plan_pages(pieces, grid)
    pages = [_pages_of(place, grid) for place in places]
    groups = _groups(pages)
    columns = range(min(i for group in groups for i, _ in group), max(i for group in groups for i, _ in group) + 1)
    rows = range(min(j for group in groups for _, j in group), max(j for group in groups for _, j in group) + 1)
    shapes = [(one, Polygon(one.points(one.piece.cut)).buffer(0.5)) for one in places]
    tiles = []
    for group, spots in enumerate(groups):
        for column, row in spots:
            x, y = column * grid.step[0], row * grid.step[1]
            area = (x, y, x + sheet.print_width_mm, y + sheet.print_height_mm)
            touched = tuple(one for one, shape in shapes if shape.intersects(box(*area)))
            carried = tuple(one for one, own in zip(places, pages, strict=True) if (column, row) in own)
            spot = (rows[-1] - row, column - columns[0])
            tiles.append(Tile(*spot, area, touched, carried, group))
    tiles.sort(key=lambda tile: (tile.row, tile.column))
    width, length = (columns[-1] + 1) * grid.step[0], (rows[-1] + 1) * grid.step[1]
    layout = SheetLayout(tuple(places), width + sheet.overlap_mm, length + sheet.overlap_mm)
    return Tiling(layout, sheet, len(rows), len(columns), tuple(tiles))


def _pages_of(place: PlacedPiece, grid: PageGrid) -> set[tuple[int, int]]:
    """Columns and rows of the pages that show every line of a piece, each beside another of them."""
    record = line_record(place.piece)
    lines = shapely.union_all(
        [
            LineString(place.points(np.vstack([points, points[:1]]) if closed else points))
            for _, points, closed in record.lines
        ]
    )
    pages = {(int(i), int(j)) for i, j in grid.pages_of(shapely.get_coordinates(shapely.segmentize(lines, 5.0)))}
    # What runs between two points over the corner of a page is found here.
    while not (hidden := lines.difference(_seen(grid, pages))).is_empty:
        (core,) = grid.cores_of(shapely.get_coordinates(hidden.representative_point()))
        if tuple(core.tolist()) in pages:
            break
        pages.add((int(core[0]), int(core[1])))
    while len(parts := _parts(pages)) > 1:
        pairs = [(a, b) for a in parts[0] for part in parts[1:] for b in part]
        a, b = min(pairs, key=lambda pair: (abs(pair[0][0] - pair[1][0]) + abs(pair[0][1] - pair[1][1]), pair))
        step = (a[0] + (b[0] > a[0]) - (b[0] < a[0]), a[1])
        pages.add(step if step not in pages else (a[0], a[1] + (b[1] > a[1]) - (b[1] < a[1])))
    return pages


def _seen(grid: PageGrid, pages: Iterable[tuple[int, int]]) -> BaseGeometry:
    """What pages show, and a hair more: a line along the very end of a page lies on it."""
    return shapely.union_all([grid.shown(page) for page in pages]).buffer(HAIR_MM, join_style="mitre")


def _parts(pages: Iterable[tuple[int, int]]) -> list[set[tuple[int, int]]]:
    """Pages in parts that hang together side by side."""
    left, parts = sorted(pages), []
    while left:
        part, edge = {left[0]}, [left[0]]
        while edge:
            i, j = edge.pop()
            fresh = {spot for spot in ((i - 1, j), (i + 1, j), (i, j - 1), (i, j + 1)) if spot in left} - part
            part |= fresh
            edge += sorted(fresh)
        parts.append(part)
        left = [spot for spot in left if spot not in part]
    return parts


def _groups(pages: Sequence[set[tuple[int, int]]]) -> list[set[tuple[int, int]]]:
    """Pages in groups that pieces tie together, in the order of the first piece of each."""
    groups: list[set[tuple[int, int]]] = []
    for own in pages:
        tied = [group for group in groups if group & own]
        if tied:
            tied[0] |= own.union(*tied[1:])
            groups = [group for group in groups if not any(group is one for one in tied[1:])]
        else:
            groups.append(set(own))
    return groups
