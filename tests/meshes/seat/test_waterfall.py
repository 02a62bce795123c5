"""A face that runs on over a side between gables, against its section: box with a rolled front, half round top."""

import math
import re

import numpy as np
import pytest

import flatten
from meshes.base.problems import ProblemError
from meshes.base.surface import curve_length, triangle_areas
from meshes.seat.panels import PanelRole
from meshes.settle.section_line import Cut, section_line
from meshes.support.line_roles import LineRole
from tests.pads import built

PAD = """
name = "test"
unit = "{unit}"
[[pad]]
name = "pad"
kind = "cushion"
[pad.outline]
front_width = {front}
rear_width = {rear}
depth = {depth}
{radius}
[pad.sides]
front = {{ drop = {drop}, edge_radius = {roll} }}
right = {{ drop = {drop}, edge_radius = {edge}, band = true, welt = true }}
rear = {{ drop = {drop}, edge_radius = {edge}, band = {rear_band} }}
left = {{ drop = {drop}, edge_radius = {edge}, band = true, welt = true }}
[pad.bands]
over = {over}
"""
USUAL = {
    "unit": "mm",
    "front": 400,
    "rear": 400,
    "depth": 300,
    "radius": "",
    "drop": 140,
    "roll": 60,
    "edge": 0.02,
    "over": '["front"]',
    "rear_band": "true",
}
FOAM = '[[pad.layer]]\nmaterial = "foam_firm"\nthickness = 30\n[[pad.layer]]\nmaterial = "wadding"\nthickness = 6\n'


def text_of(**changes):
    return PAD.format(**(USUAL | changes))


def pad_of(more="", *, edge_mm=8.0, **changes):
    return built(text_of(**changes) + more, edge_mm=edge_mm)


def parts_of(pad):
    return {panel.part: panel for panel in pad.panels}


def area(panel):
    return triangle_areas(panel.surface.vertices, panel.surface.triangles).sum()


def edge_of(panel, role):
    return [edge for edge in panel.rim if edge.role is role]


def long(panel, edge):
    return curve_length(panel.surface.vertices[edge.vertices])


def section_off(points, *, depth=300.0, drop=140.0, roll=60.0):
    """How far points (n, 2), place from the front and height, lie outside the section of a box with a rolled front."""
    y, z = points.T
    in_corner = (y < roll) & (z > -roll)
    flat = np.maximum(np.maximum(-y, y - depth), np.maximum(z, -drop - z))
    return np.where(in_corner, np.hypot(y - roll, z + roll) - roll, flat)


def test_the_gable_is_the_section_and_the_face_its_length():
    parts = parts_of(pad_of(edge_mm=6.0))
    assert set(parts) == {"face", "left gable", "right gable", "rear band"}
    gable, face = parts["right gable"], parts["face"]
    assert np.ptp(gable.surface.vertices[:, 0]) < 0.02
    assert area(gable) == pytest.approx(300.0 * 140.0 - (1.0 - 0.25 * math.pi) * 60.0**2, rel=1e-3)
    # One seam from the rear corner over the top, round the front and down to the tack line, as long as the face.
    length = 240.0 + 30.0 * math.pi + 80.0
    (seam,) = edge_of(gable, LineRole.EDGE)
    assert seam.kind == "welted"
    assert long(gable, seam) == pytest.approx(length, abs=0.2)
    assert np.abs(section_off(gable.surface.vertices[seam.vertices][:, 1:])).max() < 0.05
    assert area(face) == pytest.approx(400.0 * length, rel=1e-3)
    (tack,) = edge_of(face, LineRole.TACK)
    assert (tack.name, long(face, tack)) == ("front tack line", pytest.approx(400.0, abs=0.2))


