"""A hide from a drawing: outline, backbone, flaws and zones of an SVG or DXF file with a stated scale.

What a line is follows from its layer (DXF) or from the id or label of its group or of itself (SVG): "outline",
"backbone", a grade of flaw or a zone; lines of other layers are not read. Only straight runs, curves and circles are
read; curves are followed in short chords. SVG's y runs down and is turned up, so that a drawing of the grain side stays
one. A drawing is a file that another one names, so nothing of what stands in it is told, only where it cannot be read.
"""

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry import LineString

from meshes.base.arrays import FloatArray
from meshes.base.reading import UnreadableError, read_whole
from meshes.base.units import LARGEST_PAD_MM
from meshes.schema.cover_tables import FLAW_GRADES, HIDE_POINTS, ZONES

if TYPE_CHECKING:
    from ezdxf.entities.dxfentity import DXFEntity

# The most that is read of a drawing: bytes, lines that say what they are, and their points all together.
LARGEST_DRAWING_BYTES, MOST_DRAWN_LINES, MOST_DRAWN_POINTS = 8_000_000, 2_000, 100_000
# Pieces of a curve of an SVG, and how far chords may leave a curve of a DXF, mm.
CURVE_CHORDS, CHORD_OFF_MM = 24, 0.05
# What a line may be.
WORDS = frozenset(("outline", "backbone", *FLAW_GRADES, *ZONES))
_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_WORDS = re.compile(r"([MmLlHhVvCcQqZz])|([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)")
_DXF_KINDS = ("LWPOLYLINE", "POLYLINE", "LINE", "CIRCLE", "SPLINE", "ARC", "ELLIPSE")


class DrawingFault(ValueError):
    """What is wrong with a drawing, in words."""


@dataclass
class DrawnLines:
    """Lines (k, 2) mm of a drawing by the word that says what they are, y up. scale: mm for one unit of the drawing."""

    scale: float
    lines: dict[str, list[FloatArray]] = field(default_factory=dict)
    _lines: int = 0
    _points: int = 0

    def add(self, words: frozenset[str], points: FloatArray) -> None:
        """Keep a line, given in drawing units, under each of its words; one of no more than a point is none. Raises
        DrawingFault."""
        if len(points) < 2:
            return
        self._lines += 1
        self._points += len(points)
        if self._lines > MOST_DRAWN_LINES or self._points > MOST_DRAWN_POINTS:
            text = (
                f"holds more than {MOST_DRAWN_LINES} lines or {MOST_DRAWN_POINTS} points of a hide; trace it with fewer"
            )
            raise DrawingFault(text)
        lengths = self.bounded(points)
        if len(lengths) > HIDE_POINTS:
            lengths = np.asarray(LineString(lengths).simplify(CHORD_OFF_MM).coords)
        for word in sorted(words):
            self.lines.setdefault(word, []).append(lengths)

    def bounded(self, points: FloatArray) -> FloatArray:
        """Points of the drawing in mm. Raises DrawingFault where one lies farther out than any hide reaches."""
        # Held against in units of the drawing, where nothing overflows.
        if not bool((np.abs(points) <= LARGEST_PAD_MM / self.scale).all()):
            text = f"a line of it reaches more than {LARGEST_PAD_MM:g} mm from its origin; is its scale right?"
            raise DrawingFault(text)
        return points * self.scale


def _words(*names: str) -> frozenset[str]:
    """What lines of a layer of these names are."""
    return WORDS.intersection(word for name in names for word in re.split(r"[^a-z]+", name.lower()))


def read_drawing(path: Path, scale: float) -> dict[str, list[FloatArray]]:
    """Lines (k, 2) mm by word, of at least two points each. scale: mm for one unit of the drawing. Raises
    DrawingFault."""
    try:
        data = read_whole(path, most_bytes=LARGEST_DRAWING_BYTES)
    except UnreadableError as fault:
        raise DrawingFault(str(fault)) from None
    suffix, found = path.suffix.lower(), DrawnLines(scale)
    if suffix == ".svg":
        _svg(data, found)
    elif suffix == ".dxf":
        _dxf(data, found)
    else:
        raise DrawingFault(f"neither an SVG nor a DXF drawing, found {path.name}")
    return found.lines


