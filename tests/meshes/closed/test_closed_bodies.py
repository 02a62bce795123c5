"""Closed covers against exact bodies: a box of six faces, a cylinder, faces that bulge. All measurements invented."""

import numpy as np
import pytest

from meshes.base.surface import directed_edges, triangle_areas
from meshes.closed.build import build
from meshes.records.closed import LONGEST_BAND_MM
from tests.pads import sheet_of

BOX = """
name = "box"
[[pad]]
name = "c"
kind = "cushion"
[pad.outline]
front_width = {wide}
rear_width = {wide}
depth = {deep}
corner_radius = {radius}
[pad.closed]
thickness = {thick}
core = "foam_firm"
undersize = {under}
{more}
"""
ROLL = """
name = "roll"
[[pad]]
name = "r"
kind = "cushion"
[pad.outline]
shape = "round"
width = {across}
[pad.closed]
form = "roll"
length = {long}
"""


def box(wide=420.0, deep=360.0, radius=30.0, thick=80.0, under=6.0, more="", edge_mm=20.0):
    sheet = sheet_of(BOX.format(wide=wide, deep=deep, radius=radius, thick=thick, under=under, more=more))
    return build(sheet.pads[0], edge_mm=edge_mm)


def area(panel):
    return float(triangle_areas(panel.surface.vertices, panel.surface.triangles).sum())


def by_part(pad):
    return {panel.part: panel for panel in pad.panels}


def volume(surface):
    a, b, c = (surface.vertices[surface.triangles[:, k]] for k in range(3))
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum()) / 6.0


def is_closed_surface(triangles):
    """Every edge has a triangle on either side, which runs along it the other way."""
    edges = {tuple(edge) for edge in directed_edges(triangles).tolist()}
    return len(edges) == 3 * len(triangles) and all((b, a) in edges for a, b in edges)


@pytest.fixture(scope="module")
def plain():
    return box()


def test_the_six_faces_of_a_box_have_their_areas(plain):
    """Core less undersize in all, corners drawn in with it; the faces are flat, the band as high as the core."""
    wide, deep, radius = 414.0, 354.0, 27.0
    plate = wide * deep - (4.0 - np.pi) * radius**2
    round_mm = 2.0 * (wide + deep) - (8.0 - 2.0 * np.pi) * radius
    found = by_part(plain)
    for name in ("top plate", "bottom plate"):
        assert area(found[name]) == pytest.approx(plate, rel=1e-3)
        assert np.ptp(found[name].surface.vertices[:, 2]) == 0.0
    assert np.ptp(found["top plate"].surface.vertices, axis=0) == pytest.approx([wide, deep, 0.0], abs=0.2)
    sides = sum(area(panel) for name, panel in found.items() if "plate" not in name)
    assert sides == pytest.approx(80.0 * round_mm, rel=1e-3)
    assert volume(plain.surface) == pytest.approx(80.0 * plate, rel=1e-3)


def test_the_body_is_closed_and_faces_outward(plain):
    assert is_closed_surface(plain.surface.triangles)
    assert volume(plain.surface) > 0.0


def test_zip_and_band_share_the_rim_in_closed_form(plain):
    """Rear between the middles of its corners, and 140 mm on past each; the band has the rest."""
    wide, deep, radius = 414.0, 354.0, 27.0
    round_mm = 2.0 * (wide + deep) - (8.0 - 2.0 * np.pi) * radius
    zip_mm = wide - (2.0 - 0.5 * np.pi) * radius + 2.0 * 140.0
    assert plain.closed.zip_mm == pytest.approx(zip_mm, abs=1e-6)
    seams = {seam.name: float(np.linalg.norm(np.diff(plain.surface.vertices[seam.vertices], axis=0), axis=1).sum())
             for seam in plain.seams}  # fmt: skip
    assert seams["c top plate / upper zip strip"] == pytest.approx(zip_mm, abs=0.2)
    assert seams["c top plate / band"] == pytest.approx(round_mm - zip_mm, abs=0.2)


