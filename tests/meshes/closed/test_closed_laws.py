"""Rims, bands, bodies and their figures of closed covers: closed forms, mirror images, bounds at their places."""

import math
from dataclasses import replace

import numpy as np
import pytest

from meshes.base.problems import ProblemError
from meshes.base.surface import boundary_loops, directed_edges, triangle_areas
from meshes.closed.bands import LEFT_OF_SIDE_MM, BandPart, ZipTooLongError, band_parts
from meshes.closed.body import ClosedBody
from meshes.closed.build import build, build_surface
from meshes.closed.fullness import LEAST_PULL_N_PER_MM, fitted_tension, wrap_mm
from meshes.closed.plate_mesh import plate_mesh
from meshes.closed.rim import BEND_OFF_MM, MOST_TURN_RAD, SAG_MM, rim_curve, smaller_outline, stations
from meshes.closed.words import closed_words, snip_notes
from meshes.outlines.rounded import rounded_outline
from meshes.pleats.shape import USUAL_TENSION_N_PER_MM
from meshes.records.closed import LONGEST_BAND_MM, Closed
from meshes.records.compression import curve
from meshes.records.materials import BUILT_IN
from meshes.records.pad import Outline
from meshes.sheet.starter import starter_text
from tests.meshes.closed.test_closed_bodies import BOX, ROLL, area, box, by_part, volume
from tests.pads import FLAT, sheet_of

NAMES = ("front", "right", "rear", "left")


def rectangle(wide, deep, radius=0.0):
    half = 0.5 * wide
    corners = ((-half, 0.0), (half, 0.0), (half, deep), (-half, deep))
    return Outline(corners, (radius,) * 4, NAMES, True)


def rim_of(wide, deep, radius=0.0):
    return rim_curve(smaller_outline(rectangle(wide, deep, radius), 0.0, 0.0)[0])


def closed(**given):
    return Closed(**({"form": "box", "thickness": 80.0, "core": "foam_firm"} | given))


# The rim.


SKEW = Outline(
    ((-200.0, 0.0), (180.0, -20.0), (260.0, 240.0), (60.0, 230.0), (20.0, 330.0), (-230.0, 310.0)),
    (20.0, 30.0, 40.0, 50.0, 0.0, 12.0),
    ("front", "right", "rear", "rear", "rear", "left"),
    False,
)


@pytest.mark.parametrize("by", [6.0, -9.0, 0.0])
def test_an_outline_drawn_in_is_parallel_and_keeps_its_centres(by):
    """Every edge moves by so much; a corner outward loses as much radius, a hollow one gains it."""
    drawn, small = smaller_outline(SKEW, by, 0.0)
    plain = rounded_outline(SKEW.corners, SKEW.radii, SKEW.side_of_edge)
    assert small == math.inf
    for k in range(6):
        old, new = (o.point(np.array([2 * k + 1.5])) for o in (plain, drawn))
        normal = plain.normal(np.array([2 * k + 1.5]))
        assert drawn.normal(np.array([2 * k + 1.5])) == pytest.approx(normal)
        assert ((old - new) @ normal.T).item() == pytest.approx(by)
    hollow = 3
    for k in range(6):
        if SKEW.radii[k] > 0.0:
            assert drawn.radii[k] == pytest.approx(SKEW.radii[k] + (by if k == hollow else -by))
            assert drawn.centres[k] == pytest.approx(plain.centres[k], abs=1e-9)
    assert drawn.radii[4] == 0.0
    assert drawn.sides == SKEW.side_of_edge


def test_corners_that_cannot_be_turned_out_are_made_rounder_and_the_sharpest_is_told():
    drawn, small = smaller_outline(SKEW, 6.0, 15.0)
    # 20 - 6 and 12 - 6 were drawn too sharp, the sharp one as well; only given radii below the least are told.
    assert drawn.radii == pytest.approx([15.0, 24.0, 34.0, 56.0, 15.0, 15.0])
    assert small == 12.0
    assert smaller_outline(rectangle(400, 300, 20.0), 6.0, 15.0)[1] == math.inf
    assert smaller_outline(rectangle(400, 300, 14.0), 0.0, 15.0)[1] == 14.0
    assert smaller_outline(rectangle(400, 300, 4.0), 6.0, 0.0)[0].radii == pytest.approx([0.0] * 4)