def test_face_and_gable_ask_nothing_of_the_leather_and_the_piece_is_the_section():
    parts = parts_of(pad_of(edge_mm=12.0))
    for name in ("face", "right gable"):
        assert flatten.flatten(parts[name].surface.vertices, parts[name].surface.triangles).demand < 2e-3
    gable = parts["right gable"]
    flat = flatten.flatten(gable.surface.vertices, gable.surface.triangles)
    (seam,) = edge_of(gable, LineRole.EDGE)
    on_seat, on_piece = gable.surface.vertices[seam.vertices], flat.points[seam.vertices]
    far = np.linalg.norm(on_seat[:, None] - on_seat[None], axis=2)
    assert np.abs(far - np.linalg.norm(on_piece[:, None] - on_piece[None], axis=2)).max() < 0.2


@pytest.mark.parametrize("edge", [8.0, 40.0])
def test_a_round_edge_goes_on_round_the_section(edge):
    """Along a rolled edge the turn is part of a ring: every point of it is `edge` from the section of the core."""
    pad = pad_of(edge=edge, edge_mm=6.0)
    y, z = pad.surface.vertices[:, 1], pad.surface.vertices[:, 2]
    x = np.abs(pad.surface.vertices[:, 0])
    near = y < 220.0
    core = np.stack([y, z], axis=1)
    # The core is the section made smaller all round but below, and the body everything within `edge` of it.
    off = np.where(
        (y < 60.0) & (z > -60.0),
        np.hypot(y - 60.0, z + 60.0) - (60.0 - edge),
        np.maximum(edge - core[:, 0], core[:, 1] + edge),
    )
    out = np.hypot(np.maximum(off, 0.0), np.maximum(x - (200.0 - edge), 0.0))
    assert np.abs(out[near] - edge)[off[near] > -1.0].max() < 0.05
    assert (x[near & (off < -0.01)] > 199.99).all()


def test_padding_makes_the_section_larger_all_round():
    """Foam and wadding of 36 mm on a sharp box are laid round the roll: the seam runs at 45 degrees outside it."""
    parts = parts_of(pad_of(FOAM, edge_mm=8.0))
    gable = parts["right gable"]
    (seam,) = edge_of(gable, LineRole.EDGE)
    points = gable.surface.vertices[seam.vertices]
    front = points[points[:, 1] < 200.0]
    assert np.abs(np.hypot(section_off(front[:, 1:]), front[:, 0] - 200.0) - 36.0).max() < 0.1
    assert np.abs(front[:, 0] - 200.0 - 36.0 * math.sqrt(0.5)).max() < 0.1


ON_BLOCK = """
[[pad.layer]]
material = "foam_firm"
thickness = 80
where = "face"
form = "block"
edge = {{ front = 60, right = {edge}, rear = {edge} }}
"""


@pytest.mark.parametrize("edge", [0.02, 12.0])
def test_a_block_with_a_rolled_edge_is_the_body_of_a_frame_that_stands_as_high(edge):
    """A board 60 mm deep under 80 mm of foam, its front rolled to 60 mm: the box of 140 mm with that roll."""
    block = pad_of(ON_BLOCK.format(edge=edge), drop=60, roll=4, edge=min(edge, 3.0), edge_mm=10.0)
    frame = pad_of(edge=edge, edge_mm=10.0)
    ours, theirs = parts_of(block), parts_of(frame)
    assert set(ours) == set(theirs) == {"face", "left gable", "right gable", "rear band"}
    for part, panel in ours.items():
        assert area(panel) == pytest.approx(area(theirs[part]), rel=1e-3)
        for role in (LineRole.EDGE, LineRole.TACK):
            have, want = (sorted(long(p, one) for one in edge_of(p, role)) for p in (panel, theirs[part]))
            assert have == pytest.approx(want, abs=0.2)
    points = block.surface.vertices
    near = points[np.abs(points[:, 0]) < 150.0][:, 1:] - [0.0, 80.0]
    front = near[near[:, 0] < 150.0]
    assert np.abs(section_off(front)).max() < 0.05


def test_the_section_of_a_block_under_a_rolled_front_stands_on_the_board():
    pad = pad_of(ON_BLOCK.format(edge=6.0), drop=60, roll=4, edge=3.0, edge_mm=24.0).pad
    line = section_line(pad, Cut("along", 0.0))
    at = line.base[:, 0] < 100.0
    assert line.support[at & (line.base[:, 1] > 1.0), 1] == pytest.approx(0.0, abs=0.05)
    assert line.support[:, 0].min() > -0.05


