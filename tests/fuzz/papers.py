"""What stands on the papers of a job, read back with other people's libraries: lxml and svgpathtools, ezdxf, pypdf.

A drawing is the lines of every layer in mm, y upwards, in the order in which they stand in the file.
"""

from dataclasses import dataclass
from pathlib import Path

import ezdxf
import numpy as np
from lxml import etree
from pypdf import PdfReader
from svgpathtools import parse_path

from tests.papers import POINT_MM, dxf_entities, page_paths

SVG = "{http://www.w3.org/2000/svg}"
LABEL = "{http://www.inkscape.org/namespaces/inkscape}label"
MODE = "{http://www.inkscape.org/namespaces/inkscape}groupmode"
# The numbers that layers have in DXF, by the words they have in SVG and PDF.
DXF_LAYERS = {
    "1": "cut",
    "4": "notches",
    "7": "grain",
    "8": "inner lines",
    "14": "sew",
    "15": "text",
    "30": "stitch lines",
    "31": "valleys",
    "32": "crests",
    "33": "joins",
    "34": "backing lines",
    "35": "rounding lines",
    "11": "openings",
    "36": "glue lines",
    "37": "slits",
    "38": "holes to pierce",
    "39": "cut later",
}


@dataclass(frozen=True, eq=False)
class Stroke:
    """One line: points (k, 2) mm, y upwards, and whether it is closed."""

    points: np.ndarray
    closed: bool


Drawing = dict[str, list[Stroke]]


class PaperError(ValueError):
    """A file that does not hold what a paper has to hold."""


def svg_drawing(path: Path) -> tuple[Drawing, float]:
    """The lines of an SVG file by layer, and its width. Raises PaperError when a unit of it is not a millimetre."""
    root = etree.parse(path).getroot()
    width, height = root.get("width"), root.get("height")
    box = [float(word) for word in root.get("viewBox").split()]
    if not (width.endswith("mm") and height.endswith("mm")) or box != [0.0, 0.0, float(width[:-2]), float(height[:-2])]:
        raise PaperError(f"SVG is not 1:1 in mm: width {width}, height {height}, viewBox {box}")
    drawing: Drawing = {}
    for group in root.iter(f"{SVG}g"):
        if group.get(MODE) != "layer":
            continue
        strokes = drawing.setdefault(group.get(LABEL), [])
        for element in group.iter(f"{SVG}path"):
            if element.get("fill") in (None, "none"):
                parsed = parse_path(element.get("d"))
                corners = np.array([parsed[0].start, *(part.end for part in parsed)])
                closed = element.get("d").rstrip().endswith("Z")
                points = np.column_stack([corners.real, box[3] - corners.imag])
                strokes.append(Stroke(_once(points) if closed else points, closed))
    return {layer: strokes for layer, strokes in drawing.items() if strokes}, box[2]


def _once(points: np.ndarray) -> np.ndarray:
    """A closed line with its first point not repeated."""
    return points[:-1] if np.allclose(points[0], points[-1], atol=1e-9) else points


def dxf_drawing(path: Path) -> Drawing:
    """The lines of a DXF file by layer."""
    drawing: Drawing = {}
    for entity in dxf_entities(ezdxf.readfile(path)):
        if entity.dxftype() == "LWPOLYLINE":
            points, closed = np.array(entity.get_points("xy")), bool(entity.closed)
        elif entity.dxftype() == "POLYLINE":
            points, closed = np.array([(p.x, p.y) for p in entity.points()]), bool(entity.is_closed)
        else:
            continue
        drawing.setdefault(DXF_LAYERS[entity.dxf.layer.split()[0]], []).append(Stroke(points, closed))
    return drawing


def pdf_drawings(path: Path) -> list[Drawing]:
    """The lines of every page of a PDF file by layer, without what is furniture of the page."""
    reader = PdfReader(path)
    pages = []
    for number in range(len(reader.pages)):
        found = page_paths(reader, number)
        pages.append({k: [Stroke(p.points, p.closed) for p in v] for k, v in found.items() if k in DXF_LAYERS.values()})
    return pages


def page_sizes(path: Path) -> list[tuple[float, float]]:
    """Width and height of every page, mm."""
    boxes = [page.mediabox for page in PdfReader(path).pages]
    return [(float(box.width) * POINT_MM, float(box.height) * POINT_MM) for box in boxes]


def differences(one: Drawing, other: Drawing, *, within: float) -> list[str]:
    """How two drawings differ once one is moved onto the other; empty when all lines are the same within so many mm."""
    if not one.get("cut") or not other.get("cut"):
        return ["there is no cut line"]
    shift = _corner(other["cut"]) - _corner(one["cut"])
    faults = []
    for layer in sorted({*one, *other}):
        a, b = one.get(layer, []), other.get(layer, [])
        if len(a) != len(b):
            faults.append(f"layer {layer} has {len(a)} lines here and {len(b)} there")
            continue
        for number, (line, same) in enumerate(zip(a, b, strict=True)):
            if line.points.shape != same.points.shape or line.closed != same.closed:
                faults.append(f"line {number} of layer {layer} has other points")
                break
            apart = float(np.abs(line.points + shift - same.points).max())
            if apart > within:
                faults.append(f"line {number} of layer {layer} lies {apart:.3f} mm elsewhere")
                break
    return faults


def _corner(strokes: list[Stroke]) -> np.ndarray:
    return np.concatenate([stroke.points for stroke in strokes]).min(axis=0)


def signed_area(points: np.ndarray) -> float:
    """Area inside a closed line, above 0 when it runs counter-clockwise."""
    x, y = points.T
    return float(0.5 * (x * np.roll(y, -1) - y * np.roll(x, -1)).sum())


def steps(points: np.ndarray, *, closed: bool) -> np.ndarray:
    """Lengths of the segments of a line."""
    ends = np.vstack([points, points[:1]]) if closed else points
    return np.asarray(np.linalg.norm(np.diff(ends, axis=0), axis=1))
