"""Padding as it lies round the edge of one side, seen along the edge: every layer's outer face through the turn.

Taken in the middle of the side, in the plane square to its outline, on the same chart, support and directors as the
settled surface and the cuts through a pad, so that what is read from it agrees with both. Lengths mm.
"""

from dataclasses import dataclass

import numpy as np

from meshes.base.arrays import FloatArray
from meshes.padding.layers import edge_thickness, laid_thickness, places
from meshes.records.alignment import UNALIGNED, Alignment
from meshes.records.pad import SIDES, Pad
from meshes.support.blocks import face_of
from meshes.support.chart import Chart, MakeProblem, pad_chart
from meshes.support.loft import loft

# How far before and after the turn the way of face and side is taken.
BESIDE_MM = 2.0


@dataclass(frozen=True, eq=False)
class EdgeProfile:
    """thickness (layers, n) of every layer at even shares of the turn; tops (layers, n, 2) of their outer faces,
    outward and up; ways (layers, 2, 2): unit, the way of each outer face into the turn and out of it."""

    thickness: FloatArray
    tops: FloatArray
    ways: FloatArray


def edge_profile(
    pad: Pad, side: str, count: int, *, make_problem: MakeProblem, alignment: Alignment = UNALIGNED
) -> EdgeProfile:
    """The padding of a pad round the edge of a side at `count` places. Raises ProblemError as `pad_chart`."""
    chart = pad_chart(pad, edge_thickness(pad), make_problem)
    u = np.full(count + 2, _middle(chart, SIDES.index(side)))
    end = float(chart.turn_end(u[:1])[0])
    c = np.concatenate([[-BESIDE_MM], np.linspace(0.0, end, count), [end + BESIDE_MM]])
    plan = chart.to_plane(u, c)
    support = loft(chart, face_of(pad, alignment.built_up), plan, u, c)
    at = places(chart, plan, u, c)
    thick = laid_thickness(pad.layers, at)
    tops = support.points + np.cumsum(thick, axis=0)[:, :, None] * support.directors
    outward = chart.outline.normal(u[:1])[0]
    flat = np.stack([(tops[:, :, :2] - chart.outline.point(u[:1])[0]) @ outward, tops[:, :, 2]], axis=2)
    ways = np.stack([flat[:, 1] - flat[:, 0], flat[:, -1] - flat[:, -2]], axis=1)
    ways = ways / np.maximum(np.linalg.norm(ways, axis=2, keepdims=True), 1e-12)
    return EdgeProfile(thick[:, 1:-1], flat[:, 1:-1], ways)


def _middle(chart: Chart, number: int) -> float:
    """The place in the middle of a side."""
    before, after = chart.corners[number - 1], chart.corners[number]
    return float(np.mod(before + 0.5 * np.mod(after - before, chart.outline.period), chart.outline.period))
