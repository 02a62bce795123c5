"""Cutting shapes of padding: sizes against the pad's own, areas by Steiner, papers read back, and what is too much."""

import io
import math
from dataclasses import replace
from functools import cache
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import shapely
from pypdf import PdfReader

from flatten.foam.cut import layer_shapes, oversize_mm
from flatten.foam.plan import plan_of, totals
from flatten.foam.too_much import Figures, Thinner, height_of, thinner_layers, thinner_mm
from flatten.paper.dxf import patterns_dxf
from flatten.paper.pdf import patterns_pdf
from flatten.paper.svg import patterns_svg
from flatten.paper.wording import PADDING
from flatten.pieces.piece import EdgeKind, LineKind
from meshes.base.problems import Problem, ProblemError
from meshes.records.materials import BUILT_IN
from meshes.records.pad import Layer, Outline, Pad, SeatPose, Side, Wanted
from meshes.seat.build import build
from meshes.sheet.read import read_sheet
from meshes.sheet.whole import Allowance
from tests.papers import dxf_entities

EXAMPLES = Path(__file__).parents[3] / "examples"
WIDE, DEEP = 400.0, 300.0
ALLOWANCE = Allowance(12.0, 12.0, 50.0, 25.0, "square", 120.0)


def make_problem(code, keys, text):
    return Problem(code, "pad", text)


def board(*layers, radius=0.0, edge=4.0, drop=60.0, **more):
    """A flat board with sides alike."""
    x, y = WIDE / 2, DEEP
    outline = Outline(
        ((-x, 0.0), (x, 0.0), (x, y), (-x, y)), (radius,) * 4, ("front", "right", "rear", "left"), True
    )  # fmt: skip
    sides = dict.fromkeys(("front", "right", "rear", "left"), Side(drop=drop, edge_radius=edge))
    return Pad("board", "cushion", SeatPose(), outline, (), sides, layers, None, (), **more)


def face(material, thick=25.0, taper=0.0, **more):
    return Layer(material, thick, "face", None, taper, **more)


@pytest.mark.parametrize(("material", "over"), [("foam_medium", 12.7), ("foam_firm", 6.35), ("wadding", 0.0)])
def test_a_face_layer_is_as_large_as_the_board_and_half_an_inch_a_side(material, over):
    # coxontool.com: foam 1/2 in larger a side, less when firm; how much less is common practice, no source.
    layer = face(material)
    assert oversize_mm(layer, BUILT_IN[material], 12.7) == pytest.approx(over)
    assert oversize_mm(replace(layer, oversize=3.0), BUILT_IN[material], 12.7) == 3.0
    (shape,) = layer_shapes(board(layer, edge=0.0), 0, BUILT_IN, ALLOWANCE, make_problem=make_problem).shapes
    x0, y0, x1, y1 = shape.box()
    assert (x1 - x0, y1 - y0) == pytest.approx((WIDE + 2 * over, DEEP + 2 * over), abs=0.1)
    assert shape.cut_mm2 == pytest.approx((WIDE + 2 * over) * (DEEP + 2 * over), rel=1e-4)
    assert {edge.kind for edge in shape.edges} == {EdgeKind.OVERSIZE if over else EdgeKind.BARE}


def test_round_corners_obey_steiner():
    # Steiner formula: an allowance a round a convex shape of perimeter P adds P a + pi a^2.
    radius, over = 60.0, 12.7
    (shape,) = layer_shapes(
        board(face("foam_medium"), radius=radius, edge=0.0),
        0,
        BUILT_IN,
        ALLOWANCE,
        make_problem=make_problem,
        edge_mm=4.0,
    ).shapes
    bare = WIDE * DEEP - (4.0 - math.pi) * radius**2
    perimeter = 2 * (WIDE + DEEP) - (8.0 - 2.0 * math.pi) * radius
    assert shape.cut_mm2 == pytest.approx(bare + perimeter * over + math.pi * over**2, rel=5e-4)


def test_thick_foam_over_a_sharp_edge_is_parted_and_mitred_and_thin_stuff_is_not():
    foam = Layer("foam_medium", 25.0, "all", None, 0.0)
    shapes = layer_shapes(board(foam, radius=40.0), 0, BUILT_IN, ALLOWANCE, make_problem=make_problem).shapes
    names = [shape.name for shape in shapes]
    assert any("face part" in name for name in names)
    assert any("band" in name for name in names)
    # A quarter turn is mitred at half of it.
    assert any("mitre 45°" in edge.note for shape in shapes for edge in shape.edges)
    wadding = Layer("wadding", 8.0, "all", None, 0.0)
    (whole,) = layer_shapes(
        board(wadding, radius=60.0, edge=20.0), 0, BUILT_IN, ALLOWANCE, make_problem=make_problem
    ).shapes
    assert "all over" in whole.name


