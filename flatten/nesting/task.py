"""What is to be laid out: outlines to cut, the rooms they may lie in, and where they lie in the end.

Rooms stand side by side along x on one table, the one to be used up first at the left. How much leather a layout
takes is then one length: how far along the table its pieces reach. What lies beyond is whole, and a hide beyond is
not cut at all.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from meshes.base.arrays import FloatArray, locked_floats


@dataclass(frozen=True, eq=False)
class ToPlace:
    """One piece to lay out. points (k, 2) mm: its cut line, counter-clockwise; turns_deg: directions that are tried;
    grade: names the part of each room that will do for it; ranges_deg: (from, to) it may be turned between them, none
    for those directions alone."""

    name: str
    points: FloatArray
    turns_deg: tuple[float, ...] = (0.0,)
    grade: str = ""
    ranges_deg: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", locked_floats(self.points))

    @property
    def allowed_deg(self) -> tuple[tuple[float, float], ...]:
        """The turns it may have, (from, to)."""
        return self.ranges_deg or tuple((turn, turn) for turn in self.turns_deg)


@dataclass(frozen=True, eq=False)
class Room:
    """A hide, a strip, a remnant. areas: by grade, where cut lines may lie, margins taken off, as polygons; axis_mm: y
    of the line about which places mirror each other, None for none; parts: by name, what is alike in itself."""

    name: str
    areas: Mapping[str, BaseGeometry]
    axis_mm: float | None = None
    parts: Mapping[str, BaseGeometry] = field(default_factory=dict)


@dataclass(frozen=True)
class Tie:
    """Two pieces, by name, that want to lie well to each other: at mirrored places of one room, or side by side in one
    of its parts. free_mm: how far off is good enough."""

    one: str
    other: str
    mirrored: bool
    free_mm: float


@dataclass(frozen=True, eq=False)
class PlacedCut:
    """Where a piece lies: in which room, turned counter-clockwise by degrees, then moved by shift (2,) mm."""

    wanted: ToPlace
    room: str
    turn_deg: float
    shift: FloatArray
    points: FloatArray = field(repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "shift", locked_floats(self.shift))
        object.__setattr__(self, "points", locked_floats(self.points))


@dataclass(frozen=True, eq=False)
class FixedCut:
    """A piece that lies in a room already and stays there: points (k, 2) mm in the room's coordinates. Its place is no
    room for others, which the room's areas have to say."""

    name: str
    room: str
    turn_deg: float
    points: FloatArray

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", locked_floats(self.points))


@dataclass(frozen=True)
class Ties:
    """What draws pieces to each other, and pieces that lie already."""

    ties: tuple[Tie, ...] = ()
    fixed: tuple[FixedCut, ...] = ()


@dataclass(frozen=True)
class Effort:
    """How long is looked: a number of rounds, the same for the same task on any machine; seconds: go on until so many
    have passed, which no two runs do alike. moves: of pieces, made before one is left out because all do not fit;
    step_mm: of the grid, None to have it follow from the task; seed: of the draw."""

    rounds: int = 40
    seconds: float | None = None
    moves: int = 60_000
    step_mm: float | None = None
    seed: int = 1


@dataclass(frozen=True, eq=False)
class CutLayout:
    """What came of it. reach_mm: how far along the table the pieces reach; unplaced: names of those that found no room;
    first_s: after how long all lay for the first time; rounds: looked."""

    placed: tuple[PlacedCut, ...]
    unplaced: tuple[str, ...]
    reach_mm: float
    seconds: float
    first_s: float | None
    rounds: int


def strip_room(width_mm: float, length_mm: float, name: str = "strip") -> Room:
    """A strip along x, `width_mm` across."""
    return Room(name, {"": Polygon([(0.0, 0.0), (length_mm, 0.0), (length_mm, width_mm), (0.0, width_mm)])})


def area_mm2(layout: CutLayout) -> float:
    """Area of all placed pieces, mm2."""
    return float(np.sum([Polygon(one.points).area for one in layout.placed]))
