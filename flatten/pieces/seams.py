"""Both sides of every seam: what they measure, and where they are notched alike.

Both pieces of a seam run along the same edges of the seat; they are sought together (flatten/demand/together.py), so
that their lengths come out equal edge by edge. Lengths are mm, measured along the sew line. A seam sews well when its
sides differ by no more than a hand can ease in.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from flatten.maps.flat import Flat
from meshes.base.arrays import FloatArray, IntArray
from meshes.seat.panels import Panel, Seam
from meshes.seat.seam_sides import ease_of, sides_of
from meshes.sheet.whole import Ease

# What two sides may differ by and still sew flat: in all, and over every interval, as a length or a share of it.
SEAM_TOLERANCE_MM = 1.5
INTERVAL_MM = 30.0
INTERVAL_TOLERANCE_MM, INTERVAL_TOLERANCE_SHARE = 0.5, 0.005


@dataclass(frozen=True)
class SeamFigures:
    """Lengths of a seam on its two pieces and on the seat, mm; ease: by how much side a was to be longer than b (b
    longer: below 0); mismatch is b minus a after that ease, in all and where it is largest over 30 mm."""

    name: str
    a: str
    b: str
    length_a_mm: float
    length_b_mm: float
    seat_mm: float
    mismatch_mm: float
    welt: bool
    local_mm: float = 0.0
    ease_mm: float = 0.0

    @property
    def sews(self) -> bool:
        """Whether the sides are equal within the tolerances, in all and everywhere along the seam."""
        local = max(INTERVAL_TOLERANCE_MM, INTERVAL_TOLERANCE_SHARE * INTERVAL_MM)
        return abs(self.mismatch_mm) <= SEAM_TOLERANCE_MM and abs(self.local_mm) <= local


def _steps(path: FloatArray) -> FloatArray:
    return np.asarray(np.linalg.norm(np.diff(path, axis=0), axis=1))


def seam_figures(
    seams: Sequence[Seam], panels: Mapping[str, Panel], flats: Mapping[str, Flat], eases: Sequence[Ease] = ()
) -> tuple[SeamFigures, ...]:
    """Measure every seam on both pieces and on the seat; eases: fullness that was asked for."""
    rows = []
    for seam in seams:
        sides = sides_of(seam, panels)
        seat = _steps(panels[seam.a].surface.vertices[sides[0][1]])
        a, b = (_steps(flats[name].points[run]) for name, run in sides)
        rows.append(figures_of(seam, seat, (a, b), ease_of(seam, panels, eases)))
    return tuple(rows)


def figures_of(seam: Seam, seat: FloatArray, sides: tuple[FloatArray, FloatArray], share: float) -> SeamFigures:
    """What a seam measures. seat, sides: lengths (k,) of its edges on the seat and on both pieces, mm; share: by which
    side a is to be longer."""
    a, b = sides
    totals = float(a.sum()), float(b.sum())
    eased = a / (1.0 + share)
    return SeamFigures(
        seam.name,
        seam.a,
        seam.b,
        *totals,
        seat_mm=float(seat.sum()),
        mismatch_mm=totals[1] - float(eased.sum()),
        welt=seam.welt,
        local_mm=largest_local(b - eased, seat),
        ease_mm=float((a - eased).sum()),
    )


def largest_local(differences: FloatArray, seat: FloatArray) -> float:
    """The largest sum of differences (k,) over an interval of INTERVAL_MM, with its sign; each is spread evenly over
    its edge, of lengths (k,) on the seat."""
    at = np.concatenate([[0.0], np.cumsum(seat)])
    total = np.concatenate([[0.0], np.cumsum(differences)])
    # The sum is straight between places where the interval begins or ends at a vertex: it is largest at one of them.
    begin = np.clip(np.concatenate([at, at - INTERVAL_MM]), 0.0, max(float(at[-1]) - INTERVAL_MM, 0.0))
    sums = np.interp(begin + INTERVAL_MM, at, total) - np.interp(begin, at, total)
    return float(sums[int(np.argmax(np.abs(sums)))])


def ease_notes(seams: Sequence[SeamFigures]) -> dict[tuple[str, str], str]:
    """What is to be written along eased edges: by panel and seam."""
    notes = {}
    for seam in seams:
        if abs(seam.ease_mm) >= 0.05:
            longer, shorter = (seam.a, seam.b) if seam.ease_mm > 0 else (seam.b, seam.a)
            amount = f"{abs(seam.ease_mm):.1f} mm"
            notes[longer, seam.name] = f"ease in {amount} evenly"
            notes[shorter, seam.name] = f"other side eased by {amount}"
    return notes


def seam_runs_back(seam_points: FloatArray, *, two_sided: bool = False) -> bool:
    """Whether a seam, walked in its given order, ends at its front or left rather than its rear or right.

    seam_points (k, 3) in pad coordinates. Notches are counted from the front or left end on both pieces and the last
    one is doubled, so a piece cannot be sewn end for end. A seam that runs down a side is counted from its lower end;
    one that stays on one side of the centre line is counted outwards, so that mirrored pieces are notched alike.
    two_sided: the same holds of a closed cover's middle height, 0, about which its two halves are mirrored.
    """
    whole = seam_points[-1] - seam_points[0]
    step = np.abs(whole)
    axis = 1 if step[1] > 0.5 * step.max() else int(np.argmax(step))
    first, last = seam_points[0, 0], seam_points[-1, 0]
    if axis == 0 and first * last >= 0.0:
        return bool(abs(last) < abs(first))
    low, high = seam_points[0, 2], seam_points[-1, 2]
    if axis == 2 and two_sided and low * high >= 0.0:
        return bool(abs(high) < abs(low))
    return bool(whole[axis] < 0)


def counted_from(
    vertices: IntArray, numbers: IntArray, seam: Seam, seat: FloatArray, *, two_sided: bool = False
) -> bool:
    """True when a piece's edge (panel `vertices`, pad `numbers`) runs from the seam's counting end to its doubled end;
    two_sided: as for `seam_runs_back`."""
    forward = numbers[vertices[0]] == seam.vertices[0]
    return bool(forward != seam_runs_back(seat[seam.vertices], two_sided=two_sided))
