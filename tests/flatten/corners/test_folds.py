"""Folded corners: what they take in, what is left to stretch, and how the leather between the flaps is laid."""

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Polygon

from flatten.corners.clearance import clearance_mm, clearance_notes
from flatten.corners.lines import fold_lines, opens_to
from flatten.corners.wedge import wedge
from flatten.corners.words import fold_notes
from flatten.demand.develop import flatten
from flatten.figures.report import report
from flatten.job.make import make
from flatten.pieces.pattern import pieces_of
from flatten.pieces.piece import EdgeKind, LineKind
from meshes.base.problems import Problem
from meshes.base.surface import directed_edges, triangle_areas
from meshes.padding.layers import edge_thickness
from meshes.padding.support_mesh import support_mesh
from meshes.records.corners import CORNERS_AFTER, CornerFinish, Folds
from meshes.seat.corner_folds import corner_sectors
from meshes.sheet.whole import Allowance
from meshes.support.chart import make_problem_for, pad_chart
from meshes.support.rim import face_of
from tests.pads import built, sheet_of

SIDE = "drop = {drop}\nedge_radius = {edge}\n"


def slip(*, drop=50.0, edge=2.0, radius=2.0, foam=0.0, folds='all = "single"'):
    sides = "".join(f"[pad.sides.{s}]\n{SIDE.format(drop=drop, edge=edge)}" for s in ("front", "right", "rear"))
    layer = f'[[pad.layer]]\nmaterial = "foam_firm"\nthickness = {foam}\n' if foam else ""
    return (
        'name = "slip"\n[[pad]]\nname = "seat"\nkind = "cushion"\n[pad.outline]\nfront_width = 460\nrear_width = 390\n'
        f"depth = 410\ncorner_radius = {radius}\n{sides}{layer}" + (f"[pad.folds]\n{folds}\n" if folds else "")
    )


@pytest.fixture(scope="module")
def box():
    """A bare board with sharp edges, which is a box to a hair, and its piece."""
    return unfolded(2.0, 20.0)


def unfolded(radius, mesh):
    pad = built(slip(radius=radius), edge_mm=mesh)
    flats = {panel.name: flatten(panel.surface.vertices, panel.surface.triangles) for panel in pad.panels}
    return pad, pieces_of(pad, flats, Allowance())[0]


def test_a_box_corner_leaves_a_square_of_its_drop():
    """A sheet over a box corner with drop h: h x h lies between the flaps (geometry of a box corner)."""
    h = 48.0
    before = np.array([[-200.0, 0.0], [0.0, 0.0]])
    notch = np.array([[0.0, 0.0], [0.0, h], [h, h]])
    after = np.array([[h, h], [h, 300.0]])
    found = wedge(before, notch, after, 0.5)
    assert found.mouth == pytest.approx(np.array([[0.0, 0.0], [h, 0.0], [h, h]]))
    assert Polygon(np.concatenate([found.mouth, notch[1:2]])).area == pytest.approx(h * h)
    assert found.tip == pytest.approx([0.0, h])
    assert [leg[0].tolist() for leg in found.legs] == [[0.0, 0.0], [h, h]]


def test_tack_lines_that_never_meet_are_joined_straight():
    notch = np.array([[0.0, 0.0], [5.0, 40.0], [15.0, 40.0], [20.0, 0.0]])
    found = wedge(np.array([[-90.0, 0.0], [0.0, 0.0]]), notch, np.array([[20.0, 0.0], [110.0, 0.0]]), 0.4)
    assert found.mouth == pytest.approx(notch[[0, -1]])


