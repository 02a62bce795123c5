"""The drawing protocol: one way to draw, many papers.

Anything drawn for a trimmer is drawn by calling these three methods. A PDF page, an SVG file, a DXF file and the
recorder that tests measure with are all pens, so what is right on one paper is right on all.
"""

from dataclasses import dataclass, field
from enum import Enum
from typing import Protocol

import numpy as np

from meshes.arrays import FloatArray


class Layer(Enum):
    """What a line is for. The value is the layer's number in DXF, after the list in ASTM D6673."""

    CUT = 1
    NOTCH = 4
    GRAIN = 7
    INNER = 8
    SEW = 14
    TEXT = 15


class Pen(Protocol):
    """Draws in mm, y upwards."""

    def line(self, layer: Layer, points: FloatArray, *, closed: bool = False) -> None:
        """A polyline through points (k, 2); closed joins the last to the first."""

    def fill(self, layer: Layer, points: FloatArray) -> None:
        """A filled polygon with corners (k, 2), for arrow heads and solid marks."""

    def text(
        self, layer: Layer, at: tuple[float, float], words: str, *, height_mm: float, angle_deg: float = 0.0
    ) -> None:
        """Words centred on `at`, capital height in mm, turned counter-clockwise."""


LAYER_WORDS = {
    Layer.CUT: "cut line",
    Layer.NOTCH: "notches",
    Layer.GRAIN: "grain",
    Layer.INNER: "inner lines",
    Layer.SEW: "sew line",
    Layer.TEXT: "text",
}


@dataclass(frozen=True, eq=False)
class Stroke:
    """One call of `Pen.line`."""

    layer: Layer
    points: FloatArray
    closed: bool


@dataclass(frozen=True, eq=False)
class Patch:
    """One call of `Pen.fill`."""

    layer: Layer
    points: FloatArray


@dataclass(frozen=True)
class Words:
    """One call of `Pen.text`."""

    layer: Layer
    at: tuple[float, float]
    words: str
    height_mm: float
    angle_deg: float


@dataclass
class Recorder:
    """A pen that keeps what is drawn, to be measured or drawn again on another pen."""

    drawn: list[Stroke | Patch | Words] = field(default_factory=list)

    def line(self, layer: Layer, points: FloatArray, *, closed: bool = False) -> None:
        """Keep a polyline."""
        self.drawn.append(Stroke(layer, np.array(points, dtype=float).reshape(-1, 2), closed))

    def fill(self, layer: Layer, points: FloatArray) -> None:
        """Keep a filled polygon."""
        self.drawn.append(Patch(layer, np.array(points, dtype=float).reshape(-1, 2)))

    def text(
        self, layer: Layer, at: tuple[float, float], words: str, *, height_mm: float, angle_deg: float = 0.0
    ) -> None:
        """Keep words."""
        self.drawn.append(Words(layer, (float(at[0]), float(at[1])), words, height_mm, angle_deg))

    def replay(self, pen: Pen, *, layer: Layer | None = None) -> None:
        """Draw all of it, or one layer of it, on another pen in the same order."""
        for item in self.drawn:
            if layer is not None and item.layer is not layer:
                continue
            if isinstance(item, Stroke):
                pen.line(item.layer, item.points, closed=item.closed)
            elif isinstance(item, Patch):
                pen.fill(item.layer, item.points)
            else:
                pen.text(item.layer, item.at, item.words, height_mm=item.height_mm, angle_deg=item.angle_deg)


@dataclass(frozen=True)
class PlacedPen:
    """Draws on another pen, turned counter-clockwise by quarter turns about the origin and then moved."""

    pen: Pen
    move: tuple[float, float]
    quarter_turns: int = 0

    def place(self, points: FloatArray) -> FloatArray:
        """Where points (k, 2) end up on the other pen's paper."""
        cosine, sine = ((1, 0), (0, 1), (-1, 0), (0, -1))[self.quarter_turns % 4]
        return np.asarray(points) @ np.array([[cosine, sine], [-sine, cosine]], dtype=float) + np.array(self.move)

    def line(self, layer: Layer, points: FloatArray, *, closed: bool = False) -> None:
        """A polyline in place."""
        self.pen.line(layer, self.place(points), closed=closed)

    def fill(self, layer: Layer, points: FloatArray) -> None:
        """A filled polygon in place."""
        self.pen.fill(layer, self.place(points))

    def text(
        self, layer: Layer, at: tuple[float, float], words: str, *, height_mm: float, angle_deg: float = 0.0
    ) -> None:
        """Words in place, never upside down."""
        x, y = self.place(np.array([at]))[0]
        angle = (angle_deg + 90.0 * self.quarter_turns + 90.0 - 1e-6) % 180.0 - 90.0 + 1e-6
        self.pen.text(layer, (float(x), float(y)), words, height_mm=height_mm, angle_deg=angle)
