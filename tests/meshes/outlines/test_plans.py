"""Plans with curved edges: their outlines against closed forms, and which stretch of them is which side."""

import math

import numpy as np
import pytest
from scipy.special import ellipe

from meshes.base.problems import ProblemError
from meshes.outlines.rounded import rounded_outline
from tests.pads import sheet_of

HEAD = 'name = "plan"\n[[pad]]\nname = "seat"\nkind = "cushion"\n[pad.outline]\n'


def outline_of(text, unit=""):
    return sheet_of(unit + HEAD + text).pads[0].outline


def path_of(outline):
    """The rounded outline, closed, on points a tenth of a millimetre apart."""
    curve = rounded_outline(outline.corners, outline.radii, outline.side_of_edge)
    return curve.point(np.append(curve.samples(0.1), 0.0))


def measured(outline):
    """Perimeter and area of the rounded outline."""
    path = path_of(outline)
    x, y = path.T
    return np.linalg.norm(np.diff(path, axis=0), axis=1).sum(), 0.5 * abs(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]))


def test_a_circle_has_its_perimeter_and_area():
    length, area = measured(outline_of('shape = "round"\nwidth = 360'))
    assert length == pytest.approx(math.pi * 360.0, abs=0.02)
    assert area == pytest.approx(math.pi * 180.0**2, rel=1e-5)


@pytest.mark.parametrize(("width", "depth"), [(500, 380), (300, 600)])
def test_an_ellipse_has_its_perimeter_and_area(width, depth):
    a, b = 0.5 * max(width, depth), 0.5 * min(width, depth)
    length, area = measured(outline_of(f'shape = "round"\nwidth = {width}\ndepth = {depth}'))
    # Complete elliptic integral of the second kind.
    assert length == pytest.approx(4.0 * a * ellipe(1.0 - (b / a) ** 2), abs=0.1)
    assert area == pytest.approx(math.pi * a * b, rel=2e-5)


def test_corners_as_round_as_half_the_width_are_the_circle():
    square = outline_of("front_width = 360\nrear_width = 360\ndepth = 360\ncorner_radius = 180")
    circle = outline_of('shape = "round"\nwidth = 360')
    for path in (path_of(square), path_of(circle)):
        assert np.linalg.norm(path - [0.0, 180.0], axis=1) == pytest.approx(180.0, abs=1e-6)
    assert measured(square) == pytest.approx(measured(circle), rel=1e-6)


def test_a_stadium_has_round_ends():
    length, area = measured(outline_of("front_width = 600\nrear_width = 600\ndepth = 360\ncorner_radius = 180"))
    assert length == pytest.approx(2.0 * 240.0 + math.pi * 360.0, abs=0.05)
    assert area == pytest.approx(240.0 * 360.0 + math.pi * 180.0**2, rel=1e-5)


def test_a_d_is_half_a_circle_and_a_box():
    length, area = measured(outline_of('shape = "d"\nwidth = 400\ndepth = 380\ncorner_radius = 40'))
    # Steiner: two quarter corners take (4 - pi) r off the perimeter and (2 - pi / 2) r^2 off the area.
    assert length == pytest.approx(math.pi * 200.0 + 2 * 180.0 + 400.0 - (4 - math.pi) * 40.0, abs=0.1)
    assert area == pytest.approx(0.5 * math.pi * 200.0**2 + 400.0 * 180.0 - (2 - math.pi / 2) * 1600.0, rel=2e-5)


def test_a_shallow_d_is_half_an_ellipse_and_may_face_either_way():
    rear = outline_of('shape = "d"\nwidth = 500\ndepth = 180')
    front = outline_of('shape = "d"\nwidth = 500\ndepth = 180\nside = "front"')
    assert measured(rear)[1] == pytest.approx(0.5 * math.pi * 250.0 * 180.0, rel=1e-4)
    assert measured(front) == pytest.approx(measured(rear), rel=1e-9)
    straight = {edge for edge, side in enumerate(front.side_of_edge) if side == "front"}
    assert len(straight) == 1
    k = straight.pop()
    assert math.dist(front.corners[k], front.corners[k + 1]) == pytest.approx(500.0)


def test_a_kidney_is_made_of_four_arcs():
    outline = outline_of('shape = "kidney"\nwidth = 560\ndepth = 400\nhollow = 50\nend_radius = 130')
    path = path_of(outline)
    assert np.ptp(path, axis=0) == pytest.approx([560.0, 400.0], abs=0.01)
    middle = path[(np.abs(path[:, 0]) < 0.2) & (path[:, 1] > 200.0)]
    assert middle[:, 1] == pytest.approx(350.0, abs=0.01)
    # Ends of 130 mm whose middles lie 300 apart, 140 above the tangent to the bow; both other arcs touch them, and
    # chord and sagitta give the radii.
    a, h, e = 150.0, 50.0, 140.0
    hollow, bow = (a * a + h * h) / (2 * h) - 130.0, (a * a + e * e) / (2 * e) + 130.0
    assert {round(r, 6) for r in outline.radii} == {130.0, round(hollow, 6), round(bow, 6)}
    half_hollow, half_bow = math.asin(a / (hollow + 130.0)), math.asin(a / (bow - 130.0))
    length = 2.0 * (hollow * half_hollow + bow * half_bow + 130.0 * (math.pi - half_bow + half_hollow))
    assert measured(outline)[0] == pytest.approx(length, abs=0.1)


