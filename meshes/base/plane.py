"""Plane geometry of the few points of a measurement sheet: crossings, areas, sections, distances.

Plain floats, no arrays: a sheet holds tens of points, and reading it should not wait for larger libraries.
Lengths mm.
"""

import math
from collections.abc import Sequence
from itertools import pairwise

Point = tuple[float, float]
"""A point of the plane, mm."""


def area(polygon: Sequence[Point]) -> float:
    """Signed area of a closed polygon, mm2, positive when it runs counter-clockwise (shoelace formula)."""
    pairs = zip(polygon, [*polygon[1:], polygon[0]], strict=True)
    return 0.5 * sum(ax * by - bx * ay for (ax, ay), (bx, by) in pairs)


def side_of(a: Point, b: Point, p: Point) -> float:
    """Twice the area of the triangle a, b, p: positive when p lies left of the way from a to b."""
    return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])


def turn_at(before: Point, here: Point, after: Point) -> float:
    """How far the way turns left at `here`, radians in (-pi, pi]."""
    first, second = (here[0] - before[0], here[1] - before[1]), (after[0] - here[0], after[1] - here[1])
    cross = first[0] * second[1] - first[1] * second[0]
    return math.atan2(cross, first[0] * second[0] + first[1] * second[1])


def crosses(a: Point, b: Point, c: Point, d: Point) -> bool:
    """True when the closed segments a-b and c-d meet, also when they only touch or overlap."""
    one, two = side_of(a, b, c), side_of(a, b, d)
    three, four = side_of(c, d, a), side_of(c, d, b)
    if ((one > 0) != (two > 0)) and ((three > 0) != (four > 0)) and 0.0 not in (one, two, three, four):
        return True
    return any(
        turn == 0.0 and _in_box(p, q, r)
        for turn, p, q, r in ((one, a, b, c), (two, a, b, d), (three, c, d, a), (four, c, d, b))
    )


def _in_box(p: Point, q: Point, r: Point) -> bool:
    return all(min(p[k], q[k]) <= r[k] <= max(p[k], q[k]) for k in range(2))


def first_crossing(points: Sequence[Point], *, closed: bool) -> tuple[int, int] | None:
    """Numbers of the first two runs of a polyline that meet though they are no neighbours; None when there
    are none.
    """
    count = len(points)
    runs = count if closed else count - 1
    for i in range(runs):
        for j in range(i + 1, runs):
            neighbours = j == i + 1 or (closed and i == 0 and j == runs - 1)
            a, b, c, d = points[i], points[(i + 1) % count], points[j], points[(j + 1) % count]
            if neighbours:
                shared, far_one, far_two = (b, a, d) if j == i + 1 else (a, b, c)
                if _doubles_back(shared, far_one, far_two):
                    return i, j
            elif crosses(a, b, c, d):
                return i, j
    return None


def _doubles_back(shared: Point, one: Point, two: Point) -> bool:
    """True when two runs that leave one point lie on top of each other."""
    ahead = (one[0] - shared[0]) * (two[0] - shared[0]) + (one[1] - shared[1]) * (two[1] - shared[1])
    return side_of(shared, one, two) == 0.0 and ahead > 0.0


def distance_to_run(a: Point, b: Point, p: Point) -> float:
    """Distance from p to the segment a-b, mm."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    length2 = dx * dx + dy * dy
    share = 0.0 if length2 == 0.0 else ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / length2
    share = min(max(share, 0.0), 1.0)
    return math.hypot(p[0] - a[0] - share * dx, p[1] - a[1] - share * dy)


def distance_to_line(points: Sequence[Point], p: Point) -> float:
    """Distance from p to a polyline of at least two points, mm."""
    return min(distance_to_run(a, b, p) for a, b in pairwise(points))


def contains(polygon: Sequence[Point], p: Point) -> bool:
    """True when p lies inside a closed polygon (even-odd rule; on the rim either answer)."""
    inside = False
    for a, b in zip(polygon, [*polygon[1:], polygon[0]], strict=True):
        if (a[1] > p[1]) != (b[1] > p[1]) and p[0] < a[0] + (p[1] - a[1]) * (b[0] - a[0]) / (b[1] - a[1]):
            inside = not inside
    return inside


def outside_by(polygon: Sequence[Point], p: Point) -> float:
    """How far p lies outside a closed polygon, mm; 0 inside."""
    return 0.0 if contains(polygon, p) else distance_to_line([*polygon, polygon[0]], p)


def crossing_of(polygon: Sequence[Point], direction: str, at: float) -> tuple[float, float] | None:
    """Where a straight line enters and leaves a polygon: along y at x = at ("along"), along x at y = at
    ("across").
    """
    own, other = (0, 1) if direction == "along" else (1, 0)
    found: list[float] = []
    for a, b in zip(polygon, [*polygon[1:], polygon[0]], strict=True):
        low, high = min(a[own], b[own]), max(a[own], b[own])
        if not low <= at <= high:
            continue
        if low == high:
            found += [a[other], b[other]]
        else:
            found.append(a[other] + (at - a[own]) / (b[own] - a[own]) * (b[other] - a[other]))
    return (min(found), max(found)) if found else None


def extent(points: Sequence[Point]) -> tuple[float, float]:
    """Width in x and y of the box round some points, mm."""
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return max(xs) - min(xs), max(ys) - min(ys)
