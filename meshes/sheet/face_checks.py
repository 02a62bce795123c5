"""Checks of what lies on the face of a pad: measured profiles, the inset, extra seam lines.

Profiles have to be in order, on the pad and without spikes; an inset has to leave bolsters and a middle; a
seam line has to divide the face, so both of its ends reach an edge or another line.
"""

import math
from collections.abc import Sequence
from itertools import pairwise

from meshes.base.plane import Point, crossing_of, distance_to_line, extent, first_crossing, outside_by
from meshes.base.problems import KeyPath
from meshes.base.units import HIGHEST_MM, LINE_REACH_MM, SAME_PLACE_MM, SNAP_MM, TAPE_READING_MM
from meshes.records.pad import SIDES, ExtraLine, Inset, Outline, Profile, side_word
from meshes.schema.words import Faults
from meshes.sheet.parts import PadDraft

# Steeper than this between two readings is a slip of the gauge, or a wall that belongs to a side.
STEEPEST_DEG = 80.0
# A reading is a spike when the next one comes back by at least this share of the jump.
BACK_SHARE = 0.5
# An end of a profile without readings is carried on straight; beyond this share of the pad it is a guess.
UNMEASURED_SHARE = 0.2
# Readings may run past the outline by this share of the pad, where the gauge was laid on beyond the edge: what lies
# there is left out and told. Farther, the profile or the outline is of something else.
PAST_SHARE = 0.5


def check_face(drawn: PadDraft, faults: Faults) -> None:
    """Check profiles, inset and lines of one pad as far as they could be read."""
    check_profiles(drawn.profiles, drawn.outline, (*drawn.keys, "profile"), faults)
    if drawn.inset is not None:
        _check_inset(drawn, drawn.inset, faults)
    _check_line_names(drawn.lines, drawn.keys, faults)
    for k, line in enumerate(drawn.lines):
        if line is not None:
            _check_line(line, drawn, k, faults)


def check_profiles(profiles: Sequence[Profile | None], outline: Outline | None, keys: KeyPath, faults: Faults) -> None:
    """Check the profiles of a face, or of a block's top; keys: of the row they stand in."""
    for k, profile in enumerate(profiles):
        if profile is not None:
            _check_profile(profile, outline, (*keys, k), faults)
    _check_twins(profiles, keys, faults)


def _check_profile(profile: Profile, outline: Outline | None, keys: KeyPath, faults: Faults) -> None:
    before: Point | None = None
    for k, (place, height) in enumerate(profile.points):
        here = (*keys, "points", k)
        if abs(height) > HIGHEST_MM:
            text = f"a height of {height:g} mm, more than {HIGHEST_MM:g}; heights count from the pad's own zero"
            faults.add("G015", here, text)
        if before is not None and place <= before[0]:
            what = "the same place as the point before" if place == before[0] else "out of order"
            text = f"{what}, found {place:g} mm after {before[0]:g}; list the points by rising place"
            faults.add("G010", here, text)
        elif before is not None and _degrees(before, (place, height)) > STEEPEST_DEG:
            _tell_steep(profile.points, k, here, faults)
        before = (place, height)
    if outline is not None:
        _check_on_pad(profile, outline, keys, faults)


def _degrees(before: Point, here: Point) -> float:
    return math.degrees(math.atan2(abs(here[1] - before[1]), here[0] - before[0]))


def _tell_steep(points: Sequence[Point], k: int, here: KeyPath, faults: Faults) -> None:
    """A reading that stands out between its neighbours is a slip; a wall is a side, not a part of the face."""
    rise, run = points[k][1] - points[k - 1][1], points[k][0] - points[k - 1][0]
    after = points[k + 1][1] - points[k][1] if k + 1 < len(points) else 0.0
    came = points[k - 1][1] - points[k - 2][1] if k > 1 else 0.0
    if min(after * rise, came * rise) < -BACK_SHARE * rise * rise:
        faults.add("G014", here, f"a spike: {rise:+g} mm within {run:g} mm; measure this point again")
        return
    steep = _degrees(points[k - 1], points[k])
    text = (
        f"a wall of {steep:.0f} degrees: {rise:+g} mm within {run:g} mm; a face is read up to {STEEPEST_DEG:g} degrees"
    )
    text += (
        ": end the profile before the wall and give it as a side (drop, turn) or a pad of its own, or read on it too"
    )
    faults.add("G016", here, text)