BOTH = {"over": '["rear", "front"]', "rear_band": "false"}


def test_over_front_and_rear_in_one():
    pad = pad_of(**BOTH)
    parts = parts_of(pad)
    assert set(parts) == {"face", "left gable", "right gable"}
    gable = parts["left gable"]
    assert area(gable) == pytest.approx(300.0 * 140.0 - (1.0 - 0.25 * math.pi) * 60.0**2, rel=1e-3)
    (seam,) = edge_of(gable, LineRole.EDGE)
    assert long(gable, seam) == pytest.approx(240.0 + 30.0 * math.pi + 80.0 + 140.0, abs=0.2)
    assert area(parts["left gable"]) == area(parts["right gable"])
    assert len(pad.seams) == 2


def test_over_a_half_round_top_and_down_behind():
    """A back of 80 mm with a half round top: gables are a rectangle and half a circle, the face goes round it."""
    text = """
name = "test"
[[pad]]
name = "back"
kind = "backrest"
[pad.outline]
bottom_width = 400
top_width = 400
depth = 500
[pad.bands]
over = ["top"]
[pad.sides]
top = { drop = 240, edge_radius = 40, turn = 180 }
bottom = { drop = 80, edge_radius = 0.02, closed_by_hand = true }
left = { drop = 80, edge_radius = 0.02, band = true }
"""
    parts = parts_of(built(text, edge_mm=8.0))
    # The drop of a turned top counts 40 mm outward from its edge and half round it: what is left of it goes down.
    down = 240.0 - 40.0 * (1.0 + 0.5 * math.pi)
    face = parts["face"]
    (seam,) = edge_of(parts["right gable"], LineRole.EDGE)
    assert long(parts["right gable"], seam) == pytest.approx(460.0 + 40.0 * math.pi + down, abs=0.3)
    (tack,) = [edge for edge in edge_of(face, LineRole.TACK) if edge.name == "top tack line"]
    behind = face.surface.vertices[tack.vertices]
    assert behind[:, 2] == pytest.approx(-80.0, abs=0.05)
    assert behind[:, 1] == pytest.approx(460.0 - down, abs=0.05)


def test_slanting_sides_cut_the_face_where_their_planes_do():
    """Sides that run in by 40 mm: the seam lies in the plane of the side, the gable is the section drawn out so."""
    parts = parts_of(pad_of(rear=320))
    gable = parts["right gable"]
    off = (gable.surface.vertices[:, :2] - [200.0, 0.0]) @ (np.array([300.0, 40.0]) / math.hypot(300.0, 40.0))
    assert np.abs(off).max() < 0.05
    section = 300.0 * 140.0 - (1.0 - 0.25 * math.pi) * 60.0**2
    assert area(gable) == pytest.approx(section * math.hypot(300.0, 40.0) / 300.0, rel=1e-3)
    # Where the front stands upright it is as wide as below.
    assert np.ptp(parts["face"].surface.vertices[:, 0]) == pytest.approx(400.0, abs=0.1)


def test_on_a_base_that_rises_the_gable_ends_on_it():
    base = "[pad.frame]\nfront = 140\nrear = 110\n"
    text = text_of().replace("drop = 140, ", "").replace("[pad.sides]", base + "[pad.sides]")
    gable = parts_of(built(text, edge_mm=6.0))["right gable"]
    (tack,) = edge_of(gable, LineRole.TACK)
    foot = gable.surface.vertices[tack.vertices]
    assert foot[:, 2] == pytest.approx(-140.0 + foot[:, 1] / 10.0, abs=0.1)
    assert area(gable) == pytest.approx(300.0 * 125.0 - (1.0 - 0.25 * math.pi) * 60.0**2, rel=1e-3)


