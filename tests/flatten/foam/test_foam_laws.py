"""Cores, trials of thinner layers, gauges and rolled edges: closed forms, bounds at their places, words and figures."""

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from flatten.foam.core import core_plan
from flatten.foam.cut import layer_shapes
from flatten.foam.gauge import HOLLOW_CARD_MM, LEG_MM, MARK_MM, rounding_gauges
from flatten.foam.layer_cut import LayerCut
from flatten.foam.plan import PadPlan, Stock, Total, plan_of, stock_of
from flatten.foam.rolled import MOST_LAYERS, Rolled, rolled_notes, rolled_over
from flatten.foam.rounding import Rounding, alike, grouped, side_words, texts_of
from flatten.foam.stock_sheets import sheets_for_boxes
from flatten.foam.too_much import (
    ABOUT,
    HARD_LINE_DEG,
    OVER_SPRINGS_MM,
    RADIUS_KEPT,
    Figures,
    SettledHeight,
    Thinner,
    _candidates,
    _holds,
    face_padding_mm,
    thinner_layers,
    thinner_mm,
)
from flatten.pieces.piece import EdgeKind, LineKind, PieceKind
from meshes.base.problems import Problem
from meshes.closed.build import build as build_closed
from meshes.records.materials import BUILT_IN, CRUSH_LIMIT
from meshes.records.pad import Layer
from meshes.seat.build import build
from meshes.settle.section import STRAIGHT_RADIUS_MM
from tests.flatten.foam.test_padcut import ALLOWANCE, WIDE, board, face, make_problem
from tests.pads import sheet_of

BOX = """
name = "box"
[[pad]]
name = "c"
kind = "cushion"
[pad.outline]
front_width = 400
rear_width = 400
depth = 300
corner_radius = 30
[pad.closed]
{closed}
{layers}
"""
LAYER = '[[pad.layer]]\nmaterial = "{}"\nthickness = {}\nwhere = "face"\n'


def core_of(closed, *layers, materials=BUILT_IN, outline=None):
    text = BOX.format(closed=closed, layers="".join(LAYER.format(*one) for one in layers))
    if outline is not None:
        text = text[: text.index("front_width")] + outline + text[text.index("[pad.closed]") - 1 :]
    pad = build_closed(sheet_of(text).pads[0], edge_mm=60.0)
    return core_plan(pad, pad.pad.closed, materials)


PLATE = 400.0 * 300.0 - (4.0 - math.pi) * 30.0**2


def test_the_core_of_a_box_is_as_large_as_the_sheet_says_whatever_the_cover_loses():
    for under in (0, 20):
        plan = core_of(f'thickness = 60\nundersize = {under}\ncore = "foam_firm"')
        ((core,),) = [one.shapes for one in plan.cut]
        assert (core.name, core.pad, core.kind) == ("core", "c", PieceKind.PADDING)
        assert core.cut_mm2 == pytest.approx(PLATE, rel=1e-3)
        assert core.box() == pytest.approx((0.0, 0.0, 400.0, 300.0), abs=0.2)
        (edge,) = core.edges
        assert (edge.kind, edge.allowance_mm) == (EdgeKind.BARE, 0.0)
        assert shapely.Polygon(core.cut).contains(shapely.LineString(core.grain))
        # The arrow points to the front, a fifth of the height to either side of the middle.
        assert core.grain == pytest.approx(np.array([[200.0, 210.0], [200.0, 90.0]]), abs=0.2)


def test_a_core_is_glued_up_of_sheets_and_split_down():
    stock = {**BUILT_IN, "foam_firm": replace(BUILT_IN["foam_firm"], stock_mm=(25.0, 50.0))}
    for thick, sheets, notes in (
        (50.0, (50.0,), []),
        (75.0, (50.0, 25.0), ["glued up of 50 mm + 25 mm sheets"]),
        (60.0, (50.0, 25.0), ["glued up of 50 mm + 25 mm sheets", "split down from 75 mm"]),
        (40.0, (50.0,), ["split down from 50 mm"]),
    ):
        plan = core_of(f'thickness = {thick}\ncore = "foam_firm"', materials=stock)
        (row,) = plan.stock
        ((core,),) = [one.shapes for one in plan.cut]
        assert (row.layer, row.material, row.thickness_mm, row.sheets_mm) == (0, "foam_firm", thick, sheets)
        assert row.area_mm2 == pytest.approx(len(sheets) * PLATE, rel=1e-3)
        assert list(core.notes) == [f"{thick:g} mm foam firm, sides upright", *notes]
        assert (core.cut_count, core.mirrored_count, core.material) == (len(sheets), 0, "foam_firm")