def _check_on_pad(profile: Profile, outline: Outline, keys: KeyPath, faults: Faults) -> None:
    across, along = ("x", "y") if profile.direction == "along" else ("y", "x")
    reach = crossing_of(outline.corners, profile.direction, profile.at)
    if reach is None:
        other = "across" if profile.direction == "along" else "along"
        low, high = _span(outline.corners, 0 if across == "x" else 1)
        text = f"{across} = {profile.at:g} mm is beside the pad, which runs from {low:g} to {high:g}"
        faults.add("G012", (*keys, "at"), f"{text}; check at, or was it measured {other}?")
        return
    _check_past(profile, reach, along, keys, faults)
    places = sorted(place for place, _ in profile.points)
    low, high = reach
    if profile.direction == "across" and outline.symmetric:
        low, high = (0.0, high) if places[0] >= 0 else (low, 0.0) if places[-1] <= 0 else (low, high)
    gap = max(places[0] - low, high - places[-1])
    if gap > UNMEASURED_SHARE * (reach[1] - reach[0]):
        text = f"{gap:g} mm at one end were not measured and are carried on straight; add a point near the edge"
        faults.warn("G053", (*keys, "points"), text)


def _check_past(profile: Profile, reach: Point, along: str, keys: KeyPath, faults: Faults) -> None:
    """Readings past the outline: a few are told and not used, far ones and a profile all beside it are refused."""
    far = PAST_SHARE * (reach[1] - reach[0])
    past = [max(reach[0] - place, place - reach[1]) for place, _ in profile.points]
    on_pad = sum(by <= TAPE_READING_MM for by in past)
    worst = max(range(len(past)), key=lambda k: past[k])
    if past[worst] <= TAPE_READING_MM:
        return
    here, place = (*keys, "points", worst), profile.points[worst][0]
    other = "y" if along == "x" else "x"
    runs = f"which runs from {reach[0]:.4g} mm to {reach[1]:.4g} mm at {other} = {profile.at:g} mm"
    if past[worst] > far or on_pad < 2:
        text = f"{along} = {place:g} mm is outside the outline, {runs}"
        faults.add("G011", here, f"{text}; check the place or the outline")
        return
    text = f"readings up to {along} = {place:g} mm, {past[worst]:g} mm outside the outline, {runs}"
    faults.warn("G065", here, f"{text}; what lies outside is left out: check the place and the outline")


def _span(points: Sequence[Point], axis: int) -> tuple[float, float]:
    values = [point[axis] for point in points]
    return min(values), max(values)


def _check_twins(profiles: Sequence[Profile | None], keys: KeyPath, faults: Faults) -> None:
    for k, profile in enumerate(profiles):
        for m, other in enumerate(profiles[:k]):
            if profile is None or other is None or profile.direction != other.direction:
                continue
            if abs(profile.at - other.at) < SAME_PLACE_MM:
                text = (
                    f"the same place and direction as profile {m + 1}, found {profile.direction} at {profile.at:g} mm"
                )
                faults.add("G013", (*keys, k, "at"), f"{text}; keep one of them")


def _check_inset(drawn: PadDraft, inset: Inset, faults: Faults) -> None:
    keys = (*drawn.keys, "inset")
    margins = {side: float(getattr(inset, side)) for side in SIDES}
    if not any(margins.values()):
        faults.add("G030", keys, "an inset without any margin is the face itself; give margin, or a margin for a side")
        return
    for side, margin in margins.items():
        edge = drawn.sides[side].edge_radius if side in drawn.sides else 0.0
        if 0.0 < margin < edge:
            text = (
                f"{margin:g} mm from the {side_word(side, drawn.kind)} edge lies in the turn of its {edge:g} mm radius"
            )
            faults.add("G031", (*keys, side), f"{text}; make the margin larger than that, or 0 to run to the side")
    if drawn.outline is None:
        return
    left_over = _inset_room(drawn.outline, margins)
    if min(left_over) <= 2 * TAPE_READING_MM:
        text = f"the margins leave {left_over[0]:g} x {left_over[1]:g} mm of the face; make them smaller"
        faults.add("G030", keys, text)
    elif inset.corner_radius > 0.5 * min(left_over):
        text = f"corners of {inset.corner_radius:g} mm radius do not fit an inset"
        text += f" of {left_over[0]:g} x {left_over[1]:g} mm; make the radius smaller"
        faults.add("G032", (*keys, "corner_radius"), text)


