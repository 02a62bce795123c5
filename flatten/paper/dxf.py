"""The pattern sheet as DXF in millimetres, closed outlines, layers numbered after the list in ASTM D6673.

The numbers are used because cutters' software knows them; conformity with that standard is not claimed. R12, which that
software takes, has bare numbers for names; in R2000, which people open, the trade's word stands behind the number. R12
has no field for units, so a text in the drawing says them in both versions.
"""

import io
import re
import threading
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import numpy as np
from ezdxf._options import options
from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.tools.standards import setup_drawing

from flatten.draw.imprint import NO_IMPRINT, Imprint
from flatten.draw.marks import draw_piece
from flatten.draw.pen import MovedPen, Pen, PenLayer, RecordingPen
from flatten.draw.strokes import STROKES
from flatten.paper.roll import PlacedPiece, SheetLayout, lay_out_roll
from flatten.paper.wording import side_words
from flatten.pieces.piece import Piece
from meshes.base.arrays import FloatArray

VERSIONS = ("R2000", "R12")
MILLIMETRES, METRIC = 4, 1
UNITS_NOTE = "All lengths in millimetres, 1:1"
UNITS_HEIGHT_MM, LEGEND_HEIGHT_MM = 4.0, 3.0
DXF_FOOT_MM = 12.0
_LOCK = threading.Lock()


def layer_name(layer: PenLayer, version: str) -> str:
    """What a layer is called: "1 cut", and "1" in R12."""
    return str(layer.value) if version == "R12" else f"{layer.value} {STROKES[layer].word}"


class DxfPen:
    """Draws into the model space of a DXF drawing."""

    def __init__(self, space: Any, version: str) -> None:
        self.space = space
        self.version = version

    def line(self, layer: PenLayer, points: FloatArray, *, closed: bool = False) -> None:
        where = {"layer": layer_name(layer, self.version)}
        corners = [(float(x), float(y)) for x, y in points]
        if self.version == "R12":
            self.space.add_polyline2d(corners, close=closed, dxfattribs=where)
        else:
            self.space.add_lwpolyline(corners, close=closed, dxfattribs=where)

    def fill(self, layer: PenLayer, points: FloatArray) -> None:
        corners = [(float(x), float(y)) for x, y in points]
        where = {"layer": layer_name(layer, self.version)}
        for k in range(1, len(corners) - 1):
            triangle = [corners[0], corners[k], corners[k + 1]]
            self.space.add_solid([*triangle, triangle[2]], dxfattribs=where)

    def text(
        self, layer: PenLayer, at: tuple[float, float], words: str, *, height_mm: float, angle_deg: float = 0.0
    ) -> None:
        where = {"layer": layer_name(layer, self.version), "style": "PATTERN"}
        entity = self.space.add_text(words, height=height_mm, rotation=angle_deg, dxfattribs=where)
        entity.set_placement(at, align=TextEntityAlignment.MIDDLE_CENTER)


def block_names(places: Sequence[PlacedPiece], version: str) -> list[str]:
    """A name for every piece's block: pad and piece as far as names of blocks may say them, none twice.

    R12 knows capitals, digits, "-" and "_", 31 of them at most; R2000 all but a few signs (AutoCAD DXF reference).
    """
    names: list[str] = []
    for place in places:
        told = f"{place.piece.pad} {place.piece.name}"
        if version == "R12":
            plain = unicodedata.normalize("NFKD", told).encode("ascii", "ignore").decode().upper()
            told = re.sub(r"[^A-Z0-9]+", "_", plain).strip("_")[:27] or "PIECE"
        else:
            plain = re.sub(r'[<>/\\":;?*|=`,\x00-\x1f]', " ", told)
            told = " ".join(plain.split())[:200] or "piece"
        many = sum(re.sub(r"( |_)\d+$", "", name).casefold() == told.casefold() for name in names)
        fresh = told if not many and told.casefold() not in map(str.casefold, names) else ""
        while not fresh or fresh.casefold() in map(str.casefold, names):
            many += 1
            fresh = f"{told}{'_' if version == 'R12' else ' '}{many}"
        names.append(fresh)
    return names


def _insert(drawing: Drawing, place: PlacedPiece, name: str, version: str, imprint: Imprint) -> None:
    """One block for a piece, from the lower left corner of its box on, in its place; its name and how many to cut stand
    in attributes that are not shown, for programs that list them."""
    corner = place.points(place.piece.cut).min(axis=0)
    block = drawing.blocks.new(name)
    draw_piece(place.upright, MovedPen(DxfPen(block, version), tuple(np.array(place.shift) - corner)), imprint=imprint)
    piece, where = place.piece, {"layer": layer_name(PenLayer.TEXT, version)}
    insert = drawing.modelspace().add_blockref(name, tuple(corner), dxfattribs=where)
    told = {
        "PIECE": piece.name,
        "PAD": piece.pad,
        "COUNT": str(piece.cut_count),
        "MIRRORED": str(piece.mirrored_count),
        "MATERIAL": piece.material,
        "JOB": imprint.job,
        "REVISION": imprint.revision,
    }
    for tag, text in told.items():
        hidden = insert.add_attrib(tag, text, tuple(corner), dxfattribs={**where, "style": "PATTERN"})
        hidden.is_invisible = True


