"""What folded corners take in: the cover below the edge round a corner's arc.

Cut off there, the cover lies flat: its sides open like the flaps of a box. The leather between two flaps is laid in
folds over what the corner takes in, so that is covered, but asks nothing of the leather's stretch.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from meshes.base.arrays import FloatArray, IntArray, locked_ints
from meshes.base.problems import ProblemError
from meshes.base.surface import Surface, curve_length
from meshes.padding.support_mesh import SupportMesh
from meshes.records.corners import CORNERS_AFTER, LEAST_CORNER_RAD, CornerFinish
from meshes.records.pad import Pad
from meshes.seat.panels import CornerFold, Panel
from meshes.support.chart import Chart, MakeProblem
from meshes.support.line_roles import LineRole

# Half a corner's arc in the outline's own measure of place, and what rounding leaves of it.
_HALF_ARC, _SAME_PLACE = 0.5, 1e-4


@dataclass(frozen=True, eq=False)
class CornerSector:
    """triangles (k,) and, as vertices of the surface, both legs from the edge down to the tack line, and the arc."""

    corner: str
    finish: CornerFinish
    triangles: IntArray
    legs: tuple[IntArray, IntArray]
    arc: IntArray


def fold_name(pad: Pad, corner: str) -> str:
    """What the edge round a folded corner is called: "front left fold"."""
    end, side = corner.split("_")
    return f"{pad.side_word(end)} {side} fold"


def corner_at(chart: Chart, u: FloatArray) -> str:
    """The corner nearest to places u (k,) of the outline."""
    off = [np.abs(_off(chart, u, middle)).mean() for middle in chart.corners]
    return CORNERS_AFTER[int(np.argmin(off))]


def _off(chart: Chart, u: FloatArray, middle: float) -> FloatArray:
    """How far places lie from another round the outline, by the shorter way."""
    period = chart.outline.period
    return np.asarray(np.mod(u - middle + 0.5 * period, period) - 0.5 * period)


def corner_sectors(meshed: SupportMesh, part_of: IntArray, make_problem: MakeProblem) -> list[CornerSector]:
    """What the folded corners of a pad take in; part_of (m,): the part of the cover of every triangle. Raises
    ProblemError where there is no corner, or a seam runs through it."""
    pad, chart, mesh = meshed.pad, meshed.chart, meshed.mesh
    found = []
    for corner, middle in zip(CORNERS_AFTER, chart.corners, strict=True):
        finish = pad.folds.of(corner)
        if finish is None:
            continue
        off = _off(chart, mesh.u, middle)
        if finish is CornerFinish.SEWN:
            away = np.abs(off[mesh.triangles])
            beside = (mesh.side >= 0) & (away.max(axis=1) <= _HALF_ARC + _SAME_PLACE)
            if not beside.any():
                # Triangles wider than the arc: those that reach into it.
                beside = (mesh.side >= 0) & (away.min(axis=1) <= _HALF_ARC + _SAME_PLACE)
            _check(meshed, (corner, finish), part_of[beside], make_problem)
            continue
        far = _ends(meshed, middle, off)
        inside = (off >= far[0] - _SAME_PLACE) & (off <= far[1] + _SAME_PLACE)
        own = np.flatnonzero((mesh.side >= 0) & inside[mesh.triangles].all(axis=1))
        _check(meshed, (corner, finish), part_of[own], make_problem)
        vertices = np.unique(mesh.triangles[own])
        ends = [vertices[np.abs(off[vertices] - end) <= _SAME_PLACE] for end in far]
        first, last = (one[np.argsort(mesh.c[one], kind="stable")] for one in ends)
        top = vertices[mesh.c[vertices] <= chart.seam(mesh.u[vertices]) + _SAME_PLACE]
        found.append(CornerSector(corner, finish, own, (first, last), top[np.argsort(off[top], kind="stable")]))
    return found


def _ends(meshed: SupportMesh, middle: float, off: FloatArray) -> tuple[float, float]:
    """The columns of the mesh at both ends of a corner's arc, one to either side of its middle, as places off the
    middle; off (n,): those of all vertices. An arc that has no length at the edge ends at the nearest columns."""
    chart, mesh = meshed.chart, meshed.mesh
    top = np.unique(mesh.edges[mesh.on(LineRole.EDGE)])
    found = []
    for end, beside in ((-_HALF_ARC, off[top] < -_SAME_PLACE), (_HALF_ARC, off[top] > _SAME_PLACE)):
        u = np.array([middle + end])
        away = np.linalg.norm(mesh.plan[top] - chart.to_plane(u, chart.seam(u)), axis=1)
        found.append(float(off[top][np.argmin(np.where(beside, away, np.inf))]))
    return found[0], found[1]


def _check(meshed: SupportMesh, finished: tuple[str, CornerFinish], parts: IntArray, make_problem: MakeProblem) -> None:
    """finished: the corner and how."""
    corner, finish = finished
    outline = meshed.chart.outline
    sweep = outline.sweep_rad[int(meshed.chart.corners[CORNERS_AFTER.index(corner)] // 2)]
    posts = meshed.pad.fixings.corner_posts
    keys: tuple[str | int, ...] = ("folds", corner)
    if finish is CornerFinish.CUT:
        keys = ("post", next(post.row for post in posts if post.corner == corner))
    if sweep < LEAST_CORNER_RAD:
        text = f"the outline turns by only {np.degrees(sweep):.0f} degrees there, so there is nothing to fold"
        raise ProblemError([make_problem("G119", keys, f"{text}; leave this corner out")])
    if len(np.unique(parts)) > 1:
        text = "a seam runs through this corner, and leaves nothing to fold; leave this corner out, or the seam"
        raise ProblemError([make_problem("G119", keys, text)])


def corner_folds(
    sectors: Sequence[CornerSector], surface: Surface, panels: Sequence[Panel], pad: Pad
) -> tuple[CornerFold, ...]:
    """The folds as records, each with the panel whose edge runs round it."""
    made = []
    for sector in sectors:
        name = fold_name(pad, sector.corner)
        holder = next(panel for panel in panels if any(edge.name == name for edge in panel.rim))
        depth = np.mean([curve_length(surface.vertices[leg]) for leg in sector.legs])
        arc = curve_length(surface.vertices[sector.arc])
        made.append(
            CornerFold(
                sector.corner, sector.finish, name, holder.name, locked_ints(sector.triangles), float(depth), arc
            )
        )
    return tuple(made)
