"""Records of a pad on their way to worker processes: whatever a pad holds arrives, and nothing of it can be changed."""

import pickle
from dataclasses import fields, replace

import numpy as np
import pytest

from meshes.records.alignment import Alignment
from meshes.records.bands import Bands
from meshes.records.board import Board, Hole, Opening
from meshes.records.built_up import KEPT, BuiltUp, Continues, Meeting
from meshes.records.closed import Closed
from meshes.records.corners import CornerFinish, Folds
from meshes.records.frame import BasePlane, CornerPost, Fixings, Frame, Post
from meshes.records.pad import (
    SIDES,
    Block,
    ExtraLine,
    Inset,
    Layer,
    Outline,
    Pad,
    Profile,
    SeatPose,
    Side,
    Wanted,
    side_word,
    upright_key,
    usual_key,
)
from meshes.records.pleats import Pleats, Spacing
from meshes.records.springs import Springs, bed_rate_kpa_per_mm, coil_rate_n_per_mm

EDGE = ((-200.0, 0.0), (-180.0, 300.0))
BUILT = BuiltUp("left", EDGE, (0.0, 150.0, 300.0), (6.0, 9.0, 4.0), (0.0, 0.0, 0.0), 120.0)


def plain():
    outline = Outline(((-200.0, 0.0), (200.0, 0.0), (180.0, 300.0), (-180.0, 300.0)), (40.0,) * 4, SIDES, True)
    sides = {name: Side() for name in SIDES}
    return Pad("cushion", "cushion", SeatPose(), outline, (), sides, (), None, ())


# For every field a value that is not the plain pad's.
OTHER = {
    "name": "rest",
    "kind": "backrest",
    "pose": SeatPose((1.0, 2.0, 3.0), 12.0, -90.0),
    "outline": replace(plain().outline, radii=(1.0, 2.0, 3.0, 4.0)),
    "profiles": (Profile("across", 150.0, ((-200.0, 0.0), (200.0, 3.0))),),
    "sides": {name: Side(drop=50.0 + k) for k, name in enumerate(SIDES)},
    "layers": (Layer("wadding", 8.0, "left", 40.0, 20.0, 3.0, 1.5, block=Block(4.0, 10.0, 6.0)),),
    "inset": Inset(0.0, 50.0, 60.0, 70.0, 30.0, True, True),
    "lines": (ExtraLine("seam", ((0.0, 0.0), (0.0, 300.0)), False, True),),
    "symmetric": False,
    "pleats": Pleats(Spacing(count=5)),
    "springs": Springs(0.05, 120.0, 100.0),
    "frame": Frame(
        "fair", "straight", BasePlane(-90.0, 0.02, 0.01), ("rear",), (("front", ((0.0, 80.0), (90.0, 85.0))),)
    ),
    "bands": Bands(("sides", "none", None, "ends"), ((0.0, 300.0),)),
    "folds": Folds((("front_right", CornerFinish.DOUBLE),), 6.0),
    "fixings": Fixings(
        (("rear", "fly"),),
        (("rear", 30.0),),
        posts=(Post("rear", 80.0, 40.0),),
        corner_posts=(CornerPost("rear_left", 40.0, 30.0),),
    ),
    "board": Board(
        4.0,
        20.0,
        (Opening("lock", ((0.0, 0.0), (50.0, 0.0), (0.0, 50.0)), (0.0,) * 3, 13.0),),
        (Hole("screw", (1.0, 2.0), 8.0),),
        "left",
    ),
    "closed": Closed("box", 60.0, "foam_firm", band=58.0, welt=True),
    "wanted": Wanted(40.0, 66.0, Continues("bench", "right", 90.0), plain()),
}


@pytest.mark.parametrize("name", [f.name for f in fields(Pad)])
def test_every_field_of_a_pad_arrives_in_a_worker(name):
    pad = replace(plain(), **{name: OTHER[name]})
    assert pad != plain(), "the value says something"
    assert pickle.loads(pickle.dumps(pad)) == pad


def test_a_pad_with_everything_arrives_whole_and_cannot_be_changed():
    pad = Pad(**OTHER)
    there = pickle.loads(pickle.dumps(pad))
    assert {f.name: getattr(there, f.name) for f in fields(Pad)} == {f.name: getattr(pad, f.name) for f in fields(Pad)}
    for one in (pad, there):
        with pytest.raises(TypeError):
            one.sides["front"] = Side()


@pytest.mark.parametrize("alignment", [Alignment(), Alignment((1.0, -2.0)), Alignment(built_up=BUILT)])
def test_how_a_pad_is_aligned_arrives_in_a_worker(alignment):
    assert pickle.loads(pickle.dumps(alignment)) == alignment


def test_a_pad_does_not_change_with_what_it_was_made_from():
    sides = {name: Side() for name in SIDES}
    pad = replace(plain(), sides=sides)
    sides["front"] = Side(drop=1.0)
    assert pad.sides["front"] == Side()