def test_a_traced_curve_runs_through_its_points():
    """Points of an ellipse, traced every 15 degrees: its perimeter and area come back."""
    angles = np.deg2rad(np.arange(-90, 91, 15))
    points = [[round(240 * math.cos(t), 3), round(190 + 190 * math.sin(t), 3)] for t in angles]
    outline = outline_of(f'shape = "traced"\npoints = {points}')
    length, area = measured(outline)
    assert length == pytest.approx(4.0 * 240.0 * ellipe(1.0 - (190 / 240) ** 2), rel=1e-3)
    assert area == pytest.approx(math.pi * 240.0 * 190.0, rel=1e-3)
    path = path_of(outline)
    for point in points:
        assert np.linalg.norm(path - point, axis=1).min() < 0.25


def test_a_traced_curve_keeps_its_corners():
    points = "[[0, 0], [150, 12], [260, 60, 20], [240, 300, 20], [0, 330]]"
    outline = outline_of(f'shape = "traced"\npoints = {points}')
    assert outline.radii.count(20.0) == 4
    path = path_of(outline)
    assert np.linalg.norm(path - [150, 12], axis=1).min() < 0.3
    assert np.linalg.norm(path - [0, 330], axis=1).min() < 0.3


def test_inches_and_millimetres_give_one_outline():
    mm = outline_of('shape = "kidney"\nwidth = 558.8\ndepth = 406.4\nhollow = 50.8')
    inches = outline_of('shape = "kidney"\nwidth = 22\ndepth = 16\nhollow = 2', unit='unit = "in"\n')
    assert np.array(mm.corners) == pytest.approx(np.array(inches.corners), abs=1e-9)
    assert mm.side_of_edge == inches.side_of_edge


@pytest.mark.parametrize(
    "shape", ['"round"\nwidth = 400\ndepth = 360', '"kidney"\nwidth = 500\ndepth = 380\nhollow = 40']
)
def test_a_shape_is_its_own_mirror_image_to_the_last_digit(shape):
    outline = outline_of(f"shape = {shape}")
    assert outline.symmetric
    there = set(outline.corners)
    assert {(-x, y) for x, y in there} == there


def test_sides_of_a_circle_part_half_way_and_elsewhere_on_request():
    at = 180.0 * math.sqrt(0.5)
    outline = outline_of('shape = "round"\nwidth = 360')
    parting = [
        outline.corners[k]
        for k in range(len(outline.corners))
        if outline.side_of_edge[k - 1] != outline.side_of_edge[k]
    ]
    assert {(round(math.copysign(1, x)), round(math.copysign(1, y - 180))) for x, y in parting} == {
        (1, 1), (1, -1), (-1, 1), (-1, -1)
    }  # fmt: skip
    assert all(abs(abs(x) - at) < 0.2 and abs(abs(y - 180) - at) < 0.2 for x, y in parting)
    moved = outline_of('shape = "round"\nwidth = 360\ncorners = { front_right = [90, 24] }')
    k = next(k for k in range(96) if moved.side_of_edge[k - 1] == "front" and moved.side_of_edge[k] == "right")
    assert math.dist(moved.corners[k], (90, 24)) < 7.0
    m = next(k for k in range(96) if moved.side_of_edge[k - 1] == "left" and moved.side_of_edge[k] == "front")
    assert moved.corners[m] == (-moved.corners[k][0], moved.corners[k][1])


@pytest.mark.parametrize(
    ("text", "code", "phrase"),
    [
        ('shape = "round"', "S011", "needs width"),
        ('shape = "kidney"\nwidth = 500\ndepth = 300', "S011", "needs hollow"),
        ('shape = "round"\nwidth = 300\nfront_width = 300', "S020", "no place beside"),
        ("width = 300\ndepth = 300", "S020", "belongs to a shape"),
        ('shape = "traced"\nwidth = 300\npoints = [[0, 0], [150, 0], [150, 200], [0, 200]]', "S020", "no place"),
        ('shape = "d"\nwidth = 400\ndepth = 210\ncorner_radius = 40', "G009", "run straight for 10 mm"),
        ('shape = "kidney"\nwidth = 300\ndepth = 300\nhollow = 20\nend_radius = 150', "G009", "less than 150"),
        ('shape = "kidney"\nwidth = 560\ndepth = 420\nhollow = 50\nend_radius = 120', "G009", "140 mm at least"),
        ('shape = "kidney"\nwidth = 400\ndepth = 300\nhollow = 140', "G009", "does not fit"),
        ('shape = "kidney"\nwidth = 900\ndepth = 300\nhollow = 240', "G009", "no middle"),
        ('shape = "round"\nwidth = 360\ncorners = { front_right = [20, 180] }', "G009", "no corner of the outline"),
        (
            'shape = "round"\nwidth = 360\ncorners = { front_right = [127, 307], rear_right = [127, 53] }',
            "G009",
            "do not follow",
        ),
    ],
)
def test_measures_that_make_no_plan_are_told(text, code, phrase):
    with pytest.raises(ProblemError) as refused:
        outline_of(text)
    found = refused.value.problems
    assert any(p.code == code and phrase in p.text for p in found), [str(p) for p in found]
