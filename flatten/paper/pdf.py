"""Patterns as PDF at full size: tiled to the pages of an office printer, and in one piece for a roll printer.

Stands on reportlab for drawing and pypdf for layers. One unit is 72/25.4 points; the unit of the page is never
changed (UserUnit), since many viewers ignore it and print at half size.
"""

from collections.abc import Sequence

from flatten.draw.imprint import NO_IMPRINT, Imprint
from flatten.draw.lettering import SMALLEST_MM
from flatten.draw.marks import draw_piece
from flatten.draw.pen import MovedPen, RecordingPen
from flatten.paper.checking import GREY, draw_rulers, draw_square
from flatten.paper.furniture import LIGHT, draw_cross, draw_furniture
from flatten.paper.overview import draw_overview, wrapped
from flatten.paper.pages import MARGIN_MM, Tiling, page_named, tiled
from flatten.paper.pdf_pen import (
    POINTS_PER_MM,
    PdfPen,
    furniture_layer,
    keep_layers,
    new_canvas,
    show_layers,
    with_layers,
)
from flatten.paper.roll import PlacedPiece, SheetLayout, lay_out_roll
from flatten.paper.wording import COVER, Wording, how_to_print, title_of
from flatten.pieces.piece import Piece

LONGEST_MM = 5080.0
"""Longest page a PDF reader need accept: 14400 points (ISO 32000-1, annex C)."""
ROLL_FOOT_MM = 60.0
ROLL_OVERLAP_MM = 20.0


def patterns_pdf(
    pieces: Sequence[Piece],
    *,
    page: str,
    overlap_mm: float,
    wording: Wording = COVER,
    imprint: Imprint = NO_IMPRINT,
) -> bytes:
    """All pieces on pages of an office printer, with a page map first, as the bytes of a PDF file.

    page: "a4", "a3" or "letter"; wording: what the first page says; imprint: job, revision and unit. The same pieces
    give the same bytes. Raises ValueError without pieces, for an unknown page or for an overlap that leaves less than
    half a page.
    """
    tiling = tiled(pieces, page_named(page, overlap_mm))
    sheet, layout = tiling.sheet, tiling.layout
    records = _records(layout, imprint, tiling)
    canvas, stream = new_canvas(_titled(f"{wording.title} on pages", imprint))
    keep_layers(canvas, "all", _joined(records), layout.width_mm, layout.length_mm)
    pen = PdfPen(canvas)
    size = (sheet.width_mm * POINTS_PER_MM, sheet.height_mm * POINTS_PER_MM)
    before = draw_overview(pen, tiling, wording, imprint=imprint)
    for number, tile in enumerate(tiling.tiles, start=before + 1):
        canvas.setPageSize(size)
        canvas.bookmarkPage(tile.name)
        canvas.addOutlineEntry(tile.name, tile.name)
        with furniture_layer(canvas):
            place_words = f"page {number} of {before + len(tiling.tiles)}"
            draw_furniture(pen, tiling, tile, place_words, records, imprint=imprint)
        show_layers(canvas, "all", tile.box, (MARGIN_MM, MARGIN_MM))
        canvas.showPage()
    canvas.save()
    return with_layers(stream.getvalue())


def _titled(title: str, imprint: Imprint) -> str:
    return ", ".join(text for text in (title, imprint.line) if text)


def roll_pdf(
    pieces: Sequence[Piece], *, roll_width_mm: float, wording: Wording = COVER, imprint: Imprint = NO_IMPRINT
) -> bytes:
    """All pieces at full size on pages as wide as the roll, each at most LONGEST_MM long, as the bytes of a PDF file.

    A single piece longer than a page goes on on the next one, with an overlap and crosses to join by. The same pieces
    give the same bytes. Raises ValueError without pieces, for a roll too narrow for anything, or for a piece that is
    wider than a page can be both ways.
    """
    layouts = _rolls(pieces, roll_width_mm)
    sheets = [(k, window) for k, layout in enumerate(layouts) for window in _windows(layout)]
    canvas, stream = new_canvas(_titled(f"{wording.title} on a roll", imprint))
    pen = PdfPen(canvas)
    for k, layout in enumerate(layouts):
        keep_layers(canvas, f"roll{k}", _joined(_records(layout, imprint)), layout.width_mm, layout.length_mm)
    for number, (k, (low, high)) in enumerate(sheets, start=1):
        layout, start = layouts[k], ROLL_FOOT_MM if low else 0.0
        canvas.setPageSize((layout.width_mm * POINTS_PER_MM, (start + high - low) * POINTS_PER_MM))
        with furniture_layer(canvas):
            heading = f"{title_of(wording, [place.piece for place in layout.places])}, full size"
            sheet_words = _titled(f"{heading}, sheet {number} of {len(sheets)}", imprint)
            _roll_furniture(pen, layout, (sheet_words, how_to_print(imprint), wording.lines), imprint)
            if low:
                _roll_join(pen, layout, start + 0.5 * ROLL_OVERLAP_MM)
            if high < layout.length_mm:
                _roll_join(pen, layout, start + high - low - 0.5 * ROLL_OVERLAP_MM)
        show_layers(canvas, f"roll{k}", (0.0, low, layout.width_mm, high), (0.0, start))
        canvas.showPage()
    canvas.save()
    return with_layers(stream.getvalue())