def test_a_bend_of_a_bow_is_no_corner():
    """A point that turns by 8 degrees stays a bend of its bow, however round a corner has to be."""
    bowed = Outline(
        ((-200.0, 0.0), (0.0, -14.0), (200.0, 0.0), (200.0, 300.0), (-200.0, 300.0)),
        (20.0, 0.0, 20.0, 20.0, 20.0), ("front", "front", "right", "rear", "left"), True,
    )  # fmt: skip
    drawn, _ = smaller_outline(bowed, 0.0, 25.0)
    plain = rounded_outline(bowed.corners, (25.0, 0.0, 25.0, 25.0, 25.0), bowed.side_of_edge)
    assert drawn.radii == pytest.approx(plain.radii)


@pytest.mark.parametrize("radius", [0.0, 50.0])
def test_places_along_a_rim_are_lengths_from_the_middle_of_the_rear(radius):
    rim = rim_of(500.0, 300.0, radius)
    arc = 0.5 * math.pi * radius
    whole = 2.0 * (500.0 + 300.0) - 8.0 * radius + 4.0 * arc
    assert rim.length == pytest.approx(whole)
    # Half the rear, to the middle of the corner's arc; then a side, the front, the other side.
    first = 250.0 - radius + 0.5 * arc
    side, front = 300.0 - 2.0 * radius + arc, 500.0 - 2.0 * radius + arc
    assert rim.corners == pytest.approx((first, first + side, first + side + front, first + 2 * side + front))
    assert rim.front == pytest.approx(0.5 * whole)
    quarter = [0.0, 0.5 * (rim.corners[0] + rim.corners[1]), rim.front, 0.5 * (rim.corners[2] + rim.corners[3])]
    points = rim.point(np.array([*quarter, whole, -10.0]))
    assert points[:5] == pytest.approx(np.array([[0, 300], [-250, 150], [0, 0], [250, 150], [0, 300]]), abs=1e-6)
    assert points[5] == pytest.approx([10.0, 300.0])


def test_places_of_an_uneven_rim_are_lengths_too():
    rim = rim_curve(smaller_outline(SKEW, 0.0, 0.0)[0])
    t = np.linspace(0.0, rim.length, 20_001)
    steps = np.linalg.norm(np.diff(rim.point(t), axis=0), axis=1)
    assert steps.sum() == pytest.approx(rim.length, rel=1e-5)
    assert steps.max() == pytest.approx(rim.length / 20_000, rel=1e-4)
    assert list(rim.corners) == sorted(rim.corners)
    assert rim.corners[0] == pytest.approx(rim.length - rim.corners[3])
    assert rim.point(np.array(rim.corners))[0] == pytest.approx([-230.0, 310.0], abs=6.0)
    assert rim.point(np.array(rim.corners))[2] == pytest.approx([180.0, -20.0], abs=15.0)


@pytest.mark.parametrize(("outline", "symmetric"), [(rectangle(500, 300, 60), True), (rectangle(500, 300, 60), False),
                                                    (SKEW, False)])  # fmt: skip
@pytest.mark.parametrize("edge_mm", [10.0, 200.0])
def test_steps_along_a_rim_follow_its_arcs_and_stop_where_asked(outline, symmetric, edge_mm):
    rim = rim_curve(smaller_outline(outline, 0.0, 0.0)[0])
    stops = [rim.front, 100.0, rim.length - 333.3, rim.length - 100.0]
    found = stations(rim, stops, edge_mm, symmetric=symmetric)
    t = np.append(found.t, rim.length)
    assert found.t[0] == 0.0
    assert (np.diff(t) > 0.0).all()
    assert np.diff(t).max() <= edge_mm + 1e-6
    assert found.t[found.stops] == pytest.approx(stops, abs=1e-6)
    assert rim.point(found.t) == pytest.approx(found.points, abs=1e-6)
    # Half-way between two steps the rim is no further off their chord than the sag, on arcs.
    closed_line = np.vstack([found.points, found.points[:1]])
    middle = 0.5 * (closed_line[1:] + closed_line[:-1])
    off = np.linalg.norm(rim.point(0.5 * (t[1:] + t[:-1])) - middle, axis=1)
    assert off.max() <= SAG_MM * 1.3
    # No step is left out: with long steps asked for, arcs alone set their number.
    if edge_mm == 200.0 and outline is not SKEW:
        step = 60.0 * min(math.sqrt(8.0 * SAG_MM / 60.0), MOST_TURN_RAD)
        arcs = 4 * math.ceil(0.5 * math.pi * 60.0 / step)
        assert arcs <= len(found.t) <= arcs + 8 + 16
    if symmetric:
        images = {tuple(p) for p in found.points.tolist()}
        assert {(-x, y) for x, y in images} == images