def test_wraps_of_a_box_lie_on_both_faces():
    plan = core_of("thickness = 60", ("wadding", 12), ("foam_soft", 5))
    assert [one.layers for one in plan.cut] == [(0,), (1,), (2,)]
    for number, row, shape in zip((1, 2), plan.stock[1:], plan.shapes[1:], strict=True):
        each = max(len(BUILT_IN[row.material].laid_up(row.thickness_mm)), 1)
        assert shape.name == f"wrap {number}"
        assert shape.cut_mm2 == pytest.approx(PLATE, rel=1e-3)
        assert shape.cut_count == 2 * each
        assert row.area_mm2 == pytest.approx(2 * each * shape.cut_mm2)
        assert "glue one to each face (mind the caution on adhesive)" in shape.notes
    assert plan.shapes[2].notes[0] == "5 mm foam soft"


def test_wraps_of_a_roll_are_as_long_as_the_middle_of_their_thickness_goes_round():
    round_ = 'shape = "round"\nwidth = 160\n'
    plan = core_of('form = "roll"\nlength = 350', ("wadding", 12), ("wadding", 6), outline=round_)
    core, first, second = plan.shapes
    assert core.cut_mm2 == pytest.approx(math.pi * 80.0**2, rel=2e-3)
    assert core.notes == ("end of a cylinder of foam medium, 350 mm long",)
    assert plan.stock[0].sheets_mm == ()
    for shape, middle in ((first, 6.0), (second, 15.0)):
        x0, y0, x1, y1 = shape.box()
        assert (x1 - x0, y1 - y0) == pytest.approx((2.0 * math.pi * (80.0 + middle), 350.0), rel=1e-4)
        assert shape.notes[1] == "wrap it once round, its ends butted (mind the caution on adhesive)"
        assert shape.notes[2] == "bought or peeled thinner than the usual 15 mm"
        assert shape.cut_count == max(len(BUILT_IN["wadding"].laid_up(12.0)), 1)


def test_a_flat_panel_has_no_core():
    plan = core_of('form = "panel"')
    assert (plan.stock, plan.cut, plan.shapes, plan.notes) == ((), (), (), ())


# Height and thinner layers.


def test_a_height_is_over_by_what_it_stands_above_the_wish():
    assert SettledHeight(40.0, (0.0, 0.0), 35.0).over_mm == 5.0
    assert SettledHeight(30.0, (0.0, 0.0), 35.0).over_mm == 0.0
    assert SettledHeight(30.0, (0.0, 0.0), None).over_mm == 0.0


def figures(radius=40.0, line=2.0, crushed=0.3, lift=1.0, index=0, cut="along 0", side="front"):
    return Figures(index, cut, side, radius, line, crushed, lift)


def pad_wanting(radius=None, proposals=()):
    sections = tuple(
        SimpleNamespace(name=cut, ridge=SimpleNamespace(side=side), proposal=object()) for cut, side in proposals
    )
    return SimpleNamespace(pad=SimpleNamespace(wanted_radius=radius), sections=sections)


def test_what_still_holds_at_its_bounds():
    """Without a wish nine tenths of the radius; a hard line of 5 degrees, or half a degree more than before; foam
    crushed to its limit, or no more than before; a lift by a millimetre more."""
    free = pad_wanting()
    old = figures()
    assert _holds(free, old, old)
    assert _holds(free, old, figures(radius=RADIUS_KEPT * 40.0))
    assert not _holds(free, old, figures(radius=RADIUS_KEPT * 40.0 - 1e-6))
    assert 0.85 <= RADIUS_KEPT <= 0.95
    assert _holds(free, old, figures(line=HARD_LINE_DEG))
    assert not _holds(free, old, figures(line=HARD_LINE_DEG + 1e-6))
    assert 4.0 <= HARD_LINE_DEG <= 6.0
    hard = figures(line=8.0)
    assert _holds(free, hard, figures(line=8.5))
    assert not _holds(free, hard, figures(line=8.5 + 1e-6))
    assert _holds(free, old, figures(crushed=CRUSH_LIMIT))
    assert not _holds(free, old, figures(crushed=CRUSH_LIMIT + 1e-6))
    pressed = figures(crushed=0.7)
    assert _holds(free, pressed, pressed)
    assert not _holds(free, pressed, figures(crushed=0.7 + 1e-6))
    assert _holds(free, old, figures(lift=2.0))
    assert not _holds(free, old, figures(lift=2.0 + 1e-6))


