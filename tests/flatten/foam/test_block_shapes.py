"""Blocks in the padding plan: what is cut is the body that the cover's surface has, in one flat piece."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Polygon

from flatten.foam.plan import plan_of
from flatten.pieces.piece import LineKind
from meshes.records.materials import BUILT_IN
from meshes.records.pad import SIDES, Block, Layer, Outline, Profile
from meshes.seat.build import build_surface
from meshes.sheet.whole import Allowance
from tests.pads import FLAT, sheet_of

# Edges of the frame as square as the block's, so that their corners are one.
PAD = sheet_of(FLAT.replace("edge_radius = 20", "edge_radius = 6").replace("seam_below = 5", "")).pads[0]


def block(thickness=75.0, where="face", within=None, **form):
    return Layer("foam_firm", thickness, where, within, 0.0, block=Block(**form))


def planned(*layers):
    built = build_surface(replace(PAD, layers=layers), edge_mm=9.0)
    return built, plan_of(built, BUILT_IN, Allowance())


def area(grown):
    return (400 + 2 * grown) * (300 + 2 * grown) - (4 - np.pi) * (40 + grown) ** 2


@pytest.mark.parametrize(("overhang", "degrees"), [(0.0, 0.0), (7.0, 0.0), (0.0, 15.0), (0.0, -15.0)])
def test_a_block_is_one_piece_with_its_own_outline_and_upright_sides(overhang, degrees):
    built, plan = planned(block(overhang=overhang, bevel_deg=degrees))
    [shape] = plan.shapes
    lean = 75.0 * np.tan(np.deg2rad(degrees))
    large = max(overhang, overhang - lean)
    assert Polygon(shape.outline.points).area == pytest.approx(area(large), rel=1e-3)
    assert [edge.allowance_mm for edge in shape.edges] == [0.0]
    words = " ".join(shape.notes)
    assert ("its sides upright" in words) == (degrees == 0.0)
    assert "mitre" not in words
    if degrees:
        assert f"by {abs(degrees):g}°" in words
        [line] = [line for line in shape.inner if line.kind is LineKind.BEVEL]
        small = min(overhang, overhang - lean)
        assert Polygon(line.points).area == pytest.approx(area(small), rel=1e-3)
    # The cover goes over the same body: seen from above it covers as much, and its face as much as the block's top.
    seen = shapely.MultiPoint(built.surface.vertices[:, :2]).convex_hull
    assert seen.area == pytest.approx(area(max(large, 0.0)), rel=1e-3)
    top = built.surface.vertices[built.surface.vertices[:, 2] > 75.0 - 1e-6]
    assert shapely.MultiPoint(top[:, :2]).convex_hull.area == pytest.approx(area(overhang - lean), rel=1e-3)


def test_a_block_is_glued_up_of_sheets_and_bought_as_thick_as_its_crown():
    crown = (Profile("along", 0.0, ((0.0, 0.0), (150.0, 20.0), (300.0, 0.0))),)
    _, plan = planned(block(60.0), block(40.0, top=crown))
    assert [stock.sheets_mm for stock in plan.stock] == [(25.0, 25.0, 25.0), (25.0, 25.0, 25.0)]
    first, second = plan.shapes
    # What is bought is as thick as the crown stands: 40 mm and 20 more.
    assert [stock.thickness_mm for stock in plan.stock] == [60.0, 60.0]
    assert first.cut_count == 3
    assert "split down from 75 mm" in first.notes
    assert "split down from 75 mm to 60 mm" in second.notes
    assert any("20 mm higher inside" in note for note in second.notes)
    # A card to hold on it along every profile: as long as the block there, hollow by its crown, to the tenth of a mm.
    assert all(card in plan.drawn for card in plan.crowns)
    (card,) = plan.crowns
    hollow, (place, height) = card.edges[0].points, np.array(crown[0].points).T
    assert np.ptp(hollow[:, 0]) == pytest.approx(300.0, abs=0.1)
    at = [int(np.argmin(np.abs(hollow[:, 0] - one))) for one in place]
    assert hollow[at, 1] - hollow[0, 1] == pytest.approx(height, abs=0.1)


def test_a_block_is_cut_to_an_outline_of_its_own_and_cut_off_where_its_bed_ends():
    lumbar = Outline(((-90.0, 80.0), (90.0, 80.0), (90.0, 180.0), (-90.0, 180.0)), (30.0,) * 4, SIDES, symmetric=True)
    knee = Outline(((-260.0, -40.0), (260.0, -40.0), (260.0, 90.0), (-260.0, 90.0)), (0.0,) * 4, SIDES, symmetric=True)
    _, plan = planned(block(40.0), block(20.0, outline=lumbar), block(30.0, outline=knee))
    _, middle, front = (Polygon(shape.outline.points) for shape in plan.shapes)
    assert middle.area == pytest.approx(180.0 * 100.0 - (4 - np.pi) * 30.0**2, rel=1e-3)
    assert middle.bounds == pytest.approx((-90.0, 80.0, 90.0, 180.0), abs=0.05)
    assert front.bounds == pytest.approx((-200.0, 0.0, 200.0, 90.0), abs=0.05)
    assert front.area == pytest.approx(400.0 * 90.0 - 0.5 * (4 - np.pi) * 40.0**2, rel=1e-3)


def test_strips_along_both_sides_are_one_shape_cut_once_more_mirrored():
    strips = [replace(block(35.0), where=side, within=60.0) for side in ("right", "left")]
    _, plan = planned(block(40.0), *strips)
    slab, strip = plan.shapes
    assert strip.name == "layers 2 and 3 side strip"
    assert (slab.mirrored_count, strip.cut_count, strip.mirrored_count) == (0, 2, 2)
    wide, high = np.ptp(strip.outline.points, axis=0)
    assert wide == pytest.approx(60.0, abs=0.1)
    assert high == pytest.approx(300.0, abs=40.0)
    assert strip.outline.points[:, 0].max() == pytest.approx(200.0, abs=0.1)


def test_a_rolled_edge_has_a_rounding_and_its_card():
    _, plan = planned(block(edge_radius=25.0))
    [shape] = plan.shapes
    assert {one.side for one in plan.roundings} == {"front", "right", "rear", "left"}
    assert all(one.radius_mm == pytest.approx(25.0, abs=0.1) and one.even for one in plan.roundings)
    assert plan.roundings[0].take_off_mm2 == pytest.approx((1 - np.pi / 4) * 25.0**2, rel=5e-3)
    assert any("R 25 mm once layer 1 is glued" in note for note in shape.notes)
    assert len(plan.gauges) == 1


def test_batting_over_a_block_lies_on_its_top_and_its_sides():
    wadding = Layer("wadding", 10.0, "all", None, 0.0)
    _, plan = planned(block(), wadding)
    flat = Polygon(plan.shapes[1].sew)
    # Top and sides down to the tack line; corners are let in, so a little less than the bed's area.
    bed = area(0.0) + (2 * (320 + 220) + 2 * np.pi * 40) * (75 + 80)
    assert flat.area == pytest.approx(bed, rel=0.03)
    wide = LineString(plan.shapes[1].sew).bounds
    assert wide[2] - wide[0] == pytest.approx(400 + 2 * (75 + 80), rel=0.02)