@pytest.mark.parametrize(("radius", "mesh"), [(2.0, 20.0), (15.0, 8.0)])
def test_folds_of_a_box_take_the_square_of_its_drop(radius, mesh):
    """Beyond what covers the corner's arc a fold takes h^2 + (2 h r + r^2)(1 - pi / 4), and of the lower edge
    2 h + 2 r (1 - pi / 4): a square h x h and 8 h round four sharp corners (geometry of a box corner)."""
    pad, piece = unfolded(radius, mesh)
    assert [fold.corner for fold in pad.division.folds] == list(CORNERS_AFTER)
    areas = triangle_areas(pad.surface.vertices, pad.surface.triangles)
    tacked = 0.0
    for fold in pad.division.folds:
        rim = next(edge for edge in pad.panels[0].rim if edge.name == fold.name)
        mouth = next(edge for edge in piece.edges if edge.name == fold.name)
        assert mouth.kind is EdgeKind.FOLDED
        notch = piece.mesh.points[rim.vertices]
        leather = Polygon(np.concatenate([mouth.points, notch[::-1][1:-1]])).area
        h, rest = fold.depth_mm, 1.0 - 0.25 * np.pi
        assert h == pytest.approx(50.0, abs=2.0)
        takes = leather - areas[fold.triangles].sum()
        # The board's corners are not square: 85 and 95 degrees.
        assert takes == pytest.approx(h**2 + (2 * h + radius) * radius * rest, rel=0.15)
        tacked += np.linalg.norm(np.diff(mouth.points, axis=0), axis=1).sum() - foot(pad, fold)
    assert tacked == pytest.approx(4 * (2 * h + 2 * radius * rest), rel=0.05)


def leather_mm2(pad, piece, fold):
    """Area between the flaps of a fold on its piece, by another library."""
    rim = next(edge for edge in pad.panels[0].rim if edge.name == fold.name)
    mouth = next(edge for edge in piece.edges if edge.name == fold.name)
    return Polygon(np.concatenate([mouth.points, piece.mesh.points[rim.vertices][::-1][1:-1]])).area


def foot(pad, fold):
    """Length of the tack line below what a corner takes in."""
    edges = np.sort(directed_edges(pad.surface.triangles[fold.triangles]), axis=1)
    whole = np.sort(directed_edges(pad.surface.triangles), axis=1)
    keys, counts = np.unique(whole, axis=0, return_counts=True)
    rim = {tuple(edge) for edge in keys[counts == 1].tolist()}
    own = np.array([edge for edge in edges.tolist() if tuple(edge) in rim])
    return np.linalg.norm(np.diff(pad.surface.vertices[own], axis=1)[:, 0], axis=1).sum()


def test_what_corners_take_in_and_the_panel_are_the_whole_cover(box):
    pad, _ = box
    taken = np.concatenate([pad.panels[0].triangles, *(fold.triangles for fold in pad.division.folds)])
    assert np.array_equal(np.sort(taken), np.arange(len(pad.surface.triangles)))
    areas = triangle_areas(pad.surface.vertices, pad.surface.triangles)
    assert areas[taken].sum() == pytest.approx(areas.sum())


def test_a_box_unfolds_without_any_stretch(box):
    _, piece = box
    assert piece.mesh.stretch.max() / piece.mesh.stretch.min() < 1.02


def test_folds_take_most_of_what_a_padded_corner_asks():
    """A slip seat of 30 mm foam on a board of 18: outside its folds it asks a fraction of what it asks in one."""
    sheets = [slip(drop=18.0, edge=6.0, radius=15.0, foam=30.0, folds=folds) for folds in ('all = "double"', "")]
    folded, whole = (built(sheet, edge_mm=16.0) for sheet in sheets)
    flats = [flatten(pad.panels[0].surface.vertices, pad.panels[0].surface.triangles) for pad in (folded, whole)]
    assert flats[0].demand < 0.06 < 0.15 < flats[1].demand
    piece = pieces_of(folded, {"seat face": flats[0]}, Allowance())[0]
    areas = triangle_areas(folded.surface.vertices, folded.surface.triangles)
    taken = sum(areas[fold.triangles].sum() for fold in folded.division.folds)
    flat = Polygon(flats[0].points[np.concatenate([edge.vertices[:-1] for edge in folded.panels[0].rim])])
    # Four folds, each at most the square of what foam and board are high, and a fifth.
    assert 0.0 < Polygon(piece.sew).area - flat.area - taken < 4 * 1.2 * 48.0**2


