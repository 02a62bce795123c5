"""Named places on a seat that a tape may be laid between, and tapes as lines over it, for the page to show.

Places are where a tape can be read off the seat without measuring first: its edges on the centre line, where profiles
were taken, at a quarter, half and three quarters of its depth, its corners and its middle. Lengths mm.
"""

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from shapely.geometry import LineString, Polygon

from flatten.sheets.refusals import told_as_json
from meshes.base.arrays import FloatArray
from meshes.base.files import number
from meshes.base.problems import ProblemError
from meshes.base.surface import Surface, boundary_loops
from meshes.base.units import Unit, in_shop_unit
from meshes.padding.layers import free_thickness, places
from meshes.records.pad import UPRIGHT, Pad
from meshes.seat.assembly import placed, placement
from meshes.seat.build import BuiltPad
from meshes.seat.panels import PanelRole
from meshes.sheet.whole import Control, Sheet
from meshes.support.blocks import face_of
from meshes.support.chart import Chart
from meshes.support.loft import loft
from meshes.tapes.course import chart_of, tape_length, tape_points
from meshes.tapes.covered import covered_length
from meshes.tapes.explain import Taped
from meshes.tapes.loose import loose_length, loose_line
from meshes.tapes.told import tape_faults

# The edge seen square on is followed in steps of this length, and places lie so far inside it.
_EDGE_FOLLOWED_MM, _PLACE_WITHIN_MM = 4.0, 1.0
_DEPTH_SHARES = ((0.25, "a quarter of the way"), (0.5, "half way"), (0.75, "three quarters of the way"))


def seat_places(pads: Sequence[BuiltPad]) -> dict[str, list[dict[str, Any]]]:
    """Places of every pad, by its name: name, at (x, y) seen square on, point (3,) in seat coordinates, the line along
    or across the pad that they end, where they do, and of pads without a frame whether a tape can go right round."""
    found = {}
    for built in pads:
        pad = built.pad
        try:
            chart = chart_of(pad) if pad.on_frame else None
        except ProblemError:
            continue
        top = _upper_face(built)
        ring = top.vertices[boundary_loops(top.triangles)[0], :2]
        if chart is not None:
            ring = chart.outline.point(chart.outline.samples(_EDGE_FOLLOWED_MM))
        rows = list(_rows(pad, ring))
        if chart is None:
            rows = [{**row, "girth": pad.closed is None or pad.closed.filled} for row in rows]
        plan = np.array([row["at"] for row in rows])
        points = placed(_on_face(top, plan) if chart is None else _on_padding(pad, chart, plan), built.placement)
        found[pad.name] = [{**row, "point": at} for row, at in zip(rows, points.round(1).tolist(), strict=True)]
    return found


def _upper_face(built: BuiltPad) -> Surface:
    """The first of a pad's faces: of a loose cushion its upper plate, of a board its cover."""
    return next(panel for panel in built.panels if panel.role is PanelRole.FACE).surface


def _on_face(face: Surface, plan: FloatArray) -> FloatArray:
    """Places (n, 2) seen square on as points (n, 3) on a face, as high as the vertex of it that is nearest."""
    nearest = [int(np.argmin(np.hypot(*(face.vertices[:, :2] - at).T))) for at in plan]
    return np.column_stack([plan, face.vertices[nearest, 2]])


def _on_padding(pad: Pad, chart: Chart, plan: FloatArray) -> FloatArray:
    """Places (n, 2) seen square on as points (n, 3) on the padding."""
    u, c = chart.from_plane(plan)
    bare = loft(chart, face_of(pad), plan, u, c)
    return bare.points + free_thickness(pad.layers, places(chart, plan, u, c))[:, None] * bare.directors


