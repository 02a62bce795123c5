"""The table that rooms stand on side by side, and on it the places of every outline as maps on a grid.

Maps are made when they are asked for and kept: for a pair of outlines how deep they lie in each other at each
distance, for an outline how deep it lies outside its rooms (the raster penetration map of Sato, Martins, Tsuzuki,
European J. Operational Research 279, 2019, with exact boundaries).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from flatten.nesting.outline import (
    ARC_OUTSIDE,
    FIRST_LEFT_OUT_MM,
    LEFT_OUT_MM,
    QUARTER,
    ConvexPart,
    GrownOutline,
    grown,
    parts_of,
    placed_outline,
    ring,
)
from flatten.nesting.sums import depths, on_count, outside_count, overlap_map
from flatten.nesting.task import Effort, Room, ToPlace
from meshes.base.arrays import FloatArray

# Rows of the grid across the table by default, and the finest and coarsest step for hides.
ROWS = 160
# Between rooms on the table, so that pieces in different ones are never near each other.
ROOMS_APART_MM = 30.0
# The number of an outline without maps.
NO_MAPS = -1
# Depth of every place where a piece has none, in steps.
NOWHERE = 1e3


@dataclass(frozen=True, eq=False)
class Oriented:
    """An outline in one direction, for pieces of one grade. kind: its number in the maps."""

    kind: int
    turn_deg: float
    outline: GrownOutline
    grade: str


@dataclass(frozen=True, eq=False)
class DepthMap:
    """depth (columns, rows) in steps of the grid; low: the place of its first entry."""

    depth: FloatArray
    low: tuple[int, int]


class CuttingTable:
    """Rooms side by side and the outlines to be laid in them, everything grown by half the gap. soft: by what share
    of a step outlines may lie on each other on the grid, which exact moves have to undo."""

    def __init__(
        self, wanted: Sequence[ToPlace], rooms: Sequence[Room], gap_mm: float, effort: Effort, *, soft: float
    ) -> None:
        self.rooms = tuple(rooms)
        self.half_mm = 0.5 * gap_mm
        self.wanted = tuple(wanted)
        self._lay_rooms()
        self.step = effort.step_mm or self.width_mm / ROWS
        self.soft_mm = soft * self.step
        self.kinds: list[Oriented] = []
        self.choices: list[tuple[Oriented, ...]] = self._choices(soft)
        self._pairs: dict[tuple[int, int], DepthMap] = {}
        self._rooms: dict[int, DepthMap] = {}
        self._walls: dict[str, list[ConvexPart]] = {}

    def _lay_rooms(self) -> None:
        """Where each room stands: all beginning at y = 0, one after the other along x."""
        x, self.moves, self.boxes = 0.0, [], []
        heights = []
        for room in self.rooms:
            low = np.min([area.bounds[:2] for area in room.areas.values() if not area.is_empty], axis=0)
            high = np.max([area.bounds[2:] for area in room.areas.values() if not area.is_empty], axis=0)
            self.moves.append(np.array([x, 0.0]) - low)
            self.boxes.append((x, x + float(high[0] - low[0])))
            heights.append(float(high[1] - low[1]))
            x += float(high[0] - low[0]) + ROOMS_APART_MM
        self.width_mm = max(heights) + 2.0 * self.half_mm
        self.length_mm = x - ROOMS_APART_MM

    def areas(self, grade: str, *, sharp: bool = False) -> list[BaseGeometry]:
        """Where grown outlines of a grade may lie, room by room, on the table. sharp: corners stay corners."""
        found = []
        for room, move in zip(self.rooms, self.moves, strict=True):
            area = affinity.translate(room.areas[grade], *move)
            if self.half_mm:
                area = area.buffer(self.half_mm, quad_segs=QUARTER, join_style="mitre" if sharp else "round")
            found.append(area)
        return found

    def _choices(self, soft: float) -> list[tuple[Oriented, ...]]:
        seen: dict[tuple[bytes, float, str], Oriented] = {}
        self._wide: dict[bytes, FloatArray] = {}
        wide = self._wide
        choices = []
        for one in self.wanted:
            key = one.points.tobytes()
            if key not in wide:
                wide[key] = grown(one.points, self.half_mm, left_out_mm=self._left_out(soft))
            options = []
            for turn in one.turns_deg:
                named = (key, turn, one.grade)
                if named not in seen:
                    seen[named] = Oriented(
                        len(self.kinds), turn, placed_outline(wide[key], turn, soft_mm=self.soft_mm), one.grade
                    )
                    self.kinds.append(seen[named])
                options.append(seen[named])
            choices.append(tuple(options))
        return choices

    def _left_out(self, soft: float) -> float:
        """What may be left out of curves: nothing where outlines shall touch, more for a first layout on the grid."""
        if self.half_mm == 0.0:
            return 0.0
        return LEFT_OUT_MM if soft else FIRST_LEFT_OUT_MM

    def turned(self, index: int, turn_deg: float) -> Oriented:
        """A piece in any direction, for exact moves alone: there are no maps of it."""
        one = self.wanted[index]
        outline = placed_outline(self._wide[one.points.tobytes()], turn_deg, soft_mm=self.soft_mm)
        return Oriented(NO_MAPS, turn_deg, outline, one.grade)

    def pair(self, moving: Oriented, fixed: Oriented) -> DepthMap:
        """How deep `moving` lies in `fixed`, by its place relative to it."""
        key = (moving.kind, fixed.kind)
        if key not in self._pairs:
            depth, low = overlap_map(fixed.outline.points / self.step, moving.outline.points / self.step)
            self._pairs[key] = DepthMap(depth, low)
            back = (1 - low[0] - depth.shape[0], 1 - low[1] - depth.shape[1])
            self._pairs[key[::-1]] = DepthMap(depth[::-1, ::-1], back)
        return self._pairs[key]

    def places(self, oriented: Oriented) -> DepthMap:
        """How deep an outline lies outside its rooms, for places on the table."""
        if oriented.kind not in self._rooms:
            self._rooms[oriented.kind] = self._placed(oriented)
        return self._rooms[oriented.kind]

    def _placed(self, oriented: Oriented) -> DepthMap:
        height = max(b[3] for b in (area.bounds for area in self.areas(oriented.grade)) if not np.isnan(b[3]))
        room_mm = np.array([self.length_mm + self.half_mm, height]) - oriented.outline.size
        shape = np.maximum(np.floor(room_mm / self.step + 1e-9).astype(int) + 1, 0)
        size = (int(shape[0]), int(shape[1]))
        if min(size) <= 0:
            return DepthMap(np.zeros((0, 0), dtype=np.float32), (0, 0))
        points = oriented.outline.points / self.step
        taken = np.ones(size, dtype=bool)
        for area in self.areas(oriented.grade):
            for polygon in polygons_of(area):
                count = outside_count(ring(polygon) / self.step, points, size)
                for hole in polygon.interiors:
                    count = count + on_count(ring(Polygon(hole)) / self.step, points, size)
                taken &= count > 0
        depth = depths(taken) if not taken.all() else np.full(size, NOWHERE)
        return DepthMap(depth, (0, 0))

    def walls(self, grade: str) -> list[ConvexPart]:
        """All that is not room for a grade, on the table and round it, as convex parts."""
        if grade not in self._walls:
            free = shapely.union_all(self.areas(grade))
            x0, y0, x1, y1 = free.bounds
            wide = box(x0 - 400.0, y0 - 400.0, x1 + 400.0, y1 + 400.0)
            self._walls[grade] = [part for area in polygons_of(wide.difference(free)) for part in parts_of(area)]
        return self._walls[grade]


def polygons_of(area: BaseGeometry) -> list[Polygon]:
    """The polygons an area consists of, those without area left out."""
    if isinstance(area, Polygon):
        return [] if area.is_empty else [area]
    return [one for part in getattr(area, "geoms", ()) for one in polygons_of(part)]


def taken_in(area: BaseGeometry, by_mm: float) -> BaseGeometry:
    """An area without a margin along its rim, never less wide than `by_mm`."""
    return area.buffer(-by_mm * ARC_OUTSIDE, quad_segs=QUARTER)