def test_a_sharp_bend_has_a_step_unless_one_is_near():
    """A stop within a millimetre and a half of a corner takes its place; further away the corner has its own."""
    rim = rim_of(400.0, 300.0)
    corner = rim.corners[0]
    for off in (0.5, 1.4, 1.6, 3.0):
        found = stations(rim, [corner + off], 50.0, symmetric=False)
        near = found.t[np.abs(found.t - corner) < 5.0]
        assert len(near) == (1 if off < BEND_OFF_MM else 2), off
        assert corner + off == pytest.approx(near[-1])
    # Two stops are one only where they are the same place.
    assert (
        len(stations(rim, [100.0, 100.0 + 1e-4], 1000.0, symmetric=False).t)
        == len(stations(rim, [100.0], 1000.0, symmetric=False).t) + 1
    )


def test_where_arcs_of_unlike_radii_join_there_is_a_step():
    """A kidney is four arcs: its bow, two ends and the hollow; each join is a step, and no other place of an arc is."""
    from meshes.outlines.plans import kidney_plan

    plan = kidney_plan(560.0, 400.0, 50.0, 130.0, "rear")
    at = [(c.at, c.radius) for c in plan]
    sides = ["front" if y < 100 else "rear" if y > 300 else "right" if x > 0 else "left" for (x, y), _ in at]
    outline = rounded_outline([p for p, _ in at], [radius for _, radius in at], sides)
    rim = rim_curve(outline)
    found = stations(rim, [], 1000.0, symmetric=False)
    radii = np.array([radius for _, radius in at])
    joins = outline.point(2.0 * np.flatnonzero(np.abs(radii - np.roll(radii, 1)) > 1e-6))
    assert len(joins) == 4
    for join in joins:
        assert np.linalg.norm(found.points - join, axis=1).min() < 1e-6


def test_small_arcs_turn_by_nine_degrees_a_step():
    """An arc of 4 mm would allow 18 degrees by its sag; it has ten steps in a quarter."""
    rim = rim_of(400.0, 300.0, 4.0)
    found = stations(rim, [], 1000.0, symmetric=False)
    inside = np.abs(found.points - [200.0 - 2.0, 300.0 - 2.0]).max(axis=1) < 2.0 + 1e-6
    assert inside.sum() == 11


# Bands.


def test_a_zip_goes_past_both_rear_corners():
    rim = rim_of(400.0, 300.0)
    band, strip = band_parts(closed(past_corner=70.0), rim)
    assert (band.name, band.zipped, strip.name, strip.zipped) == ("band", False, "zip strip", True)
    assert (band.begin, band.end) == pytest.approx((270.0, 1130.0))
    assert (strip.begin, strip.end) == pytest.approx((1130.0, 1670.0))
    assert band.middle == pytest.approx(rim.front)
    assert strip.middle == pytest.approx(rim.length)


def test_a_zip_ends_two_centimetres_before_the_front_corner_of_the_shorter_side():
    trapezoid = Outline(((-200.0, 0.0), (200.0, 0.0), (200.0, 340.0), (-200.0, 300.0)), (0.0,) * 4, NAMES, False)
    rim = rim_curve(smaller_outline(trapezoid, 0.0, 0.0)[0])
    room = 300.0 - LEFT_OF_SIDE_MM
    band_parts(closed(past_corner=room), rim)
    with pytest.raises(ZipTooLongError, match="280 mm") as told:
        band_parts(closed(past_corner=room + 0.5), rim)
    assert told.value.room_mm == pytest.approx(room)
    mirrored = replace(trapezoid, corners=((-200.0, 0.0), (200.0, 0.0), (200.0, 300.0), (-200.0, 340.0)))
    with pytest.raises(ZipTooLongError) as told:
        band_parts(closed(past_corner=290.0), rim_curve(smaller_outline(mirrored, 0.0, 0.0)[0]))
    assert told.value.room_mm == pytest.approx(room)


def test_a_band_is_whole_up_to_its_longest_and_then_parted_at_the_corners():
    side = 250.0

    def names(wide):
        rim = rim_of(wide, side)
        return [part.name for part in band_parts(closed(past_corner=50.0), rim) if not part.zipped]

    wide = LONGEST_BAND_MM - 2.0 * (side - 50.0)
    assert names(wide) == ["band"]
    assert names(wide + 1.0) == ["left band", "front band", "right band"]


