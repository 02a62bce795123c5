"""Padding shapes as laws: arrows that point where they say, bevels held to the built pad's own thickness, oversize at
what is cut square and nowhere else, mirrored layers, and areas that the pad has."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import LineString, Point, Polygon

from flatten.foam.cut import FIRM_KPA, FIRM_SHARE, layer_shapes, oversize_mm
from flatten.pieces.piece import EdgeKind, LineKind, MarkKind
from meshes.base.surface import triangle_areas
from meshes.records.materials import BUILT_IN
from meshes.records.pad import Layer
from meshes.seat.build import build
from tests.flatten.foam.test_padcut import ALLOWANCE, DEEP, WIDE, board, face, make_problem

WADDING = Layer("wadding", 8.0, "all", None, 0.0)
BANDED = Layer("foam_medium", 25.0, "all", None, 0.0)


def shapes_of(pad, index=0, materials=BUILT_IN):
    return layer_shapes(pad, index, materials, ALLOWANCE, make_problem=make_problem).shapes


def edges_named(shape, *words):
    return [edge for edge in shape.edges if all(word in edge.name for word in words)]


def middle(edges):
    return np.concatenate([edge.points for edge in edges]).mean(axis=0)


@pytest.mark.parametrize(
    ("layer", "radius", "edge"),
    [(face("foam_medium"), 40.0, 0.0), (WADDING, 60.0, 20.0), (face("foam_soft", 20.0, 60.0, below=20.0), 60.0, 20.0)],
)
def test_the_arrow_of_a_face_points_to_the_front_of_the_pad(layer, radius, edge):
    (shape,) = shapes_of(board(layer, radius=radius, edge=edge))
    front, rear = (middle(edges_named(shape, word)) for word in ("front", "rear"))
    arrow = shape.grain[1] - shape.grain[0]
    to_front = (front - rear) / np.linalg.norm(front - rear)
    assert arrow @ to_front == pytest.approx(np.linalg.norm(arrow), rel=1e-3)
    assert "arrow: to the front" in shape.notes
    # It lies on the shape, about its middle, two fifths as long as the shape is high, 150 mm at most.
    assert np.linalg.norm(arrow) == pytest.approx(min(0.4 * np.ptp(shape.cut[:, 1]), 150.0))
    assert Polygon(shape.cut).contains(LineString(shape.grain))
    assert np.allclose(shape.grain.mean(axis=0), 0.5 * (shape.cut.min(axis=0) + shape.cut.max(axis=0)), atol=1e-9)


def test_the_arrow_of_a_band_points_up_to_its_edge():
    bands = [shape for shape in shapes_of(board(BANDED, radius=40.0)) if "band" in shape.name]
    assert len(bands) == 3
    for shape in bands:
        up = middle(edges_named(shape, "edge")) - middle(edges_named(shape, "tack line"))
        arrow = shape.grain[1] - shape.grain[0]
        assert arrow @ up == pytest.approx(np.linalg.norm(arrow) * np.linalg.norm(up), rel=1e-3)
        assert np.linalg.norm(arrow) == pytest.approx(0.4 * np.ptp(shape.cut[:, 1]))
        assert "arrow: up to the edge" in shape.notes


@pytest.mark.parametrize(
    ("below", "taper", "drop", "edge", "radius"),
    [
        (30.0, 80.0, 70.0, 0.01, 0.0),
        (10.0, 80.0, 60.0, 4.0, 0.0),
        (10.0, 70.0, 50.0, 20.0, 0.0),
        (20.0, 120.0, 90.0, 20.0, 60.0),
    ],
)
def test_a_bevel_that_meets_the_tack_line_says_what_is_left_there(below, taper, drop, edge, radius):
    """By another way: the free padding of the built pad, at the vertices of its own tack line."""
    pad = board(Layer("foam_medium", 20.0, "front", 90.0, taper, below=below), radius=radius, edge=edge, drop=drop)
    built = build(pad, edge_mm=12.0)
    line = built.surface.curves["face front tack line"]
    along = line[np.abs(built.surface.vertices[line, 0]) < 120.0]
    rest = float(np.median(built.thickness_mm[along]))
    assert 0.5 < rest < 19.0
    # The longest line of full thickness along the front, not those round its corners.
    bevels = [
        line
        for shape in shapes_of(pad)
        for line in shape.inner
        if line.kind is LineKind.BEVEL and "past the front edge" in line.name and np.ptp(line.points[:, 0]) > 200.0
    ]
    (bevel,) = bevels
    told = re.match(r"bevel 20 to (\d+) over (\d+) mm", bevel.name)
    assert abs(int(told[1]) - rest) <= 0.5 + 0.1


def test_a_bevel_runs_from_its_line_to_the_end_it_speaks_of():
    """Over as many millimetres as the line of full thickness lies from the nearest end of the shape."""
    (shape,) = shapes_of(board(Layer("foam_medium", 20.0, "front", 90.0, 50.0)))
    bevel = next(line for line in shape.inner if "inward" in line.name)
    inner = middle(edges_named(shape, "over the face"))
    assert abs(inner[1] - bevel.points[:, 1].mean()) == pytest.approx(50.0, abs=0.5)


@pytest.mark.parametrize(("material", "over"), [("foam_medium", 12.7), ("foam_firm", 6.35)])
def test_bands_are_cut_larger_at_the_tack_line_and_reach_the_square_corner_at_the_mitre(material, over):
    # From the middle of a quarter turn of 4 mm to where face and side of the board meet square.
    meet = 4.0 * (math.tan(0.25 * math.pi) - 0.25 * math.pi)
    shapes = shapes_of(board(Layer(material, 25.0, "all", None, 0.0), radius=40.0))
    bands = [shape for shape in shapes if "band" in shape.name]
    for shape in shapes:
        for edge in shape.edges:
            tack = "tack line" in edge.name
            mitre = edge.note.startswith("mitre")
            assert edge.kind is (EdgeKind.OVERSIZE if tack else EdgeKind.MITRED if mitre else EdgeKind.BARE)
            assert edge.allowance_mm == pytest.approx(over if tack else meet if mitre else 0.0, abs=0.05)
    for shape in bands:
        wider, higher = np.ptp(shape.cut, axis=0) - np.ptp(shape.sew, axis=0)
        assert higher == pytest.approx(over + meet, abs=0.05)
        # Its ends lie square to the tack line but for the unrolling of the rounded edge.
        assert wider == pytest.approx(0.0, abs=0.02 * over)


@pytest.mark.parametrize("taper", [0.0, 20.0, 60.0])
def test_what_runs_out_to_nothing_is_not_cut_larger(taper):
    """A taper no longer than the layer is thick is cut square, with oversize; a longer one is skived, without."""
    layer = Layer("foam_medium", 25.0, "front", 120.0, taper)
    (shape,) = shapes_of(board(layer))
    (inner,) = edges_named(shape, "over the face")
    assert (inner.allowance_mm > 0.0) == (taper == 0.0)
    assert inner.note == ("cut square" if taper == 0.0 else "skived to nothing")
    front = edges_named(shape, "front")
    assert front
    assert {edge.note for edge in front} == {"skived to nothing" if taper > 25.0 else "cut square"}
    assert all((edge.allowance_mm > 0.0) == (taper <= 25.0) for edge in front)


def test_firmness_decides_the_oversize():
    medium, firm = BUILT_IN["foam_medium"], BUILT_IN["foam_firm"]
    assert medium.compression_kpa[1] < FIRM_KPA <= firm.compression_kpa[1]
    for size in (5.0, 12.7):
        assert oversize_mm(face("foam_medium"), medium, size) == pytest.approx(size)
        assert oversize_mm(face("foam_firm"), firm, size) == pytest.approx(FIRM_SHARE * size)


def test_a_cover_of_stuffing_is_as_large_as_the_pad_it_lies_on():
    """Laid flat with little stretch a layer keeps its area: that of the pad's own surface, from tack line to tack line,
    and its outline under its marks is the same left and right."""
    pad = board(WADDING, radius=60.0, edge=20.0)
    (shape,) = shapes_of(pad)
    bare = build(board(radius=60.0, edge=20.0), edge_mm=10.0).surface
    area = triangle_areas(bare.vertices, bare.triangles).sum()
    assert Polygon(shape.sew).area == pytest.approx(area, rel=0.01)
    centres = [mark for mark in shape.marks if mark.kind is MarkKind.CENTRE]
    assert sorted(mark.text for mark in centres) == ["centre front", "centre rear"]
    for mark in centres:
        assert mark.at[0] == pytest.approx(0.0, abs=1e-6)
        assert mark.outward[1] == (1.0 if mark.text == "centre rear" else -1.0)
        # The outward side of a mark leads out of the shape.
        assert not Polygon(shape.sew).contains(Point(mark.at + 0.5 * mark.outward))
        assert Polygon(shape.sew).contains(Point(mark.at - 0.5 * mark.outward))


def test_the_bands_and_the_face_of_parted_foam_are_the_whole_layer():
    """What is parted along its edges and mitred covers the layer's bed once: areas add up to that of the bare board."""
    pad = board(BANDED, edge=0.0, drop=60.0)
    shapes = shapes_of(pad)
    area = sum(Polygon(s.sew).area * (s.cut_count + s.mirrored_count) for s in shapes)
    assert area == pytest.approx(WIDE * DEEP + 2 * (WIDE + DEEP) * 60.0, rel=1e-3)
    notes = {edge.note for shape in shapes for edge in shape.edges if "mitre" in edge.note}
    # A quarter turn in the middle of foam of 25 mm: the outer side is longer by 25 tan 45.
    assert notes == {"mitre 45°, outer side 25 mm longer, then rounded to R 25 mm from straight above this edge"}


