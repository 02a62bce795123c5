"""The first page of a set of tiles: how to print it, how the pages lie together, and what there is to cut."""

from collections.abc import Sequence

from flatten.draw.fonts import words_width
from flatten.paper.furniture import GREY, SQUARE_MM, draw_rulers, draw_square
from flatten.paper.pages import MARGIN_MM, Tile, Tiling
from flatten.paper.pdf_pen import POINTS_PER_MM, PdfPen, furniture_layer
from flatten.paper.wording import Wording, title_of

ROW_MM = 5.0
LIST_SHARE = 0.35
"""The most of the first page that the list of pieces takes."""
OverviewRow = tuple[str, str, str]


def draw_overview(pen: PdfPen, tiling: Tiling, wording: Wording) -> int:
    """Instructions, test square, page map and list of pieces; returns how many pages that took, all finished.

    A list too long for the first page goes on to further ones.
    """
    rows, sheet = _rows(tiling), tiling.sheet
    size = (sheet.width_mm * POINTS_PER_MM, sheet.height_mm * POINTS_PER_MM)
    first, most = int(LIST_SHARE * sheet.height_mm / ROW_MM), int((sheet.height_mm - 45.0) / ROW_MM)
    parts = [rows[:first], *(rows[k : k + most] for k in range(first, len(rows), most))]
    for number, part in enumerate(parts):
        pen.canvas.setPageSize(size)
        with furniture_layer(pen.canvas):
            if number == 0:
                _draw_first(pen, tiling, part, wording)
            else:
                _draw_list(pen, tiling, part, sheet.height_mm - MARGIN_MM - 8.0 - ROW_MM)
        pen.canvas.showPage()
    return len(parts)


def _draw_first(pen: PdfPen, tiling: Tiling, rows: Sequence[OverviewRow], wording: Wording) -> None:
    sheet = tiling.sheet
    left, top = MARGIN_MM + 5.0, sheet.height_mm - MARGIN_MM - 6.0
    room = sheet.width_mm - 2.0 * MARGIN_MM - SQUARE_MM - 18.0
    title = f"{title_of(wording, [place.piece for place in tiling.layout.places])}, full size"
    pen.write((left, top), title, height_mm=5.0, side=0.0, widest_mm=room)
    draw_square(pen, (sheet.width_mm - MARGIN_MM - SQUARE_MM - 5.0, top - SQUARE_MM + 3.0))
    draw_rulers(pen, (20.0, 5.0), (5.0, 20.0))
    y = top - 11.0
    for words in wording.how:
        for line in _wrapped(words, 2.3, room):
            pen.write((left, y), line, height_mm=2.3, side=0.0)
            y -= ROW_MM - 0.8
        y -= 1.2
    low = MARGIN_MM + 6.0 + ROW_MM * len(rows)
    _draw_list(pen, tiling, rows, low - ROW_MM)
    _draw_map(pen, tiling, (left, low + ROW_MM + 4.0, sheet.width_mm - MARGIN_MM - 5.0, min(y, top - SQUARE_MM) - 3.0))


def _wrapped(words: str, height_mm: float, room_mm: float) -> list[str]:
    lines = [""]
    for word in words.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and words_width(longer, height_mm) > room_mm:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def _rows(tiling: Tiling) -> list[OverviewRow]:
    """What the list says of every piece: its name, how many to cut, the pages it is on."""
    rows = []
    for place in sorted(tiling.layout.places, key=lambda place: (place.piece.pad, place.piece.name)):
        on_pages = ", ".join(_runs([tile for tile in tiling.tiles if place in tile.touches]))
        rows.append((f"{place.piece.pad}: {place.piece.name}", place.piece.count_text, on_pages))
    return rows


def _draw_list(pen: PdfPen, tiling: Tiling, rows: Sequence[OverviewRow], y: float) -> None:
    """Rows of the list with its heading, the first one at the height y, mm."""
    left, right, height = MARGIN_MM + 5.0, tiling.sheet.width_mm - MARGIN_MM - 5.0, 2.3
    pen.write((left, y + 1.2 * ROW_MM), "Pieces and the pages they are on", height_mm=2.5, side=0.0)
    for name, count, pages in rows:
        pen.write((left, y), name, height_mm=height, side=0.0, widest_mm=70.0)
        pen.write((left + 72.0, y), count, height_mm=height, side=0.0, widest_mm=33.0)
        pen.write((left + 107.0, y), pages, height_mm=height, side=0.0, widest_mm=right - left - 107.0)
        y -= ROW_MM


def _runs(tiles: Sequence[Tile]) -> list[str]:
    """Names of pages, three and more beside each other drawn together: A1–A4."""
    runs: list[list[Tile]] = []
    for tile in tiles:
        if runs and (runs[-1][-1].row, runs[-1][-1].column + 1) == (tile.row, tile.column):
            runs[-1].append(tile)
        else:
            runs.append([tile])
    names: list[str] = []
    for run in runs:
        names += [f"{run[0].name}–{run[-1].name}"] if len(run) > 2 else [tile.name for tile in run]
    return names


def _draw_map(pen: PdfPen, tiling: Tiling, room: tuple[float, float, float, float]) -> None:
    sheet, layout = tiling.sheet, tiling.layout
    step_x, step_y = sheet.print_width_mm - sheet.overlap_mm, sheet.print_height_mm - sheet.overlap_mm
    width, height = tiling.columns * step_x + sheet.overlap_mm, tiling.rows * step_y + sheet.overlap_mm
    scale = min((room[2] - room[0]) / width, (room[3] - room[1]) / height)
    x = room[0] + 0.5 * (room[2] - room[0] - scale * width)
    y = room[1] + 0.5 * (room[3] - room[1] - scale * height)
    low = layout.length_mm - height
    for place in layout.places:
        pen.rule(
            [(x + scale * p, y + scale * (q - low)) for p, q in place.points(place.piece.cut)],
            width_mm=0.25,
            closed=True,
        )
    half = 0.5 * sheet.overlap_mm
    for tile in tiling.tiles:
        x0, y0 = x + scale * (tile.box[0] + half), y + scale * (tile.box[1] - low + half)
        x1, y1 = x + scale * (tile.box[2] - half), y + scale * (tile.box[3] - low - half)
        pen.rule([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], width_mm=0.15, ink=GREY, closed=True)
        size = min(4.0, 0.25 * (y1 - y0), 0.3 * (x1 - x0))
        pen.write((x0 + 0.15 * size + 1.0, y1 - 0.9 * size), tile.name, height_mm=size, side=0.0, ink=0.25)
