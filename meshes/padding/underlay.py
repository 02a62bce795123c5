"""What lies under the cover at every place of a pad: layers, springs, and gaps between springs and rail.

Springs carry the face up to where they end. Between their end and the rail of a side lies the gap the sheet gives.
Cloth carried over it holds the padding up: fixed to the frame it does not move, fixed to the springs its inner edge
goes down with them. Without cloth nothing holds the padding there. Edges and sides are frame. Lengths mm.
"""

from collections.abc import Mapping

import numpy as np

from meshes.base.arrays import FloatArray
from meshes.numerics.smooth import smooth_step
from meshes.padding.layers import SHORE_MM, PadDistances, all_thickness, laid_thickness
from meshes.padding.stack import Stack, stack_of
from meshes.records.compression import curve
from meshes.records.materials import Material
from meshes.records.pad import SIDES, Pad


def underlay(pad: Pad, at: PadDistances, materials: Mapping[str, Material]) -> Stack:
    """The stack under every place of a pad. materials: those of its layers, by name."""
    curves = tuple(curve(materials[layer.material].table) for layer in pad.layers)
    # On blocks heights count from their upper faces: they, and what lies beneath them, are pressed from there.
    thickness = laid_thickness(pad.layers, at)
    held = 0.0 if at.blocks is None else at.blocks.gives * (all_thickness(pad.layers, at) - thickness)
    thickness = thickness + held
    below = np.zeros(len(at.below)) + np.sum(held, axis=0)
    springs, gap, depth, cloth = _ground(pad, at)
    give, preload = 0.0, 0.0
    if pad.springs is not None:
        give, preload = pad.springs.give_mm_per_kpa, pad.springs.preload_kpa
    return stack_of(
        curves,
        thickness,
        give_mm_per_kpa=give * np.maximum(springs, cloth),
        preload_kpa=preload,
        carried=1.0 - gap,
        depth_mm=depth,
        below_mm=below,
    )


def _ground(pad: Pad, at: PadDistances) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """At every place: share of springs, share of open gap, depth of that gap, and how far cloth goes down with the
    springs, as a share of what they do."""
    # Whatever turns is frame.
    face = smooth_step(at.in_from_turn / SHORE_MM)
    springs, gap = face, np.zeros(len(at.below))
    depth, cloth = np.zeros(len(at.below)), np.zeros(len(at.below))
    for name in SIDES:
        side = pad.sides[name]
        inward = at.from_side[name] - side.edge_radius
        if side.gap <= 0.0:
            continue
        springs = springs * smooth_step((inward - side.gap) / SHORE_MM)
        over = face * smooth_step((side.gap - inward) / SHORE_MM)
        if not side.cloth:
            gap = np.maximum(gap, over)
            depth = np.where(over > 0, np.maximum(depth, side.gap_depth), depth)
        elif side.cloth_fixed == "springs":
            hung = face * np.clip(inward / side.gap, 0.0, 1.0)
            cloth = np.where(inward < side.gap + SHORE_MM, np.maximum(cloth, hung), cloth)
    return springs, gap, depth, cloth
