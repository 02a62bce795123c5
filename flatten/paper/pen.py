"""The drawing protocol: one way to draw, many papers.

Anything drawn for a trimmer is drawn by calling these three methods. A PDF page, an SVG file, a DXF file and the
recorder that tests measure with are all pens, so what is right on one paper is right on all.
"""

from enum import Enum
from typing import Protocol

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
