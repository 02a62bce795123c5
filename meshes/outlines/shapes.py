"""Named shapes of a plan as a sheet gives them, and which stretch of a curved outline is which side.

On an outline without clear corners two sides part where it reaches farthest into the corner of the box round it, as on
a circle half-way between front and side; `corners` in the sheet says otherwise.
"""

import math
from collections.abc import Sequence

from meshes.base.plane import Point
from meshes.base.problems import KeyPath
from meshes.outlines.plans import Corner, UnlikelyPlanError, d_plan, kidney_plan, round_plan
from meshes.records.pad import upright_key
from meshes.schema.outline import CornersInput, OutlineInput, RadiiInput
from meshes.schema.words import Faults

# In the order in which an outline passes them.
CORNER_KEYS = ("front_left", "front_right", "rear_right", "rear_left")
_SIDES = ("front", "right", "rear", "left")
_MIRRORED = (1, 0, 3, 2)
# A place at which sides are to part lies no further from a corner of the outline.
AT_CORNER_MM = 30.0
# What each shape is told by; the first ones it cannot do without.
_NEEDED = {"round": ("width",), "d": ("width", "depth"), "kidney": ("width", "depth", "hollow"), "traced": ("points",)}
_ALLOWED = {
    "round": {"width", "depth"},
    "d": {"width", "depth", "side", "corner_radius"},
    "kidney": {"width", "depth", "side", "hollow", "end_radius"},
    "traced": {"points"},
}
_ALWAYS = {"shape", "symmetric", "corners", "at"}
_SHAPED_ONLY = ("width", "side", "hollow", "end_radius")


def shape_fits(given: OutlineInput, keys: KeyPath, kind: str, faults: Faults) -> bool:
    """Whether the keys of an outline go with its shape; what does not is told."""
    before = len(faults.problems)
    if given.shape is None:
        for name in sorted(given.model_fields_set & set(_SHAPED_ONLY)):
            text = 'belongs to a shape; add shape = "round", "d" or "kidney", or give front_width, rear_width and depth'
            faults.add("S020", (*keys, name), text)
        return len(faults.problems) == before
    for name in sorted(given.model_fields_set - _ALLOWED[given.shape] - _ALWAYS):
        words = ", ".join(sorted(_ALLOWED[given.shape]))
        text = f'has no place beside shape = "{given.shape}", which is told by {words}; leave it out'
        faults.add("S020", (*keys, name), text)
    for name in _NEEDED[given.shape]:
        if getattr(given, name) is None:
            faults.add("S011", (*keys, name), f'missing; shape = "{given.shape}" needs {name} beside it')
    return len(faults.problems) == before


def shaped(given: OutlineInput, keys: KeyPath, kind: str, faults: Faults) -> list[Corner]:
    """The corners of a named shape; none when its measures do not make one."""
    assert given.width is not None
    depth = given.width if given.depth is None else given.depth
    try:
        if given.shape == "round":
            return round_plan(given.width, depth)
        if given.shape == "d":
            return d_plan(given.width, depth, _radius(given), given.side)
        assert given.hollow is not None
        usual = max(depth / 3.0, depth - 0.5 * given.width)
        ends = usual if given.end_radius is None else given.end_radius
        return kidney_plan(given.width, depth, given.hollow, ends, given.side)
    except UnlikelyPlanError as fault:
        faults.add("G009", (*keys, fault.key), str(fault))
        return []


def _radius(given: OutlineInput) -> float:
    """Radius of the two corners of a D at its straight side."""
    radii = given.corner_radius
    if isinstance(radii, RadiiInput):
        return radii.rear_right if given.side == "rear" else radii.front_right
    return radii


def sides_named(
    points: Sequence[Point],
    sides: Sequence[str],
    given: CornersInput,
    keys: KeyPath,
    faults: Faults,
    *,
    symmetric: bool,
) -> list[str]:
    """Side of every edge of a polygon, with sides parting where the sheet says so; sides: where it does not."""
    asked = {k: getattr(given, key) for k, key in enumerate(CORNER_KEYS) if getattr(given, key) is not None}
    if symmetric:
        # Those the sheet gives come first, so that a fault is told of what stands there.
        asked |= {_MIRRORED[k]: (-x, y) for k, (x, y) in asked.items() if _MIRRORED[k] not in asked}
    at = [_parting(sides, k) for k in range(4)]
    for k, place in asked.items():
        near = min(range(len(points)), key=lambda n: math.dist(points[n], place))
        if math.dist(points[near], place) > AT_CORNER_MM:
            key = CORNER_KEYS[k]
            found, best = f"[{place[0]:g}, {place[1]:g}]", f"[{points[near][0]:.0f}, {points[near][1]:.0f}]"
            word = upright_key(key) if faults.places.kind(keys[1]) != "cushion" else key
            text = f"{word} at {found} is on no corner of the outline; the nearest is at {best}"
            faults.add("G009", (*keys, "corners", key), text)
            return list(sides)
        at[k] = near
    count = len(points)
    if sorted((n - at[0]) % count for n in at) != [(n - at[0]) % count for n in at] or len(set(at)) < 4:
        text = "the places do not follow each other round the pad: front left, front right, rear right, rear left"
        faults.add("G009", (*keys, "corners"), f"{text}; put each at its own corner")
        return list(sides)
    passed = [(k - at[0]) % count for k in range(count)]
    return [_SIDES[sum(n >= (corner - at[0]) % count for corner in at) - 1] for n in passed]


def _parting(sides: Sequence[str], corner: int) -> int:
    """Number of the vertex at which one side hands over to the next: front left first."""
    before, after = _SIDES[corner - 1], _SIDES[corner]
    return next(k for k in range(len(sides)) if sides[k - 1] == before and sides[k] == after)
