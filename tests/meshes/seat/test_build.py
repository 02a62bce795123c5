"""Pads built from sheets: support, padding, panels, seams, held to laws and outside values."""

import numpy as np
import pytest

from meshes.base.problems import ProblemError
from meshes.base.surface import boundary_loops, is_disc, smallest_angles, triangle_areas
from meshes.numerics.sizes import Sizes
from meshes.seat.build import build
from meshes.seat.panels import PanelRole
from tests.pads import FLAT, built, sheet_of

CURVED = (
    FLAT
    + """
[[pad.profile]]
direction = "along"
at = 0
points = [[0, 0], [80, 14], [160, 12], [240, 4], [300, -4]]
[[pad.profile]]
direction = "along"
at = 150
points = [[0, 0], [80, 8], [160, 7], [240, 2], [300, -4]]
[[pad.layer]]
material = "foam_medium"
thickness = 20
where = "all"
taper = 60
"""
)
INSET = """
[pad.inset]
front = 0
rear = 70
left = 80
right = 80
corner_radius = 30
"""


def test_a_boxed_cushion_is_its_own_net():
    # Boxed cushion L x W x T with square edges: top L x W, bands T high and as long as their sides (thespruce.com,
    # boxed cushion instructions: top L + 1 by W + 1, band T + 1 by perimeter + 1 with 1/2 in seams; allowances are
    # added later).
    text = FLAT.replace("corner_radius = 40", "corner_radius = 0").replace("edge_radius = 20", "edge_radius = 0")
    text = text.replace("seam_below = 5", "").replace("[pad.sides.rear]\n", "[pad.sides.rear]\nband = true\n")
    pad = built(text)
    area = {p.part: triangle_areas(p.surface.vertices, p.surface.triangles).sum() for p in pad.panels}
    assert area == {
        "face": pytest.approx(400 * 300, rel=1e-9),
        "front band": pytest.approx(400 * 80, rel=1e-9),
        "rear band": pytest.approx(400 * 80, rel=1e-9),
        "left band": pytest.approx(300 * 80, rel=1e-9),
        "right band": pytest.approx(300 * 80, rel=1e-9),
    }


def test_rounded_box_has_the_area_of_its_formula():
    # A plate whose edge is a quarter round of radius r: flat top, quarter cylinders along the straight sides, quarter
    # tori (Pappus: pi/2 * r * path of centroid) round the corners, upright sides. Corner radius R, edge radius r,
    # drop d.
    a, b, corner, edge, drop = 400.0, 300.0, 40.0, 20.0, 80.0
    straight = 2 * (a - 2 * corner) + 2 * (b - 2 * corner)
    top = (a - 2 * edge) * (b - 2 * edge) - (4 - np.pi) * (corner - edge) ** 2
    quarter = 0.5 * np.pi * edge * straight
    centroid = corner - edge + edge * 2 / np.pi
    torus = 0.5 * np.pi * edge * 2 * np.pi * centroid
    upright = (straight + 2 * np.pi * corner) * (drop - edge)
    errors, pads = [], [built(FLAT, edge_mm=sizes) for sizes in (Sizes(12.0), Sizes(6.0), 6.0)]
    for pad in pads:
        errors.append(abs(pad.facts.area_mm2 / (top + quarter + torus + upright) - 1))
    # A chord of length h in a circle of radius r is short by (h / r)^2 / 24; only the turned edge loses that.
    share = (quarter + torus) / (top + quarter + torus + upright)
    assert errors[1] < 1.25 * (6.0 / edge) ** 2 / 24 * share
    # The error falls with the square of the edge length.
    assert errors[0] / errors[1] > 3
    # Triangles that are long where it is flat: many fewer, and hardly further off.
    assert pads[2].facts.triangles < 0.6 * pads[1].facts.triangles
    assert errors[2] < 1.25 * errors[1]


def test_even_padding_round_an_edge_adds_its_thickness_to_every_radius():
    # Offsetting a convex body by t adds t to every radius of its edges (Steiner 1840).
    layer = '\n[[pad.layer]]\nmaterial = "foam_medium"\nthickness = 15\nwhere = "all"\ntaper = 1\n'
    pad = built(FLAT + layer, edge_mm=6)
    bare, padded = pad.support.vertices, pad.surface.vertices
    deep = pad.thickness_mm > 14.999
    moved = np.linalg.norm(padded - bare, axis=1)
    assert moved[deep] == pytest.approx(15.0, abs=1e-3)
    # Along the middle of the front the padded edge is a quarter circle of 20 + 15 mm about the bare edge's centre.
    near = deep & (np.abs(padded[:, 0]) < 100) & (padded[:, 1] < 20) & (padded[:, 2] > -20)
    assert near.sum() > 50
    radius = np.hypot(padded[near, 1] - 20.0, padded[near, 2] + 20.0)
    assert radius == pytest.approx(35.0, abs=0.01)


