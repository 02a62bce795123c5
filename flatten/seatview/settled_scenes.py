"""Maps of a settled seat for pictures: how far foam is crushed at every place, how far the cover went down.

Nothing is pressed down where the cover of a pad has no tension.
"""

from collections.abc import Callable

import numpy as np
from scipy.spatial import cKDTree

from flatten.job.pipeline import Job
from flatten.seatview.lines import LIFT_MM
from meshes.base.arrays import FloatArray
from meshes.base.surface import vertex_normals
from meshes.numerics.contours import SHORT_MM, contours, longer_than
from meshes.records.materials import CRUSH_LIMIT
from meshes.seat.assembly import placed
from meshes.seat.build import BuiltPad
from meshes.settle.pad import PadRest
from meshes.view.scene import Colours, Scene, ScenePart
from meshes.view.settled_maps import Legend, crush_colours, crush_key, down_colours, down_key, round_reach


def compression_scene(job: Job) -> Scene:
    """The largest crush of the foam at every place, with lines where it passes the limit."""
    fine = [line for pad in job.pads for line in _limit_lines(pad)]
    title = f"{job.sheet.name}: foam crushed under the cover"
    return _map(job, title, lambda pad: crush_colours(crush_of(pad)), crush_key(), fine)


def settled_scene(job: Job) -> Scene:
    """How far the cover went down from the free padding."""
    reach = round_reach(max(-float(change_mm_of(pad).min(initial=0.0)) for pad in job.pads))
    title = f"{job.sheet.name}: how far the cover went down"
    return _map(job, title, lambda pad: down_colours(change_mm_of(pad), reach), down_key(reach), [])


def crush_of(pad: BuiltPad) -> FloatArray:
    """Shares (n,) by which foam is crushed, not a number where none lies."""
    if pad.rest is None:
        return np.zeros(len(pad.shown.vertices))
    return _shown(pad, pad.rest, pad.rest.foam_crush)


def change_mm_of(pad: BuiltPad) -> FloatArray:
    """Change of height (n,) against the free padding, mm, negative down."""
    if pad.rest is None:
        return np.zeros(len(pad.shown.vertices))
    return _shown(pad, pad.rest, pad.rest.change_mm)


def _shown(pad: BuiltPad, rest: PadRest, values: FloatArray) -> FloatArray:
    """Values of the settled vertices at those of the pad, which has more of them where seams were added since: there,
    of the nearest."""
    points = pad.surface.vertices
    if len(points) == len(values):
        return values
    return np.asarray(values[cKDTree(rest.settled.points).query(points)[1]])


def _map(
    job: Job, title: str, colours: Callable[[BuiltPad], Colours], key: Legend, fine: list[tuple[str, FloatArray]]
) -> Scene:
    """Every pad in its colours, with its seams."""
    parts, lines, names = [], [], []
    for pad in job.pads:
        surface = pad.shown
        points = placed(surface.vertices, pad.placement)
        normals = vertex_normals(points, surface.triangles)
        parts.append(ScenePart(pad.pad.name, points, surface.triangles, normals, colours(pad)))
        lifted = points + LIFT_MM * normals
        lines += [(f"{pad.pad.name} {name}", lifted[path]) for name, path in pad.surface.curves.items()]
        names.append((pad.pad.name, points[int(np.argmin(np.linalg.norm(points - points.mean(axis=0), axis=1)))]))
    return Scene(title, tuple(parts), tuple(lines), tuple(names), tuple(fine), key)


def _limit_lines(pad: BuiltPad) -> list[tuple[str, FloatArray]]:
    """Where the crush of the foam passes the limit."""
    points = placed(pad.shown.vertices, pad.placement)
    lifted = points + LIFT_MM * vertex_normals(points, pad.shown.triangles)
    found = contours(lifted, pad.shown.triangles, np.nan_to_num(crush_of(pad)), CRUSH_LIMIT)
    return [(f"{pad.pad.name} limit", line) for line in longer_than(SHORT_MM, found)]
