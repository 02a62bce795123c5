"""The bare support: sides at any turn, faces through their profiles, directors, and the chart they are drawn on."""

from dataclasses import replace

import numpy as np
import pytest

from meshes.base.problems import Problem, ProblemError
from meshes.base.surface import triangle_areas
from meshes.numerics.sizes import Sizes
from meshes.records.built_up import BuiltUp
from meshes.records.pad import SIDES, Profile
from meshes.support.blocks import face_of
from meshes.support.chart import pad_chart
from meshes.support.chart_mesh import chart_mesh
from meshes.support.face import fit_face, is_even
from meshes.support.line_roles import LineRole
from meshes.support.loft import loft
from tests.pads import FLAT, sheet_of

NO_PADDING = dict.fromkeys(SIDES, 0.0)
TURNS = [30.0, 60.0, 90.0, 120.0, 170.0]
RADIUS, DROP = 20.0, 110.0


def make_problem(code, keys, text):
    return Problem(code, "", text)


def pad_of(*, turn=90.0, padding=0.0, **changes):
    """A pad of 400 x 300 mm with the same side all round, and its chart for so much padding on the edge."""
    (pad,) = sheet_of(FLAT).pads
    side = replace(pad.sides["rear"], drop=DROP, edge_radius=RADIUS, turn_deg=turn)
    pad = replace(pad, sides=dict.fromkeys(SIDES, side), **changes)
    return pad, pad_chart(pad, dict.fromkeys(SIDES, padding), make_problem)


def down_the_front(pad, chart, c):
    """Support and directors down the middle of the front side, seen in section: how far out, and how high."""
    u = np.full(len(c), 1.5)
    made = loft(chart, face_of(pad), chart.to_plane(u, c), u, c)
    return np.column_stack([-made.points[:, 1], made.points[:, 2]]), np.column_stack(
        [-made.directors[:, 1], made.directors[:, 2]]
    )


@pytest.mark.parametrize("turn", TURNS)
def test_a_side_is_as_deep_as_its_drop_says(turn):
    """The drop is laid off from where face and side would meet, along the side; past a quarter turn from where the
    edge is furthest out, along the edge itself, with its radius for the quarter."""
    pad, chart = pad_of(turn=turn)
    u = np.array([1.5])
    (end,), _ = down_the_front(pad, chart, chart.tack(u))
    angle = np.deg2rad(turn)
    if turn <= 90.0:
        # The face lies at height 0. The side touches the round where its normal has turned by the angle.
        touch = np.array([RADIUS * (np.sin(angle) - 1.0), RADIUS * (np.cos(angle) - 1.0)])
        along = np.array([np.cos(angle), -np.sin(angle)])
        meeting = touch - touch[1] / along[1] * along
        assert end == pytest.approx(meeting + DROP * along, abs=1e-9)
        assert end[1] == pytest.approx(-DROP * np.sin(angle), abs=1e-9)
    else:
        c = np.linspace(0.0, float(chart.tack(u)[0]), 4001)
        line, _ = down_the_front(pad, chart, c)
        outmost = int(np.argmax(line[:, 0]))
        assert line[outmost] == pytest.approx([0.0, -RADIUS], abs=0.02)
        long = np.linalg.norm(np.diff(line[outmost:], axis=0), axis=1).sum()
        assert long == pytest.approx(DROP - RADIUS, abs=0.05)


@pytest.mark.parametrize("padding", [0.0, 15.0])
@pytest.mark.parametrize("turn", TURNS)
def test_padding_along_the_directors_makes_the_edge_so_much_rounder(turn, padding):
    """Laid along the directors, even padding turns the edge of radius r into one of r + t about the same centre, and
    the chart counts lengths on it (Steiner)."""
    pad, chart = pad_of(turn=turn, padding=padding)
    u = np.array([1.5])
    c = np.linspace(-30.0, float(chart.tack(u)[0]), 3001)
    line, out = down_the_front(pad, chart, c)
    assert np.linalg.norm(out, axis=1) == pytest.approx(1.0)
    padded = line + padding * out
    step = np.linalg.norm(np.diff(padded, axis=0), axis=1)
    assert step == pytest.approx(np.diff(c), rel=1e-5)
    end = float(chart.turn_end(u)[0])
    assert end == pytest.approx((RADIUS + padding) * np.deg2rad(turn))
    turning = (c > 0.0) & (c < end)
    assert np.hypot(padded[turning, 0] + RADIUS, padded[turning, 1] + RADIUS) == pytest.approx(RADIUS + padding)
    # On the face they stand upright, on the side square to it, and between they turn evenly.
    lean = np.rad2deg(np.arctan2(out[:, 0], out[:, 1]))
    assert lean == pytest.approx(np.clip(c / end, 0.0, 1.0) * turn, abs=1e-6)
    run = padded[c > end + 1e-6]
    along = (run[-1] - run[0]) / np.linalg.norm(run[-1] - run[0])
    assert abs(along @ out[-1]) < 1e-9