def _rolls(pieces: Sequence[Piece], roll_width_mm: float) -> list[SheetLayout]:
    """As few pages as fit, filled in the order of the pieces."""
    layout = lay_out_roll(pieces, width_mm=roll_width_mm, foot_mm=ROLL_FOOT_MM)
    if layout.width_mm > LONGEST_MM:
        raise ValueError(f"a sheet {layout.width_mm:g} mm wide is wider than a page of {LONGEST_MM:g} mm can show")
    if layout.length_mm <= LONGEST_MM or len(pieces) == 1:
        return [layout]
    count = 1
    while count + 1 < len(pieces):
        longer = lay_out_roll(pieces[: count + 1], width_mm=roll_width_mm, foot_mm=ROLL_FOOT_MM)
        if longer.length_mm > LONGEST_MM:
            break
        count += 1
    return _rolls(pieces[:count], roll_width_mm) + _rolls(pieces[count:], roll_width_mm)


def _windows(layout: SheetLayout) -> list[tuple[float, float]]:
    """The stretches of a layout, from and to in mm along the roll, that a page each can show."""
    windows = [(0.0, min(layout.length_mm, LONGEST_MM))]
    while windows[-1][1] < layout.length_mm:
        low = windows[-1][1] - ROLL_OVERLAP_MM
        windows.append((low, min(layout.length_mm, low + LONGEST_MM - ROLL_FOOT_MM)))
    return windows


def _roll_join(pen: PdfPen, layout: SheetLayout, y: float) -> None:
    """The line in the middle of an overlap, on both pages, with crosses to lay one over the other."""
    pen.rule([(0.0, y), (layout.width_mm, y)], width_mm=0.15, dash_mm=(1.5, 1.5), ink=LIGHT)
    for x in (MARGIN_MM, 0.5 * layout.width_mm, layout.width_mm - MARGIN_MM):
        draw_cross(pen, x, y)


def _records(
    layout: SheetLayout, imprint: Imprint, tiling: Tiling | None = None
) -> list[tuple[PlacedPiece, RecordingPen]]:
    """Every piece as it is drawn on the layout; on tiles, with its words clear of their joins."""
    made = []
    for place in layout.places:
        record = RecordingPen()
        words_in = None if tiling is None else tiling.words_in(place)
        draw_piece(place.upright, MovedPen(record, place.shift), imprint=imprint, words_in=words_in)
        made.append((place, record))
    return made


def _joined(records: Sequence[tuple[PlacedPiece, RecordingPen]]) -> RecordingPen:
    whole = RecordingPen()
    for _, record in records:
        record.replay(whole)
    return whole


def _roll_furniture(pen: PdfPen, layout: SheetLayout, lines: Sequence[str], imprint: Imprint) -> None:
    left = MARGIN_MM + imprint.square.length_mm + 15.0
    draw_square(pen, (MARGIN_MM + 5.0, MARGIN_MM - 4.0), imprint=imprint)
    draw_rulers(pen, (left, 4.0), (4.0, MARGIN_MM), imprint=imprint)
    room = layout.width_mm - left - MARGIN_MM
    y = ROLL_FOOT_MM - 4.0
    for k, words in enumerate((*lines, *layout.notes)):
        for line in wrapped(words, SMALLEST_MM, room):
            pen.write((left, y), line, height_mm=SMALLEST_MM, side=0.0, ink=0.0 if k == 0 else GREY)
            y -= 5.2