def test_a_wanted_radius_counts_over_the_edge_it_is_wanted_for():
    asked = pad_wanting(30.0, [("along 0", "front")])
    old = figures(radius=40.0)
    assert _holds(asked, old, figures(radius=30.0))
    assert not _holds(asked, old, figures(radius=30.0 - 1e-6))
    # An edge that did not reach it before does not have to now.
    assert _holds(asked, figures(radius=20.0), figures(radius=20.0))
    for other in (pad_wanting(30.0, [("along 0", "rear")]), pad_wanting(30.0, [("across 1", "front")]),
                  pad_wanting(None, [("along 0", "front")])):  # fmt: skip
        assert not _holds(other, old, figures(radius=35.9))
        assert _holds(other, old, figures(radius=36.0))


def test_a_trial_is_told_by_the_cut_that_changes_most():
    before = (figures(radius=40.0, cut="along 0"), figures(radius=30.0, cut="across 9", side="right"))
    after = (
        figures(radius=38.0, cut="along 0"),
        figures(radius=20.0, line=3.25, crushed=0.42, cut="across 9", side="right"),
    )
    said = Thinner((1,), "foam_firm", 40.0, 25.0, before, after, True).text
    assert said.startswith("25 mm foam_firm instead of 40 mm: in the cut across 9 the cover goes over the right edge")
    assert "radius of 20 mm instead of 30 mm" in said
    assert "hard line 3.2 instead of 2.0 degrees" in said
    assert "crushed by 42 instead of 30 %" in said
    straight = (figures(radius=STRAIGHT_RADIUS_MM),)
    said = Thinner((1,), "foam_firm", 40.0, 0.0, straight, straight, True).text
    assert said.startswith("the 40 mm foam_firm left out")
    assert f"over {STRAIGHT_RADIUS_MM:.0f} mm instead of over {STRAIGHT_RADIUS_MM:.0f} mm" in said


STRIP = Layer("foam_soft", 20.0, "right", 90.0, 30.0)
SPRUNG = SimpleNamespace()


def trial_pad(*layers, radius=None, springs=None, symmetric=True):
    return SimpleNamespace(layers=layers, wanted_radius=radius, springs=springs, symmetric=symmetric)


def test_strips_are_tried_for_a_wanted_radius_and_faces_over_springs():
    left = replace(STRIP, where="left")
    deep = face("foam_medium", 40.0)
    assert list(_candidates(trial_pad(deep, STRIP, left, radius=30.0), BUILT_IN)) == [((2, 3), 0.0)]
    assert list(_candidates(trial_pad(deep, STRIP, left, radius=30.0, symmetric=False), BUILT_IN)) == [
        ((2,), 0.0), ((3,), 0.0)
    ]  # fmt: skip
    assert list(_candidates(trial_pad(deep, STRIP, left), BUILT_IN)) == []
    over_springs = list(_candidates(trial_pad(deep, STRIP, springs=SPRUNG), BUILT_IN))
    assert [numbers for numbers, _ in over_springs] == [(1,)]
    # About one layer of the usual is no more than usual.
    usual = ABOUT * OVER_SPRINGS_MM
    for thick, tried in ((usual, 0), (usual + 0.1, 1)):
        assert len(list(_candidates(trial_pad(face("foam_medium", thick), springs=SPRUNG), BUILT_IN))) == tried
    two = (face("foam_medium", 20.0), Layer("foam_soft", 12.0, "all", None, 0.0))
    assert face_padding_mm(trial_pad(*two, STRIP)) == 32.0
    assert len(list(_candidates(trial_pad(*two, springs=SPRUNG), BUILT_IN))) == 2


