"""Patterns as PDF at full size: tiled to the pages of an office printer, and in one piece for a roll printer.

Stands on reportlab for drawing and pypdf for layers. One unit is 72/25.4 points; the unit of the page is never
changed (UserUnit), since many viewers ignore it and print at half size.
"""

from collections.abc import Sequence

from flatten.marks import draw_piece
from flatten.paper.furniture import GREY, SQUARE_MM, draw_furniture, draw_rulers, draw_square
from flatten.paper.overview import draw_overview
from flatten.paper.pages import MARGIN_MM, page_named, tiled
from flatten.paper.pdfpen import (
    POINTS_PER_MM,
    PdfPen,
    furniture_layer,
    keep_layers,
    new_canvas,
    show_layers,
    with_layers,
)
from flatten.paper.pen import RecordingPen
from flatten.paper.sheetlayout import Place, SheetLayout, lay_out
from flatten.piece import Piece

LONGEST_MM = 5080.0
"""Longest page a PDF reader need accept: 14400 points (ISO 32000-1, annex C)."""
FOOT_MM = 60.0


def patterns_pdf(pieces: Sequence[Piece], *, page: str, overlap_mm: float) -> bytes:
    """All pieces on pages of an office printer, with a page map first, as the bytes of a PDF file.

    page: "a4", "a3" or "letter". The same pieces give the same bytes. Raises ValueError without pieces, for an
    unknown page or for an overlap that leaves less than half a page.
    """
    tiling = tiled(pieces, page_named(page, overlap_mm))
    sheet, layout = tiling.sheet, tiling.layout
    records = _records(layout)
    canvas, stream = new_canvas("Cover patterns on pages")
    keep_layers(canvas, "all", _joined(records), layout.width_mm, layout.length_mm)
    pen = PdfPen(canvas)
    size = (sheet.width_mm * POINTS_PER_MM, sheet.height_mm * POINTS_PER_MM)
    canvas.setPageSize(size)
    with furniture_layer(canvas):
        draw_overview(pen, tiling)
    canvas.showPage()
    for number, tile in enumerate(tiling.tiles, start=2):
        canvas.setPageSize(size)
        canvas.bookmarkPage(tile.name)
        canvas.addOutlineEntry(tile.name, tile.name)
        with furniture_layer(canvas):
            draw_furniture(pen, tiling, tile, number, records)
        show_layers(canvas, "all", tile.box, (MARGIN_MM, MARGIN_MM))
        canvas.showPage()
    canvas.save()
    return with_layers(stream.getvalue())


def roll_pdf(pieces: Sequence[Piece], *, roll_width_mm: float) -> bytes:
    """All pieces at full size on pages as wide as the roll, each at most LONGEST_MM long, as the bytes of a PDF file.

    The same pieces give the same bytes. Raises ValueError without pieces, for a roll too narrow for anything, or for
    a single piece longer than a page can be.
    """
    layouts = _rolls(pieces, roll_width_mm)
    canvas, stream = new_canvas("Cover patterns on a roll")
    pen = PdfPen(canvas)
    for number, layout in enumerate(layouts, start=1):
        keep_layers(canvas, f"roll{number}", _joined(_records(layout)), layout.width_mm, layout.length_mm)
        canvas.setPageSize((layout.width_mm * POINTS_PER_MM, layout.length_mm * POINTS_PER_MM))
        with furniture_layer(canvas):
            _roll_furniture(pen, layout, number, len(layouts))
        show_layers(canvas, f"roll{number}", (0.0, 0.0, layout.width_mm, layout.length_mm), (0.0, 0.0))
        canvas.showPage()
    canvas.save()
    return with_layers(stream.getvalue())


def _rolls(pieces: Sequence[Piece], roll_width_mm: float) -> list[SheetLayout]:
    """As few pages as fit, filled in the order of the pieces."""
    layout = lay_out(pieces, width_mm=roll_width_mm, foot_mm=FOOT_MM)
    if layout.length_mm <= LONGEST_MM and layout.width_mm <= LONGEST_MM:
        return [layout]
    if len(pieces) == 1:
        raise ValueError(f"{pieces[0].name} is longer than a page of {LONGEST_MM:g} mm can show")
    count = 1
    while count + 1 < len(pieces):
        longer = lay_out(pieces[: count + 1], width_mm=roll_width_mm, foot_mm=FOOT_MM)
        if longer.length_mm > LONGEST_MM:
            break
        count += 1
    return _rolls(pieces[:count], roll_width_mm) + _rolls(pieces[count:], roll_width_mm)


def _records(layout: SheetLayout) -> list[tuple[Place, RecordingPen]]:
    """Every piece as it is drawn on the layout."""
    made = []
    for place in layout.places:
        record = RecordingPen()
        draw_piece(place.piece, place.pen(record))
        made.append((place, record))
    return made


def _joined(records: Sequence[tuple[Place, RecordingPen]]) -> RecordingPen:
    whole = RecordingPen()
    for _, record in records:
        record.replay(whole)
    return whole


def _roll_furniture(pen: PdfPen, layout: SheetLayout, number: int, count: int) -> None:
    draw_square(pen, (MARGIN_MM + 5.0, MARGIN_MM))
    draw_rulers(pen, layout.width_mm, (MARGIN_MM + SQUARE_MM + 15.0, MARGIN_MM), (4.0, MARGIN_MM))
    left = MARGIN_MM + SQUARE_MM + 15.0
    lines = (
        f"Cover patterns, full size, sheet {number} of {count}",
        "Print at 100 %. Measure the square and both rulers before cutting.",
        "Full lines are cut, dashed lines are sewn. Pieces seen from the outer side of the leather.",
        *layout.notes,
    )
    for k, words in enumerate(lines):
        at = (left, MARGIN_MM + 44.0 - 7.0 * k)
        ink = 0.0 if k == 0 else GREY
        pen.write(at, words, height_mm=3.0, side=0.0, ink=ink, widest_mm=layout.width_mm - left - MARGIN_MM)
