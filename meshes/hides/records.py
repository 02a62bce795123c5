"""Hides as frozen records: outline, backbone, zones, flaws, pieces that are pinned; what pieces ask; how leather is
cut."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from meshes.base.arrays import FloatArray, locked_floats
from meshes.base.frozen_map import FrozenMap

# Between pieces for a knife or a cutting table, and for shears, mm (common practice, no source).
TOOL_GAP_MM = {"knife": 3.0, "table": 3.0, "shears": 6.0}
# What is left along the rim of a hide and outside a chalk ring, mm (common practice, no source).
RIM_MM, CHALK_MM = 15.0, 5.0
# Places of a mirrored pair that differ by more than this are told, and parts of one face that are sewn to each other
# when more leather than this lies between them, mm: common practice has both near, no source has a figure.
PAIR_APART_MM, NEIGHBOURS_APART_MM = 400.0, 300.0
# Flaws that no piece may cover, and that only rear and hidden pieces may.
NEVER_COVERED, ONLY_HIDDEN = ("hole", "cut", "unusable"), ("hidden",)


@dataclass(frozen=True, eq=False)
class Flaw:
    """kind: in words; grade: hole, cut, unusable, hidden or mark; points (k, 2) mm: its chalk ring."""

    kind: str
    grade: str
    points: FloatArray

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", locked_floats(self.points))

    @property
    def words(self) -> str:
        """What it is and its grade; in drawings nothing but the grade may be known."""
        return self.kind if self.kind == self.grade else f"{self.kind} ({self.grade})"


@dataclass(frozen=True)
class Pin:
    """A piece that stays where the trimmer put it. number: which of several alike; at: middle of its box, mm;
    turn_deg: of its arrow off the backbone."""

    piece: str
    number: int
    at: tuple[float, float]
    turn_deg: float


@dataclass(frozen=True, eq=False)
class Hide:
    """One hide, grain side up, in its own coordinates, mm. outline (k, 2), counter-clockwise; backbone (2, 2): tail,
    neck; zones: polygons (k, 2) by name; derived: whether zones follow from outline and backbone; place: its number
    in the sheet; leather: the name of its card, None for the sheet's own; roll: it is no hide but a length of roll,
    its backbone along the edge of what is usable.
    """

    name: str
    outline: FloatArray
    backbone: FloatArray
    zones: Mapping[str, tuple[FloatArray, ...]]
    flaws: tuple[Flaw, ...] = ()
    pins: tuple[Pin, ...] = ()
    thickness_mm: float | None = None
    derived: bool = True
    place: int = 0
    leather: str | None = None
    roll: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "outline", locked_floats(self.outline))
        object.__setattr__(self, "backbone", locked_floats(self.backbone))
        object.__setattr__(self, "zones", FrozenMap(self.zones))

    @property
    def heading_deg(self) -> float:
        """Direction of the backbone from the tail to the neck, degrees from the x axis."""
        along = self.backbone[1] - self.backbone[0]
        return math.degrees(math.atan2(along[1], along[0]))

    def along_and_off(self, points: FloatArray) -> FloatArray:
        """Points (k, 2) as distance along the backbone from the tail, and off it, to the left positive, mm."""
        along = self.backbone[1] - self.backbone[0]
        u = along / float(np.hypot(*along))
        return np.asarray((points - self.backbone[0]) @ np.array([[u[0], -u[1]], [u[1], u[0]]]))

    def from_backbone(self, places: FloatArray) -> FloatArray:
        """What `along_and_off` gives, back to the hide's own coordinates."""
        along = self.backbone[1] - self.backbone[0]
        u = along / float(np.hypot(*along))
        return np.asarray(places @ np.array([[u[0], u[1]], [-u[1], u[0]]]) + self.backbone[0])


@dataclass(frozen=True)
class Placing:
    """What pieces ask of a hide where it is not the usual. seen: face, band, side, rear or hidden; turn_deg: how far
    the arrow may lie off the backbone; None: the usual; place: its number in the sheet."""

    pieces: tuple[str, ...]
    seen: str | None = None
    zones: tuple[str, ...] | None = None
    turn_deg: float | None = None
    place: int = 0


@dataclass(frozen=True)
class Cutting:
    """Margins in mm; prices: the name of a price table, None for none; pair_apart_mm, neighbours_apart_mm: from where
    on mirrored pairs and parts of one face are told."""

    gap_mm: float = TOOL_GAP_MM["knife"]
    rim_mm: float = RIM_MM
    chalk_mm: float = CHALK_MM
    prices: str | None = None
    pair_apart_mm: float = PAIR_APART_MM
    neighbours_apart_mm: float = NEIGHBOURS_APART_MM


@dataclass(frozen=True)
class HidePlan:
    """The hides of a sheet and all that is said about cutting from them."""

    hides: tuple[Hide, ...] = ()
    placings: tuple[Placing, ...] = ()
    cutting: Cutting = field(default_factory=Cutting)
