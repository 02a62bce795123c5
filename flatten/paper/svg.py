"""The pattern sheet as SVG at full size: mm width, height and viewBox, one group a piece, in it one layer group a kind
of line, texts upright.

SVG 1.1 (W3C, 2011); the layer attributes are those that Inkscape reads.
"""

import xml.etree.ElementTree as ET
from collections.abc import Callable, Sequence

from flatten.draw.fonts import type_size
from flatten.draw.imprint import NO_IMPRINT, Imprint
from flatten.draw.pen import Pen, PenLayer
from flatten.draw.strokes import STROKES
from flatten.paper.roll import lay_out_roll
from flatten.paper.wording import COVER, Wording, title_of
from flatten.pieces.piece import Piece
from meshes.base.arrays import FloatArray
from meshes.base.files import number

SVG = "http://www.w3.org/2000/svg"
INKSCAPE = "http://www.inkscape.org/namespaces/inkscape"
PLACES = 4


def _mm(value: float) -> str:
    return number(float(value), PLACES)


class SvgPen:
    """Draws into one group a layer of the piece begun last. The sheet's y runs up, SVG's y down: coordinates are turned
    here, so that no transform mirrors the texts."""

    def __init__(self, width_mm: float, height_mm: float) -> None:
        self.height_mm = height_mm
        size = {"width": f"{_mm(width_mm)}mm", "height": f"{_mm(height_mm)}mm"}
        self.root = ET.Element(f"{{{SVG}}}svg", {**size, "viewBox": f"0 0 {_mm(width_mm)} {_mm(height_mm)}"})
        self.piece = self.root
        self.groups: dict[PenLayer, ET.Element] = {}

    def begin(self, piece: Piece, number: int, imprint: Imprint) -> None:
        """What is drawn from now on belongs to a piece, a group with its name and how many to cut."""
        told = {
            "id": f"piece-{number}",
            f"{{{INKSCAPE}}}label": f"{piece.pad}: {piece.name}, {piece.count_text}",
            "data-piece": piece.name,
            "data-pad": piece.pad,
            "data-count": str(piece.cut_count),
            "data-mirrored": str(piece.mirrored_count),
            "data-material": piece.material,
            "data-job": imprint.job,
            "data-revision": imprint.revision,
        }
        self.piece, self.groups = ET.SubElement(self.root, f"{{{SVG}}}g", told), {}

    def _group(self, layer: PenLayer) -> ET.Element:
        if layer not in self.groups:
            self.groups[layer] = self._begun(layer)
        return self.groups[layer]

    def _begun(self, layer: PenLayer) -> ET.Element:
        stroke = STROKES[layer]
        attributes = {
            "class": stroke.word.replace(" ", "-"),
            f"{{{INKSCAPE}}}groupmode": "layer",
            f"{{{INKSCAPE}}}label": stroke.word,
            "fill": "none",
            "stroke": "#000000",
            "stroke-width": _mm(stroke.width_mm),
            "stroke-linejoin": "round",
        }
        if stroke.dash_mm:
            attributes["stroke-dasharray"] = " ".join(_mm(d) for d in stroke.dash_mm)
        return ET.SubElement(self.piece, f"{{{SVG}}}g", attributes)

    def _path(self, points: FloatArray, closed: bool) -> str:
        words = [f"{_mm(x)},{_mm(self.height_mm - y)}" for x, y in points]
        return "M " + " L ".join(words) + (" Z" if closed else "")

    def line(self, layer: PenLayer, points: FloatArray, *, closed: bool = False) -> None:
        ET.SubElement(self._group(layer), f"{{{SVG}}}path", {"d": self._path(points, closed)})

    def fill(self, layer: PenLayer, points: FloatArray) -> None:
        attributes = {"d": self._path(points, True), "fill": "#000000", "stroke": "none"}
        ET.SubElement(self._group(layer), f"{{{SVG}}}path", attributes)

    def text(
        self, layer: PenLayer, at: tuple[float, float], words: str, *, height_mm: float, angle_deg: float = 0.0
    ) -> None:
        x, y = _mm(at[0]), _mm(self.height_mm - at[1])
        attributes = {
            "x": x,
            "y": _mm(self.height_mm - at[1] + 0.5 * height_mm),
            "font-family": "DejaVu Sans, sans-serif",
            "font-size": _mm(type_size(height_mm)),
            "text-anchor": "middle",
            "fill": "#000000",
            "stroke": "none",
        }
        if angle_deg % 360.0:
            attributes["transform"] = f"rotate({_mm(-angle_deg)} {x} {y})"
        element = ET.SubElement(self._group(layer), f"{{{SVG}}}text", attributes)
        element.text = words


def patterns_svg(
    pieces: Sequence[Piece], *, roll_width_mm: float, wording: Wording = COVER, imprint: Imprint = NO_IMPRINT
) -> bytes:
    """All pieces on one sheet `roll_width_mm` wide at full size. Raises ValueError without pieces."""
    layout = lay_out_roll(pieces, width_mm=roll_width_mm)
    pen = SvgPen(layout.width_mm, layout.length_mm)
    title = ET.Element(f"{{{SVG}}}title")
    words = (imprint.line, title_of(wording, pieces), "full size in millimetres")
    title.text = ", ".join(text for text in words if text)
    pen.root.insert(0, title)
    for k, note in enumerate(layout.notes):
        element = ET.Element(f"{{{SVG}}}desc")
        element.text = note
        pen.root.insert(1 + k, element)
    for k, place in enumerate(layout.places, start=1):
        pen.begin(place.piece, k, imprint)
        place.draw(pen, imprint=imprint)
    ET.register_namespace("", SVG)
    ET.register_namespace("inkscape", INKSCAPE)
    ET.indent(pen.root)
    return ET.tostring(pen.root, encoding="utf-8", xml_declaration=True) + b"\n"


def drawn_svg(draw: Callable[[Pen], None], size: tuple[float, float], *, title: str) -> bytes:
    """Anything that draws on a pen, from (0, 0) to its size in mm, as SVG at full size."""
    pen = SvgPen(*size)
    named = ET.Element(f"{{{SVG}}}title")
    named.text = f"{title}, full size in millimetres"
    pen.root.insert(0, named)
    draw(pen)
    ET.register_namespace("", SVG)
    ET.register_namespace("inkscape", INKSCAPE)
    ET.indent(pen.root)
    return ET.tostring(pen.root, encoding="utf-8", xml_declaration=True) + b"\n"
