"""What every printed page carries beside the pattern: frame, register crosses, rulers, test square, names."""

from flatten.paper.pages import MARGIN_MM, Tile, Tiling
from flatten.paper.pdfpen import Pdf

FRAME_GREY, RULER_GREY, WORDS_GREY = 0.6, 0.55, 0.35
SQUARE_MM, RULER_MM = 50, 100
SQUARE_OFFSET_MM = 12.0
CROSS_ARM_MM, CROSS_RING_MM = 4.0, 1.5
SMALL_MM, NAME_MM = 2.0, 3.2


def ruler(pdf: Pdf, x: float, y: float, *, upright: bool, inwards: bool) -> None:
    """A ruler of 100 mm from x, y; its ticks and numbers on the upper or right side if `inwards`, else the other."""
    c = pdf.canvas
    c.saveState()
    c.setStrokeGray(RULER_GREY)
    c.setLineWidth(0.15)
    c.translate(x, y)
    side = 1.0 if inwards else -1.0

    def stroke(along: float, start: float, end: float) -> None:
        ends = (start, along, end, along) if upright else (along, start, along, end)
        c.line(*ends)

    c.line(*((0, 0, 0, RULER_MM) if upright else (0, 0, RULER_MM, 0)))
    for mark in range(0, RULER_MM + 1):
        length = 3.0 if mark % 10 == 0 else 2.0 if mark % 5 == 0 else 1.0
        stroke(mark, 0.0, side * length)
    for mark in (0, 50, 100):
        words = f"{mark} mm" if mark == RULER_MM else str(mark)
        if upright:
            pdf.words(side * 3.6 + (1.6 if inwards else 0.0), mark, words, height_mm=1.6, align="centre", angle_deg=90.0, grey=RULER_GREY)
        else:
            pdf.words(mark, side * 3.6 - (0.0 if inwards else 1.6), words, height_mm=1.6, align="centre", grey=RULER_GREY)
    c.restoreState()


def test_square(pdf: Pdf, x: float, y: float) -> None:
    """A square of 50 mm with its lower left corner at x, y."""
    c = pdf.canvas
    c.saveState()
    c.setStrokeGray(RULER_GREY)
    c.setLineWidth(0.15)
    c.rect(x, y, SQUARE_MM, SQUARE_MM, stroke=1, fill=0)
    c.restoreState()
    pdf.words(x + 1.5, y + 1.5, f"{SQUARE_MM} x {SQUARE_MM} mm", height_mm=1.6, grey=RULER_GREY)


def cross(pdf: Pdf, x: float, y: float) -> None:
    """A register cross with a ring, to lay two pages over each other."""
    c = pdf.canvas
    c.saveState()
    c.setStrokeGray(WORDS_GREY)
    c.setLineWidth(0.15)
    c.line(x - CROSS_ARM_MM, y, x + CROSS_ARM_MM, y)
    c.line(x, y - CROSS_ARM_MM, x, y + CROSS_ARM_MM)
    c.circle(x, y, CROSS_RING_MM, stroke=1, fill=0)
    c.restoreState()


def frame(pdf: Pdf, tiling: Tiling, tile: Tile, at: tuple[float, float]) -> None:
    """The edge of what a page shows, and dashed where the overlap with a neighbour begins; `at` is its corner."""
    c = pdf.canvas
    (x, y), (w, h), o = at, tiling.net_mm, tiling.overlap_mm
    c.saveState()
    c.setStrokeGray(FRAME_GREY)
    c.setLineWidth(0.15)
    c.rect(x, y, w, h, stroke=1, fill=0)
    c.setDash([1.0, 1.5], 0)
    inner = {"left": (x + o, y, x + o, y + h), "right": (x + w - o, y, x + w - o, y + h)}
    inner |= {"bottom": (x, y + o, x + w, y + o), "top": (x, y + h - o, x + w, y + h - o)}
    for side, line in inner.items():
        if o and tiling.neighbour(tile, side):
            c.line(*line)
    c.restoreState()
    for cx in (x + 0.5 * o, x + w - 0.5 * o):
        for cy in (y + 0.5 * o, y + h - 0.5 * o):
            cross(pdf, cx, cy)


def neighbours(pdf: Pdf, tiling: Tiling, tile: Tile, at: tuple[float, float]) -> None:
    """In the margins: which page lies on which side."""
    (x, y), (w, h) = at, tiling.net_mm
    far = 0.5 * MARGIN_MM
    spots = {
        "left": (x - far + 1.0, y + 0.62 * h, 90.0),
        "right": (x + w + far - 1.0, y + 0.62 * h, -90.0),
        "bottom": (x + 0.7 * w, y - far - 1.0, 0.0),
        "top": (x + 0.7 * w, y + h + far - 1.5, 0.0),
    }
    for side, (sx, sy, angle) in spots.items():
        other = tiling.neighbour(tile, side)
        words = f"{side}: {other.name}" if other else f"{side}: nothing"
        pdf.words(sx, sy, words, height_mm=SMALL_MM, align="centre", angle_deg=angle, grey=WORDS_GREY)


def tile_furniture(pdf: Pdf, tiling: Tiling, tile: Tile, title: str) -> None:
    """Everything but the pattern on one page of a tiled sheet."""
    at = (MARGIN_MM, MARGIN_MM)
    frame(pdf, tiling, tile, at)
    ruler(pdf, *at, upright=False, inwards=False)
    ruler(pdf, *at, upright=True, inwards=False)
    test_square(pdf, at[0] + SQUARE_OFFSET_MM, at[1] + SQUARE_OFFSET_MM)
    neighbours(pdf, tiling, tile, at)
    top = at[1] + tiling.net_mm[1]
    pdf.words(at[0], top + 2.6, tile.name, height_mm=NAME_MM, grey=0.0)
    pdf.words(at[0] + 16.0, top + 2.6, title, height_mm=SMALL_MM, grey=WORDS_GREY)
    pdf.words(at[0] + 14.0, top - 16.0, tile.name, height_mm=6.0, grey=0.75)
