"""Pads on curved plans against bodies whose measures are known: a cylinder, mirror images, hollows too tight."""

import math

import numpy as np
import pytest

import flatten
from meshes.base.problems import ProblemError
from meshes.base.surface import curve_length, triangle_areas
from meshes.seat.panels import PanelRole
from tests.pads import built

STOOL = """
name = "test"
[[pad]]
name = "stool"
kind = "cushion"
[pad.outline]
{outline}
[pad.sides.front]
drop = 90
edge_radius = 1
band = true
[pad.sides.right]
drop = 90
edge_radius = 1
band = true
[pad.sides.rear]
drop = 90
edge_radius = 1
band = true
"""
SEAM_UP_MM = 1.0 - math.pi / 4.0  # the seam in the middle of the turn of the edge, from the height of the corner


def areas(panel):
    return triangle_areas(panel.surface.vertices, panel.surface.triangles).sum()


@pytest.mark.parametrize(
    "outline",
    ['shape = "round"\nwidth = 360', "front_width = 360\nrear_width = 360\ndepth = 360\ncorner_radius = 180"],
    ids=["round", "corners"],
)
def test_the_bands_of_a_bare_cylinder_are_one_rectangle(outline):
    pad = built(STOOL.format(outline=outline), edge_mm=10.0)
    bands = [panel for panel in pad.panels if panel.role is PanelRole.BAND]
    assert len(bands) == 4
    tacked = [curve_length(panel.surface.vertices[e.vertices]) for panel in bands for e in panel.rim if e.seam is None]
    assert sum(tacked) == pytest.approx(math.pi * 360.0, rel=1e-3)
    wide = []
    for panel in bands:
        flat = flatten.flatten(panel.surface.vertices, panel.surface.triangles)
        assert flat.demand < 2e-3
        at = flat.points - flat.points.mean(axis=0)
        # Along its own long axis a rectangle is as wide as its longest run, and as high as its drop.
        axis = np.linalg.svd(at, full_matrices=False)[2]
        size = np.ptp(at @ axis.T, axis=0)
        wide.append(size[0])
        assert size[1] == pytest.approx(90.0 - 1.0 + math.pi / 4.0, abs=0.2)
    assert sum(wide) == pytest.approx(math.pi * 360.0, rel=2e-3)


def test_the_face_of_a_bare_cylinder_is_a_circle():
    pad = built(STOOL.format(outline='shape = "round"\nwidth = 360'), edge_mm=5.0)
    (face,) = [panel for panel in pad.panels if panel.role is PanelRole.FACE]
    # Flat up to 1 mm from the rim, then half of the turn: a torus of so small a radius adds its arc.
    flat, half = math.pi * 179.0**2, 2.0 * math.pi * 179.0 * math.pi / 4.0
    assert areas(face) == pytest.approx(flat + half, rel=1e-3)


def test_padding_lies_round_a_stool_alike():
    """What differs round a body of revolution is the mesh alone."""
    text = STOOL.format(outline='shape = "round"\nwidth = 360')
    pad = built(text + '[[pad.layer]]\nmaterial = "foam_medium"\nthickness = 30\n', edge_mm=12.0)
    points = pad.surface.vertices
    reach = np.hypot(points[:, 0], points[:, 1] - 180.0)
    for panel in pad.panels:
        for edge in panel.rim:
            if edge.seam is None:
                assert reach[panel.vertices[edge.vertices]] == pytest.approx(210.0, abs=0.02)
                assert points[panel.vertices[edge.vertices], 2] == pytest.approx(-90.0, abs=1e-6)
    assert reach.max() == pytest.approx(210.0, abs=0.02)


SKEW = """shape = "traced"
symmetric = false
points = [[-150, 0], [40, -10], [190, 60], [230, 220], [120, 360], [-60, 330], [-210, 300], [-240, 120]]"""
MIRRORED = """shape = "traced"
symmetric = false
points = [[-40, -10], [150, 0], [240, 120], [210, 300], [60, 330], [-120, 360], [-230, 220], [-190, 60]]"""


