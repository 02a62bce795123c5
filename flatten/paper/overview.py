"""The first pages of a set of tiles: how to print it, how the pages lie together, and what there is to cut."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from flatten.draw.fonts import words_width
from flatten.draw.imprint import Imprint
from flatten.draw.lettering import SMALLEST_MM
from flatten.paper.checking import draw_rulers, draw_square
from flatten.paper.page_map import draw_map, map_height, map_is_readable
from flatten.paper.pages import MARGIN_MM, PageFormat, Tile, Tiling
from flatten.paper.pdf_pen import POINTS_PER_MM, PdfPen, furniture_layer
from flatten.paper.wording import Wording, how_to, title_of

ROW_MM = 4.8
PART_MM = 2.0
INSET_MM = 5.0
NAME_SHARE, COUNT_SHARE = 0.5, 0.26
"""Widths of the list's columns, as shares of the page's."""
LEAST_MAP_MM, TITLE_MM = 40.0, 7.0
BELOW_MAP_MM = 2.0 * PART_MM + ROW_MM
"""Room that the heading of the list takes, and the room between map and list."""


@dataclass(frozen=True)
class OverviewRow:
    """What the list says of a piece: its name, how many to cut, the pages it is on, each in lines."""

    name: tuple[str, ...]
    count: tuple[str, ...]
    pages: tuple[str, ...]

    @property
    def height_mm(self) -> float:
        """Room the row needs."""
        return ROW_MM * max(len(self.name), len(self.count), len(self.pages)) + 0.8


class _Paper:
    """First pages as they are written from top to bottom; a new one is begun where there is no more room."""

    def __init__(self, pen: PdfPen, sheet: PageFormat, imprint: Imprint) -> None:
        self.pen, self.sheet, self.imprint = pen, sheet, imprint
        self.left, self.right = MARGIN_MM + INSET_MM, sheet.width_mm - MARGIN_MM - INSET_MM
        self.low = MARGIN_MM + 6.0
        self.count, self.y = 0, -1.0

    def begin(self) -> None:
        """A new page with its rulers and the job's name."""
        self.end()
        self.count += 1
        size = (self.sheet.width_mm * POINTS_PER_MM, self.sheet.height_mm * POINTS_PER_MM)
        self.pen.canvas.setPageSize(size)
        self.y = self.sheet.height_mm - MARGIN_MM - 6.0
        with furniture_layer(self.pen.canvas):
            draw_rulers(self.pen, (20.0, 5.0), (5.0, 20.0), imprint=self.imprint)

    def end(self) -> None:
        """Finish a page that was begun."""
        if self.count:
            self.pen.canvas.showPage()

    def write(self, lines: Sequence[str], *, x: float | None = None, height_mm: float = SMALLEST_MM) -> None:
        """Lines below each other."""
        with furniture_layer(self.pen.canvas):
            for line in lines:
                at = (self.left if x is None else x, self.y)
                self.pen.write(at, line, height_mm=height_mm, side=0.0)
                self.y -= ROW_MM * height_mm / SMALLEST_MM


def draw_overview(pen: PdfPen, tiling: Tiling, wording: Wording, *, imprint: Imprint) -> int:
    """Instructions, test square, page map and list of pieces; returns how many pages that took, all finished."""
    paper = _Paper(pen, tiling.sheet, imprint)
    paper.begin()
    _draw_head(paper, tiling, wording)
    rows = _rows(tiling, paper)
    beside = sum(row.height_mm for row in rows) + TITLE_MM + BELOW_MAP_MM
    if _map_fits(paper, tiling, beside):
        _place_map(paper, tiling, beside)
        _place_list(paper, rows)
    else:
        _place_list(paper, rows)
        paper.begin()
        paper.write(["How the pages lie together"], height_mm=3.5)
        _place_map(paper, tiling, 0.0)
    paper.end()
    return paper.count


