"""Estimates against sums done by hand: processes, triangles, time, and how they are told."""

import math
from dataclasses import replace
from itertools import pairwise

import pytest

from flatten.machine.estimate import (
    ADDRESSES,
    BYTES_EACH,
    BYTES_SINGLE,
    LARGE,
    LOADED_BYTES,
    MB,
    POWER,
    STEPS_MM,
    Estimate,
    FreeMemory,
    check_room_for,
    estimate_for,
    fits,
    triangles_of,
)
from meshes.base.problems import ProblemError
from meshes.records.pad import SIDES
from tests.pads import FLAT, sheet_of

L_SHAPE = ((0.0, 0.0), (400.0, 0.0), (400.0, 300.0), (250.0, 300.0), (250.0, 200.0), (0.0, 200.0))
# Of a square millimetre of even triangles with sides of 1 mm.
EVEN = 4.0 / math.sqrt(3.0)


def board(corners, sides, drops):
    pad = sheet_of(FLAT).pads[0]
    outline = replace(pad.outline, corners=corners, radii=(0.0,) * len(corners), side_of_edge=sides, symmetric=False)
    return replace(pad, outline=outline, sides={s: replace(pad.sides["front"], drop=drops[s]) for s in SIDES})


def test_triangles_fill_the_face_and_the_sides_round_it():
    """The area is 400 x 200 + 150 x 100 mm2; a side of so many mm has that length times its drop."""
    sides = ("front", "right", "rear", "rear", "rear", "left")
    flat = board(L_SHAPE, sides, dict.fromkeys(SIDES, 1e-9))
    rim = 400.0 + 300.0 + 150.0 + 100.0 + 250.0 + 200.0
    # A drop of nothing still has its one row of triangles.
    crowded = triangles_of(flat, 1.0) / (EVEN * (95_000.0 + rim))
    assert 0.7 <= crowded < 0.7 * 1.3
    for name, length in (("front", 400.0), ("right", 300.0), ("rear", 500.0), ("left", 200.0)):
        deep = board(L_SHAPE, sides, {**dict.fromkeys(SIDES, 1e-9), name: 51.0})
        more = triangles_of(deep, 1.0) - triangles_of(flat, 1.0)
        assert more == pytest.approx(crowded * EVEN * 50.0 * length, rel=1e-3)
    # Walked the other way round, and standing elsewhere, it has as many; there is no part of a triangle.
    back = board(L_SHAPE[::-1], ("rear", "rear", "rear", "right", "front", "left"), dict.fromkeys(SIDES, 1e-9))
    moved = tuple((x - 1000.0, y + 500.0) for x, y in L_SHAPE)
    assert triangles_of(back, 1.0) == triangles_of(flat, 1.0)
    assert triangles_of(board(moved, sides, dict.fromkeys(SIDES, 1e-9)), 1.0) == triangles_of(flat, 1.0)
    exact = crowded * EVEN * (95_000.0 + 5.0 * rim) / 25.0
    assert 0.0 <= triangles_of(flat, 5.0) - exact < 1.0


@pytest.mark.parametrize("workers", [1, 2, 3])
def test_the_first_process_holds_all_and_every_worker_its_pad(workers):
    counts = [1000, 5000, 3000, 4000]
    found = estimate_for(counts, workers=workers)
    in_hand = sum(sorted(counts, reverse=True)[:workers])
    assert found.triangles == 13_000
    assert found.bytes == (1 + workers) * LOADED_BYTES + BYTES_EACH * (13_000 + in_hand)
    assert found.each == ADDRESSES + BYTES_EACH * 13_000
    alone = estimate_for([13_000], workers=workers)
    assert alone.bytes == LOADED_BYTES + BYTES_EACH * 13_000


def test_time_grows_with_triangles_and_faster_beyond_the_large():
    begin = estimate_for([]).seconds
    assert begin > 0.0
    each = estimate_for([10_000]).seconds - begin
    assert estimate_for([20_000]).seconds - begin == pytest.approx(2.0 * each)
    assert estimate_for([10_000] * 3).seconds - begin == pytest.approx(3.0 * each)
    for times in (1.0, 4.0):
        found = estimate_for([int(times * LARGE)]).seconds - begin
        assert found == pytest.approx(each * LARGE / 10_000 * times**POWER)


def test_a_single_mesh_takes_its_own_bytes_and_no_worker():
    found = check_room_for(100_000, "mesh.ply", left=FreeMemory(None, None))
    assert found.bytes == LOADED_BYTES + BYTES_SINGLE * 100_000
    assert found.each == ADDRESSES + BYTES_SINGLE * 100_000
    for left in (FreeMemory(found.bytes, None), FreeMemory(None, found.each), FreeMemory(found.bytes, found.each)):
        assert check_room_for(100_000, "mesh.ply", left=left) == found
    less = [(FreeMemory(found.bytes - 1, None), "is free"), (FreeMemory(None, found.each - 1), "ulimit -v leaves")]
    for left, words in [*less, (FreeMemory(found.bytes, found.each - 1), "raise ulimit -v")]:
        with pytest.raises(ProblemError, match=words):
            check_room_for(100_000, "mesh.ply", left=left)


def test_there_is_room_only_where_both_limits_hold():
    found = Estimate(10, 100, 50, 1.0)
    for together, each, room in (
        (None, None, True),
        (100, None, True),
        (99, None, False),
        (None, 50, True),
        (None, 49, False),
        (100, 49, False),
        (99, 50, False),
        (100, 50, True),
    ):
        assert fits(found, FreeMemory(together, each)) == room


@pytest.mark.parametrize(
    ("count", "words"),
    [(0, "1 MB"), (3 * MB - 1, "2 MB"), (1024 * MB - 1, "1023 MB"), (1024 * MB, "1.0 GB"), (1536 * MB, "1.5 GB")],
)
def test_memory_is_told_in_whole_megabytes_or_tenths_of_gigabytes(count, words):
    assert str(Estimate(12_345, count, 0, 5.0)).startswith(f"about 12 345 triangles, {words} of memory")


def test_meshes_that_are_offered_rise_by_no_more_than_a_half_and_reach_the_coarsest():
    assert STEPS_MM[-1] == 40.0
    assert all(low < high <= 1.5 * low for low, high in pairwise(STEPS_MM))