def test_a_strip_is_bevelled_where_it_runs_out():
    strip = Layer("foam_medium", 20.0, "front", 90.0, 50.0)
    (shape,) = layer_shapes(board(strip), 0, BUILT_IN, ALLOWANCE, make_problem=make_problem).shapes
    bevels = [line for line in shape.inner if line.kind is LineKind.BEVEL]
    assert any(line.name.startswith("bevel 20 to 0 over 50 mm, inward") for line in bevels)
    # Where its full thickness ends, within the strip's width of the edge.
    inward = next(line for line in bevels if "inward" in line.name)
    assert np.ptp(inward.points[:, 1]) < 1.0


def test_even_layers_give_even_shapes():
    (shape,) = layer_shapes(
        board(face("foam_medium"), radius=40.0), 0, BUILT_IN, ALLOWANCE, make_problem=make_problem
    ).shapes
    outline = shapely.Polygon(shape.cut)
    mirrored = shapely.Polygon(shape.cut * [-1.0, 1.0])
    assert outline.symmetric_difference(mirrored).area < 1e-3 * outline.area


@cache
def planned(name, tension=None):
    sheet = read_sheet(EXAMPLES / name)
    pull = 1e-3 * sheet.cover.tension if tension is None else tension
    pads = [build(pad, edge_mm=14.0, tension_n_per_mm=pull, materials=sheet.materials) for pad in sheet.pads]
    return sheet, [plan_of(pad, sheet.materials, sheet.allowance) for pad in pads]


@pytest.mark.parametrize("name", ["helm_bench/bench.toml", "pilot_bucket/bucket.toml"])
def test_every_layer_of_the_examples_has_shapes(name):
    sheet, plans = planned(name)
    for pad, plan in zip(sheet.pads, plans, strict=True):
        assert not [note for note in plan.notes if note.code == "G154"]
        for k in range(1, len(pad.layers) + 1):
            assert plan.shapes_of(k)
        for one in plan.cut:
            for shape in one.shapes:
                assert shapely.Polygon(shape.cut).is_valid
                assert {shape.material} == {pad.layers[j - 1].material for j in one.layers}
    found = totals(plans)
    shapes = [shape for plan in plans for shape in plan.shapes]
    assert sum(total.shapes for total in found) == sum(s.cut_count + s.mirrored_count for s in shapes)
    for total in found:
        assert total.boxes_mm2 >= total.cut_mm2
        assert total.boxes_mm2 <= total.stock_sheets * 2e6
        assert len(total.boxes) == total.shapes


def test_papers_hold_every_shape_at_full_size(tmp_path):
    (shape,) = layer_shapes(
        board(face("foam_medium"), edge=0.0), 0, BUILT_IN, ALLOWANCE, make_problem=make_problem
    ).shapes
    # DXF by ezdxf, closed outlines on layer 1 (ASTM D6673).
    file = tmp_path / "padding.dxf"
    file.write_bytes(patterns_dxf([shape], roll_width_mm=914.0, version="R2000"))
    document = ezdxf.readfile(file)
    sizes = [
        sorted(np.ptp(np.array([p[:2] for p in line.get_points()]), axis=0))
        for line in dxf_entities(document)
        if line.dxftype() == "LWPOLYLINE" and line.dxf.layer == "1 cut"
    ]
    assert any(size == pytest.approx([DEEP + 25.4, WIDE + 25.4], abs=0.1) for size in sizes)
    text = patterns_svg([shape], roll_width_mm=914.0, wording=PADDING).decode()
    assert "Padding shapes, full size" in text
    words = "".join(page.extract_text() for page in PdfReader(
        io.BytesIO(patterns_pdf([shape], page="a4", overlap_mm=10.0, wording=PADDING))
    ).pages)  # fmt: skip
    assert "Padding shapes, full size" in words
    assert "Adhesive" in words


def test_a_finished_height_that_is_gone_over_is_told_with_both_figures():
    pad = board(face("foam_medium", 40.0), radius=30.0, wanted=Wanted(finished_height=35.0))
    built = build(pad, edge_mm=12.0)
    # A flat board without tension: as high as the foam.
    assert height_of(built).found_mm == pytest.approx(40.0, abs=1e-6)
    (note,) = [one for one in plan_of(built, BUILT_IN, ALLOWANCE).notes if one.code == "G151"]
    assert "40.0 mm, 5.0 mm more than the 35 mm" in note.text
    within = build(replace(pad, wanted=Wanted(finished_height=40.0)), edge_mm=12.0)
    assert not [one for one in plan_of(within, BUILT_IN, ALLOWANCE).notes if one.code == "G151"]


