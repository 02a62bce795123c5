"""Foam rounded off with the knife: plan, gauge and section hold one body, by an edge's own geometry."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import shapely
from scipy.optimize import least_squares

from flatten.draw.marks import draw_piece
from flatten.draw.pen import PenLayer, RecordingPen
from flatten.foam.gauge import LEG_MM
from flatten.foam.plan import plan_of
from flatten.foam.rounding import roundings_of
from flatten.pieces.piece import EdgeKind, LineKind, PieceKind
from meshes.base.problems import Problem
from meshes.numerics.contours import contours
from meshes.records.materials import BUILT_IN
from meshes.records.pad import SIDES, Layer, Outline, Pad, Profile, SeatPose, Side
from meshes.seat.build import build
from meshes.settle.section import section
from meshes.settle.section_line import Cut
from meshes.sheet.read import read_sheet
from meshes.sheet.whole import Allowance
from meshes.support.blocks import face_of

EXAMPLES = Path(__file__).parents[3] / "examples"
ALLOWANCE = Allowance(12.0, 12.0, 50.0, 25.0, "square", 120.0)
WIDE, DEEP = 440.0, 340.0


def make_problem(code, keys, text):
    return Problem(code, "pad", text)


def over(material, thick, where="all", **more):
    return Layer(material, thick, where, None, 0.0, **more)


def board(*layers, edges=(10.0, 10.0, 10.0, 10.0), turns=(90.0,) * 4, drop=130.0, symmetric=True):
    """A flat board whose sides differ as asked: front, right, rear, left."""
    x, y = WIDE / 2, DEEP
    outline = Outline(((-x, 0.0), (x, 0.0), (x, y), (-x, y)), (60.0,) * 4, SIDES, symmetric)
    sides = {
        s: Side(drop=drop, edge_radius=edge, turn_deg=turn) for s, edge, turn in zip(SIDES, edges, turns, strict=True)
    }
    return Pad("board", "cushion", SeatPose(), outline, (), sides, layers, None, (), symmetric=symmetric)


FIRM = over("foam_firm", 50.0)
# By name: the pad; by side, the layers that are rounded together, and r + t of them.
PADS = {
    "one": (board(FIRM), dict.fromkeys(SIDES, ((1,), 60.0))),
    "stacked": (
        board(over("foam_firm", 20.0), over("foam_medium", 60.0), over("wadding", 8.0), edges=(2.0,) * 4),
        dict.fromkeys(SIDES, ((1, 2), 82.0)),
    ),
    "sides differ": (
        board(FIRM, edges=(4.0, 12.0, 20.0, 12.0), turns=(90.0, 80.0, 60.0, 80.0)),
        {"front": ((1,), 54.0), "right": ((1,), 62.0), "rear": ((1,), 70.0), "left": ((1,), 62.0)},
    ),
    "over wadding": (board(over("wadding", 8.0), FIRM), dict.fromkeys(SIDES, ((2,), 68.0))),
    "crowned": (
        replace(board(FIRM), profiles=(Profile("along", 0.0, ((0.0, 0.0), (170.0, 20.0), (340.0, 0.0))),)),
        {},
    ),
    "left and right unlike": (
        board(FIRM, edges=(10.0, 6.0, 10.0, 40.0), symmetric=False),
        {"front": ((1,), 60.0), "right": ((1,), 56.0), "rear": ((1,), 60.0)},
    ),
}


@cache
def planned(name):
    return plan_of(build(PADS[name][0], edge_mm=20.0), BUILT_IN, ALLOWANCE)


@pytest.mark.parametrize("name", [name for name in PADS if name != "crowned"])
def test_every_mitred_side_is_rounded_to_the_edge_and_what_lies_on_it(name):
    pad, wanted = PADS[name]
    found = {one.side: (one.layers, one.radius_mm) for one in planned(name).roundings}
    assert found.keys() == wanted.keys()
    for side, (layers, radius) in wanted.items():
        assert found[side] == (layers, pytest.approx(radius, abs=1e-9))
    for one in planned(name).roundings:
        assert one.turn_deg == pytest.approx(pad.sides[one.side].turn_deg)
        assert one.even


def test_foam_that_bends_round_its_edge_is_not_rounded_off():
    # 20 mm is no more than twice the 12 mm of the edge.
    plan = plan_of(build(board(over("foam_firm", 20.0), edges=(12.0,) * 4), edge_mm=20.0), BUILT_IN, ALLOWANCE)
    assert not plan.roundings
    assert not plan.gauges
    assert not [line for shape in plan.shapes for line in shape.inner if line.kind is LineKind.ROUNDING]
    assert not [edge for shape in plan.shapes for edge in shape.edges if "round" in edge.note]


def circle_through(points):
    """Centre and radius of the circle that fits points (k, 2) best."""
    start = points.mean(axis=0)
    away = least_squares(
        lambda p: np.hypot(*(points - p[:2]).T) - p[2], [*start, float(np.ptp(points, axis=0).max())]
    ).x
    return away[:2], float(away[2])


def turning(path, turn_deg):
    """The points (k, 2) of a line from the face to the tack line over its turn, counted from its straight side, as the
    face may be crowned."""
    heading = np.degrees(np.unwrap(np.arctan2(*np.diff(path, axis=0).T[::-1])))
    from_side = np.abs(heading - heading[-1])
    bends = np.flatnonzero((from_side > 0.1) & (from_side < turn_deg - 0.1))
    return path[bends[0] : bends[-1] + 2]


def outward(path, side):
    """The half of a cut that ends at a side, from the middle of the face to the tack line."""
    middle = len(path) // 2
    return path[middle:] if side in ("rear", "right") else path[middle::-1]


@pytest.mark.parametrize("name", list(PADS))
def test_the_plan_rounds_to_what_the_section_draws(name):
    pad, _ = PADS[name]
    plan = planned(name)
    for one in plan.roundings:
        beneath = replace(pad, layers=pad.layers[: one.layers[-1]])
        place = ("along", 0.0) if one.side in ("front", "rear") else ("across", DEEP / 2)
        cut = section(beneath, Cut(*place), tension_n_per_mm=0.0)
        _, radius = circle_through(turning(outward(cut.free, one.side), one.turn_deg))
        assert radius == pytest.approx(one.radius_mm, abs=0.5)


def across_surface(surface, side, at):
    """The slice (k, 2) of a surface square to a side, from the low end to the high one."""
    off, axes = (0, [1, 2]) if side in ("front", "rear") else (1, [0, 2])
    lines = contours(surface.vertices[:, axes], surface.triangles, surface.vertices[:, off], at)
    path = max(lines, key=len)
    return path if path[0, 0] < path[-1, 0] else path[::-1]


@pytest.mark.parametrize("foam", ["foam_firm", "foam_soft"])
def test_gauge_section_and_surface_have_one_radius(foam):
    """Foam more than twice as thick as its edges are round, which differ; one millimetre is what a knife keeps to."""
    pad = board(over(foam, 50.0), edges=(4.0, 15.0, 10.0, 15.0), turns=(90.0, 75.0, 90.0, 75.0))
    made = build(pad, edge_mm=6.0)
    roundings = roundings_of(pad, {0: set(SIDES)}, make_problem=make_problem)
    assert {one.side for one in roundings} == set(SIDES)
    for one in roundings:
        # Beside the lines of the mesh, which a slice must not run along.
        place = ("along", 40.7) if one.side in ("front", "rear") else ("across", 0.6 * DEEP + 0.7)
        drawn = turning(outward(section(pad, Cut(*place), tension_n_per_mm=0.0).free, one.side), one.turn_deg)
        path = across_surface(made.surface, one.side, place[1])
        near = np.linalg.norm(path[:, None] - drawn, axis=2).min(axis=1) < 3.0
        for line in (drawn, path[near]):
            assert circle_through(line)[1] == pytest.approx(one.radius_mm, abs=1.0)


@pytest.mark.parametrize("name", list(PADS))
def test_a_gauge_has_the_radius_and_the_turn_of_every_side(name):
    plan = planned(name)
    for one in plan.roundings:
        (gauge,) = [g for g in plan.gauges if f"R {one.radius_mm:.0f} mm" in g.name and _serves(plan, g, one)]
        assert gauge.kind is PieceKind.GAUGE
        hollow = gauge.edges[0].points
        arc = hollow[1:-1]
        _, radius = circle_through(arc)
        assert radius == pytest.approx(one.radius_mm, abs=0.05)
        ways = np.diff(hollow, axis=0)[[0, -1]]
        turn = np.degrees(np.arccos(np.clip(ways[0] @ ways[1] / np.prod(np.linalg.norm(ways, axis=1)), -1.0, 1.0)))
        assert turn == pytest.approx(one.turn_deg, abs=1e-6)
        if name != "crowned":
            assert turn == pytest.approx(PADS[name][0].sides[one.side].turn_deg, abs=1e-6)
        assert np.linalg.norm(ways, axis=1) == pytest.approx([LEG_MM, LEG_MM])
        # The foam, rounded, lies in the hollow without either cutting into the other.
        assert shapely.Polygon(gauge.cut).is_valid
        ends = [line.points[0] for line in gauge.inner]
        assert ends[0] == pytest.approx(arc[0])
        assert ends[-1] == pytest.approx(arc[-1])
        assert shapely.LineString(hollow).distance(shapely.Point(ends[1])) < 0.05


def _serves(plan, gauge, one):
    return f"{one.side}" in " ".join(gauge.notes)


def test_foam_turns_less_where_the_face_slopes_down_to_its_edge():
    pad, _ = PADS["crowned"]
    slope = np.degrees(np.arccos(face_of(pad).normal(np.array([[0.0, pad.sides["front"].edge_radius]]))[0, 2]))
    assert slope > 10.0
    turns = {one.side: one.turn_deg for one in planned("crowned").roundings}
    assert turns == {
        side: pytest.approx(90.0 - (slope if side in ("front", "rear") else 0.0), abs=0.5) for side in SIDES
    }


@pytest.mark.parametrize("turn", [60.0, 90.0, 100.0])
def test_what_comes_away_lies_between_corner_and_round(turn):
    radius, half = 60.0, np.radians(turn) / 2
    (one,) = [
        one
        for one in roundings_of(board(FIRM, turns=(turn,) * 4), {0: {"front"}}, make_problem=make_problem)
        if one.side == "front"
    ]
    # The corner as two right-angled triangles beside the centre of the edge, less the sector of the turn.
    assert one.take_off_mm2 == pytest.approx(2 * (radius * radius * np.tan(half) / 2) - half * radius**2, rel=1e-3)
    if turn == 90.0:
        assert one.take_off_mm2 == pytest.approx((1 - np.pi / 4) * radius**2, rel=1e-3)
    # A flat bevel so far outside both lines touches the round in its middle, and nowhere cuts it.
    bevel = shapely.LineString([one.line[0] + one.bevel_mm * one.ways[0], one.line[-1] - one.bevel_mm * one.ways[1]])
    foam = shapely.Polygon(one.line)
    assert bevel.distance(foam) < 0.01
    assert bevel.buffer(0.01).intersection(foam).area < 1.0


@pytest.mark.parametrize(("name", "layer", "square"), [("one", 1, 0.0), ("stacked", 1, 0.0), ("stacked", 2, 20.0)])
def test_a_mitred_face_reaches_the_square_corner_of_what_it_lies_on(name, layer, square):
    face = next(shape for shape in planned(name).shapes_of(layer) if "face part" in shape.name)
    x0, y0, x1, y1 = face.box()
    assert (x1 - x0, y1 - y0) == pytest.approx((WIDE + 2 * square, DEEP + 2 * square), abs=1.0)
    assert {edge.kind for edge in face.edges} == {EdgeKind.MITRED}


@pytest.mark.parametrize("name", ["one", "sides differ"])
def test_lines_stand_on_both_parts_where_the_edge_begins_to_turn(name):
    pad, wanted = PADS[name]
    shapes = planned(name).shapes
    face = next(shape for shape in shapes if "face part" in shape.name)
    lines = [line for line in face.inner if line.kind is LineKind.ROUNDING]
    assert len(lines) == len(wanted)
    outline = shapely.Polygon(face.cut)
    for line in lines:
        radius = float(line.name.split()[3])
        (side,) = {pad.sides[s].edge_radius: s for s, (_, r) in wanted.items() if r == radius}.values()
        own = pad.sides[side]
        # Square over the edge, from where face and side would meet: r tan(turn / 2).
        away = shapely.distance(outline.exterior, shapely.points(line.points))
        assert np.median(away) == pytest.approx(own.lead, abs=0.5)
    for shape in shapes:
        if "band" in shape.name:
            assert [line for line in shape.inner if line.kind is LineKind.ROUNDING]


def test_layers_glued_on_each_other_are_rounded_once_and_before_the_next_is_laid():
    plan = planned("stacked")
    for shape in plan.shapes_of(1):
        assert "leave the edge square: layers 1 and 2 are rounded together" in shape.notes
        assert not shape.inner
    for shape in plan.shapes_of(2):
        assert any("to R 82 mm once layers 1 and 2 are glued, before layer 3" in note for note in shape.notes)
    assert not any("round" in note for shape in plan.shapes_of(3) for note in shape.notes)
    (gauge,) = plan.gauges
    assert any("once layers 1 and 2 are glued, before layer 3" in note for note in gauge.notes)


def test_a_layer_that_has_run_out_between_two_does_not_part_them():
    # A strip at the rear lies between two layers that are mitred: at the front they lie on each other.
    strip = Layer("foam_medium", 20.0, "rear", 60.0, 40.0)
    pad = board(over("foam_firm", 20.0), strip, over("foam_firm", 60.0), edges=(2.0,) * 4)
    found = {
        one.side: one.layers
        for one in roundings_of(pad, {0: SIDES, 2: SIDES}, make_problem=make_problem)
        if one.side == "front"
    }
    assert found == {"front": (1, 3)}
    rear = [one for one in roundings_of(pad, {0: SIDES, 2: SIDES}, make_problem=make_problem) if one.side == "rear"]
    assert [(one.layers, one.before) for one in rear] == [((1,), 2), ((3,), None)]


def test_a_side_without_padding_is_not_rounded_off():
    layer = Layer("foam_firm", 50.0, "front", 80.0, 30.0, below=80.0)
    assert {one.side for one in roundings_of(board(layer), {0: {"front"}}, make_problem=make_problem)} == {"front"}


def test_padding_that_thins_within_the_turn_is_no_circle_and_said_to_be_none():
    # A side layer that runs out over the edge lies under what is rounded: no one radius all round.
    under = Layer("wadding", 12.0, "front", None, 30.0)
    (one,) = [
        one
        for one in roundings_of(board(under, FIRM), {1: {"front"}}, make_problem=make_problem)
        if one.side == "front"
    ]
    assert not one.even
    assert "about" in one.radius_words("mm")


def test_inches_stand_beside_mm_where_the_sheet_is_in_inches():
    plan = plan_of(build(PADS["one"][0], edge_mm=20.0), BUILT_IN, ALLOWANCE, unit="in")
    for shape in plan.shapes:
        assert any("R 2 3/8 in (60 mm)" in note for note in shape.notes)
    assert plan.gauges[0].name == "rounding gauge R 2 3/8 in (60 mm)"


def test_rounding_lines_have_a_layer_of_their_own():
    face = next(shape for shape in planned("one").shapes if "face part" in shape.name)
    pen = RecordingPen()
    draw_piece(face, pen)
    drawn = [points for layer, points, _ in pen.lines if layer is PenLayer.ROUNDING]
    assert len(drawn) == sum(line.kind is LineKind.ROUNDING for line in face.inner) > 0


def test_the_examples_round_off_what_they_mitre():
    sheet = read_sheet(EXAMPLES / "helm_bench" / "bench.toml")
    for pad in sheet.pads:
        plan = plan_of(build(pad, edge_mm=20.0), sheet.materials, sheet.allowance)
        mitred = any(edge.note.startswith("mitre") for shape in plan.shapes for edge in shape.edges)
        assert bool(plan.roundings) == bool(plan.gauges) == mitred
