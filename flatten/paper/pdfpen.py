"""PDF in millimetres with layers that switch: a thin hand on reportlab, finished with pypdf.

Everything drawn stands in marked content that names its layer (optional content, ISO 32000-1, 8.11), so a viewer can
switch cut lines, sew lines, marks, texts and page furniture off and on.
"""

import io
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from pypdf import PdfWriter
from pypdf.generic import ArrayObject, DictionaryObject, NameObject, TextStringObject
from reportlab.pdfgen.canvas import Canvas

from flatten.paper.fonts import FONT_NAME, register_font, type_size
from flatten.paper.pen import Layer, RecordingPen
from flatten.paper.strokes import STROKES
from meshes.arrays import FloatArray

POINTS_PER_MM = 72.0 / 25.4
PAGE = "page"
WORDS_OF_GROUP = {"cut": "Cut lines", "sew": "Sew lines", "marks": "Marks", "text": "Texts", PAGE: "Frames and rulers"}
GROUP_OF_LAYER = {
    Layer.CUT: "cut",
    Layer.SEW: "sew",
    Layer.NOTCH: "marks",
    Layer.GRAIN: "marks",
    Layer.INNER: "marks",
    Layer.TEXT: "text",
}


class Pdf:
    """A document under way. Coordinates in mm from the lower left corner of the page, y up."""

    def __init__(self, title: str) -> None:
        register_font()
        self._stream = io.BytesIO()
        self.canvas: Any = Canvas(self._stream, pageCompression=1, invariant=1, initialFontName=FONT_NAME)
        self.canvas.setTitle(title)
        self.title = title
        self._forms = 0

    def page(self, width_mm: float, height_mm: float) -> None:
        """Begin a page of this size."""
        self.canvas.setPageSize((width_mm * POINTS_PER_MM, height_mm * POINTS_PER_MM))
        self.canvas.scale(POINTS_PER_MM, POINTS_PER_MM)

    def end_page(self) -> None:
        """Finish the page."""
        self.canvas.showPage()

    @contextmanager
    def group(self, group: str) -> Iterator[None]:
        """Everything drawn inside belongs to this group of WORDS_OF_GROUP."""
        self.canvas._code.append(f"/OC /{group} BDC")
        yield
        self.canvas._code.append("EMC")

    def forms(self, drawing: RecordingPen, box: tuple[float, float, float, float]) -> dict[str, str]:
        """Store a drawing once, a form for each group; returns the form's name by group. box: (x0, y0, x1, y1) mm."""
        names = {}
        for group in dict.fromkeys(GROUP_OF_LAYER.values()):
            self._forms += 1
            names[group] = f"{group}{self._forms}"
            self.canvas.beginForm(names[group], *box)
            replay(drawing, PdfPen(self.canvas), group)
            self.canvas.endForm()
        return names

    def show(
        self, forms: dict[str, str], window: tuple[float, float, float, float], at: tuple[float, float], scale: float
    ) -> None:
        """Show the window (x0, y0, x1, y1) of stored forms with its lower left corner `at` on the page."""
        c = self.canvas
        x0, y0, x1, y1 = window
        c.saveState()
        path = c.beginPath()
        path.rect(at[0], at[1], (x1 - x0) * scale, (y1 - y0) * scale)
        c.clipPath(path, stroke=0, fill=0)
        c.translate(at[0] - x0 * scale, at[1] - y0 * scale)
        c.scale(scale, scale)
        for group, name in forms.items():
            with self.group(group):
                c.doForm(name)
        c.restoreState()

    def words(
        self,
        x: float,
        y: float,
        words: str,
        *,
        height_mm: float,
        align: str = "left",
        angle_deg: float = 0.0,
        grey: float = 0.0,
    ) -> None:
        """Words on the baseline at x, y; align: left, centre or right."""
        c = self.canvas
        c.saveState()
        c.setFillGray(grey)
        c.setFont(FONT_NAME, type_size(height_mm))
        c.translate(x, y)
        c.rotate(angle_deg)
        {"left": c.drawString, "centre": c.drawCentredString, "right": c.drawRightString}[align](0, 0, words)
        c.restoreState()

    def data(self) -> bytes:
        """The finished file: layers declared, no scaling asked of the printer, nothing that changes from day to day."""
        self.canvas.save()
        writer = PdfWriter(clone_from=io.BytesIO(self._stream.getvalue()))
        _declare_groups(writer)
        writer.create_viewer_preferences().print_scaling = "/None"
        writer.add_metadata({"/Producer": "Trimloft", "/Creator": "Trimloft", "/Title": self.title})
        out = io.BytesIO()
        writer.write(out)
        return out.getvalue()


