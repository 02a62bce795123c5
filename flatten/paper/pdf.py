"""The patterns as PDF at exactly full size: on pages to join, and on a roll.

No UserUnit is used, because many viewers ignore it and print half-size patterns; a page may be 5080 mm (200 in) long
at most (ISO 32000-1, annex C), so a longer roll is cut into pages that overlap.
"""

from collections.abc import Sequence

import numpy as np
import shapely

from flatten.paper.fonts import words_width
from flatten.paper.furniture import CROSS_ARM_MM, WORDS_GREY, cross, ruler, test_square, tile_furniture
from flatten.paper.overview import INSTRUCTIONS, overview
from flatten.paper.pages import MARGIN_MM, PAGES_MM, Tile, Tiling, tile_sheet, tiled_layout
from flatten.paper.pdfpen import PAGE, Pdf
from flatten.paper.pen import RecordingPen
from flatten.paper.sheetlayout import Place, SheetLayout, lay_out
from flatten.piece import Piece
from meshes.arrays import FloatArray

LONGEST_MM = 5000.0
ROLL_FOOT_MM, ROLL_OVERLAP_MM = 66.0, 20.0
LABEL_MM, LABEL_LEAST_MM = 2.4, 1.5
LABEL_ROOM_MM, ARROW_MM = 14.0, 12.0


def patterns_pdf(pieces: Sequence[Piece], *, page: str, overlap_mm: float) -> bytes:
    """All pieces on pages to join: an overview, then a page a tile. page: "a4", "letter" or "a3".

    Raises ValueError for an unknown page, an overlap that does not suit it, or without pieces.
    """
    layout, tiling = tiled_layout(pieces, page=page, overlap_mm=overlap_mm)
    pdf = Pdf("Cover patterns, pages to join")
    drawing = RecordingPen()
    layout.draw(drawing)
    forms = pdf.forms(drawing, (0.0, 0.0, layout.width_mm, layout.length_mm))
    overview(pdf, pieces, layout, tiling, forms, page)
    for tile in tiling.tiles:
        pdf.page(*PAGES_MM[page])
        spots = labels(layout, drawing, tile, tiling.net_mm)
        title = ", ".join(place.piece.name for place, _, _ in spots)
        with pdf.group(PAGE):
            tile_furniture(pdf, tiling, tile, title)
            for place, spot, room in spots:
                label(pdf, place, (MARGIN_MM + spot[0] - tile.x, MARGIN_MM + spot[1] - tile.y), room)
        show(pdf, forms, tile, tiling, (MARGIN_MM, MARGIN_MM))
        pdf.end_page()
    return pdf.data()


def roll_pdf(pieces: Sequence[Piece], *, roll_width_mm: float) -> bytes:
    """All pieces on one page as wide as the roll; longer than a PDF page can be: on several that overlap.

    Raises ValueError without pieces or for a roll too narrow to lay anything on.
    """
    layout = lay_out(pieces, width_mm=roll_width_mm)
    net = min(layout.width_mm, LONGEST_MM), min(layout.length_mm, LONGEST_MM)
    tiling = tile_sheet(layout, net_mm=net, overlap_mm=ROLL_OVERLAP_MM)
    pdf = Pdf("Cover patterns, roll")
    drawing = RecordingPen()
    layout.draw(drawing)
    forms = pdf.forms(drawing, (0.0, 0.0, layout.width_mm, layout.length_mm))
    for tile in tiling.tiles:
        pdf.page(net[0], net[1] + ROLL_FOOT_MM)
        with pdf.group(PAGE):
            roll_foot(pdf, layout, tiling, tile)
        show(pdf, forms, tile, tiling, (0.0, ROLL_FOOT_MM))
        pdf.end_page()
    return pdf.data()


def show(pdf: Pdf, forms: dict[str, str], tile: Tile, tiling: Tiling, at: tuple[float, float]) -> None:
    """The tile's part of the sheet at full size."""
    w, h = tiling.net_mm
    pdf.show(forms, (tile.x, tile.y, tile.x + w, tile.y + h), at, 1.0)