def test_a_layer_thicker_than_needed_is_tried_for_real():
    sheet, plans = planned("helm_bench/bench.toml")
    back = next(plan for plan in plans if plan.pad == "backrest")
    # The strips over the rail are the least that reach the radius: none can be thinner.
    assert back.thinner
    assert not any(one.holds for one in back.thinner)
    pad = next(pad for pad in sheet.pads if pad.name == "backrest")
    thick = replace(pad, layers=(*pad.layers, pad.layers[-1]))
    built = build(thick, edge_mm=14.0, tension_n_per_mm=1e-3 * sheet.cover.tension, materials=sheet.materials)
    held = [one for one in thinner_layers(built, sheet.materials) if one.holds]
    assert held
    for one in held:
        assert all(new.radius_mm >= 42.0 for new in one.after if new.side == "top")
    codes = [note.code for note in plan_of(built, sheet.materials, sheet.allowance).notes]
    assert "G152" in codes


def test_more_than_usual_over_springs_is_told_with_its_code():
    sheet, _ = planned("helm_bench/bench.toml")
    pad = sheet.pads[0]
    deep = replace(pad, layers=(*pad.layers, face("foam_firm", 25.0, 40.0)))
    built = build(deep, edge_mm=14.0, tension_n_per_mm=0.05, materials=sheet.materials)
    (note,) = [one for one in plan_of(built, sheet.materials, sheet.allowance).notes if one.code == "G153"]
    assert "P: common practice, no source" in note.text


SHEET = """
name = "one"
{allowance}
[[pad]]
name = "seat"
kind = "cushion"
{pad}
[pad.outline]
front_width = 400
rear_width = 400
depth = 300
[[pad.layer]]
material = "foam_medium"
thickness = 25
where = "face"
{layer}
"""


@pytest.mark.parametrize(
    ("place", "text", "line", "words"),
    [
        ("allowance", "[allowance]\nfoam = -3", 4, "-3"),
        ("pad", "finished_height = 9000", 7, "9000"),
        ("layer", 'oversize = "wide"', 16, "wide"),
    ],
)
def test_faults_of_the_keys_are_told_with_their_line(tmp_path, place, text, line, words):
    file = tmp_path / "one.toml"
    file.write_text(SHEET.format(**{"allowance": "", "pad": "", "layer": "", place: text}))
    with pytest.raises(ProblemError) as told:
        read_sheet(file)
    (found,) = told.value.problems
    assert found.line == line
    assert words in found.text


@pytest.mark.parametrize("order", [("right", "left", "right", "left"), ("right", "right", "left", "left")])
def test_every_layer_is_cut_once_whatever_is_written_on_its_shapes(order):
    strips = tuple(Layer("foam_soft", 20.0, side, 90.0, 30.0) for side in order)
    pad = replace(board(face("foam_medium"), radius=20.0), layers=(face("foam_medium"), *strips))
    plan = plan_of(build(pad, edge_mm=20.0), BUILT_IN, ALLOWANCE)
    assert sorted(number for one in plan.cut for number in one.layers) == [1, 2, 3, 4, 5]
    called = [
        replace(one, shapes=tuple(replace(shape, name="layers 2 and 4 and 5 side") for shape in one.shapes))
        for one in plan.cut
    ]
    renamed = replace(plan, cut=tuple(called))
    for number in range(1, 6):
        shapes = [len(found.shapes_of(number)) for found in (plan, renamed)]
        assert shapes[0] == shapes[1] > 0
        assert {shape.material for shape in renamed.shapes_of(number)} == {pad.layers[number - 1].material}


@pytest.mark.parametrize(
    ("thick", "strip", "less"),
    [(76.2, False, 63.5), (50.8, False, 25.4), (25.4, True, 12.7), (12.7, True, 0.0), (12.7, False, None)],
)
def test_what_is_tried_thinner_comes_in_the_shops_own_sheets(thick, strip, less):
    foam = replace(BUILT_IN["foam_firm"], stock_mm=(12.7, 25.4, 50.8))
    layer = Layer("foam_firm", thick, "front" if strip else "face", 60.0 if strip else None, 0.0)
    assert thinner_mm(layer, foam, strip=strip) == (None if less is None else pytest.approx(less))


@pytest.mark.parametrize("tried", [12.7, 0.0])
def test_both_thicknesses_of_a_trial_are_told_with_their_unit(tried):
    figures = (Figures(0, "along 0", "top", 40.0, 2.0, 0.3, 0.0),)
    text = Thinner((2,), "foam_firm", 25.4, tried, figures, figures, True).text
    assert "25.4 mm" in text
    assert ("12.7 mm" in text) == (tried > 0.0)
