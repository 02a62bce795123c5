"""Pleats of two pads that meet: how far each valley of the one misses its fellow on the other, in the placed seat.

A cushion meets its neighbour with its rear edge, an upright pad with its bottom edge. Valleys are paired from the
centre marks outward, so that a missing outer pleat does not shift the rest. They are compared where the eye sees them
meet: seen from the side, the two padded surfaces cross in a crease above both tack lines, or come closest where they do
not touch. Lengths mm.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import shapely
import shapely.ops
from shapely.geometry import LineString, Point

from meshes.base.arrays import FloatArray, IntArray
from meshes.base.problems import Problem
from meshes.base.units import SAME_MM
from meshes.seat.assembly import placed
from meshes.seat.build import BuiltPad

# Pads whose meeting edges run further apart than this are no neighbours.
NEAR_MM = 250.0
# Valleys that miss each other by more than this are seen to.
SEEN_MM = 1.0
# A pad that follows another is laid out again when its valleys miss by more.
NUDGED_MM = 0.3


@dataclass(frozen=True)
class Offset:
    """One pair of valleys: a and b are pads; valley: the name on a; index: its place from the centre mark, 0 at the
    centre, negative to the left; offset: b minus a to the right at the visible meeting line, mm, 0 where they meet."""

    a: str
    b: str
    index: int
    valley: str
    offset_mm: float


def line_up(pads: Sequence[BuiltPad]) -> tuple[Offset, ...]:
    """Offsets of all valleys of neighbouring pads, cushions first; nothing where no two pleated pads meet."""
    rows: list[Offset] = []
    meeting = [pad for pad in pads if _arrive(pad)]
    for one, two in combinations(sorted(meeting, key=lambda pad: pad.pad.kind != "cushion"), 2):
        if "cushion" in (one.pad.kind, two.pad.kind) and one.pad.kind != two.pad.kind and _near(one, two):
            rows += _pair(one, two)
    return tuple(rows)


def nudges(follower: BuiltPad, offsets: Sequence[Offset]) -> tuple[float, ...]:
    """What has to be added in all to the valleys of a pad that follows another for them to meet, from the left, mm;
    nothing when they meet already or not every valley has its fellow.

    The places it was laid out by are those where both meet their common edge on the free padding; under the cover's
    pull valleys near corners move, and where the eye sees them meet they have run on a little.
    """
    leader = follower.pad.leader
    if leader is None or follower.pleats is None:
        return ()
    rows = sorted((row for row in offsets if {row.a, row.b} == {leader.name, follower.pad.name}), key=lambda r: r.index)
    if len(rows) != len(follower.pleats.plan.valleys) or max(abs(row.offset_mm) for row in rows) < NUDGED_MM:
        return ()
    so_far = follower.alignment.nudges or (0.0,) * len(rows)
    more = [-row.offset_mm if row.b == follower.pad.name else row.offset_mm for row in rows]
    return tuple(old + new for old, new in zip(so_far, more, strict=True))


def line_up_notes(offsets: Sequence[Offset], pads: Sequence[BuiltPad]) -> list[Problem]:
    """Warnings for pads whose pleats visibly miss each other, with what helps."""
    notes = []
    by_name = {pad.pad.name: pad for pad in pads}
    for a, b in dict.fromkeys((row.a, row.b) for row in offsets):
        worst = max((row for row in offsets if (row.a, row.b) == (a, b)), key=lambda row: abs(row.offset_mm))
        if abs(worst.offset_mm) > SEEN_MM:
            text = f"their valleys miss each other by up to {abs(worst.offset_mm):.1f} mm, at the {worst.valley}"
            advice = _what_helps(by_name[a], by_name[b])
            notes.append(Problem("G132", f"{a} and {b}", f"{text}; {advice}", warning=True))
    return notes


def _what_helps(one: BuiltPad, two: BuiltPad) -> str:
    """What brings the pleats of two pads together: following, or the same number of pleats for those that follow."""
    assert one.pleats is not None
    assert two.pleats is not None
    names, counts = (one.pad.name, two.pad.name), (len(one.pleats.figures), len(two.pleats.figures))
    leads = [pad.pleats.plan.pleats.lines_up_with for pad in (one, two) if pad.pleats is not None]
    if not set(leads) & set(names):
        return f'write lines_up_with = "{names[0]}" under the pleats of {names[1]}, or the other way round'
    if counts[0] != counts[1]:
        return f"they line up as far as they can with {counts[0]} pleats against {counts[1]}: give both the same number"
    return (
        "they line up as far as one pad can follow the other: make their widths where they meet more alike, or hide "
        "the meeting under a welt or roll"
    )


def _arrive(pad: BuiltPad) -> bool:
    """Whether a pad has pleats that run along it to the edge with which it meets its neighbour."""
    if pad.pleats is None or pad.pleats.plan.region.turned:
        return False
    side = "rear" if pad.pad.kind == "cushion" else "front"
    return pad.pad.inset is None or float(getattr(pad.pad.inset, side)) == 0.0


def _near(one: BuiltPad, two: BuiltPad) -> bool:
    if abs(one.pad.facing_deg - two.pad.facing_deg) > 1e-9:
        return False
    middles = [_ends(pad).mean(axis=0) for pad in (one, two)]
    return float(np.linalg.norm(middles[0] - middles[1])) < NEAR_MM


def _pair(one: BuiltPad, two: BuiltPad) -> list[Offset]:
    assert one.pleats is not None
    turn = np.deg2rad(one.pad.facing_deg)
    right = np.array([np.cos(turn), np.sin(turn), 0.0])
    zero = float(np.asarray(one.pad.origin) @ right)
    a, b = _ends(one) @ right - zero, _ends(two) @ right - zero
    first, second = _from_centre(a), _from_centre(b - float((np.asarray(two.pad.origin) - one.pad.origin) @ right))
    from_side = np.array([[-np.sin(turn), np.cos(turn), 0.0], [0.0, 0.0, 1.0]])
    rows = []
    for index in sorted(set(first) & set(second)):
        k, j = first[index], second[index]
        name = one.pleats.plan.valleys[k].name
        offset = _visible_offset(_run(one, k), _run(two, j), right, from_side)
        rows.append(Offset(one.pad.name, two.pad.name, index, name, offset))
    return rows


def _run(pad: BuiltPad, k: int) -> FloatArray:
    """A valley's points (n, 3) in the seat."""
    assert pad.pleats is not None
    return placed(pad.surface.vertices[pad.pleats.valleys[k]], pad.placement)


