"""The strip test on paper, a worksheet to write on: strips of leather along and across, and a block of foam.

What was taken from standards and what is common practice is said on the sheet. SAE J855 hangs a weight on a strip for
5 minutes, takes it off for 5, and reads both the stretch and what stays, at 1.58 N per mm of width: times and largest
pull are taken from it, its size of strip is not. ISO 17236 reads what stays after a pause without load: that is taken,
its cycles to 20 N are not. Sizes, marks, the other weights and the block are common practice.
"""

from collections.abc import Sequence

from reportlab.pdfgen.canvas import Canvas

from flatten.draw.imprint import Imprint
from flatten.draw.lettering import SMALLEST_MM
from flatten.paper.checking import GREY
from flatten.paper.overview import wrapped
from flatten.paper.pages import MARGIN_MM, PageFormat, page_named
from flatten.paper.pdf_pen import POINTS_PER_MM, PdfPen, new_canvas
from meshes.base.units import Unit, in_shop_unit
from meshes.fitting.strips import GRAVITY_N_PER_KG
from meshes.schema.cover_tables import STRIP_MARKS_MM, STRIP_WIDTH_MM
from meshes.schema.tables import BLOCK_KG, BLOCK_SIDE_MM, LOWEST_BLOCK_MM

# Weights of the test, kg; the largest pulls a strip as hard as SAE J855 does.
STRIP_KG = (0.5, 1.0, 2.0, 4.0, 8.0)
STRIP_LENGTH_MM = 300.0
WORKSHEET_TITLE_MM, LINE_STEP_MM, WRITING_ROW_MM = 5.0, 5.4, 9.0

HOW_STRIPS = (
    f"Cut two strips along the backbone and two across, {STRIP_WIDTH_MM:g} x {STRIP_LENGTH_MM:g} mm, beside each other "
    "where the seat is cut from, with a knife along a rule, and let them lie a day in the shop. Draw two fine marks "
    f"{STRIP_MARKS_MM:g} mm apart across the middle of each, on the grain side, with a pen.",
    "Clamp the upper end over its whole width and hang it up. The lower clamp and its hook count with the weight: put "
    "them on the scales. Take the weights in order, the small one first. Hang each on gently, wait 5 minutes, read "
    "between the marks with it hanging; take it off, wait 5 minutes, read what stays. A steel rule against the marks "
    "reads a quarter of a millimetre: read in millimetres, also where the shop works in inches.",
    "Stop when it creeps on while you read, when the grain cracks, or when more than half of the stretch stays.",
)
SOURCES_STRIPS = (
    "From SAE J855: 5 minutes with the weight, 5 without, and a largest pull of 1.58 N per mm of width (there 12.25 kg "
    "on 76 mm, here 8 kg on 50). From ISO 17236: what stays is read after a pause without load. Common practice: the "
    "size of strip and marks, the smaller weights, two strips each way, and that the most a leather may be stretched "
    "is where it begins to stay longer. This is no test after either standard.",
)
HOW_READ = (
    "Small weights first; 5 minutes with each, read between the marks, 5 minutes without, read again. In the sheet: "
    "[[strip]], its way, and readings = [[kg, with it, without], ...], one such table for every strip.",
)
HOW_BLOCK = (
    f"Cut a block {BLOCK_SIDE_MM:g} x {BLOCK_SIDE_MM:g} mm, at least {LOWEST_BLOCK_MM:g} high; lay pieces on top "
    "until it is. Press it flat by hand twice, let it rest ten minutes, and measure its height under a light board. "
    "Lay the board and the weights on its middle, wait 60 seconds and measure the height again at all four corners: "
    "write their mean. Count the board with the weight. Let the block rise for a minute between.",
)
SOURCES_BLOCK = (
    f"1 kg on {BLOCK_SIDE_MM:g} x {BLOCK_SIDE_MM:g} mm is 0.98 kPa. Reading 60 seconds after the weight, and this "
    "size, are common practice; a data sheet's curve is measured otherwise and reads harder or softer.",
)
CAUTIONS_STRIPS = (
    "Weights fall when a strip tears or slips: hang them a hand's breadth over a box of sand or a piece of foam, away "
    "from the edge of a bench, with nobody's feet, hands or head below or beside.",
    "Wear eye protection: a strip that lets go throws its clamp. Look from the side, and never reach under the weight.",
    "Clamps and hooks pinch: lower the weight with both hands, fingers clear, and let nobody jog it.",
)
CAUTIONS_BLOCK = (
    "A stack of weights on foam tips: stand it against a stop, keep fingers from under the board and feet from below "
    "the bench, and lift more than 10 kg with two hands.",
)