@pytest.mark.parametrize("round_mm", [6.0, 12.0])
@pytest.mark.parametrize("more", [-0.5, 0.5])
def test_foam_bends_round_an_edge_half_as_round_as_it_is_thick_and_no_sharper(round_mm, more):
    """Its inner side is crushed by half of its thickness over the radius against its middle: at twice the radius by
    more than half. Foam that goes down past the edge by more than its thickness is then parted."""
    thick = 2.0 * round_mm + more
    foam = Layer("foam_medium", thick, "all", None, 0.0)
    shapes = shapes_of(board(foam, radius=60.0, edge=round_mm, drop=80.0))
    assert any("band" in shape.name for shape in shapes) == (more > 0.0)


@pytest.mark.parametrize("stuff", ["foam_medium", "cotton_batting"])
@pytest.mark.parametrize(("thick", "sheets"), [(20.0, 1), (25.0, 1), (26.0, 2), (60.0, 3)])
def test_as_many_sheets_as_the_layer_is_thick(thick, sheets, stuff):
    (shape,) = shapes_of(board(face(stuff, thick), edge=0.0))
    material = BUILT_IN[stuff]
    assert shape.cut_count == int(np.ceil(thick / material.thickness_mm - 1e-9)) == sheets
    whole = sheets * material.thickness_mm
    # Foam is split with a knife or saw; batting and cloth never are.
    assert (f"split down from {whole:g} mm" in shape.notes) == (whole > thick and material.foam)
    peeled = f"bought or peeled thinner than the usual {whole:g} mm"
    assert (peeled in shape.notes) == (whole > thick and not material.foam)
    assert (f"{sheets} sheets of {material.thickness_mm:g} mm on each other" in shape.notes) == (sheets > 1)


