"""Flies: strips of cloth where a neighbour hides the cover, and the leather that they save.

Without a fly the leather would go on to the tack line, and beyond it by what is pulled; with one it ends an allowance
past the fly's seam. Lengths mm, areas mm2.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import MultiLineString, Polygon

from flatten.pieces.piece import Piece
from meshes.base.files import number
from meshes.base.problems import Problem
from meshes.base.surface import curve_length
from meshes.base.units import SQUARE_FOOT_MM2
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel, PanelRole
from meshes.sheet.whole import Allowance
from meshes.support.chart import MakeProblem
from meshes.support.line_roles import LineRole

# Fingers or pliers hold so much of an edge that is pulled (common practice, no source).
LEAST_GRIP_MM = 30.0


@dataclass(frozen=True)
class FlyFigures:
    """One fly, of a mirrored pair the one that is drawn. side: of its pad; length: of its seam on the piece; wide: its
    strip as it is drawn and cut; grip: what the strip leaves beyond the tack line; saved: leather of each; count: how
    many are cut."""

    panel: str
    side: str
    length_mm: float
    wide_mm: float
    grip_mm: float
    saved_mm2: float
    count: int


def fly_figures(panel: Panel, piece: Piece, allowance: Allowance) -> FlyFigures | None:
    """Figures of a fly by its piece; None for any other piece."""
    if panel.role is not PanelRole.FLY:
        return None
    pairs = list(zip(panel.rim, piece.edges, strict=True))
    seams = [edge for rim, edge in pairs if rim.role is LineRole.FLY]
    low = [edge for rim, edge in pairs if rim.role is LineRole.TACK]
    side = next(rim.side for rim, _ in pairs if rim.role is LineRole.FLY)
    pulled = sum(curve_length(edge.points) * allowance.pulled for edge in low)
    sewn = sum(curve_length(edge.points) * edge.allowance_mm for edge in seams)
    saved = float(Polygon(piece.sew).area) + pulled - sewn
    length = sum(curve_length(edge.points) for edge in seams)
    count = piece.cut_count + piece.mirrored_count
    grip = min(edge.allowance_mm for edge in low)
    seam_lines = MultiLineString([edge.points for edge in seams])
    low_points = shapely.points(np.concatenate([edge.points for edge in low]))
    deep = float(np.mean(shapely.distance(low_points, seam_lines)))
    wide = min(edge.allowance_mm for edge in seams) + deep + grip
    return FlyFigures(panel.name, side, length, wide, grip, saved, count)


def flies_of(pad: BuiltPad, pieces: Iterable[Piece], allowance: Allowance) -> tuple[FlyFigures, ...]:
    """All flies of a pad, mirrored pairs once."""
    panels = {panel.name: panel for panel in pad.panels}
    found = [fly_figures(panels[p.panels[0]], p, allowance) for p in pieces if p.panels and p.panels[0] in panels]
    return tuple(one for one in found if one is not None)


def saved_words(fly: FlyFigures) -> str:
    """How much leather a fly saves, in words."""
    each = " each" if fly.count > 1 else ""
    square_feet = number(fly.saved_mm2 / SQUARE_FOOT_MM2, 2)
    return f"saves {number(fly.saved_mm2 / 1e6, 3)} m2 of leather{each} ({square_feet} sq ft)"


def with_fly_notes(pad: BuiltPad, panel: Panel, piece: Piece, allowance: Allowance) -> Piece:
    """The piece of a fly with what it is for; any other piece as it is."""
    fly = fly_figures(panel, piece, allowance)
    if fly is None:
        return piece
    fixings = pad.pad.fixings
    words = (
        f"strip {number(fly.wide_mm, 0)} mm wide as cut, sewn on {fixings.past:g} mm past the crease",
        saved_words(fly),
    )
    return replace(piece, notes=(*piece.notes, *words))


def fly_notes(pad: BuiltPad, pieces: Sequence[Piece], make_problem: MakeProblem, allowance: Allowance) -> list[Problem]:
    """Flies whose strip does not reach far enough beyond the tack line to be pulled."""
    notes = []
    for fly in flies_of(pad, pieces, allowance):
        if fly.grip_mm < LEAST_GRIP_MM - 1e-6:
            wanted = pad.pad.fixings.strip + LEAST_GRIP_MM - fly.grip_mm
            side = pad.pad.side_word(fly.side)
            text = (
                f"a strip of {pad.pad.fixings.strip:g} mm leaves {fly.grip_mm:.0f} mm of the {side} fly "
                f"beyond the tack line, and a hand needs {LEAST_GRIP_MM:g}; write strip = {wanted:.0f} or more"
            )
            notes.append(replace(make_problem("G201", ("fixing", "strip"), text), warning=True))
    return notes
