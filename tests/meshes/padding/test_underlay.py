"""What carries the padding: springs on the face, frame where the cover turns, gaps with and without cloth."""

from dataclasses import replace

import numpy as np
import pytest

from meshes.padding.layers import PadDistances
from meshes.padding.stack import stack_of
from meshes.padding.underlay import SHORE_MM, underlay
from meshes.records.compression import linear
from meshes.records.materials import BUILT_IN
from meshes.records.pad import SIDES, Layer
from meshes.records.springs import Springs
from tests.pads import FLAT, sheet_of

SPRINGS = Springs(rate_kpa_per_mm=0.05, free_mm=120.0, held_mm=100.0)
EDGE, GAP, DEPTH = 20.0, 70.0, 55.0


def pad_with(**front):
    (pad,) = sheet_of(FLAT).pads
    sides = {**pad.sides, "front": replace(pad.sides["front"], **front)}
    layers = (Layer("foam_medium", 20.0, "all", None, 0.0), Layer("wadding", 6.0, "face", None, 10.0, below=500.0))
    return replace(pad, sides=sides, layers=layers, springs=SPRINGS)


def inward_of(front, inward):
    """The stack at places so far inward of where the front edge ends to turn, in the middle of the pad's width."""
    inward = np.asarray(inward, dtype=np.float64)
    at = PadDistances(
        below=-inward - 5.0 * np.pi,
        to_tack=inward + 90.0,
        share={s: np.full(len(inward), float(s == "front")) for s in SIDES},
        from_side={s: inward + EDGE if s == "front" else np.full(len(inward), 1e4) for s in SIDES},
        in_from_turn=inward,
    )
    return underlay(pad_with(**front), at, BUILT_IN)


def test_springs_carry_the_face_and_frame_whatever_turns():
    found = inward_of({}, [-40.0, -1.0, 0.0, 0.5 * SHORE_MM, SHORE_MM, 50.0])
    assert found.give_mm_per_kpa == pytest.approx([0.0, 0.0, 0.0, 10.0, 20.0, 20.0])
    # Pressed from 120 to 100 mm, springs of 0.05 kPa/mm push with 1 kPa.
    assert found.preload_kpa == pytest.approx(np.ones(6))
    assert (found.carried == 1.0).all()
    assert not found.depth_mm.any()


def test_over_a_gap_without_cloth_nothing_carries():
    ends = [2 * SHORE_MM, GAP - SHORE_MM, GAP, GAP + SHORE_MM, 200.0]
    found = inward_of({"gap": GAP, "gap_depth": DEPTH}, ends)
    assert found.carried[:2] == pytest.approx([0.0, 0.0])
    assert found.carried[2:] == pytest.approx([1.0, 1.0, 1.0])
    assert found.depth_mm[:2] == pytest.approx([DEPTH, DEPTH])
    assert found.give_mm_per_kpa == pytest.approx([0.0, 0.0, 0.0, 20.0, 20.0])
    # On the frame beside it all is carried.
    assert inward_of({"gap": GAP, "gap_depth": DEPTH}, [-5.0, 0.0]).carried == pytest.approx([1.0, 1.0])
    half = inward_of({"gap": GAP, "gap_depth": DEPTH}, [0.5 * SHORE_MM, GAP - 0.5 * SHORE_MM])
    assert half.carried == pytest.approx([0.5, 0.5])


def test_cloth_fixed_to_the_frame_does_not_move():
    found = inward_of({"gap": GAP, "gap_depth": DEPTH, "cloth": True}, [10.0, 35.0, 60.0, 200.0])
    assert (found.carried == 1.0).all()
    assert found.give_mm_per_kpa == pytest.approx([0.0, 0.0, 0.0, 20.0])


def test_cloth_fixed_to_the_springs_goes_down_with_them_as_a_straight_line():
    """Its outer edge stays on the rail, its inner one goes down with the springs: between, by its share of the way."""
    inward = np.array([14.0, 35.0, 63.0, GAP, 200.0])
    found = inward_of({"gap": GAP, "gap_depth": DEPTH, "cloth": True, "cloth_fixed": "springs"}, inward)
    assert (found.carried == 1.0).all()
    assert found.give_mm_per_kpa == pytest.approx(20.0 * np.minimum(inward / GAP, 1.0))


def test_layers_stand_in_their_order_with_their_own_curves():
    found = inward_of({}, [50.0])
    assert found.thickness_mm[:, 0] == pytest.approx([20.0, 6.0])
    for one, layer in zip(found.curves, ("foam_medium", "wadding"), strict=True):
        strain, kpa = zip(*BUILT_IN[layer].table, strict=True)
        assert one.pressure(np.array(strain)) == pytest.approx(kpa, rel=1e-6)
    assert found.free_mm() == pytest.approx([26.0])


def test_a_board_neither_gives_nor_pushes():
    pad = replace(pad_with(), springs=None)
    at = PadDistances(
        below=np.array([-100.0]),
        to_tack=np.array([200.0]),
        share={s: np.zeros(1) for s in SIDES},
        from_side={s: np.full(1, 120.0) for s in SIDES},
        in_from_turn=np.array([100.0]),
    )
    found = underlay(pad, at, BUILT_IN)
    assert (found.give_mm_per_kpa[0], found.preload_kpa[0], found.carried[0]) == (0.0, 0.0, 1.0)


def test_some_of_a_stack_is_those_places_of_it():
    rng = np.random.default_rng(4)
    every = rng.uniform(1.0, 2.0, (5, 6))
    whole = stack_of(
        (linear(3.0),),
        every[:1],
        give_mm_per_kpa=every[1],
        preload_kpa=every[2],
        carried=every[3],
        depth_mm=every[4],
    )
    chosen = np.array([4, 1])
    part = whole.some(chosen)
    rows = (part.thickness_mm[0], part.give_mm_per_kpa, part.preload_kpa, part.carried, part.depth_mm)
    assert np.array_equal(np.array(rows), every[:, chosen])
    assert not whole.give_mm_per_kpa.flags.writeable
