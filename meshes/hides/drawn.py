"""A hide from a drawing: outline, backbone, flaws and zones of an SVG or DXF file with a stated scale.

What a line is follows from its layer (DXF) or from the id or label of its group or of itself (SVG): "outline",
"backbone", a grade of flaw or a zone. Only straight runs, curves and circles are read; curves are followed in short
chords. SVG's y runs down and is turned up, so that a drawing of the grain side stays one.
"""

import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

import numpy as np

from meshes.base.arrays import FloatArray
from meshes.base.reading import UnreadableError, read_whole

# The most that is read of a drawing, and pieces of a curve.
LARGEST_DRAWING_BYTES, CURVE_CHORDS = 20_000_000, 24
_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_WORDS = re.compile(r"([MmLlHhVvCcQqZz])|([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)")


class DrawingFault(ValueError):
    """What is wrong with a drawing, in words."""


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
    if b"<!ENTITY" in data:
        raise DrawingFault("the drawing holds entities, which are not read")
    try:
        root = ET.fromstring(data)
    except ET.ParseError as fault:
        raise DrawingFault(f"no SVG that can be read: {fault}") from None
    found = DrawnLines()
    _walk(root, "", found)
    return found


def _walk(node: ET.Element, layer: str, found: DrawnLines) -> None:
    names = [value for key, value in node.attrib.items() if key.rsplit("}", 1)[-1] in ("id", "label", "class")]
    here = " ".join([layer, *names])
    if node.get("transform"):
        raise DrawingFault("the drawing has transforms, which are not read; apply them in the drawing program first")
    kind = node.tag.rsplit("}", 1)[-1]
    points = _shape(kind, node)
    for line in points:
        found.add(here, line * [1.0, -1.0])
    for child in node:
        _walk(child, here, found)


def _shape(kind: str, node: ET.Element) -> list[FloatArray]:
    def value(key: str) -> float:
        number = _NUMBER.match(node.get(key, "0"))
        return float(number[0]) if number else 0.0

    if kind in ("polygon", "polyline"):
        numbers = [float(word) for word in _NUMBER.findall(node.get("points", ""))]
        return [np.array(numbers[: len(numbers) // 2 * 2]).reshape(-1, 2)]
    if kind == "line":
        return [np.array([[value("x1"), value("y1")], [value("x2"), value("y2")]])]
    if kind == "circle":
        turn = np.linspace(0.0, 2.0 * np.pi, 4 * CURVE_CHORDS, endpoint=False)
        return [np.array([value("cx"), value("cy")]) + value("r") * np.column_stack([np.cos(turn), np.sin(turn)])]
    if kind == "rect":
        x, y, w, h = (value(key) for key in ("x", "y", "width", "height"))
        return [np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]])]
    return _path(node.get("d", "")) if kind == "path" else []


def _path(text: str) -> list[FloatArray]:
    """The runs of a path of straight lines and Bezier curves."""
    if re.search(r"[AaSsTt]", text):
        raise DrawingFault("a path has arcs or smooth curves, which are not read; save plain curves or straight runs")
    runs: list[list[FloatArray]] = []
    words = [found.group(0) for found in _WORDS.finditer(text)]
    at, command, k = np.zeros(2), "M", 0
    need = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "Q": 4, "Z": 0}
    while k < len(words):
        if words[k].isalpha():
            command, k = words[k], k + 1
        count = need[command.upper()]
        if count == 0:
            if runs:
                at = runs[-1][0]
            continue
        numbers = [float(word) for word in words[k : k + count] if not word.isalpha()]
        if len(numbers) < count:
            raise DrawingFault("a path ends in the middle of a line")
        k += count
        origin = at if command.islower() else np.zeros(2)
        steps = _steps(command.upper(), numbers, origin, at)
        if command.upper() == "M" or not runs:
            runs.append([])
            command = {"M": "L", "m": "l"}.get(command, command)
        runs[-1].extend(steps)
        at = steps[-1]
    return [np.array(run) for run in runs if len(run) > 1]


def _steps(command: str, numbers: list[float], origin: FloatArray, at: FloatArray) -> list[FloatArray]:
    if command == "H":
        return [np.array([numbers[0] + origin[0], at[1]])]
    if command == "V":
        return [np.array([at[0], numbers[0] + origin[1]])]
    corners = [origin + numbers[j : j + 2] for j in range(0, len(numbers), 2)]
    if command in ("M", "L"):
        return corners
    control = [at, *corners]
    found = []
    for share in np.linspace(0.0, 1.0, CURVE_CHORDS + 1)[1:]:
        points = control
        while len(points) > 1:
            points = [p + share * (q - p) for p, q in pairwise(points)]
        found.append(points[0])
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