def roll_foot(pdf: Pdf, layout: SheetLayout, tiling: Tiling, tile: Tile) -> None:
    """The strip at the start of a roll page: square, rulers, what to do; crosses if there is more than one page."""
    test_square(pdf, 14.0, 12.0)
    ruler(pdf, 5.0, 5.0, upright=False, inwards=True)
    ruler(pdf, 5.0, 5.0, upright=True, inwards=True)
    if len(tiling.tiles) > 1:
        for y in (0.5 * ROLL_OVERLAP_MM, tiling.net_mm[1] - 0.5 * ROLL_OVERLAP_MM):
            for x in (CROSS_ARM_MM + 1.0, tiling.net_mm[0] - CROSS_ARM_MM - 1.0):
                cross(pdf, x, ROLL_FOOT_MM + y)
        pdf.words(120.0, 20.0, f"Page {tile.name} of {len(tiling.tiles)}", height_mm=4.0)
    for k, text in enumerate((INSTRUCTIONS[0], *layout.notes)):
        pdf.words(120.0, 50.0 - 6.0 * k, text, height_mm=2.6, grey=WORDS_GREY)


def labels(
    layout: SheetLayout, drawing: RecordingPen, tile: Tile, net_mm: tuple[float, float]
) -> list[tuple[Place, FloatArray, float]]:
    """For each piece on the page the roomiest free spot for its name and grain: (place, centre (2,), radius mm)."""
    frame = shapely.box(tile.x, tile.y, tile.x + net_mm[0], tile.y + net_mm[1])
    taken = [shapely.LineString(points).buffer(1.5) for _, points, _ in drawing.lines]
    for text in drawing.texts:
        half = 0.5 * words_width(text.words, text.height_mm)
        turn = np.radians(text.angle_deg)
        arm = half * np.array([np.cos(turn), np.sin(turn)])
        at = np.array(text.at)
        taken.append(shapely.LineString([at - arm, at + arm]).buffer(text.height_mm))
    occupied = shapely.union_all([t for t in taken if t.intersects(frame)])
    found = []
    for place in layout.places:
        part = shapely.Polygon(place.points(place.piece.cut)).intersection(frame)
        if part.area <= 0.0:
            continue
        free = part.difference(occupied)
        free = free if free.area > 0.0 else part
        circle = shapely.maximum_inscribed_circle(free, tolerance=0.5)
        found.append((place, shapely.get_coordinates(circle)[0], float(circle.length)))
    return found


def label(pdf: Pdf, place: Place, at: tuple[float, float], room: float) -> None:
    """A piece's name with a small arrow along its grain, as large as the room (radius, mm) lets it be."""
    scale = min(1.0, room / LABEL_ROOM_MM)
    height = LABEL_MM * scale
    wide = words_width(place.piece.name, height)
    height *= min(1.0, 2.0 * 0.9 * room / wide)
    tail, head = place.points(place.piece.grain)
    along = (head - tail) / np.linalg.norm(head - tail)
    x, y = at
    if height >= LABEL_LEAST_MM:
        pdf.words(x, y - 3.0 * height, place.piece.name, height_mm=height, align="centre", grey=WORDS_GREY)
        y += 1.2 * height
    c = pdf.canvas
    c.saveState()
    c.setStrokeGray(WORDS_GREY)
    c.setFillGray(WORDS_GREY)
    c.setLineWidth(0.2)
    half, side = 0.5 * ARROW_MM * scale * along, np.array([-along[1], along[0]])
    start, end = np.array([x, y]) - half, np.array([x, y]) + half
    c.line(*start.tolist(), *end.tolist())
    barb = end - 3.0 * scale * along
    path = c.beginPath()
    path.moveTo(*end.tolist())
    path.lineTo(*(barb + scale * side).tolist())
    path.lineTo(*(barb - scale * side).tolist())
    path.close()
    c.drawPath(path, stroke=0, fill=1)
    c.restoreState()
