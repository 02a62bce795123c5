"""Places for words on a plan, in pixels: none on other words, none on what has to be seen."""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from flatten.draw.drawing import text_width
from meshes.base.arrays import FloatArray

# Room beside words, what a word of a size reaches above and below its line, as shares of it.
BESIDE_PX, ABOVE, BELOW = 2.0, 0.8, 0.25
# Places of words within an area are tried every so many pixels; how far off a spot words may stand.
TRIED_EVERY_PX, OFF_PX = 6.0, (3.0, 8.0, 14.0, 21.0, 30.0, 42.0, 58.0, 80.0, 110.0, 150.0, 200.0)
WAYS = np.linspace(0.0, 2.0 * np.pi, 24, endpoint=False)
# What a pixel of a line under words costs beside a pixel further off: they lie on one only where nothing else is left.
LINE_COST = 60.0


def words_size(text: str, size: float, *, wider: float = 1.0) -> tuple[float, float]:
    """Width and height of words, px. wider: as what share of thin ones they are drawn."""
    return wider * text_width(text, size), (ABOVE + BELOW) * size


class WordPlaces:
    """What is taken on a plan, and where words find room."""

    def __init__(self) -> None:
        self._taken = list[BaseGeometry]()

    def take(self, shape: BaseGeometry) -> None:
        """Keep words off a shape."""
        self._taken.append(shape)

    def is_free(self, shape: BaseGeometry) -> bool:
        """Whether nothing is there."""
        return not any(one.intersects(shape) for one in self._taken)

    def within(self, area: Polygon, size: tuple[float, float], near: Sequence[float]) -> FloatArray | None:
        """The middle, (2,), of a box of some size within an area and clear of all that is taken, nearest to a spot;
        None without any. It is taken then."""
        inside = area.buffer(-BESIDE_PX)
        for one in self._taken:
            inside = inside.difference(one.buffer(BESIDE_PX)) if one.intersects(area) else inside
        x0, y0, x1, y1 = area.bounds
        x, y = (np.arange(a, b, TRIED_EVERY_PX) for a, b in ((x0, x1), (y0, y1)))
        spots = np.concatenate([[near], np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)])
        shapely.prepare(inside)
        for k in np.argsort(np.hypot(*(spots - np.asarray(near)).T), kind="stable"):
            room = _box(spots[k], size)
            if inside.covers(room):
                self.take(room)
                return np.asarray(spots[k])
        return None

    def beside(self, shape: BaseGeometry, size: tuple[float, float], lines: BaseGeometry) -> FloatArray:
        """The middle, (2,), of a box of some size beside a shape, clear of all that is taken, where it covers least of
        some lines and stands near; above the shape where there is no such place. It is taken then."""
        x0, y0, x1, y1 = shape.bounds
        half = 0.5 * (np.array([x1 - x0, y1 - y0]) + size)
        middle = np.array([0.5 * (x0 + x1), 0.5 * (y0 + y1)])
        best, least = middle - [0.0, half[1] + OFF_PX[0]], np.inf
        ways = np.column_stack([np.cos(WAYS), np.sin(WAYS)])
        for off in OFF_PX:
            if off >= least:
                break
            # Round the box of the shape, so far off it.
            for way, step in zip(ways, ((half + off) / np.maximum(np.abs(ways), 1e-9)).min(axis=1), strict=True):
                spot = middle + step * way
                room = _box(spot, size)
                cost = off + LINE_COST * room.intersection(lines).length
                if cost < least and not room.intersects(shape) and self.is_free(room):
                    best, least = spot, cost
        self.take(_box(best, size))
        return np.asarray(best)


def _box(middle: Sequence[float] | FloatArray, size: tuple[float, float]) -> Polygon:
    x, y = middle
    return box(x - 0.5 * size[0], y - 0.5 * size[1], x + 0.5 * size[0], y + 0.5 * size[1])
