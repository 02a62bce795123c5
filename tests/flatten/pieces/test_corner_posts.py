"""Posts at corners: where their cuts end on the piece, against what a flat board with upright sides gives. Invented
data."""

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Polygon

from flatten.held.posts import FORK_MM, SHORT_OF_POST_MM
from flatten.job.make import make
from flatten.pieces.piece import EdgeKind, LineKind
from meshes.records.corners import CornerFinish
from tests.pads import sheet_of

WIDE, DEEP, DROP = 420.0, 340.0, 50.0
SIDES = "".join(f"[pad.sides.{side}]\ndrop = {DROP}\nedge_radius = 2\n" for side in ("front", "right", "rear"))
BOARD = f"""
name = "board"
[cover]
tension = 0
[cover.card]
name = "slack"
thickness = 1
stretch_along = 0.06
stretch_across = 0.06
pull = 0
[output]
mesh = 24
[[pad]]
name = "seat"
kind = "cushion"
[pad.outline]
front_width = {WIDE}
rear_width = {WIDE}
depth = {DEEP}
corner_radius = 2
{SIDES}"""
# From the outline's own edge down to the tack line along the cover, round an edge of 2 mm.
DOWN = DROP - 2.0 + np.pi - 2.0
POST = '[[pad.post]]\ncorner = "rear_left"\nwidth = 40\n'


def face_of(more):
    job = make(sheet_of(BOARD + more), workers=1)
    return job, next(piece for piece in job.pieces if piece.name == "face")


def lines(piece, kind):
    return [line.points for line in piece.inner if line.kind is kind]


@pytest.fixture(scope="module")
def square():
    return face_of('[pad.folds]\nall = "single"\n' + POST + "depth = 35\n")


@pytest.fixture(scope="module")
def folded():
    return face_of('[pad.folds]\nall = "single"\n' + POST + "down = 20\n")


def test_a_post_in_a_corner_has_one_cut_from_the_corner_of_the_leather_to_its_inner_corner(square):
    _, piece = square
    edges = {edge.name: edge.points for edge in piece.edges}
    left, rear = (LineString(edges[f"{side} tack line"]) for side in ("left", "rear"))
    faces = [line for line in lines(piece, LineKind.HELD) if line[:, 0].mean() < piece.sew[:, 0].mean()]
    (face,) = faces
    # The corner of the post that faces the middle: 40 from the left edge, 35 from the rear one.
    away = {side: shapely.distance(shapely.points(face), line) for side, line in (("left", left), ("rear", rear))}
    corner = int(np.argmax(away["left"] + away["rear"]))
    inner = face[corner]
    assert [away["left"][corner], away["rear"][corner]] == pytest.approx([40.0 + DOWN, 35.0 + DOWN], abs=1.0)
    cuts = [line for line in lines(piece, LineKind.LATER) if np.linalg.norm(line[-1] - inner) < 10.0]
    (cut,) = cuts
    assert np.linalg.norm(cut[-1] - inner) == pytest.approx(SHORT_OF_POST_MM)
    assert Polygon(piece.cut).exterior.distance(shapely.Point(cut[0])) < 1e-5
    # It runs through the corner that both tack lines have in common.
    fold = next(edge for edge in piece.edges if edge.name == "rear left fold")
    assert LineString(cut).distance(shapely.Point(fold.points[1])) < 1.0
    assert any("diagonal cut for the post in the rear left corner" in note for note in piece.notes)


def test_that_corner_is_not_folded_and_asks_nothing_and_the_others_keep_their_folds(square):
    job, piece = square
    pad = job.pads[0].pad
    assert {corner for corner, finish in pad.folds.finishes if finish is CornerFinish.CUT} == {
        "rear_left",
        "rear_right",
    }
    assert pad.folds.of("front_left") is CornerFinish.SINGLE
    assert job.flats["seat face"].demand < 0.02
    folds = lines(piece, LineKind.FOLD)
    middle = piece.sew[:, 1].mean()
    assert folds
    assert all(line[:, 1].mean() < middle for line in folds)
    assert any("cut in for the post, no fold" in note for note in piece.notes)
    assert not {problem.code for problem in job.problems} & {"F340", "G202", "G207", "G208"}


