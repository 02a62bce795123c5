"""Where seam lines meet all but in one point: points nearer than triangles of the mesh can tell apart become one.

The point that matters less moves: where the rim passes from one line to another stays, then a point of the rim, then
the end of a sewn line.
"""

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree
from shapely.geometry import LineString

ChartPoint = tuple[float, float]


@dataclass(frozen=True, eq=False)
class ChartSegment:
    """A line between two crossings. rim: which line of the rim it belongs to, None inside; sewn: whether it is sewn."""

    line: LineString
    rim: Hashable
    sewn: bool


def place_of(point: Sequence[float]) -> ChartPoint:
    """A point as the key under which lines share it."""
    return round(point[0], 6) + 0.0, round(point[1], 6) + 0.0


def met(cuts: Sequence[ChartSegment], reach_mm: float) -> list[LineString | None]:
    """The lines with ends nearer to each other than `reach_mm` moved together; None for one that lay between two such
    ends."""
    at: dict[ChartPoint, list[ChartSegment]] = {}
    for cut in cuts:
        for end in (cut.line.coords[0], cut.line.coords[-1]):
            at.setdefault(place_of(end), []).append(cut)
    moved = _moves(at, reach_mm)
    return [_moved(cut.line, moved, reach_mm) for cut in cuts]


def _standing(cuts: Sequence[ChartSegment]) -> int:
    rims = {cut.rim for cut in cuts if cut.rim is not None}
    if len(rims) > 1:
        return 0
    return 1 if rims else 2 if any(cut.sewn for cut in cuts) else 3


def _moves(at: Mapping[ChartPoint, Sequence[ChartSegment]], reach_mm: float) -> dict[ChartPoint, ChartPoint]:
    """Which points move, and where to: nearest pairs first; no point moves to one that has moved itself."""
    places = list(at)
    points = np.array(places)
    pairs = cKDTree(points).query_pairs(reach_mm, output_type="ndarray")
    apart = np.linalg.norm(points[pairs[:, 0]] - points[pairs[:, 1]], axis=1)
    moved: dict[ChartPoint, ChartPoint] = {}
    held: set[ChartPoint] = set()
    for pair in pairs[np.lexsort((pairs[:, 1], pairs[:, 0], apart))]:
        keep, give = sorted((places[k] for k in pair), key=lambda p: (_standing(at[p]), p))
        if keep not in moved and give not in moved and give not in held and _may_join(at[keep], at[give]):
            moved[give] = keep
            held.add(keep)
    return moved


def _may_join(keep: Sequence[ChartSegment], give: Sequence[ChartSegment]) -> bool:
    """Two corners of the rim stay apart, and a point of the rim stays on its own line."""
    own = {cut.rim for cut in give if cut.rim is not None}
    return len(own) < 2 and own <= {cut.rim for cut in keep}


def _moved(line: LineString, moved: Mapping[ChartPoint, ChartPoint], reach_mm: float) -> LineString | None:
    path = np.asarray(line.coords)
    ends = [place_of(path[0]), place_of(path[-1])]
    now = [moved.get(end, end) for end in ends]
    if now == ends:
        return line
    if now[0] == now[1] and line.length < 3.0 * reach_mm:
        return None
    inner = path[1:-1]
    for new in (new for old, new in zip(ends, now, strict=True) if new != old):
        # Points that its moved end has come near to or passed would make the line turn back.
        inner = inner[np.linalg.norm(inner - new, axis=1) > 2.0 * reach_mm]
    return LineString(np.concatenate([[now[0]], inner, [now[1]]]))