@pytest.mark.parametrize(
    ("wide", "parts"), [(1390.0, 1), (1410.0, 3), (2810.0, 3), (4190.0, 3), (4210.0, 5), (5610.0, 5)]
)
def test_a_long_front_has_an_odd_number_of_even_parts(wide, parts):
    """None is longer than the longest, and no join lies in the middle."""
    rim = rim_of(wide, 600.0)
    found = band_parts(closed(past_corner=100.0), rim)
    front = [part for part in found if part.name.startswith("front")]
    runs = [part.end - part.begin for part in front]
    assert len(front) == parts
    assert runs == pytest.approx([wide / parts] * parts)
    assert front[0].begin == pytest.approx(rim.corners[1])
    assert front[-1].end == pytest.approx(rim.corners[2])
    # All parts together go once round, each beginning where the last one ended.
    order = sorted(found, key=lambda part: part.begin)
    assert sum(part.end - part.begin for part in found) == pytest.approx(rim.length)
    assert [a.end for a in order[:-1]] == pytest.approx([b.begin for b in order[1:]])
    zips = [part for part in found if part.zipped]
    assert len(zips) == (1 if wide + 200.0 <= LONGEST_BAND_MM else parts + 2)
    if parts > 1:
        assert [part.name for part in front] == [f"front band {k}" for k in range(1, parts + 1)]
        assert zips[0].name == "right zip strip"
        assert zips[-1].name == "left zip strip"
        assert [part.name for part in zips[1:-1]] == [f"rear zip strip {k}" for k in range(1, parts + 1)]


def test_a_tube_is_one_part_with_its_seams_parted_in_front():
    rim = rim_of(300.0, 200.0)
    (tube,) = band_parts(closed(form="roll"), rim)
    assert tube == BandPart("tube", 0.0, rim.length, seams_at=(rim.front,))
    assert not tube.zipped


# Plates and bodies.


def plate_of(outline, symmetric, edge_mm=40.0, stops=()):
    rim = rim_curve(smaller_outline(outline, 0.0, 0.0)[0])
    steps = stations(rim, [rim.front, *stops], edge_mm, symmetric=symmetric)
    return rim, steps, plate_mesh(steps, int(steps.stops[0]), edge_mm, symmetric=symmetric)


