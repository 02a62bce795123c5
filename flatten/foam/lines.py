"""Lines drawn inside the shapes of a layer: where its full thickness ends, and where it is rounded off once glued.

A rounding line stands where the edge beneath begins to turn. Foam is laid square off what it lies on, so on its outer
face the rounding begins straight above the line. Lengths mm.
"""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import LineString

from flatten.foam.parts import LayerPart
from flatten.foam.rounding import Rounding
from flatten.pieces.piece import InnerLine, LineKind
from meshes.base.arrays import FloatArray, IntArray
from meshes.base.units import Unit
from meshes.numerics.contours import contours, longer_than
from meshes.padding.layup import LaidLayer, Limit
from meshes.records.pad import SIDES, Pad

# Shorter lines than this say nothing, and what lies this near to a line lies on it.
SHORT_BEVEL_MM, ON_MM = 40.0, 1e-6
# On an edge no rounder than this the rounding begins at the mitre itself, and no line is drawn.
SHARP_MM = 1.0


def rounding_lines(lie: LaidLayer, part: LayerPart, roundings: Sequence[Rounding], unit: Unit) -> list[InnerLine]:
    """Lines where the roundings of a part begin, each along its own side."""
    lines = []
    for one in roundings:
        side = SIDES.index(one.side)
        if side not in part.parted or lie.edges[one.side].beneath_mm <= SHARP_MM:
            continue
        own = part.cloth.triangles[part.cloth.near == side]
        found = contours(part.flat, own, part.cloth.values[:, -1], 0.0)
        words = f"rounding to {one.radius_words(unit)} begins"
        lines += [InnerLine(words, line, LineKind.ROUNDING) for line in longer_than(SHORT_BEVEL_MM, found)]
    return lines


def bevel_lines(pad: Pad, lie: LaidLayer, part: LayerPart, rim: IntArray) -> list[InnerLine]:
    """Lines where the full thickness ends, with what the bevel beyond them comes down to, and over how far."""
    lines = []
    for k, limit in enumerate(lie.limits):
        if limit.square:
            continue
        full = part.cloth.values[:, 4 + 2 * k]
        end = _bevel_end(part, rim, k, full)
        if end is None:
            continue
        drawn = longer_than(SHORT_BEVEL_MM, _full_lines(part, lie, k))
        for line, (run, rest) in zip(drawn, _bevel_runs(part, drawn, end), strict=True):
            words = f"bevel {lie.layer.thickness:.0f} to {rest:.0f} over {run:.0f} mm"
            lines.append(InnerLine(f"{words}, {_towards(pad, lie, limit)}", line, LineKind.BEVEL))
    return lines


def _full_lines(part: LayerPart, lie: LaidLayer, k: int) -> list[FloatArray]:
    """Lines (j, 2) on which the full thickness ends by one limit, as far as it has not ended by another before."""
    others = [part.cloth.values[:, 4 + 2 * j] for j, limit in enumerate(lie.limits) if j != k and not limit.square]
    left = np.min([np.full(len(part.flat), 1e6), *others], axis=0)
    lines = []
    for line in contours(
        np.column_stack([part.flat, left]), part.cloth.triangles, part.cloth.values[:, 4 + 2 * k], 0.0
    ):
        runs: list[list[FloatArray]] = [[]]
        for here, there in pairwise(line):
            runs[-1] += [here[:2]] if here[2] >= 0.0 else []
            if here[2] * there[2] < 0.0:
                runs[-1].append((here + here[2] / (here[2] - there[2]) * (there - here))[:2])
                runs += [[]] if here[2] > 0.0 else []
        runs[-1] += [line[-1, :2]] if line[-1, 2] >= 0.0 else []
        lines += [np.array(run) for run in runs if len(run) > 1]
    return lines


def _bevel_end(part: LayerPart, rim: IntArray, k: int, full: FloatArray) -> IntArray | None:
    """Vertices of the rim where a layer ends beyond its full thickness; None where it is full to its rim."""
    inside = np.abs(part.cloth.values[rim, 3 + 2 * k]) < ON_MM
    tack = (np.abs(part.cloth.values[rim, 0]) < ON_MM) & (full[rim] < 0.0)
    ends = rim[inside] if inside.sum() > 1 else rim[tack]
    return ends if len(ends) > 1 else None


def _bevel_runs(part: LayerPart, lines: list[FloatArray], end: IntArray) -> list[tuple[float, float]]:
    """How far it is from every line of full thickness to the end nearest to it, and how thick the layer still is
    there; medians."""
    ends = shapely.points(part.flat[end])
    away = np.array([shapely.distance(ends, LineString(line)) for line in lines])
    nearest = np.argmin(away, axis=0) if len(lines) else np.zeros(0)
    runs = []
    for k in range(len(lines)):
        own = nearest == k if (nearest == k).any() else np.ones(len(end), dtype=bool)
        runs.append((float(np.median(away[k, own])), float(np.median(part.cloth.values[end[own], 2]))))
    return runs


def _towards(pad: Pad, lie: LaidLayer, limit: Limit) -> str:
    if limit.kind == "face":
        return "inward over the face"
    where = lie.layer.where
    return f"outward past the {pad.side_word(where)} edge" if where in SIDES else "outward"
