"""Valleys as mesh edges and crests raised between them, against closed forms on flat and bent pads."""

import numpy as np
import pytest

from meshes.base.problems import ProblemError
from meshes.base.surface import curve_length, smallest_angles
from meshes.pleats.shape import arc_length
from meshes.seat.build import build
from tests.pads import FLAT, built, sheet_of
from tests.pleats import bent_across, bent_along, domed, square

WADDING = 'filler = "wadding"\nrise = 8\n'


def valley_points(pad, k):
    return pad.surface.vertices[pad.pleats.valleys[k]]


def test_flat_pad_has_straight_valleys_at_even_places():
    pad = square("count = 8")
    assert len(pad.pleats.valleys) == 7
    for k, x in enumerate(np.arange(-150.0, 151.0, 50.0)):
        points = valley_points(pad, k)
        assert points[:, 0] == pytest.approx(x, abs=1e-9)
        assert points[0, 1] == pytest.approx(0.0, abs=1e-6)
        assert points[-1, 1] == pytest.approx(300.0, abs=1e-6)
    assert [f.finished_mm for f in pad.pleats.figures] == pytest.approx([50.0] * 8, abs=1e-6)


def test_cut_width_on_a_flat_pad_is_the_arc_and_the_take_up():
    pad = square(f"count = 8\n{WADDING}filler_thickness = 12")
    # Chord 50, rise 8: arc 53.346 (derived from the circular segment); take-up a quarter of 12 mm.
    arc = float(arc_length(np.array(50.0), np.array(8.0)))
    assert arc == pytest.approx(53.346, abs=5e-4)
    assert sum(f.cut_mm for f in pad.pleats.figures) == pytest.approx(8 * (arc + 3.0), abs=1e-5)


def test_crests_stand_up_between_valleys_and_lie_flat_at_the_seams():
    pad = square(f"count = 8\n{WADDING}taper = 30", edge_mm=5.0)
    pleats = pad.pleats
    for path in pleats.valleys:
        assert pleats.height_mm[path] == pytest.approx(0.0, abs=0.0)
        assert np.array_equal(pleats.raised.vertices[path], pad.surface.vertices[path])
    at = pad.surface.vertices
    edge = (at[:, 1] < 1e-6) | (at[:, 1] > 300 - 1e-6)
    assert pleats.height_mm[edge] == pytest.approx(0.0, abs=1e-12)
    middle = (np.abs(at[:, 1] - 150) < 100) & (pleats.place >= 0)
    # The circle of radius 43.0625 over a chord of 50 with rise 8.
    beside = np.abs(np.mod(at[middle, 0], 50.0) - 25.0)
    assert pleats.height_mm[middle] == pytest.approx(np.sqrt(43.0625**2 - beside**2) - 35.0625, abs=1e-6)
    assert 7.9 < pleats.height_mm.max() <= 8.0
    lifted = pleats.raised.vertices - pad.surface.vertices
    inner = middle & (np.abs(at[:, 0]) < 190)
    assert lifted[inner, 2] == pytest.approx(pleats.height_mm[inner], abs=1e-9)


def test_both_halves_are_mirror_images_to_the_last_digit():
    pad = built(FLAT + "[pad.pleats]\ncount = 7\nhalf_at_sides = true\n", edge_mm=9.0)
    flipped = pad.pleats.raised.vertices * np.array([-1.0, 1.0, 1.0])
    whole = {tuple(p) for p in np.round(pad.pleats.raised.vertices + 0.0, 12).tolist()}
    assert {tuple(p) for p in np.round(flipped + 0.0, 12).tolist()} == whole
    names = [f.name for f in pad.pleats.figures]
    assert names[0] == "left half pleat"
    assert names[4] == "centre pleat"
    assert names[1:4] == ["left pleat 3", "left pleat 2", "left pleat 1"]
    assert pad.pleats.figures[0].finished_mm == pytest.approx(0.5 * pad.pleats.figures[4].finished_mm, rel=0.02)


