"""From what a sheet says of a pad's frame to its record: the base plane and drops along the sides; and what it says of
the corners held against the sides."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from meshes.base.plane import Point, turn_at
from meshes.base.problems import KeyPath
from meshes.base.units import SAME_PLACE_MM, TAPE_READING_MM
from meshes.outlines.rounded import CornersTooRoundError, rounded_outline
from meshes.records.bands import Bands
from meshes.records.corners import CORNERS_AFTER, LEAST_CORNER_RAD, CornerFinish, Folds, usual_finish
from meshes.records.frame import BasePlane, Fixings, Frame
from meshes.records.pad import SIDES, Layer, Outline, Side, side_word
from meshes.schema.support import FrameInput
from meshes.schema.words import Faults

_EDGES = ("front", "rear", "left", "right")
# A place of a drop lies no further past the end of its side.
PAST_SIDE_MM = 20.0


def frame_record(
    given: FrameInput,
    drops: Mapping[str, Sequence[Point]],
    dropped: Mapping[str, bool],
    outline: Outline | None,
    keys: KeyPath,
    faults: Faults,
) -> Frame:
    """The frame of a pad. drops: measured along a side; dropped: whether a side has a drop or drops of its own."""
    for side, points in drops.items():
        _check_drops(side, points, outline, (*keys, "sides", side, "drops"), faults)
    if outline is not None and outline.symmetric:
        drops = {side: _both_halves(points) if side in ("front", "rear") else points for side, points in drops.items()}
    base = None if outline is None else _base(given, outline, (*keys, "frame"), faults)
    based = () if base is None else tuple(sorted(side for side in SIDES if not dropped.get(side, False)))
    rim: Any = given.rim
    tack: Any = given.tack
    if base is not None and not based:
        text = "every side has a drop of its own, so the base has no effect; leave out the drops of those on it"
        faults.warn("G059", (*keys, "frame"), text)
    return Frame(rim, tack, base, based, tuple(sorted((side, tuple(points)) for side, points in drops.items())))


def check_folds(folds: Folds, sides: Mapping[str, Side], keys: KeyPath, faults: Faults) -> None:
    """A corner can be folded only where the cover runs over the edge on both sides of it."""
    kind = faults.places.kind(keys[1])
    for k, corner in enumerate(CORNERS_AFTER):
        beside = (SIDES[k], SIDES[(k + 1) % len(SIDES)])
        banded = [side for side in beside if side in sides and sides[side].band]
        # A corner that is cut for a post is asked where posts are.
        if folds.of(corner) not in (None, CornerFinish.CUT) and banded:
            where = side_word(banded[0], kind)
            text = f"{folds.of(corner)}, but the {where} side has a band, which ends there; take the band out"
            faults.add("G118", (*keys, "folds"), f"{text}, or name only corners between sides without one")
            return


def cut_for_posts(folds: Folds, fixings: Fixings) -> Folds:
    """Corners in which a post stands are cut in for it, whatever is said of the others."""
    cut = {post.corner for post in fixings.corner_posts if post.through}
    words = {corner: CornerFinish.CUT if corner in cut else folds.of(corner) for corner in CORNERS_AFTER}
    return replace(folds, finishes=tuple((corner, word) for corner, word in words.items() if word is not None))


def usual_folds(
    folds: Folds, outline: Outline | None, sides: Mapping[str, Side], layers: Sequence[Layer | None]
) -> Folds:
    """The corners of a pad whose sheet asks for them and names no finish: drawn on a thin pad, folded on a thick one,
    wherever the cover runs over the edge on both sides of a corner that turns."""
    if folds.finishes or outline is None or len(sides) < len(SIDES):
        return folds
    thick = sum(one.thickness for one in layers if one is not None and one.where in ("all", "face") and not one.within)
    finish = usual_finish(thick)
    found = []
    for k, corner in enumerate(CORNERS_AFTER):
        both = (SIDES[k], SIDES[(k + 1) % len(SIDES)])
        if not any(sides[side].band for side in both) and _turn_between(outline, *both) >= LEAST_CORNER_RAD:
            found.append((corner, finish))
    return replace(folds, finishes=tuple(found))


def with_rear_join(bands: Bands, outline: Outline | None, sides: Mapping[str, Side]) -> Bands:
    """The bands of a pad; one that goes on all round and has no join is joined where nobody looks, in the middle of the
    rear."""
    ring = all(word == "none" for word in bands.corners) and not bands.over
    if outline is None or bands.joins or not ring or not all(side.band for side in sides.values()):
        return bands
    names, points = outline.side_of_edge, outline.corners
    rear = [k for k, name in enumerate(names) if name == "rear"]
    begin = next(k for k in rear if names[k - 1] != "rear")
    end = (next(k for k in rear if names[(k + 1) % len(names)] != "rear") + 1) % len(names)
    (ax, ay), (bx, by) = points[begin], points[end]
    try:
        curve = rounded_outline(points, outline.radii, names)
    except CornersTooRoundError:
        # That is told where the pad is built.
        return bands
    on = curve.point(curve.nearest(np.array([[0.5 * (ax + bx), 0.5 * (ay + by)]]))[0])[0]
    return replace(bands, joins=((0.0 if outline.symmetric else float(on[0]), float(on[1])),))


def _turn_between(outline: Outline, before: str, after: str) -> float:
    """How far an outline turns where one side ends and the next begins, rad."""
    count = len(outline.corners)
    parted = [k for k in range(count) if (outline.side_of_edge[k - 1], outline.side_of_edge[k]) == (before, after)]
    return max((turn_at(*(outline.corners[(k + n) % count] for n in (-1, 0, 1))) for k in parted), default=0.0)


def _base(given: FrameInput, outline: Outline, keys: KeyPath, faults: Faults) -> BasePlane | None:
    """The plane through what was read at the edges, in least squares; None without any reading."""
    read = {edge: getattr(given, edge) for edge in _EDGES if getattr(given, edge) is not None}
    if given.level is not None:
        for edge in read:
            faults.add("S020", (*keys, edge), "given together with level; keep level, or the readings at the edges")
        return BasePlane(-given.level)
    if not read:
        return None
    kind = faults.places.kind(keys[1])
    for one, other in (("front", "rear"), ("left", "right")):
        if (one in read) != (other in read):
            have, lack = (one, other) if one in read else (other, one)
            text = f"missing; {side_word(have, kind)} needs {side_word(lack, kind)} beside it, or give level"
            faults.add("S011", (*keys, lack), text)
            return None
    at = _edge_places(outline)
    rows = np.array([[1.0, *at[edge]] for edge in read])
    heights = -np.array(list(read.values()))
    # Of all planes through two readings the one that does not lean the other way.
    middle = rows[:, 1:].mean(axis=0)
    slope = np.linalg.lstsq(rows[:, 1:] - middle, heights - heights.mean(), rcond=None)[0]
    plane = BasePlane(float(heights.mean() - middle @ slope), float(slope[1]), float(slope[0]))
    missed = float(np.abs(plane.at(rows[:, 1:]) - heights).max())
    if missed > TAPE_READING_MM:
        text = f"the readings at the four edges miss every plane by {missed:.1f} mm; the nearest one is taken"
        faults.warn("G059", keys, f"{text}: measure again")
    return plane


def _edge_places(outline: Outline) -> dict[str, Point]:
    xs, ys = [x for x, _ in outline.corners], [y for _, y in outline.corners]
    middle = 0.5 * (min(ys) + max(ys))
    return {"front": (0.0, min(ys)), "rear": (0.0, max(ys)), "left": (min(xs), middle), "right": (max(xs), middle)}


def _check_drops(side: str, points: Sequence[Point], outline: Outline | None, keys: KeyPath, faults: Faults) -> None:
    word = "x" if side in ("front", "rear") else "y"
    for k, (place, drop) in enumerate(points):
        if k and place < points[k - 1][0] + SAME_PLACE_MM:
            text = f"out of order, found {place:g} mm after {points[k - 1][0]:g}; list the drops by rising {word}"
            faults.add("G025", (*keys, k), text)
        if drop <= 0.0:
            faults.add("G025", (*keys, k), f"a drop of {drop:g} mm; it counts down from the edge and is more than 0")
    if outline is None:
        return
    edges = [k for k, name in enumerate(outline.side_of_edge) if name == side]
    own = [outline.corners[n % len(outline.corners)] for k in edges for n in (k, k + 1)]
    axis = 0 if word == "x" else 1
    low, high = min(p[axis] for p in own), max(p[axis] for p in own)
    for k, (place, _) in enumerate(points):
        if not low - PAST_SIDE_MM <= place <= high + PAST_SIDE_MM:
            text = f"{word} = {place:g} mm is not on this side, which runs from {low:.0f} to {high:.0f} mm"
            faults.add("G025", (*keys, k), f"{text}; check the place")


def _both_halves(points: Sequence[Point]) -> Sequence[Point]:
    """Drops read on the right half only, completed by their mirror image."""
    if points[0][0] < 0.0:
        return points
    return [*((-x, drop) for x, drop in reversed(points) if x > 0.0), *points]


def based_drops(sides: Mapping[str, Side], frame: Frame, outline: Outline | None) -> dict[str, Side]:
    """The sides, those on the base plane with the drop they have to it in their middle, from the pad's zero."""
    if frame.base is None or outline is None:
        return dict(sides)
    at = _edge_places(outline)
    down = {side: -float(frame.base.at(np.array([at[side]]))[0]) for side in frame.based}
    return {name: replace(side, drop=max(down[name], 0.0)) if name in down else side for name, side in sides.items()}
