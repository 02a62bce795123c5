"""The first pages of a tiled pattern: how to print and join, the map of the pages, the list of the pieces."""

from collections.abc import Sequence

from flatten.paper.fonts import words_width
from flatten.paper.furniture import FRAME_GREY, ruler, test_square
from flatten.paper.pages import MARGIN_MM, PAGES_MM, Tiling
from flatten.paper.pdfpen import PAGE, Pdf
from flatten.paper.sheetlayout import SheetLayout
from flatten.piece import Piece

EDGE_MM = MARGIN_MM + 5.0
LINE_MM, BODY_MM, HEAD_MM = 5.2, 2.3, 3.0
INSTRUCTIONS = (
    "Print at 100 %, not fit to page. Measure the 50 mm square and both 100 mm rulers before cutting.",
    "Cut each page along its frame on the left and the top, lay it over its neighbours until the crosses meet, glue.",
    "The full line is the cut line, the dashed line the sew line. Pieces are seen from the outer side of the leather.",
    "Mirrored pieces: turn the pattern over. The arrow shows the direction that runs along the hide's backbone.",
)
CAUTIONS = (
    "Try the cover in cheap cloth or vinyl before cutting leather.",
    "Keep marked flaws, belly and neck out of seats and seams; check both sides of a pair before cutting.",
)


def overview(pdf: Pdf, pieces: Sequence[Piece], layout: SheetLayout, tiling: Tiling, forms: dict[str, str], page: str) -> None:
    """Draw the first page, and further ones as long as the list of pieces needs them."""
    width, height = PAGES_MM[page]
    pdf.page(width, height)
    with pdf.group(PAGE):
        y = height - EDGE_MM - HEAD_MM
        pdf.words(EDGE_MM, y, "Cover patterns, full size", height_mm=4.0)
        pdf.words(width - EDGE_MM, y, f"{len(tiling.tiles)} pages to join", height_mm=BODY_MM, align="right")
        y = paragraphs(pdf, y - 2.0 * LINE_MM, width, "To do", INSTRUCTIONS)
        y = paragraphs(pdf, y - LINE_MM, width, "Take care", (*CAUTIONS, *layout.notes))
        foot = EDGE_MM + 108.0
        ruler(pdf, EDGE_MM, EDGE_MM, upright=False, inwards=True)
        ruler(pdf, EDGE_MM, EDGE_MM, upright=True, inwards=True)
        test_square(pdf, EDGE_MM + 12.0, EDGE_MM + 12.0)
    page_map(pdf, layout, tiling, forms, (EDGE_MM, foot, width - EDGE_MM, y - LINE_MM))
    left = EDGE_MM + 118.0
    rest = piece_list(pdf, pieces, left, width - EDGE_MM, foot - 6.0)
    pdf.end_page()
    while rest:
        pdf.page(width, height)
        rest = piece_list(pdf, rest, EDGE_MM, width - EDGE_MM, height - EDGE_MM - HEAD_MM)
        pdf.end_page()


def paragraphs(pdf: Pdf, y: float, width: float, head: str, texts: Sequence[str]) -> float:
    """A heading and paragraphs from y down; returns where the next line would stand."""
    pdf.words(EDGE_MM, y, head, height_mm=HEAD_MM)
    y -= LINE_MM
    for text in texts:
        for line in wrapped(text, BODY_MM, width - 2.0 * EDGE_MM):
            pdf.words(EDGE_MM, y, line, height_mm=BODY_MM)
            y -= LINE_MM - 0.8
        y -= 0.8
    return y


def wrapped(text: str, height_mm: float, width_mm: float) -> list[str]:
    """Text broken at spaces into lines no wider than width_mm, unless a single word is."""
    lines: list[str] = []
    for word in text.split():
        if lines and words_width(f"{lines[-1]} {word}", height_mm) <= width_mm:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def page_map(
    pdf: Pdf, layout: SheetLayout, tiling: Tiling, forms: dict[str, str], box: tuple[float, float, float, float]
) -> None:
    """The whole sheet small, with the pages and their names, inside box (x0, y0, x1, y1) mm."""
    (w, h), o = tiling.net_mm, tiling.overlap_mm
    whole_w = tiling.columns * (w - o) + o
    whole_h = tiling.rows * (h - o) + o
    x0, y0, x1, y1 = box
    scale = min((x1 - x0) / whole_w, (y1 - y0) / whole_h)
    low = layout.length_mm - whole_h
    at = (x0 + 0.5 * (x1 - x0 - scale * whole_w), y0 + 0.5 * (y1 - y0 - scale * whole_h))
    c = pdf.canvas
    with pdf.group(PAGE):
        c.saveState()
        c.setStrokeGray(FRAME_GREY)
        c.setLineWidth(0.2)
        size = min(6.0, 0.25 * scale * min(w, h))
        for tile in tiling.tiles:
            x, y = at[0] + scale * tile.x, at[1] + scale * (tile.y - low)
            c.rect(x, y, scale * w, scale * h, stroke=1, fill=0)
            middle = (x + 0.5 * scale * w, y + 0.5 * (scale * h - size))
            pdf.words(*middle, tile.name, height_mm=size, align="centre", grey=0.75)
        c.restoreState()
    pdf.show(forms, (0.0, low, whole_w, layout.length_mm), at, scale)


def piece_list(pdf: Pdf, pieces: Sequence[Piece], left: float, right: float, y: float) -> Sequence[Piece]:
    """Names and counts from y down; returns the pieces that found no room."""
    with pdf.group(PAGE):
        pdf.words(left, y, "Pieces", height_mm=HEAD_MM)
        y -= LINE_MM
        for k, piece in enumerate(pieces):
            lines = wrapped(f"{piece.name}: {piece.count_text}", BODY_MM, right - left)
            if y - len(lines) * (LINE_MM - 0.8) < EDGE_MM:
                return pieces[k:]
            for line in lines:
                pdf.words(left, y, line, height_mm=BODY_MM)
                y -= LINE_MM - 0.8
            y -= 0.8
    return ()
