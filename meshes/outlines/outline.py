"""From the measured widths or traced points of a sheet to the outline of a pad, with what can be wrong with
it.

Faults are added to the collector; a pad whose outline cannot be used gets none, and checks that need it are
left out.
"""

import math
from collections.abc import Sequence

from meshes.base.plane import Point, area, extent, first_crossing, turn_at
from meshes.base.problems import KeyPath
from meshes.base.units import LARGEST_PAD_MM, RARE_PAD_MM, SAME_MM, SHORTEST_PAD_MM, SMALLEST_PAD_MM, SNAP_MM
from meshes.outlines.plans import Corner, run_together, traced_plan
from meshes.outlines.shapes import shape_fits, shaped, sides_named
from meshes.outlines.square import bowed, out_of_square
from meshes.records.pad import UPRIGHT, Outline, side_word, upright_key
from meshes.schema.outline import OutlineInput, RadiiInput
from meshes.schema.words import Faults

# Directions in which the four corners of a pad lie, in the order of the outline: front left, front right,
# rear right, rear left.
_CORNER_WAYS = ((-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0))
_WIDTH_KEYS = (
    *("front_width", "front_left", "front_right", "rear_width", "rear_left", "rear_right"),
    *("depth", "depth_left", "depth_right", "middle_width", "diagonal_left", "diagonal_right"),
)
# A corner sharper than this cannot be turned in leather, nor filled with padding.
SHARPEST_CORNER_RAD = math.radians(30.0)
# A hollow corner that turns more than this is folded cloth unless it has a radius; less is a point of a bow.
HOLLOW_TURN_RAD = math.radians(30.0)


def outline_record(
    given: OutlineInput, keys: KeyPath, kind: str, faults: Faults, *, flat: bool = False, long_mm: float = 0.0
) -> Outline | None:
    """The outline of one pad, None when it cannot be used. keys: place of the outline in the sheet; flat: it is that of
    a flat board, round whose hollow corners leather is slit, however sharp they are; long_mm: how long the pad is
    square to its outline, as a roll is."""
    if not shape_fits(given, keys, kind, faults):
        return None
    if given.points is not None:
        vertices, symmetric = _traced(given, keys, faults), given.symmetric is not False
        if vertices:
            vertices = _begun_at_front_left(vertices, keys, faults)
        if vertices and given.shape == "traced":
            vertices = _begun_at_front_left(traced_plan(vertices), keys, faults)
    elif given.shape is not None:
        vertices, symmetric = shaped(given, keys, kind, faults), given.symmetric is not False
    else:
        vertices, symmetric = _from_widths(given, keys, kind, faults)
    if not vertices or not _size_fits([v.at for v in vertices], given, keys, faults, long_mm):
        return None
    sides = _sides_of_edges([v.at for v in vertices])
    if not _four_sided(sides, given, keys, kind, faults):
        return None
    _check_corners(vertices, sides, (symmetric, flat), keys, faults)
    if faults.under(keys):
        return None
    vertices, sides = run_together(vertices, sides)
    points = [v.at for v in vertices]
    sides = sides_named(points, sides, given.corners, keys, faults, symmetric=symmetric)
    first = next(k for k in range(len(sides)) if (sides[k - 1], sides[k]) == ("left", "front"))
    vertices, sides = vertices[first:] + vertices[:first], sides[first:] + sides[:first]
    return Outline(tuple(v.at for v in vertices), tuple(v.radius for v in vertices), tuple(sides), symmetric)


