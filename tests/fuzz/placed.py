"""Pieces of a job found again on paper: which outline is which panel, where its rim's points and notches came to lie.

An outline is known by the lengths of its segments. From then on only what stands on the paper is measured; the seat in
three dimensions is what it is held against.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from tests.fuzz.papers import Drawing, signed_area, steps

TICK_MM, SAME_MM = 3.0, 0.02
# Between the ticks of a doubled notch, along the sew line.
DOUBLE_MM = 6.0
# A slit stands no farther from its place on the sew line than the widest allowance.
FAR_MM = 205.0


@dataclass(frozen=True, eq=False)
class Placed:
    """One piece on the paper. sew, cut: closed outlines; at: place of every rim vertex of the panel by its number;
    notches: places on the sew line with 1 or 2 for a single or double notch; loose: slits that belong to no mark."""

    panel: Any
    piece: Any
    sew: np.ndarray
    cut: np.ndarray
    at: dict[int, np.ndarray]
    notches: tuple[tuple[np.ndarray, int], ...]
    loose: int

    def has(self, numbers: Any) -> bool:
        """Whether all these rim vertices have a place on the paper: not within the leather of a folded corner."""
        return all(int(number) in self.at for number in numbers)

    def run(self, numbers: Any) -> np.ndarray:
        """Places of rim vertices, in the order of their numbers."""
        return np.array([self.at[int(number)] for number in numbers])


def placed_pieces(job: Any, drawing: Drawing) -> tuple[dict[str, Placed], list[str]]:
    """The cover's pieces by the panel they are drawn for, and what is missing, double or turned over."""
    sews, cuts = list(drawing["sew"]), list(drawing["cut"])
    found: dict[str, Placed] = {}
    faults = []
    for piece in job.pieces:
        panel = job.panels[piece.panels[0]]
        # Strips of one seat may be alike within what the paper rounds: each is looked for where it is itself.
        off = [_unlike_mm(sew.points, piece.sew) for sew in sews]
        if min(off, default=np.inf) >= SAME_MM:
            faults.append(f"{piece.name} is not on the paper as it was computed")
            continue
        sew = sews.pop(int(np.argmin(off))).points
        if signed_area(sew) <= 0.0:
            faults.append(f"{piece.name} lies on the paper turned over")
        middle = Polygon(sew).representative_point()
        around = [c.points for c in cuts if Polygon(c.points).covers(middle)]
        if len(around) != 1:
            faults.append(f"{piece.name} has {len(around)} cut lines round it")
            continue
        notches, loose = _notches(drawing, sew, around[0])
        at = _by_vertex(panel, piece, sew)
        found[panel.name] = Placed(panel, piece, sew, around[0], at, notches, loose)
    return found, faults


def _by_vertex(panel: Any, piece: Any, sew: np.ndarray) -> dict[int, np.ndarray]:
    """Places of rim vertices on paper. The leather of a folded corner has points of its own: only its ends are those of
    the rim."""
    at: dict[int, np.ndarray] = {}
    begin = 0
    for rim, edge in zip(panel.rim, piece.edges, strict=True):
        numbers, count = rim.vertices[:-1].tolist(), len(edge.points) - 1
        own = sew[begin : begin + count]
        at |= dict(zip(numbers, own, strict=True)) if count == len(numbers) else {numbers[0]: own[0]}
        begin += count
    assert begin == len(sew), f"{piece.name}: edges of {begin} points, {len(sew)} are on the paper"
    return at


def _unlike_mm(a: np.ndarray, b: np.ndarray) -> float:
    """By how much the steps of two outlines differ at the most; infinite where they have not as many."""
    if len(a) != len(b):
        return float(np.inf)
    return float(np.abs(steps(a, closed=True) - steps(b, closed=True)).max())


def _notches(drawing: Drawing, sew: np.ndarray, cut: np.ndarray) -> tuple[tuple[tuple[np.ndarray, int], ...], int]:
    """Where a piece is notched: single ticks across the sew line or on it, and pairs of them; and how many slits of the
    cut edge stand before no tick, centre line or triangle."""
    body, rim = Polygon(cut).buffer(0.1), Polygon(sew).exterior
    shapely.prepare(body)
    inside = [s for s in drawing.get("inner lines", []) if body.contains(LineString(s.points))]
    lines = [s.points for s in inside if len(s.points) == 2 and not s.closed]
    ticks = [ends for ends in lines if abs(_far(*ends) - TICK_MM) < 1e-3 and rim.distance(LineString(ends)) < SAME_MM]
    triangles = [s.points for s in inside if len(s.points) == 3 and s.closed]
    rays = [(ends[0], ends[1] - ends[0]) for ends in (*ticks, *_across(lines, sew, rim))]
    rays += [(p[0], p[1:].mean(axis=0) - p[0]) for p in triangles]
    slits = [s.points.mean(axis=0) for s in drawing.get("notches", []) if body.contains(LineString(s.points))]
    loose = [at for at in slits if not any(_ahead(at, start, along) for start, along in rays)]
    return tuple(_paired(ticks, rim)), len(loose)


def _across(lines: list[np.ndarray], sew: np.ndarray, rim: Any) -> list[np.ndarray]:
    """Lines that begin inside the sew line and cross it: those of centre marks."""
    return [ends for ends in lines if _far(*ends) > TICK_MM + 1e-3 and rim.intersects(LineString(ends))]


def _ahead(at: np.ndarray, start: np.ndarray, along: np.ndarray) -> bool:
    unit = along / np.linalg.norm(along)
    off = at - start
    return 0.0 < float(off @ unit) < FAR_MM and abs(float(off[0] * unit[1] - off[1] * unit[0])) < SAME_MM


def _paired(ticks: list[np.ndarray], rim: Any) -> list[tuple[np.ndarray, int]]:
    """Places of ticks with 1, and with 2 that between two ticks which stand side by side on the sew line."""
    # Ticks cross the sew line in their middle, or end at it where the leather does.
    spots = [shapely.shortest_line(rim, LineString(ends)).coords[0] for ends in ticks]
    marks, left = [], [(rim.project(shapely.Point(at)), ends) for at, ends in zip(spots, ticks, strict=True)]
    while left:
        place, ends = left.pop()
        steps = [_round(other - place, rim.length) for other, _ in left]
        beside = [
            k
            for k, (step, (_, other)) in enumerate(zip(steps, left, strict=True))
            if abs(abs(step) - DOUBLE_MM) < SAME_MM and _far(other[1] - other[0], ends[1] - ends[0]) < SAME_MM
        ]
        if beside:
            middle = rim.interpolate((place + 0.5 * steps[beside[0]]) % rim.length)
            left.pop(beside[0])
            marks.append((np.array(middle.coords[0]), 2))
        else:
            marks.append((np.array(rim.interpolate(place).coords[0]), 1))
    return marks


def _round(step: float, length: float) -> float:
    """The shorter way from one place to another on a closed line."""
    return (step + 0.5 * length) % length - 0.5 * length


def _point(at: np.ndarray) -> Any:
    return shapely.Point(float(at[0]), float(at[1]))


def _far(a: np.ndarray, b: np.ndarray) -> float:
    return float(np.linalg.norm(a - b))


def places_along(run: np.ndarray, notches: tuple[tuple[np.ndarray, int], ...]) -> list[tuple[float, int]]:
    """Notches that stand on a line, by their distance along it from its first point."""
    line = LineString(run)
    near = [(line.project(_point(at)), kind) for at, kind in notches if line.distance(_point(at)) <= SAME_MM]
    return sorted(near)
