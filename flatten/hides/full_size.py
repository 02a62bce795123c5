"""A hide at full size with its pieces in their places, as DXF and SVG: nobody prints a hide, a table or projector
shows it."""

from dataclasses import dataclass, replace

import numpy as np

from flatten.draw.imprint import Imprint
from flatten.draw.marks import draw_piece
from flatten.draw.pen import Pen, PenElsewhere, PenLayer
from flatten.hides.laid_cut import ALONG_DEG, LaidCut, LaidHides
from flatten.nesting.outline import turned
from flatten.paper.dxf import drawn_dxf
from flatten.paper.svg import drawn_svg
from meshes.base.arrays import FloatArray

PAST_RIM_MM, CUT_NAME_MM, FLAW_NAME_MM = 20.0, 12.0, 8.0


@dataclass(frozen=True, eq=False)
class TurnedPen(PenElsewhere):
    """Draws on another pen, turned counter-clockwise by degrees, moved by shift (2,) mm, then mirrored top to bottom
    about `height_mm` where that is given: words are set anew, so that they can be read."""

    degrees: float
    shift: FloatArray
    height_mm: float | None = None

    def place(self, points: FloatArray) -> FloatArray:
        there = turned(np.asarray(points, dtype=float).reshape(-1, 2), self.degrees) + self.shift
        return there if self.height_mm is None else np.array([0.0, self.height_mm]) + there * [1.0, -1.0]

    def text(
        self, layer: PenLayer, at: tuple[float, float], words: str, *, height_mm: float, angle_deg: float = 0.0
    ) -> None:
        x, y = self.place(np.array([at]))[0]
        angle = angle_deg + self.degrees
        angle = angle if self.height_mm is None else -angle
        # Read from below or from the right, never upside down.
        angle = 90.0 - (90.0 - angle) % 180.0
        self.pen.text(layer, (float(x), float(y)), words, height_mm=height_mm, angle_deg=angle)


class FullSizeHide:
    """One hide, its backbone along x, the tail at the left. flesh_up: mirrored, as it lies flesh side up."""

    def __init__(self, laid: LaidHides, number: int, imprint: Imprint, *, flesh_up: bool) -> None:
        self.laid, self.hide, self.cuts = laid, laid.plan.hides[number], laid.on(number)
        self.imprint, self.flesh_up = imprint, flesh_up
        places = self.hide.along_and_off(self.hide.outline)
        self.low = places.min(axis=0) - PAST_RIM_MM
        size = places.max(axis=0) + PAST_RIM_MM - self.low
        self.size = (float(size[0]), float(size[1]))

    def _pen(self, pen: Pen, degrees: float, shift: FloatArray) -> TurnedPen:
        return TurnedPen(pen, degrees, shift - self.low, self.size[1] if self.flesh_up else None)

    def draw(self, pen: Pen) -> None:
        """Draw rim, zones, flaws, backbone and all pieces."""
        bare = self._pen(pen, 0.0, np.zeros(2))
        hide = self.hide
        rim = hide.along_and_off(hide.outline)
        bare.line(PenLayer.HIDE_RIM, rim, closed=True)
        bare.line(PenLayer.ZONE, np.array([[rim[:, 0].min(), 0.0], [rim[:, 0].max(), 0.0]]))
        for parts in hide.zones.values():
            for part in parts:
                bare.line(PenLayer.ZONE, hide.along_and_off(part), closed=True)
        for flaw in hide.flaws:
            ring = hide.along_and_off(flaw.points)
            bare.line(PenLayer.FLAW, ring, closed=True)
            x, y = ring.mean(axis=0)
            bare.text(PenLayer.FLAW, (float(x), float(y)), flaw.words, height_mm=FLAW_NAME_MM)
        for cut in self.cuts:
            self._cut(cut, pen)

    def _cut(self, cut: LaidCut, pen: Pen) -> None:
        there = self._pen(pen, cut.turn_deg + ALONG_DEG, cut.shift)
        piece = cut.cut.piece
        if piece is not None:
            # The very piece where it is seen so already: room for its words has been found.
            seen = piece if piece.flesh_up == self.flesh_up else replace(piece, flesh_up=self.flesh_up)
            draw_piece(seen, there, imprint=self.imprint)
            return
        points = cut.cut.points
        there.line(PenLayer.CUT, points, closed=True)
        x, y = points.mean(axis=0)
        there.text(PenLayer.TEXT, (float(x), float(y)), cut.cut.label, height_mm=CUT_NAME_MM, angle_deg=90.0)

    @property
    def words(self) -> str:
        """What is said of the drawing as a whole."""
        side = "flesh side up" if self.flesh_up else "right side (grain) up"
        return ", ".join(text for text in (self.imprint.line, self.hide.name, side) if text)


def hide_dxf(laid: LaidHides, number: int, imprint: Imprint, *, version: str, flesh_up: bool = False) -> bytes:
    """One hide as DXF."""
    hide = FullSizeHide(laid, number, imprint, flesh_up=flesh_up)
    return drawn_dxf(hide.draw, hide.size, version=version, words=hide.words)


def hide_svg(laid: LaidHides, number: int, imprint: Imprint, *, flesh_up: bool = False) -> bytes:
    """One hide as SVG."""
    hide = FullSizeHide(laid, number, imprint, flesh_up=flesh_up)
    return drawn_svg(hide.draw, hide.size, title=hide.words)