def test_profiles_are_met_within_the_stated_residual():
    pad = built(CURVED, edge_mm=4)
    assert [fact.points for fact in pad.facts.profiles] == [5, 5]
    assert max(fact.residual_mm for fact in pad.facts.profiles) < 0.2
    for profile, fact in zip(pad.pad.profiles, pad.facts.profiles, strict=True):
        for place, height in profile.points[1:-1]:
            flat = pad.support.vertices[:, :2] - [profile.at, place]
            nearest = np.argsort(np.linalg.norm(flat, axis=1))[:3]
            assert abs(pad.support.vertices[nearest, 2].mean() - height) < fact.residual_mm + 0.5


def test_an_even_pad_is_its_own_mirror_image():
    pad = built(CURVED + INSET)
    points = {tuple(p) for p in pad.surface.vertices.tolist()}
    assert {(-x + 0.0, y, z) for x, y, z in points} == points
    by_name = {p.name: p for p in pad.panels}
    left = [p for p in pad.panels if p.mirror_of]
    assert [p.part for p in left] == ["left bolster", "left band"]
    for panel in left:
        source = by_name[panel.mirror_of]
        assert np.array_equal(panel.surface.vertices, source.surface.vertices * [-1, 1, 1])
        assert np.array_equal(panel.surface.triangles, source.surface.triangles[:, [0, 2, 1]])


@pytest.mark.parametrize("text", [FLAT, CURVED, CURVED + INSET])
def test_panels_are_discs_that_tile_the_pad_and_meet_in_their_seams(text):
    pad = built(text)
    numbers = np.concatenate([p.triangles for p in pad.panels])
    assert np.array_equal(np.sort(numbers), np.arange(len(pad.surface.triangles)))
    assert all(is_disc(p.surface.triangles) for p in pad.panels)
    for panel in pad.panels:
        assert np.allclose(pad.surface.vertices[panel.vertices], panel.surface.vertices)
        loop = boundary_loops(panel.surface.triangles)[0]
        walked = np.concatenate([edge.vertices[:-1] for edge in panel.rim])
        assert sorted(walked.tolist()) == sorted(loop.tolist())
        for edge, after in zip(panel.rim, (*panel.rim[1:], panel.rim[0]), strict=True):
            assert edge.vertices[-1] == after.vertices[0]
    by_name = {p.name: p for p in pad.panels}
    for seam in pad.seams:
        sides = [by_name[name] for name in (seam.a, seam.b)]
        runs = [next(p.vertices[e.vertices] for e in p.rim if e.seam == seam.name) for p in sides]
        assert np.array_equal(runs[0], seam.vertices)
        assert np.array_equal(runs[1], seam.vertices[::-1])
    sewn = [e for p in pad.panels for e in p.rim if e.kind in ("sewn", "welted")]
    assert len(sewn) == 2 * len(pad.seams)


def test_the_surface_faces_outward_and_its_triangles_are_well_shaped():
    pad = built(CURVED + INSET, edge_mm=6)
    a, b, c = (pad.surface.vertices[pad.surface.triangles[:, k]] for k in range(3))
    normals = np.cross(b - a, c - a)
    middle = np.array([0.0, 150.0, -200.0])
    assert (np.einsum("ij,ij->i", normals, (a + b + c) / 3 - middle) > 0).all()
    angles = np.rad2deg(smallest_angles(pad.surface.vertices, pad.surface.triangles))
    assert np.percentile(angles, 1) > 25
    assert angles.min() > 12


def test_parts_have_the_names_a_trimmer_gives_them():
    assert [p.part for p in built(FLAT).panels] == ["face", "front band", "left band", "right band"]
    inset = [p.part for p in built(CURVED + INSET).panels]
    assert inset == [
        "inset",
        "left bolster",
        "rear bolster",
        "right bolster",
        "front band",
        "left band",
        "right band",
    ]
    line = '\n[[pad.line]]\nname = "side line"\npoints = [[90, 0], [90, 300]]\n'
    assert [p.part for p in built(FLAT + line).panels][:3] == ["centre face", "left face", "right face"]
    centre = '\n[[pad.line]]\nname = "centre seam"\npoints = [[0, 0], [0, 300]]\n'
    pad = built(FLAT + centre)
    assert [p.part for p in pad.panels][:2] == ["left face", "right face"]
    assert pad.panels[0].mirror_of == "cushion right face"


