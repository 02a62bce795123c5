"""Blocks on boards against exact bodies: slabs, truncated pyramids, rolled edges, overhangs, stacks, strips."""

from dataclasses import replace

import numpy as np
import pytest

from meshes.base.problems import ProblemError
from meshes.base.surface import triangle_areas
from meshes.outlines.moved import moved_out, rounded
from meshes.padding.layers import edge_thickness
from meshes.records.pad import SIDES, Block, Layer, Outline, Profile
from meshes.seat.build import build
from meshes.support.blocks import Ramp, body_of, face_of
from meshes.support.chart import make_problem_for, pad_chart
from tests.pads import sheet_of

BANDS = "\n".join(f"[pad.sides.{side}]\ndrop = 60\nband = true" for side in ("front", "right", "rear"))
HEAD = f'name = "test"\n[[pad]]\nname = "cushion"\nkind = "cushion"\n{BANDS}\n[pad.outline]\n'
BOARD = sheet_of(HEAD + "front_width = 500\nrear_width = 500\ndepth = 400\ncorner_radius = 40\n").pads[0]
DISC = sheet_of(HEAD + 'shape = "round"\nwidth = 360\n').pads[0]
SHARP = sheet_of(HEAD + "front_width = 500\nrear_width = 500\ndepth = 400\n").pads[0]
WADDING = Layer("wadding", 10.0, "all", None, 0.0)
ROOM = 4.0 - np.pi


def block(thickness=75.0, where="face", within=None, **form):
    return Layer("foam_firm", thickness, where, within, 0.0, block=Block(**form))


def made(pad, *layers, edge_mm=12.0):
    return build(replace(pad, layers=layers), edge_mm=edge_mm)


def area_of(built, *words):
    return sum(
        float(triangle_areas(p.surface.vertices, p.surface.triangles).sum())
        for p in built.panels
        if any(word in p.part for word in words)
    )


def face_area(grown=0.0, radius=40.0):
    """Of the board, moved out."""
    return (500.0 + 2 * grown) * (400.0 + 2 * grown) - ROOM * (radius + grown) ** 2


def rim_length(grown=0.0):
    return 2 * (420.0 + 320.0) + 2 * np.pi * (40.0 + grown)


def test_a_slab_with_square_sides_has_the_boards_outline_and_bands_of_drop_and_slab():
    built = made(BOARD, block(), edge_mm=8.0)
    assert area_of(built, "face") == pytest.approx(face_area(), rel=1e-3)
    assert area_of(built, "band") == pytest.approx(rim_length() * (60.0 + 75.0), rel=1e-3)
    points = built.surface.vertices
    assert points.max(axis=0) == pytest.approx([250.0, 400.0, 75.0], abs=0.2)
    assert points.min(axis=0) == pytest.approx([-250.0, 0.0, -60.0], abs=0.2)
    # Every point lies on the face or square below the outline.
    outline = pad_chart(built.pad, edge_thickness(built.pad), make_problem_for(BOARD)).outline
    inside = outline.nearest(points[:, :2])[1]
    assert np.minimum(np.abs(inside), np.abs(points[:, 2] - 75.0)).max() < 0.2
    for panel in built.panels:
        if "band" in panel.part:
            assert np.ptp(panel.surface.vertices[:, 2]) == pytest.approx(135.0, abs=1e-6)


@pytest.mark.parametrize("degrees", [10.0, 20.0])
def test_bevelled_sides_make_a_truncated_pyramid(degrees):
    built = made(BOARD, block(bevel_deg=degrees), edge_mm=8.0)
    lean = 75.0 * np.tan(np.deg2rad(degrees))
    assert area_of(built, "face") == pytest.approx(face_area(-lean), rel=1e-3)
    # Sides lean alike all round, so what they cover seen from above is their area times a cosine.
    leaning = (face_area() - face_area(-lean)) / np.sin(np.deg2rad(degrees))
    assert area_of(built, "band") == pytest.approx(leaning + 60.0 * rim_length(), rel=1e-3)
    level = built.surface.vertices[np.abs(built.surface.vertices[:, 2]) < 1e-6]
    assert len(level) > 50, "the foot is a row of the mesh"
    assert np.ptp(level, axis=0)[:2] == pytest.approx([500.0, 400.0], abs=0.2)


