"""Pads that are mirror images come out as mirror images, and joined pads are followed on any mesh."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from flatten.job.seat import build_pads
from meshes.padding.handed import mirror_image, mirrored_pads
from meshes.records.built_up import Continues
from meshes.records.pad import Pad, SeatPose, Wanted
from meshes.records.springs import Springs
from meshes.seat.build import BuiltPad, build
from meshes.sheet.read import read_sheet
from meshes.support.blocks import face_of
from tests.pads import sheet_of

JUMP_SEAT = Path(__file__).parents[3] / "examples/jump_seat/jump.toml"
CROOKED = """
name = "test"
[[pad]]
name = "leaf"
kind = "cushion"
[pad.outline]
front_left = 150
front_right = 190
rear_left = 140
rear_right = 150
depth_left = 300
depth_right = 260
corner_radius = { front_left = 30, front_right = 45, rear_left = 25, rear_right = 35 }
[[pad.profile]]
direction = "along"
at = 60
points = [[0, 0], [120, 12], [250, 2]]
[pad.sides.front]
drop = 80
edge_radius = 20
band = true
[pad.sides.right]
drop = 70
edge_radius = 15
band = true
seam_below = 6
[pad.sides.left]
drop = 40
edge_radius = 10
[[pad.layer]]
material = "foam_medium"
thickness = 15
where = "face"
taper = 30
[[pad.layer]]
material = "wadding"
thickness = 8
where = "left"
within = 50
"""
LINE = '[[pad.line]]\nname = "seam"\npoints = [[-40, 0], [-70, 300]]\n'
PLEATS = '[pad.pleats]\ncount = 5\nfiller_thickness = 8\nconstruction = "strips"\n'
SWAP = {"left": "right", "right": "left"}


def _pair(pad: Pad, edge_mm: float) -> list[BuiltPad]:
    return [build(one, edge_mm=edge_mm, tension_n_per_mm=0.08) for one in (pad, mirror_image(pad))]


def _turned(name: str) -> str:
    return " ".join(SWAP.get(word, word) for word in name.split())


@pytest.mark.parametrize("more", ["", LINE, PLEATS])
def test_mirror_images_are_built_alike(more: str) -> None:
    """Vertex for vertex, panel for panel: the surface of the one is that of the other left for right."""
    one, other = _pair(sheet_of(CROOKED + more).pads[0], 14.0)
    flip = np.array([-1.0, 1.0, 1.0])
    assert np.abs(one.surface.vertices * flip - other.surface.vertices).max() < 1e-6
    assert np.array_equal(one.surface.triangles[:, [0, 2, 1]], other.surface.triangles)
    assert np.abs(one.shown.vertices * flip - other.shown.vertices).max() < 1e-6
    panels = {panel.name: panel for panel in other.panels}
    if more != PLEATS:
        # Strips on a crooked pad are counted from the left.
        assert {_turned(panel.name) for panel in one.panels} == set(panels)
        assert all(np.array_equal(p.vertices, panels[_turned(p.name)].vertices) for p in one.panels)
    assert sorted(len(p.triangles) for p in one.panels) == sorted(len(p.triangles) for p in other.panels)


def test_a_mirror_image_mirrored_is_the_pad() -> None:
    pad = sheet_of(CROOKED + LINE).pads[0]
    assert mirror_image(mirror_image(pad)) == pad
    assert mirror_image(pad) != pad


def test_a_pads_record_is_known_as_the_mirror_image_of_anothers() -> None:
    (pad,) = sheet_of(CROOKED + LINE).pads
    image = replace(mirror_image(pad), name="other", pose=SeatPose(origin=(900.0, 0.0, 0.0)))
    assert mirrored_pads((pad, image)) == {1: 0}
    assert mirrored_pads((image, pad, image)) == {1: 0}
    assert mirrored_pads((pad, pad)) == {}


@pytest.mark.parametrize(
    "change",
    [
        lambda pad: replace(pad, kind="side"),
        lambda pad: replace(pad, springs=Springs(0.5)),
        lambda pad: replace(pad, lines=()),
        lambda pad: replace(pad, lines=(replace(pad.lines[0], tied=True),)),
        lambda pad: replace(pad, layers=pad.layers[:1]),
        lambda pad: replace(pad, sides={**pad.sides, "rear": replace(pad.sides["rear"], drop=101.0)}),
        lambda pad: replace(pad, outline=replace(pad.outline, radii=(31.0, *pad.outline.radii[1:]))),
        lambda pad: replace(pad, profiles=()),
        lambda pad: replace(pad, wanted=Wanted(continues=Continues("back", "left"))),
        lambda pad: replace(pad, wanted=Wanted(radius=40.0)),
    ],
)
def test_a_pad_that_differs_in_anything_that_shapes_it_is_no_mirror_image(change) -> None:
    (pad,) = sheet_of(CROOKED + LINE).pads
    assert mirrored_pads((pad, change(mirror_image(pad)))) == {}


def test_leaves_are_mirror_images_while_the_back_between_them_is_even() -> None:
    pads = read_sheet(JUMP_SEAT).pads
    names = [pad.name for pad in pads]
    left, right, back = (names.index(name) for name in ("left leaf", "right leaf", "back"))
    assert mirrored_pads(pads) == {max(left, right): min(left, right)}
    aside = [
        replace(pad, pose=replace(pad.pose, origin=(5.0, 0.0, 0.0))) if k == back else pad for k, pad in enumerate(pads)
    ]
    assert mirrored_pads(aside) == {}


def test_leaves_meet_the_back_on_the_coarsest_mesh_and_alike(tmp_path: Path) -> None:
    """The jump seat builds at mesh = 40 as well, and its leaves, built apart, are mirror images."""
    path = tmp_path / "seat.toml"
    path.write_text(re.sub(r"mesh = \d+", "mesh = 40", JUMP_SEAT.read_text()))
    pads = {pad.pad.name: pad for pad in build_pads(path, workers=1)}
    left, right = pads["left leaf"], pads["right leaf"]
    assert np.abs(left.surface.vertices * [-1.0, 1.0, 1.0] - right.surface.vertices).max() < 1e-6
    assert left.continued.after.most_step_mm == pytest.approx(right.continued.after.most_step_mm, abs=1e-6)


def test_the_face_of_a_mirror_image_is_the_mirrored_face():
    """Whatever was measured, along and across: the twin is as high on the right as the pad is on the left."""
    text = CROOKED.replace(
        "[pad.sides.front]",
        '[[pad.profile]]\ndirection = "along"\nat = -90\npoints = [[0, 2], [120, 5], [250, 1]]\n'
        '[[pad.profile]]\ndirection = "across"\nat = 130\npoints = [[-120, 3], [-30, 9], [130, 12]]\n[pad.sides.front]',
        1,
    )
    (pad,) = sheet_of(text).pads
    plan = np.random.default_rng(3).uniform([-120.0, 20.0], [120.0, 240.0], (60, 2))
    there = face_of(mirror_image(pad)).height(plan * [-1.0, 1.0])
    assert there == pytest.approx(face_of(pad).height(plan), abs=1e-9)
    assert np.ptp(there) > 3.0
    assert mirror_image(mirror_image(pad)) == pad