def test_a_drawn_line_runs_on_down_a_side_without_band():
    line = '\n[[pad.line]]\nname = "side line"\npoints = [[90, 0], [90, 300]]\n'
    pad = built(FLAT + line)
    seam = next(s for s in pad.seams if s.name == "cushion centre face / right face")
    ends = pad.surface.vertices[seam.vertices[[0, -1]]]
    tack = pad.surface.vertices[:, 2].min()
    assert ends[:, 2].min() == pytest.approx(tack, abs=1e-6)
    assert np.abs(pad.surface.vertices[seam.vertices][:, 0] - 90).max() < 1e-6


def test_kinds_of_edges_follow_the_sheet():
    text = FLAT.replace("[pad.sides.rear]\n", "[pad.sides.rear]\nclosed_by_hand = true\n").replace(
        "seam_below = 5", "seam_below = 5\nwelt = true"
    )
    face = built(text).panels[0]
    kinds = {edge.name: edge.kind for edge in face.rim}
    assert kinds == {
        "front band": "welted",
        "right band": "sewn",
        "left band": "sewn",
        "rear tack line": "closed",
    }


def test_a_crooked_frame_is_built_whole_and_its_differences_are_stated():
    text = FLAT.replace(
        "front_width = 400\nrear_width = 400\ndepth = 300",
        "front_left = 196\nfront_right = 204\nrear_left = 200\nrear_right = 200\ndepth = 300",
    )
    pad = built(text)
    assert dict(pad.facts.left_right)["front half width"] == pytest.approx(8.0)
    assert all(p.mirror_of is None for p in pad.panels)
    face = pad.panels[0]
    assert np.abs(face.surface.vertices[face.centre][:, 0]).max() < 0.5
    assert len(face.centre) == 2


def test_centre_marks_lie_on_the_centre_line():
    for panel in built(CURVED + INSET).panels:
        at = panel.surface.vertices[panel.centre]
        assert np.all(at[:, 0] == 0)
    assert [len(p.centre) for p in built(FLAT).panels if p.part in ("face", "front band")] == [2, 2]


def test_a_ring_without_a_seam_is_named():
    # All four sides banded and an inset that touches none of them is fine; a band that goes all round is not made,
    # corners part it.
    text = FLAT.replace("[pad.sides.rear]\n", "[pad.sides.rear]\nband = true\n") + INSET.replace(
        "front = 0", "front = 60"
    )
    parts = [p.part for p in built(text).panels]
    assert parts.count("inset") == 1
    assert sum("bolster" in p for p in parts) == 4
    assert sum("band" in p for p in parts) == 4


def test_a_cover_that_would_pass_through_itself_is_refused():
    text = FLAT.replace(
        "drop = 80\nedge_radius = 20\nband = true\nseam_below = 5", "drop = 300\nedge_radius = 20\nturn = 180"
    )
    with pytest.raises(ProblemError) as caught:
        built(text)
    assert [p.code for p in caught.value.problems] == ["G108"]
    assert "passes through itself" in str(caught.value)


def test_build_leaves_its_pad_alone_and_repeats_itself():
    pad = sheet_of(CURVED).pads[0]
    first, second = build(pad, edge_mm=15), build(pad, edge_mm=15)
    assert np.array_equal(first.surface.vertices, second.surface.vertices)
    assert np.array_equal(first.surface.triangles, second.surface.triangles)
    with pytest.raises(ValueError, match="read-only"):
        first.surface.vertices[0, 0] = 1.0


def test_profiles_that_contradict_each_other_are_told_and_far_ones_refused():
    across = '\n[[pad.profile]]\ndirection = "across"\nat = 160\npoints = [[-150, %d], [0, %d], [150, %d]]\n'
    # Carried on, as the form of these profiles is what is looked at here, not the rim they end at.
    across = '\n[pad.frame]\nrim = "carried"\n' + across
    met = built(CURVED + across % (7, 12, 7))
    assert not met.problems
    off = built(CURVED + across % (8, 18, 8))
    assert {p.code for p in off.problems} == {"G109"}
    assert off.problems[0].warning
    with pytest.raises(ProblemError) as caught:
        built(CURVED + across % (8, 40, 8))
    assert {p.code for p in caught.value.problems} == {"G110"}
    assert "misses this profile by" in str(caught.value)


CUT = FLAT + '[[pad.line]]\nname = "across"\npoints = [[0, 150], [200, 150]]\n' + CURVED.removeprefix(FLAT)