def _inset_room(outline: Outline, margins: dict[str, float]) -> tuple[float, float]:
    """Narrowest width and shortest depth that the margins leave of the face, mm; below 0 where they
    overlap.
    """
    low, high = _span(outline.corners, 1)
    names = outline.side_of_edge
    # Where the inset runs out over a side it is measured where that side ends: on a bow it has no width further on.
    parts = {s: [p[1] for k, p in enumerate(outline.corners) if (names[k] == s) != (names[k - 1] == s)] for s in SIDES}
    front = low + margins["front"] if margins["front"] > 0.0 else max(parts["front"])
    rear = high - margins["rear"] if margins["rear"] > 0.0 else min(parts["rear"])
    width = math.inf
    for y in (front, rear):
        reach = crossing_of(outline.corners, "across", min(max(y, low), high))
        if reach is not None:
            width = min(width, reach[1] - reach[0])
    depth = extent(outline.corners)[1]
    return width - margins["left"] - margins["right"], depth - margins["front"] - margins["rear"]


def _check_line_names(lines: Sequence[ExtraLine | None], keys: KeyPath, faults: Faults) -> None:
    seen: dict[str, int] = {}
    for k, line in enumerate(lines):
        if line is not None and seen.setdefault(line.name.casefold(), k) != k:
            text = f'the name "{line.name}" is taken by line {seen[line.name.casefold()] + 1}; give every line its own'
            faults.add("S021", (*keys, "line", k, "name"), text)


def _check_line(line: ExtraLine, drawn: PadDraft, number: int, faults: Faults) -> None:
    keys = (*drawn.keys, "line", number, "points")
    for k, (before, here) in enumerate(pairwise(line.points), start=1):
        if math.dist(here, before) < SNAP_MM:
            faults.add("G042", (*keys, k), f"the same place as the point before, found [{here[0]:g}, {here[1]:g}]")
            return
    if first_crossing(line.points, closed=False) is not None:
        faults.add("G042", keys, "the line crosses itself; put its points in order, or draw two lines")
        return
    if drawn.outline is None:
        return
    outline = drawn.outline
    before_here = len(faults.problems)
    for k, point in enumerate(line.points):
        beyond = outside_by(outline.corners, point)
        if beyond > LINE_REACH_MM:
            text = f"[{point[0]:g}, {point[1]:g}] lies {beyond:.0f} mm outside the pad; end the line at the edge"
            faults.add("G041", (*keys, k), text)
        if outline.symmetric and point[0] < -SNAP_MM:
            text = f"on the left half, found x = {point[0]:g} mm; draw the right half (x >= 0), it is mirrored"
            faults.add("G044", (*keys, k), text)
    if len(faults.problems) == before_here:
        _check_divides(line, drawn, outline, keys, faults)


def _check_divides(line: ExtraLine, drawn: PadDraft, outline: Outline, keys: KeyPath, faults: Faults) -> None:
    """A line has to leave the edge, and both of its ends have to reach an edge or another line."""
    rim = [*outline.corners, outline.corners[0]]
    middles = [((a[0] + b[0]) / 2, (a[1] + b[1]) / 2) for a, b in pairwise(line.points)]
    if all(distance_to_line(rim, p) <= LINE_REACH_MM for p in [*line.points, *middles]):
        faults.add("G045", keys, "the line only runs along the edge and divides nothing; draw it across the face")
        return
    own_mirror = all(x <= SNAP_MM for x, _ in line.points)
    for k in (0, len(line.points) - 1):
        end = line.points[k]
        on_centre = outline.symmetric and end[0] <= LINE_REACH_MM and not own_mirror
        if on_centre or distance_to_line(rim, end) <= LINE_REACH_MM or _meets_other(line, end, drawn, outline):
            continue
        text = f"ends at [{end[0]:g}, {end[1]:g}] inside the face; carry it on to an edge or another line"
        faults.add("G043", (*keys, k), text)


def _meets_other(line: ExtraLine, end: Point, drawn: PadDraft, outline: Outline) -> bool:
    others = [other.points for other in drawn.lines if other is not None and other is not line]
    if outline.symmetric:
        others += [tuple((-x, y) for x, y in points) for points in others]
    if any(distance_to_line(points, end) <= LINE_REACH_MM for points in others):
        return True
    if drawn.inset is None:
        return False
    for side in SIDES:
        margin = float(getattr(drawn.inset, side))
        if margin > 0.0 and abs(_from_side(outline, side, end) - margin) <= LINE_REACH_MM:
            return True
    return False


def _from_side(outline: Outline, side: str, p: Point) -> float:
    """Distance from p to the edges of one side, mm."""
    ends = [*outline.corners, outline.corners[0]]
    runs = [[ends[k], ends[k + 1]] for k, name in enumerate(outline.side_of_edge) if name == side]
    return min(distance_to_line(run, p) for run in runs)
