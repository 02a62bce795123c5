"""Words with leader lines, set where they cover nothing that is drawn: each as near to its place as there is room.

All places round its own are tried, in rings; a leader may run over padding, at a price, but not through other words.
"""

from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely.geometry import LineString, box
from shapely.geometry.base import BaseGeometry

from flatten.draw.drawing import Drawing, ring_of, text_width
from meshes.base.arrays import FloatArray

RINGS = np.concatenate([np.arange(14.0, 80.0, 8.0), np.arange(80.0, 330.0, 18.0)])
TURNS = np.linspace(0.0, 2.0 * np.pi, 32, endpoint=False)
# Price of a pixel of leader over padding, and of each leader it crosses, in pixels of distance.
OVER_PRICE, CROSS_PRICE = 0.35, 150.0
# So many of the shortest leaders are compared.
MOST_TRIED = 500
# Room round words, and from line to line as a share of their size.
WORDS_ROOM, LEADING = 3.0, 1.2


@dataclass
class Callouts:
    """Words on one view. room: where words may stand; taken: what they must not cover and leaders should not cross."""

    drawing: Drawing
    room: BaseGeometry
    taken: BaseGeometry
    leaders: list[BaseGeometry] = field(default_factory=list)
    placed: list[BaseGeometry] = field(default_factory=list)

    def say(
        self,
        text: str,
        places: FloatArray,
        *,
        colour: str,
        size: float = 13.0,
        bold: bool = False,
    ) -> None:
        """Set words for one of some places (k, 2), the one that suits best, and draw their leader."""
        lines = self.drawing.said(text).split("\n")
        wide = max(text_width(line, size) for line in lines) * (1.06 if bold else 1.0)
        half = np.array([0.5 * wide + WORDS_ROOM, 0.5 * size * (1.0 + LEADING * (len(lines) - 1)) + WORDS_ROOM])
        spot, middle = self._best(np.atleast_2d(places), half)
        x, y = middle.tolist()
        self.placed.append(box(x - half[0], y - half[1], x + half[0], y + half[1]))
        end = np.clip(spot, middle - half, middle + half)
        leader = LineString([spot, end])
        if leader.length > 0:
            self.leaders.append(leader.buffer(1.5))
            self.drawing.line(np.stack([spot, end]), colour, 0.9)
        self.drawing.area(ring_of(spot, 2.4), colour)
        for k, line in enumerate(lines):
            at = (x, y + (0.36 + LEADING * (k - 0.5 * (len(lines) - 1))) * size)
            self.drawing.words(line, at, size=size, colour=colour, anchor="middle", bold=bold)

    def _best(self, places: FloatArray, half: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The place and the middle of its words for which the price is least."""
        reach, turn = (grid.ravel() for grid in np.meshgrid(RINGS, TURNS, indexing="ij"))
        way = np.column_stack([np.cos(turn), np.sin(turn)])
        shift = way * reach[:, None] + np.column_stack([half[0] * np.abs(way[:, 0]) * way[:, 0], np.zeros(len(turn))])
        spots = np.repeat(places, len(shift), axis=0)
        middles = spots + np.tile(shift, (len(places), 1))
        fields = shapely.box(*(middles - half).T, *(middles + half).T)
        covered = shapely.union_all([self.taken, *self.leaders, *self.placed])
        shapely.prepare([self.room, covered])
        price = 1e4 * ~shapely.covers(self.room, fields)
        price += 1e3 * shapely.intersects(covered, fields)
        # Only the places that are free are looked at more closely; where none is, all are.
        free = np.flatnonzero(price == price.min())
        spots, middles = spots[free], middles[free]
        ends = np.clip(spots, middles - half, middles + half)
        short = np.argsort(np.linalg.norm(ends - spots, axis=1), kind="stable")[:MOST_TRIED]
        spots, middles, ends = spots[short], middles[short], ends[short]
        leaders = shapely.linestrings(np.stack([spots, ends], axis=1))
        cost = shapely.length(leaders) + OVER_PRICE * shapely.length(shapely.intersection(leaders, self.taken))
        for price_px, drawn in ((CROSS_PRICE, self.leaders), (1e4, self.placed)):
            cost += price_px * shapely.intersects(leaders, shapely.union_all(drawn))
        best = int(np.argmin(cost))
        return spots[best], middles[best]