def test_a_crown_goes_on_over_the_front():
    """Crowned across by 12 mm: so is the roll, which begins as high as the face; at the gables both are level."""
    crown = """
[[pad.profile]]
direction = "across"
at = 150
points = [[-200, 0], [-100, 9], [0, 12], [100, 9], [200, 0]]
"""
    pad = pad_of(crown, edge_mm=6.0)
    gable = parts_of(pad)["right gable"]
    (seam,) = edge_of(gable, LineRole.EDGE)
    points = gable.surface.vertices[seam.vertices]
    assert np.abs(section_off(points[:, 1:])).max() < 0.2
    face = parts_of(pad)["face"].surface.vertices
    middle = face[np.abs(face[:, 0]) < 1e-6]
    assert len(middle) > 30
    assert np.abs(section_off(middle[:, 1:] - [0.0, 12.0])[middle[:, 1] < 299.0]).max() < 0.05


def mirrored_gap(one, other):
    turned = one.surface.vertices * [-1.0, 1.0, 1.0]
    gaps = [np.linalg.norm(turned[:, None] - p.surface.vertices[None], axis=2).min(axis=1).max() for p in other.panels]
    return min(gaps), other.panels[int(np.argmin(gaps))]


CROOKED = "front_left = {}\nfront_right = {}\nrear_left = {}\nrear_right = {}\n"


@pytest.mark.parametrize("more", ["", "[pad.inset]\nmargin = 70\n"], ids=["plain", "inset"])
def test_mirrored_outlines_give_mirrored_pieces(more):
    def crooked(a, b, c, d):
        halves = CROOKED.format(a, b, c, d)
        return built(text_of(edge=8).replace("front_width = 400\nrear_width = 400\n", halves) + more, edge_mm=12.0)

    one, other = crooked(200, 180, 170, 190), crooked(180, 200, 190, 170)
    assert len(one.panels) == len(other.panels)
    for panel in one.panels:
        gap, image = mirrored_gap(panel, other)
        assert gap < 1e-6
        assert image.role is panel.role
        assert area(image) == pytest.approx(area(panel), rel=1e-9)


def test_inches_give_the_same_pieces():
    one = pad_of(front=406.4, rear=381, depth=304.8, drop=127, roll=50.8, edge=7.62, edge_mm=12.0)
    other = pad_of(unit="in", front=16, rear=15, depth=12, drop=5, roll=2, edge=0.3, edge_mm=12.0)
    for a, b in zip(one.panels, other.panels, strict=True):
        assert a.name == b.name
        assert np.abs(a.surface.vertices - b.surface.vertices).max() < 1e-9


def test_bolsters_run_over_the_front_with_the_face():
    pad = pad_of("[pad.inset]\nmargin = 80\n", edge=10)
    parts = parts_of(pad)
    assert {"front bolster", "right bolster", "left bolster", "rear bolster", "inset"} < set(parts)
    # The seam between two bolsters ends in the corner at the foot of the roll, where the gable's seam goes on down.
    corner = np.array([200.0 - 10.0 * (1.0 - math.sqrt(0.5)), 10.0 * (1.0 - math.sqrt(0.5)), -60.0])
    (seam,) = edge_of(parts["front bolster"], LineRole.TACK)
    assert parts["front bolster"].surface.vertices[seam.vertices][:, 2] == pytest.approx(-140.0, abs=0.05)
    ends = [edge for edge in parts["right bolster"].rim if edge.role is LineRole.CORNER]
    places = np.concatenate([parts["right bolster"].surface.vertices[edge.vertices] for edge in ends])
    assert np.linalg.norm(places - corner, axis=1).min() < 0.1


ROUND = "corner_radius = 50"