@pytest.mark.parametrize(("outline", "symmetric"), [(rectangle(500, 300, 60), True), (SKEW, False)])
def test_a_plate_fills_its_rim_and_knows_it(outline, symmetric):
    rim, steps, plate = plate_of(outline, symmetric, stops=(100.0, 500.0))
    assert plate.points[plate.rim] == pytest.approx(steps.points)
    assert plate.stops.tolist() == steps.stops.tolist()
    assert plate.points[plate.rim[plate.front]] == pytest.approx(rim.point(np.array([rim.front]))[0], abs=1e-6)
    (loop,) = boundary_loops(plate.triangles)
    assert set(loop.tolist()) == set(plate.rim.tolist())
    x, y = steps.points.T
    enclosed = 0.5 * abs(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    assert triangle_areas(plate.points, plate.triangles).sum() == pytest.approx(enclosed)
    if symmetric:
        assert np.array_equal(plate.points[plate.mirror], plate.points * [-1.0, 1.0])
        mirrored = {frozenset(t) for t in plate.mirror[plate.triangles].tolist()}
        assert mirrored == {frozenset(t) for t in plate.triangles.tolist()}
        # Down the middle the steps are about as asked for.
        middle = np.sort(plate.points[plate.points[:, 0] == 0.0, 1])
        assert np.diff(middle).max() <= 1.3 * 40.0
        assert len(middle) == round(300.0 / 40.0) + 1
    else:
        assert plate.mirror is None


@pytest.mark.parametrize("half_levels", [1, 3])
def test_a_body_is_even_up_and_down_and_left_and_right(half_levels):
    _, _, plate = plate_of(rectangle(500, 300, 60), True)
    heights = np.full(len(plate.points), 40.0)
    heights[np.setdiff1d(np.arange(len(heights)), plate.rim)] = 55.0
    body = ClosedBody(plate, heights, half_levels)
    points = body.vertices
    assert len(points) == 2 * len(plate.points) + (2 * half_levels - 1) * body.columns
    assert np.array_equal(points[body.over], points * [1.0, 1.0, -1.0])
    assert np.array_equal(points[body.across], points * [-1.0, 1.0, 1.0])
    for image in (body.over, body.across):
        assert np.array_equal(image[image], np.arange(len(points)))
    # Levels are even steps from the one rim to the other.
    column = np.full(2 * half_levels + 1, 5)
    run = points[body.vertex(np.arange(2 * half_levels + 1), column)]
    assert run[:, 2] == pytest.approx(np.linspace(40.0, -40.0, 2 * half_levels + 1))
    assert np.ptp(run[:, :2], axis=0) == pytest.approx([0.0, 0.0])
    assert np.array_equal(body.vertex(np.array([0]), np.array([body.columns + 2])), plate.rim[[2]])


def test_a_strip_of_a_band_is_exactly_as_large_as_its_run_and_faces_outward():
    _, _, plate = plate_of(rectangle(500, 300, 60), True)
    body = ClosedBody(plate, np.full(len(plate.points), 30.0), 2)
    columns = np.arange(3, body.columns + 4)
    for top, bottom in ((0, 4), (0, 2), (1, 3)):
        vertices, triangles = body.strip(columns, top, bottom)
        points = body.vertices[vertices]
        ring = plate.points[plate.rim]
        around = np.linalg.norm(np.roll(ring, -1, axis=0) - ring, axis=1).sum()
        assert triangle_areas(points, triangles).sum() == pytest.approx(around * 15.0 * (bottom - top))
        a, b, c = (points[triangles[:, k]] for k in range(3))
        out = np.cross(b - a, c - a)
        middle = (a + b + c) / 3.0 - [0.0, 150.0, 0.0]
        assert (np.einsum("ij,ij->i", out, middle) > 0.0).all()
    # Diagonals of the whole band are mirror images, up and down and left and right.
    vertices, triangles = body.strip(np.arange(body.columns + 1), 0, 4)
    edges = {frozenset(e) for e in directed_edges(vertices[triangles]).tolist()}
    for image in (body.over, body.across):
        assert {frozenset(image[list(e)].tolist()) for e in edges} == edges


# Fullness.


def test_tension_follows_from_the_share_the_core_is_pressed_by_up_to_nine_tenths():
    firm = curve(BUILT_IN["foam_firm"].table)
    for size, share in (((400.0, 200.0), 0.5 * (40 / 400 + 40 / 200)), ((30.0, 40.0), 0.9), ((30.0, 80.0), 0.7)):
        kpa = float(firm.pressure(np.array([share]))[0])
        found = fitted_tension(closed(undersize=40.0), size, BUILT_IN, 0.3)
        assert found == pytest.approx(0.5 * kpa / 1000.0 * 80.0)
    # Twice as thick pulls twice as much; a core that is not pressed pulls with the usual, a roll always.
    assert fitted_tension(closed(undersize=40.0, thickness=160.0), (30.0, 40.0), BUILT_IN, 0.3) == pytest.approx(
        2.0 * fitted_tension(closed(undersize=40.0), (30.0, 40.0), BUILT_IN, 0.3)
    )
    assert fitted_tension(closed(undersize=0.0), (400.0, 300.0), BUILT_IN, 0.3) == 0.3
    assert fitted_tension(closed(undersize=9.0, form="roll"), (400.0, 300.0), BUILT_IN, 0.3) == 0.3
    for usual, less in ((0.0, 0.0), (0.3, 1e-6)):
        assert fitted_tension(closed(undersize=less), (400.0, 300.0), BUILT_IN, usual) == LEAST_PULL_N_PER_MM


def test_a_cover_that_nothing_pulls_lies_smooth_under_half_a_newton_on_ten_centimetres():
    assert 0.0 < LEAST_PULL_N_PER_MM * 100.0 <= 0.5


LAYERS = "".join(f'[[pad.layer]]\nmaterial = "wadding"\nthickness = {t}\nwhere = "face"\n' for t in (12, 5))


def test_layers_add_up_and_lie_on_both_faces():
    pad = box(under=10.0, more=LAYERS)
    assert wrap_mm(pad.pad) == 17.0
    assert pad.facts.thickness_mm == (0.0, 17.0)
    assert [layer[2] for layer in pad.facts.layers] == [12.0, 5.0]
    assert pad.facts.area_mm2 == pytest.approx(sum(area(panel) for panel in pad.panels))
    faces = [by_part(pad)["top plate"], by_part(pad)["bottom plate"]]
    assert [layer[3] for layer in pad.facts.layers] == pytest.approx([sum(map(area, faces))] * 2)
    top = by_part(pad)["top plate"].surface.vertices[:, 2]
    assert pad.closed.rise_mm == pytest.approx(top.max() - 40.0)
    assert top.min() == pytest.approx(40.0)
    a, b, c = (pad.surface.vertices[pad.surface.triangles[:, k]] for k in range(3))
    corners = [(b - a, c - a), (c - b, a - b), (a - c, b - c)]
    least = min(
        np.degrees(np.arccos(np.einsum("ij,ij->i", u, v) / np.linalg.norm(u, axis=1) / np.linalg.norm(v, axis=1))).min()
        for u, v in corners
    )
    assert pad.facts.smallest_angle_deg == pytest.approx(least)
    assert pad.facts.triangles == len(pad.surface.triangles)


def test_a_wrapped_roll_is_as_much_thicker():
    plain, thick = (
        build(sheet_of(ROLL.format(across=140.0, long=400.0) + more).pads[0], edge_mm=20.0) for more in ("", LAYERS)
    )
    for pad, radius in ((plain, 70.0), (thick, 87.0)):
        disc = by_part(pad)["right end disc"].surface.vertices
        assert np.linalg.norm(disc[:, :2] - [0.0, 70.0], axis=1).max() == pytest.approx(radius)
        assert volume(pad.surface) == pytest.approx(math.pi * radius**2 * 400.0, rel=5e-3)
    # It lies round the tube and not on the discs.
    assert [layer[3] for layer in thick.facts.layers] == pytest.approx([2.0 * math.pi * 87.0 * 400.0] * 2, rel=5e-3)
    assert plain.closed.tension_n_per_mm == USUAL_TENSION_N_PER_MM
    assert plain.closed.smaller.mm == 0.0


def test_a_band_lower_than_its_core_is_what_the_rim_stands_at():
    pad = box(thick=80.0, more="band = 70\n")
    for name, z in (("top plate", 35.0), ("bottom plate", -35.0)):
        plate = by_part(pad)[name]
        rim = plate.surface.vertices[np.unique(plate.rim[0].vertices)]
        assert rim[:, 2] == pytest.approx(z)
    assert by_part(pad)["top plate"].surface.vertices[:, 2].max() > 36.0
    # The bare support keeps flat faces.
    assert set(np.round(np.abs(pad.support.vertices[: len(plate.surface.vertices), 2]), 9)) == {35.0}


def test_a_usual_tension_is_for_a_cover_of_its_core_s_own_size():
    pad = sheet_of(BOX.format(wide=420, deep=360, radius=30, thick=80, under=0, more="")).pads[0]
    for given, expected in ((0.2, 0.2), ({"top plate": 0.1, "band": 0.3}, 0.2), (None, USUAL_TENSION_N_PER_MM)):
        for make in (build, build_surface):
            assert make(pad, edge_mm=60.0, tension_n_per_mm=given).closed.tension_n_per_mm == pytest.approx(expected)


@pytest.mark.parametrize("edge_mm", [12.0, 40.0, 200.0])
def test_levels_of_a_band_are_about_as_high_as_its_triangles(edge_mm):
    pad = box(edge_mm=edge_mm)
    levels = np.unique(np.round(by_part(pad)["band"].surface.vertices[:, 2], 9))
    assert len(levels) == 2 * max(round(40.0 / edge_mm), 1) + 1


# Panels.


def test_names_kinds_and_neighbours_of_a_box():
    pad = box(more="welt = true\n")
    found = by_part(pad)
    assert list(found) == ["top plate", "bottom plate", "band", "upper zip strip", "lower zip strip"]
    rims = {name: [(edge.name, edge.kind) for edge in panel.rim] for name, panel in found.items()}
    assert sorted(set(rims["top plate"])) == [("band", "welted"), ("upper zip strip", "welted")]
    assert sorted(set(rims["bottom plate"])) == [("band", "welted"), ("lower zip strip", "welted")]
    assert sorted(rims["upper zip strip"]) == [
        ("band", "sewn"), ("band", "sewn"), ("top plate", "welted"), ("zip", "zip")
    ]  # fmt: skip
    # Its ends are sewn to both strips, parted where these meet at the zip.
    assert sorted(rims["band"]) == [
        ("bottom plate", "welted"), ("lower zip strip", "sewn"), ("lower zip strip", "sewn"), ("top plate", "welted"),
        ("upper zip strip", "sewn"), ("upper zip strip", "sewn"),
    ]  # fmt: skip
    for panel in pad.panels:
        # Rims run counter-clockwise, each edge from where the last one ended.
        runs = [edge.vertices for edge in panel.rim]
        assert [run[-1] for run in runs] == [run[0] for run in (*runs[1:], runs[0])]
        (loop,) = boundary_loops(panel.surface.triangles)
        round_ = np.concatenate([run[:-1] for run in runs])
        start = int(np.flatnonzero(round_ == loop[0])[0])
        assert np.array_equal(np.roll(round_, -start), loop)
        assert panel.grain.tolist() == ([0.0, 1.0, 0.0] if "plate" in panel.part else [0.0, 0.0, 1.0])
        assert np.array_equal(pad.surface.triangles[panel.triangles], panel.vertices[panel.surface.triangles])
    assert found["upper zip strip"].places == ("upper",)
    assert found["lower zip strip"].places == ("lower",)
    assert found["bottom plate"].places == ("bottom",)
    zip_mm = pad.closed.zip_mm
    for name in ("upper zip strip", "lower zip strip"):
        (edge,) = (edge for edge in found[name].rim if edge.kind == "zip")
        run = found[name].surface.vertices[edge.vertices]
        assert np.linalg.norm(np.diff(run, axis=0), axis=1).sum() == pytest.approx(zip_mm, abs=0.3)
        assert np.abs(run[:, 2]).max() == 0.0


def test_centre_marks_lie_on_the_middle_of_front_and_rear():
    pad = box()
    for name, panel in by_part(pad).items():
        at = panel.surface.vertices[panel.centre]
        assert np.abs(at[:, 0]).max() == 0.0
        # A plate has one in front and one behind, a band one above and one below.
        assert len(at) == 2, name
        assert panel.centre.tolist() == sorted(panel.centre.tolist())
        if "plate" in name:
            assert np.ptp(at[:, 1]) == pytest.approx(354.0)
        else:
            assert np.ptp(at[:, 1]) == pytest.approx(0.0)
            assert np.ptp(at[:, 2]) == pytest.approx(80.0 if name == "band" else 40.0)


def test_a_roll_s_tube_is_joined_to_itself_at_the_zip_and_sewn_to_both_discs():
    pad = build(sheet_of(ROLL.format(across=140.0, long=400.0)).pads[0], edge_mm=20.0)
    found = by_part(pad)
    assert list(found) == ["right end disc", "left end disc", "tube"]
    assert found["left end disc"].mirror_of == found["right end disc"].name
    rim = found["tube"].rim
    assert [(edge.name, edge.kind) for edge in rim] == [
        ("left end disc", "sewn"), ("left end disc", "sewn"), ("zip", "zip"),
        ("right end disc", "sewn"), ("right end disc", "sewn"), ("zip", "zip"),
    ]  # fmt: skip
    lengths = [np.linalg.norm(np.diff(found["tube"].surface.vertices[e.vertices], axis=0), axis=1).sum() for e in rim]
    half = 0.5 * math.pi * 140.0
    assert lengths == pytest.approx([half, half, 400.0, half, half, 400.0], rel=1e-3)
    assert found["tube"].mirror is not None


PANEL = """
name = "bottom"
[[pad]]
name = "back"
kind = "{kind}"
[pad.outline]
{front}_width = 400
{rear}_width = 360
depth = 500
[pad.closed]
form = "panel"
{front} = "blind-tacked"
right = "stapled"
{rear} = "closed by hand"
left = "closed by hand"
"""


@pytest.mark.parametrize(("kind", "front", "rear"), [("cushion", "front", "rear"), ("backrest", "bottom", "top")])
def test_a_flat_panel_is_its_plan_with_every_edge_fixed_as_the_sheet_says(kind, front, rear):
    pad = build(sheet_of(PANEL.format(kind=kind, front=front, rear=rear)).pads[0], edge_mm=60.0)
    (panel,) = pad.panels
    assert area(panel) == pytest.approx(0.5 * (400.0 + 360.0) * 500.0)
    assert pad.facts.area_mm2 == pytest.approx(area(panel))
    assert np.ptp(panel.surface.vertices[:, 2]) == 0.0
    edges = {edge.name: (edge.kind, panel.surface.vertices[edge.vertices]) for edge in panel.rim}
    assert [(name, kind) for name, (kind, _) in edges.items()] == [
        ("left edge", "closed"), (f"{front} edge", "blind"), ("right edge", "pulled"), (f"{rear} edge", "closed")
    ]  # fmt: skip
    ends = {
        "left edge": [[-180.0, 500.0], [-200.0, 0.0]],
        f"{front} edge": [[-200.0, 0.0], [200.0, 0.0]],
        "right edge": [[200.0, 0.0], [180.0, 500.0]],
        f"{rear} edge": [[180.0, 500.0], [-180.0, 500.0]],
    }
    for name, places in ends.items():
        assert edges[name][1][[0, -1], :2] == pytest.approx(np.array(places), abs=1e-6)
    assert np.abs(panel.surface.vertices[panel.centre, 0]).max() == 0.0
    assert len(panel.centre) == 2
    assert (pad.closed.zip_mm, pad.closed.rise_mm, pad.closed.tension_n_per_mm, pad.closed.smaller.mm) == (0, 0, 0, 0)
    words = closed_words(pad)
    assert words == f"a flat panel: {front} blind-tacked, right stapled, {rear} closed by hand, left closed by hand"


# Words.


def test_words_say_how_a_cover_is_smaller_how_full_and_how_long_its_zip():
    pad = box(under=10.0, more=LAYERS)
    said = closed_words(pad)
    assert "10 mm smaller than its core in all, not on each side (the sheet)" in said
    assert f"stands {pad.closed.rise_mm:.1f} mm above its rim" in said
    assert f"pulled by its core with {1000 * pad.closed.tension_n_per_mm:.0f} N/m" in said
    assert said.endswith(f"zip {f'{pad.closed.zip_mm:.1f}'.removesuffix('.0')} mm along the rear")
    same = closed_words(box(under=0.0))
    assert "of the core's own size" in same
    roll = build(sheet_of(ROLL.format(across=140.0, long=400.0)).pads[0], edge_mm=30.0)
    assert closed_words(roll) == "a closed cover of the core's own size, zip 400 mm"
    from meshes.seat.build import build as build_on_frame

    assert closed_words(build_on_frame(sheet_of(FLAT).pads[0], edge_mm=60.0)) == ""


@pytest.mark.parametrize(("across", "every"), [(149.0, "12 mm"), (150.0, "20 mm"), (230.0, "20 mm")])
def test_a_tube_is_snipped_closer_on_a_small_roll(across, every):
    pad = build(sheet_of(ROLL.format(across=across, long=400.0)).pads[0], edge_mm=40.0)
    notes = snip_notes(pad)
    seams = {seam.name for seam in pad.seams}
    assert {seam for _, seam in notes} == seams
    assert {panel for panel, _ in notes} == {"r tube"}
    assert set(notes.values()) == {f"snip the allowance every {every}"}
    assert snip_notes(box(edge_mm=60.0)) == {}


# Problems.


def problem_of(text, edge_mm=30.0):
    with pytest.raises(ProblemError) as told:
        build(sheet_of(text).pads[0], edge_mm=edge_mm)
    (found,) = told.value.problems
    return found


def test_a_zip_without_room_is_told_with_the_room_there_is():
    text = BOX.format(wide=400, deep=120, radius=0, thick=80, under=0, more="past_corner = 101")
    found = problem_of(text)
    assert found.code == "G173"
    # Corners of 15 mm, the least: each takes 2 - pi / 2 of its radius off the side.
    room = 120.0 - (2.0 - 0.5 * math.pi) * 15.0 - LEFT_OF_SIDE_MM
    assert f"{room:.0f} mm, write that or less" in found.text


def test_corners_made_rounder_than_a_side_has_room_for_are_told():
    """Two least corners of 15 mm take all of a side of 30."""
    found = problem_of(BOX.format(wide=400, deep=29, radius=0, thick=80, under=0, more="past_corner = 0"))
    assert found.code == "G101"
    assert "make the corners less round" in found.text


@pytest.mark.parametrize(
    ("radius", "welt", "least"), [(14.0, False, 15), (15.0, False, None), (24.0, True, 25), (25.0, True, None)]
)
def test_a_corner_too_sharp_to_be_turned_out_is_told_and_made_rounder(radius, welt, least):
    pad = box(radius=radius, under=0.0, more="welt = true\n" if welt else "", edge_mm=60.0)
    told = [(p.code, p.warning) for p in pad.problems]
    assert told == ([] if least is None else [("G174", True)])
    if least is not None:
        (said,) = pad.problems
        assert f"{radius:g} mm radius" in said.text
        assert f"{least} mm round" in said.text
        plate = area(by_part(pad)["top plate"])
        assert plate == pytest.approx(420.0 * 360.0 - (4.0 - math.pi) * least**2, rel=1e-3)


def test_a_card_is_as_thick_as_its_wrap_all_over():
    """A flat board: its cover lies one wrap over the board, everywhere."""
    pad = sheet_of(starter_text("card")).pads[0]
    built = build_surface(pad, edge_mm=40.0)
    assert built.thickness_mm == pytest.approx(wrap_mm(pad))
    assert built.thickness_mm.shape == (len(built.surface.vertices),)
    assert built.surface.vertices[:, 2] - built.support.vertices[:, 2] == pytest.approx(wrap_mm(pad))