def test_on_a_cylinder_along_the_pleats_widths_are_measured_over_the_bend():
    # Rulings from front to rear: the room is the arc 2 R asin(200 / R), every valley is a ruling of 300 mm.
    radius = 500.0
    pad = square("count = 8", profiles=bent_across(radius), edge_mm=5.0)
    width = 2 * radius * np.arcsin(200 / radius) / 8
    assert [f.finished_mm for f in pad.pleats.figures] == pytest.approx([width] * 8, abs=0.01)
    for k in range(7):
        assert curve_length(valley_points(pad, k)) == pytest.approx(300.0, abs=1e-3)
        angle = (k - 3) * width / radius
        assert valley_points(pad, k)[:, 0] == pytest.approx(radius * np.sin(angle), abs=0.02)


def test_on_a_cylinder_across_the_pleats_valleys_are_as_long_as_its_arc():
    # Rulings from side to side: widths are those of the flat pad, valleys are the arc 2 R asin(150 / R). The profile is
    # faired by up to 0.06 mm of height, which takes 0.03 mm off its length.
    radius = 400.0
    pad = square("count = 8", profiles=bent_along(radius), edge_mm=5.0)
    assert [f.finished_mm for f in pad.pleats.figures] == pytest.approx([50.0] * 8, abs=1e-3)
    for k in range(7):
        arc = 2 * radius * np.arcsin(150 / radius)
        assert curve_length(valley_points(pad, k)) == pytest.approx(arc, abs=0.05)


def test_on_a_dome_valleys_are_small_circles():
    # The plane x = a cuts a sphere of radius R in a circle of radius sqrt(R^2 - a^2).
    radius = 600.0
    pad = square("count = 8", profiles=domed(radius), edge_mm=5.0)
    for k in range(7):
        points = valley_points(pad, k)
        ring = np.sqrt(radius**2 - points[0, 0] ** 2)
        assert np.ptp(points[:, 0]) < 1e-6
        assert curve_length(points) == pytest.approx(2 * ring * np.arcsin(150 / ring), abs=0.05)
    whole = 2 * radius * np.arcsin(200 / radius)
    assert sum(f.finished_mm for f in pad.pleats.figures) == pytest.approx(whole, abs=0.05)


def test_fanned_pleats_are_wider_at_the_rear_by_what_was_asked():
    pad = square("count = 8\nfan = 1.15", edge_mm=6.0)
    inner = pad.pleats.figures[2:6]
    assert [f.finished_mm for f in inner] == pytest.approx([50.0] * 4, abs=1e-6)
    # Linear from end to end: 2 / (1 + fan) at the front, 2 fan / (1 + fan) at the rear.
    first, last = (np.diff([valley_points(pad, k)[end, 0] for k in range(1, 6)]) for end in (0, -1))
    assert first == pytest.approx([50 * 2 / 2.15] * 4, abs=1e-6)
    assert last == pytest.approx([50 * 2.3 / 2.15] * 4, abs=1e-6)


def test_valleys_that_follow_the_edges_keep_their_share_of_the_way():
    text = FLAT.replace("rear_width = 400", "rear_width = 300").replace("corner_radius = 40", "corner_radius = 30")
    pad = built(text + '[pad.pleats]\ncount = 8\nshape = "edge"\n', edge_mm=8.0)
    ends = np.array([[valley_points(pad, k)[end, 0] for k in range(7)] for end in (0, -1)])
    share = ends / ends[:, -1:]
    assert share[0] == pytest.approx(share[1], abs=2e-3)
    # Half widths where the seams lie: the sides narrow by a sixth of the depth and the seam lies pi / 4 * 20 - 20 mm
    # beside their outline, square to it; the front seam 5 mm below the edge, the rear one on it.
    turn = 20.0 - np.pi / 4 * 20.0
    front, rear = (200.0 - y / 6.0 - turn * np.hypot(1.0, 1 / 6) for y in (turn - 5.0, 300.0 - turn))
    assert ends[1, -1] / ends[0, -1] == pytest.approx(rear / front, abs=1e-3)


