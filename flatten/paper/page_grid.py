"""The grid of pages under a drawing: which pages its lines need so that each stands whole on some page.

Neighbouring pages overlap and are joined along a line in the middle of the overlap. What lies between the join lines
round a page is its core; past a join line a page still shows a strip, where lines may run if there is no page beyond.
Lengths mm; page (0, 0) has the lower left corner of what it prints at (0, 0), columns count to the right, rows upwards.
"""

from dataclasses import dataclass

import numpy as np
from shapely.geometry import Polygon, box

from meshes.base.arrays import FloatArray, IntArray

# What is laid at the very edge of a strip counts as within it.
_ROUNDING_MM = 1e-6


@dataclass(frozen=True)
class PageGrid:
    """Pages that print (width, height), neighbours overlapping; edge_mm: what is drawn keeps so far from the edge of
    what is printed."""

    print_mm: tuple[float, float]
    overlap_mm: float
    edge_mm: float

    @property
    def step(self) -> tuple[float, float]:
        """From one page to the next."""
        return self.print_mm[0] - self.overlap_mm, self.print_mm[1] - self.overlap_mm

    @property
    def strip_mm(self) -> float:
        """How far past a join line a page shows lines that it may carry alone."""
        return max(0.5 * self.overlap_mm - self.edge_mm, 0.0)

    def cores_of(self, points: FloatArray) -> IntArray:
        """Column and row (k, 2) of the page in whose core each point lies."""
        return np.floor((points - 0.5 * self.overlap_mm) / self.step).astype(np.int64)

    def shown(self, page: tuple[int, int]) -> Polygon:
        """What a page may carry alone: its core and the strips past its join lines."""
        low = np.array(page) * self.step + 0.5 * self.overlap_mm - self.strip_mm
        high = low + self.step + 2.0 * self.strip_mm
        return box(*low, *high)

    def pages_of(self, points: FloatArray) -> IntArray:
        """Columns and rows (k, 2) of the pages that show all points (n, 2): those that alone can show some, and for
        what is left in strips the pages in whose core it lies."""
        ((pages,),) = self.pages_at(points, np.zeros(1), np.zeros(1))
        return pages

    def pages_at(self, points: FloatArray, xs: FloatArray, ys: FloatArray) -> list[list[IntArray]]:
        """As `pages_of`, for the points moved by every (x, y): lists by y of lists by x."""
        across = [self._along(points[:, 0] + x, 0) for x in xs]
        up = [self._along(points[:, 1] + y, 1) for y in ys]
        return [[_pages(*column, *row) for column in across] for row in up]

    def _along(self, values: FloatArray, axis: int) -> tuple[IntArray, IntArray]:
        """Column or row of the core of every value, and -1 or 1 where the page before or after shows it too."""
        step = self.step[axis]
        core = np.floor((values - 0.5 * self.overlap_mm) / step).astype(np.int64)
        past = values - 0.5 * self.overlap_mm - core * step
        strip = self.strip_mm + _ROUNDING_MM if self.strip_mm else 0.0
        return core, (past > step - strip).astype(np.int64) - (past < strip)


def _pages(columns: IntArray, beside: IntArray, rows: IntArray, above: IntArray) -> IntArray:
    first, last = (columns.min(), rows.min()), (columns.max(), rows.max())
    wide, high = int(last[0] - first[0]) + 1, int(last[1] - first[1]) + 1
    # Which page it is and which pages beside show it too, as one number.
    code = ((columns - first[0]) * high + rows - first[1]) * 9 + (beside + 1) * 3 + above + 1
    found = np.bincount(code, minlength=9 * wide * high).reshape(wide, high, 3, 3) > 0
    needed = np.zeros((wide + 2, high + 2), dtype=bool)
    needed[1:-1, 1:-1] = found[:, :, 1, 1]
    found[:, :, 1, 1] = False
    for i, j, x, y in np.argwhere(found):
        i, j, x, y = i + 1, j + 1, x - 1, y - 1
        if not (needed[i, j] or needed[i + x, j] or needed[i, j + y] or needed[i + x, j + y]):
            needed[i, j] = True
    return np.argwhere(needed) - 1 + np.array(first)
