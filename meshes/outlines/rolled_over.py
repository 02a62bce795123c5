"""Sides over which a face runs on between gables: which corners of the outline they end at, and what goes with them.

Lengths mm, angles degrees.
"""

from collections.abc import Callable, Mapping

import numpy as np

from meshes.base.arrays import FloatArray
from meshes.base.problems import Problem
from meshes.records.pad import SIDES, Pad, Side

# The side beside goes straight down within this.
PLUMB_WITHIN_DEG = 0.5
# Beyond the arc of the section a gable goes on this far before its side may bend.
STRAIGHT_ON_MM = 10.0
# Makes a problem, as a chart's does.
MakeFault = Callable[[str, tuple[str | int, ...], str], Problem]


def over_corners(pad: Pad) -> dict[int, str]:
    """The corners of a pad's outline at which an over-side ends, each with the side beside it there."""
    names, found = pad.outline.side_of_edge, {}
    for name in pad.bands.over:
        k = names.index(name)
        found[k] = names[k - 1]
        found[(k + 1) % len(names)] = names[(k + 1) % len(names)]
    return found


def over_faults(pad: Pad, padding_mm: Mapping[str, float], make_problem: MakeFault) -> list[Problem]:
    """What does not go with a face that runs on over a side; padding_mm: on the edge of every side."""
    faults = [problem for name in pad.bands.over for problem in _bands_faults(pad, name, make_problem)]
    if faults:
        return faults
    return [problem for name in pad.bands.over for problem in _form_faults(pad, name, padding_mm, make_problem)]


def _bands_faults(pad: Pad, name: str, make_problem: MakeFault) -> list[Problem]:
    word, keys = pad.side_word(name), ("bands", "over")
    number = SIDES.index(name)
    beside = (SIDES[number - 1], SIDES[(number + 1) % len(SIDES)])
    faults = []
    if pad.sides[name].band:
        text = f"the face runs on over the {word} side, which has a band of its own; set band = false there"
        faults.append(make_problem("G185", keys, f'{text}, or take "{word}" out'))
    bare = [side for side in beside if not pad.sides[side].band]
    if bare:
        text = (
            f"the face runs on over the {word} side, and the {pad.side_word(bare[0])} side has no band to be its gable"
        )
        faults.append(make_problem("G185", keys, f'{text}; set band = true there, or take "{word}" out'))
    return faults


def _form_faults(
    pad: Pad,
    name: str,
    padding_mm: Mapping[str, float],
    make_problem: MakeFault,
) -> list[Problem]:
    word, keys = pad.side_word(name), ("bands", "over")
    names, corners = pad.outline.side_of_edge, np.asarray(pad.outline.corners)
    count = len(names)
    if names.count(name) > 1:
        text = f"the face runs on over the {word} side, which is not straight; only a straight side can be rolled over"
        return [make_problem("G186", keys, text)]
    k, radius = names.index(name), pad.sides[name].edge_radius
    faults = []
    others = [n for n in range(count) if n not in (k, (k + 1) % count)]
    deep = [-float((corners[n] - corners[k]) @ _outward(corners, k)) for n in others]
    need = [radius + max(pad.outline.radii[n], pad.sides[names[n]].edge_radius) + STRAIGHT_ON_MM for n in others]
    if any(have < want for have, want in zip(deep, need, strict=True)):
        text = (
            f"the face runs on over the {word} side, so the sides beside it run straight for {max(need):.0f} mm, found "
        )
        text += f"{min(deep):.0f} mm; make the edge radius smaller, or the pad deeper"
        faults.append(make_problem("G186", keys, text))
    for corner, edge in ((k, (k - 1) % count), ((k + 1) % count, (k + 1) % count)):
        side = pad.sides[names[edge]]
        beside, given = pad.side_word(names[edge]), pad.outline.radii[corner]
        told = f"the face runs on over the {word} side"
        if given > side.edge_radius:
            text = (
                f"{told}, and its corner beside the {beside} side is {given:.4g} mm round; a gable needs a corner as "
            )
            text += f"sharp as its edge: make it {side.edge_radius:.4g} mm or less"
            faults.append(make_problem("G186", ("outline", "corner_radius"), text))
        if side.edge_radius > radius:
            text = (
                f"{told} with an edge of {radius:.4g} mm radius, and the {beside} edge has {side.edge_radius:.4g} mm; "
            )
            faults.append(make_problem("G186", _edge_keys(pad, names[edge]), f"{text}make that no larger"))
        if abs(side.turn_deg - 90.0) > PLUMB_WITHIN_DEG:
            text = (
                f"{told}, so the {beside} side goes straight down beside it: write turn = 90, found {side.turn_deg:.4g}"
            )
            faults.append(make_problem("G186", ("sides", names[edge], "turn"), text))
        if _seam_too_low(side, padding_mm[names[edge]]):
            most = 0.25 * np.pi * (side.edge_radius + padding_mm[names[edge]])
            text = f"{told}; the seam of its gable on the {beside} side lies on its edge, at most {most:.0f} mm below, "
            faults.append(
                make_problem("G186", ("sides", names[edge], "seam_below"), f"{text}found {side.seam_below:.4g}")
            )
    return faults


def _edge_keys(pad: Pad, side: str) -> tuple[str | int, ...]:
    """Where a sheet says how round the edge of a side is: at the last block on the frame, else at the side."""
    blocks = [k for k, layer in enumerate(pad.layers) if layer.block is not None]
    return ("layer", blocks[-1], "edge") if blocks else ("sides", side, "edge_radius")


def _outward(corners: FloatArray, edge: int) -> FloatArray:
    way = corners[(edge + 1) % len(corners)] - corners[edge]
    way = way / np.linalg.norm(way)
    return np.array([way[1], -way[0]])


def _seam_too_low(side: Side, padding_mm: float) -> bool:
    return side.seam_below > 0.25 * np.pi * (side.edge_radius + padding_mm) + 1e-9