def _visible_offset(one: FloatArray, two: FloatArray, right: FloatArray, from_side: FloatArray) -> float:
    """How far valley `two` (m, 3) lies to the right of valley `one` (n, 3), mm, where they cross as seen from the side.

    right (3,): unit direction to the right; from_side (2, 3): depth and height. Of several crossings the one in sight
    counts, which is the highest; without one, the places where the two come closest.
    """
    a, b = LineString(one @ from_side.T), LineString(two @ from_side.T)
    met = shapely.get_coordinates(shapely.intersection(a, b))
    if len(met):
        place = Point(met[int(np.argmax(met[:, 1]))])
        at = (place, place)
    else:
        at = shapely.ops.nearest_points(a, b)
    return _to_the_right(b, two @ right, at[1]) - _to_the_right(a, one @ right, at[0])


def _to_the_right(line: LineString, across: FloatArray, place: Point) -> float:
    """How far to the right a run is at a place on it; across (n,): of its points."""
    points = shapely.get_coordinates(line)
    reach = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    return float(np.interp(line.project(place), reach, across))


def _from_centre(places: FloatArray) -> dict[int, int]:
    """Number of each valley by its place from the centre mark: 0 on it, 1, 2 ... to the right, negative to the
    left."""
    order = np.argsort(places, kind="stable")
    right = [int(k) for k in order if places[k] > SAME_MM]
    left = [int(k) for k in order[::-1] if places[k] < -SAME_MM]
    centre = [int(k) for k in order if abs(places[k]) <= SAME_MM]
    numbered = {n + 1: k for n, k in enumerate(right)} | {-n - 1: k for n, k in enumerate(left)}
    return numbered | ({0: centre[0]} if centre else {})


def _ends(pad: BuiltPad) -> FloatArray:
    """Where the valleys arrive at the edge with which a pad meets its neighbour, in the seat, (v, 3) mm."""
    assert pad.pleats is not None
    at = [_meeting(pad, path) for path in pad.pleats.valleys]
    return placed(pad.surface.vertices[at], pad.placement)


def _meeting(pad: BuiltPad, path: IntArray) -> int:
    """The vertex of a valley on the edge: the last one on the face, before it runs down the side."""
    assert pad.pleats is not None
    station = pad.pleats.station[path]
    tip = station.max() if pad.pad.kind == "cushion" else station.min()
    on_edge = path[np.abs(station - tip) < SAME_MM]
    return int(on_edge[0] if pad.pad.kind == "cushion" else on_edge[-1])
