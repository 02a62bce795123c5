"""Both sides of every seam, measured on their pieces and on the seat, and the stations where they are notched alike.

Lengths are mm, measured along the sew line. A seam sews well when its sides differ by no more than a hand can ease in.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from flatten.develop import Flat
from meshes.arrays import FloatArray, IntArray
from meshes.panels import Panel, RimEdge, Seam
from meshes.surface import curve_length

# What two sides may differ by before the report speaks of it: 1.5 mm in all, or 0.5 % of a long seam.
SEAM_TOLERANCE_MM = 1.5
SEAM_TOLERANCE_SHARE = 0.005


@dataclass(frozen=True)
class SeamFigures:
    """Lengths of a seam on its two pieces and on the seat, mm; mismatch is b minus a."""

    name: str
    a: str
    b: str
    length_a_mm: float
    length_b_mm: float
    seat_mm: float
    mismatch_mm: float
    welt: bool

    @property
    def sews(self) -> bool:
        """Whether the sides are equal within the tolerance."""
        return abs(self.mismatch_mm) <= max(SEAM_TOLERANCE_MM, SEAM_TOLERANCE_SHARE * self.seat_mm)


def rim_edge(panel: Panel, seam: str) -> RimEdge:
    """The edge of `panel` that is sewn in `seam`. Raises KeyError when it has none."""
    for edge in panel.rim:
        if edge.seam == seam:
            return edge
    raise KeyError(f"{panel.name} has no edge in the seam {seam}")


def seam_figures(
    seams: Sequence[Seam], panels: Mapping[str, Panel], flats: Mapping[str, Flat]
) -> tuple[SeamFigures, ...]:
    """Measure every seam on both pieces and on the seat."""
    rows = []
    for seam in seams:
        lengths = [
            curve_length(flats[name].points[rim_edge(panels[name], seam.name).vertices]) for name in (seam.a, seam.b)
        ]
        edge = rim_edge(panels[seam.a], seam.name)
        seat = curve_length(panels[seam.a].surface.vertices[edge.vertices])
        rows.append(
            SeamFigures(seam.name, seam.a, seam.b, lengths[0], lengths[1], seat, lengths[1] - lengths[0], seam.welt)
        )
    return tuple(rows)


def seam_runs_back(seam_points: FloatArray) -> bool:
    """Whether a seam, walked in its given order, ends at its front or left rather than its rear or right.

    seam_points (k, 3) in pad coordinates. Notches are counted from the front or left end on both pieces and the last
    one is doubled, so a piece cannot be sewn end for end. A seam that runs down a side is counted from its lower end;
    one that stays on one side of the centre line is counted outwards, so that mirrored pieces are notched alike.
    """
    whole = seam_points[-1] - seam_points[0]
    step = np.abs(whole)
    axis = 1 if step[1] > 0.5 * step.max() else int(np.argmax(step))
    first, last = seam_points[0, 0], seam_points[-1, 0]
    if axis == 0 and first * last >= 0.0:
        return bool(abs(last) < abs(first))
    return bool(whole[axis] < 0)


def counted_from(vertices: IntArray, numbers: IntArray, seam: Seam, seat: FloatArray) -> bool:
    """True when a piece's edge (panel `vertices`, pad `numbers`) runs from the seam's counting end to its doubled
    end."""
    forward = numbers[vertices[0]] == seam.vertices[0]
    return bool(forward != seam_runs_back(seat[seam.vertices]))