@pytest.mark.parametrize(
    ("material", "thick", "strip", "less"),
    [
        # Foam is sold in sheets of its usual thickness: of two one is left, of one the next thinner that is sold.
        ("foam_medium", 50.0, False, 25.0),
        ("foam_medium", 25.0, False, 20.0),
        ("foam_medium", 12.0, False, 6.0),
        ("foam_medium", 6.0, False, None),
        ("foam_medium", 25.0, True, 0.0),
        ("foam_medium", 40.0, True, 25.0),
        # Stuffing in one sheet is not bought thinner.
        ("cotton_batting", 20.0, False, None),
    ],
)
def test_the_next_thinner_layer(material, thick, strip, less):
    layer = Layer(material, thick, "front" if strip else "face", 60.0 if strip else None, 0.0)
    assert thinner_mm(layer, BUILT_IN[material], strip=strip) == (None if less is None else pytest.approx(less))


def test_a_pad_without_tension_or_cuts_is_not_tried():
    pad = build(board(face("foam_medium", 40.0)), edge_mm=40.0)
    assert thinner_layers(pad, BUILT_IN) == ()
    assert thinner_layers(replace(pad, rest=SimpleNamespace(), sections=()), BUILT_IN) == ()


def test_too_high_is_told_from_half_a_tenth_of_a_millimetre_on():
    pad = build(board(face("foam_medium", 40.0)), edge_mm=40.0)
    for wanted, told in ((39.96, False), (39.94, True)):
        asked = replace(pad, pad=replace(pad.pad, wanted=replace(pad.pad.wanted, finished_height=wanted)))
        assert bool([n for n in plan_of(asked, BUILT_IN, ALLOWANCE).notes if n.code == "G151"]) == told


# Stock.


def test_stock_of_a_layer_is_as_often_its_area_as_it_has_sheets():
    pad = build(board(face("foam_medium", 60.0), face("wadding", 8.0)), edge_mm=40.0)
    rows = stock_of(pad, BUILT_IN)
    assert [row.layer for row in rows] == [1, 2]
    for row, (_, _, _, area) in zip(rows, pad.facts.layers, strict=True):
        assert row.sheets == max(len(BUILT_IN[row.material].laid_up(row.thickness_mm)), 1)
        assert row.area_mm2 == pytest.approx(row.sheets * area)
    assert Stock(1, "a", 30.0, (12.0, 20.0), 1.0).sheet_mm == 20.0
    assert Stock(1, "a", 30.0, (), 1.0).sheet_mm is None
    assert Stock(1, "a", 30.0, (), 1.0).sheets == 1


def test_boxes_of_a_total_fit_on_sheets_of_one_by_two_metres():
    assert Total("a", None, 2, 1.0, ((1000.0, 2000.0), (500.0, 10.0))).boxes_mm2 == 2_005_000.0
    assert Total("a", None, 1, 1.0, ((1000.0, 2000.0),)).stock_sheets == 1
    assert Total("a", None, 1, 1.0, ((1000.0, 2000.0), (9.0, 9.0))).stock_sheets == 2
    assert Total("a", None, 1, 1.0, ((1001.0, 1999.0),)).stock_sheets == 2


def test_a_larger_box_takes_whole_sheets_joined_either_way():
    sheet = (1000.0, 2000.0)
    assert sheets_for_boxes([(2100.0, 1900.0)], sheet) == 3
    assert sheets_for_boxes([(2000.0, 2000.0)], sheet) == 2
    assert sheets_for_boxes([(4000.0, 1000.0)], sheet) == 2
    # What is left beside joined sheets is not used, and a rest under a millimetre is none.
    assert sheets_for_boxes([(1200.0, 1500.0), (100.0, 100.0)], sheet) == 3
    assert sheets_for_boxes([(999.5, 2000.0), (0.4, 2000.0)], sheet) == 2


def test_a_plan_draws_shapes_and_gauges():
    cut = (SimpleNamespace(layers=(1, 2), shapes=("a", "b")), SimpleNamespace(layers=(3,), shapes=("c",)))
    plan = PadPlan("p", (), cut, SettledHeight(0.0, (0.0, 0.0), None), (), (), gauges=("g",))
    assert plan.drawn == ("a", "b", "c", "g")
    assert plan.shapes_of(2) == ("a", "b")
    assert plan.shapes_of(3) == ("c",)


# Gauges of a circle known in closed form.


