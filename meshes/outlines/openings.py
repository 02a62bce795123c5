"""Openings of a covered board as a sheet gives them: round, square on, or traced; and outlines followed by points."""

import math
from collections.abc import Sequence

import numpy as np

from meshes.base.arrays import FloatArray
from meshes.base.plane import Point, area, first_crossing, turn_at
from meshes.base.problems import KeyPath
from meshes.base.units import SNAP_MM
from meshes.outlines.plans import Corner, round_plan, traced_plan
from meshes.records.board import USUAL_OPENING_WRAP_MM, Opening
from meshes.schema.outline import OpeningInput
from meshes.schema.words import Faults

# A chord lies no further inside its arc than this, and turns by no more.
CHORD_MM, CHORD_RAD = 0.02, math.radians(6.0)
_BY_SHAPE = {None: ("width", "depth", "corner_radius"), "round": ("width", "depth"), "traced": ()}


def opening_record(given: OpeningInput, keys: KeyPath, faults: Faults) -> Opening | None:
    """One opening; None when it cannot be used. keys: its place in the sheet."""
    if not _keys_fit(given, keys, faults):
        return None
    corners = _corners(given)
    points = [corner.at for corner in corners]
    if len(points) < 3 or first_crossing(points, closed=True) is not None or abs(area(points)) < SNAP_MM:
        text = f"{len(points)} points that bound no opening; put three or more in order round it"
        faults.add("G001", (*keys, "points"), text)
        return None
    if area(points) < 0.0:
        corners = corners[::-1]
    short = _too_round([c.at for c in corners], [c.radius for c in corners])
    if short > SNAP_MM:
        key = "points" if given.points is not None else "corner_radius"
        text = f"its corners need {short:.1f} mm more than its sides are long; make them less round"
        faults.add("G101", (*keys, key), text)
        return None
    if given.edge == "cut" and given.wrap is not None:
        text = 'an opening with edge = "cut" has nothing turned in; leave wrap out'
        faults.add("S020", (*keys, "wrap"), text)
        return None
    wrap = 0.0 if given.edge == "cut" else USUAL_OPENING_WRAP_MM if given.wrap is None else given.wrap
    return Opening(given.name, tuple(c.at for c in corners), tuple(c.radius for c in corners), wrap)


def _keys_fit(given: OpeningInput, keys: KeyPath, faults: Faults) -> bool:
    """Whether the keys of an opening go with its shape; what does not is told."""
    before = len(faults.problems)
    traced = given.points is not None
    if given.shape == "traced" and not traced:
        faults.add("S011", (*keys, "points"), 'missing; shape = "traced" needs points beside it')
    if given.shape == "round" and traced:
        faults.add("S020", (*keys, "points"), 'has no place beside shape = "round"; leave it out')
    own = () if traced else _BY_SHAPE[given.shape]
    for name in ("at", "width", "depth", "corner_radius"):
        if name in given.model_fields_set and name not in (() if traced else ("at", *own)):
            faults.add("S020", (*keys, name), "has no place beside this shape; leave it out")
    if not traced and given.shape != "traced":
        needed = ("at", "width") if given.shape == "round" else ("at", "width", "depth")
        for name in needed:
            if getattr(given, name) is None:
                faults.add("S011", (*keys, name), f"missing; an opening needs {name}, or points round it")
    return len(faults.problems) == before


def _corners(given: OpeningInput) -> list[Corner]:
    if given.points is not None:
        traced = [Corner((p[0], p[1]), p[2] if len(p) > 2 else 0.0) for p in given.points]
        return traced_plan(traced) if given.shape == "traced" and len(traced) > 2 else traced
    assert given.at is not None
    assert given.width is not None
    (x, y), width = given.at, given.width
    depth = width if given.depth is None else given.depth
    if given.shape == "round":
        return [c._replace(at=(c.at[0] + x, c.at[1] + y - 0.5 * depth)) for c in round_plan(width, depth)]
    ways = ((-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5))
    return [Corner((x + a * width, y + b * depth), given.corner_radius) for a, b in ways]


def _cuts(corners: Sequence[Point], radii: Sequence[float]) -> list[float]:
    """How much of its two sides every corner's arc takes."""
    count = len(corners)
    turns = [turn_at(corners[k - 1], corners[k], corners[(k + 1) % count]) for k in range(count)]
    return [radius * math.tan(0.5 * abs(turn)) for radius, turn in zip(radii, turns, strict=True)]


def _too_round(corners: Sequence[Point], radii: Sequence[float]) -> float:
    """By how much two arcs want more than the side between them; 0 or less where all fit."""
    cuts, count = _cuts(corners, radii), len(corners)
    return max(cuts[k] + cuts[(k + 1) % count] - math.dist(corners[k], corners[(k + 1) % count]) for k in range(count))


def followed(corners: Sequence[Point], radii: Sequence[float]) -> FloatArray:
    """A rounded outline as points (k, 2) on its runs and arcs, first not repeated, as it is given."""
    count, points = len(corners), []
    cuts = _cuts(corners, radii)
    for k in range(count):
        here = np.array(corners[k])
        before, after = here - np.array(corners[k - 1]), np.array(corners[(k + 1) % count]) - here
        before, after = before / np.linalg.norm(before), after / np.linalg.norm(after)
        turn = float(np.arctan2(before[0] * after[1] - before[1] * after[0], before @ after))
        if radii[k] <= 0.0 or abs(turn) < 1e-9:
            points.append(here)
            continue
        start = here - cuts[k] * before
        centre = start + math.copysign(radii[k], turn) * np.array([-before[1], before[0]])
        step = min(CHORD_RAD, math.sqrt(8.0 * CHORD_MM / radii[k]))
        angles = turn * np.linspace(0.0, 1.0, max(math.ceil(abs(turn) / step), 1) + 1)
        cos, sin = np.cos(angles), np.sin(angles)
        away = start - centre
        points += list(centre + np.stack([cos * away[0] - sin * away[1], sin * away[0] + cos * away[1]], axis=1))
    ring = np.array(points)
    apart = np.linalg.norm(ring - np.roll(ring, 1, axis=0), axis=1)
    return np.asarray(ring[apart > 1e-6])
