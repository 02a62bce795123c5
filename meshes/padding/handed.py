"""Pads that are mirror images of each other get meshes that are mirror images too, wherever they are built.

Of a pad and its mirror image one counts as the right one; the other is meshed as that and the mesh turned over. Without
this, rows of triangles that begin at the left tell two leaves of one seat apart by tenths of a millimetre.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from shapely.geometry import LineString

from meshes.base.arrays import FloatArray
from meshes.base.problems import Problem, ProblemError
from meshes.numerics.sizes import Sizes
from meshes.padding.layers import edge_thickness
from meshes.records.pad import MIRROR_SIDE, SIDES, Pad, SeatPose, front_right, mirrored_outline, mirrored_profile
from meshes.support.chart import Chart, MakeProblem, pad_chart
from meshes.support.chart_mesh import ChartMesh, chart_mesh
from meshes.support.line_roles import MIRRORED_CORNER, MIRRORED_SIDE, ChartLine, LineIdentity, LineRole

_OTHER = {"left": "right", "right": "left"}
_FLIP = np.array([-1.0, 1.0])


def handed_mesh(
    pad: Pad, chart: Chart, make_problem: MakeProblem, *, half: bool, sizes: Sizes, valleys: Sequence[ChartLine] = ()
) -> ChartMesh:
    """The chart mesh of a pad, that of its mirror image turned over. Raises ProblemError."""
    twin = mirror_image(pad)
    if not half and _measures(twin) < _measures(pad):
        try:
            other = pad_chart(twin, edge_thickness(twin), _quiet)
            flipped = _laid_down(valleys, _FLIP)
            mesh = chart_mesh(twin, other, _quiet, half=False, sizes=sizes.mirrored(), valleys=flipped)
            return _turned_over(mesh, chart, front_right(pad.outline))
        except ProblemError:
            # Told below in the words of the pad itself.
            pass
    if not half:
        valleys = _laid_down(valleys, np.ones(2))
    return chart_mesh(pad, chart, make_problem, half=half, sizes=sizes, valleys=valleys)


def _laid_down(valleys: Sequence[ChartLine], turn: FloatArray) -> list[ChartLine]:
    """Valleys times a factor (2,), to the millionth of a millimetre, in order from left to right or front to rear: how
    they were found must not tell the two hands apart."""
    lines = [ChartLine(d.rule, LineString(np.round(np.asarray(d.line.coords) * turn, 6))) for d in valleys]
    middles = np.array([d.line.centroid.coords[0] for d in lines]).reshape(-1, 2)
    axis = int(np.argmax(np.ptp(middles, axis=0))) if len(middles) else 0
    return [lines[k] for k in np.argsort(middles[:, axis], kind="stable")]


def mirror_image(pad: Pad) -> Pad:
    """What of a pad its chart depends on, and its profiles, left for right."""
    inset = pad.inset
    return replace(
        pad,
        outline=mirrored_outline(pad.outline),
        sides={_other(side): value for side, value in pad.sides.items()},
        layers=tuple(layer.mirrored() for layer in pad.layers),
        frame=pad.frame.mirrored(),
        bands=pad.bands.mirrored(),
        fixings=pad.fixings.mirrored(),
        folds=pad.folds.mirrored(),
        inset=None if inset is None else replace(inset, left=inset.right, right=inset.left),
        lines=tuple(replace(line, points=tuple((0.0 - x, y) for x, y in line.points)) for line in pad.lines),
        profiles=tuple(mirrored_profile(p) for p in pad.profiles),
    )


def mirrored_pads(pads: Sequence[Pad]) -> dict[int, int]:
    """Numbers of pads that are mirror images of an earlier one, each with the number of that one.

    All that shapes a pad counts: its measures, what carries it, and, where it goes on from a neighbour, where both lie
    and that the neighbour is even. Pads with pleats are counted as pads of their own.
    """
    found: dict[int, int] = {}
    for k, pad in enumerate(pads):
        first = next((j for j in range(k) if j not in found and _is_image(pads[j], pad, pads)), None)
        if first is not None:
            found[k] = first
    return found


def _is_image(one: Pad, other: Pad, pads: Sequence[Pad]) -> bool:
    if one.pleats is not None or one.leader is not None:
        return False
    image = one if one.symmetric else mirror_image(one)
    if _record(image) != _record(other):
        return False
    mine, its = one.continues, other.continues
    if mine is None or its is None:
        return mine is its
    there = next((pad for pad in pads if pad.name == mine.pad), None)
    even = there is not None and there.symmetric and there.pose == _mirrored_pose(there.pose)
    alike = (mine.pad, mine.side, mine.over) == (its.pad, MIRROR_SIDE[its.side], its.over)
    return even and alike and _mirrored_pose(one.pose) == other.pose


def _record(pad: Pad) -> tuple[object, ...]:
    """All that shapes a pad by itself, in one order."""
    lines = sorted(repr(replace(line, name="")) for line in pad.lines)
    wanted = replace(pad.wanted, continues=None)
    return _measures(pad), lines, pad.kind, pad.symmetric, pad.pleats, pad.springs, wanted


def _mirrored_pose(pose: SeatPose) -> SeatPose:
    x, y, z = pose.origin
    return replace(pose, origin=(0.0 - x, y, z), facing_deg=0.0 - pose.facing_deg)


def _other(side: str) -> str:
    return _OTHER.get(side, side)


def _quiet(code: str, keys: tuple[str | int, ...], text: str) -> Problem:
    return Problem(code, "", text)


def _measures(pad: Pad) -> str:
    """All that tells a pad from its mirror image, in one order."""
    sides = [(side, pad.sides[side]) for side in SIDES]
    lines = sorted(line.points for line in pad.lines)
    layers, profiles = sorted(map(repr, pad.layers)), sorted(map(repr, pad.profiles))
    rest = (pad.frame, pad.bands, pad.folds, pad.fixings.ordered)
    return repr((pad.outline, sides, layers, pad.inset, lines, profiles, *rest))


def _turned_over(mesh: ChartMesh, chart: Chart, front_right: int) -> ChartMesh:
    """The mesh of a pad's mirror image as one of the pad itself; chart and front_right: the pad's own."""
    swap = np.array([*MIRRORED_SIDE, -1])
    return replace(
        mesh,
        plan=mesh.plan * _FLIP,
        u=np.mod(2.0 * front_right + 1.0 - mesh.u, chart.outline.period),
        triangles=mesh.triangles[:, [0, 2, 1]],
        side=swap[mesh.side],
        rules=tuple(_rule(rule) for rule in mesh.rules),
    )


def _rule(rule: LineIdentity) -> LineIdentity:
    """A line of the mirror image as the line of the pad that it is; valleys and drawn lines keep their numbers."""
    if rule.role in (LineRole.EDGE, LineRole.TACK, LineRole.FLY):
        return replace(rule, number=MIRRORED_SIDE[rule.number], image=rule.number)
    if rule.role in (LineRole.CORNER, LineRole.SIDE_SEAM, LineRole.CORNER_SEAM, LineRole.FLY_END):
        number = MIRRORED_CORNER[rule.number]
        return replace(rule, number=number, image=MIRRORED_CORNER[number])
    return rule
