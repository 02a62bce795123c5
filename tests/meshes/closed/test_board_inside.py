"""A loose cushion with a board in its bottom: flat below, above as half of a core twice as thick."""

import numpy as np
import pytest

from meshes.base.problems import ProblemError
from meshes.closed.build import build
from meshes.closed.words import closed_words
from meshes.sheet.whole import Control
from meshes.tapes.loose import loose_length
from tests.meshes.closed.test_closed_bodies import BOX, by_part, is_closed_surface
from tests.pads import sheet_of

WRAP = '\n[[pad.layer]]\nmaterial = "wadding"\nthickness = 12\nwhere = "face"\n'
WIDE, DEEP, RADIUS, CORE, BOARD = 420.0, 300.0, 30.0, 60.0, 9.0


def made(*, under=10.0, core=CORE, board=BOARD, more="", layers=WRAP):
    text = BOX.format(wide=WIDE, deep=DEEP, radius=RADIUS, thick=core, under=under, more=more)
    inside = f"[pad.board]\nthickness = {board}\n" if board else ""
    return build(sheet_of(f"{text}{inside}{layers}").pads[0], edge_mm=30.0)


@pytest.fixture(scope="module")
def boarded():
    return made()


def test_below_it_is_flat_and_above_it_bulges(boarded):
    half = 0.5 * (CORE + BOARD)
    found = by_part(boarded)
    lower, upper = (found[name].surface.vertices for name in ("bottom plate", "top plate"))
    assert lower[:, 2] == pytest.approx(-half, abs=1e-9)
    assert upper[:, 2].max() == pytest.approx(half + boarded.closed.rise_mm)
    assert boarded.closed.rise_mm > 5.0
    assert np.ptp(lower, axis=0) == pytest.approx([WIDE - 10.0, DEEP - 10.0, 0.0], abs=0.2)
    assert is_closed_surface(boarded.surface.triangles)
    # Plates differ, strips beside the zip do not.
    assert found["bottom plate"].mirror_of is None
    assert found["lower zip strip"].mirror_of == "c upper zip strip"
    assert "flat on a board of 9 mm" in closed_words(boarded)


def test_a_core_on_a_board_is_half_of_one_twice_as_thick_without():
    """The middle of a cushion that is the same above and below does not move, so a board there changes nothing."""
    boarded, double = made(under=0.0), made(under=0.0, core=2 * CORE, board=0.0)
    assert boarded.closed.tension_n_per_mm == double.closed.tension_n_per_mm
    assert boarded.closed.rise_mm == pytest.approx(double.closed.rise_mm, abs=1e-6)


def test_without_wrap_it_is_a_box_of_core_and_board(boarded):
    plain, box = made(layers=""), made(layers="", core=CORE + BOARD, board=0.0)
    assert plain.surface.vertices == pytest.approx(box.surface.vertices, abs=1e-6)


def test_a_wedge_stands_on_its_board_too():
    pad = made(more="rear_thickness = 40", layers="")
    lower, upper = (by_part(pad)[name].surface.vertices for name in ("bottom plate", "top plate"))
    assert lower[:, 2] == pytest.approx(-0.5 * (CORE + BOARD), abs=1e-9)
    assert np.ptp(upper[:, 2]) == pytest.approx(CORE - 40.0, abs=0.1)


def test_a_tape_goes_round_core_board_and_wrap(boarded):
    girth = Control("c", "along", "padding", 1.0, 0.0, "girth")
    assert loose_length(boarded.pad, girth, None) == pytest.approx(2 * (DEEP + CORE + BOARD + 12.0))


@pytest.mark.parametrize(
    ("more", "board", "code"),
    [
        ('form = "knife_edge"', "thickness = 9", "G190"),
        ('form = "panel"', "thickness = 9", "G190"),
        ("", "thickness = 9\nwrap = 20", "G190"),
        ("band = 90", "thickness = 9", "G172"),
    ],
)
def test_boards_that_cannot_lie_inside_are_refused(more, board, code):
    text = BOX.format(wide=WIDE, deep=DEEP, radius=RADIUS, thick=CORE, under=0.0, more=more)
    with pytest.raises(ProblemError) as told:
        sheet_of(f"{text}[pad.board]\n{board}\n")
    assert code in {problem.code for problem in told.value.problems}
