"""Figures of seams as laws: what is cut longer is told as long, ease is taken off the side it was asked for, a slip is
found where it is, and a seam is counted from the same end whichever way it is walked."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flatten.pieces.seams import (
    INTERVAL_TOLERANCE_MM,
    SEAM_TOLERANCE_MM,
    SeamFigures,
    counted_from,
    ease_notes,
    seam_figures,
    seam_runs_back,
)
from meshes.seat.panels import Seam
from meshes.sheet.whole import Ease

SEAM = Seam("front", "face", "band", False, np.arange(81))
SEAT = np.column_stack([np.linspace(-200.0, 200.0, 81), np.zeros(81), np.zeros(81)])


def side_of(name, numbers):
    """A panel as far as a seam knows it: its vertices' numbers in the pad, and an edge along them."""
    edge = SimpleNamespace(seam=SEAM.name, vertices=np.arange(len(numbers)))
    seat = SimpleNamespace(vertices=SEAT[numbers])
    return SimpleNamespace(name=name, rim=(edge,), vertices=numbers, surface=seat, mirror_of=None, mirror=None)


# Two panels run along their common edge in opposite directions.
PANELS = {"face": side_of("face", SEAM.vertices), "band": side_of("band", SEAM.vertices[::-1])}


def figures(a=lambda x: x, b=lambda x: x, eases=()):
    """A seam of 400 mm along x, places on both of its pieces moved."""
    moves = {"face": a, "band": b}
    flats = {}
    for name, move in moves.items():
        x = PANELS[name].surface.vertices[:, 0]
        flats[name] = SimpleNamespace(points=np.column_stack([move(x), np.zeros(len(x))]))
    return seam_figures([SEAM], PANELS, flats, eases)[0]


def test_a_flat_seam_is_as_long_as_the_board_on_both_pieces():
    row = figures()
    lengths = (row.length_a_mm, row.length_b_mm, row.seat_mm)
    assert lengths == pytest.approx((400.0, 400.0, 400.0), abs=1e-9)
    assert (row.mismatch_mm, row.local_mm, row.ease_mm) == pytest.approx((0.0, 0.0, 0.0), abs=1e-9)
    assert row.sews


@pytest.mark.parametrize(("by", "sews"), [(0.9, True), (-0.9, True), (1.1, False), (-1.1, False)])
def test_what_the_second_side_is_longer_is_the_mismatch(by, sews):
    """Spread over the whole seam 1.5 mm still sews."""
    more = by * SEAM_TOLERANCE_MM
    row = figures(b=lambda x: (1.0 + more / 400.0) * x)
    assert row.mismatch_mm == pytest.approx(more, abs=1e-9)
    assert row.sews == sews
    # The same by cutting the other side shorter.
    assert figures(a=lambda x: (1.0 - more / 400.0) * x).mismatch_mm == pytest.approx(more, abs=1e-9)


@pytest.mark.parametrize("side", ["a", "b"])
@pytest.mark.parametrize("share", [0.01, 0.05])
def test_ease_that_was_cut_as_asked_leaves_no_mismatch(side, share):
    """The longer side is longer by the share asked for; what is eased in is told with the side's sign."""
    ease = Ease(SEAM.name, getattr(SEAM, side), share)
    row = figures(**{side: lambda x: (1.0 + share) * x}, eases=(ease,))
    assert row.mismatch_mm == pytest.approx(0.0, abs=1e-9)
    assert row.local_mm == pytest.approx(0.0, abs=1e-9)
    assert row.ease_mm == pytest.approx(400.0 * share * (1.0 if side == "a" else -1.0), abs=1e-9)
    assert row.sews
    # Asked for and not cut, or cut on the wrong side, it is missing.
    assert not figures(eases=(ease,)).sews
    other = {"a": "b", "b": "a"}[side]
    assert not figures(**{other: lambda x: (1.0 + share) * x}, eases=(ease,)).sews


