"""Which lines of a piece are straight, and what that cost, in a trimmer's words."""

from collections.abc import Sequence
from dataclasses import dataclass

from flatten.demand.fair_lines import straight_lines
from flatten.demand.fairness import STRAIGHT_BOW_MM, STRAIGHT_OVER_MM, bow_in_300
from flatten.maps.flat import Flat, Straightening
from flatten.pieces.piece import Piece
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel

# A price below this, a fraction of demand, is none.
LEAST_TOLD = 0.0005


@dataclass(frozen=True)
class LineBow:
    """How straight a line came out that should be: its name, whether it is a valley, its bow in 300 mm, mm."""

    name: str
    valley: bool
    bow_mm: float

    @property
    def straight(self) -> bool:
        return self.bow_mm <= STRAIGHT_BOW_MM


def line_bows(pad: BuiltPad, panel: Panel, flat: Flat) -> list[LineBow]:
    """The lines of a panel's piece that should be straight; of those in several parts each part."""
    lines = straight_lines(pad, panel)
    return [LineBow(line.name, line.valley is not None, bow_in_300(flat.points[line.vertices])) for line in lines]


def straight_words(pads: Sequence[BuiltPad], piece: Piece, flat: Flat) -> str:
    """What is told of the lines of a piece of the cover; nothing when they are straight and cost nothing."""
    for pad in pads:
        for panel in pad.panels:
            if panel.name == piece.panels[0]:
                return _words(line_bows(pad, panel, flat), flat.straightening)
    return ""


def _words(lines: Sequence[LineBow], cost: Straightening | None) -> str:
    words, bowed = [], [line for line in lines if not line.straight]
    if cost is not None and cost.paid >= LEAST_TOLD:
        words.append(f"straight lines cost {100.0 * cost.paid:.1f} points of demand")
    if bowed:
        names = list(dict.fromkeys(line.name for line in bowed))
        bows = f"{'bow up to' if len(names) > 1 else 'bows'} {max(line.bow_mm for line in bowed):.1f} mm"
        cut = ", fillers there are cut to the curve" if any(line.valley for line in bowed) else ""
        words.append(f"{_listed(names)} {bows} in {STRAIGHT_OVER_MM:.0f} mm{cut}")
        if cost is not None and cost.asks is None:
            words.append("no straight way was found within what the leather gives")
        elif cost is not None and cost.asks is not None and cost.asks >= LEAST_TOLD:
            words.append(f"straight would ask {100.0 * cost.asks:.1f} points more")
    return "; ".join(words)


def _listed(names: Sequence[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