def test_a_mirrored_outline_gives_mirrored_pieces():
    left = "[pad.sides.left]\ndrop = 90\nedge_radius = 1\nband = true\n"
    one, other = (built(STOOL.format(outline=text) + left, edge_mm=14.0) for text in (SKEW, MIRRORED))
    swap = {"left": "right", "right": "left"}
    named = {panel.part: panel for panel in other.panels}
    for panel in one.panels:
        image = named[" ".join(swap.get(word, word) for word in panel.part.split())]
        assert len(image.surface.triangles) == len(panel.surface.triangles)
        assert areas(image) == pytest.approx(areas(panel), rel=1e-9)
        ours = panel.surface.vertices * [-1.0, 1.0, 1.0]
        gap = np.linalg.norm(ours[:, None] - image.surface.vertices[None], axis=2).min(axis=1)
        assert gap.max() < 1e-6


KIDNEY = 'shape = "kidney"\nwidth = 560\ndepth = 400\nhollow = 60\nend_radius = 130'


def test_a_kidney_is_padded_and_its_halves_are_mirror_images():
    text = STOOL.format(outline=KIDNEY) + '[[pad.layer]]\nmaterial = "foam_medium"\nthickness = 20\n'
    pad = built(text, edge_mm=14.0)
    assert {panel.part for panel in pad.panels} == {"face", "front band", "right band", "rear band", "left band"}
    left, right = ({p.part: p for p in pad.panels}[f"{side} band"] for side in ("left", "right"))
    assert (left.mirror_of or right.mirror_of) is not None
    assert areas(left) == areas(right)


def test_a_hollow_tighter_than_its_edge_can_turn_is_refused_with_the_least_radius():
    # Half of a quarter turn over 20 + 90 mm, less the edge, and 1 mm to spare.
    text = STOOL.format(outline=KIDNEY).replace("edge_radius = 1\n", "edge_radius = 20\n")
    text += '[[pad.layer]]\nmaterial = "foam_medium"\nthickness = 90\n'
    text = text.replace("hollow = 60", "hollow = 80")
    with pytest.raises(
        ProblemError, match=r"hollow at .* has a radius of 51 mm, and its edge, padding and seam need 67"
    ):
        built(text, edge_mm=20.0)


INSET = "[pad.inset]\nmargin = 60\n"


@pytest.mark.parametrize(
    ("outline", "inset", "bolsters"),
    [
        ('shape = "round"\nwidth = 360', INSET, 4),
        ('shape = "round"\nwidth = 360', INSET + "front = 0\n", 3),
        (KIDNEY, INSET + "rear = 40\n", 4),
        ('shape = "d"\nwidth = 420\ndepth = 400\ncorner_radius = 40', INSET + "rear = 0\n", 3),
        ('shape = "d"\nwidth = 420\ndepth = 400\ncorner_radius = 40', INSET + "corner_radius = 30\n", 4),
    ],
)
def test_an_inset_lies_inside_a_curved_plan(outline, inset, bolsters):
    pad = built(STOOL.format(outline=outline) + inset, edge_mm=14.0)
    roles = [panel.role for panel in pad.panels]
    assert roles.count(PanelRole.INSET) == 1
    assert roles.count(PanelRole.BOLSTER) == bolsters


def test_the_inset_of_a_round_pad_is_a_circle():
    pad = built(STOOL.format(outline='shape = "round"\nwidth = 360') + INSET, edge_mm=10.0)
    (inset,) = [panel for panel in pad.panels if panel.role is PanelRole.INSET]
    assert areas(inset) == pytest.approx(math.pi * 120.0**2, rel=2e-3)


@pytest.mark.parametrize(
    ("outline", "pleats"),
    [
        ('shape = "round"\nwidth = 360', "count = 6"),
        ('shape = "round"\nwidth = 360', 'count = 6\nshape = "edge"'),
        ('shape = "d"\nwidth = 460\ndepth = 420\ncorner_radius = 40', "count = 6"),
        (KIDNEY, "count = 8"),
        (KIDNEY, 'count = 6\ndirection = "across"'),
    ],
)
def test_pleats_run_over_a_curved_plan(outline, pleats):
    text = STOOL.format(outline=outline) + f"[pad.pleats]\n{pleats}\nfiller_thickness = 8\n"
    pad = built(text.replace("edge_radius = 1\n", "edge_radius = 12\n"), edge_mm=16.0)
    count = int(pleats.split()[2])
    assert len(pad.pleats.plan.valleys) == count - 1
    for valley in pad.pleats.plan.valleys:
        assert len(valley.place) > 5
