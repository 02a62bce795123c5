"""Where a tape lies on a pad: its places on the support, one after the other, from the sheet's words for them.

The pad's chart answers for any place, so a tape needs no mesh. Lengths mm.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from meshes.base.arrays import FloatArray
from meshes.base.problems import ProblemError
from meshes.base.surface import curve_length
from meshes.padding.layers import edge_thickness, free_thickness, places
from meshes.records.pad import Pad
from meshes.settle.section_line import STEP_MM, Cut, cut_places
from meshes.sheet.whole import Control
from meshes.support.blocks import face_of
from meshes.support.chart import Chart, MakeProblem, make_problem_for, pad_chart
from meshes.support.loft import loft
from meshes.tapes.taut import length_over, length_round

# A tape that goes round is looked at so often.
ROUND_STEP_MM = 5.0
Places = tuple[FloatArray, FloatArray, FloatArray]
"""Places of a chart: where they are drawn (n, 2), u (n,) and c (n,)."""


def chart_of(pad: Pad, make_problem: MakeProblem | None = None) -> Chart:
    """The chart of a pad, padded. Raises ProblemError for a pad that cannot be built."""
    return pad_chart(pad, edge_thickness(pad), make_problem or make_problem_for(pad))


def tape_length(pad: Pad, chart: Chart, control: Control, make_problem: MakeProblem | None = None) -> float:
    """Length of a tape over a pad's bare support, or over its padding with nothing on it.

    Raises ProblemError where the tape misses the pad, or meets its outline at a slant.
    """
    return taped_mm(tape_points(pad, chart, control, make_problem), control)


def taped_mm(points: FloatArray, control: Control) -> float:
    """Length of a tape over points (n, 3) in its order: taut, or pressed into hollows where the sheet says so."""
    if control.way == "round":
        return curve_length(np.vstack([points, points[:1]])) if control.follows else length_round(points)
    line = in_plane(points, control)
    if control.ends == "girth" and control.way != "between":
        return curve_length(np.vstack([line, line[:1]])) if control.follows else length_round(line)
    return curve_length(line) if control.follows else length_over(line)


@dataclass(frozen=True, eq=False)
class Course:
    """Places that a tape lies over: where they are drawn in the chart plan (n, 2), u and c (n,), and what padding the
    tape lies on there (n,)."""

    control: Control
    plan: FloatArray
    u: FloatArray
    c: FloatArray
    thick: FloatArray


def course_of(pad: Pad, chart: Chart, control: Control, make_problem: MakeProblem | None = None) -> Course:
    """Where a tape lies. Raises ProblemError where it misses the pad, or meets its outline at a slant."""
    plan, u, c = _places(pad, chart, control, make_problem or make_problem_for(pad))
    bare = control.over == "support"
    thick = np.zeros(len(u)) if bare else free_thickness(pad.layers, places(chart, plan, u, c))
    return Course(control, plan, u, c, thick)


def points_over(pad: Pad, chart: Chart, courses: Sequence[Course]) -> list[FloatArray]:
    """Points (n, 3) under each of some tapes, in its order."""
    plan, u, c, thick = (np.concatenate([getattr(one, key) for one in courses]) for key in ("plan", "u", "c", "thick"))
    bare = loft(chart, face_of(pad), plan, u, c)
    points = bare.points + thick[:, None] * bare.directors
    return np.split(points, np.cumsum([len(one.u) for one in courses])[:-1])


def tape_points(pad: Pad, chart: Chart, control: Control, make_problem: MakeProblem | None = None) -> FloatArray:
    """Points (n, 3) under a tape, in its order, on the bare support or on the padding."""
    return points_over(pad, chart, [course_of(pad, chart, control, make_problem)])[0]


def in_plane(points: FloatArray, control: Control) -> FloatArray:
    """Points (n, 3) as the plane of a tape that lies straight has them, (n, 2): along it, and upwards."""
    if control.way == "between" and control.start is not None and control.end is not None:
        way = np.subtract(control.end, control.start)
        return np.column_stack([(points[:, :2] - control.start) @ way / np.linalg.norm(way), points[:, 2]])
    return points[:, [1, 2] if control.way == "along" else [0, 2]]


def _places(pad: Pad, chart: Chart, control: Control, make_problem: MakeProblem) -> Places:
    if control.way == "round":
        u = chart.outline.samples(ROUND_STEP_MM)
        c = chart.edge(u) + control.below
        return chart.to_plane(u, c), u, c
    if control.way == "between":
        return _between(pad, chart, control, make_problem)
    cut = Cut("along" if control.way == "along" else "across", control.at or 0.0)
    plan, u, c = cut_places(chart, cut, make_problem)
    if control.ends == "edges":
        kept = np.flatnonzero(c <= chart.edge(u))
        on = slice(int(kept[0]), int(kept[-1]) + 1)
        plan, u, c = plan[on], u[on], c[on]
    return plan, u, c


def _between(pad: Pad, chart: Chart, control: Control, make_problem: MakeProblem) -> Places:
    start, end = np.asarray(control.start), np.asarray(control.end)
    body = shapely.Polygon(chart.outline.point(chart.outline.samples(4.0)))
    off = [at for at in (control.start, control.end) if at is not None and not body.covers(shapely.Point(at))]
    if off:
        text = f"x = {off[0][0]:g}, y = {off[0][1]:g} lies beside the face of {pad.name}; name a place inside its edge"
        raise ProblemError([make_problem("S058", (), text)])
    count = max(int(np.linalg.norm(end - start) / STEP_MM), 2)
    plan = start + np.linspace(0.0, 1.0, count + 1)[:, None] * (end - start)
    u, c = chart.from_plane(plan)
    return plan, u, c