def test_trade_cushion_of_twenty_inches_has_a_zip_of_thirty_to_thirty_two():
    inch = 25.4
    for past in (5.25 * inch, 6.0 * inch):
        pad = box(wide=20 * inch, deep=20 * inch, radius=15.0, under=0.0, more=f"past_corner = {past}")
        assert 30.0 <= pad.closed.zip_mm / inch <= 32.0


def test_left_and_right_up_and_down_are_mirror_images_to_the_last_digit():
    pad = box(more="welt = true\nband = 70")
    found = by_part(pad)
    for one, other in (("top plate", "bottom plate"), ("upper zip strip", "lower zip strip")):
        assert found[other].mirror_of == found[one].name
        flipped = found[one].surface.vertices * [1.0, 1.0, -1.0]
        assert np.array_equal(found[other].surface.vertices, flipped)
        assert np.array_equal(found[other].surface.triangles, found[one].surface.triangles[:, [0, 2, 1]])
    for panel in pad.panels:
        at = panel.surface.vertices
        assert np.array_equal(at[panel.mirror], at * [-1.0, 1.0, 1.0])
    assert {edge.kind for edge in found["band"].rim} == {"welted", "sewn"}


@pytest.fixture(scope="module")
def wrapped():
    more = '[[pad.layer]]\nmaterial = "wadding"\nthickness = 12\nwhere = "face"'
    return box(under=10.0, more=more)


def test_faces_bulge_between_rim_and_wrap(wrapped):
    """Held at the band's edge, full in the middle: no higher than the free wrap, and highest in the middle."""
    top = by_part(wrapped)["top plate"].surface.vertices
    rise = top[:, 2] - 40.0
    rim = np.unique(by_part(wrapped)["top plate"].rim[0].vertices)
    assert np.abs(rise[rim]).max() == 0.0
    assert 8.0 < wrapped.closed.rise_mm <= 12.0
    middle = np.linalg.norm(top[:, :2] - [0.0, 180.0], axis=1) < 60.0
    assert rise[middle].min() > 0.95 * wrapped.closed.rise_mm


def test_a_tighter_cover_pulls_more_and_flattens_its_edges(wrapped):
    more = '[[pad.layer]]\nmaterial = "wadding"\nthickness = 12\nwhere = "face"'
    tight = box(under=30.0, more=more)
    assert tight.closed.tension_n_per_mm > wrapped.closed.tension_n_per_mm
    near = [np.abs(p.surface.vertices[:, 0]) for p in (by_part(tight)["top plate"], by_part(wrapped)["top plate"])]
    rise = []
    for pad, x in zip((tight, wrapped), near, strict=True):
        top = by_part(pad)["top plate"].surface.vertices
        strip = (x > x.max() - 30.0) & (x < x.max() - 5.0) & (np.abs(top[:, 1] - 180.0) < 100.0)
        rise.append(float(top[strip, 2].mean()) - 40.0)
    assert rise[0] < rise[1]


def test_tension_is_half_of_what_the_pressed_core_pushes_with():
    """Firm foam of 6 kPa at 40 %, its curve as stated: 10 of 420 and 360 mm is 2.58 %."""
    from meshes.records.compression import curve
    from meshes.records.materials import BUILT_IN

    share = 0.5 * (10.0 / 420.0 + 10.0 / 360.0)
    kpa = float(curve(BUILT_IN["foam_firm"].table).pressure(np.array([share]))[0])
    assert box(under=10.0).closed.tension_n_per_mm == pytest.approx(0.5 * 80.0 * kpa / 1000.0)


def test_a_long_band_is_parted_at_the_corners_and_never_in_front_of_the_middle():
    pad = box(wide=1300.0, deep=500.0, edge_mm=40.0)
    bands = [panel for panel in pad.panels if "plate" not in panel.part]
    assert {"front band", "left band", "right band"} <= {panel.part for panel in bands}
    for panel in bands:
        rims = [e for e in panel.rim if e.name.endswith("plate")]
        for edge in rims:
            run = panel.surface.vertices[edge.vertices]
            assert np.linalg.norm(np.diff(run, axis=0), axis=1).sum() <= LONGEST_BAND_MM + 1e-6
    ends = [pad.surface.vertices[seam.vertices] for seam in pad.seams if "plate" not in seam.name]
    assert all(abs(run[:, 0]).min() > 500.0 for run in ends)
    assert by_part(pad)["left band"].mirror_of == by_part(pad)["right band"].name


