"""Tapes over pads that stand on no frame: loose cushions and rolls, covered boards, flat panels.

A bare core, a wrapped one and a board have straight sides, so the places where a tape turns are enough; over the cover
of a core the built surface is cut. A tape runs between the edges of the upper face, right round the pad as its girth,
or round its outline. Lengths mm.
"""

from dataclasses import replace

import numpy as np
import shapely

from meshes.base.arrays import FloatArray
from meshes.base.problems import ProblemError
from meshes.base.surface import boundary_loops, curve_length
from meshes.closed.build import AS_SHARP_MM
from meshes.closed.fullness import wrap_mm
from meshes.closed.rim import smaller_outline
from meshes.numerics.contours import contours
from meshes.outlines.rounded import CornersTooRoundError
from meshes.records.pad import Pad
from meshes.seat.build import BuiltPad
from meshes.seat.panels import PanelRole
from meshes.sheet.whole import Control
from meshes.support.chart import MakeProblem, make_problem_for
from meshes.tapes.course import taped_mm

# Arcs of an outline are followed in steps of this length; a cut lies so far beside the mesh's own vertices.
_RING_STEP_MM, _CUT_BESIDE_MM = 2.0, 1e-3


def why_not(pad: Pad, control: Control) -> str | None:
    """Why a tape cannot be laid over a pad, in words; None where it can."""
    girth = control.ends == "girth" and control.way in ("along", "across")
    if pad.on_frame:
        return (
            f'{pad.name} is tacked to its frame, no tape goes right round it; write ends = "edges"' if girth else None
        )
    if control.ends == "tack lines" and control.way in ("along", "across"):
        return (
            f'{pad.name} stands on no frame and has no tack lines; write ends = "edges", or "girth" for right round it'
        )
    if girth and pad.closed is not None and not pad.closed.filled:
        return f'{pad.name} closes a seat, no tape goes right round it; write ends = "edges"'
    if pad.closed is not None and pad.closed.form == "knife_edge" and control.over != "cover":
        return f'the core of {pad.name} has no form of its own before its cover holds it; write over = "cover"'
    return None


def loose_line(
    pad: Pad, control: Control, built: BuiltPad | None, make_problem: MakeProblem | None = None
) -> FloatArray:
    """Points (n, 3) under a tape, in its order; of one that goes right round, once round. built: the pad as built, for
    tapes over the cover of a core. Raises ProblemError where the tape misses the pad."""
    make = make_problem or make_problem_for(pad)
    if control.over == "cover" and pad.closed is not None and pad.closed.filled:
        assert built is not None
        return _over_cover(built, control, make)
    ring = _ring(pad, control.over, make)
    if control.way == "round":
        return _lowered(pad, _lifted(pad, ring, control.over)[0], control, make)
    if control.way == "between":
        return _lifted(pad, _both_ends(pad, ring, control, make), control.over)[0]
    upper, lower = _lifted(pad, np.stack(_outermost(pad, ring, control, make)), control.over)
    return np.concatenate([upper, lower[::-1]]) if control.ends == "girth" else upper


def loose_length(pad: Pad, control: Control, built: BuiltPad | None, make_problem: MakeProblem | None = None) -> float:
    """Length of a tape over a pad that stands on no frame. Raises ProblemError where it misses the pad."""
    return taped_mm(loose_line(pad, control, built, make_problem), control)


def _ring(pad: Pad, over: str, make: MakeProblem) -> FloatArray:
    """The outline of a core, a board or a panel, (n, 2); a roll is grown by what is wrapped round it."""
    outline = pad.outline
    by = wrap_mm(pad) if pad.closed is not None and pad.closed.form == "roll" and over != "support" else 0.0
    if pad.board is not None:
        outline = replace(outline, radii=tuple(max(radius, AS_SHARP_MM) for radius in outline.radii))
    try:
        drawn = smaller_outline(outline, -by, 0.0)[0]
    except CornersTooRoundError as fault:
        raise ProblemError([make("G101", ("outline",), f"{fault}; make the corners less round")]) from fault
    return drawn.point(drawn.samples(_RING_STEP_MM, arcs_only=True))


def _lifted(pad: Pad, plan: FloatArray, over: str) -> tuple[FloatArray, FloatArray]:
    """Places (n, 2) on the upper face and below them on the lower one, (n, 3) each."""
    wrap = 0.0 if over == "support" else wrap_mm(pad)
    if pad.board is not None:
        low, high = np.full(len(plan), -pad.board.thickness), np.full(len(plan), wrap)
    elif pad.closed is None or not pad.closed.filled:
        low = high = np.zeros(len(plan))
    else:
        closed, wrap = pad.closed, 0.0 if pad.closed.form == "roll" else wrap
        y = np.asarray(pad.outline.corners)[:, 1]
        share = np.clip((plan[:, 1] - y.min()) / (y.max() - y.min()), 0.0, 1.0)
        thick = closed.thickness + share * ((closed.rear or closed.thickness) - closed.thickness)
        # A board lies below the core, and wrap on it on top alone; heights count from the middle of the band.
        foot = -0.5 * (closed.thickness + closed.board)
        low = np.full(len(plan), foot - (0.0 if closed.board else wrap))
        high = foot + closed.board + thick + wrap
    return np.column_stack([plan, high]), np.column_stack([plan, low])


