"""What printed paper is checked with before anything is cut: a square, and rulers both ways."""

import numpy as np

from flatten.draw.imprint import NO_IMPRINT, Imprint, PrintedMeasure
from flatten.draw.lettering import SMALLEST_MM
from flatten.paper.pdf_pen import PdfPen

GREY = 0.45
_UP = (np.array([0.0, 1.0]), np.array([1.0, 0.0]))
_TICKS_MM = (1.2, 2.0, 3.0)


def draw_square(pen: PdfPen, at: tuple[float, float], *, imprint: Imprint = NO_IMPRINT) -> None:
    """The square to be measured before anything is cut; `at` is its lower left corner."""
    (x, y), square = at, imprint.square
    end = square.length_mm
    pen.rule([(x, y), (x + end, y), (x + end, y + end), (x, y + end)], width_mm=0.15, ink=GREY, closed=True)
    first, _, second = square.words.partition(" (")
    lines = [first, f"({second}"] if second else [first]
    for k, words in enumerate(reversed(lines)):
        pen.write((x + 2.0, y + 3.5 + 4.8 * k), words, height_mm=SMALLEST_MM, side=0.0, ink=GREY)


def draw_rulers(
    pen: PdfPen, level: tuple[float, float], upright: tuple[float, float], *, imprint: Imprint = NO_IMPRINT
) -> None:
    """A ruler along the page, beginning at `level`, and one up the page, beginning at `upright`."""
    for (x, y), along, up in ((level, np.array([1.0, 0.0]), np.array([0.0, 1.0])), (upright, *_UP)):
        _draw_ruler(pen, np.array([x, y]), along, up, imprint.ruler)


def _draw_ruler(pen: PdfPen, start: np.ndarray, along: np.ndarray, up: np.ndarray, ruler: PrintedMeasure) -> None:
    pen.rule([tuple(start), tuple(start + ruler.length_mm * along)], width_mm=0.15, ink=GREY)
    for k in range(round(ruler.length_mm / ruler.tick_mm) + 1):
        foot = start + ruler.tick_mm * k * along
        tick = _TICKS_MM[2 if k % ruler.labelled == 0 else 1 if k % ruler.middling == 0 else 0]
        pen.rule([tuple(foot), tuple(foot + tick * up)], width_mm=0.15, ink=GREY)
    at = start + (ruler.length_mm + 2.0) * along + 1.5 * up
    angle = 90.0 if along[1] else 0.0
    pen.write((at[0], at[1]), ruler.words, height_mm=SMALLEST_MM, ink=GREY, side=0.0, angle_deg=angle)
