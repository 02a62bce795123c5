"""A pen that draws on a PDF page, and the layers that a reader can switch on and off.

One unit of the pen is a millimetre, 72/25.4 points. Each layer of the drawing is one form that pages show through
their own window, and each form belongs to one optional content group (ISO 32000-1, 8.11).
"""

import io
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from pypdf import PdfReader, PdfWriter
from pypdf.generic import ArrayObject, DictionaryObject, NameObject, TextStringObject
from reportlab.pdfgen.canvas import Canvas

from flatten.draw.fonts import register_font, type_size, words_width
from flatten.draw.pen import PenLayer, RecordingPen
from flatten.draw.strokes import STROKES
from meshes.base.arrays import FloatArray

POINTS_PER_MM = 72.0 / 25.4
FORM_PREFIX = "layer"
FURNITURE, FURNITURE_WORDS = "furniture", "frames and rulers"


class PdfPen:
    """Draws on a canvas whose unit is 1 mm, every layer with its own stroke; `ink` is 0 for black to 1 for white."""

    def __init__(self, canvas: Canvas) -> None:
        self.canvas = canvas

    def line(self, layer: PenLayer, points: FloatArray, *, closed: bool = False) -> None:
        """A polyline with its layer's stroke."""
        stroke = STROKES[layer]
        self.rule(points, width_mm=stroke.width_mm, dash_mm=stroke.dash_mm, closed=closed)

    def rule(
        self,
        points: FloatArray | Sequence[tuple[float, float]],
        *,
        width_mm: float = 0.2,
        dash_mm: Sequence[float] = (),
        ink: float = 0.0,
        closed: bool = False,
    ) -> None:
        """A polyline of given width, dashes and grey."""
        self.canvas.setLineWidth(width_mm * POINTS_PER_MM)
        self.canvas.setDash([dash * POINTS_PER_MM for dash in dash_mm], 0)
        self.canvas.setStrokeGray(ink)
        self.canvas.drawPath(self._path(points, closed), stroke=1, fill=0)

    def blank(self, box: tuple[float, float, float, float]) -> None:
        """Nothing is left of what was drawn before in a box (x0, y0, x1, y1)."""
        x0, y0, x1, y1 = box
        self.canvas.setFillGray(1.0)
        self.canvas.drawPath(self._path([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], True), stroke=0, fill=1)

    def fill(self, layer: PenLayer, points: FloatArray) -> None:
        """A black polygon."""
        self.canvas.setFillGray(0.0)
        self.canvas.drawPath(self._path(points, True), stroke=0, fill=1)

    def _path(self, points: FloatArray | Sequence[tuple[float, float]], closed: bool) -> object:
        path = self.canvas.beginPath()
        for k, (x, y) in enumerate(points):
            (path.lineTo if k else path.moveTo)(float(x) * POINTS_PER_MM, float(y) * POINTS_PER_MM)
        if closed:
            path.close()
        return path

    def text(
        self, layer: PenLayer, at: tuple[float, float], words: str, *, height_mm: float, angle_deg: float = 0.0
    ) -> None:
        """Words in black, centred."""
        self.write(at, words, height_mm=height_mm, angle_deg=angle_deg)

    def write(
        self,
        at: tuple[float, float],
        words: str,
        *,
        height_mm: float,
        angle_deg: float = 0.0,
        ink: float = 0.0,
        side: float = 0.5,
    ) -> None:
        """Words at `at`; side 0 begins there, 0.5 is centred, 1 ends there."""
        width = words_width(words, height_mm)
        self.canvas.saveState()
        self.canvas.setFillGray(ink)
        self.canvas.setFont(register_font(), type_size(height_mm) * POINTS_PER_MM)
        self.canvas.translate(float(at[0]) * POINTS_PER_MM, float(at[1]) * POINTS_PER_MM)
        self.canvas.rotate(angle_deg)
        self.canvas.drawString(-side * width * POINTS_PER_MM, -0.5 * height_mm * POINTS_PER_MM, words)
        self.canvas.restoreState()


