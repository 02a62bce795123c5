"""Blocks as a sheet says them, what older sheets meant, and what contradicts."""

import pytest

from meshes.base.problems import ProblemError
from meshes.records.pad import Block, Profile
from tests.pads import FLAT, sheet_of

SLAB = '[[pad.layer]]\nmaterial = "foam_firm"\nthickness = 75\nwhere = "face"\n'
CROWN = '[[pad.layer.crown]]\ndirection = "along"\npoints = [[0, 0], [150, {}], [300, 0]]\n'
SPRINGS = """[pad.support]
kind = "springs"
rate_kpa_per_mm = 0.12
free_height = 150
held_height = 120
"""
OVER = '[pad.bands]\nover = ["front"]\n'
CHAMFERED = FLAT.replace(
    "front_width = 400\nrear_width = 400\ndepth = 300\ncorner_radius = 40",
    "points = [[0, 0], [180, 0, 5], [200, 20, 5], [200, 300, 5], [0, 300]]",
)


def told(text):
    with pytest.raises(ProblemError) as refused:
        sheet_of(text)
    return [(problem.code, problem.text) for problem in refused.value.problems]


def test_a_block_is_read_with_its_form():
    sheet = sheet_of(FLAT + SLAB + 'form = "block"\noverhang = 6\nbevel = 10\nedge = 25\n' + CROWN.format(12))
    profile = Profile("along", 0.0, ((0.0, 0.0), (150.0, 12.0), (300.0, 0.0)))
    [layer] = sheet.pads[0].layers
    assert layer.block == Block(6.0, 10.0, 25.0, (profile,))
    assert not sheet.warnings


def test_an_edge_of_its_own_at_each_side_is_read_left_like_right():
    [layer] = sheet_of(FLAT + SLAB + 'form = "block"\nedge = { front = 50, right = 6 }\n').pads[0].layers
    assert layer.block == Block(edges=(("front", 50.0), ("left", 6.0), ("right", 6.0)))
    assert [layer.block.edge_at(side) for side in ("front", "right", "rear", "left")] == [50.0, 6.0, 0.0, 6.0]
    assert layer.block.roundest_mm == 50.0
    upright = FLAT.replace("cushion", "backrest") + SLAB + 'form = "block"\nedge = { top = 30, bottom = 4 }\n'
    [layer] = sheet_of(upright).pads[0].layers
    assert layer.block.edges == (("front", 4.0), ("rear", 30.0))


def test_foam_that_ends_without_a_taper_on_a_board_is_a_block_and_said_once():
    sheet = sheet_of(FLAT + 2 * (SLAB + "taper = 0\n"))
    assert [layer.block for layer in sheet.pads[0].layers] == [Block(), Block()]
    [warning] = [one for one in sheet.warnings if one.code == "G211"]
    assert warning.warning
    assert 'form = "block"' in warning.text


@pytest.mark.parametrize(
    "said",
    [
        SLAB + 'taper = 0\nform = "laid over"\n',
        SLAB,
        SLAB + "taper = 12\n",
        SLAB.replace("foam_firm", "wadding") + "taper = 0\n",
        SLAB + "taper = 0\n" + SPRINGS,
    ],
    ids=["said", "usual", "taper", "wadding", "springs"],
)
def test_anything_else_is_laid_over_as_before(said):
    sheet = sheet_of(FLAT + said)
    assert all(layer.block is None for layer in sheet.pads[0].layers)
    assert "G211" not in [one.code for one in sheet.warnings]


@pytest.mark.parametrize(
    ("said", "code", "words"),
    [
        (SLAB + "bevel = 10\n", "G212", "only a block has bevel"),
        (SLAB + 'form = "block"\ntaper = 20\n', "G212", "leave taper out"),
        (SLAB + 'form = "block"\noversize = 6\n', "G212", "write overhang"),
        (SLAB.replace("face", "all") + 'form = "block"\n', "G212", 'found where = "all"'),
        (SLAB.replace("face", "front") + 'form = "block"\n', "G212", 'found where = "front"'),
        (SLAB.replace("face", "front") + 'form = "block"\nwithin = 60\noverhang = 3\n', "G212", "leave overhang out"),
        (SLAB.replace("foam_firm", "wadding") + 'form = "block"\n', "G212", "choose a foam"),
        (SLAB + 'form = "block"\nedge = 80\n', "G213", "75 mm or less"),
        (SLAB + 'form = "block"\nedge = { front = 80 }\n', "G213", "75 mm or less"),
        (SLAB + 'form = "block"\nbevel = 5\nedge = { front = 20 }\n', "G212", "one edge all round"),
        (OVER + SLAB + 'form = "block"\noverhang = 5\n', "G212", "leave overhang out"),
        (OVER + SLAB + 'form = "block"\nbevel = 5\n', "G212", "leave bevel out"),
        (OVER + SLAB.replace("face", "front") + 'form = "block"\nwithin = 90\n', "G212", "under the whole face"),
        (SLAB + 'form = "block"\noverhang = -160\n', "G213", "take 320 mm of a pad of 300 mm"),
        (SLAB.replace("face", "front") + 'form = "block"\nwithin = 60\nbevel = 45\n', "G213", "strip 60 mm wide"),
        (
            SLAB + 'form = "block"\n' + CROWN.format(-80),
            "G213",
            "hollowed by 80 mm",
        ),
    ],
)
def test_what_contradicts_is_told(said, code, words):
    found = told(FLAT + said)
    assert [one for one, _ in found] == [code]
    assert words in found[0][1]


def test_an_outline_that_leaves_the_block_no_room_is_told_where_it_is_built():
    from meshes.seat.build import build

    pad = sheet_of(CHAMFERED + SLAB + 'form = "block"\noverhang = -60\n').pads[0]
    with pytest.raises(ProblemError) as refused:
        build(pad, edge_mm=20.0)
    [problem] = refused.value.problems
    assert problem.code == "G210"
    assert "overhang" in problem.text