@pytest.mark.parametrize(
    ("turn", "lead"),
    # Up to a quarter turn the tangent's length, r tan(turn / 2); past it a radius and the arc beyond the quarter.
    [
        (0.0, 0.0),
        (60.0, 20.0 / np.sqrt(3.0)),
        (90.0, 20.0),
        (120.0, 20.0 + 20.0 * np.pi / 6),
        (180.0, 20.0 + 10.0 * np.pi),
    ],
)
def test_what_the_turn_takes_of_the_drop(turn, lead):
    assert Side(edge_radius=20.0, turn_deg=turn).lead == pytest.approx(lead)


def test_upright_pads_have_words_of_their_own_and_give_them_back():
    assert [side_word(s, "backrest") for s in SIDES] == ["bottom", "right", "top", "left"]
    assert [side_word(s, "side") for s in SIDES] == ["bottom", "right", "top", "left"]
    assert [side_word(s, "cushion") for s in SIDES] == list(SIDES)
    for key in ("front_width", "rear", "depth_left", "front_left", "left"):
        assert usual_key(upright_key(key)) == key
    assert upright_key("front_width") == "bottom_width"
    assert upright_key("depth_left") == "depth_left"


def test_what_is_built_up_is_its_rise_at_the_edge_and_runs_out_over_its_width():
    y = np.array([0.0, 150.0, 300.0])
    edge = np.stack([np.interp(y, [0.0, 300.0], [-200.0, -180.0]), y], axis=1)
    assert BUILT.inward(edge) == pytest.approx(np.zeros(3))
    assert BUILT.height(edge) == pytest.approx(BUILT.rise)
    # Inward it keeps its height over a share of its width, and is gone at the end of it.
    for share, want in ((0.9 * KEPT, BUILT.rise), (1.0, (0.0,) * 3), (1.4, (0.0,) * 3)):
        assert BUILT.height(edge + np.array([share * BUILT.over, 0.0])) == pytest.approx(want)
    middle = BUILT.height(edge + np.array([0.5 * (1.0 + KEPT) * BUILT.over, 0.0]))
    assert middle == pytest.approx(0.5 * np.array(BUILT.rise))
    # Beyond its ends it is as at them, and outside the edge as on it.
    assert BUILT.height(np.array([[-200.0, -20.0], [-230.0, 150.0]])) == pytest.approx([6.0, 9.0])
    assert BUILT.range_mm() == (4.0, 9.0)


def test_what_is_built_up_begins_with_the_slope_it_is_given():
    sloped = replace(BUILT, rise=(9.0,) * 3, slope=(0.05,) * 3, over=300.0)
    at = np.array([[-190.0, 150.0], [-189.0, 150.0]])
    rise = np.diff(sloped.height(at))[0]
    # Rounded off towards the frame, it keeps most of its slope where it rises, and never goes below the frame.
    assert 0.7 * 0.05 < rise < 0.05
    down = replace(sloped, slope=(-0.3,) * 3)
    across = np.column_stack([np.linspace(-190.0, 120.0, 80), np.full(80, 150.0)])
    height = down.height(across)
    assert height[0] == pytest.approx(9.0)
    assert (height >= 0.0).all()
    assert (np.diff(height) <= 1e-12).all()


def test_what_is_built_up_on_the_right_mirrors_that_on_the_left():
    right = replace(BUILT, side="right", edge=tuple((-x, y) for x, y in EDGE))
    plan = np.random.default_rng(2).uniform([-200.0, 0.0], [0.0, 300.0], (40, 2))
    assert right.height(plan * [-1.0, 1.0]) == pytest.approx(BUILT.height(plan))
    assert BUILT.height(plan).max() > 1.0


def test_the_worst_of_a_meeting_keeps_its_sign():
    meeting = Meeting(np.arange(3.0), np.array([1.0, -4.0, 2.0]), np.array([3.0, 1.0, -5.0]), np.zeros(3), 0.0)
    assert (meeting.worst, meeting.most_step_mm, meeting.most_kink_deg) == (1, -4.0, -5.0)


def test_springs_held_down_push_with_what_they_were_pressed_by():
    assert Springs(0.05, 120.0, 100.0).preload_kpa == pytest.approx(1.0)
    assert Springs(0.05).preload_kpa == Springs(0.05, 100.0, 120.0).preload_kpa == 0.0
    assert Springs(0.05).give_mm_per_kpa == pytest.approx(20.0)
    # One coil on every 50 x 50 mm carries the pressure on them: 0.25 N/mm over 2500 mm2 is 0.1 kPa/mm.
    assert bed_rate_kpa_per_mm(0.25, 50.0) == pytest.approx(0.1)
    # Wire twice as thick is sixteen times as stiff, a coil twice as wide an eighth, twice the turns half.
    rate = coil_rate_n_per_mm(3.0, 60.0, 6.0)
    assert rate == pytest.approx(79300.0 * 81.0 / (8.0 * 216000.0 * 6.0))
    assert coil_rate_n_per_mm(6.0, 60.0, 6.0) == pytest.approx(16.0 * rate)
    assert coil_rate_n_per_mm(3.0, 120.0, 6.0) == pytest.approx(rate / 8.0)
    assert coil_rate_n_per_mm(3.0, 60.0, 12.0) == pytest.approx(rate / 2.0)