def test_pleats_across_run_from_side_to_side():
    pad = square('count = 6\ndirection = "across"')
    for k in range(5):
        points = valley_points(pad, k)
        assert points[:, 1] == pytest.approx(50.0 * (k + 1), abs=1e-6)
        assert points[[0, -1], 0] == pytest.approx([-200.0, 200.0], abs=1e-6)
    assert [f.name for f in pad.pleats.figures] == [f"pleat {k + 1}" for k in range(6)]


def test_pleats_run_over_an_edge_without_band_to_the_tack_line():
    open_front = FLAT.replace("band = true\nseam_below = 5\n", "", 1)
    over = built(open_front + "[pad.pleats]\ncount = 8\n", edge_mm=8.0)
    stops = built(open_front + "[pad.pleats]\ncount = 8\nover_edge = false\n", edge_mm=8.0)
    lowest = over.surface.vertices[:, 2].min()
    for k in range(7):
        start = valley_points(over, k)[0]
        assert start[2] == pytest.approx(lowest, abs=1.0)
        assert valley_points(stops, k)[0, 2] > lowest + 40
    side = over.surface.vertices[:, 2] < lowest + 30
    front = side & (over.surface.vertices[:, 1] < 1)
    assert over.pleats.height_mm[front].max() == pytest.approx(over.pleats.figures[3].rise_mm, rel=0.05)
    assert stops.pleats.height_mm[front].max() == 0.0
    rear = side & (over.surface.vertices[:, 1] > 200)
    assert over.pleats.height_mm[rear].max() > 1.0


def test_strips_and_joins_part_the_face_in_the_valleys():
    strips = square('count = 6\nconstruction = "strips"')
    assert [p.part for p in strips.panels if "pleat" in p.part] == [
        f"{side} pleat {k}" for side in ("left", "right") for k in (1, 2, 3)
    ]
    assert {p.mirror_of for p in strips.panels if p.part.startswith("left pleat")} == {
        f"cushion right pleat {k}" for k in (1, 2, 3)
    }
    joined = square("count = 7\njoins = [2, 5]")
    assert [p.part for p in joined.panels if "face" in p.part] == ["centre face", "left face", "right face"]
    whole = square("count = 7")
    assert [p.part for p in whole.panels if "face" in p.part] == ["face"]
    assert whole.panels[0].mirror is not None
    assert len(whole.panels[0].centre) == 2


def test_a_centre_valley_is_marked_like_a_centre_line():
    pad = square("count = 8")
    face = next(p for p in pad.panels if p.part == "face")
    assert sorted(pad.surface.vertices[face.vertices[face.centre], 1]) == pytest.approx([0.0, 300.0], abs=1e-6)


def test_triangles_along_valleys_stay_well_shaped():
    pad = built(FLAT + "[pad.pleats]\ncount = 9\nfan = 1.1\n", edge_mm=8.0)
    assert np.rad2deg(smallest_angles(pad.surface.vertices, pad.surface.triangles).min()) > 20.0


def test_what_was_rounded_is_told_as_a_warning():
    pad = square("pitch = 48")
    told = [p for p in pad.problems if p.code == "G131"]
    assert [p.warning for p in told] == [True]
    assert "a pitch of 48 mm became 50.00 mm: 8 pleats fill 400.0 mm" in told[0].text


@pytest.mark.parametrize(
    ("pleats", "code", "words"),
    [
        (f"count = 30\n{WADDING}", "G127", "narrower than its filler allows"),
        ("count = 30\nfiller_thickness = 20", "G127", "which needs 20.0 mm"),
        ("count = 16\nfan = 2.2", "G130", "leaves the face"),
        ("count = 8\njoins = [3, 9]", "G125", "there is no valley 9"),
        ("count = 8\njoins = [3]", "G126", "none at valley 5"),
        ('count = 8\njoins = "auto"\nlargest_width = 52', "G124", "larger than the largest part"),
        ("count = 8\ntaper = 160", "G129", "a taper of 160 mm at both ends of a pleat 300 mm long"),
        ("count = 8\ntake_up_measured = 400", "G128", "five pleats should come to 250.0 mm"),
    ],
)
def test_pleats_that_cannot_be_made(pleats, code, words):
    with pytest.raises(ProblemError, match=words) as found:
        square(pleats)
    assert [p.code for p in found.value.problems] == [code]