def _legend(pen: DxfPen, layout: SheetLayout, imprint: Imprint) -> None:
    """What is on which layer, in words: R12 has nowhere else to say it, and few programs show a layer's description."""
    used = RecordingPen()
    layout.draw(used, imprint=imprint)
    words = ", ".join(f"{layer.value} {stroke.word}" for layer, stroke in STROKES.items() if used.uses(layer))
    at = (0.5 * layout.width_mm, 0.2 * DXF_FOOT_MM)
    pen.text(PenLayer.TEXT, at, f"Layers: {words}", height_mm=LEGEND_HEIGHT_MM)


LINE_TYPES = {
    PenLayer.SEW: "DASHED",
    PenLayer.INNER: "DASHDOT",
    PenLayer.STITCH: "DASHED",
    PenLayer.CREST: "DOT",
    PenLayer.JOIN: "DASHED",
    PenLayer.BACKING: "DOT",
    PenLayer.ROUNDING: "DASHDOT",
    PenLayer.GLUE: "DOT",
    PenLayer.SLIT: "DASHED",
    PenLayer.HOLE: "DASHED",
    PenLayer.LATER: "DASHED",
    PenLayer.FLAW: "DASHED",
    PenLayer.ZONE: "DOT",
    PenLayer.BEFORE: "DIVIDE",
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


def _begun(version: str, width_mm: float, length_mm: float) -> Drawing:
    """An empty drawing in mm from (0, 0) to its width and length, with all layers."""
    drawing = Drawing.new(version)
    setup_drawing(drawing, topics=["linetypes"])
    if version != "R12":
        drawing.units = MILLIMETRES
    drawing.header["$MEASUREMENT"] = METRIC
    # R12 knows no TrueType fonts.
    drawing.styles.add("PATTERN", font="txt" if version == "R12" else "DejaVuSans.ttf")
    for layer, stroke in STROKES.items():
        entry = drawing.layers.add(layer_name(layer, version), linetype=LINE_TYPES.get(layer, "CONTINUOUS"))
        if version != "R12":
            entry.description = stroke.word
    space = drawing.modelspace()
    # The limits stand twice in a drawing, with the space and in the header, and readers differ in which they use.
    space.reset_extents((0.0, 0.0, 0.0), (width_mm, length_mm, 0.0))
    drawing.header["$EXTMIN"] = (0.0, 0.0, 0.0)
    drawing.header["$EXTMAX"] = (width_mm, length_mm, 0.0)
    space.reset_limits((0.0, 0.0), (width_mm, length_mm))
    return drawing


def drawn_dxf(draw: Callable[[Pen], None], size: tuple[float, float], *, version: str = "R2000", words: str) -> bytes:
    """Anything that draws on a pen, from (0, 0) to its size in mm, with words at its foot."""
    with _fixed_stamps():
        drawing = _begun(version, *size)
        pen = DxfPen(drawing.modelspace(), version)
        draw(pen)
        pen.text(PenLayer.TEXT, (0.5 * size[0], 0.5 * DXF_FOOT_MM), f"{words}; {UNITS_NOTE}", height_mm=UNITS_HEIGHT_MM)
        stream = io.StringIO()
        drawing.write(stream)
    return drawing.encode(stream.getvalue())


def patterns_dxf(
    pieces: Sequence[Piece], *, roll_width_mm: float, version: str = "R2000", imprint: Imprint = NO_IMPRINT
) -> bytes:
    """All pieces on one sheet `roll_width_mm` wide. Raises ValueError for an unknown version or without pieces."""
    if version not in VERSIONS:
        raise ValueError(f"no such DXF version: found {version!r}; use one of {', '.join(VERSIONS)}")
    layout = lay_out_roll(pieces, width_mm=roll_width_mm, foot_mm=DXF_FOOT_MM)
    with _fixed_stamps():
        drawing = _begun(version, layout.width_mm, layout.length_mm)
        space = drawing.modelspace()
        pen = DxfPen(space, version)
        names = block_names(layout.places, version)
        for place, name in zip(layout.places, names, strict=True):
            _insert(drawing, place, name, version, imprint)
        _legend(pen, layout, imprint)
        lines = [text for text in (imprint.line, UNITS_NOTE, side_words(pieces), *layout.notes) if text]
        pen.text(PenLayer.TEXT, (0.5 * layout.width_mm, 0.7 * DXF_FOOT_MM), "; ".join(lines), height_mm=UNITS_HEIGHT_MM)
        stream = io.StringIO()
        drawing.write(stream)
    return drawing.encode(stream.getvalue())
