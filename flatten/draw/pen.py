"""The drawing protocol: one way to draw, many papers.

Anything drawn for a trimmer is drawn by calling these three methods. A PDF page, an SVG file, a DXF file and the
recorder that tests measure with are all pens, so what is right on one paper is right on all.
"""

from abc import ABC, abstractmethod
from dataclasses import dataclass, field
from enum import Enum
from typing import Protocol

import numpy as np

from meshes.base.arrays import FloatArray


class PenLayer(Enum):
    """What a line is for. The value is the layer's number in DXF, after the list in ASTM D6673; that list has none for
    pleats, foam, glue, hides, fitting and what is cut only on the seat, so theirs are our own."""

    CUT = 1
    NOTCH = 4
    GRAIN = 7
    INNER = 8
    OPENING = 11
    SEW = 14
    TEXT = 15
    STITCH = 30
    VALLEY = 31
    CREST = 32
    JOIN = 33
    BACKING = 34
    ROUNDING = 35
    GLUE = 36
    SLIT = 37
    HOLE = 38
    LATER = 39
    HIDE_RIM = 40
    FLAW = 41
    ZONE = 42
    BEFORE = 43


class Pen(Protocol):
    """Draws in mm, y upwards."""

    def line(self, layer: PenLayer, points: FloatArray, *, closed: bool = False) -> None:
        """A polyline through points (k, 2); closed joins the last to the first."""

    def fill(self, layer: PenLayer, points: FloatArray) -> None:
        """A filled polygon with corners (k, 2), for arrow heads and solid marks."""

    def text(
        self, layer: PenLayer, at: tuple[float, float], words: str, *, height_mm: float, angle_deg: float = 0.0
    ) -> None:
        """Words centred on `at`, capital height in mm, turned counter-clockwise."""


@dataclass(frozen=True, eq=False)
class PenElsewhere(ABC):
    """Draws on another pen, at other places of its paper; whoever says where also says how words stand there."""

    pen: Pen

    @abstractmethod
    def place(self, points: FloatArray) -> FloatArray:
        """Points (k, 2) where they come to lie on the other pen's paper."""

    def line(self, layer: PenLayer, points: FloatArray, *, closed: bool = False) -> None:
        self.pen.line(layer, self.place(points), closed=closed)

    def fill(self, layer: PenLayer, points: FloatArray) -> None:
        self.pen.fill(layer, self.place(points))


@dataclass(frozen=True, eq=False)
class MovedPen(PenElsewhere):
    """Draws on another pen, first turned a quarter counter-clockwise if `turned`, then moved by `shift` (x, y) mm."""

    shift: tuple[float, float]
    turned: bool = False

    def place(self, points: FloatArray) -> FloatArray:
        points = np.asarray(points, dtype=np.float64).reshape(-1, 2)
        if self.turned:
            points = np.column_stack([-points[:, 1], points[:, 0]])
        return points + np.asarray(self.shift)

    def text(
        self, layer: PenLayer, at: tuple[float, float], words: str, *, height_mm: float, angle_deg: float = 0.0
    ) -> None:
        x, y = self.place(np.array([at]))[0]
        # A quarter turn would put words that already stand upright on their head.
        angle = 90.0 - (90.0 - angle_deg - (90.0 if self.turned else 0.0)) % 180.0
        self.pen.text(layer, (float(x), float(y)), words, height_mm=height_mm, angle_deg=angle)


@dataclass(frozen=True)
class PlacedText:
    """A text as it was drawn: centre (x, y) mm, capital height mm, angle in degrees counter-clockwise."""

    layer: PenLayer
    at: tuple[float, float]
    words: str
    height_mm: float
    angle_deg: float


@dataclass(frozen=True)
class RecordingPen:
    """Draws nothing and keeps everything: for measuring what would be drawn."""

    lines: list[tuple[PenLayer, FloatArray, bool]] = field(default_factory=list)
    fills: list[tuple[PenLayer, FloatArray]] = field(default_factory=list)
    texts: list[PlacedText] = field(default_factory=list)

    def line(self, layer: PenLayer, points: FloatArray, *, closed: bool = False) -> None:
        self.lines.append((layer, np.array(points, dtype=np.float64), closed))

    def fill(self, layer: PenLayer, points: FloatArray) -> None:
        self.fills.append((layer, np.array(points, dtype=np.float64)))

    def text(
        self, layer: PenLayer, at: tuple[float, float], words: str, *, height_mm: float, angle_deg: float = 0.0
    ) -> None:
        self.texts.append(PlacedText(layer, (float(at[0]), float(at[1])), words, height_mm, angle_deg))

    def uses(self, layer: PenLayer) -> bool:
        """Whether anything was drawn on a layer."""
        return any(one[0] is layer for kept in (self.lines, self.fills) for one in kept) or any(
            text.layer is layer for text in self.texts
        )

    def replay(self, pen: Pen, *, only: PenLayer | None = None) -> None:
        """Draw what was kept, or one layer of it, on another pen."""
        for layer, points, closed in self.lines:
            if only in (None, layer):
                pen.line(layer, points, closed=closed)
        for layer, points in self.fills:
            if only in (None, layer):
                pen.fill(layer, points)
        for text in self.texts:
            if only in (None, text.layer):
                pen.text(text.layer, text.at, text.words, height_mm=text.height_mm, angle_deg=text.angle_deg)
