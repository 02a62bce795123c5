"""Room for a covered board beside a rail: what lies between them on each side, and at folded corners.

Usual clearances per side: 3 mm with one layer of batting, 6 with leather, 9 with a thick pad under it (LumberJocks;
Woodcraft, 2010; Leather Hide Store).
"""

from dataclasses import replace

from flatten.corners.words import FOLD_LAYERS
from meshes.base.problems import Problem
from meshes.records.corners import CornerFinish
from meshes.seat.build import BuiltPad
from meshes.support.chart import MakeProblem

# Batting and foam on the side of a board are pressed to about a third between board and rail (common practice, no
# source).
PRESSED_SHARE = 1.0 / 3.0


def clearance_notes(pad: BuiltPad, leather_mm: float, make_problem: MakeProblem) -> list[Problem]:
    """What does not go between board and rail, with what to do; leather_mm: thickness of the leather."""
    room = pad.pad.folds.clearance
    if room is None:
        return []
    padding = PRESSED_SHARE * sum(
        layer.thickness for layer in pad.pad.layers if layer.where == "all" and layer.taper == 0.0
    )
    # A block that hangs over takes the room above the board.
    padding += max([0.0, *(layer.block.overhang for layer in pad.pad.layers if layer.block is not None)])
    folded = any(fold.finish in (CornerFinish.SINGLE, CornerFinish.DOUBLE) for fold in pad.division.folds)
    side, corner = leather_mm + padding, (FOLD_LAYERS if folded else 1) * leather_mm + padding
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
            f"folded corners are {FOLD_LAYERS} layers, {corner:.1f} mm with the padding, and the rail leaves "
            f"{room:g} mm; cut away or skive the inner layers there, or make the board {corner - room:.1f} mm smaller "
            "on every side"
        )
        told.append(make_problem("G180", ("folds", "clearance"), text))
    return [replace(problem, warning=True) for problem in told]