def _from_widths(given: OutlineInput, keys: KeyPath, kind: str, faults: Faults) -> tuple[list[Corner], bool]:
    """The four corners, none when they cannot be used, and whether left and right are the same."""
    front = _halves(given, ("front_width", "front_left", "front_right"), 0.5, keys, kind, faults)
    rear = _halves(given, ("rear_width", "rear_left", "rear_right"), 0.5, keys, kind, faults)
    depth = _halves(given, ("depth", "depth_left", "depth_right"), 1.0, keys, kind, faults)
    if front is None or rear is None or depth is None:
        return [], False
    equal = all(abs(left - right) <= SAME_MM for left, right in (front, rear, depth))
    if given.symmetric and not equal:
        most = max(abs(left - right) for left, right in (front, rear, depth))
        text = f"true, but left and right differ by up to {most:g} mm"
        faults.add("G007", (*keys, "symmetric"), f"{text}; leave symmetric out or measure again")
        return [], False
    corners = [(-front[0], 0.0), (front[1], 0.0), (rear[1], depth[1]), (-rear[0], depth[0])]
    square = out_of_square(corners, given, keys, faults)
    radii = _four_radii(given)
    alike = square == corners and (radii[0], radii[3]) == (radii[1], radii[2])
    symmetric = (equal if given.symmetric is None else given.symmetric) and alike
    vertices = [Corner(at, radius) for at, radius in zip(square, radii, strict=True)]
    through = bowed(vertices, given.middle_width)
    return (vertices if len(through) == len(vertices) else traced_plan(through)), symmetric


def _halves(
    given: OutlineInput, names: tuple[str, str, str], share: float, keys: KeyPath, kind: str, faults: Faults
) -> tuple[float, float] | None:
    """Left and right measure from the whole one or from the two separate ones."""
    said = [upright_key(name) if kind in UPRIGHT else name for name in names]
    whole, left, right = (getattr(given, name) for name in names)
    if whole is not None and (left is not None or right is not None):
        faults.add(
            "S020",
            (*keys, names[0]),
            f"given together with {said[1]} or {said[2]}; keep one way of measuring",
        )
        return None
    if whole is not None:
        return share * whole, share * whole
    if left is None and right is None:
        faults.add(
            "S011",
            (*keys, names[0]),
            f"missing; add {said[0]}, or {said[1]} and {said[2]} measured separately",
        )
        return None
    if left is None or right is None:
        have, lack = (1, 2) if right is None else (2, 1)
        faults.add("S011", (*keys, names[lack]), f"missing; {said[have]} needs {said[lack]} beside it")
        return None
    return left, right


def _four_radii(given: OutlineInput) -> tuple[float, ...]:
    radii = given.corner_radius
    if isinstance(radii, RadiiInput):
        return (radii.front_left, radii.front_right, radii.rear_right, radii.rear_left)
    return (radii,) * 4


def _traced(given: OutlineInput, keys: KeyPath, faults: Faults) -> list[Corner]:
    """The corners traced in a sheet, completed by their mirror image when only the right half was traced."""
    doubled = [name for name in _WIDTH_KEYS if getattr(given, name) is not None]
    for name in doubled:
        faults.add("S020", (*keys, name), "given together with points; keep the widths or the points, not both")
    if "corner_radius" in given.model_fields_set:
        text = "given together with points; write the radius of a corner as the third number of its point"
        faults.add("S020", (*keys, "corner_radius"), text)
    traced = [Corner((p[0], p[1]), p[2] if len(p) > 2 else 0.0, k) for k, p in enumerate(given.points or [])]
    symmetric = given.symmetric is not False
    if not _distinct([v.at for v in traced], keys, faults, closed=not symmetric):
        return []
    if symmetric and not _half_fits([v.at for v in traced], keys, faults):
        return []
    traced = _completed(traced) if symmetric else traced
    if len(traced) < 4:
        text = f"only {len(traced)} corners in all; an outline needs four or more"
        faults.add("G005", (*keys, "points"), text)
        return []
    return traced


