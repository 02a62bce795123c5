"""A pad that goes on where its neighbour ends, like one more pleat: both sections where they meet, what is built up.

Near the joint each surface is followed from where its edge begins to turn inward: a parabola through its section there,
carried on to the joint, says at what height and at what slope it arrives. The step is the difference in height, the
kink the angle between the two. Lengths mm, angles degrees; heights square to the pad that follows.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from meshes.base.arrays import FloatArray, IntArray
from meshes.base.problems import Problem, ProblemError
from meshes.base.surface import vertex_normals
from meshes.numerics.contours import contours
from meshes.numerics.sizes import Sizes
from meshes.padding.layers import edge_thickness
from meshes.records.built_up import BuiltUp, Flank, Meeting
from meshes.records.pad import SIDES, Pad
from meshes.seat.assembly import placed
from meshes.seat.build import BuiltPad
from meshes.support.blocks import bare_edge_mm
from meshes.support.chart import MakeProblem

# Edges further apart than this do not meet.
JOINT_APART_MM = 60.0
# The width in which a pad comes back to its own profile when the sheet does not say: this share of its own.
USUAL_SHARE = 0.75
# Places along the joint; how far they stay off the corners; width of the section that is followed. It begins behind the
# edge's turn and this share of the padding there, as the cover is rounded by its pull so far in.
STATIONS, OFF_CORNER_MM, FOLLOWED_MM, ROUNDED_SHARE = 13, 15.0, 30.0, 1.0
# What is built up is no steeper than this against the frame.
STEEPEST = 0.5
# A parabola needs so many points of a section.
LEAST_POINTS = 3
# So many triangles side by side in the section that is followed, whatever mesh the sheet asks for.
FOLLOWED_TRIANGLES = 3
# Steeper parts of a surface are its sides.
FACING = 0.5
# Pads turned to each other by more than this do not go on from one another, and more than this is no padding (common
# practice, no source).
MOST_TURN_DEG, MOST_BUILT_UP_MM = 45.0, 60.0
# A step within this is none; rounds at most.
LEVEL_MM, ROUNDS = 0.2, 5
# What is told: a step or a kink left that a hand feels and an eye sees.
TOLD_MM, TOLD_DEG = 1.0, 3.0


def followed_sizes(pads: Sequence[Pad], number: int, mesh_mm: float) -> float | Sizes:
    """Edge length of the triangles of one pad of a seat: as asked for, but fine enough to be followed to a joint, and
    alike all over, where the pad goes on from a neighbour or a neighbour from it: the slope there is read from them."""
    pad = pads[number]
    joined = pad.continues is not None or any(p.continues and p.continues.pad == pad.name for p in pads)
    return Sizes(min(mesh_mm, FOLLOWED_MM / FOLLOWED_TRIANGLES)) if joined else mesh_mm


def meeting(own: BuiltPad, other: BuiltPad, make_problem: MakeProblem) -> Meeting:
    """How a built pad and its neighbour meet. Raises ProblemError when they do not."""
    asked = own.pad.continues
    assert asked is not None
    into = np.linalg.inv(own.placement) @ other.placement
    joint = _joint(own.pad, asked.side, other.pad, into, make_problem)
    _not_in_a_corner(other.pad.name, into, make_problem)
    crested = _shape(other, into, crests=own.pleats is None)
    own_z, own_slope = _arrivals(own.pad, _shape(own, None), joint.own, joint, make_problem)
    other_z, other_slope = _arrivals(other.pad, crested, joint.other, joint, make_problem)
    inward = joint.inward
    kink = np.rad2deg(np.arctan(inward * own_slope) - np.arctan(inward * other_slope))
    return Meeting(joint.places, other_z - own_z, kink, inward * (other_slope - own_slope), joint.gap_mm)


@dataclass(frozen=True, eq=False)
class _JointEdge:
    """The edge of a pad at the joint: which side it is of its pad, and its points (j, 2)."""

    side: str
    run: FloatArray


@dataclass(frozen=True, eq=False)
class _Joint:
    """Where two pads meet, in the coordinates of the one that follows: both edges; places (k,): y along them; x (k,):
    halfway between both edges there; inward: 1 where the pad that follows lies to the right of it, else -1; gap_mm:
    between the edges at most."""

    own: _JointEdge
    other: _JointEdge
    places: FloatArray
    x: FloatArray
    inward: float
    gap_mm: float


def _not_in_a_corner(name: str, into: FloatArray, make_problem: MakeProblem) -> None:
    """The faces of both pads have to lie nearly in one; into (4, 4): from the neighbour to the pad."""
    turn = float(np.rad2deg(np.arccos(np.clip(into[2, 2], -1.0, 1.0))))
    if turn > MOST_TURN_DEG:
        text = (
            f'this pad and "{name}" are turned to each other by {turn:.0f} degrees, more than '
            f"{MOST_TURN_DEG:.0f}; they meet in a corner, which wants a seam: leave continues out, or correct facing"
        )
        raise ProblemError([make_problem("G161", ("continues",), text)])


def _joint(pad: Pad, flank: Flank, other: Pad, into: FloatArray, make_problem: MakeProblem) -> _Joint:
    """The joint along a side of a pad. Raises ProblemError where the neighbour is out of reach."""
    edge = _run(pad, flank)
    side = _nearest_side(other, into, edge)
    facing = _run(other, side)
    neighbour = placed(np.column_stack([facing, np.zeros(len(facing))]), into)
    places = _places(pad, flank, edge, neighbour)
    if len(places) < 3:
        text = f'"{other.name}" does not reach along this side; move one of them, or name another side'
        raise ProblemError([make_problem("G161", ("continues",), text)])
    here = np.interp(places, edge[:, 1], edge[:, 0])
    order = np.argsort(neighbour[:, 1])
    there = np.interp(places, neighbour[order, 1], neighbour[order, 0])
    gap = float(np.abs(here - there).max())
    if gap > JOINT_APART_MM:
        text = (
            f'the edges of this pad and of "{other.name}" are {gap:.0f} mm apart, more than '
            f"{JOINT_APART_MM:.0f} mm; correct origin, facing or the outlines, or name another pad or side"
        )
        raise ProblemError([make_problem("G161", ("continues",), text)])
    inward = 1.0 if flank == "left" else -1.0
    return _Joint(
        _JointEdge(flank, edge), _JointEdge(side, neighbour[:, :2]), places, 0.5 * (here + there), inward, gap
    )


def first(own: BuiltPad, make_problem: MakeProblem) -> BuiltUp:
    """Nothing built up yet on a pad that goes on from its neighbour. Raises ProblemError when it is to come back to its
    own profile beyond its other side."""
    asked = own.pad.continues
    assert asked is not None
    wide = float(np.ptp(np.array(own.pad.outline.corners)[:, 0]))
    over = USUAL_SHARE * wide if asked.over is None else asked.over
    if over > wide:
        text = f"wider than the pad, found {over:g} mm; this pad is {wide:.0f} mm wide"
        raise ProblemError([make_problem("G161", ("continues", "over"), text)])
    edge = tuple((float(a), float(b)) for a, b in _run(own.pad, asked.side))
    return BuiltUp(asked.side, edge, (), (), (), over)


def corrected(now: BuiltUp, found: Meeting, share: float = 1.0) -> BuiltUp:
    """What is built up, after how both were found to meet, by a share of what is missing: a frame is built up, never
    cut down."""
    places = found.places
    old = [np.interp(places, now.places, row) if now.places else np.zeros(len(places)) for row in (now.rise, now.slope)]
    rise = np.clip(old[0] + share * found.step_mm, 0.0, MOST_BUILT_UP_MM)
    slope = np.where(rise > 0.0, np.clip(old[1] + share * found.slope, -STEEPEST, STEEPEST), 0.0)
    return replace(now, places=tuple(places.tolist()), rise=tuple(rise.tolist()), slope=tuple(slope.tolist()))


def left_notes(own: BuiltPad, make_problem: MakeProblem) -> tuple[Problem, ...]:
    """Warnings for a step or a kink that is left."""
    done = own.continued
    if done is None:
        return ()
    notes = []
    after, name = done.after, done.asked.pad
    place = after.places[after.worst]
    if abs(after.most_step_mm) > TOLD_MM:
        higher = f'"{name}"' if after.most_step_mm > 0 else "this pad"
        text = (
            f'a step of {abs(after.most_step_mm):.1f} mm is left to "{name}": {higher} stands higher at '
            f"y = {place:.0f}; nothing is taken off a frame: lower it there, pad less, or build up the other pad"
        )
        notes.append(replace(make_problem("G162", ("continues",), text), warning=True))
    if abs(after.most_kink_deg) > TOLD_DEG:
        at = after.places[int(np.argmax(np.abs(after.kink_deg)))]
        shape = "hollow" if after.most_kink_deg > 0 else "ridge"
        text = (
            f'a kink of {abs(after.most_kink_deg):.0f} degrees is left to "{name}", a {shape}, at y = {at:.0f}; '
            "a wider run-out (over), another facing, or a seam in the hollow helps"
        )
        notes.append(replace(make_problem("G163", ("continues",), text), warning=True))
    return tuple(notes)


def _run(pad: Pad, side: str) -> FloatArray:
    """Points (k, 2) of a side of a pad's outline, from its lower (left) to its upper (right) end."""
    outline, count = pad.outline, len(pad.outline.corners)
    edges = [k for k in range(count) if outline.side_of_edge[k] == side]
    points = np.array([outline.corners[j % count] for k in edges for j in (k, k + 1)])
    axis = 1 if side in ("left", "right") else 0
    return points[np.unique(points[:, axis], return_index=True)[1]]


