"""A hide from a drawing: outline, backbone, flaws and zones of an SVG or DXF file with a stated scale.

What a line is follows from its layer (DXF) or from the id or label of its group or of itself (SVG): "outline",
"backbone", a grade of flaw or a zone; lines of other layers are not read. Curves are followed in short chords. A
drawing is a file that another one names, so nothing of what stands in it is told, only where it cannot be read.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry import LineString

from meshes.base.arrays import FloatArray
from meshes.base.reading import UnreadableError, read_whole
from meshes.base.units import LARGEST_PAD_MM
from meshes.hides.svg_lines import MOST_DRAWN_POINTS, DrawingFault, svg_lines
from meshes.schema.cover_tables import FLAW_GRADES, HIDE_POINTS, ZONES

if TYPE_CHECKING:
    from ezdxf.entities.dxfentity import DXFEntity

# The most that is read of a drawing: bytes, and lines that say what they are.
LARGEST_DRAWING_BYTES, MOST_DRAWN_LINES = 8_000_000, 2_000
# How far chords may leave a curve of a DXF, mm.
CHORD_OFF_MM = 0.05
# What a line may be.
WORDS = frozenset(("outline", "backbone", *FLAW_GRADES, *ZONES))
_DXF_KINDS = ("LWPOLYLINE", "POLYLINE", "LINE", "CIRCLE", "SPLINE", "ARC", "ELLIPSE")


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
    for words, line in svg_lines(data, _words):
        found.add(words, line)


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


__all__ = ["MOST_DRAWN_LINES", "MOST_DRAWN_POINTS", "DrawingFault", "DrawnLines", "read_drawing"]
