"""Pieces laid on pages so that few pages are printed.

Pages lie in a grid and a page is printed only where a line crosses it, so pages are counted by the lines of a piece,
not by its area. Pieces are laid one after the other, the largest first, either way up, each where it adds the fewest
pages, then where it ends lowest; that is done on grids of several widths and the one with the fewest pages is kept.
Places are tried on a raster that divides a page evenly (bottom-left placement, common in nesting, no source).
Lengths mm.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np
import shapely
from scipy import fft, signal
from shapely.affinity import translate
from shapely.geometry import Polygon

from flatten.draw.marks import line_record
from flatten.paper.page_grid import PageGrid
from flatten.paper.roll import PlacedPiece, placed_at
from flatten.pieces.piece import Piece
from meshes.base.arrays import BoolArray, FloatArray, IntArray

RASTER_MM = 10.0
CLEAR_EACH_MM = 1.5
"""Pieces keep at least twice this far apart."""
SAMPLE_MM, FINE_MM = 4.0, 1e-6
"""Lines are counted page by page at points this far apart, those alike once; what that misses is looked for at last."""
WIDTHS = (2, 3, 4, 5, 6, 7, 8)
"""Widths in pages that are tried."""
HEIGHT_PRICE = 0.3
"""What a page's height that a piece reaches further up costs, in pages."""
MAP_ASPECT = 1.3
"""Of equally few pages the arrangement is kept whose height to width is nearest to this, for the map."""


@dataclass(frozen=True, eq=False)
class RasterPiece:
    """A piece one way up, seen by the raster.

    low (2,): lower left corner of all its lines when that of the box of its cut line is at zero; filled (rows,
    columns): cells it takes from there; patterns: the pages (rows, columns) its lines are on at the places within a
    page, the first of them the page left and below; which (rows, columns): which pattern it is at each of those places.
    """

    piece: Piece
    turned: bool
    low: FloatArray
    filled: BoolArray
    patterns: tuple[BoolArray, ...]
    which: IntArray


class Raster:
    """Cells that divide a page evenly."""

    def __init__(self, grid: PageGrid) -> None:
        self.grid = grid
        self.per_page = tuple(max(round(step / RASTER_MM), 1) for step in grid.step)
        self.cell = np.array(grid.step) / self.per_page

    def corner(self, column: int, row: int) -> FloatArray:
        """Where the corner of a shape lies at a cell: at (0, 0) as far left and low on page (0, 0) as may be."""
        return np.array([column, row]) * self.cell + self.grid.edge_mm

    def shape(self, piece: Piece, turned: bool) -> RasterPiece:
        """A piece as the raster sees it."""
        place = placed_at(piece, turned, np.zeros(2))
        sampled = np.vstack([_sampled(place.points(points), closed) for _, points, closed in line_record(piece).lines])
        low = sampled.min(axis=0)
        # Not rounded to coarser places: what then lies half a millimetre past a strip is printed on a page of its own.
        lines = np.unique(np.round((sampled - low) / FINE_MM), axis=0) * FINE_MM
        # Moved off zero by the room round it, a piece wastes no cells on its left and below.
        body = Polygon(place.points(piece.cut)).buffer(CLEAR_EACH_MM - min(float(low.min()), 0.0), join_style="mitre")
        body = translate(body, *(CLEAR_EACH_MM - low))
        size = [ceil(top / side - 1e-6) for top, side in zip(body.bounds[2:], self.cell, strict=True)]
        x, y = np.meshgrid(np.arange(size[0]), np.arange(size[1]))
        boxes = shapely.box(x * self.cell[0], y * self.cell[1], (x + 1) * self.cell[0], (y + 1) * self.cell[1])
        return RasterPiece(piece, turned, low, shapely.intersects(body, boxes), *self._patterns(lines))

    def _patterns(self, lines: FloatArray) -> tuple[tuple[BoolArray, ...], IntArray]:
        found: dict[tuple[tuple[int, ...], bytes], int] = {}
        patterns: list[BoolArray] = []
        which = np.zeros(self.per_page[::-1], dtype=np.int64)
        across, up = (self.grid.edge_mm + self.cell[k] * np.arange(self.per_page[k]) for k in (0, 1))
        for row, of_row in enumerate(self.grid.pages_at(lines, across, up)):
            for column, pages in enumerate(of_row):
                pattern = np.zeros(pages.max(axis=0)[::-1] + 2, dtype=bool)
                pattern[pages[:, 1] + 1, pages[:, 0] + 1] = True
                key = (pattern.shape, pattern.tobytes())
                if key not in found:
                    found[key] = len(patterns)
                    patterns.append(pattern)
                which[row, column] = found[key]
        return tuple(patterns), which


def _sampled(points: FloatArray, closed: bool) -> FloatArray:
    """Points along a line, SAMPLE_MM apart at most."""
    whole = np.vstack([points, points[:1]]) if closed else points
    run = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(whole, axis=0), axis=1))])
    at = np.unique(np.concatenate([run, np.arange(0.0, run[-1], SAMPLE_MM)]))
    return np.column_stack([np.interp(at, run, whole[:, k]) for k in (0, 1)])


