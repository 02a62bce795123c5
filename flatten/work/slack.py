"""How far every edge that is fixed on the seat has to be pulled from where the cover lies slack, and how hard it then
pulls.

From the middle of the pad to the middle of an edge the cover runs along an upright cut; its pieces are shorter there
than the seat. With its centre marks on the pad's, that difference is what is left to be pulled at the edge. Lengths mm.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from flatten.edges.fixings import FIXED_HOW
from flatten.fit.fitted import FittedPad
from flatten.job.pipeline import Job
from flatten.job.pulls import pulls_told
from flatten.maps.flat import Flat
from meshes.base.arrays import BoolArray, FloatArray, IntArray
from meshes.base.plane import extent
from meshes.base.surface import curve_length
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel, RimEdge

# So far beside vertices the upright cut runs, that none lies on it.
JUST_OFF_MM = 1e-7


@dataclass(frozen=True)
class PulledEdge:
    """One edge that is fixed on the seat. panel: its part; name: of the edge; kind: of the fixing; side: of the pad;
    twin: its mirror image is pulled alike; slack_mm: from slack to its line, in its middle, as the pieces were before
    any fitting; length_mm: along its sew line on paper; pull_n_per_mm: of its piece; seat_mm: the line on the seat;
    let_out_mm: by how much fitting made the way to its middle longer against the seat, below 0 shorter."""

    panel: str
    name: str
    kind: str
    side: str
    twin: bool
    slack_mm: float
    length_mm: float
    pull_n_per_mm: float
    seat_mm: float
    let_out_mm: float = 0.0


def pulled_edges(job: Job, pad: BuiltPad) -> tuple[PulledEdge, ...]:
    """Edges of a pad that are fixed on the seat, mirrored ones once: front and rear first, then the sides."""
    pulls = pulls_told([pad], job.flats, job.coverings)
    fits = () if job.fitting is None else job.fitting.pads
    before = job.flats if job.fitting is None else job.fitting.before
    fit = next((one for one in fits if one.drawn.pad.pad.name == pad.pad.name), None)
    alike = pad.pad.symmetric and not (fit is not None and fit.one_sided)
    found = []
    for panel in pad.panels:
        for edge in panel.rim:
            if edge.seam is not None or edge.kind not in FIXED_HOW or not edge.side or _is_image(panel, edge, alike):
                continue
            found.append(
                PulledEdge(
                    panel.part,
                    edge.name,
                    edge.kind,
                    edge.side,
                    _has_image(pad, panel, edge, alike),
                    slack_at(pad, before, panel, edge),
                    job.paper_mm(panel, edge),
                    pulls[panel.name],
                    curve_length(panel.surface.vertices[edge.vertices]),
                    0.0 if fit is None else let_out_at(fit, panel, edge),
                )
            )
    return tuple(sorted(found, key=lambda one: ("front", "rear", "right", "left").index(one.side)))


def _is_image(panel: Panel, edge: RimEdge, alike: bool) -> bool:
    """Whether the edge is the mirror image of one that is told; alike: the pad's cover is the same left and right."""
    return panel.mirror_of is not None or (alike and panel.mirror is not None and edge.side == "left")


def _has_image(pad: BuiltPad, panel: Panel, edge: RimEdge, alike: bool) -> bool:
    twin = any(other.mirror_of == panel.name for other in pad.panels)
    return twin or (alike and panel.mirror is not None and edge.side == "right")


def slack_at(pad: BuiltPad, flats: Mapping[str, Flat], panel: Panel, edge: RimEdge) -> float:
    """How much longer the way from the pad's middle to the middle of an edge is on the seat than on the pieces."""
    plane, begin = _way(pad, panel, edge)
    total = 0.0
    for one in pad.panels:
        seat, paper = _lengths(one, flats[one.name], plane, begin)
        total += seat - paper
    return total