class PdfPen:
    """Draws a piece's lines on a reportlab canvas whose unit is the mm."""

    def __init__(self, canvas: Any, grey: float = 0.0) -> None:
        self.canvas = canvas
        self.grey = grey

    def _path(self, points: FloatArray, closed: bool) -> Any:
        path = self.canvas.beginPath()
        path.moveTo(float(points[0][0]), float(points[0][1]))
        for x, y in points[1:]:
            path.lineTo(float(x), float(y))
        if closed:
            path.close()
        return path

    def line(self, layer: Layer, points: FloatArray, *, closed: bool = False) -> None:
        c, stroke = self.canvas, STROKES[layer]
        c.setStrokeGray(self.grey)
        c.setLineWidth(stroke.width_mm)
        c.setLineJoin(1)
        c.setDash(list(stroke.dash_mm), 0)
        c.drawPath(self._path(points, closed), stroke=1, fill=0)

    def fill(self, layer: Layer, points: FloatArray) -> None:
        self.canvas.setFillGray(self.grey)
        self.canvas.drawPath(self._path(points, True), stroke=0, fill=1)

    def text(
        self, layer: Layer, at: tuple[float, float], words: str, *, height_mm: float, angle_deg: float = 0.0
    ) -> None:
        c = self.canvas
        c.saveState()
        c.setFillGray(self.grey)
        c.setFont(FONT_NAME, type_size(height_mm))
        c.translate(*at)
        c.rotate(angle_deg)
        c.drawCentredString(0, -0.5 * height_mm, words)
        c.restoreState()


def replay(drawing: RecordingPen, pen: PdfPen, group: str) -> None:
    """Draw what belongs to one group of a recorded drawing."""
    for layer, points, closed in drawing.lines:
        if GROUP_OF_LAYER[layer] == group:
            pen.line(layer, points, closed=closed)
    for layer, points in drawing.fills:
        if GROUP_OF_LAYER[layer] == group:
            pen.fill(layer, points)
    for text in drawing.texts:
        if GROUP_OF_LAYER[text.layer] == group:
            pen.text(text.layer, text.at, text.words, height_mm=text.height_mm, angle_deg=text.angle_deg)


def _declare_groups(writer: PdfWriter) -> None:
    groups = {}
    for group, words in WORDS_OF_GROUP.items():
        entry = DictionaryObject({NameObject("/Type"): NameObject("/OCG"), NameObject("/Name"): TextStringObject(words)})
        groups[NameObject(f"/{group}")] = writer._add_object(entry)
    for page in writer.pages:
        resources: Any = page["/Resources"]
        resources[NameObject("/Properties")] = DictionaryObject(groups)
    shown = DictionaryObject(
        {
            NameObject("/Name"): TextStringObject("Layers"),
            NameObject("/BaseState"): NameObject("/ON"),
            NameObject("/Order"): ArrayObject(groups.values()),
            NameObject("/ON"): ArrayObject(groups.values()),
        }
    )
    writer.root_object[NameObject("/OCProperties")] = DictionaryObject(
        {NameObject("/OCGs"): ArrayObject(groups.values()), NameObject("/D"): shown}
    )