def test_joins_are_placed_where_every_part_is_small_enough():
    pad = square('count = 8\njoins = "auto"\nlargest_width = 170')
    size = [f.cut_mm for f in pad.pleats.figures]
    runs = pad.pleats.plan.parts.runs(8)
    assert runs == ((0, 3), (3, 5), (5, 8))
    assert max(sum(size[a:b]) for a, b in runs) <= 170.0


def test_valleys_that_are_tied_down_follow_the_padding_through_a_hollow():
    # A taut cover bridges a hollow in the face; stitches that are tied down hold it to the padding there.
    hollow = FLAT + (
        '[[pad.profile]]\ndirection = "across"\nat = 150\n'
        "points = [[0, -14], [40, -12.5], [80, -8.5], [120, -3], [160, -0.5], [200, 0]]\n"
        '[[pad.layer]]\nmaterial = "foam_firm"\nthickness = 12\nwhere = "all"\n'
    )
    sheets = [sheet_of(hollow + f"[pad.pleats]\ncount = 8\ntied = {tied}\n") for tied in ("false", "true")]
    loose, tied = (build(sheet.pads[0], edge_mm=12.0, tension_n_per_mm=1.0) for sheet in sheets)
    free = build(sheets[0].pads[0], edge_mm=12.0)
    path = loose.pleats.valleys[3]
    lifts, held = (pad.surface.vertices[path, 2] - free.surface.vertices[path, 2] for pad in (loose, tied))
    bridged = lifts > 2.0
    assert bridged.sum() > 8
    assert np.abs(held[bridged]).max() < 0.05
    # Beside the edges the cover sinks into the padding, tied or not: ties hold down and never up.
    assert held.max() < 0.05
    assert (held <= lifts + 0.05).all()


def test_pleats_across_follow_the_edges_of_a_crooked_inset():
    crooked = FLAT.replace("front_width = 400\nrear_width = 400\ndepth = 300\ncorner_radius = 40\n", "")
    crooked = crooked.replace("[pad.outline]\n", "[pad.outline]\nfront_left = 210\nfront_right = 190\n")
    crooked = crooked.replace("front_left", "rear_left = 180\nrear_right = 200\ndepth = 330\nfront_left")
    inset = "[pad.inset]\nfront = 50\nrear = 60\nleft = 70\nright = 70\n"
    pleats = '[pad.pleats]\ncount = 8\ndirection = "across"\nwhere = "inset"\nshape = "edge"\n'
    pad = built(crooked + inset + pleats, edge_mm=10.0)
    # Front and rear edge are parallel, so the valleys are too: an eighth of 330 - 110 mm apart, whatever the sides do.
    for k in range(7):
        assert valley_points(pad, k)[:, 1] == pytest.approx(50.0 + 27.5 * (k + 1), abs=1e-6)
    assert [f.finished_mm for f in pad.pleats.figures] == pytest.approx([27.5] * 8, abs=0.05)


def test_valleys_cut_short_by_round_corners_are_sewn_as_short_as_they_are():
    """On a disc of radius r a valley at x is 2 sqrt(r^2 - x^2) long: it ends where it meets the seam, and an outer one
    that keeps more than half of the length is no reason to refuse a round stool."""
    disc = FLAT.replace("width = 400", "width = 360").replace("depth = 300", "depth = 360").replace("s = 40", "s = 179")
    pad = built(disc.replace("seam_below = 5\n", "") + "band = true\n[pad.pleats]\ncount = 10\n", edge_mm=14.0)
    plan = pad.pleats.plan
    assert len(plan.valleys) == 9
    radius = 0.5 * (plan.region.whole[1] - plan.region.whole[0])
    for k, place in enumerate(plan.layout.valleys):
        points = valley_points(pad, k)
        assert curve_length(points) == pytest.approx(2.0 * np.sqrt(radius**2 - place**2), abs=1.5)
    assert curve_length(valley_points(pad, 0)) < 0.75 * 2.0 * radius