def let_out_at(fit: FittedPad, panel: Panel, edge: RimEdge) -> float:
    """By how much fitting made the way from the pad's middle to the middle of an edge longer on the pieces than on the
    seat, mm: every moved line that the way crosses counts, each layer by itself."""
    pad = fit.drawn.pad
    (axis, at), (way, place, sign) = _way(pad, panel, edge)
    panels = {one.name: one for one in pad.panels}
    total = 0.0
    for (i, k), move in fit.moves.items():
        names = fit.drawn.pieces[i].panels
        run = panels[names[0]].rim[k].vertices
        # A mirror image has the vertex numbers of what it mirrors.
        for line in (panels[name].surface.vertices[run] for name in names):
            off = line[:, axis] - at + JUST_OFF_MM
            for j in np.flatnonzero((off[:-1] > 0.0) != (off[1:] > 0.0)).tolist():
                share = float(off[j] / (off[j] - off[j + 1]))
                there = (1.0 - share) * line[j, way] + share * line[j + 1, way]
                if sign * (there - place) > 0.0:
                    total += float(np.interp(j + share, move.at, move.stretching.out_mm))
    return total


def _way(pad: BuiltPad, panel: Panel, edge: RimEdge) -> tuple[tuple[int, float], tuple[int, float, float]]:
    """The upright plane (axis, place) from the pad's middle to the middle of an edge, and where it begins (axis, place,
    sign)."""
    line = panel.surface.vertices[edge.vertices]
    spot = line[len(line) // 2]
    corners = np.asarray(pad.pad.outline.corners)
    middle = corners.min(axis=0) + 0.5 * np.asarray(extent(pad.pad.outline.corners))
    across = 0 if edge.side in ("front", "rear") else 1
    sign = -1.0 if edge.side in ("front", "left") else 1.0
    return (across, float(spot[across])), (1 - across, float(middle[1 - across]), sign)


def _lengths(
    panel: Panel, flat: Flat, plane: tuple[int, float], begin: tuple[int, float, float]
) -> tuple[float, float]:
    """Lengths on the seat and on the piece of the cut of a panel by an upright plane (axis, place), beyond a place
    (axis, place, sign)."""
    points, triangles = panel.surface.vertices, panel.surface.triangles
    axis, at = plane
    # No vertex lies exactly on the plane, so every triangle is cut in two edges or none.
    off = points[:, axis] - at + JUST_OFF_MM
    above = off > 0.0
    cut = triangles[above[triangles].any(axis=1) & ~above[triangles].all(axis=1)]
    ends = [_crossings(cut, off, above, values) for values in (points, flat.points)]
    (seat_a, seat_b), (paper_a, paper_b) = ends
    way, place, sign = begin
    kept = _share_beyond(sign * (seat_a[:, way] - place), sign * (seat_b[:, way] - place))
    seat, paper = (np.linalg.norm(b - a, axis=1) for a, b in ((seat_a, seat_b), (paper_a, paper_b)))
    return float(kept @ seat), float(kept @ paper)


def _crossings(cut: IntArray, off: FloatArray, above: BoolArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Both ends (m, d) of the cut of every triangle (m, 3), in the places of its corners `values` (n, d)."""
    side = above[cut]
    lone = np.where(side.sum(axis=1) == 1, side.argmax(axis=1), (~side).argmax(axis=1))
    rows = np.arange(len(cut))
    tip = cut[rows, lone]
    found = []
    for step in (1, 2):
        other = cut[rows, (lone + step) % 3]
        share = (off[tip] / (off[tip] - off[other]))[:, None]
        found.append((1.0 - share) * values[tip] + share * values[other])
    return found[0], found[1]


def _share_beyond(one: FloatArray, two: FloatArray) -> FloatArray:
    """Which share (m,) of every stretch from one (m,) to two (m,) lies above 0."""
    low, high = np.minimum(one, two), np.maximum(one, two)
    span = np.maximum(high - low, 1e-12)
    return np.asarray(np.clip(high, 0.0, None) / span - np.clip(low, 0.0, None) / span)