def test_a_sharp_edge_turns_at_once():
    pad, _ = pad_of()
    sharp = replace(pad.sides["rear"], edge_radius=0.0)
    pad = replace(pad, sides=dict.fromkeys(SIDES, sharp))
    chart = pad_chart(pad, NO_PADDING, make_problem)
    line, out = down_the_front(pad, chart, np.array([-1.0, 1e-3, 50.0]))
    assert line == pytest.approx(np.array([[-1.0, 0.0], [0.0, 0.0], [0.0, -50.0]]), abs=2e-3)
    assert out == pytest.approx(np.array([[0.0, 1.0], [1.0, 0.0], [1.0, 0.0]]))
    # Padding on it is round: the same place has all directions of the quarter turn.
    chart = pad_chart(pad, dict.fromkeys(SIDES, 10.0), make_problem)
    line, out = down_the_front(pad, chart, np.linspace(0.0, 5.0 * np.pi, 9))
    assert np.abs(line).max() < 1e-9
    assert np.rad2deg(np.arctan2(out[:, 0], out[:, 1])) == pytest.approx(np.linspace(0.0, 90.0, 9))


def test_the_middle_of_the_turn_is_the_edge_and_seams_lie_below_it():
    pad, _ = pad_of(turn=120.0, padding=5.0)
    band = replace(pad.sides["rear"], band=True, seam_below=7.0)
    chart = pad_chart(replace(pad, sides={**pad.sides, "rear": band}), dict.fromkeys(SIDES, 5.0), make_problem)
    rear, right = np.array([5.5]), np.array([3.5])
    quarter = 25.0 * np.deg2rad(60.0)
    assert chart.edge(rear) == pytest.approx([quarter])
    assert chart.seam(rear) == pytest.approx([quarter + 7.0])
    # Without a band the seam is the edge itself.
    assert chart.seam(right) == pytest.approx([quarter])
    assert chart.turn_end(rear) == pytest.approx(2.0 * chart.edge(rear))


def test_the_plane_of_the_chart_gives_places_back():
    _, chart = pad_of(padding=8.0)
    rng = np.random.default_rng(5)
    u, c = rng.uniform(0.0, chart.outline.period, 200), rng.uniform(-20.0, 90.0, 200)
    there = chart.to_plane(u, c)
    back = chart.from_plane(there)
    assert chart.to_plane(*back) == pytest.approx(there, abs=1e-7)
    assert back[1] == pytest.approx(c, abs=1e-7)


def test_sides_part_in_the_middle_of_corners_but_a_band_goes_round_them():
    pad, chart = pad_of()
    assert chart.corners == (2.5, 4.5, 6.5, 0.5)
    assert [chart.side_at(u) for u in (1.5, 2.4, 2.6, 3.5, 5.5, 7.5, 0.4, 0.6)] == [
        *("front", "front", "right", "right", "rear", "left", "left", "front"),
    ]
    front = replace(pad.sides["front"], band=True)
    banded = pad_chart(replace(pad, sides={**pad.sides, "front": front}), NO_PADDING, make_problem)
    assert banded.corners == (3.0, 4.5, 6.5, 0.0)
    assert banded.side_at(2.9) == "front"


def test_corners_are_at_least_as_round_as_their_edges():
    (pad,) = sheet_of(FLAT.replace("corner_radius = 40", "corner_radius = 5")).pads
    chart = pad_chart(pad, NO_PADDING, make_problem)
    assert chart.outline.radii == pytest.approx([20.0] * 4)
    with pytest.raises(ProblemError) as refused:
        pad_chart(replace(pad, outline=replace(pad.outline, radii=(190.0,) * 4)), NO_PADDING, make_problem)
    assert [p.code for p in refused.value.problems] == ["G101"]


def plane(x, y):
    return 3.0 + 0.06 * x - 0.04 * y