def test_an_even_pad_has_its_mirror_image_too(square):
    _, piece = square
    middle = 0.5 * (piece.sew[:, 0].min() + piece.sew[:, 0].max())
    ends = sorted(line[-1][0] - middle for line in lines(piece, LineKind.LATER) if line[-1][1] > piece.sew[:, 1].mean())
    assert len(ends) == 2
    assert ends[0] == pytest.approx(-ends[1], abs=0.05)


def test_a_post_that_stands_across_has_a_y_cut_to_both_ends_of_its_face():
    _, piece = face_of('[pad.folds]\nall = "single"\n' + POST + "turned = true\n")
    face = next(line for line in lines(piece, LineKind.HELD) if line[:, 0].mean() < piece.sew[:, 0].mean())
    fork = next(
        line for line in lines(piece, LineKind.LATER) if len(line) == 3 and line[:, 0].mean() < piece.sew[:, 0].mean()
    )
    assert shapely.Point(fork[1]).distance(LineString(face)) == pytest.approx(FORK_MM, abs=0.2)
    assert [np.linalg.norm(fork[0] - face[0]), np.linalg.norm(fork[2] - face[-1])] == pytest.approx(
        [SHORT_OF_POST_MM] * 2, abs=0.3
    )
    # All of it that is drawn lies on the face of the pad; the whole is 40 wide.
    assert 34.0 < np.linalg.norm(face[-1] - face[0]) <= 40.5


def test_a_post_below_the_edge_is_cut_up_the_fold_and_both_are_told(folded):
    job, piece = folded
    assert [problem.code for problem in job.problems if problem.code.startswith("G2")] == ["G207"]
    fold = next(edge for edge in piece.edges if edge.name == "rear left fold")
    legs = np.linalg.norm(fold.points[0] - fold.points[1])
    face = next(line for line in lines(piece, LineKind.HELD) if line[:, 0].mean() < piece.sew[:, 0].mean())
    # On the diagonal of a square of the drop, 20 mm of it left above the post.
    left = np.sqrt(2.0) * legs * (1.0 - 20.0 / DOWN)
    assert np.linalg.norm(face.mean(axis=0) - fold.points[1]) == pytest.approx(left, abs=1.5)


def test_a_seam_down_the_corner_stays_open_below_the_post():
    _, piece = face_of('[pad.folds]\nall = "sewn"\n' + POST + "down = 20\n")
    assert any("open for the lowest 30 mm" in note for note in piece.notes)
    assert not [line for line in piece.inner if line.kind is LineKind.LATER]
    ticks = [line for line in piece.inner if line.name == "open below"]
    legs = [edge for edge in piece.edges if edge.kind is EdgeKind.SEWN]
    for tick in ticks:
        assert min(LineString(leg.points).distance(shapely.Point(tick.points[0])) for leg in legs) < 1e-6
        assert np.linalg.norm(tick.points[1] - tick.points[0]) == pytest.approx(8.0)


BANDED = BOARD.replace("edge_radius = 2\n", "edge_radius = 2\nband = true\n").replace(
    "corner_radius = 2", "corner_radius = 30"
)


def test_a_band_that_goes_round_the_corner_has_a_y_cut_which_keeps_off_its_seams():
    round_it = '[pad.bands]\ncorners = { rear_left = "sides", rear_right = "sides" }\n'
    job = make(sheet_of(BANDED + round_it + POST.replace("40", "10") + "down = 28\n"), workers=1)
    (cut,) = [piece for piece in job.pieces if lines(piece, LineKind.LATER)]
    assert cut.name.startswith(("right band", "left band"))
    low = np.concatenate([edge.points for edge in cut.edges if edge.name.endswith("tack line")])
    (post,) = lines(cut, LineKind.HELD)
    assert shapely.distance(shapely.points(post), LineString(low)) == pytest.approx([DROP - 28.0] * 2, abs=0.3)
    assert not any(problem.code == "G208" for problem in job.problems)
    # A wider one comes too near to the seam where the corner ends.
    wide = make(sheet_of(BANDED + round_it + POST + "down = 28\n"), workers=1)
    assert "G208" in {problem.code for problem in wide.problems}


def test_a_post_larger_than_the_face_is_told():
    job, _ = face_of('[pad.folds]\nall = "single"\n' + POST + "depth = 400\n")
    assert "G202" in {problem.code for problem in job.problems}