@pytest.mark.parametrize(("radius", "degrees"), [(30.0, 0.0), (30.0, 25.0), (75.0, 0.0)])
def test_a_rolled_edge_is_an_arc_that_leaves_top_and_side_as_they_were(radius, degrees):
    layer = block(edge_radius=radius, bevel_deg=degrees)
    points = made(BOARD, layer, edge_mm=6.0).surface.vertices
    middle = points[(np.abs(points[:, 1] - 200.0) < 120.0) & (points[:, 0] > 100.0)]
    lean, turn = 75.0 * np.tan(np.deg2rad(degrees)), np.deg2rad(90.0 - degrees)
    arc_x = 250.0 - lean - radius * np.tan(0.5 * turn)
    on_arc = (middle[:, 0] > arc_x) & (middle[:, 2] > 75.0 - radius * (1.0 - np.cos(turn)) + 1e-6)
    assert on_arc.sum() > 20
    off = np.hypot(middle[on_arc, 0] - arc_x, middle[on_arc, 2] - (75.0 - radius)) - radius
    assert np.abs(off).max() < 0.2
    assert middle[middle[:, 0] < arc_x, 2] == pytest.approx(75.0, abs=1e-6)
    low = middle[(middle[:, 2] < 75.0 - radius * (1.0 - np.cos(turn))) & (middle[:, 2] > 0.0)]
    assert low[:, 0] == pytest.approx(250.0 - low[:, 2] * np.tan(np.deg2rad(degrees)), abs=0.2)


def test_two_blocks_are_one_as_high_as_both():
    one, two = made(BOARD, block(75.0)), made(BOARD, block(40.0), block(35.0))
    assert two.surface.vertices == pytest.approx(one.surface.vertices, abs=1e-9)


@pytest.mark.parametrize("pad", [BOARD, DISC, SHARP], ids=["rounded", "disc", "sharp"])
def test_over_an_overhang_the_cover_runs_straight_from_its_foot_to_the_tack_line(pad):
    built = made(pad, block(overhang=8.0))
    points = built.surface.vertices
    outline = pad_chart(replace(pad, layers=()), dict.fromkeys(SIDES, 0.0), make_problem_for(pad)).outline
    out = -outline.nearest(points[:, :2])[1]
    foot, tack = np.abs(points[:, 2]) < 1e-6, points[:, 2] < -60.0 + 1e-6
    assert foot.sum() > 50
    # Square corners of foam reach further out at their tips.
    assert np.median(out[foot]) == pytest.approx(8.0, abs=0.2)
    assert out[tack] == pytest.approx(0.0, abs=0.2)
    between = (points[:, 2] < -1.0) & (points[:, 2] > -59.0)
    assert np.median(out[between] - 8.0 * (1.0 + points[between, 2] / 60.0)) == pytest.approx(0.0, abs=0.2)


def test_a_crowned_top_is_as_high_as_its_profiles_and_its_sides_as_its_rim():
    crown = (
        Profile("along", 0.0, ((0.0, 0.0), (100.0, 15.0), (200.0, 20.0), (300.0, 15.0), (400.0, 0.0))),
        Profile("across", 200.0, ((-250.0, 0.0), (0.0, 20.0), (250.0, 0.0))),
    )
    built = made(BOARD, block(top=crown))
    assert built.surface.vertices[:, 2].max() == pytest.approx(95.0, abs=0.3)
    face = face_of(built.pad)
    for profile in crown:
        for place, height in profile.points:
            at = [profile.at, place] if profile.direction == "along" else [place, profile.at]
            assert face.height(np.array([at])) == pytest.approx([75.0 + height], abs=0.2)
    for panel in built.panels:
        if "band" in panel.part:
            assert np.ptp(panel.surface.vertices[:, 2]) == pytest.approx(135.0, abs=0.5)