def test_a_face_measured_on_a_plane_is_that_plane():
    """Any profiles read off one plane, along and across, give it back between and beyond them, and its normal."""
    y, x = np.linspace(0.0, 300.0, 7), np.linspace(-200.0, 200.0, 9)
    profiles = [Profile("along", at, tuple(zip(y, plane(at, y), strict=True))) for at in (-150.0, 30.0, 120.0)]
    profiles += [Profile("across", at, tuple(zip(x, plane(x, at), strict=True))) for at in (60.0, 240.0)]
    for chosen in (profiles, profiles[:3]):
        face = fit_face(chosen, symmetric=False)
        plan = np.random.default_rng(1).uniform([-150.0, 0.0], [120.0, 300.0], (50, 2))
        assert face.height(plan) == pytest.approx(plane(*plan.T), abs=1e-6)
        normal = np.array([-0.06, 0.04, 1.0]) / np.linalg.norm([-0.06, 0.04, 1.0])
        inner = np.array([[0.0, 150.0], [-60.0, 90.0]])
        assert face.normal(inner) == pytest.approx(np.tile(normal, (2, 1)), abs=1e-6)


def test_directors_are_units_and_square_to_a_sloping_face():
    """On the face they are its normals; round the edge they turn from there into the side's and stay of length 1."""
    y = np.linspace(0.0, 300.0, 7)
    slope = Profile("along", 0.0, tuple(zip(y, 0.2 * y, strict=True)))
    pad, chart = pad_of(profiles=(slope,))
    c = np.linspace(-40.0, float(chart.tack(np.array([1.5]))[0]), 201)
    line, out = down_the_front(pad, chart, c)
    assert np.linalg.norm(out, axis=1) == pytest.approx(1.0)
    assert out[0] == pytest.approx(np.array([0.2, 1.0]) / np.hypot(0.2, 1.0), abs=1e-6)
    assert out[-1] == pytest.approx([1.0, 0.0], abs=1e-9)
    # The edge is laid on the face: the tack line hangs as far below it as below a flat one.
    flat, _ = down_the_front(*pad_of(), c)
    assert line[:, 0] == pytest.approx(flat[:, 0])
    assert line[:, 1] - flat[:, 1] == pytest.approx(-0.2 * line[:, 0], abs=1e-6)


def test_across_profiles_are_met_where_they_were_measured():
    x = np.linspace(-200.0, 200.0, 9)
    bow = Profile("across", 150.0, tuple(zip(x, -0.0005 * x**2, strict=True)))
    ridge = Profile("along", 0.0, ((0.0, 0.0), (150.0, 0.0), (300.0, 0.0)))
    face = fit_face([ridge, bow], symmetric=False)
    at = np.column_stack([x, np.full(9, 150.0)])
    assert face.height(at) == pytest.approx(-0.0005 * x**2, abs=0.3)
    assert fit_face([], symmetric=True).height(at) == pytest.approx(np.zeros(9))


@pytest.mark.parametrize("half", ["right", "left", "both"])
def test_a_profile_across_an_even_pad_is_measured_on_one_half_or_both(half):
    """One half stands for both; two halves that differ are meant."""
    x = np.linspace(-200.0, 200.0, 9)
    height = 0.002 * np.abs(x) ** 1.5
    chosen = {"right": x >= 0, "left": x <= 0, "both": x < 1e9}[half]
    tilt = 0.01 * x if half == "both" else 0.0 * x
    points = tuple(zip(x[chosen], (height + tilt)[chosen], strict=True))
    face = fit_face([Profile("across", 150.0, points)], symmetric=True)
    at = np.column_stack([x, np.full(9, 150.0)])
    assert face.height(at) == pytest.approx(height, abs=0.5)
    assert face.height(at) == pytest.approx(face.height(at * [-1.0, 1.0]), abs=1e-9)


def test_profiles_along_an_even_pad_stand_for_both_sides():
    face = fit_face([Profile("along", 100.0, ((0.0, 4.0), (300.0, 4.0)))], symmetric=True)
    assert [place for place, _ in face.along] == [-100.0, 100.0]
    crooked = fit_face([Profile("along", 100.0, ((0.0, 4.0), (300.0, 4.0)))], symmetric=False)
    assert [place for place, _ in crooked.along] == [100.0]


def test_what_is_built_up_lies_on_what_was_measured():
    built_up = BuiltUp("left", ((-200.0, 0.0), (-200.0, 300.0)), (0.0, 300.0), (8.0, 8.0), (0.0, 0.0), 90.0)
    pad, _ = pad_of()
    plan = np.array([[-200.0, 150.0], [-190.0, 20.0], [0.0, 150.0]])
    more = face_of(pad, built_up).height(plan) - face_of(pad).height(plan)
    assert more == pytest.approx([8.0, 8.0, 0.0])


def test_a_pad_is_even_when_its_sides_are():
    pad, _ = pad_of()
    assert is_even(pad)
    assert not is_even(replace(pad, symmetric=False))
    assert not is_even(replace(pad, sides={**pad.sides, "left": replace(pad.sides["left"], drop=1.0)}))