@pytest.mark.parametrize(
    ("changes", "swap", "told"),
    [
        ({"rear_band": "true", "over": '["front", "rear"]'}, None, r"G185 .*rear side, which has a band of its own"),
        ({}, ("band = true, welt = true", "band = false"), r"G185 .*left side has no band to be its gable"),
        ({"radius": ROUND, "edge": 10}, None, r"G186 .*corner beside the left side is 50 mm round.*make it 10 mm"),
        ({"edge": 70}, None, r"G186 .*edge of 60 mm radius, and the left edge has 70 mm"),
        ({"depth": 65}, None, r"G186 .*run straight for 70 mm, found 65 mm"),
        ({}, ("band = true, welt", "turn = 80, band = true, welt"), r"G186 .*write turn = 90, found 80"),
        ({}, ("band = true, welt", "seam_below = 6, band = true, welt"), r"G186 .*at most 0 mm below, found 6"),
        ({}, ("over =", "joins = [[200, 150]]\nover ="), r"G187 .*in the gable of the right side, which is one piece"),
        (
            {},
            ("drop = 140, edge_radius = 60", "drop = 170, edge_radius = 60"),
            r"G186 .*140 mm below.*front .*170 mm",
        ),
        ({"over": '["left"]'}, None, r"S0\d\d .*over.*left"),
    ],
)
def test_what_does_not_go_with_a_face_that_runs_on_is_told(changes, swap, told):
    text = text_of(**changes)
    with pytest.raises(ProblemError, match=told):
        built(text.replace(*swap) if swap else text)


def test_the_drop_that_is_named_for_a_gable_is_one_that_goes():
    """It is that of the over-side's tack line where the gable begins."""
    text = text_of().replace("drop = 140, edge_radius = 60", "drop = 170, edge_radius = 60")
    with pytest.raises(ProblemError) as refused:
        built(text, edge_mm=16.0)
    named = re.search(r"write drop = (\d+) mm on the (\w+) side", str(refused.value))
    assert named[1] == "170"
    assert built(text.replace("drop = 140, edge_radius = 0.02", f"drop = {named[1]}, edge_radius = 0.02"), edge_mm=16.0)


def test_a_frame_that_comes_up_to_the_roll_is_told():
    """Eight millimetres behind the front the roll is 30 mm below the face: a frame 25 mm below leaves no gable."""
    drops = "[[0, 140], [2, 100], [4, 60], [6, 30], [8, 25], [12, 24], [14, 24], [20, 25], [60, 34], [290, 80]]"
    low = f"drops = {drops}, edge_radius = 0.02, band = true, welt"
    text = text_of().replace("drop = 140, edge_radius = 0.02, band = true, welt", low)
    with pytest.raises(ProblemError, match=r"G188 .*gable of the \w+ side is too low for its section"):
        built(text, edge_mm=4.0)


def test_a_gable_is_a_band_with_the_grain_up():
    gable = parts_of(pad_of())["left gable"]
    assert gable.role is PanelRole.BAND
    assert gable.grain.tolist() == [0.0, 0.0, 1.0]
    assert gable.mirror_of == "pad right gable"


@pytest.mark.parametrize("turn", [120, 150])
def test_the_foot_of_a_gable_is_straight_where_the_face_comes_back_under(turn):
    """A rolled front turned past upright comes back under the seat: with the drop that is named, the gable's tack line
    runs straight up to the edge that it goes round, without a tooth."""
    text = text_of(edge=10, drop=140).replace("edge_radius = 60", f"edge_radius = 60, turn = {turn}")
    with pytest.raises(ProblemError) as refused:
        built(text, edge_mm=16.0)
    named = float(re.search(r"write drop = (\d+) mm on the right side", str(refused.value))[1])
    pad = built(text.replace("drop = 140, edge_radius = 10", f"drop = {named}, edge_radius = 10"), edge_mm=16.0)
    gable = parts_of(pad)["right gable"]
    (foot,) = edge_of(gable, LineRole.TACK)
    _, y, z = gable.surface.vertices[foot.vertices].T
    face = parts_of(pad)["face"]
    front = min(face.surface.vertices[edge.vertices][:, 1].min() for edge in edge_of(face, LineRole.TACK))
    straight = (y > front + 20.0) & (y < 280.0)
    assert straight.sum() > 5
    assert z[straight] == pytest.approx(-named, abs=0.05)
    order = np.argsort(y)
    near = y[order] < front + 20.0
    assert z[order][near].max() <= -named + 0.6