def _svg(data: bytes, found: DrawnLines) -> None:
    if b"<!ENTITY" in data:
        raise DrawingFault("the drawing holds entities, which are not read")
    try:
        root = ET.fromstring(data)
    except (ET.ParseError, ValueError, LookupError) as fault:
        line = getattr(fault, "position", (0, 0))[0]
        raise DrawingFault(f"no SVG that can be read{f', at its line {line}' if line else ''}") from None
    # Groups may lie in each other as deep as a file is long.
    left = [(root, frozenset[str]())]
    while left:
        node, around = left.pop()
        names = [value for key, value in node.attrib.items() if key.rsplit("}", 1)[-1] in ("id", "label", "class")]
        words = around | _words(*names)
        if node.get("transform"):
            text = "the drawing has transforms, which are not read; apply them in the drawing program first"
            raise DrawingFault(text)
        if words:
            for line in _shape(node.tag.rsplit("}", 1)[-1], node):
                found.add(words, line * [1.0, -1.0])
        left += [(child, words) for child in reversed(node)]


def _numbers(text: str) -> list[float]:
    """The numbers of a text. Raises DrawingFault for one that is none a place could have."""
    numbers = [float(word) for word in _NUMBER.findall(text)]
    if any(abs(number) > 1e12 for number in numbers):
        raise DrawingFault("it holds numbers that are no places on a hide; is its scale right?")
    return numbers


def _shape(kind: str, node: ET.Element) -> list[FloatArray]:
    def value(key: str) -> float:
        return (_numbers(node.get(key, "0")) or [0.0])[0]

    if kind in ("polygon", "polyline"):
        numbers = _numbers(node.get("points", ""))
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
        elif command in "Zz":
            raise DrawingFault("a path goes on after its end without saying how")
        count = need[command.upper()]
        if count == 0:
            if runs:
                at = runs[-1][0]
            continue
        numbers = _numbers(" ".join(words[k : k + count]))
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
        if sum(map(len, runs[-1:])) > MOST_DRAWN_POINTS:
            raise DrawingFault(f"a path has more than {MOST_DRAWN_POINTS} points; trace it with fewer")
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


def _dxf(data: bytes, found: DrawnLines) -> None:
    import io

    from ezdxf.document import Drawing
    from ezdxf.path import make_path

    try:
        drawing = Drawing.read(io.StringIO(data.decode("utf-8", errors="replace")))
    except MemoryError:
        raise
    except Exception:
        # What the library raises for a damaged file is whatever its parts do, in words that quote the file.
        raise DrawingFault("no DXF that can be read; save it as a DXF in text form") from None
    for entity, words in _dxf_lines(drawing.modelspace()):
        try:
            path = make_path(entity)
            corners = np.array([[p.x, p.y] for p in path.control_vertices()])
        except MemoryError:
            raise
        except Exception:
            raise DrawingFault(f"a {entity.dxftype()} on the layer {min(words)} cannot be followed") from None
        # Chords are counted by the size of a curve: what reaches too far is not followed.
        found.bounded(corners)
        found.add(words, np.array([[p.x, p.y] for p in path.flattening(CHORD_OFF_MM / found.scale)]))


def _dxf_lines(entities: "Iterable[DXFEntity]") -> "Iterator[tuple[DXFEntity, frozenset[str]]]":
    """What may be a line of a hide, and what its layer says it is."""
    for entity in entities:
        is_mesh = any(getattr(entity, name, False) for name in ("is_polygon_mesh", "is_poly_face_mesh"))
        # What the library does not know has no layer either.
        if entity.dxftype() in _DXF_KINDS and not is_mesh and (words := _words(str(entity.dxf.layer))):
            yield entity, words