def _begun_at_front_left(vertices: list[Corner], keys: KeyPath, faults: Faults) -> list[Corner]:
    """A closed polygon checked and begun at its front left corner; empty when it cannot be used."""
    points = [v.at for v in vertices]
    crossing = first_crossing(points, closed=True)
    if crossing is not None:
        k, m = crossing
        text = f"the outline crosses itself: the run from {_at(points[k])} meets the run from {_at(points[m])}"
        faults.add("G001", (*keys, "points"), f"{text}; put the points in order round the pad")
        return []
    if area(points) <= 0.0:
        faults.add("G004", (*keys, "points"), "the outline runs clockwise; list the points counter-clockwise")
        return []
    corners = _four_corners(points)
    order = [(k - corners[0]) % len(points) for k in corners]
    if order != sorted(set(order)):
        text = "the outline has no four corners that could be front left, front right, rear right and rear left"
        faults.add("G005", (*keys, "points"), f"{text}; check its points")
        return []
    return vertices[corners[0] :] + vertices[: corners[0]]


def _sides_of_edges(points: Sequence[Point]) -> list[str]:
    """Side of every edge of a polygon."""
    corners = _four_corners(points)
    names = ("front", "right", "rear", "left")
    count = len(points)
    passed = [(k - corners[0]) % count for k in range(count)]
    return [names[sum(n >= (corner - corners[0]) % count for corner in corners) - 1] for n in passed]


def _four_sided(sides: Sequence[str], given: OutlineInput, keys: KeyPath, kind: str, faults: Faults) -> bool:
    """Whether every side has an edge; measures may be so far apart that two corners fall on one place."""
    missing = [side_word(side, kind) for side in ("front", "right", "rear", "left") if side not in sides]
    if missing:
        place = (*keys, "points") if given.points is not None else keys
        text = f"no {' and no '.join(missing)} side can be told from its neighbours; check the widths and depths"
        faults.add("G005", place, text)
    return not missing


def _four_corners(points: Sequence[Point]) -> list[int]:
    """Numbers of the vertices farthest out in the four slanting directions, the box of the polygon taken as
    square.
    """
    width, depth = extent(points)
    boxed = [(x / width, y / depth) for x, y in points]

    def farthest(way: Point) -> int:
        # Of two ends of a cut-off corner the outer one across is taken, so that left and right choose alike.
        reach = [(round(x * way[0] + y * way[1], 9), x * way[0]) for x, y in boxed]
        return reach.index(max(reach))

    return [farthest(way) for way in _CORNER_WAYS]


def _distinct(points: Sequence[Point], keys: KeyPath, faults: Faults, *, closed: bool) -> bool:
    fine = True
    for k, here in enumerate(points):
        before = points[k - 1]
        if (k > 0 or closed) and math.dist(here, before) < SNAP_MM:
            number = k if k else len(points)
            text = f"the same place as point {number}, found {_at(here)}; leave one of them out"
            faults.add("G008", (*keys, "points", k), text)
            fine = False
    return fine


def _half_fits(points: Sequence[Point], keys: KeyPath, faults: Faults) -> bool:
    """True when the points trace a right half from the front centre to the rear centre."""
    before = len(faults.problems)
    for k, (x, y) in enumerate(points):
        if x < -SNAP_MM:
            text = f"left of the centre line, found x = {x:g} mm; a symmetric outline traces the right half only"
            faults.add("G006", (*keys, "points", k), f"{text} (x >= 0), or set symmetric = false")
        elif k in (0, len(points) - 1) and x > SNAP_MM:
            which = "first" if k == 0 else "last"
            text = f"the {which} point of a right half lies on the centre line, found x = {x:g} mm"
            faults.add("G006", (*keys, "points", k), f"{text}; add [0, {y:g}]")
    if len(points) < 3:
        faults.add(
            "G005",
            (*keys, "points"),
            f"{len(points)} points enclose nothing; trace every corner of the right half",
        )
    elif points[0][1] > points[-1][1]:
        faults.add(
            "G004",
            (*keys, "points"),
            "runs from rear to front; trace from the front centre round to the rear centre",
        )
    return len(faults.problems) == before