def plan_pages(pieces: Sequence[Piece], grid: PageGrid) -> list[PlacedPiece]:
    """The pieces placed on the grid, in the order given. Raises ValueError without pieces."""
    if not pieces:
        raise ValueError("there is no piece to draw")
    raster = Raster(grid)
    ways = [(raster.shape(piece, False), raster.shape(piece, True)) for piece in pieces]
    order = sorted(range(len(pieces)), key=lambda k: (-int(ways[k][0].filled.sum()), k))
    area = sum(int(both[0].filled.sum()) for both in ways) / (raster.per_page[0] * raster.per_page[1])
    longest = max(max(both[0].filled.shape) for both in ways) / min(raster.per_page)
    tried = []
    for width in WIDTHS if len(pieces) > 1 else (ceil(longest) + 1,):
        trial = _Trial(raster, width, ceil(1.7 * area / width + longest) + 2)
        if all(trial.put(ways[k], k) for k in order):
            tried.append(trial)
    if not tried:
        trial = _Trial(raster, ceil(longest) + 1, ceil(2.0 * area + longest) + 2)
        assert all(trial.put(ways[k], k) for k in order)
        tried.append(trial)
    best = min(tried, key=lambda trial: (trial.count, trial.off_aspect))
    return [best.places[k] for k in range(len(pieces))]


class _Trial:
    """A grid of a given width as it fills: cells that are taken, pages that are printed (with one more all round)."""

    def __init__(self, raster: Raster, width: int, height: int) -> None:
        self.raster = raster
        self.taken = np.zeros((height * raster.per_page[1], width * raster.per_page[0]))
        self.printed = np.zeros((height + 2, width + 2))
        self.places: dict[int, PlacedPiece] = {}

    @property
    def count(self) -> int:
        """Pages that are printed."""
        return int(self.printed.sum())

    @property
    def off_aspect(self) -> float:
        """How far height to width is off that of a map, in logarithms."""
        rows, columns = (int(np.ptp(np.flatnonzero(self.printed.any(axis=1 - k)))) + 1 for k in (0, 1))
        step = self.raster.grid.step
        return abs(float(np.log(rows * step[1] / (columns * step[0]) / MAP_ASPECT)))

    def put(self, ways: Sequence[RasterPiece], number: int) -> bool:
        """Lay a piece where it costs least; False where it has no room."""
        found = [(*self._cheapest(shape), shape) for shape in ways]
        cost, (row, column), shape = min(found, key=lambda one: one[0])
        if not np.isfinite(cost):
            return False
        rows, columns = shape.filled.shape
        self.taken[row : row + rows, column : column + columns] += shape.filled
        per = self.raster.per_page
        pattern = shape.patterns[shape.which[row % per[1], column % per[0]]]
        page = (row // per[1], column // per[0])
        part = self.printed[page[0] : page[0] + pattern.shape[0], page[1] : page[1] + pattern.shape[1]]
        part[pattern] = 1.0
        self.places[number] = placed_at(shape.piece, shape.turned, self.raster.corner(column, row) - shape.low)
        return True

    def _cheapest(self, shape: RasterPiece) -> tuple[float, tuple[int, int]]:
        """What the cheapest place of a shape costs, in pages, and its cell (row, column)."""
        free = self._free(shape.filled)
        if free is None:
            return float("inf"), (0, 0)
        cost = self._more(shape)[: free.shape[0], : free.shape[1]]
        top = (np.arange(free.shape[0]) + shape.filled.shape[0]) / self.raster.per_page[1]
        cost = np.where(free, cost + HEIGHT_PRICE * top[:, None] + 1e-5 * np.arange(free.shape[1]), np.inf)
        row, column = np.unravel_index(int(np.argmin(np.round(cost, 6))), cost.shape)
        return float(np.round(cost[row, column], 6)), (int(row), int(column))

    def _free(self, filled: BoolArray) -> BoolArray | None:
        """At which cells a shape lies on nothing, by convolution; None for a shape larger than the grid."""
        size, own = self.taken.shape, filled.shape
        if own[0] > size[0] or own[1] > size[1]:
            return None
        quick = [fft.next_fast_len(n + m, real=True) for n, m in zip(size, own, strict=True)]
        product = fft.rfft2(self.taken, quick) * fft.rfft2(filled[::-1, ::-1].astype(float), quick)
        hits = fft.irfft2(product, quick)
        return np.asarray(hits[own[0] - 1 : size[0], own[1] - 1 : size[1]] < 0.5)

    def _more(self, shape: RasterPiece) -> FloatArray:
        """How many pages a shape adds at every cell."""
        per = self.raster.per_page
        more = np.full(self.taken.shape, np.inf)
        for number, pattern in enumerate(shape.patterns):
            if pattern.shape[0] > self.printed.shape[0] or pattern.shape[1] > self.printed.shape[1]:
                continue
            adds = pattern.sum() - np.round(signal.correlate2d(self.printed, pattern, mode="valid"))
            for row, column in np.argwhere(shape.which == number):
                spots = more[row :: per[1], column :: per[0]]
                rows, columns = (min(a, b) for a, b in zip(adds.shape, spots.shape, strict=True))
                spots[:rows, :columns] = adds[:rows, :columns]
        return more
