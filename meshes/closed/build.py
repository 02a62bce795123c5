"""Pads of all sorts, built: on a frame, with tack lines; closed all round, a loose cushion or a roll; a flat board."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from meshes.base.arrays import FloatArray, IntArray, locked_floats
from meshes.base.plane import area, extent
from meshes.base.problems import Problem, ProblemError
from meshes.base.surface import Surface, smallest_angles, triangle_areas
from meshes.base.units import place_words
from meshes.closed.bands import BandPart, OpeningTooShortError, ZipTooLongError, band_parts
from meshes.closed.boards import board_panels
from meshes.closed.body import ClosedBody
from meshes.closed.fullness import core_rims, filled, fitted_tension, lift_of, wrap_mm
from meshes.closed.panels import closed_panels, flat_panel
from meshes.closed.plate_mesh import PlateMesh, plate_mesh
from meshes.closed.rim import RimCurve, rim_curve, smaller_outline, stations
from meshes.closed.words import zip_corners, zip_side_words
from meshes.numerics.sizes import Sizes
from meshes.numerics.triangulate import LinesTooCloseError
from meshes.outlines.openings import followed
from meshes.outlines.rounded import CornersTooRoundError
from meshes.pleats.shape import USUAL_TENSION_N_PER_MM
from meshes.records.alignment import UNALIGNED, Alignment
from meshes.records.board import Board
from meshes.records.closed import LEAST_OPENING_MM, Closed, Undersize
from meshes.records.materials import BUILT_IN, Material
from meshes.records.pad import Pad
from meshes.seat.build import BuiltPad, ClosedFacts, Tension, mean_of
from meshes.seat.build import build as build_on_frame
from meshes.seat.build import build_surface as surface_on_frame
from meshes.seat.facts import PadFacts
from meshes.seat.panels import Division, PanelRole, curves_of
from meshes.support.chart import MakeProblem, make_problem_for

# Radius of a corner that is sharp.
AS_SHARP_MM = 1e-9


def build(
    pad: Pad,
    *,
    edge_mm: float | Sizes = 6.0,
    make_problem: MakeProblem | None = None,
    tension_n_per_mm: Tension | None = None,
    materials: Mapping[str, Material] = BUILT_IN,
    alignment: Alignment = UNALIGNED,
) -> BuiltPad:
    """Build one pad of any sort with triangles of about `edge_mm`; one without a frame has no cuts. As
    `meshes.seat.build.build`. Raises ProblemError."""
    make = build_on_frame if pad.on_frame else build_surface
    return make(
        pad,
        edge_mm=edge_mm,
        make_problem=make_problem,
        tension_n_per_mm=tension_n_per_mm,
        materials=materials,
        alignment=alignment,
    )


def build_surface(
    pad: Pad,
    *,
    edge_mm: float | Sizes = 6.0,
    make_problem: MakeProblem | None = None,
    tension_n_per_mm: Tension | None = None,
    materials: Mapping[str, Material] = BUILT_IN,
    alignment: Alignment = UNALIGNED,
) -> BuiltPad:
    """The same without the cuts. What a closed cover pulls with follows from its undersize, where it has one."""
    if pad.on_frame:
        return surface_on_frame(
            pad,
            edge_mm=edge_mm,
            make_problem=make_problem,
            tension_n_per_mm=tension_n_per_mm,
            materials=materials,
            alignment=alignment,
        )
    usual = mean_of(tension_n_per_mm or USUAL_TENSION_N_PER_MM)
    edge = edge_mm.least if isinstance(edge_mm, Sizes) else edge_mm
    make = make_problem or make_problem_for(pad)
    if pad.board is not None:
        return _board(pad, pad.board, edge, make)
    assert pad.closed is not None
    return _closed(pad, pad.closed, edge, usual, materials, make)


def _closed(
    pad: Pad, closed: Closed, edge_mm: float, usual: float, materials: Mapping[str, Material], make: MakeProblem
) -> BuiltPad:
    rim, notes = _rim(pad, closed, materials, make)
    if not closed.filled:
        return _flat(pad, closed, rim, edge_mm, make)
    parts = _parts(pad, closed, rim, make)
    plate, spans = _plate(pad, rim, parts, edge_mm, make)
    tension = fitted_tension(closed, extent(pad.outline.corners), materials, usual)
    full = filled(pad, closed, plate, materials, tension)
    if full.settled is not None and not full.settled.converged:
        raise ProblemError([make("G141", ("closed",), f"the cover does not come to rest: {full.settled.note}")])
    levels = max(round(0.5 * closed.height / edge_mm), 1) if closed.banded else 0
    rims = core_rims(closed, plate.points)
    body = _body(plate, closed, full.heights_mm, levels)
    division = closed_panels(pad, body, parts, spans)
    triangles = np.concatenate([panel.vertices[panel.surface.triangles] for panel in division.panels])
    points = body.vertices
    flat = _body(plate, closed, rims, levels)
    zip_mm = sum(part.end - part.begin for part in parts if part.zipped) or closed.height
    return BuiltPad(
        pad=pad,
        alignment=UNALIGNED,
        support=Surface(flat.vertices, triangles),
        surface=Surface(points, triangles, curves_of(division.panels, division.seams)),
        thickness_mm=locked_floats(np.zeros(len(points))),
        division=division,
        facts=_closed_facts(pad, closed, Surface(points, triangles), division),
        problems=tuple(notes),
        closed=ClosedFacts(closed.smaller(materials[closed.core]), tension, full.rise_mm, zip_mm),
    )


def _body(plate: PlateMesh, closed: Closed, heights: FloatArray, levels: int) -> ClosedBody:
    """The body of a cover whose upper face stands so high (n,); of a wedge, or on a board, its lower face is flat."""
    rims = core_rims(closed, plate.points)
    lift = lift_of(closed, heights, rims)
    if lift is None:
        return ClosedBody(plate, locked_floats(heights), levels, None)
    own = 0.5 * (heights + rims) if closed.board else heights
    return ClosedBody(plate, locked_floats(own), levels, locked_floats(lift))


def _flat(pad: Pad, closed: Closed, rim: RimCurve, edge_mm: float, make: MakeProblem) -> BuiltPad:
    """A flat panel, as it is seen from outside."""
    plate, spans = _plate(pad, rim, _four_edges(rim), edge_mm, make)
    division = flat_panel(pad, plate, spans)
    surface = Surface(np.column_stack([plate.points, np.zeros(len(plate.points))]), plate.triangles)
    return BuiltPad(
        pad=pad,
        alignment=UNALIGNED,
        support=surface,
        surface=Surface(surface.vertices, surface.triangles, curves_of(division.panels, ())),
        thickness_mm=locked_floats(np.zeros(len(plate.points))),
        division=division,
        facts=_facts(pad, surface),
        problems=(),
        closed=ClosedFacts(Undersize(0.0, "a flat panel"), 0.0, 0.0, 0.0),
    )


def _closed_facts(pad: Pad, closed: Closed, surface: Surface, division: Division) -> PadFacts:
    """What was built, in numbers; the wrap lies on both faces, on a board on the upper one, or round a roll."""
    facts = _facts(pad, surface)
    role = PanelRole.BAND if closed.form == "roll" else PanelRole.FACE
    areas = triangle_areas(surface.vertices, surface.triangles)
    wrapped_panels = [panel for panel in division.panels if panel.role is role]
    if closed.board:
        wrapped_panels = wrapped_panels[:1]
    wrapped = float(sum(areas[panel.triangles].sum() for panel in wrapped_panels))
    return replace(facts, layers=tuple((material, where, thick, wrapped) for material, where, thick, _ in facts.layers))


def _four_edges(rim: RimCurve) -> tuple[BandPart, ...]:
    """The rim from corner to corner: left, front, right, rear."""
    places = rim.corners
    return tuple(BandPart("", places[k], places[(k + 1) % 4] + (k == 3) * rim.length) for k in range(4))


def _board_facts(pad: Pad, board: Board, surface: Surface) -> PadFacts:
    """What was built, in numbers; foam is left out at openings."""
    facts = _facts(pad, surface)
    open_mm2 = sum(abs(area(followed(one.corners, one.radii).tolist())) for one in board.openings)
    foam = facts.area_mm2 - (1 if board.pair is None else 2) * open_mm2
    layers = tuple((material, where, thick, foam) for material, where, thick, _ in facts.layers)
    return replace(facts, layers=layers, thickness_mm=(wrap_mm(pad), wrap_mm(pad)))


def _board(pad: Pad, board: Board, edge_mm: float, make: MakeProblem) -> BuiltPad:
    """A board that is covered flat, as one sees it; its mirror image lies beside it."""
    try:
        # Blunt corners of a board are corners, not points of a bow: they are as good as sharp.
        radii = tuple(max(radius, AS_SHARP_MM) for radius in pad.outline.radii)
        rim = rim_curve(smaller_outline(replace(pad.outline, radii=radii), 0.0, 0.0)[0])
    except CornersTooRoundError as fault:
        raise ProblemError([make("G101", ("outline",), f"{fault}; make the corners less round")]) from fault
    plate, spans = _plate(pad, rim, _four_edges(rim), edge_mm, make)
    points, division = board_panels(pad, plate, spans)
    thick = locked_floats(np.full(len(points), wrap_mm(pad)))
    triangles = np.concatenate([panel.vertices[panel.surface.triangles] for panel in division.panels])
    surface = Surface(points, triangles, curves_of(division.panels, ()))
    return BuiltPad(
        pad=pad,
        alignment=UNALIGNED,
        support=Surface(points - [0.0, 0.0, wrap_mm(pad)], triangles),
        surface=surface,
        thickness_mm=thick,
        division=division,
        facts=_board_facts(pad, board, surface),
        problems=(),
    )


def _rim(
    pad: Pad, closed: Closed, materials: Mapping[str, Material], make: MakeProblem
) -> tuple[RimCurve, list[Problem]]:
    """The rim of the plates, and what is told of its corners. Raises ProblemError."""
    smaller = 0.5 * closed.smaller(materials[closed.core]).mm
    if closed.form == "roll":
        smaller -= wrap_mm(pad)
    least = closed.least_corner
    taken_in = closed.corners_in if closed.form == "knife_edge" else 0.0
    try:
        outline, small = smaller_outline(pad.outline, smaller, least, taken_in=taken_in)
    except CornersTooRoundError as fault:
        raise ProblemError([make("G101", ("outline",), f"{fault}; make the corners less round")]) from fault
    if np.isinf(small):
        return rim_curve(outline), []
    text = f"a plate's corner of {small:g} mm radius cannot be turned out; it is made {least:g} mm round"
    return rim_curve(outline), [replace(make("G174", ("outline", "corner_radius"), text), warning=True)]


def _parts(pad: Pad, closed: Closed, rim: RimCurve, make: MakeProblem) -> tuple[BandPart, ...]:
    try:
        return band_parts(closed, rim)
    except ZipTooLongError as fault:
        text = f"a zip {closed.past_corner:g} mm past {zip_corners(pad, closed)} does not end before the next one; the "
        text += f"side has room for {max(fault.room_mm, 0.0):.0f} mm, write that or less"
        raise ProblemError([make("G173", ("closed", "past_corner"), text)]) from fault
    except OpeningTooShortError as fault:
        text = f"a zip {closed.zip_short:g} mm short of {zip_corners(pad, closed)} opens less than "
        text += f"{LEAST_OPENING_MM:g} mm, too little for the core; "
        wider = f"the {zip_side_words(pad, closed)} has to be longer"
        text += f"write {fault.room_mm:.0f} mm or less" if fault.room_mm > 0.0 else wider
        raise ProblemError([make("G226", ("closed", "zip_short"), text)]) from fault


def _plate(
    pad: Pad, rim: RimCurve, parts: tuple[BandPart, ...], edge_mm: float, make: MakeProblem
) -> tuple[PlateMesh, list[IntArray]]:
    """The triangles of the plates, and for every part of the band the columns at which its seams begin and end."""
    stops = [
        rim.front,
        *(float(np.mod(t, rim.length)) for part in parts for t in (part.begin, part.end, *part.seams_at)),
    ]
    even = pad.symmetric and (pad.closed is None or pad.closed.zip_even)
    steps = stations(rim, stops, edge_mm, symmetric=even)
    try:
        plate = plate_mesh(steps, int(steps.stops[0]), edge_mm, symmetric=even)
    except LinesTooCloseError as fault:
        text = f"no triangles fit into the plate at {place_words(*fault.at)}; make the mesh finer"
        raise ProblemError([make("G102", ("outline",), text)]) from fault
    column, spans, count = plate.stops[1:], [], len(plate.rim)
    for part in parts:
        begin, end, *between = (int(c) for c in column[: 2 + len(part.seams_at)])
        column = column[2 + len(part.seams_at) :]
        spans.append(np.array([begin, *between, end if end > begin else end + count], dtype=np.int64))
    return plate, spans


def _facts(pad: Pad, surface: Surface) -> PadFacts:
    """What was built, in numbers; layers cover all of it."""
    areas = triangle_areas(surface.vertices, surface.triangles)
    return PadFacts(
        profiles=(),
        left_right=(),
        area_mm2=float(areas.sum()),
        thickness_mm=(0.0, wrap_mm(pad)),
        layers=tuple((layer.material, layer.where, layer.thickness, float(areas.sum())) for layer in pad.layers),
        triangles=len(surface.triangles),
        smallest_angle_deg=float(np.rad2deg(smallest_angles(surface.vertices, surface.triangles).min())),
    )
