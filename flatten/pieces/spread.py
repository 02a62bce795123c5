"""A flat piece at finished size, spread for its pleats: room for every crest and for what the stitches take up.

The piece is moved apart across the pleats, everywhere by the same amount along a valley, so valleys keep their length
and shape and meet those of the backing. A part with several pleats is spread to the full rise up to its ends; there the
crests lie flat and their fullness is eased into the seam, as much as is stated. A single strip is cut to the taper of
its rise and needs no ease. Lengths mm.
"""

from dataclasses import dataclass

import numpy as np

from flatten.leather.grain import carried
from flatten.leather.pleat_grain import running
from flatten.maps.certify import certify
from meshes.base.arrays import FloatArray, locked_floats
from meshes.pleats.channels import Pleated
from meshes.seat.panels import Panel


@dataclass(frozen=True, eq=False)
class Spread:
    """A piece spread for its pleats.

    first, last: its pleats are first ... last - 1; across (2,): unit direction on the piece in which they are counted;
    points (n, 2): spread; taken_up (n, 2): spread by the take-up alone, without room for the crests; certified: whether
    the spread piece is still one-to-one.
    """

    first: int
    last: int
    across: FloatArray
    points: FloatArray
    taken_up: FloatArray
    certified: bool


def spread(pleats: Pleated, panel: Panel, points: FloatArray) -> Spread:
    """Spread a piece; points (n, 2): at finished size. The spread piece lies with its box at zero."""
    run, across, crests, taken = _apart(pleats, panel, points)
    whole = _at_zero(points + (crests + taken)[:, None] * across)
    return Spread(
        first=run[0],
        last=run[1],
        across=locked_floats(across),
        points=locked_floats(whole),
        taken_up=locked_floats(points + taken[:, None] * across),
        certified=certify(whole, panel.surface.triangles).holds,
    )


def spread_points(pleats: Pleated, panel: Panel, points: FloatArray) -> FloatArray:
    """Where the points (n, 2) of a piece at finished size lie once it is spread, its box at zero."""
    _, across, crests, taken = _apart(pleats, panel, points)
    return _at_zero(points + (crests + taken)[:, None] * across)


def _at_zero(points: FloatArray) -> FloatArray:
    return np.asarray(points - points.min(axis=0))


def _apart(
    pleats: Pleated, panel: Panel, points: FloatArray
) -> tuple[tuple[int, int], FloatArray, FloatArray, FloatArray]:
    """A piece's pleats, first and past the last; the direction across them (2,); how far every vertex (n,) is moved
    along it for the crests, and for the take-up."""
    place, station = pleats.place[panel.vertices], pleats.station[panel.vertices]
    first, last = int(np.floor(place.min() + 1e-9)), int(np.ceil(place.max() - 1e-9))
    scale = pleats.scale[panel.vertices] if last - first == 1 else None
    crests = _moved(pleats, place, station, (first, last), scale)
    taken = pleats.plan.section.take_up * (place - 0.5 * (first + last))
    return (first, last), _across(pleats, panel, points), crests, taken


def _across(pleats: Pleated, panel: Panel, points: FloatArray) -> FloatArray:
    """Direction on the piece square to the mean run of the pleats, towards higher numbers."""
    turned, weights = pleats.plan.region.turned, running(pleats, panel)
    run = carried(
        panel.surface.vertices, panel.surface.triangles, points, np.array([1.0, 0, 0] if turned else [0, 1.0, 0])
    )
    if weights is not None:
        mean = weights @ points
        run = mean / np.linalg.norm(mean) * (1.0 if mean @ run >= 0.0 else -1.0)
    # Along pleats are counted to the right of their run, across pleats to its left.
    return np.array([-run[1], run[0]]) if turned else np.array([run[1], -run[0]])


def _moved(
    pleats: Pleated, place: FloatArray, station: FloatArray, run: tuple[int, int], scale: FloatArray | None
) -> FloatArray:
    """How far the room for the crests moves each vertex (n,), counted from the middle of the part."""
    width = pleats.widths_at(station)[:, run[0] : run[1]]
    extra = pleats.plan.section.arc(width, 1.0 if scale is None else scale[:, None]) - width
    # The part of every pleat that lies before the vertex, less what lies before the middle of the part.
    before = np.clip(place[:, None] - np.arange(run[0], run[1]), 0.0, 1.0)
    middle = np.clip(0.5 * (run[0] + run[1]) - np.arange(run[0], run[1]), 0.0, 1.0)
    return np.asarray((extra * (before - middle)).sum(axis=1))


def cut_widths(pleats: Pleated, panel: Panel, spread: Spread, points: FloatArray) -> FloatArray:
    """Widths (k,) of a part's pleats on its piece, half way along them and square to their run, mm.

    points (n, 2): the spread piece, or the same at finished size. Not a number for a pleat that is cut through.
    """
    place, station = pleats.place[panel.vertices], pleats.station[panel.vertices]
    sides = []
    for side in range(spread.first, spread.last + 1):
        on = np.flatnonzero(np.abs(place - side) < 1e-9)
        order = on[np.argsort(station[on], kind="stable")]
        whole = len(on) and station[order[0]] <= pleats.plan.reference <= station[order[-1]]
        at = np.interp(pleats.plan.reference, station[order], points[order] @ spread.across) if whole else np.nan
        sides.append(float(at))
    return np.diff(sides)