def test_left_and_right_are_alike(box):
    pad, piece = box
    assert pad.panels[0].mirror is not None
    ends = {edge.name: edge.points for edge in piece.edges}
    middle = 0.5 * (piece.sew[:, 0].min() + piece.sew[:, 0].max())
    for end in ("front", "rear"):
        left, right = ends[f"{end} left fold"], ends[f"{end} right fold"]
        assert left[::-1] * [-1, 1] + [2 * middle, 0] == pytest.approx(right, abs=0.05)


def test_a_fold_never_opens_to_the_front():
    assert {corner: opens_to(corner) for corner in CORNERS_AFTER} == {
        "front_right": "right",
        "rear_right": "rear",
        "rear_left": "rear",
        "front_left": "left",
    }


@pytest.mark.parametrize("finish", [CornerFinish.DRAWN, CornerFinish.SINGLE, CornerFinish.DOUBLE])
def test_lines_lie_within_the_leather_of_the_fold_and_the_relief_cut_in_its_allowance(finish):
    h = 40.0
    notch = np.array([[0.0, 0.0], [0.0, h], [h, h]])
    leather = wedge(np.array([[-200.0, 0.0], [0.0, 0.0]]), notch, np.array([[h, h], [h, 300.0]]), 0.5)
    lines = fold_lines(leather, finish, "front_right", 50.0)
    cuts = [points for name, points in lines if name == "relief cut"]
    square = Polygon([(0, 0), (h, 0), (h, h), (0, h)]).buffer(1e-6)
    for name, points in lines:
        if name != "relief cut":
            assert all(square.covers(Polygon([p, p + 1e-9, p - 1e-9]).centroid) for p in points)
    assert len(cuts) == 1
    assert np.linalg.norm(cuts[0] - leather.far, axis=1) == pytest.approx([12.7, 50.0])


def test_the_piece_says_how_and_how_deep(box):
    pad, piece = box
    notes = fold_notes(pad.division.folds, [leather_mm2(pad, piece, fold) for fold in pad.division.folds])
    assert all(note in piece.notes for note in notes)
    assert any("rear right and rear left" in note and "open to the rear" in note for note in notes)
    assert {line.kind for line in piece.inner} == {LineKind.FOLD}


def test_left_copies_right_and_one_corner_may_differ():
    pad = sheet_of(slip(folds='all = "single"\nfront_right = "drawn"')).pads[0]
    assert pad.folds.of("front_left") is CornerFinish.DRAWN
    assert pad.folds.of("rear_left") is CornerFinish.SINGLE
    assert pad.symmetric


@pytest.mark.parametrize(
    ("room", "told"),
    [(0.5, "make the board"), (2.0, "cut away or skive"), (4.0, None), (None, None)],
)
def test_what_does_not_go_beside_a_rail_is_told(box, room, told):
    """Leather of 1.2 mm in three layers is 3.6 mm (computed)."""
    pad = box[0]
    pad = replace(pad, pad=replace(pad.pad, folds=Folds(pad.pad.folds.finishes, room)))
    notes = clearance_notes(pad, 1.2, lambda code, keys, text: Problem(code, "seat", text))
    assert [note.code for note in notes] == (["G180"] if told else [])
    if told:
        assert told in notes[0].text
        assert notes[0].warning
        short = (1.2 if told == "make the board" else 3.6) - room
        assert f"{short:.1f} mm smaller" in notes[0].text


@pytest.mark.parametrize("mesh", [24.0, 9.0])
def test_a_fold_is_as_wide_as_its_corners_arc_whatever_the_triangles(mesh):
    """Its legs stand at the very ends of the arc, so that they lie a quarter turn apart less what the sides lean."""
    pad = sheet_of(slip(radius=40.0, foam=10.0)).pads[0]
    make_problem = make_problem_for(pad)
    chart = pad_chart(pad, edge_thickness(pad), make_problem)
    meshed = support_mesh(pad, chart, face_of(pad), make_problem, edge_mm=mesh)
    parts = np.zeros(len(meshed.mesh.triangles), dtype=np.int64)
    sectors = corner_sectors(meshed, parts, make_problem)
    assert len(sectors) == 4
    for sector, middle in zip(sectors, chart.corners, strict=True):
        ends = [meshed.mesh.u[leg[0]] - middle for leg in sector.legs]
        off = np.mod(np.array(ends) + 4.0, 8.0) - 4.0
        assert off == pytest.approx([-0.5, 0.5], abs=1e-6)