def test_one_tension_for_all_panels_is_that_tension_for_each():
    pad = sheet_of(CUT).pads[0]
    one = build(pad, edge_mm=20.0, tension_n_per_mm=0.25)
    parts = [panel.part for panel in one.panels]
    assert len(set(parts)) > 2
    for told in (dict.fromkeys(parts, 0.25), dict.fromkeys(parts[:1], 0.25)):
        each = build(pad, edge_mm=20.0, tension_n_per_mm=told)
        assert np.array_equal(one.surface.vertices, each.surface.vertices)


def test_the_panel_that_is_pulled_more_goes_down_more_and_the_rest_hardly():
    pad = sheet_of(CUT).pads[0]
    one = build(pad, edge_mm=20.0, tension_n_per_mm=0.25)
    parts = [panel.part for panel in one.panels]
    front = next(panel for panel in one.panels if panel.part == "front face")
    rear = next(panel for panel in one.panels if panel.part == "rear face")
    more = build(pad, edge_mm=20.0, tension_n_per_mm={**dict.fromkeys(parts, 0.25), "front face": 0.75})
    down = one.surface.vertices[:, 2] - more.surface.vertices[:, 2]
    # Both share their seam, so the rear is asked 60 mm behind it, where the bend of the cover has died out.
    away = rear.vertices[one.surface.vertices[rear.vertices, 1] > 210.0]
    assert len(away) > 20
    assert np.median(down[front.vertices]) > 1.0
    assert np.abs(down[away]).max() < 0.1 * np.median(down[front.vertices])


def test_pleats_are_drawn_down_by_the_tension_of_the_panels_that_are_pleated():
    text = FLAT + '[pad.pleats]\ncount = 6\nfiller = "foam"\nfiller_thickness = 12\n'
    pad = sheet_of(text).pads[0]
    alike = build(pad, edge_mm=20.0, tension_n_per_mm=0.3)
    parts = [panel.part for panel in alike.panels]
    soft, taut = dict.fromkeys(parts, 0.3), dict.fromkeys(parts, 0.3)
    taut["face"] = 0.9
    others = {part: 0.9 for part in parts if part != "face"} | {"face": 0.3}
    rise = [build(pad, edge_mm=20.0, tension_n_per_mm=told).pleats.figures[2].rise_mm for told in (soft, taut, others)]
    assert rise[0] == pytest.approx(alike.pleats.figures[2].rise_mm)
    assert rise[2] == pytest.approx(rise[0], rel=1e-6)
    assert rise[1] < 0.98 * rise[0]


@pytest.mark.parametrize(("front", "rear"), [(250, 430), (430, 250), (330, 330)])
def test_an_inset_runs_out_over_the_front_however_the_pad_narrows(front, rear):
    """Its sides run parallel to the pad's, at its margins, out to the front seam."""
    text = FLAT.replace("front_width = 400\nrear_width = 400", f"front_width = {front}\nrear_width = {rear}")
    pad = built(text + "[pad.inset]\nfront = 0\nrear = 70\nleft = 80\nright = 80\ncorner_radius = 30\n", edge_mm=14.0)
    inset = next(panel for panel in pad.panels if panel.role is PanelRole.INSET)
    plan = pad.support.vertices[inset.vertices][:, :2]
    assert plan[:, 1].max() == pytest.approx(230.0, abs=1.0)
    lean = (rear - front) / (2 * 300.0)
    straight = plan[(plan[:, 1] > 10.0) & (plan[:, 1] < 190.0)]
    off = (front / 2 + lean * straight[:, 1] - np.abs(straight[:, 0])) / np.hypot(1.0, lean)
    assert off.min() == pytest.approx(80.0, abs=0.1)
    # It runs on straight over the turn of 20 mm radius to the front seam, in its middle and 5 mm on: laid flat, that is
    # 20 - 20 pi / 4 - 5 mm from the edge, and there it is as wide as its margins leave it.
    row = plan[plan[:, 1] < plan[:, 1].min() + 0.5]
    wide = front + 2.0 * lean * (15.0 - 5.0 * np.pi) - 2.0 * 80.0 * np.hypot(1.0, lean)
    assert row[:, 1].mean() == pytest.approx(2.8, abs=0.1)
    assert np.ptp(row[:, 0]) == pytest.approx(wide, abs=0.2)


def test_readings_past_the_outline_change_nothing_where_they_go_on_straight():
    """A gauge laid on beyond the edge: the face is what it was, and what lies outside is left out."""
    profile = '[[pad.profile]]\ndirection = "along"\nat = 0\npoints = [[0, 0], [100, -4], [200, -8], [300, -12]%s]\n'
    plain, past = (built(FLAT + profile % more, edge_mm=20.0) for more in ("", ", [340, -13.6]"))
    assert np.abs(plain.surface.vertices - past.surface.vertices).max() < 1e-6
    assert past.pad.outline == plain.pad.outline