@pytest.mark.parametrize(
    ("thick", "sheets", "says"),
    [
        (20.0, 1, "split down from 25.4 mm"),
        (50.8, 1, ""),
        (76.2, 2, "2 sheets on each other: 1 of 50.8 mm and 1 of 25.4 mm"),
        (100.0, 2, "2 sheets of 50.8 mm on each other"),
    ],
)
def test_a_layer_is_cut_from_the_shops_own_sheets(thick, sheets, says):
    pad = board(face("foam_medium", thick), edge=0.0)
    stock = {**BUILT_IN, "foam_medium": replace(BUILT_IN["foam_medium"], stock_mm=(12.7, 25.4, 50.8))}
    (shape,) = shapes_of(pad, materials=stock)
    assert shape.cut_count == sheets
    assert not says or says in shape.notes
    assert any("split" in note for note in shape.notes) == (thick in (20.0, 100.0))


def test_each_layer_is_glued_to_the_one_below():
    pad = board(face("foam_medium"), face("foam_soft", 20.0), face("wadding", 8.0), edge=0.0)
    for k, bed in enumerate(("the support", "layer 1", "layer 2")):
        (shape,) = shapes_of(pad, k)
        assert any(note.startswith(f"glue to {bed} ") for note in shape.notes)
        assert shape.name == f"layer {k + 1} face"


def test_a_strip_at_the_right_stands_for_its_mirror_image():
    pad = board(
        Layer("foam_soft", 20.0, "right", 90.0, 30.0), Layer("foam_soft", 20.0, "left", 90.0, 30.0), radius=20.0
    )
    found = layer_shapes(pad, 0, BUILT_IN, ALLOWANCE, make_problem=make_problem)
    assert found.layers == (1, 2)
    assert {(s.cut_count, s.mirrored_count) for s in found.shapes} == {(1, 1)}
    assert layer_shapes(pad, 1, BUILT_IN, ALLOWANCE, make_problem=make_problem) is None