def slip(place, wide, by):
    """Places along the front moved by `by` within `wide` of a place and moved back beyond it."""
    return lambda x: x + by * np.maximum(0.0, 1.0 - np.abs(x - place) / wide)


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize("place", [-120.0, 0.0, 130.0])
def test_a_slip_along_the_seam_is_found_though_both_sides_are_equal_in_all(place, sign):
    """One side is too long by 0.8 mm over 30 mm and too short over the next 30: a hand cannot ease that."""
    row = figures(b=slip(place, 30.0, 0.8 * sign))
    assert row.mismatch_mm == pytest.approx(0.0, abs=1e-9)
    assert abs(row.local_mm) == pytest.approx(0.8, abs=1e-9)
    assert not row.sews
    # Too little to notice, or spread so far that no 30 mm hold much of it.
    assert figures(b=slip(place, 30.0, 0.9 * INTERVAL_TOLERANCE_MM)).sews
    assert abs(figures(b=slip(place, 60.0, 0.9)).local_mm) == pytest.approx(0.45, abs=1e-9)


@given(st.lists(st.floats(2.0, 45.0), min_size=1, max_size=20), st.integers(0, 10**6))
def test_no_thirty_millimetres_hold_more_than_is_told(steps, seed):
    """However long the edges of a seam are: tried at every tenth of a millimetre along it."""
    at = np.concatenate([[0.0], np.cumsum(steps)])
    moved = np.concatenate([[0.0], np.cumsum(steps + np.random.default_rng(seed).uniform(-0.5, 0.5, len(steps)))])
    seam = Seam("s", "a", "b", False, np.arange(len(at)))
    edge = SimpleNamespace(seam="s", vertices=np.arange(len(at)))
    seat = SimpleNamespace(vertices=np.column_stack([at, 0 * at, 0 * at]))
    side = {"rim": (edge,), "vertices": seam.vertices, "surface": seat, "mirror_of": None, "mirror": None}
    sides = {name: SimpleNamespace(name=name, **side) for name in "ab"}
    flats = {n: SimpleNamespace(points=np.column_stack([x, 0 * x])) for n, x in (("a", at), ("b", moved))}
    told = abs(seam_figures([seam], sides, flats)[0].local_mm)
    begin = np.linspace(0.0, max(at[-1] - 30.0, 0.0), 4001)
    tried = np.abs(np.interp(begin + 30.0, at, moved - at) - np.interp(begin, at, moved - at)).max()
    assert tried - 1e-9 <= told <= tried + 0.02


def test_the_largest_slip_keeps_its_sign():
    longer, shorter = (lambda x, s=s: np.where(x > 0.0, x + s * np.minimum(x, 30.0) / 30.0, x) for s in (0.7, -0.7))
    assert figures(b=longer).local_mm == pytest.approx(0.7, abs=1e-9)
    assert figures(b=shorter).local_mm == pytest.approx(-0.7, abs=1e-9)
    assert figures(a=longer).local_mm == pytest.approx(-0.7, abs=1e-9)


@pytest.mark.parametrize(("local", "sews"), [(0.49, True), (0.51, False), (-0.49, True), (-0.51, False)])
def test_half_a_millimetre_in_thirty_still_sews(local, sews):
    row = SeamFigures("s", "a", "b", 300.0, 300.0, 300.0, 0.0, False, local_mm=local)
    assert row.sews == sews
    assert replace(row, mismatch_mm=1.6).sews is False


def test_notes_of_ease_stand_on_the_longer_and_on_the_other_side():
    row = SeamFigures("front", "face", "band", 404.0, 400.0, 400.0, 0.0, False, ease_mm=4.0)
    assert ease_notes([row]) == {
        ("face", "front"): "ease in 4.0 mm evenly",
        ("band", "front"): "other side eased by 4.0 mm",
    }
    turned = ease_notes([replace(row, ease_mm=-4.0)])
    assert turned["band", "front"].startswith("ease in")
    assert turned["face", "front"].startswith("other side")
    assert ease_notes([replace(row, ease_mm=0.04)]) == {}