def _draw_head(paper: _Paper, tiling: Tiling, wording: Wording) -> None:
    side = paper.imprint.square.length_mm
    top, room = paper.y, paper.right - paper.left - side - 8.0
    with furniture_layer(paper.pen.canvas):
        draw_square(paper.pen, (paper.right - side, top - side + 3.0), imprint=paper.imprint)
    title = f"{title_of(wording, [place.piece for place in tiling.layout.places])}, full size"
    paper.write(wrapped(title, 5.0, room), height_mm=5.0)
    if paper.imprint.line:
        paper.write(wrapped(paper.imprint.line, 4.0, room), height_mm=4.0)
    paper.y -= PART_MM
    below = top - side - 2.0
    for words in how_to(wording, paper.imprint):
        left = words.split()
        while left:
            line = wrapped(" ".join(left), SMALLEST_MM, room if paper.y > below else paper.right - paper.left)[0]
            paper.write([line])
            left = left[len(line.split()) :]
        paper.y -= 0.8
    paper.y = min(paper.y, below) - PART_MM


def _map_fits(paper: _Paper, tiling: Tiling, beside_mm: float) -> bool:
    """Whether the map can be read below what is written, with a list of some height below it."""
    room = paper.y - paper.low - beside_mm
    return room >= LEAST_MAP_MM and map_is_readable(tiling, (paper.right - paper.left, room))


def _place_map(paper: _Paper, tiling: Tiling, beside_mm: float) -> None:
    wide = paper.right - paper.left
    high = min(map_height(tiling, wide), paper.y - paper.low - beside_mm)
    with furniture_layer(paper.pen.canvas):
        draw_map(paper.pen, tiling, (paper.left, paper.y - high, paper.right, paper.y))
    paper.y -= high + BELOW_MAP_MM


def _place_list(paper: _Paper, rows: Sequence[OverviewRow]) -> None:
    if round(paper.y - paper.low - TITLE_MM - rows[0].height_mm, 6) < 0.0:
        paper.begin()
    paper.write(["Pieces and the pages they are on"], height_mm=3.5)
    paper.y -= 1.0
    for row in rows:
        if paper.y - row.height_mm < paper.low:
            paper.begin()
        top, wide = paper.y, paper.right - paper.left
        for lines, share in ((row.name, 0.0), (row.count, NAME_SHARE), (row.pages, NAME_SHARE + COUNT_SHARE)):
            paper.y = top
            paper.write(lines, x=paper.left + share * wide)
        paper.y = top - row.height_mm


@lru_cache(maxsize=4096)
def wrapped(words: str, height_mm: float, room_mm: float) -> tuple[str, ...]:
    """Words in lines no wider than a room, as long as no single word is. Pages are tried in several ways with the same
    words."""
    lines = [""]
    for word in words.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and words_width(longer, height_mm) > room_mm:
            lines.append(word)
        else:
            lines[-1] = longer
    return tuple(lines)


def _rows(tiling: Tiling, paper: _Paper) -> list[OverviewRow]:
    """The list in the order in which the pieces are worked: as they were given."""
    wide = paper.right - paper.left - 3.0
    rows = []
    for place in tiling.layout.places:
        on_pages = ", ".join(runs([tile for tile in tiling.tiles if place in tile.carries]))
        columns = (
            (f"{place.piece.pad}: {place.piece.name}", NAME_SHARE),
            (place.piece.count_text, COUNT_SHARE),
            (on_pages, 1.0 - NAME_SHARE - COUNT_SHARE),
        )
        rows.append(OverviewRow(*(wrapped(words, SMALLEST_MM, share * wide) for words, share in columns)))
    return rows


def runs(tiles: Sequence[Tile]) -> list[str]:
    """Names of pages, three and more beside each other drawn together: A1–A4."""
    found: list[list[Tile]] = []
    for tile in tiles:
        if found and (found[-1][-1].row, found[-1][-1].column + 1) == (tile.row, tile.column):
            found[-1].append(tile)
        else:
            found.append([tile])
    names: list[str] = []
    for run in found:
        names += [f"{run[0].name}–{run[-1].name}"] if len(run) > 2 else [tile.name for tile in run]
    return names
