"""A wedge cushion against its exact body: bottom flat, sides upright, the top slanting from front to rear. Invented."""

import math

import numpy as np
import pytest

from meshes.base.problems import ProblemError
from meshes.closed.build import build
from tests.meshes.closed.test_closed_bodies import BOX, area, by_part, is_closed_surface, volume
from tests.pads import sheet_of

WIDE, DEEP, ROUND, FRONT, REAR = 414.0, 354.0, 27.0, 110.0, 50.0
SLOPE = (FRONT - REAR) / DEEP
PLATE = WIDE * DEEP - (4.0 - math.pi) * ROUND**2


def wedge(more="rear_thickness = 50", thick=FRONT, edge_mm=20.0):
    text = BOX.format(wide=420.0, deep=360.0, radius=30.0, thick=thick, under=6.0, more=more)
    return build(sheet_of(text).pads[0], edge_mm=edge_mm)


@pytest.fixture(scope="module")
def plain():
    return wedge()


def test_its_faces_have_their_areas(plain):
    found = by_part(plain)
    assert area(found["bottom plate"]) == pytest.approx(PLATE, rel=1e-3)
    assert area(found["top plate"]) == pytest.approx(PLATE * math.hypot(1.0, SLOPE), rel=1e-3)
    # Heights are even from front to rear, so that round an even plan the band has the mean of both.
    round_mm = 2.0 * (WIDE + DEEP) - (8.0 - 2.0 * math.pi) * ROUND
    sides = sum(area(panel) for name, panel in found.items() if "plate" not in name)
    assert sides == pytest.approx(0.5 * (FRONT + REAR) * round_mm, rel=1e-3)
    assert volume(plain.surface) == pytest.approx(0.5 * (FRONT + REAR) * PLATE, rel=1e-3)
    assert is_closed_surface(plain.surface.triangles)


def test_it_stands_on_a_flat_bottom_with_upright_sides(plain):
    found = by_part(plain)
    bottom, top = (found[name].surface.vertices for name in ("bottom plate", "top plate"))
    assert np.ptp(bottom[:, 2]) == pytest.approx(0.0, abs=1e-9)
    assert plain.placement[2, 3] + bottom[0, 2] == pytest.approx(0.0, abs=1e-9)
    assert np.array_equal(bottom[:, :2], top[:, :2])
    y = top[:, 1] - top[:, 1].min()
    assert top[:, 2] - bottom[:, 2] == pytest.approx(FRONT - SLOPE * y, abs=1e-6)
    assert plain.closed.rise_mm == pytest.approx(0.0, abs=1e-6)


def test_up_and_down_are_no_mirror_images_and_left_and_right_are(plain):
    assert all(panel.mirror_of is None for panel in plain.panels)
    for panel in plain.panels:
        at = panel.surface.vertices
        assert np.array_equal(at[panel.mirror], at * [-1.0, 1.0, 1.0])


def test_as_thick_behind_as_in_front_it_is_the_box():
    one, other = wedge("rear_thickness = 80", thick=80.0), wedge("", thick=80.0)
    assert one.surface.vertices == pytest.approx(other.surface.vertices, abs=1e-9)
    assert one.closed.tension_n_per_mm == pytest.approx(other.closed.tension_n_per_mm)


def test_a_wrapped_wedge_bulges_alike_on_both_faces():
    more = 'rear_thickness = 50\n[[pad.layer]]\nmaterial = "wadding"\nthickness = 12\nwhere = "face"'
    found = by_part(wedge(more))
    top, bottom = found["top plate"].surface.vertices, found["bottom plate"].surface.vertices
    y = top[:, 1] - top[:, 1].min()
    bulged = top[:, 2] - bottom[:, 2] - (FRONT - SLOPE * y)
    assert 20.0 < bulged.max() <= 24.0
    assert bottom[:, 2].min() == pytest.approx(-0.5 * FRONT - 0.5 * bulged.max(), abs=0.1)


@pytest.mark.parametrize("more", ["band = 100", 'form = "knife_edge"'])
def test_what_is_no_wedge_is_told(more):
    with pytest.raises(ProblemError) as caught:
        wedge("rear_thickness = 50\n" + more)
    assert "G227" in {problem.code for problem in caught.value.problems}
