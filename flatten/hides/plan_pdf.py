"""The plan of one hide on landscape pages of an office printer: the hide first, then the list to cut by."""

from dataclasses import dataclass

import numpy as np
from reportlab.pdfgen.canvas import Canvas

from flatten.draw.drawing import Drawing, DrawnLine, DrawnText
from flatten.draw.fonts import register_font
from flatten.draw.imprint import Imprint
from flatten.hides.full_size import FullSizeHide
from flatten.hides.laid_cut import LaidHides
from flatten.hides.plan import hide_plan_pages
from flatten.paper.pages import MARGIN_MM, PAGE_MM
from flatten.paper.pdf_pen import POINTS_PER_MM, new_canvas
from meshes.base.arrays import FloatArray
from meshes.base.units import Unit

# The foot of a page, and the size of its words, mm; rows of the list on a page, which fill A4.
FOOT_MM, FOOT_TYPE_MM, ROWS_A_PAGE = 7.0, 3.0, 34
# Bold words are drawn round with this share of their size.
BOLD_SHARE = 0.03
NOT_TO_SCALE = "not to scale, lay out by the list"


@dataclass(frozen=True)
class DrawingOnPage:
    """Draws a drawing, whose y runs downwards, on a canvas: points = left, top less its pixels times scale."""

    canvas: Canvas
    left: float
    top: float
    scale: float

    def draw(self, drawing: Drawing) -> None:
        """Everything of a drawing in its order."""
        for item in drawing.items:
            if isinstance(item, DrawnText):
                self._words(item)
            else:
                self._line(item)

    def _at(self, points: FloatArray) -> FloatArray:
        return np.asarray([self.left, self.top] + np.asarray(points) * [self.scale, -self.scale])

    def _line(self, item: DrawnLine) -> None:
        canvas = self.canvas
        path = canvas.beginPath()
        for k, (x, y) in enumerate(self._at(item.points)):
            (path.lineTo if k else path.moveTo)(float(x), float(y))
        if item.fill:
            path.close()
            canvas.setFillColor(item.fill)
        if item.width:
            canvas.setStrokeColor(item.colour)
            canvas.setLineWidth(item.width * self.scale)
            canvas.setDash([gap * self.scale for gap in item.dash or ()], 0)
        canvas.drawPath(path, stroke=int(item.width > 0.0), fill=int(bool(item.fill)))

    def _words(self, item: DrawnText) -> None:
        canvas = self.canvas
        ((x, y),) = self._at(np.array([item.at]))
        size = item.size * self.scale
        canvas.setFillColor(item.colour)
        canvas.setStrokeColor(item.colour)
        canvas.setLineWidth(BOLD_SHARE * size)
        canvas.setDash([], 0)
        canvas.setFont(register_font(), size)
        say = {"start": canvas.drawString, "middle": canvas.drawCentredString, "end": canvas.drawRightString}
        say[item.anchor](float(x), float(y), item.text, mode=2 if item.bold else 0)


def hide_plan_pdf(
    laid: LaidHides, number: int, imprint: Imprint, *, page: str, flesh_up: bool = False, unit: Unit = "mm"
) -> bytes:
    """The plan of one hide as a PDF file. page: "a4", "a3" or "letter", laid across; the same plan gives the same
    bytes. Raises KeyError for an unknown page."""
    high, wide = (mm * POINTS_PER_MM for mm in PAGE_MM[page])
    margin, foot = MARGIN_MM * POINTS_PER_MM, FOOT_MM * POINTS_PER_MM
    words = FullSizeHide(laid, number, imprint, flesh_up=flesh_up).words
    canvas, stream = new_canvas(f"Plan: {words}")
    canvas.setSubject(f"Plan of a hide, {NOT_TO_SCALE}")
    drawings = hide_plan_pages(laid, number, flesh_up=flesh_up, unit=unit, rows=ROWS_A_PAGE)
    for k, drawing in enumerate(drawings, start=1):
        canvas.setPageSize((wide, high))
        room = (wide - 2.0 * margin, high - 2.0 * margin - foot)
        scale = min(room[0] / drawing.size[0], room[1] / drawing.size[1])
        left = 0.5 * (wide - scale * drawing.size[0])
        DrawingOnPage(canvas, left, high - margin, scale).draw(drawing)
        canvas.setFont(register_font(), FOOT_TYPE_MM * POINTS_PER_MM)
        canvas.setFillGray(0.0)
        canvas.drawString(margin, margin, f"{words}, page {k} of {len(drawings)}; {NOT_TO_SCALE}")
        canvas.showPage()
    canvas.save()
    return stream.getvalue()