def _nearest_side(pad: Pad, into: FloatArray, edge: FloatArray) -> str:
    """The neighbour's side whose middle comes nearest to the middle of an edge (k, 2)."""
    middle = np.array([*edge.mean(axis=0), 0.0])

    def away(side: str) -> float:
        run = _run(pad, side)
        return float(np.linalg.norm(placed(np.array([[*run.mean(axis=0), 0.0]]), into)[0] - middle))

    return min(SIDES, key=away)


def _places(pad: Pad, side: Flank, edge: FloatArray, neighbour: FloatArray) -> FloatArray:
    """Places along the joint where both pads have their straight run."""
    off = OFF_CORNER_MM + max(pad.outline.radii)
    low = max(edge[:, 1].min(), neighbour[:, 1].min()) + off
    high = min(edge[:, 1].max(), neighbour[:, 1].max()) - off
    return np.linspace(low, high, STATIONS) if high > low else np.zeros(0)


@dataclass(frozen=True, eq=False)
class _Shape:
    """A surface in the coordinates of the pad that follows; facing (n,): how far its normals point out of its face."""

    points: FloatArray
    triangles: IntArray
    facing: FloatArray


def _shape(pad: BuiltPad, into: FloatArray | None, *, crests: bool = False) -> _Shape:
    surface = pad.shown if crests else pad.surface
    normals = vertex_normals(surface.vertices, surface.triangles)
    points = surface.vertices if into is None else placed(surface.vertices, into)
    return _Shape(points, surface.triangles, normals[:, 2])


