"""Fold lines of a corner's leather, by its finish, each with what it says on the piece."""

import numpy as np

from flatten.corners.wedge import Wedge
from meshes.base.arrays import FloatArray
from meshes.base.units import SAME_MM
from meshes.records.corners import CornerFinish

# A relief cut stops so far from the corner of the board: half an inch (Hunker, Cut upholstery fabric corners).
RELIEF_STOP_MM = 12.7
# Of the arrow that shows which way a fold is laid.
_HEAD_MM = 4.0
# What is cut only when the corner is pulled.
RELIEF_CUT = "relief cut"
NamedLine = tuple[str, FloatArray]


def opens_to(corner: str) -> str:
    """The side that a fold at a corner opens to: never the front, where it would be seen and catch."""
    return "rear" if corner.startswith("rear") else corner.split("_")[1]


def fold_lines(wedge: Wedge, finish: CornerFinish, corner: str, allowance_mm: float) -> tuple[NamedLine, ...]:
    """Lines to fold by, and the relief cut in the allowance; allowance_mm: beyond the mouth. None at a corner that is
    cut in for a post."""
    if finish is CornerFinish.CUT:
        return ()
    diagonal = np.array([wedge.tip, wedge.far])
    cut = _relief_cut(wedge, allowance_mm)
    if finish is CornerFinish.DRAWN:
        return (("draw first", diagonal), *cut)
    # The leather of the flap that faces forward goes round the corner; its fold lies on the other one.
    fold, under = wedge.legs if corner.endswith("right") else wedge.legs[::-1]
    if finish is CornerFinish.DOUBLE:
        halves = [0.5 * (wedge.far + foot) for foot in (wedge.mouth[0], wedge.mouth[-1])]
        inner = [("in", np.array([wedge.tip, half])) for half in halves]
        middle = wedge.tip + 0.6 * (wedge.far - wedge.tip)
        arrows = [("", _arrow(_on(leg, 0.6), middle)) for leg in (fold, under)]
        return (("fold", fold), ("fold", under), *inner, ("corner", diagonal), *arrows, *cut)
    return (
        ("fold", fold),
        ("", under),
        ("in", diagonal),
        ("", _arrow(_on(fold, 0.6), _on(under, 0.6))),
        *cut,
    )


def _on(leg: FloatArray, share: float) -> FloatArray:
    """A place on a leg, by its share from the tip on."""
    return np.asarray(leg[-1] + share * (leg[0] - leg[-1]))


def _arrow(start: FloatArray, end: FloatArray) -> FloatArray:
    """An arrow as one line, by which a fold is laid."""
    way = end - start
    length = float(np.linalg.norm(way))
    way = way / max(length, 1e-9)
    aside, head = np.array([-way[1], way[0]]), min(_HEAD_MM, 0.3 * length)
    foot = start + 0.1 * length * way
    tip = end - 0.1 * length * way
    barbs = [tip - head * way + side * 0.5 * head * aside for side in (1.0, -1.0)]
    return np.array([foot, tip, barbs[0], tip, barbs[1]])


def _relief_cut(wedge: Wedge, allowance_mm: float) -> tuple[NamedLine, ...]:
    """From the corner of the allowance in along the diagonal, which spares a lump under the board."""
    way = wedge.far - wedge.tip
    length = float(np.linalg.norm(way))
    if length < SAME_MM or allowance_mm <= RELIEF_STOP_MM:
        return ()
    way = way / length
    line = np.array([wedge.far + RELIEF_STOP_MM * way, wedge.far + allowance_mm * way])
    return ((RELIEF_CUT, line),)