def _rows(pad: Pad, outline: FloatArray) -> Iterator[dict[str, Any]]:
    """Rows of places within an outline (n, 2)."""
    body = Polygon(outline).buffer(-_PLACE_WITHIN_MM)
    x0, y0, x1, y1 = body.bounds
    middle = 0.0 if pad.symmetric else 0.5 * (x0 + x1)
    front, rear = (pad.side_word(side) for side in ("front", "rear"))
    yield _row("middle", (middle, 0.5 * (y0 + y1)))
    for x in _stations(pad, "along", middle):
        for at, edge in zip(_ends(body, (x, y0 - 1.0), (x, y1 + 1.0)), (front, rear), strict=False):
            yield _row(f"{edge} edge, {_beside(x, middle)}", at, along=x, end=edge)
    way = "up" if pad.kind in UPRIGHT else "back"
    for y, words in [*((y0 + share * (y1 - y0), f"{words} {way}") for share, words in _DEPTH_SHARES),
                     *((y, f"profile at y = {number(y, 0)} mm") for y in _stations(pad, "across", None))]:  # fmt: skip
        for at, edge in zip(_ends(body, (x0 - 1.0, y), (x1 + 1.0, y)), ("left", "right"), strict=False):
            yield _row(f"{edge} edge, {words}", at, across=round(y), end=edge)
    ring = np.asarray(body.exterior.coords)
    for word_y, sign_y in ((front, -1.0), (rear, 1.0)):
        for word_x, sign_x in (("left", -1.0), ("right", 1.0)):
            share = (ring - [0.5 * (x0 + x1), 0.5 * (y0 + y1)]) / [x1 - x0, y1 - y0]
            yield _row(f"{word_y} {word_x} corner", tuple(ring[int(np.argmax(share @ [sign_x, sign_y]))]))


def _row(name: str, at: Sequence[float], **more: Any) -> dict[str, Any]:
    return {"name": name, "at": [round(float(v)) for v in at], **more}


def _stations(pad: Pad, direction: str, middle: float | None) -> list[float]:
    """Where profiles were taken, on both sides of an even pad, and the centre line."""
    found = {float(round(one.at)) for one in pad.profiles if one.direction == direction}
    if middle is not None:
        found |= {float(round(middle)), *(-at for at in found if pad.symmetric)}
    return sorted(found)


def _beside(x: float, middle: float) -> str:
    if abs(x - middle) < 0.5:
        return "centre line"
    return f"{number(abs(x - middle), 0)} mm {'right' if x > middle else 'left'} of it"


def _ends(body: Polygon, start: tuple[float, float], end: tuple[float, float]) -> list[tuple[float, float]]:
    """Both ends of a straight line across an outline; none where it misses it."""
    cut = body.intersection(LineString([start, end]))
    parts = [part for part in getattr(cut, "geoms", [cut]) if part.geom_type == "LineString" and part.length > 1.0]
    return [] if not parts else [parts[0].coords[0], parts[-1].coords[-1]]


def tapes_laid(sheet: Sheet, covered: Sequence[BuiltPad]) -> dict[str, Any]:
    """Every tape of a sheet as a line over the seat, beside what is computed there; rows that cannot be laid as their
    problems. covered: pads as built, for tapes over the cover."""
    wrong = {problem.keys[1]: problem for problem in tape_faults(sheet)}
    pads, rows = {pad.name: pad for pad in sheet.pads}, []
    for k, control in enumerate(sheet.controls):
        if k in wrong:
            rows.append({"number": k, "problems": told_as_json([wrong[k]])})
            continue
        try:
            rows.append({"number": k, **_laid(pads[control.pad], control, covered, sheet.unit)})
        except ProblemError as fault:
            told = [sheet.problem("S058", ("control", k, "way"), one.text) for one in fault.problems]
            rows.append({"number": k, "problems": told_as_json(told)})
    return {"tapes": rows}


def _laid(pad: Pad, control: Control, covered: Sequence[BuiltPad], unit: Unit) -> dict[str, Any]:
    built = next((one for one in covered if one.pad.name == pad.name), None)
    length: float | None
    if not pad.on_frame:
        line, length = loose_line(pad, control, built), loose_length(pad, control, built)
    else:
        chart = chart_of(pad)
        line = tape_points(pad, chart, control)
        if control.over == "cover":
            length = None if built is None else covered_length(built, control, line)
        else:
            length = tape_length(pad, chart, control)
    taped = Taped(control, length)
    shown = np.vstack([line, line[:1]]) if control.way == "round" or control.ends == "girth" else line
    return {
        "words": in_shop_unit(control.words, unit=unit),
        "pad": pad.name,
        "line": placed(shown, placement(pad)).round(1).ravel().tolist(),
        "length_mm": None if length is None else round(length, 1),
        "read_mm": round(control.length, 1),
        "off_mm": round(taped.off_mm, 1),
        "error_mm": round(taped.error_mm, 1),
        "differs": taped.differs and length is not None,
        "problems": [],
    }