# ---- which end a seam is counted from -------------------------------------------------------------------------------

#                     first point          last point           whether it is walked against the count
WALKS = {
    "left to right": ((-200, 0, 0), (200, 0, 0), False),
    "front to rear": ((50, 0, 0), (50, 300, 0), False),
    "mostly across the centre, but well to the rear": ((-150, 0, 0), (50, 120, 0), False),
    "across the centre to the left, but well to the rear": ((150, 0, 0), (-50, 120, 0), False),
    "across the centre, hardly to the rear": ((150, 0, 0), (-50, 40, 0), True),
    "outwards on the right": ((20, 100, 0), (200, 110, 0), False),
    "outwards on the left": ((-20, 100, 0), (-200, 110, 0), False),
    "from the centre line to the left": ((0, 100, 0), (-200, 110, 0), False),
    "up a side": ((200, 0, -80), (200, 0, 0), False),
    "up a side and a little inwards": ((200, 10, -80), (180, 10, 0), False),
}


def path(first, last):
    """A bent path between two points; only its ends count."""
    share = np.linspace(0.0, 1.0, 9)[:, None]
    return (1 - share) * np.array(first, float) + share * np.array(last, float) + 30.0 * np.sin(np.pi * share)


@pytest.mark.parametrize("name", WALKS)
def test_a_seam_is_counted_from_its_front_left_or_lower_end(name):
    first, last, back = WALKS[name]
    run = path(first, last)
    run[0], run[-1] = first, last
    assert seam_runs_back(run) is back
    assert seam_runs_back(run[::-1]) is not back


@given(*(st.tuples(st.floats(1.0, 300.0), st.floats(-200.0, 200.0), st.floats(-100.0, 100.0)) for _ in range(2)))
def test_mirrored_seams_are_counted_alike(first, last):
    """A seam on one side of the centre line and its mirror image: pieces of a pair are notched alike."""
    run = np.array([first, last])
    if np.abs(run[1] - run[0]).max() > 1.0 and abs(abs(run[0, 0]) - abs(run[1, 0])) > 1e-3:
        assert seam_runs_back(run) is seam_runs_back(run * [-1.0, 1.0, 1.0])


def test_an_edge_is_counted_from_the_same_end_of_the_seat_on_both_pieces():
    seat = np.array([[0.0, 0, 0], [0, 100, 0], [0, 200, 0]])
    for order in ([0, 1, 2], [2, 1, 0]):
        seam = Seam("s", "a", "b", False, np.array(order))
        # Counted from the front, that is from vertex 0, whichever way the seam is kept.
        assert counted_from(np.array([0, 1, 2]), np.array([0, 1, 2]), seam, seat)
        assert not counted_from(np.array([2, 1, 0]), np.array([0, 1, 2]), seam, seat)


def test_what_mirrors_each_other_about_the_middle_height_of_a_closed_cover_is_counted_alike():
    """The ends of both zip strips on the band: the lower strip is the upper one turned over."""
    upper = np.array([[170.0, 290.0, 0.0], [170.0, 290.0, 30.0], [170.0, 290.0, 60.0]])
    for run in (upper, upper[::-1]):
        lower = run * [1.0, 1.0, -1.0]
        assert seam_runs_back(lower, two_sided=True) is seam_runs_back(run, two_sided=True)
        # On a frame both are counted from their lower ends.
        assert seam_runs_back(lower) is not seam_runs_back(run)
    # Outwards from the middle: the doubled notch lies at the plates.
    assert not seam_runs_back(upper, two_sided=True)
    assert seam_runs_back(upper[::-1], two_sided=True)
    across = upper - [0.0, 0.0, 20.0]
    assert seam_runs_back(across, two_sided=True) is seam_runs_back(across)
