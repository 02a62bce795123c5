"""A drawing of lines, areas and words in pixels, y downwards, that is written as SVG or as PNG: both show the same.

Words are measured with the font that the PNG is lettered in, which is a wide one: in SVG they need no more room.
"""

import io
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from html import escape

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from meshes.base.arrays import FloatArray
from meshes.base.files import FONT_FILE, number
from meshes.base.units import Unit, in_shop_unit

# The PNG is drawn larger and scaled down, so that its lines are smooth, and kept at twice the size of the SVG.
PNG_OVERSIZE, PNG_SCALE = 2, 2


@dataclass(frozen=True, eq=False)
class DrawnLine:
    """A line (k, 2); filled where fill is a colour; dash: lengths of line and gap."""

    points: FloatArray
    colour: str
    width: float
    fill: str = ""
    dash: tuple[float, float] | None = None


@dataclass(frozen=True)
class DrawnText:
    """Text at a place; anchor: "start", "middle" or "end" of its line, which the place stands on."""

    text: str
    at: tuple[float, float]
    size: float
    colour: str
    anchor: str = "start"
    bold: bool = False


@dataclass
class Drawing:
    """What is drawn, in order. unit: in inches, lengths in words have inches with the mm beside them."""

    size: tuple[float, float]
    title: str
    items: list[DrawnLine | DrawnText] = field(default_factory=list)
    unit: Unit = "mm"

    def said(self, text: str) -> str:
        """A text as it is written here."""
        return in_shop_unit(text, unit=self.unit)

    def line(
        self,
        points: FloatArray | Sequence[Sequence[float]],
        colour: str,
        width: float,
        *,
        dash: tuple[float, float] | None = None,
    ) -> None:
        """A line of a colour."""
        self.items.append(DrawnLine(np.asarray(points, dtype=float), colour, width, "", dash))

    def area(
        self, points: FloatArray | Sequence[Sequence[float]], fill: str, *, edge: str = "", width: float = 0.0
    ) -> None:
        """A filled ring."""
        self.items.append(DrawnLine(np.asarray(points, dtype=float), edge, width if edge else 0.0, fill))

    def words(
        self,
        text: str,
        at: Sequence[float],
        *,
        size: float,
        colour: str,
        anchor: str = "start",
        bold: bool = False,
    ) -> None:
        """Text on a line."""
        self.items.append(DrawnText(self.said(text), (float(at[0]), float(at[1])), size, colour, anchor, bold))

    def add(self, other: "Drawing", shift: tuple[float, float]) -> None:
        """Everything of another drawing, moved."""
        for item in other.items:
            if isinstance(item, DrawnText):
                self.items.append(replace(item, at=(item.at[0] + shift[0], item.at[1] + shift[1])))
            else:
                self.items.append(replace(item, points=item.points + np.array(shift)))

    def svg(self) -> str:
        """The drawing as the text of an SVG file."""
        wide, high = (number(value, 1) for value in self.size)
        body = "".join(_svg(item) for item in self.items)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}" role="img" '
            f'aria-label="{escape(self.title)}" font-family="DejaVu Sans, Verdana, sans-serif">{body}</svg>\n'
        )

    def png(self) -> bytes:
        """The drawing as a PNG file, on white."""
        scale = PNG_OVERSIZE * PNG_SCALE
        large = (round(self.size[0] * scale), round(self.size[1] * scale))
        image = Image.new("RGB", large, "#ffffff")
        draw = ImageDraw.Draw(image)
        for item in self.items:
            if isinstance(item, DrawnText):
                _letter(draw, item, scale)
            else:
                _stroke(draw, item, scale)
        held = io.BytesIO()
        image.resize((large[0] // PNG_OVERSIZE, large[1] // PNG_OVERSIZE), Image.Resampling.BOX).save(held, "PNG")
        return held.getvalue()


def text_width(text: str, size: float) -> float:
    """How wide a text is, in pixels."""
    return float(_font(16.0).getlength(text)) * size / 16.0


def ring_of(middle: Sequence[float] | FloatArray, radius: float) -> FloatArray:
    """A closed ring of points."""
    turn = np.linspace(0.0, 2.0 * np.pi, 73)
    return np.asarray(middle) + radius * np.column_stack([np.cos(turn), np.sin(turn)])


@cache
def _font(size: float) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(str(FONT_FILE), size)


def _svg(item: DrawnLine | DrawnText) -> str:
    if isinstance(item, DrawnText):
        x, y = (number(value, 1) for value in item.at)
        looks = f' text-anchor="{item.anchor}"' * (item.anchor != "start") + ' font-weight="bold"' * item.bold
        looks += f' font-size="{number(item.size, 1)}" fill="{item.colour}"'
        return f'<text x="{x}" y="{y}"{looks}>{escape(item.text)}</text>'
    path = "M" + "L".join(f"{number(x, 1)} {number(y, 1)}" for x, y in item.points) + "Z" * bool(item.fill)
    looks = f' stroke="{item.colour}" stroke-width="{number(item.width, 1)}"' if item.width else ""
    if item.dash is not None:
        looks += f' stroke-dasharray="{number(item.dash[0], 1)} {number(item.dash[1], 1)}"'
    return f'<path d="{path}" fill="{item.fill or "none"}"{looks}/>'


def _letter(draw: ImageDraw.ImageDraw, item: DrawnText, scale: float) -> None:
    anchor = {"start": "ls", "middle": "ms", "end": "rs"}[item.anchor]
    at = (item.at[0] * scale, item.at[1] * scale)
    stroke = round(0.025 * item.size * scale) if item.bold else 0
    draw.text(
        at, item.text, fill=item.colour, font=_font(item.size * scale), anchor=anchor, stroke_width=stroke,
        stroke_fill=item.colour,
    )  # fmt: skip


def _stroke(draw: ImageDraw.ImageDraw, item: DrawnLine, scale: float) -> None:
    points = item.points * scale
    if item.fill:
        draw.polygon([tuple(p) for p in points.tolist()], fill=item.fill)
    if not item.width:
        return
    outline = np.vstack([points, points[:1]]) if item.fill else points
    wide = max(1, round(item.width * scale))
    for piece in [outline] if item.dash is None else _dashes(outline, item.dash[0] * scale, item.dash[1] * scale):
        draw.line([tuple(p) for p in piece.tolist()], fill=item.colour, width=wide, joint="curve")


def _dashes(points: FloatArray, on: float, off: float) -> list[FloatArray]:
    """A line as its dashes."""
    run = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    pieces = []
    for start in np.arange(0.0, run[-1], on + off):
        end = min(start + on, run[-1])
        places = np.concatenate([[start], run[(run > start) & (run < end)], [end]])
        pieces.append(np.column_stack([np.interp(places, run, points[:, k]) for k in (0, 1)]))
    return pieces
