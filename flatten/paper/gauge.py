"""Section gauges: card templates at full size, cut along the padded edge and held against it while it is built up.

A gauge goes over one edge of a cut: its inner line is the cover at rest, its outer one stands a hand's breadth away. A
page is as large as its gauge asks for; for a small printer, print it as a poster at 100 %. Lengths mm.
"""

import textwrap
from dataclasses import dataclass

import numpy as np
from shapely import LineString, Polygon

from flatten.paper.pdfpen import POINTS_PER_MM, PdfPen, new_canvas
from flatten.paper.pen import Layer, Pen
from flatten.paper.svg import SvgPen, svg_bytes
from meshes.arrays import FloatArray
from meshes.proposal import Comparison
from meshes.section import Section

# How far a gauge reaches to both sides of the ridge along the cover, how broad its card is, and the room round it.
REACH_MM, CARD_MM, ROOM_MM = 130.0, 45.0, 15.0
FOOT_MM, SQUARE_MM = 75.0, 50.0


@dataclass(frozen=True, eq=False)
class Gauge:
    """One card. key: for a file name; title; outline (k, 2) closed, on its page; edge (m, 2): the part of it that is
    held against the padded edge; size: width and height of the page."""

    key: str
    title: str
    note: str
    outline: FloatArray
    edge: FloatArray
    size: tuple[float, float]


def gauges_of(pad: str, cut: Comparison) -> tuple[Gauge, ...]:
    """One gauge for both edges of a cut as padded, and one for the edge with padding proposed."""
    made = [_gauge(pad, cut, cut.padded, ridge.side, "as padded") for ridge in cut.padded.ridges]
    if cut.proposed is not None and cut.proposal is not None and cut.proposal.layers:
        made.append(_gauge(pad, cut, cut.proposed, cut.padded.ridge.side, "proposed"))
    return tuple(made)


def _gauge(pad: str, cut: Comparison, shown: Section, side: str, how: str) -> Gauge:
    ridge = next(ridge for ridge in shown.ridges if ridge.side == side)
    middle = int(np.argmin(np.linalg.norm(shown.cover - np.array(ridge.at), axis=1)))
    arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(shown.cover, axis=0), axis=1))])
    line = shown.cover[np.abs(arc - arc[middle]) <= REACH_MM]
    card = _card(line)
    low, high = card.min(axis=0), card.max(axis=0)
    shift = np.array([ROOM_MM, ROOM_MM + FOOT_MM]) - low
    width = max(float(high[0] - low[0]) + 2 * ROOM_MM, 190.0)
    return Gauge(
        key=f"{side}-{how.replace(' ', '-')}",
        title=f"{pad}, cut {cut.name}, {side}, {how}",
        note=f"smallest radius {ridge.radius_mm:.0f} mm; hold the edge marked PADDING against the finished edge",
        outline=card + shift,
        edge=line + shift,
        size=(width, float(high[1] - low[1]) + 2 * ROOM_MM + FOOT_MM),
    )


def _card(line: FloatArray) -> FloatArray:
    """The card outside a line that runs with its outer side on the left: closed, without crossing itself."""
    strip = LineString(line).buffer(CARD_MM, cap_style="flat", single_sided=True)
    assert isinstance(strip, Polygon)
    ring = np.array(strip.exterior.coords)[:-1]
    return np.asarray(ring)


def draw_gauge(pen: Pen, gauge: Gauge) -> None:
    """The card with its words on any pen."""
    pen.line(Layer.CUT, gauge.outline, closed=True)
    x = 0.5 * (gauge.size[0] + SQUARE_MM + ROOM_MM)
    room = gauge.size[0] - SQUARE_MM - 3 * ROOM_MM
    for k, words in enumerate((gauge.title, *_wrapped(gauge.note, room))):
        pen.text(Layer.TEXT, (x, ROOM_MM + 45.0 - 7.0 * k), words, height_mm=2.4)
    square = np.array([[0.0, 0.0], [SQUARE_MM, 0.0], [SQUARE_MM, SQUARE_MM], [0.0, SQUARE_MM]]) + ROOM_MM
    pen.line(Layer.INNER, square, closed=True)
    pen.text(Layer.TEXT, (ROOM_MM + 25.0, ROOM_MM + 25.0), "50 x 50 mm", height_mm=2.4)
    middle = len(gauge.edge) // 2
    way = gauge.edge[middle + 1] - gauge.edge[middle - 1]
    out = np.array([-way[1], way[0]]) / np.linalg.norm(way)
    at = gauge.edge[middle] + 8.0 * out
    angle = (float(np.rad2deg(np.arctan2(way[1], way[0]))) + 90.0) % 180.0 - 90.0
    pen.text(Layer.TEXT, (float(at[0]), float(at[1])), "PADDING", height_mm=3.0, angle_deg=angle)


def _wrapped(words: str, room_mm: float) -> list[str]:
    return textwrap.wrap(words, max(int(room_mm / 2.0), 20))


def gauge_pdf(gauges: tuple[Gauge, ...]) -> bytes:
    """Every gauge on a page of its own at full size, as the bytes of a PDF file."""
    canvas, stream = new_canvas("Section gauges")
    pen = PdfPen(canvas)
    for gauge in gauges:
        canvas.setPageSize((gauge.size[0] * POINTS_PER_MM, gauge.size[1] * POINTS_PER_MM))
        draw_gauge(pen, gauge)
        canvas.showPage()
    canvas.save()
    return stream.getvalue()


def gauge_svg(gauge: Gauge) -> bytes:
    """One gauge at full size as SVG."""
    pen = SvgPen(*gauge.size)
    draw_gauge(pen, gauge)
    return svg_bytes(pen, "Section gauge, full size in millimetres")
