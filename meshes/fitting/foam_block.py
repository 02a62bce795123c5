"""A block of foam under weights as a compression curve: share of its height against the pressure on its face."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from meshes.base.problems import KeyPath
from meshes.fitting.strips import GRAVITY_N_PER_KG, MANY_SPARE, VARIES_SHARE, Measured
from meshes.schema.tables import BlockInput
from meshes.schema.words import Faults

# Heights of a loaded block are read between two boards so well (common practice).
HEIGHT_READ_MM = 0.5
BLOCK_SOURCE = "measured: a block of"


@dataclass(frozen=True)
class BlockPoint:
    """One weight: pressure, kPa; strain: share of the height it took, the mean of all readings with it, and its
    scatter; readings: how many."""

    kpa: float
    found: Measured
    readings: int

    @property
    def strain(self) -> float:
        """The share of its height that it took."""
        return self.found.value


def block_curve(block: BlockInput) -> tuple[BlockPoint, ...]:
    """The points of a block, by rising weight; readings with one weight are put together.

    Scatter: what a height is read to, and the share by which readings with one weight vary, over all weights together;
    without a second reading VARIES_SHARE. Never less than both.
    """
    weights = sorted({row[0] for row in block.readings})
    groups = [np.array([1.0 - row[1] / block.height for row in block.readings if row[0] == kg]) for kg in weights]
    spare = sum(len(one) - 1 for one in groups)
    apart = sum(float(((one / max(float(one.mean()), 1e-9) - 1.0) ** 2).sum()) for one in groups)
    varies = max(float(np.sqrt(apart / spare)), VARIES_SHARE) if spare else VARIES_SHARE
    points = []
    for kg, strains in zip(weights, groups, strict=True):
        mean = float(strains.mean())
        error = np.hypot(varies * mean, HEIGHT_READ_MM / block.height) / np.sqrt(len(strains))
        kpa = 1000.0 * kg * GRAVITY_N_PER_KG / block.side**2
        points.append(BlockPoint(kpa, Measured(mean, float(error), spare or MANY_SPARE), len(strains)))
    return tuple(points)


def block_source(block: BlockInput) -> str:
    """Where the curve comes from, in words."""
    size = f"{block.side:g} x {block.side:g} x {block.height:g} mm"
    errors = ", ".join(f"{100 * point.found.within:.1f}" for point in block_curve(block))
    return f"{BLOCK_SOURCE} {size} under weights, read after 60 s; 95 of 100 within {errors} % of its height"


def check_block(block: BlockInput, keys: KeyPath, faults: Faults) -> None:
    """Tell what cannot be true of a block's readings."""
    for j, row in enumerate(block.readings):
        if row[1] > block.height:
            text = f"higher under {row[0]:g} kg ({row[1]:g} mm) than without ({block.height:g} mm); measure it again"
            faults.add("S074", (*keys, "readings", j), text)
            return
    points = block_curve(block)
    if points[0].strain <= 0.0:
        text = f"gives nothing under the smallest weight; begin with a larger one than {block.readings[0][0]:g} kg"
        faults.add("S075", (*keys, "readings"), text)
        return
    _check_rising(points, block, keys, faults)


def _check_rising(points: Sequence[BlockPoint], block: BlockInput, keys: KeyPath, faults: Faults) -> None:
    weights = sorted({row[0] for row in block.readings})
    for (one, two), kg in zip(pairwise(points), weights[1:], strict=True):
        if two.strain <= one.strain:
            j = next(j for j, row in enumerate(block.readings) if row[0] == kg)
            text = f"no lower under {kg:g} kg than under less; take the weights in order, 60 s each, and let the block "
            text += "rise between"
            faults.add("S075", (*keys, "readings", j), text)
            return
    if len(points) < 3:
        faults.add("S076", (*keys, "readings"), f"{len(points)} weights are no curve; take three at least")