def quarter(side="front", layers=(1,), radius=50.0, before=None, turn=90.0):
    """Foam rounded over an edge: along the face to the right, down the side."""
    angle = np.radians(np.linspace(90.0, 90.0 - turn, 65))
    line = radius * np.column_stack([np.cos(angle), np.sin(angle)])
    last = np.radians(90.0 - turn)
    return Rounding(side, layers, line, np.array([[1.0, 0.0], [np.sin(last), -np.cos(last)]]), before)


@pytest.mark.parametrize("turn", [90.0, 60.0])
def test_figures_of_a_round_edge(turn):
    one, half = quarter(turn=turn), np.radians(turn) / 2.0
    assert one.radius_mm == pytest.approx(50.0)
    assert one.turn_deg == pytest.approx(turn)
    assert one.corner == pytest.approx([50.0 * np.tan(half), 50.0])
    assert one.take_off_mm2 == pytest.approx(50.0**2 * (np.tan(half) - half), rel=1e-3)
    assert one.bevel_mm == pytest.approx(50.0 * np.tan(half / 2.0))
    assert one.even
    # A wave of three half turns along it, which no circle follows.
    wave = np.cos(np.linspace(0.0, 3.0 * np.pi, 65))[:, None] / 50.0
    assert replace(one, line=one.line * (1.0 + 0.4 * wave)).even
    assert not replace(one, line=one.line * (1.0 + 0.8 * wave)).even


def test_a_gauge_is_a_card_of_even_width_along_its_legs():
    one = quarter()
    (gauge,) = rounding_gauges(board(), [one], unit="mm")
    hollow, *backs = [edge.points for edge in gauge.edges]
    assert len(backs) == 4
    # Legs along face and side, the round between them.
    assert np.linalg.norm(hollow[1] - hollow[0]) == pytest.approx(LEG_MM)
    assert np.linalg.norm(hollow[-1] - hollow[-2]) == pytest.approx(LEG_MM)
    # Beyond the hollow: the card's width off both legs, and a square corner.
    assert [np.linalg.norm(b[1] - b[0]) for b in backs] == pytest.approx(
        [HOLLOW_CARD_MM, LEG_MM + 50.0 + HOLLOW_CARD_MM, LEG_MM + 50.0 + HOLLOW_CARD_MM, HOLLOW_CARD_MM]
    )
    body = shapely.Polygon(gauge.cut)
    assert body.is_valid
    assert body.area == pytest.approx((LEG_MM + 50.0 + HOLLOW_CARD_MM) ** 2 - (LEG_MM + 50.0) ** 2
                                      + 50.0**2 * (1.0 - math.pi / 4.0), rel=1e-3)  # fmt: skip
    assert gauge.cut.min(axis=0) == pytest.approx([0.0, 0.0])
    # Marks lead from the hollow into the card, square to it.
    begins, middle, ends = gauge.inner
    assert [line.name for line in gauge.inner] == ["rounding begins", "middle", "rounding begins"]
    for line in (begins, middle, ends):
        assert np.linalg.norm(line.points[1] - line.points[0]) == pytest.approx(MARK_MM)
        assert body.buffer(1e-6).contains(shapely.LineString(line.points))
        assert line.kind is LineKind.ROUNDING
    ways = [line.points[1] - line.points[0] for line in (begins, middle, ends)]
    assert ways[0] == pytest.approx([0.0, MARK_MM])
    assert ways[1] == pytest.approx(np.sqrt(0.5) * MARK_MM * np.ones(2))
    assert ways[2] == pytest.approx([MARK_MM, 0.0], abs=1e-9)
    assert 0.5 * MARK_MM < LEG_MM
    assert MARK_MM < HOLLOW_CARD_MM
    # Its arrow is two centimetres long, about its middle, upright.
    assert gauge.grain[1] - gauge.grain[0] == pytest.approx([0.0, 20.0])
    assert gauge.grain.mean(axis=0) == pytest.approx(gauge.cut.mean(axis=0))
    assert "first a flat bevel from 21 mm outside the lines" in gauge.notes
    assert [edge.note for edge in gauge.edges[1:]] == ["", "; ".join(gauge.notes[:-1]), gauge.notes[-1], ""]


