"""What lies under a cover, place by place: layers of padding, springs below them, and gaps that nothing spans.

Layers are named from the support outward. Lengths mm, pressures kPa.
"""

from dataclasses import dataclass

import numpy as np

from meshes.base.arrays import FloatArray, IntArray, locked_floats
from meshes.records.compression import Curve


@dataclass(frozen=True, eq=False)
class Stack:
    """What lies under the cover at every vertex. curves: one per layer, from the support outward; thickness_mm
    (layers, n); give_mm_per_kpa and preload_kpa (n,): springs below, 0 on board; carried (n,): 1 where something holds
    the padding up, 0 over an open gap; depth_mm (n,): how far it can sink there; below_mm (n,): how much of the layers
    lies below the surface that heights count from, as blocks do, which do not fan."""

    curves: tuple[Curve, ...]
    thickness_mm: FloatArray
    give_mm_per_kpa: FloatArray
    preload_kpa: FloatArray
    carried: FloatArray
    depth_mm: FloatArray
    below_mm: FloatArray

    def free_mm(self) -> FloatArray:
        """Height of the padding before anything presses, shape (n,)."""
        return np.asarray(self.thickness_mm.sum(axis=0) - self.below_mm)

    def some(self, chosen: IntArray) -> "Stack":
        """The stacks of some vertices."""
        return Stack(
            self.curves,
            self.thickness_mm[:, chosen],
            self.give_mm_per_kpa[chosen],
            self.preload_kpa[chosen],
            self.carried[chosen],
            self.depth_mm[chosen],
            self.below_mm[chosen],
        )


def stack_of(
    curves: tuple[Curve, ...],
    thickness_mm: FloatArray,
    *,
    give_mm_per_kpa: FloatArray | float = 0.0,
    preload_kpa: FloatArray | float = 0.0,
    carried: FloatArray | float = 1.0,
    depth_mm: FloatArray | float = 0.0,
    below_mm: FloatArray | float = 0.0,
) -> Stack:
    """A stack of layers, thickness_mm (layers, n); on board where nothing else is said."""
    thickness = np.array(thickness_mm, dtype=np.float64, ndmin=2)
    n = thickness.shape[1]

    def every(value: FloatArray | float) -> FloatArray:
        return locked_floats(np.broadcast_to(np.asarray(value, dtype=np.float64), (n,)))

    parts = (every(give_mm_per_kpa), every(preload_kpa), every(carried), every(depth_mm), every(below_mm))
    return Stack(curves, locked_floats(thickness), *parts)
