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
DOUBLE_MM = 3.0
# A notch stands no farther from its place on the sew line than the widest allowance.
FAR_MM = 205.0


@dataclass(frozen=True, eq=False)
class Placed:
    """One piece on the paper. sew, cut: closed outlines; at: place of every rim vertex of the panel by its number;
    notches: places on the sew line with 1 or 2 for a single or double notch; loose: notches that belong to no place."""

    panel: Any
    piece: Any
    sew: np.ndarray
    cut: np.ndarray
    at: dict[int, np.ndarray]
    notches: tuple[tuple[np.ndarray, int], ...]
    loose: int

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
        corner = [rim.vertices[:-1] for rim in panel.rim]
        numbers = np.concatenate(corner)
        like = [k for k, sew in enumerate(sews) if _alike(sew.points, piece.sew)]
        if len(like) < 1:
            faults.append(f"{piece.name} is not on the paper as it was computed")
            continue
        sew = sews.pop(like[0]).points
        if signed_area(sew) <= 0.0:
            faults.append(f"{piece.name} lies on the paper turned over")
        middle = Polygon(sew).representative_point()
        around = [c.points for c in cuts if Polygon(c.points).covers(middle)]
        if len(around) != 1:
            faults.append(f"{piece.name} has {len(around)} cut lines round it")
            continue
        notches, loose = _notches(drawing, sew, around[0])
        at = dict(zip(numbers.tolist(), sew, strict=True))
        found[panel.name] = Placed(panel, piece, sew, around[0], at, notches, loose)
    return found, faults


def _alike(a: np.ndarray, b: np.ndarray) -> bool:
    return len(a) == len(b) and bool(np.abs(steps(a, closed=True) - steps(b, closed=True)).max() < SAME_MM)


def _notches(drawing: Drawing, sew: np.ndarray, cut: np.ndarray) -> tuple[tuple[tuple[np.ndarray, int], ...], int]:
    """Where a piece is notched: ticks on the sew line, with the one or two notches that stand before each."""
    body, rim = Polygon(cut).buffer(0.1), Polygon(sew).exterior
    shapely.prepare(body)
    tips = [
        s.points[1] for s in drawing.get("notches", []) if len(s.points) == 3 and body.contains(_point(s.points[1]))
    ]
    free = set(range(len(tips)))
    marks = []
    for stroke in drawing.get("inner lines", []):
        ends = stroke.points
        if len(ends) != 2 or stroke.closed or abs(float(np.linalg.norm(ends[1] - ends[0])) - TICK_MM) > 1e-3:
            continue
        middle = ends.mean(axis=0)
        if not body.contains(_point(middle)) or rim.distance(_point(middle)) > SAME_MM:
            continue
        out = (ends[1] - ends[0]) / TICK_MM
        across = np.array([-out[1], out[0]])
        aside = {k: float((tips[k] - middle) @ across) for k in free if _far(tips[k], middle) < FAR_MM}
        one = [k for k, d in aside.items() if abs(d) < SAME_MM]
        two = [k for k, d in aside.items() if abs(abs(d) - DOUBLE_MM) < SAME_MM]
        near = sorted(one or two, key=lambda k: _far(tips[k], middle))
        taken = near[:1] if one else near[:2]
        free -= set(taken)
        if taken:
            marks.append((middle, len(taken)))
    return tuple(marks), len(free)


def _point(at: np.ndarray) -> Any:
    return shapely.Point(float(at[0]), float(at[1]))


def _far(a: np.ndarray, b: np.ndarray) -> float:
    return float(np.linalg.norm(a - b))


def places_along(run: np.ndarray, notches: tuple[tuple[np.ndarray, int], ...]) -> list[tuple[float, int]]:
    """Notches that stand on a line, by their distance along it from its first point."""
    line = LineString(run)
    near = [(line.project(_point(at)), kind) for at, kind in notches if line.distance(_point(at)) <= SAME_MM]
    return sorted(near)