def _least_height(pad: Pad, over: str) -> float:
    """How far below its upper edge a pad goes down at least."""
    if pad.board is not None:
        return pad.board.thickness + (0.0 if over == "support" else wrap_mm(pad))
    closed = pad.closed
    if closed is None or not closed.banded:
        return 0.0
    if over == "cover" and closed.band is not None:
        return closed.height
    bare = over in ("support", "cover") or closed.form == "roll"
    wrapped = 0.0 if bare else closed.wrapped_faces * wrap_mm(pad)
    return min(closed.thickness, closed.rear or closed.thickness) + closed.board + wrapped


def _lowered(pad: Pad, edge: FloatArray, control: Control, make: MakeProblem) -> FloatArray:
    room = _least_height(pad, control.over)
    if control.below > room:
        text = f"{pad.name} goes down {room:.0f} mm below its edge"
        text += f", no tape goes round it {control.below:g} mm below; write {room:.0f} or less"
        raise ProblemError([make("S058", (), text)])
    return edge - [0.0, 0.0, control.below]


def _outermost(pad: Pad, ring: FloatArray, control: Control, make: MakeProblem) -> tuple[FloatArray, FloatArray]:
    """Where a straight tape meets the outline first and last, (2,) each."""
    axis, at = (0, control.at or 0.0) if control.way == "along" else (1, control.at or 0.0)
    after = np.roll(ring, -1, axis=0)
    a, b = ring[:, axis], after[:, axis]
    across = np.flatnonzero((a <= at) != (b <= at))
    if not len(across):
        raise ProblemError([make("S058", (), _missed(pad, axis, at, ring))])
    share = (at - a[across]) / (b[across] - a[across])
    met = ring[across] + share[:, None] * (after[across] - ring[across])
    order = np.argsort(met[:, 1 - axis])
    return met[order[0]], met[order[-1]]


def _missed(pad: Pad, axis: int, at: float, ring: FloatArray) -> str:
    low, high = ring[:, axis].min(), ring[:, axis].max()
    return f"{'xy'[axis]} = {at:g} mm lies beside {pad.name}, which reaches from {low:.0f} to {high:.0f} mm"


def _both_ends(pad: Pad, ring: FloatArray, control: Control, make: MakeProblem) -> FloatArray:
    """The places between which a tape lies, (2, 2)."""
    ends = np.array([control.start, control.end])
    body = shapely.Polygon(ring)
    for x, y in ends:
        if not body.covers(shapely.Point(x, y)):
            text = f"x = {x:g}, y = {y:g} lies beside the face of {pad.name}; name a place inside its edge"
            raise ProblemError([make("S058", (), text)])
    return ends


def _over_cover(built: BuiltPad, control: Control, make: MakeProblem) -> FloatArray:
    """Where a tape lies on the cover of a filled core."""
    top = next(panel for panel in built.panels if panel.role is PanelRole.FACE).surface
    edge = top.vertices[boundary_loops(top.triangles)[0]]
    if control.way == "round":
        return _lowered(built.pad, edge, control, make)
    if control.way == "between":
        ends = _both_ends(built.pad, edge[:, :2], control, make)
        x, y = ends[1] - ends[0]
        along, normal = np.array([x, y]), np.array([-y, x]) / np.hypot(x, y)
        level = float(ends[0] @ normal)
    else:
        _outermost(built.pad, edge[:, :2], control, make)
        axis = 0 if control.way == "along" else 1
        ends, along, normal, level = None, np.eye(2)[1 - axis], np.eye(2)[axis], control.at or 0.0
    surface = built.surface if control.ends == "girth" and ends is None else top
    lines = contours(surface.vertices, surface.triangles, surface.vertices[:, :2] @ normal, level + _CUT_BESIDE_MM)
    if surface is built.surface:
        # Over a hollow of the outline there are several loops; a taut tape goes round them all.
        return max(lines, key=curve_length)[:-1] if control.follows else np.concatenate(lines)
    runs = [line if (line[-1] - line[0])[:2] @ along > 0.0 else line[::-1] for line in lines]
    line = np.concatenate(sorted(runs, key=lambda run: float(run[0, :2] @ along)))
    return line if ends is None else _between_ends(line, ends, along)


def _between_ends(line: FloatArray, ends: FloatArray, along: FloatArray) -> FloatArray:
    """The stretch of a line (n, 3) between two places seen square on, (2, 2)."""
    at = line[:, :2] @ along
    low, high = ends @ along
    marks = np.union1d(at[(at > low) & (at < high)], [low, high])
    return np.stack([np.interp(marks, at, line[:, k]) for k in range(3)], axis=1)
