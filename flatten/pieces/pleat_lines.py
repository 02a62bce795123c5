"""What is drawn on a piece for its pleats: stitch lines, crests and joins, and words.

Lines of the cover stand at the spread spacing, those of its backing at the finished one; both carry the same names.
"""

from collections.abc import Sequence

import numpy as np
from scipy.interpolate import LinearNDInterpolator

from flatten.leather.pleat_grain import ON_VALLEY
from flatten.pieces.piece import Edge, InnerLine, LineKind
from flatten.pieces.spread import Spread
from meshes.base.arrays import FloatArray
from meshes.base.surface import directed_edges
from meshes.base.units import SAME_MM
from meshes.pleats.channels import Pleated
from meshes.pleats.plan import Valley
from meshes.seat.panels import Panel

CREST_STEPS = 24
# A crest is drawn this far inside the ends of its pleat, as a share of its length.
CREST_INSIDE = 0.02


def stitch_lines(
    pleats: Pleated, panel: Panel, spread: Spread, points: FloatArray, kind: LineKind, *, paired: bool
) -> tuple[InnerLine, ...]:
    """The valleys inside a part as lines of its piece; points (n, 2): of the cover or of the backing.

    paired: the piece is also cut mirrored, so that left and right are left out of the names.
    """
    lines = []
    for k in range(spread.first, spread.last - 1):
        name = _called(pleats.plan.valleys[k], paired=paired)
        lines += [InnerLine(name, points[path], kind) for path in _paths(pleats, panel, k + 1)]
    return tuple(lines)


def _paths(pleats: Pleated, panel: Panel, valley: int) -> list[list[int]]:
    """Runs of a panel's vertices along one valley, from its low end on; a dart across it leaves two."""
    on = np.flatnonzero(np.abs(pleats.place[panel.vertices] - valley) < ON_VALLEY)
    edges = np.sort(directed_edges(panel.surface.triangles), axis=1)
    edges = np.unique(edges[np.isin(edges, on).all(axis=1)], axis=0)
    beside: dict[int, list[int]] = {}
    for i, j in edges.tolist():
        beside.setdefault(i, []).append(j)
        beside.setdefault(j, []).append(i)
    station = pleats.station[panel.vertices]
    tips = sorted((v for v, near in beside.items() if len(near) == 1), key=lambda v: (float(station[v]), v))
    paths, seen = [], set[int]()
    for tip in tips:
        if tip in seen:
            continue
        path = [tip]
        while ahead := [v for v in beside[path[-1]] if v not in path[-2:]]:
            path.append(ahead[0])
        seen |= {tip, path[-1]}
        paths.append(path if station[path[0]] <= station[path[-1]] else path[::-1])
    return paths


def crest_lines(pleats: Pleated, panel: Panel, spread: Spread) -> tuple[InnerLine, ...]:
    """The middles of the pleats on the spread piece, for the eye."""
    place, station = pleats.place[panel.vertices], pleats.station[panel.vertices]
    # Below an edge all vertices of a column share one station, so only the topmost of them count.
    _, keep = np.unique(np.round(np.stack([place, station], axis=1), 9), axis=0, return_index=True)
    span = np.ptp(station)
    wide = span / max(float(np.ptp(place)), 1e-9)
    at = LinearNDInterpolator(np.stack([wide * place[keep], station[keep]], axis=1), spread.points[keep])
    lines = []
    low, high = station.min() + CREST_INSIDE * span, station.max() - CREST_INSIDE * span
    for k in range(spread.first, spread.last):
        along = np.linspace(low, high, CREST_STEPS)
        found = at(np.stack([np.full(CREST_STEPS, wide * (k + 0.5)), along], axis=1))
        found = found[~np.isnan(found[:, 0])]
        if len(found) > 1:
            lines.append(InnerLine(f"crest of {pleats.figures[k].name}", found, LineKind.CREST))
    return tuple(lines)


def join_lines(pleats: Pleated, panel: Panel, edges: Sequence[Edge], *, paired: bool) -> tuple[InnerLine, ...]:
    """The edges of a part that are joins hidden in a valley."""
    lines = []
    for rim, edge in zip(panel.rim, edges, strict=True):
        run = set(panel.vertices[rim.vertices].tolist())
        for valley, path in zip(pleats.plan.valleys, pleats.valleys, strict=True):
            if valley.joined and run <= set(path.tolist()):
                name = _called(valley, paired=paired)
                lines.append(InnerLine(f"join in {name}", edge.points, LineKind.JOIN))
    return tuple(lines)


def _called(valley: Valley, *, paired: bool) -> str:
    return valley.unsided if paired else valley.name


def _from_centre(pleats: Pleated, spread: Spread) -> str:
    """Where a part lies, counted in parts from the centre mark."""
    edges = pleats.plan.layout.edges
    low, high = edges[spread.first], edges[spread.last]
    if low < -SAME_MM and high > SAME_MM:
        return "across the centre"
    right = low >= -SAME_MM
    begin, end = (0.0, low) if right else (high, 0.0)
    # The part's own inner end is a join too, so these are the parts up to this one on its side.
    near = [j for j in pleats.plan.parts.joins if begin - SAME_MM <= edges[j] <= end + SAME_MM]
    return f"part {len(near)} from the centre"


def part_notes(pleats: Pleated, spread: Spread, cut: FloatArray, *, paired: bool) -> tuple[str, ...]:
    """What a part says of its pleats: which they are, and how wide they are cut (k,) for what finished width."""
    count, region = pleats.plan.count, pleats.plan.region
    begin = "the front" if region.turned else "the left"
    run = (
        f"pleat {spread.first + 1}"
        if spread.last - spread.first == 1
        else f"pleats {spread.first + 1} to {spread.last}"
    )
    words = [f"{run} of {count} from {begin}"]
    if paired:
        words[0] += ", or from the right"
    if len(pleats.plan.parts.joins) and not region.turned:
        words[0] += f"; {_from_centre(pleats, spread)}"
    middle = (spread.first + spread.last) // 2
    one = pleats.figures[middle]
    wide = cut[middle - spread.first] if np.isfinite(cut[middle - spread.first]) else one.cut_mm
    words.append(f"cut {wide:.1f} mm for {one.finished_mm:.1f} mm finished, rise {one.rise_mm:.1f} mm")
    return tuple(words)
