"""Covers at rest over blocks: nothing moves without cause, edges stand, what is laid over the sides stays on them."""

from dataclasses import replace

import numpy as np
import pytest

from meshes.records.pad import Block, Layer, Profile
from meshes.seat.build import build_surface
from meshes.settle.section import section
from meshes.settle.section_line import Cut, section_line
from tests.pads import sheet_of

SIDES = "\n".join(f"[pad.sides.{side}]\ndrop = 60\nband = true" for side in ("front", "right", "rear"))
SIZE = "front_width = 500\nrear_width = 500\ndepth = 400\ncorner_radius = 40\n"
BOARD = sheet_of(f'name = "test"\n[[pad]]\nname = "cushion"\nkind = "cushion"\n{SIDES}\n[pad.outline]\n{SIZE}').pads[0]
WADDING = Layer("wadding", 10.0, "all", None, 0.0)


def block(thickness=75.0, **form):
    return Layer("foam_firm", thickness, "face", None, 0.0, block=Block(**form))


def settled(*layers, edge_mm=16.0):
    return build_surface(replace(BOARD, layers=layers), edge_mm=edge_mm, tension_n_per_mm=0.1)


@pytest.mark.parametrize("form", [{}, {"edge_radius": 25.0}, {"bevel_deg": 20.0}, {"overhang": 8.0}])
def test_over_a_bare_block_the_cover_lies_as_it_was_cut(form):
    """Flat tops and straight sides are not pressed, so a taut cover leaves them where they are; only round the upright
    corners, where it is curved, it comes in by a little or is bridged."""
    built = settled(block(**form))
    assert np.ptp(built.surface.vertices, axis=0) == pytest.approx(np.ptp(built.rest.free, axis=0), abs=1.0)
    assert np.abs(built.rest.change_mm).max() < 1.0
    assert built.surface.vertices[:, 2].max() == pytest.approx(75.0, abs=1e-6)


def test_batting_over_a_slab_is_as_wide_as_the_board_and_it_on_both_sides():
    built = settled(block(), WADDING)
    assert np.ptp(built.surface.vertices, axis=0)[:2] == pytest.approx([520.0, 420.0], abs=0.5)
    # Over the square edge batting is pressed to next to nothing, on the flat it keeps its height.
    assert built.rest.layer_compression_max[1] > 0.9
    assert built.surface.vertices[:, 2].max() == pytest.approx(85.0, abs=1.0)


def test_a_block_gives_under_a_crown_as_a_column_of_its_foam_does():
    """The tension presses a crown with twice its curvature; far from its edges the block gives by that."""
    wadding = replace(WADDING, thickness=8.0)
    crowned, flat = (settled(block(60.0), layer) for layer in (wadding, replace(wadding, thickness=16.0)))
    for built in (crowned, flat):
        assert 0.0 <= built.rest.layer_compression_max[0] < 0.3


@pytest.mark.parametrize(("thickness", "bevel"), [(15.0, 60.0), (15.0, 0.0), (35.0, 0.0), (35.0, 45.0)])
def test_a_narrower_block_under_batting_comes_to_rest_in_cuts_and_on_the_pad(thickness, bevel):
    layers = (block(40.0), block(thickness, overhang=-60.0, bevel_deg=bevel), WADDING)
    built = settled(*layers)
    assert built.settled.converged
    found = section(replace(BOARD, layers=layers), Cut("along", 0.0), tension_n_per_mm=0.1)
    assert found.settled.converged
    top = found.cover[np.abs(found.cover[:, 0] - 200.0) < 40.0, 1]
    assert top == pytest.approx(50.0 + thickness, abs=2.5)


def test_a_cut_shows_blocks_as_they_stand():
    """Areas of the layers in the cut, between their lines, are those of the rectangles they are."""
    pad = replace(BOARD, layers=(block(40.0), block(35.0)))
    line = section_line(pad, Cut("along", 0.0))
    assert line.padding_mm2 == pytest.approx(400.0 * 75.0, rel=0.06)
    found = section(pad, Cut("along", 0.0), tension_n_per_mm=0.0)
    ground = found.ground
    for top, high in zip(found.before, (40.0, 35.0), strict=True):
        ring = np.vstack([ground, top[::-1]])
        x, y = ring.T
        area = 0.5 * abs((x * np.roll(y, -1) - y * np.roll(x, -1)).sum())
        assert area == pytest.approx(400.0 * high, rel=0.02)
        ground = top
    assert found.ground[:, 1].max() == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("bevel", [0.0, 40.0])
def test_a_cut_shows_the_board_flat_under_blocks_whose_tops_and_sides_lean(bevel):
    """Blocks stand upright on the board, so its line in the cut is level and runs one way."""
    lines = (Profile("along", 0.0, ((0.0, 0.0), (200.0, 25.0), (400.0, 0.0))),)
    layers = (block(40.0, top=lines), block(20.0, overhang=-60.0, bevel_deg=bevel), WADDING)
    line = section_line(replace(BOARD, layers=layers), Cut("along", 0.0))
    on = (line.support[:, 0] > 1.0) & (line.support[:, 0] < 399.0) & (line.bed_mm > 30.0)
    assert on.sum() > 200
    assert line.support[on, 1] == pytest.approx(0.0, abs=1e-6)
    assert (np.diff(line.support[on, 0]) > 0.0).all()
    found = section(replace(BOARD, layers=layers), Cut("along", 0.0), tension_n_per_mm=0.1)
    # Where the block stands on its own edge, what is pressed there shows as a hair below.
    assert found.ground[on, 1] == pytest.approx(0.0, abs=0.1)
    # So is the lower block's crown under the upper one: the parabola through its three readings.
    under = on & (np.abs(line.support[:, 0] - 200.0) < 110.0)
    x, top = found.before[0][under].T
    assert top == pytest.approx(40.0 + 25.0 * (1.0 - (x / 200.0 - 1.0) ** 2), abs=0.5)


@pytest.mark.parametrize("thickness", [49.5, 50.0, 50.5, 51.0])
def test_a_cut_ends_on_the_tack_lines_where_its_steps_do_too(thickness):
    """A board of 400 mm with sides that end whole steps of 1.5 mm away, and others."""
    line = section_line(replace(BOARD, layers=(block(thickness),)), Cut("along", 0.0))
    assert line.support[[0, -1], 1] == pytest.approx(-60.0, abs=1e-6)