def test_what_is_laid_over_a_square_edge_goes_round_it():
    built = made(BOARD, block(), WADDING, edge_mm=6.0)
    points = built.surface.vertices
    assert np.ptp(points, axis=0) == pytest.approx([520.0, 420.0, 145.0], abs=0.2)
    middle = points[(np.abs(points[:, 1] - 200.0) < 120.0) & (points[:, 0] > 250.001) & (points[:, 2] > 75.001)]
    assert len(middle) > 10
    assert np.hypot(middle[:, 0] - 250.0, middle[:, 2] - 75.0) == pytest.approx(10.0, abs=0.05)


def test_what_lies_beneath_a_block_raises_it_and_comes_out_below_its_foot():
    pad = replace(BOARD, layers=(WADDING, block()))
    points = build(pad, edge_mm=8.0).surface.vertices
    assert points[:, 2].max() == pytest.approx(85.0)
    assert edge_thickness(pad) == dict.fromkeys(SIDES, 0.0)
    assert points[np.abs(points[:, 2] - 40.0) < 30.0][:, 0].max() == pytest.approx(250.0, abs=0.2)
    assert points[points[:, 2] < -40.0][:, 0].max() == pytest.approx(260.0, abs=0.2)


def test_a_narrower_block_rises_from_the_one_beneath_it():
    """A bevel of 45 degrees: what its ramp holds is known."""
    pad = replace(BOARD, layers=(block(40.0), block(30.0, overhang=-60.0, bevel_deg=45.0)))
    face = face_of(pad)
    x = np.array([0.0, 155.0, 175.0, 195.0, 205.0, 240.0])
    height = face.height(np.column_stack([x, np.full(len(x), 200.0)]))
    # Both its edges are rounded a little; the middle of the ramp is where it is cut.
    assert height[[0, 2, 5]] == pytest.approx([70.0, 55.0, 40.0], abs=0.05)
    assert (np.diff(height) <= 0.0).all()
    body = body_of(pad)
    assert body.forms[1].sides == ()
    assert body.outward == 0.0
    assert np.ptp(made(pad, *pad.layers).surface.vertices[:, 2]) == pytest.approx(130.0)


def test_strips_along_two_sides_are_bolsters_with_upright_outer_sides():
    strips = [replace(block(35.0), where=side, within=60.0) for side in ("left", "right")]
    built = made(BOARD, block(40.0), *strips, edge_mm=8.0)
    points = built.surface.vertices
    assert np.ptp(points, axis=0) == pytest.approx([500.0, 400.0, 135.0], abs=0.2)
    for panel in built.panels:
        if panel.part in ("left band", "right band"):
            own = panel.surface.vertices
            assert np.ptp(own[np.abs(own[:, 1] - 200.0) < 100.0, 2]) == pytest.approx(135.0)
    middle = points[(np.abs(points[:, 0]) < 100.0) & (points[:, 1] > 5.0) & (points[:, 1] < 395.0)]
    assert middle[:, 2] == pytest.approx(40.0, abs=1e-6)
    face = face_of(built.pad)
    # The upper edge over the face lies where the strip is cut.
    # and is rounded a little; its side rises there.
    assert face.height(np.array([[201.0, 200.0], [180.0, 200.0]])) == pytest.approx([75.0, 47.5], abs=0.5)
    assert (points * [-1, 1, 1])[np.lexsort((points * [-1, 1, 1]).T)] == pytest.approx(points[np.lexsort(points.T)])


@pytest.mark.parametrize("slope", [20.0, 45.0, 70.0])
@pytest.mark.parametrize("height", [4.0, 40.0])
def test_a_ramp_rises_once_no_steeper_than_its_side_and_as_round_as_its_edges(slope, height):
    ramp = Ramp(height, np.deg2rad(slope), 6.0, 9.0)
    at = np.linspace(-150.0, 40.0, 190001)
    up = height * ramp.share(at)
    assert up[0] == 0.0
    assert up[-1] == height
    first = np.gradient(up, at)
    assert first.min() > -1e-6
    assert first.max() < np.tan(np.deg2rad(slope)) * (1 + 1e-6) + 1e-6
    bend = np.gradient(first, at) / (1.0 + first**2) ** 1.5
    assert bend.max() < (1 / 9.0) * 1.02
    assert bend.min() > -(1 / 6.0) * 1.02
    if height == 40.0:
        # The line of its side runs through the upper edge.
        middle = np.argmin(np.abs(up - 20.0))
        assert up[middle] == pytest.approx(height + at[middle] * np.tan(np.deg2rad(slope)), abs=1e-6)


