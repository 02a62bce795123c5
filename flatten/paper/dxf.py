"""The pattern sheet as DXF in millimetres, closed outlines, layers numbered after the list in ASTM D6673.

The numbers are used because cutters' software knows them; conformity with that standard is not claimed. R12 has no
field for units, so a text in the drawing says them in both versions.
"""

import io
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from ezdxf._options import options
from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.tools.standards import setup_drawing

from flatten.draw.imprint import NO_IMPRINT, Imprint
from flatten.draw.pen import PenLayer
from flatten.draw.strokes import STROKES
from flatten.paper.roll import lay_out_roll
from flatten.paper.wording import side_words
from flatten.pieces.piece import Piece
from meshes.base.arrays import FloatArray

VERSIONS = ("R2000", "R12")
MILLIMETRES, METRIC = 4, 1
UNITS_NOTE = "All lengths in millimetres, 1:1"
UNITS_HEIGHT_MM = 5.0
DXF_FOOT_MM = 12.0
_LOCK = threading.Lock()


class DxfPen:
    """Draws into the model space of a DXF drawing."""

    def __init__(self, space: Any, version: str) -> None:
        self.space = space
        self.version = version

    def line(self, layer: PenLayer, points: FloatArray, *, closed: bool = False) -> None:
        where = {"layer": str(layer.value)}
        corners = [(float(x), float(y)) for x, y in points]
        if self.version == "R12":
            self.space.add_polyline2d(corners, close=closed, dxfattribs=where)
        else:
            self.space.add_lwpolyline(corners, close=closed, dxfattribs=where)

    def fill(self, layer: PenLayer, points: FloatArray) -> None:
        corners = [(float(x), float(y)) for x, y in points]
        for k in range(1, len(corners) - 1):
            triangle = [corners[0], corners[k], corners[k + 1]]
            self.space.add_solid([*triangle, triangle[2]], dxfattribs={"layer": str(layer.value)})

    def text(
        self, layer: PenLayer, at: tuple[float, float], words: str, *, height_mm: float, angle_deg: float = 0.0
    ) -> None:
        where = {"layer": str(layer.value), "style": "PATTERN"}
        entity = self.space.add_text(words, height=height_mm, rotation=angle_deg, dxfattribs=where)
        entity.set_placement(at, align=TextEntityAlignment.MIDDLE_CENTER)


LINE_TYPES = {
    PenLayer.SEW: "DASHED",
    PenLayer.INNER: "DASHDOT",
    PenLayer.STITCH: "DASHED",
    PenLayer.CREST: "DOT",
    PenLayer.JOIN: "DASHED",
    PenLayer.BACKING: "DOT",
    PenLayer.ROUNDING: "DASHDOT",
}


@contextmanager
def _fixed_stamps() -> Iterator[None]:
    """The same drawing shall give the same bytes: no date of the day, no random identifiers."""
    with _LOCK:
        before = options.write_fixed_meta_data_for_testing
        options.write_fixed_meta_data_for_testing = True
        try:
            yield
        finally:
            options.write_fixed_meta_data_for_testing = before


def patterns_dxf(
    pieces: Sequence[Piece], *, roll_width_mm: float, version: str = "R2000", imprint: Imprint = NO_IMPRINT
) -> bytes:
    """All pieces on one sheet `roll_width_mm` wide. Raises ValueError for an unknown version or without pieces."""
    if version not in VERSIONS:
        raise ValueError(f"no such DXF version: found {version!r}; use one of {', '.join(VERSIONS)}")
    layout = lay_out_roll(pieces, width_mm=roll_width_mm, foot_mm=DXF_FOOT_MM)
    with _fixed_stamps():
        drawing = Drawing.new(version)
        setup_drawing(drawing, topics=["linetypes"])
        if version != "R12":
            drawing.units = MILLIMETRES
        drawing.header["$MEASUREMENT"] = METRIC
        # R12 knows no TrueType fonts.
        drawing.styles.add("PATTERN", font="txt" if version == "R12" else "DejaVuSans.ttf")
        for layer, stroke in STROKES.items():
            entry = drawing.layers.add(str(layer.value), linetype=LINE_TYPES.get(layer, "CONTINUOUS"))
            if version != "R12":
                entry.description = stroke.word
        space = drawing.modelspace()
        # The limits stand twice in a drawing, with the space and in the header, and readers differ in which they use.
        space.reset_extents((0.0, 0.0, 0.0), (layout.width_mm, layout.length_mm, 0.0))
        drawing.header["$EXTMIN"] = (0.0, 0.0, 0.0)
        drawing.header["$EXTMAX"] = (layout.width_mm, layout.length_mm, 0.0)
        space.reset_limits((0.0, 0.0), (layout.width_mm, layout.length_mm))
        pen = DxfPen(space, version)
        layout.draw(pen, imprint=imprint)
        lines = [text for text in (imprint.line, UNITS_NOTE, side_words(pieces), *layout.notes) if text]
        pen.text(PenLayer.TEXT, (0.5 * layout.width_mm, 0.5 * DXF_FOOT_MM), "; ".join(lines), height_mm=UNITS_HEIGHT_MM)
        stream = io.StringIO()
        drawing.write(stream)
    return drawing.encode(stream.getvalue())