def _completed(half: list[Corner]) -> list[Corner]:
    """The whole polygon of a traced right half. A centre point where the edge runs straight across is no corner."""
    ends = (0, len(half) - 1)
    on_centre = [v._replace(at=(0.0, v.at[1])) if k in ends else v for k, v in enumerate(half)]
    right = [v for k, v in enumerate(on_centre) if not _straight_across([v.at for v in half], k)]
    return right + [v._replace(at=(-v.at[0], v.at[1])) for v in reversed(right) if v.at[0] > SNAP_MM]


def _straight_across(half: Sequence[Point], k: int) -> bool:
    if k not in (0, len(half) - 1):
        return False
    neighbour = half[1] if k == 0 else half[-2]
    return abs(neighbour[1] - half[k][1]) < SNAP_MM


def _at(point: Point) -> str:
    return f"[{point[0]:g}, {point[1]:g}]"


def _size_fits(points: Sequence[Point], given: OutlineInput, keys: KeyPath, faults: Faults, long_mm: float) -> bool:
    width, depth = extent(points)
    place = (*keys, "points") if given.points is not None else keys
    fits = all(SMALLEST_PAD_MM <= size <= LARGEST_PAD_MM for size in (width, depth))
    if not fits or max(width, depth, long_mm) < SHORTEST_PAD_MM:
        text = f"a pad of {width:g} x {depth:g} mm; probably the wrong unit"
        faults.add("S017", place, f"{text}: write it with the lengths, or set unit")
        return False
    # The length of a roll tells that its unit is right, however thin it is.
    if min(width, depth) < RARE_PAD_MM and long_mm < SHORTEST_PAD_MM:
        text = f"the pad is only {width:g} x {depth:g} mm"
        faults.warn("G054", place, f"{text}; if these were inches, set unit or write it with the length")
    return True


def _check_corners(
    vertices: Sequence[Corner], sides: Sequence[str], how: tuple[bool, bool], keys: KeyPath, faults: Faults
) -> None:
    """Corners neither too sharp nor hollow without a radius, and radii that fit the runs beside them.

    how: whether it is symmetric, so that the left half repeats the right one and is not reported again, and whether it
    is that of a flat board, whose hollow corners may be sharp.
    """
    symmetric, flat = how
    count = len(vertices)
    points = [v.at for v in vertices]
    turns = [turn_at(points[k - 1], points[k], points[(k + 1) % count]) for k in range(count)]
    cuts = [v.radius * math.tan(0.5 * abs(turn)) for v, turn in zip(vertices, turns, strict=True)]
    for k, here in enumerate(vertices):
        place = keys if here.number is None else (*keys, "points", here.number)
        after = (k + 1) % count
        if not (symmetric and here.at[0] < -SNAP_MM):
            _check_corner(here, 0.0 if flat and turns[k] < 0.0 else turns[k], place, faults)
        run = math.dist(points[k], points[after])
        if cuts[k] + cuts[after] <= run * (1 + 1e-9) or (symmetric and points[k][0] + points[after][0] < -SNAP_MM):
            continue
        side = side_word(sides[k], faults.places.kind(keys[1]))
        text = f"radii {here.radius:g} and {vertices[after].radius:g} mm need {cuts[k] + cuts[after]:.1f} mm"
        text += f" of the {side} edge, which has {run:.1f} mm; make them smaller"
        larger = here if cuts[k] >= cuts[after] else vertices[after]
        key = ("corner_radius",) if larger.number is None else ("points", larger.number)
        faults.add("G002", (*keys, *key), text)


def _check_corner(here: Corner, turn: float, place: KeyPath, faults: Faults) -> None:
    if turn > math.pi - SHARPEST_CORNER_RAD:
        text = f"the corner at {_at(here.at)} has only {180 - math.degrees(turn):.0f} degrees; check the measures"
        faults.add("G003", place, text)
    if turn < -HOLLOW_TURN_RAD and here.radius == 0.0:
        text = f"the hollow corner at {_at(here.at)} has no radius; give one, a cover cannot be folded into it"
        faults.add("G003", place, text)
