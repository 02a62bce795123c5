"""A hide from a drawing: outline, backbone, flaws and zones of an SVG or DXF file with a stated scale.

What a line is follows from its layer (DXF) or from the id or label of its group or of itself (SVG): "outline",
"backbone", a grade of flaw or a zone. Straight runs, curves, arcs and circles are read; curves are followed in short
chords.
"""

import re
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from meshes.base.arrays import FloatArray
from meshes.base.reading import UnreadableError, read_whole
from meshes.hides.svg_lines import DrawingFault, svg_lines

# The most that is read of a drawing.
LARGEST_DRAWING_BYTES = 20_000_000


@dataclass
class DrawnLines:
    """Lines of a drawing by layer word, in drawing units, y up."""

    lines: dict[str, list[FloatArray]] = field(default_factory=dict)

    def add(self, layer: str, points: FloatArray) -> None:
        """Keep a line under each word its layer's name holds."""
        for word in re.split(r"[^a-z]+", layer.lower()):
            if word:
                self.lines.setdefault(word, []).append(points)


def read_drawing(path: Path, scale: float) -> dict[str, list[FloatArray]]:
    """Lines (k, 2) mm by word. scale: mm for one unit of the drawing. Raises DrawingFault."""
    try:
        data = read_whole(path, most_bytes=LARGEST_DRAWING_BYTES)
    except UnreadableError as fault:
        raise DrawingFault(str(fault)) from None
    suffix = path.suffix.lower()
    if suffix == ".svg":
        found = _svg(data)
    elif suffix == ".dxf":
        found = _dxf(data)
    else:
        raise DrawingFault(f"neither an SVG nor a DXF drawing, found {path.name}")
    return {word: [points * scale for points in lines] for word, lines in found.lines.items()}


def _svg(data: bytes) -> DrawnLines:
    found = DrawnLines()
    for layer, line in svg_lines(data):
        found.add(layer, line)
    return found


def _dxf(data: bytes) -> DrawnLines:
    import io

    from ezdxf.document import Drawing
    from ezdxf.lldxf.const import DXFError
    from ezdxf.path import make_path

    try:
        drawing = Drawing.read(io.StringIO(data.decode("utf-8", errors="replace")))
    except (DXFError, ValueError) as fault:
        raise DrawingFault(f"no DXF that can be read: {fault}") from None
    found = DrawnLines()
    kinds = {"LWPOLYLINE", "POLYLINE", "LINE", "CIRCLE", "SPLINE", "ARC", "ELLIPSE"}
    for entity in drawing.modelspace():
        if entity.dxftype() in kinds:
            points = np.array([[p.x, p.y] for p in make_path(entity).flattening(0.05)])
            found.add(entity.dxf.layer, points)
    return found


__all__ = ["DrawingFault", "DrawnLines", "read_drawing"]