def new_canvas(title: str) -> tuple[Canvas, io.BytesIO]:
    """A canvas without any date, asking viewers not to scale, and the stream it is written to."""
    stream = io.BytesIO()
    canvas = Canvas(stream, pageCompression=1, invariant=1, pdfVersion=(1, 6), initialFontName=register_font())
    canvas.setTitle(title)
    canvas.setAuthor("")
    canvas.setCreator("Trimloft")
    canvas.setSubject("Full-size cover patterns, 1:1, millimetres")
    canvas.setViewerPreference("PrintScaling", "None")
    return canvas, stream


@contextmanager
def furniture_layer(canvas: Canvas) -> Iterator[None]:
    """What is drawn inside belongs to a layer of its own, so that the bare pattern can be shown."""
    canvas._code.append(f"/OC /{FURNITURE} BDC")
    yield
    canvas._code.append("EMC")


def keep_layers(canvas: Canvas, name: str, drawing: RecordingPen, width_mm: float, height_mm: float) -> None:
    """Store a drawing once, each layer it uses as one form, to be shown by `show_layers`."""
    for layer in filter(drawing.uses, STROKES):
        canvas.beginForm(_form(name, layer), 0, 0, width_mm * POINTS_PER_MM, height_mm * POINTS_PER_MM)
        drawing.replay(PdfPen(canvas), only=layer)
        canvas.endForm()


def show_layers(
    canvas: Canvas, name: str, box: tuple[float, float, float, float], at: tuple[float, float], scale: float = 1.0
) -> None:
    """Show the part of a stored drawing inside `box` with the box's lower left corner at `at`, mm on the page."""
    x0, y0, x1, y1 = (value * POINTS_PER_MM for value in box)
    canvas.saveState()
    canvas.translate(at[0] * POINTS_PER_MM, at[1] * POINTS_PER_MM)
    canvas.scale(scale, scale)
    window = canvas.beginPath()
    window.rect(0, 0, x1 - x0, y1 - y0)
    canvas.clipPath(window, stroke=0, fill=0)
    canvas.translate(-x0, -y0)
    for form in (_form(name, layer) for layer in STROKES):
        if canvas.hasForm(form):
            canvas.doForm(form)
    canvas.restoreState()


def _form(name: str, layer: PenLayer) -> str:
    return f"{FORM_PREFIX}{layer.value}_{name}"


def _number(form: object) -> str:
    """Number of the layer that a form of a page holds."""
    return str(form).rpartition(FORM_PREFIX)[2].partition("_")[0]


def with_layers(pdf: bytes) -> bytes:
    """The same file with every stored layer made switchable."""
    writer = PdfWriter(clone_from=PdfReader(io.BytesIO(pdf)))
    words = {**{str(layer.value): stroke.word for layer, stroke in STROKES.items()}, FURNITURE: FURNITURE_WORDS}
    shared: list[Any] = [page["/Resources"] for page in writer.pages]
    used = {_number(name) for resources in shared for name in resources.get("/XObject", {})} | {FURNITURE}
    groups = {}
    for key, word in ((key, word) for key, word in words.items() if key in used):
        group = {NameObject("/Type"): NameObject("/OCG"), NameObject("/Name"): TextStringObject(word)}
        groups[key] = writer._add_object(DictionaryObject(group))
    for resources in shared:
        for name, form in resources.get("/XObject", {}).items():
            form.get_object()[NameObject("/OC")] = groups[_number(name)]
        resources[NameObject("/Properties")] = DictionaryObject({NameObject(f"/{FURNITURE}"): groups[FURNITURE]})
    order = ArrayObject(groups.values())
    default = {NameObject("/Order"): order, NameObject("/ON"): order, NameObject("/OFF"): ArrayObject()}
    writer.root_object[NameObject("/OCProperties")] = DictionaryObject(
        {NameObject("/OCGs"): order, NameObject("/D"): DictionaryObject(default)}
    )
    # Optional content came with PDF 1.5; the writer's own heading would promise less.
    writer.pdf_header = "%PDF-1.6"
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()