def test_one_gauge_serves_what_is_alike_and_those_of_one_radius_are_told_apart():
    front, right = quarter("front"), quarter("right")
    assert alike(front, right)
    assert alike(front, quarter(radius=50.2))
    assert not alike(front, quarter(radius=51.5))
    assert alike(quarter(radius=20.0), quarter(radius=20.0, turn=89.6))
    assert not alike(quarter(radius=5.0), quarter(radius=5.0, turn=89.4))
    groups = grouped([front, quarter(turn=60.0), right])
    assert [[one.side for one in group] for group in groups] == [["front", "right"], ["front"]]
    names = [gauge.name for gauge in rounding_gauges(board(), [front, quarter("rear", turn=60.0), right], unit="mm")]
    assert names == ["rounding gauge R 50 mm, front and right", "rounding gauge R 50 mm, rear"]
    assert [g.name for g in rounding_gauges(board(), [front, right], unit="mm")] == ["rounding gauge R 50 mm"]


def test_words_of_roundings():
    pad = board()
    sides = [quarter(side) for side in ("left", "front", "right")]
    assert side_words(pad, sides) == "front, right and left"
    assert side_words(pad, sides[:1]) == "left"
    assert side_words(pad, sides[:2]) == "front and left"
    assert quarter(layers=(1, 2)).layer_words == "layers 1 and 2"
    assert quarter(layers=(1, 2), before=3).when == "once layers 1 and 2 are glued, before layer 3"
    assert quarter().when == "once layer 1 is glued"
    told = texts_of(pad, [*sides, quarter("rear", layers=(1, 2))], "mm")
    assert told == (
        "round the outer edge at the front, right and left to R 50 mm once layer 1 is glued",
        "round the outer edge at the rear to R 50 mm once layers 1 and 2 are glued",
    )
    gauge = rounding_gauges(pad, [quarter("front"), quarter("rear", layers=(1, 2))], unit="mm")[0]
    assert gauge.notes[:2] == ("front, once layer 1 is glued", "rear, once layers 1 and 2 are glued")


def test_which_roundings_a_layer_is_the_last_of():
    roundings = (quarter(layers=(1,)), quarter(layers=(1, 2)), quarter(layers=(2, 3)))
    cut = LayerCut((1,), True, (25.0, 12.0), 12.7, "square", 1, roundings, "mm")
    assert cut.last == roundings[1:2]
    assert (cut.sheets, replace(cut, sheets_mm=()).sheets) == (2, 1)
    assert (cut.words, replace(cut, numbers=(0, 3)).words) == ("layer 2", "layers 1 and 4")


# Rolled edges.


def lie(thick, *, beneath=10.0, reach=100.0, turn=150.0, sides=("rear",)):
    other = SimpleNamespace(beneath_mm=200.0, reach_mm=0.0, turn_deg=90.0)
    own = SimpleNamespace(beneath_mm=beneath, reach_mm=reach, turn_deg=turn)
    edges = {side: own if side in sides else other for side in ("front", "right", "rear", "left")}
    return SimpleNamespace(layer=Layer("foam_firm", thick, "all", None, 0.0), edges=edges, half=False)


PART = SimpleNamespace(band=-1, parted=frozenset())


def test_foam_is_rolled_from_twice_the_radius_beneath_it_on_as_far_as_it_goes_on():
    firm = BUILT_IN["foam_firm"]
    (one,) = rolled_over(lie(20.5), [PART], firm)
    assert (one.side, one.thickness_mm, one.beneath_mm, one.turn_deg) == ("rear", 20.5, 10.0, 150.0)
    assert rolled_over(lie(20.0), [PART], firm) == ()
    assert rolled_over(lie(20.5, reach=20.5), [PART], firm) == ()
    assert rolled_over(lie(20.5), [PART], BUILT_IN["wadding"]) == ()
    assert rolled_over(lie(20.5), [], firm) == ()
    mitred = [SimpleNamespace(band=-1, parted=frozenset({2})), SimpleNamespace(band=2, parted=frozenset({2}))]
    assert rolled_over(lie(20.5), mitred, firm) == ()


