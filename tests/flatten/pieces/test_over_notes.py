"""What a piece says of places over its budget, and bare pieces: filler strips and test strips against their pleats."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from shapely.geometry import LineString, Polygon

from flatten.demand.develop import flatten
from flatten.leather.verdict import Verdict
from flatten.pieces.fillers import fillers_of, trial_strip_of
from flatten.pieces.notches import CLEAR_MM, counted, stations
from flatten.pieces.over_notes import near, over_words, with_over_note
from flatten.pieces.piece import FlatMesh, PieceKind
from tests.pieces import boxed_cushion
from tests.pleats import square

# A cushion of 400 x 300 mm with a triangle near each edge and one in its middle.
SPOTS = [(200.0, 20.0), (380.0, 150.0), (200.0, 280.0), (20.0, 150.0), (200.0, 150.0)]


def spotted():
    corners = np.array([[-3.0, -2.0], [3.0, -2.0], [0.0, 4.0]])
    points = np.concatenate([np.array(spot) + corners for spot in SPOTS])
    triangles = np.arange(15).reshape(5, 3)
    mesh = FlatMesh(points, triangles, np.ones((5, 2)), np.tile([1.0, 0.0], (5, 1)))
    piece = boxed_cushion(400.0, 300.0, 12.0)
    fine = tuple(replace(edge, points=np.linspace(edge.points[0], edge.points[1], 41)) for edge in piece.edges)
    return replace(piece, mesh=mesh, edges=fine, notes=())


@pytest.mark.parametrize("k", range(5))
def test_a_place_is_named_by_the_edge_it_is_near(k):
    piece = spotted()
    wanted = f"near edge {k + 1} ({piece.edges[k].name})" if k < 4 else "in the middle"
    assert near(piece, k) == wanted


@pytest.mark.parametrize(("away", "is_near"), [(74.0, True), (76.0, False)])
def test_near_is_within_a_quarter_of_the_smaller_side(away, is_near):
    piece = spotted()
    lift = np.array([0.0, away * 324.0 / 300.0 - 20.0])
    points = piece.mesh.points + np.repeat([[1.0], [0], [0], [0], [0]], 3, axis=0) * lift
    moved = replace(piece, mesh=replace(piece.mesh, points=points))
    assert (near(moved, 0) == "in the middle") != is_near


def flat_with(excess, share, verdict):
    over = None if excess is None else SimpleNamespace(excess=excess, share=share, triangle=1)
    return SimpleNamespace(over=over, verdict=verdict)


@pytest.mark.parametrize(
    ("excess", "share", "words"),
    [
        (0.012, 0.2, "up to 1.2 % beyond what the leather gives, on 20 % of its area"),
        (0.012, 0.04, "up to 1.2 % beyond what the leather gives, on 4.0 % of its area"),
        (1e-5, 1e-5, "up to 0.1 % beyond what the leather gives, on 0.1 % of its area"),
    ],
)
def test_how_much_and_where_is_said(excess, share, words):
    piece = spotted()
    found = over_words(piece, flat_with(excess, share, Verdict.TIGHT))
    assert found == f"{words}, most near edge 2 (right band)"


def test_only_what_is_over_gets_a_note_and_the_advice_goes_with_the_verdict():
    piece = spotted()
    assert with_over_note(piece, flat_with(None, 0.0, Verdict.FITS)) is piece
    (eased,) = with_over_note(piece, flat_with(0.01, 0.02, Verdict.EASE)).notes
    assert eased.endswith("; ease the fullness in there")
    (tight,) = with_over_note(piece, flat_with(0.01, 0.02, Verdict.PROVEN)).notes
    assert tight.endswith("; proven too tight: see the report first")
    kept = with_over_note(replace(piece, notes=("first",)), flat_with(0.01, 0.02, Verdict.EASE)).notes
    assert kept[0] == "first"


# ---- strips ---------------------------------------------------------------------------------------------------------


def flats_of(pad):
    return {p.name: flatten(p.surface.vertices, p.surface.triangles) for p in pad.panels}


@pytest.mark.parametrize("filler", ['filler = "wadding"\nrise = 8\nfiller_thickness = 12\n', ""])
def test_filler_strips_cover_the_pleats_they_are_for(filler):
    """Widths of the pleats times the length of their valleys; the arrow lies in the middle, along the strip."""
    pad = square(f"count = 8\n{filler}", edge_mm=14.0)
    strips = fillers_of(pad, flats_of(pad))
    assert sum(strip.cut_count for strip in strips) == 8
    assert sum(Polygon(s.cut).area * s.cut_count for s in strips) == pytest.approx(400.0 * 300.0, rel=1e-6)
    for strip in strips:
        assert strip.kind is PieceKind.FILLER
        assert Polygon(strip.cut).exterior.is_ccw
        assert strip.cut.min(axis=0) == pytest.approx([0.0, 0.0], abs=1e-9)
        tail, head = strip.grain
        assert (head - tail) == pytest.approx([0.0, min(0.4 * np.ptp(strip.cut[:, 1]), 150.0)])
        assert 0.5 * (tail + head) == pytest.approx(0.5 * (strip.cut.min(axis=0) + strip.cut.max(axis=0)))
        assert {edge.name for edge in strip.edges} == {"front end", "valley", "rear end"}


def test_filler_strips_of_fanned_pleats_are_as_wide_as_their_pleats_at_every_place():
    pad = square("count = 6\nfan = 1.15", edge_mm=14.0)
    strips = fillers_of(pad, flats_of(pad))
    assert sum(strip.cut_count for strip in strips) == 6
    widths = pad.pleats.widths_at(np.array([0.0, 150.0, 300.0]))
    for strip in strips:
        outline = Polygon(strip.cut)
        seen = [outline.intersection(_level(y)).length for y in (1e-6, 150.0, 300.0 - 1e-6)]
        assert min(np.abs(np.array(seen) - column).max() for column in widths.T) < 0.05


def _level(y):
    return LineString([(-10.0, y), (500.0, y)])


def test_the_test_strip_has_a_margin_beside_its_lines():
    cover, backing = trial_strip_of(
        square('count = 8\nfiller = "wadding"\nrise = 8\nfiller_thickness = 12\n', edge_mm=14.0)
    )
    for piece in (cover, backing):
        x = [float(line.points[0, 0]) for line in piece.inner]
        left, right = x[0], np.ptp(piece.cut[:, 0]) - x[-1]
        assert left == pytest.approx(right)
        assert left > 10.0
        assert piece.kind is PieceKind.TEST_STRIP
        assert piece.cut_count == 1
    # Both are seamed by the same number of lines, the cover's farther apart.
    assert len(cover.inner) == len(backing.inner) == 6
    assert np.ptp(cover.cut[:, 0]) > np.ptp(backing.cut[:, 0])


# ---- notches --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("length", "count"), [(29.9, 0), (30.0, 1), (59.9, 1), (60.0, 2), (299.0, 2), (431.0, 3), (1200.0, 9)]
)
def test_short_seams_have_few_notches_and_no_doubled_one_in_the_middle(length, count):
    shares = stations(length, 120.0)
    assert len(shares) == count
    if count == 1:
        assert shares.tolist() == [0.5]
    if count > 1:
        assert abs(shares[-1] - 0.5) > 0.1


@pytest.mark.parametrize("centre", [0.05, 0.31, 0.5, 0.5000001, 0.77, 0.99])
def test_notches_are_counted_outwards_from_the_centre_mark(centre):
    """On either side 1, 2, 3 ... away from it; without one from the end the seam is counted from."""
    shares = np.arange(1, 8) / 8
    numbers = counted(shares, centre)
    left = [n for n, share in zip(numbers, shares, strict=True) if share < centre]
    right = [n for n, share in zip(numbers, shares, strict=True) if share >= centre]
    assert left[::-1] == list(range(1, len(left) + 1))
    assert right == list(range(1, len(right) + 1))
    assert counted(shares, None) == list(range(1, 8))
    assert CLEAR_MM >= 6.0