def _arrivals(
    pad: Pad, shape: _Shape, rim: _JointEdge, joint: _Joint, make_problem: MakeProblem
) -> tuple[FloatArray, FloatArray]:
    """Height and slope (k,) by x with which a pad's surface arrives at the joint at every place: that of a parabola
    through its section behind the rounded edge. Raises ProblemError when too little of it can be followed."""
    begin = bare_edge_mm(pad, rim.side) + ROUNDED_SHARE * edge_thickness(pad)[rim.side]
    order = np.argsort(rim.run[:, 1])
    edge = np.interp(joint.places, rim.run[order, 1], rim.run[order, 0])
    arrived = np.empty((2, len(joint.places)))
    for k, (place, x) in enumerate(zip(joint.places, joint.x, strict=True)):
        points = _section(shape, place)
        away = np.abs(points[:, 0] - edge[k])
        kept = points[(away >= begin) & (away <= begin + FOLLOWED_MM)]
        if len(kept) < LEAST_POINTS:
            text = f'the face of "{pad.name}" is too narrow beside the joint to be followed; {FOLLOWED_MM:.0f} mm do'
            raise ProblemError([make_problem("G161", ("continues",), text)])
        curve = np.polynomial.Polynomial.fit(kept[:, 0] - x, kept[:, 1], 2).convert()
        arrived[:, k] = np.append(curve.coef, [0.0, 0.0])[:2]
    return arrived[0], arrived[1]


def _section(shape: _Shape, place: float) -> FloatArray:
    """Points (k, 2), x and z, where the face of a surface is cut at y = place."""
    x, y, z = shape.points.T
    lines = contours(np.column_stack([x, z, shape.facing]), shape.triangles, y, place)
    points = np.concatenate([*lines, np.zeros((0, 3))])
    return points[points[:, 2] > FACING][:, :2]