def test_an_outer_face_is_longer_by_thickness_times_turn():
    one = Rolled("rear", 30.0, 10.0, 180.0)
    assert one.longer_mm == pytest.approx(30.0 * math.pi)
    assert one.rounder_mm == 15.0
    assert one.layers_mm == (15.0, 15.0)
    pad = board()
    assert "lay it up of 2 layers of 15 mm" in one.words(pad)
    assert f"each is {15.0 * math.pi:.0f} mm longer there" in one.words(pad)
    assert "round the edge beneath it to 15 mm" in one.words(pad)
    assert one.words(pad).startswith(
        "30 mm foam is rolled over the rear edge, 10 mm round beneath it and turning by 180"
    )
    assert f"{30.0 * math.pi:.0f} mm longer than its inner one" in one.words(pad)
    assert one.short_words(pad) == "does not bend over the rear edge in one: cut 2 layers of 15 mm instead"
    # Three layers at the most; then the edge has to be rounder.
    assert len(Rolled("rear", 60.0, 10.0, 180.0).layers_mm) == MOST_LAYERS == 3
    tight = Rolled("rear", 61.0, 10.0, 180.0)
    assert tight.layers_mm == Rolled("rear", 30.0, 0.0, 180.0).layers_mm == ()
    assert tight.advice == "round the edge beneath it to 31 mm"
    assert tight.short_words(pad) == "does not bend over the rear edge: round that to 31 mm beneath it"


def test_named_sheets_are_taken_where_they_fit():
    assert Rolled("rear", 60.0, 20.0, 180.0).layers_mm == (30.0, 30.0)
    assert Rolled("rear", 60.0, 20.0, 180.0, (20.0,)).layers_mm == (20.0,) * 3
    assert Rolled("rear", 60.0, 20.0, 180.0, (20.4,)).layers_mm == (20.0,) * 3
    assert Rolled("rear", 60.0, 20.0, 180.0, (20.6,)).layers_mm == (30.0, 30.0)
    assert Rolled("rear", 60.0, 20.0, 180.0, (30.0, 20.0)).layers_mm == (30.0, 30.0)


def test_mirrored_edges_are_told_once_and_unlike_ones_each():
    def told(*rows):
        notes = rolled_notes(board(), [((2, 1), rows)], lambda code, keys, text: Problem(code, str(keys), text))
        assert all(note.warning and note.code == "G155" and note.where == "('layer', 1)" for note in notes)
        assert all(note.text.startswith("layer 2: ") for note in notes)
        return [note.text.partition("over the ")[2].partition(" edge")[0] for note in notes]

    right, left = Rolled("right", 30.0, 10.0, 150.0), Rolled("left", 30.0, 10.0, 150.0)
    assert told(right, left) == ["right"]
    assert told(left, right) == ["left"]
    assert told(right, replace(left, beneath_mm=12.0)) == ["right", "left"]
    assert told(Rolled("front", 30.0, 10.0, 150.0), Rolled("rear", 30.0, 10.0, 150.0)) == ["front", "rear"]


# Shapes.


def shapes_of(pad, index=0):
    return layer_shapes(pad, index, BUILT_IN, ALLOWANCE, make_problem=make_problem).shapes


def test_a_strip_ends_where_it_is_told_and_is_as_long_as_its_side():
    """A strip within 90 mm of the front edge that is cut square: 400 wide, 90 deep, and the drop below the edge."""
    (shape,) = shapes_of(board(Layer("foam_medium", 20.0, "front", 90.0, 0.0), edge=0.0, drop=60.0))
    assert shape.name == "layer 1 front strip"
    bare = np.ptp(shape.sew, axis=0)
    assert bare[0] == pytest.approx(WIDE, abs=0.2)
    inner = next(edge for edge in shape.edges if edge.name == "over the face")
    assert (inner.note, inner.allowance_mm) == ("cut square", 12.7)
    assert inner.kind is EdgeKind.OVERSIZE


def test_names_of_shapes_say_where_they_lie():
    left, right = (Layer("foam_soft", 20.0, side, None, 30.0) for side in ("left", "right"))
    assert [s.name for s in shapes_of(board(right, left, radius=40.0, edge=20.0))] == ["layers 1 and 2 side"]
    assert [s.name for s in shapes_of(board(replace(right, within=90.0), replace(left, within=90.0), radius=20.0))] == [
        "layers 1 and 2 side strip"
    ]
    assert [s.name for s in shapes_of(board(Layer("wadding", 8.0, "front", None, 0.0), radius=20.0, edge=20.0))] == [
        "layer 1 front side"
    ]
    assert [s.name for s in shapes_of(board(face("foam_medium")))] == ["layer 1 face"]
    bands = {s.name for s in shapes_of(board(Layer("foam_medium", 25.0, "all", None, 0.0), radius=40.0))}
    assert bands == {"layer 1 face part", "layer 1 front band", "layer 1 side band", "layer 1 rear band"}