@pytest.mark.parametrize("half", [True, False])
def test_the_chart_is_tiled_once_and_faces_up(half):
    """Drawn in its plane the chart is the outline grown by what hangs down; its triangles fill it and turn one way."""
    pad, chart = pad_of()
    mesh = chart_mesh(pad, chart, make_problem, half=half, sizes=Sizes(7.0))
    a, b, c = (mesh.plan[mesh.triangles[:, k]] for k in range(3))
    area = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    assert (area > 0).all()
    # A rounded rectangle of corner radius r has the area w h - (4 - pi) r^2; grown by g it is larger by all of g.
    grown = float(chart.tack(np.array([1.5]))[0]) - RADIUS
    w, h, r = 400.0 + 2 * grown, 300.0 + 2 * grown, 40.0 + grown
    assert 0.5 * area.sum() == pytest.approx(w * h - (4 - np.pi) * r**2, rel=2e-3)
    assert (mesh.mirror is not None) == half
    if half:
        assert mesh.plan[mesh.mirror] == pytest.approx(mesh.plan * [-1.0, 1.0], abs=1e-9)
        assert np.array_equal(mesh.mirror[mesh.mirror], np.arange(len(mesh.plan)))


@pytest.mark.parametrize("half", [True, False])
def test_lines_of_the_chart_lie_where_they_are_said_to(half):
    line = '\n[[pad.line]]\nname = "seam"\npoints = [[90, 0], [90, 300]]\n'
    pad = replace(sheet_of(FLAT + line).pads[0], symmetric=half)
    if not half:
        pad = replace(
            pad, lines=(*pad.lines, replace(pad.lines[0], name="other", points=((-90.0, 0.0), (-90.0, 300.0))))
        )
    chart = pad_chart(pad, NO_PADDING, make_problem)
    mesh = chart_mesh(pad, chart, make_problem, half=half, sizes=Sizes(14.0))
    on = {role: np.unique(mesh.edges[mesh.on(role)]) for role in (LineRole.EDGE, LineRole.TACK, LineRole.EXTRA)}
    assert mesh.c[on[LineRole.EDGE]] == pytest.approx(chart.seam(mesh.u[on[LineRole.EDGE]]), abs=1e-6)
    assert mesh.c[on[LineRole.TACK]] == pytest.approx(chart.tack(mesh.u[on[LineRole.TACK]]), abs=1e-6)
    assert np.abs(mesh.plan[on[LineRole.EXTRA], 0]) == pytest.approx(90.0, abs=1e-6)
    assert np.ptp(mesh.plan[on[LineRole.EXTRA], 0]) == pytest.approx(180.0)
    assert not mesh.on(LineRole.VALLEY).any()
    # The cover ends at the tack line and nowhere else.
    edges = np.sort(np.concatenate([mesh.triangles[:, [k, (k + 1) % 3]] for k in range(3)]), axis=1)
    ends, count = np.unique(edges, axis=0, return_counts=True)
    assert np.array_equal(np.unique(ends[count == 1]), on[LineRole.TACK])
    # Triangles of a side lie below its seam, those of the face above.
    middle = mesh.c[mesh.triangles].mean(axis=1) - chart.seam(mesh.u[mesh.triangles]).mean(axis=1)
    strip = mesh.side >= 0
    assert (middle[strip] > 0).all()
    assert (middle[~strip] < 0.5).all()
    assert mesh.centre.size >= 4
    assert np.abs(mesh.plan[mesh.centre, 0]).max() < (1e-6 if half else 8.0)


def test_the_support_of_a_fine_mesh_has_the_area_of_its_exact_body():
    """Quarter cylinders and tori round a flat top: the error falls with the square of the edge length."""
    pad, chart = pad_of()
    straight = 2 * (400.0 - 80.0) + 2 * (300.0 - 80.0)
    top = (400.0 - 2 * RADIUS) * (300.0 - 2 * RADIUS) - (4 - np.pi) * (40.0 - RADIUS) ** 2
    quarter = 0.5 * np.pi * RADIUS * (straight + 2 * np.pi * (40.0 - RADIUS + RADIUS * 2 / np.pi))
    exact = top + quarter + (straight + 2 * np.pi * 40.0) * (DROP - RADIUS)
    errors = []
    for edge in (16.0, 8.0):
        mesh = chart_mesh(pad, chart, make_problem, half=True, sizes=Sizes(edge))
        made = loft(chart, face_of(pad), mesh.plan, mesh.u, mesh.c)
        errors.append(1 - triangle_areas(made.points, mesh.triangles).sum() / exact)
    assert 0 < errors[1] < 2e-3
    assert errors[0] / errors[1] > 3.0