SETTLED = """
[output]
mesh = 14
[cover]
leather = "soft"
tension = 100
"""


@pytest.fixture(scope="module")
def finished():
    """A slip seat of 30 mm foam with each finish of its corners, pulled over and at rest."""
    seat = {"drop": 18.0, "edge": 6.0, "radius": 15.0, "foam": 30.0}
    words = ("single", "double", "drawn", "sewn")
    return {word: make(sheet_of(slip(**seat, folds=f'all = "{word}"') + SETTLED), workers=1) for word in words}


def test_a_slip_seat_fits_however_its_corners_are_finished(finished):
    for job in finished.values():
        flat = job.flats["seat face"]
        assert flat.certified
        assert flat.verdict == "fits"
        assert flat.demand < 0.07


def test_a_sewn_corner_is_a_seam_from_the_tack_line_up_to_the_edge(finished):
    job = finished["sewn"]
    (pad,) = job.pads
    assert not pad.division.folds
    assert [seam.name for seam in job.seams] == [f"seat face corner {k}" for k in (1, 2, 3, 4)]
    folded = {fold.corner: fold.depth_mm for fold in finished["single"].pads[0].division.folds}
    for seam, figures in zip(pad.seams, job.seams, strict=True):
        assert figures.length_a_mm == pytest.approx(figures.length_b_mm, abs=0.05)
        assert seam.a == seam.b == "seat face"
        legs = [edge for edge in pad.panels[0].rim if edge.seam == seam.name]
        assert [edge.name for edge in legs] == ["corner", "corner"]
        # As deep as a fold there: from the padded edge to the tack line.
        assert figures.seat_mm == pytest.approx(np.mean(list(folded.values())), rel=0.12)
    assert len(report(job)["pads"][0]["sewn_corners"]) == 4
    assert report(finished["single"])["pads"][0]["sewn_corners"] == []


def test_sewn_corners_take_less_leather_than_folded_ones_and_ask_more_of_it(finished):
    """A fold keeps its leather on the piece, a sewn corner cuts it away; what a fold takes in asks nothing."""
    sewn, folded = (finished[word].pieces[0] for word in ("sewn", "single"))
    assert Polygon(sewn.sew).area < Polygon(folded.sew).area
    asked = {word: job.flats["seat face"].demand for word, job in finished.items()}
    assert asked["single"] < asked["sewn"]
    assert asked["single"] == pytest.approx(asked["double"], abs=0.002)


def test_the_report_tells_depth_and_leather_of_every_fold(finished):
    job = finished["single"]
    (piece,) = job.pieces
    rows = report(job)["pads"][0]["folds"]
    for row, fold in zip(rows, job.pads[0].division.folds, strict=True):
        assert row["leather_mm2"] == pytest.approx(leather_mm2(job.pads[0], piece, fold), rel=1e-6)
        takes = row["leather_mm2"] - row["covers_mm2"]
        # At most the square of what board and foam are high, and a fifth.
        assert 0.0 < takes < 1.2 * 48.0**2


@pytest.mark.parametrize(
    ("leather", "foam", "room"),
    [(0.7, 10.0, 3.0), (1.2, 10.0, 6.0), (1.2, 25.0, 6.0), (1.2, 30.0, 9.0), (0.7, 30.0, 9.0)],
)
def test_a_rail_leaves_what_is_usual(leather, foam, room):
    """3 mm with one layer of batting, 6 with leather, 9 with leather on a thick pad (trade magazines)."""
    pad = sheet_of(slip(foam=foam, folds="rail = true")).pads[0]
    assert clearance_mm(pad, leather) == room
    assert clearance_mm(sheet_of(slip(foam=foam, folds="clearance = 4")).pads[0], leather) == 4.0
    assert clearance_mm(sheet_of(slip(foam=foam)).pads[0], leather) is None
