"""The face patch of a pad in its chart, ready for triangles: lines cut at their crossings, set out in even steps."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import LineString

from meshes.base.arrays import BoolArray, FloatArray, IntArray
from meshes.numerics.meeting_points import ChartSegment, met, place_of
from meshes.numerics.sizes import Sizes
from meshes.support.line_roles import ChartLine, LineIdentity, LineRole

# A line turns by more than this at a kink, which becomes a mesh vertex.
KINK_RAD = np.deg2rad(25.0)


@dataclass(frozen=True, eq=False)
class FacePlan:
    """The face patch ready for triangles: points (n, 2), segments (k, 2) cut at all crossings, rule number of each, and
    the rules; centre (j,): points at which other lines cross the centre line, whether that is drawn or not."""

    points: FloatArray
    segments: IntArray
    rule: IntArray
    rules: tuple[LineIdentity, ...]
    centre: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))

    def rim(self) -> BoolArray:
        """Which segments bound the patch."""
        return np.array([self.rules[k].rim for k in self.rule])


def face_plan(lines: Sequence[ChartLine], *, sizes: Sizes, reach_mm: float) -> FacePlan:
    """Lines cut at their crossings in steps of the sizes there; ends, kinks and crossings nearer to each other than
    `reach_mm` are one point."""
    cuts = [ChartSegment(d.line, d.rule if d.rule.rim else None, d.rule.sewn) for d in lines]
    joined = [replace(d, line=line) for d, line in zip(lines, met(cuts, reach_mm), strict=True) if line is not None]
    plan = _set_out(joined, sizes, reach_mm)
    centre = [int(np.argmin(np.linalg.norm(plan.points - at, axis=1))) for at in centre_crossings(lines)]
    return replace(plan, centre=np.unique(np.array(centre, dtype=np.int64)))


def centre_crossings(lines: Sequence[ChartLine]) -> FloatArray:
    """Where lines other than valleys cross x = 0, (k, 2): centre marks stand there, whether a line is drawn or not."""
    crossing = [d.line for d in lines if d.rule.role is not LineRole.VALLEY]
    low, high = (f(line.bounds[k] for line in crossing) for f, k in ((min, 1), (max, 3)))
    middle = LineString([(0.0, low - 1.0), (0.0, high + 1.0)])
    return shapely.get_coordinates(shapely.intersection(crossing, middle))


def _set_out(drawn: Sequence[ChartLine], sizes: Sizes, reach_mm: float) -> FacePlan:
    """Even steps along every line between its ends and kinks, as points and segments."""
    number: dict[tuple[float, float], int] = {}
    points: list[FloatArray] = []
    segments: list[tuple[int, int]] = []
    rule: list[int] = []
    rules = list(dict.fromkeys(d.rule for d in drawn))
    for d in drawn:
        path = _even(np.asarray(d.line.coords), sizes, reach_mm)
        here = []
        for p in path:
            key = place_of(p)
            if key not in number:
                number[key] = len(points)
                points.append(p)
            here.append(number[key])
        pairs = [(a, b) for a, b in pairwise(here) if a != b]
        segments += pairs
        rule += [rules.index(d.rule)] * len(pairs)
    return FacePlan(np.array(points), np.array(segments, dtype=np.int64), np.array(rule, dtype=np.int64), tuple(rules))


def _even(path: FloatArray, sizes: Sizes, reach_mm: float) -> FloatArray:
    """Even steps along a line from kink to kink; a kink within `reach_mm` of another one or of an end is none."""
    step = np.diff(path, axis=0)
    keep = np.concatenate([[True], np.linalg.norm(step, axis=1) > 1e-9])
    path = path[keep]
    step = np.diff(path, axis=0)
    heading = np.arctan2(step[:, 1], step[:, 0])
    bend = np.abs(np.mod(np.diff(heading) + np.pi, 2 * np.pi) - np.pi)
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(step, axis=1))])
    stops = [0]
    for kink in np.flatnonzero(bend > KINK_RAD) + 1:
        if along[kink] - along[stops[-1]] > reach_mm and along[-1] - along[kink] > reach_mm:
            stops.append(int(kink))
    stops.append(len(path) - 1)
    places: list[FloatArray] = []
    for a, b in pairwise(stops):
        places.append(along[a] + sizes.along(path[a : b + 1])[:-1])
    at = np.append(np.concatenate(places), along[-1])
    return np.stack([np.interp(at, along, path[:, k]) for k in (0, 1)], axis=1)
