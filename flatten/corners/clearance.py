"""Room for a covered board beside a rail: what lies between them on each side, and at folded corners.

Usual clearances per side: 3 mm with one layer of batting, 6 with leather, 9 with a thick pad under it (LumberJocks;
Woodcraft, 2010; Leather Hide Store). What counts as thin and as thick is common practice, no source.
"""

from dataclasses import replace

from flatten.corners.words import CORNER_LAYERS
from meshes.base.problems import Problem
from meshes.records.corners import CornerFinish
from meshes.records.pad import Pad
from meshes.seat.build import BuiltPad
from meshes.support.blocks import overhang_mm
from meshes.support.chart import MakeProblem

# Batting and foam on the side of a board are pressed to about a third between board and rail (common practice, no
# source).
PRESSED_SHARE = 1.0 / 3.0
# Clearances by what goes in, mm; a covering and a pad up to so thick are thin, a pad above the last is thick.
THIN_CLEARANCE_MM, USUAL_CLEARANCE_MM, THICK_CLEARANCE_MM = 3.0, 6.0, 9.0
THIN_COVERING_MM, THIN_PAD_MM, THICK_PAD_MM = 0.8, 12.0, 25.0


def clearance_mm(pad: Pad, leather_mm: float) -> float | None:
    """Between the board and the rail on each side: as the sheet has it, else as is usual; None where there is no
    rail."""
    if not pad.folds.rail or pad.folds.clearance is not None:
        return pad.folds.clearance
    thick = sum(layer.thickness for layer in pad.layers if layer.where in ("all", "face") and layer.within is None)
    if leather_mm <= THIN_COVERING_MM and thick <= THIN_PAD_MM:
        return THIN_CLEARANCE_MM
    return THICK_CLEARANCE_MM if thick > THICK_PAD_MM else USUAL_CLEARANCE_MM


def clearance_notes(pad: BuiltPad, leather_mm: float, make_problem: MakeProblem) -> list[Problem]:
    """What does not go between board and rail, with what to do; leather_mm: thickness of the leather."""
    room = clearance_mm(pad.pad, leather_mm)
    if room is None:
        return []
    padding = PRESSED_SHARE * sum(
        layer.thickness for layer in pad.pad.layers if layer.where == "all" and layer.taper == 0.0
    )
    # A block that hangs over takes the room above the board.
    padding += max([0.0, *(overhang_mm(pad.pad, layer.block) for layer in pad.pad.layers if layer.block is not None)])
    layers = max([1, *(CORNER_LAYERS[finish] for _, finish in pad.pad.folds.finishes)])
    side, corner = leather_mm + padding, layers * leather_mm + padding
    told = []
    if side > room:
        text = (
            f"{leather_mm:.1f} mm of leather and {padding:.1f} mm of pressed padding do not go into {room:g} mm "
            f"between board and rail; cut the padding away below the board's upper edge, or make the board "
            f"{side - room:.1f} mm smaller on every side"
        )
        told.append(make_problem("G180", ("folds", "clearance"), text))
    elif corner > room:
        text = (
            f"corners as they are finished are {layers} layers, {corner:.1f} mm with the padding, and the rail leaves "
            f"{room:g} mm; cut away or skive the inner layers there, or make the board {corner - room:.1f} mm smaller "
            f"on every side{_thinner(layers, leather_mm, padding, room)}"
        )
        told.append(make_problem("G180", ("folds", "clearance"), text))
    return [replace(problem, warning=True) for problem in told]


def _thinner(layers: int, leather_mm: float, padding_mm: float, room_mm: float) -> str:
    """What corners of other kinds would need there, for those that are thinner."""
    kinds = [kind for kind in (CornerFinish.DRAWN, CornerFinish.SEWN) if CORNER_LAYERS[kind] < layers]
    told = []
    for kind in kinds:
        thick = CORNER_LAYERS[kind] * leather_mm + padding_mm
        told.append(f"{kind} {thick:.1f} mm, which {'goes in' if thick <= room_mm else 'does not go in either'}")
    asks = "; drawn ones ask the leather for no more than folded ones" if len(kinds) > 1 else ""
    return f"; other corners need {', '.join(told)}{asks}" if told else ""