def strip_sheet_pdf(page: str, *, unit: Unit = "mm", imprint: Imprint | None = None) -> bytes:
    """The worksheet as the bytes of a PDF file: how strips are tested, a page to write on, and one for foam.

    page: "a4", "letter" or "a3"; unit: of the shop; imprint: of a sheet it belongs to. The same gives the same bytes.
    Raises ValueError for an unknown page.
    """
    paper = page_named(page, 0.0)
    told = imprint or Imprint(unit=unit)
    canvas, stream = new_canvas("Strip test")
    pages: list[tuple[tuple[str, Sequence[str], Sequence[str]], list[_Blank]]] = [
        (("Strip test: what this leather gives", (*HOW_STRIPS, *SOURCES_STRIPS), CAUTIONS_STRIPS), []),
        (("Strip test: readings", HOW_READ, CAUTIONS_STRIPS[:1]), [_strips("along"), _strips("across")]),
        (("Foam test: how a block gives way", (*HOW_BLOCK, *SOURCES_BLOCK), CAUTIONS_BLOCK), [_block()]),
    ]
    for words, tables in pages:
        _page(canvas, paper, words, tables, told)
    canvas.save()
    return stream.getvalue()


# Heads and rows of a table to be written in; empty cells are for the pencil.
_Blank = tuple[str, Sequence[str], Sequence[Sequence[str]]]


def _strips(way: str) -> _Blank:
    heads = ("kg", "N/mm", "first, with", "without", "second, with", "without")
    rows = [(f"{kg:g}", f"{kg * GRAVITY_N_PER_KG / STRIP_WIDTH_MM:.2f}", "", "", "", "") for kg in STRIP_KG]
    return f"Strips {way} the backbone, all in mm. Before any weight: ________ and ________", heads, rows


def _block() -> _Blank:
    heads = ("kg", "kPa", "height, mm", "again", "again")
    rows = [(f"{kg:g}", f"{1000 * kg * GRAVITY_N_PER_KG / BLOCK_SIDE_MM**2:.2f}", "", "", "") for kg in BLOCK_KG]
    return "Foam: ______________________   height without a weight: ______ mm", heads, rows


def _page(
    canvas: Canvas,
    paper: PageFormat,
    words: tuple[str, Sequence[str], Sequence[str]],
    tables: Sequence[_Blank],
    imprint: Imprint,
) -> None:
    """One page of the worksheet."""
    title, how, cautions = words
    pen = PdfPen(canvas)
    canvas.setPageSize((paper.width_mm * POINTS_PER_MM, paper.height_mm * POINTS_PER_MM))
    left, room = MARGIN_MM + 4.0, paper.width_mm - 2.0 * (MARGIN_MM + 4.0)
    y = paper.height_mm - MARGIN_MM - 8.0
    pen.write((left, y), title, height_mm=WORKSHEET_TITLE_MM, side=0.0)
    if imprint.line:
        pen.write((left + room, y), imprint.line, height_mm=SMALLEST_MM, side=1.0, ink=GREY)
    y -= 10.0
    y = _paragraphs(pen, (left, y), room, [in_shop_unit(text, unit=imprint.unit) for text in how])
    top = y + 0.5 * LINE_STEP_MM
    y = _paragraphs(pen, (left + 3.0, y - 2.0), room - 6.0, ["Mind:", *cautions])
    pen.rule([(left, top), (left + room, top), (left + room, y + 2.0), (left, y + 2.0)], width_mm=0.6, closed=True)
    y -= 6.0
    for heading, heads, rows in tables:
        pen.write((left, y), heading, height_mm=SMALLEST_MM, side=0.0)
        y = _table(pen, (left, y - 4.0), room, [heads, *rows]) - 8.0
    canvas.showPage()


def _paragraphs(pen: PdfPen, at: tuple[float, float], room: float, texts: Sequence[str]) -> float:
    x, y = at
    for text in texts:
        for line in wrapped(text, SMALLEST_MM, room):
            pen.write((x, y), line, height_mm=SMALLEST_MM, side=0.0)
            y -= LINE_STEP_MM
        y -= 1.2
    return y


def _table(pen: PdfPen, at: tuple[float, float], room: float, rows: Sequence[Sequence[str]]) -> float:
    """A ruled table; returns where it ends."""
    left, top = at
    narrow = 16.0
    wide = (room - 2.0 * narrow) / (len(rows[0]) - 2)
    edges = [left, left + narrow, left + 2.0 * narrow]
    while len(edges) <= len(rows[0]):
        edges.append(edges[-1] + wide)
    bottom = top - WRITING_ROW_MM * len(rows)
    for k in range(len(rows) + 1):
        y = top - k * WRITING_ROW_MM
        pen.rule([(left, y), (edges[-1], y)], width_mm=0.4 if k in (0, 1, len(rows)) else 0.2)
    for x in edges:
        pen.rule([(x, top), (x, bottom)], width_mm=0.2)
    for k, row in enumerate(rows):
        for x, end, cell in zip(edges[:-1], edges[1:], row, strict=True):
            pen.write((0.5 * (x + end), top - (k + 0.5) * WRITING_ROW_MM), cell, height_mm=SMALLEST_MM)
    return bottom