def own(*corners, radii=0.0):
    return Outline(tuple(corners), (radii,) * 4, SIDES, symmetric=True)


@pytest.mark.parametrize("by", [8.0, -60.0])
def test_an_outline_of_its_own_that_is_the_pads_moved_makes_the_body_that_an_overhang_makes(by):
    layers = [block(40.0)] if by < 0.0 else []
    theirs = made(BOARD, *layers, block(30.0, overhang=by))
    ours = made(BOARD, *layers, block(30.0, outline=moved_out(BOARD.outline, by)))
    assert ours.surface.vertices == pytest.approx(theirs.surface.vertices, abs=1e-6)


def test_a_square_slab_on_a_board_that_runs_in_has_its_own_outline_down_to_its_foot():
    """A slab of 520 x 420 on a board of 500/440 x 400: face and sides are the slab's, and the tack line the board's."""
    board = replace(BOARD, outline=own((-250.0, 0.0), (250.0, 0.0), (220.0, 400.0), (-220.0, 400.0), radii=40.0))
    slab = own((-260.0, -10.0), (260.0, -10.0), (260.0, 410.0), (-260.0, 410.0), radii=50.0)
    built = made(board, block(outline=slab), edge_mm=8.0)
    assert area_of(built, "face") == pytest.approx(520.0 * 420.0 - ROOM * 50.0**2, rel=1e-3)
    points = built.surface.vertices
    assert points.max(axis=0) == pytest.approx([260.0, 410.0, 75.0], abs=0.2)
    upright = points[(points[:, 2] > -1e-6) & (points[:, 2] < 75.0 - 1e-6)]
    assert np.abs(rounded(slab).nearest(upright[:, :2])[1]).max() < 0.2
    tacked = points[points[:, 2] < -60.0 + 1e-6]
    assert len(tacked) > 50
    assert np.abs(rounded(board.outline).nearest(tacked[:, :2])[1]).max() < 0.3


def test_an_outline_that_is_cut_off_at_the_rim_is_a_strip_where_it_ends_there():
    knee = own((-300.0, -50.0), (300.0, -50.0), (300.0, 120.0), (-300.0, 120.0))
    pads = [
        replace(BOARD, layers=(block(40.0), roll))
        for roll in (block(30.0, outline=knee), replace(block(30.0), where="front", within=120.0))
    ]
    bodies = [body_of(pad) for pad in pads]
    assert bodies[0].forms[1].sides == ("front",)
    at = np.array([[x, y] for x in (0.0, 120.0, 200.0) for y in (5.0, 60.0, 100.0, 118.0, 125.0, 160.0)])
    heights = [body.height(at) for body in bodies]
    assert heights[0] == pytest.approx(heights[1], abs=1e-6)
    assert heights[0].max() == pytest.approx(70.0)


@pytest.mark.parametrize(
    ("outline", "words"),
    [
        (own((-80.0, -20.0), (80.0, -20.0), (80.0, 200.0), (-80.0, 200.0)), "ends at the front along"),
        (
            replace(
                moved_out(SHARP.outline, 9.0),
                corners=((-259.0, -9.0), (0.0, -15.0), (259.0, -9.0), (259.0, 409.0), (-259.0, 409.0)),
                radii=(0.0,) * 5,
                side_of_edge=("front", "front", "right", "rear", "left"),
            ),
            "5 corners",
        ),
    ],
)
def test_an_outline_of_its_own_that_ends_in_the_middle_of_a_side_is_refused_with_its_figure(outline, words):
    with pytest.raises(ProblemError) as refused:
        made(BOARD, block(40.0), block(30.0, outline=outline))
    [problem] = refused.value.problems
    assert problem.code == "G210"
    assert words in problem.text


def test_an_outline_moved_out_and_back_is_itself():
    there = moved_out(moved_out(BOARD.outline, 17.0), -17.0)
    assert np.array(there.corners) == pytest.approx(np.array(BOARD.outline.corners))
    assert there.radii == pytest.approx(BOARD.outline.radii)