@pytest.mark.parametrize(("across", "long"), [(140.0, 400.0), (228.6, 355.6)])
def test_a_roll_is_a_cylinder(across, long):
    pad = build(sheet_of(ROLL.format(across=across, long=long)).pads[0], edge_mm=20.0)
    found = by_part(pad)
    assert area(found["right end disc"]) == pytest.approx(0.25 * np.pi * across**2, rel=1e-3)
    assert area(found["tube"]) == pytest.approx(np.pi * across * long, rel=1e-3)
    off = np.linalg.norm(pad.surface.vertices[:, :2] - [0.0, 0.5 * across], axis=1)
    on = np.unique(found["tube"].vertices)
    assert np.abs(off[on] - 0.5 * across).max() < 0.2
    assert volume(pad.surface) == pytest.approx(0.25 * np.pi * across**2 * long, rel=2e-3)
    zips = [edge for edge in found["tube"].rim if edge.kind == "zip"]
    assert [len(zips), pad.closed.zip_mm] == [2, long]


def test_a_roll_lies_from_left_to_right_with_its_zip_behind():
    pad = build(sheet_of(ROLL.format(across=140.0, long=400.0)).pads[0], edge_mm=20.0)
    tube = by_part(pad)["tube"]
    at = tube.surface.vertices @ pad.placement[:3, :3].T
    assert np.ptp(at, axis=0) == pytest.approx([400.0, 140.0, 140.0], abs=0.2)
    seam = next(edge for edge in tube.rim if edge.kind == "zip")
    assert at[seam.vertices, 1] == pytest.approx(140.0, abs=1e-9)
    assert by_part(pad)["right end disc"].surface.vertices[:, 2].mean() > 0.0


def test_a_crooked_core_builds_too():
    text = BOX.format(wide=400, deep=360, radius=30, thick=80, under=6, more="")
    text = text.replace("front_width = 400", "front_left = 190\nfront_right = 215").replace(
        "rear_width = 400", "rear_left = 180\nrear_right = 200"
    )
    pad = build(sheet_of(text).pads[0], edge_mm=20.0)
    assert is_closed_surface(pad.surface.triangles)
    assert {"band", "upper zip strip", "lower zip strip"} <= {panel.part for panel in pad.panels}


def test_inches_and_millimetres_say_one_cushion():
    text = BOX.format(wide=406.4, deep=355.6, radius=25.4, thick=76.2, under=6.35, more="")
    inches = BOX.format(wide=16, deep=14, radius=1, thick=3, under=0.25, more="").replace(
        'name = "box"', 'name = "box"\nunit = "in"'
    )
    one, other = (build(sheet_of(t).pads[0], edge_mm=20.0) for t in (text, inches))
    assert np.array_equal(one.surface.triangles, other.surface.triangles)
    assert one.surface.vertices == pytest.approx(other.surface.vertices, abs=1e-6)


@pytest.mark.parametrize(
    "outline",
    [
        'shape = "round"\nwidth = 560\ndepth = 400',
        'shape = "kidney"\nwidth = 560\ndepth = 400\nhollow = 50',
        'shape = "d"\nwidth = 560\ndepth = 400',
        "symmetric = false\npoints = [[-200,0,40],[200,0,40],[200,200,20],[60,210,40],[60,330,20],[-200,330,20]]",
    ],
)
def test_any_plan_is_closed_with_even_triangles(outline):
    text = BOX.format(wide=1, deep=1, radius=1, thick=80, under=6, more="past_corner = 60")
    plain = "front_width = 1\nrear_width = 1\ndepth = 1\ncorner_radius = 1"
    pad = build(sheet_of(text.replace(plain, outline)).pads[0], edge_mm=24.0)
    assert is_closed_surface(pad.surface.triangles)
    assert pad.facts.smallest_angle_deg > 2.0
