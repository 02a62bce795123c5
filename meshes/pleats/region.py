"""What of a pad is pleated, as a region of its chart, and lengths over the padded surface across it.

Lengths mm, in the plane of the chart unless said to be over the surface. "Along" is the way the pleats run, "across"
the way they lie side by side; a place along is called a station.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from meshes.base.arrays import FloatArray, locked_floats
from meshes.padding.layers import free_thickness, places
from meshes.pleats.layout import LayoutFault
from meshes.records.built_up import BuiltUp
from meshes.records.pad import Pad
from meshes.records.pleats import Pleats
from meshes.support.blocks import face_of
from meshes.support.chart import Chart, MakeProblem
from meshes.support.inset import face_corners, inset_polygon
from meshes.support.loft import loft
from meshes.support.seam_lines import face_region, seam_corners

# Where a place of the chart lies in space: (n, 2) to (n, 3), mm.
ChartToPad = Callable[[FloatArray], FloatArray]
ACROSS_MM = 1.0
EDGE_STATIONS = 65


@dataclass(frozen=True, eq=False)
class Region:
    """What is pleated, as a polygon of the chart turned so that pleats run along its second axis.

    turned: the axes are exchanged, for pleats across; shape: the region itself; corners (k, 2): it without rounded
    corners; nodes (j, 2): where the seam round it passes from one side to the next;
    whole: stations between which it has an edge at both sides; sewn: whether its low and its high end are seams, where
    the rise runs out.
    """

    turned: bool
    shape: Polygon
    corners: FloatArray
    nodes: FloatArray
    whole: tuple[float, float]
    sewn: tuple[bool, bool]

    def place(self, at: FloatArray) -> FloatArray:
        """Chart points (n, 2) as (across, along) or back."""
        return at[:, ::-1] if self.turned else at

    @property
    def span(self) -> tuple[float, float]:
        """Lowest and highest station."""
        low, high = self.shape.bounds[1], self.shape.bounds[3]
        return float(low), float(high)

    def across(self, station: float) -> tuple[float, float]:
        """Where the region begins and ends at a station."""
        return _section(self.shape, station)

    def along(self, across: float) -> tuple[float, float]:
        """Where the region begins and ends at a place across."""
        return _section(shapely.transform(self.shape, lambda at: at[:, ::-1]), across)

    def between_edges(self, stations: FloatArray) -> FloatArray:
        """The same at stations (k,) without rounded corners, (k, 2): the edges at both sides, carried on straight where
        one of them has ended."""
        shape, (low, high) = Polygon(self.corners), self.whole
        inner = np.linspace(low, high, EDGE_STATIONS)
        ends = np.array([_section(shape, s) for s in inner])
        return np.stack([carried_on(ends[:, k], inner, stations) for k in (0, 1)], axis=1)


def _section(shape: Polygon, station: float) -> tuple[float, float]:
    low, high = shape.bounds[0] - 1.0, shape.bounds[2] + 1.0
    station = min(max(station, shape.bounds[1] + 1e-6), shape.bounds[3] - 1e-6)
    cut = shapely.intersection(shape, LineString([(low, station), (high, station)]))
    longest = max(shapely.get_parts(cut), key=lambda part: part.length)
    return float(longest.bounds[0]), float(longest.bounds[2])


def region_of(pad: Pad, pleats: Pleats, chart: Chart, make_problem: MakeProblem) -> Region:
    """What is pleated. Raises LayoutFault for a pad without it."""
    shape = face_region(pad, chart)
    inset = inset_polygon(pad, chart, make_problem)
    if (inset is None) != (pleats.where == "face"):
        found = "has an inset and no face of its own" if inset is not None else "has no inset"
        raise LayoutFault("G061", "where", f'the pad {found}; change where = "{pleats.where}"')
    if inset is not None:
        shape = shapely.intersection(shape, inset)
    if not isinstance(shape, Polygon) or shape.is_empty:
        raise LayoutFault("G061", "where", "the inset is not one region of the face; change its margins")
    turned = pleats.direction == "across"
    sewn = []
    for side in ("left", "right") if turned else ("front", "rear"):
        margin = float(getattr(pad.inset, side)) if pad.inset is not None else 0.0
        sewn.append(margin > 0.0 or pad.sides[side].band or not pleats.over_edge)
    corners, nodes = face_corners(pad, chart), seam_corners(chart)
    if turned:
        shape = shapely.transform(shape, lambda at: at[:, ::-1])
        corners, nodes = corners[:, ::-1], nodes[:, ::-1]
    whole = _whole(pad, corners[:, 1], ("left", "right") if turned else ("front", "rear"))
    return Region(turned, shape, locked_floats(corners), locked_floats(nodes), whole, (sewn[0], sewn[1]))


def _whole(pad: Pad, station: FloatArray, ends: tuple[str, str]) -> tuple[float, float]:
    """From the inner one of both corners at the low end to the inner one at the high end; station (k,): of corners."""
    sides = pad.outline.side_of_edge
    at: dict[str, list[float]] = {end: [] for end in ends}
    for k, side in enumerate(sides):
        if side != sides[k - 1]:
            for end in {side, sides[k - 1]} & set(ends):
                at[end].append(float(station[k]))
    low, high = max(at[ends[0]]), min(at[ends[1]])
    if low >= high:
        raise LayoutFault("G130", "shape", "the edges that the valleys would follow are not beside each other")
    return low, high


def laid_on(pad: Pad, chart: Chart, built_up: BuiltUp | None = None) -> ChartToPad:
    """The padded surface of a pad over its chart, free of any cover."""
    face = face_of(pad, built_up)

    def laid(at: FloatArray) -> FloatArray:
        u, c = chart.from_plane(at)
        support = loft(chart, face, at, u, c)
        thick = free_thickness(pad.layers, places(chart, at, u, c))
        return np.asarray(support.points + thick[:, None] * support.directors)

    return laid


@dataclass(frozen=True, eq=False)
class Ruler:
    """Lengths over the surface across the pleats at one station: from the centre, at places (k,) of the chart."""

    across: FloatArray
    length: FloatArray

    @property
    def low(self) -> float:
        """Length at the low end of the region, below 0."""
        return float(self.length[0])

    @property
    def high(self) -> float:
        """Length at its high end."""
        return float(self.length[-1])

    def across_at(self, length: FloatArray) -> FloatArray:
        """Places of the chart at lengths (k,) from the centre."""
        return np.asarray(np.interp(length, self.length, self.across))

    def length_at(self, across: FloatArray) -> tuple[float, ...]:
        """Lengths from the centre at places (k,) of the chart, carried on straight beyond the region."""
        return tuple(carried_on(self.length, self.across, np.asarray(across)).tolist())


def ruler(region: Region, laid: ChartToPad, station: float, *, even: bool) -> Ruler:
    """Lengths over the surface from the centre, across the region at a station; even: the same both ways, exactly."""
    low, high = region.across(station)
    if even:
        half = _measured(region, laid, station, 0.0, high)
        return Ruler(
            np.concatenate([-half.across[:0:-1], half.across]), np.concatenate([-half.length[:0:-1], half.length])
        )
    whole = _measured(region, laid, station, low, high)
    zero = float(np.interp(0.0, whole.across, whole.length))
    return Ruler(whole.across, whole.length - zero)


def _measured(region: Region, laid: ChartToPad, station: float, low: float, high: float) -> Ruler:
    across = np.linspace(low, high, max(int(np.ceil((high - low) / ACROSS_MM)), 2) + 1)
    points = laid(region.place(np.stack([across, np.full(len(across), station)], axis=1)))
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    return Ruler(across, np.concatenate([[0.0], np.cumsum(steps)]))


def carried_on(place: FloatArray, stations: FloatArray, at: FloatArray) -> FloatArray:
    """Place at stations, carried on straight beyond the ends."""
    inner = np.interp(at, stations, place)
    first = (place[1] - place[0]) / (stations[1] - stations[0])
    last = (place[-1] - place[-2]) / (stations[-1] - stations[-2])
    inner = np.where(at < stations[0], place[0] + first * (at - stations[0]), inner)
    return np.asarray(np.where(at > stations[-1], place[-1] + last * (at - stations[-1]), inner))
