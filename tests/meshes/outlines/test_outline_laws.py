"""From measures to an outline: every measure to its own corner, bounds at their exact places, two ways to one shape."""

import math
from dataclasses import replace

import numpy as np
import pytest

from meshes.base.plane import turn_at
from meshes.base.problems import ProblemError
from meshes.base.units import LARGEST_PAD_MM, RARE_PAD_MM, SHORTEST_PAD_MM
from meshes.outlines.halves import in_halves
from meshes.outlines.plans import (
    CLEAR,
    CORNER_TURN_RAD,
    LEAST_MIDDLE_MM,
    SHARED,
    STEP_RAD,
    STUB_MM,
    TRACED_STEP_MM,
    TRACED_STEP_RAD,
    Arc,
    Corner,
    UnlikelyPlanError,
    arc_corners,
    kidney_plan,
    round_plan,
    run_together,
    traced_plan,
)
from meshes.outlines.rounded import rounded_outline
from meshes.records.pad import Profile
from tests.pads import FLAT, sheet_of

HEAD = 'name = "plan"\n[[pad]]\nname = "seat"\nkind = "{kind}"\n[pad.outline]\n'


def read(text, kind="cushion"):
    return sheet_of(HEAD.format(kind=kind) + text)


def outline_of(text, kind="cushion"):
    return read(text, kind).pads[0].outline


def faults_of(text, kind="cushion"):
    with pytest.raises(ProblemError) as refused:
        read(text, kind)
    return [(p.code, p.keys[2:], p.text) for p in refused.value.problems]


def fault_of(text, kind="cushion"):
    (found,) = faults_of(text, kind)
    return found


MEASURES = {
    "front_left": 210.0,
    "front_right": 220.0,
    "rear_left": 190.0,
    "rear_right": 205.0,
    "depth_left": 380.0,
    "depth_right": 402.0,
}


def text_of(measures):
    return "".join(f"{key} = {value}\n" for key, value in measures.items())


def test_six_measures_are_four_corners_each_with_its_own_radius():
    radii = "{ front_left = 10, front_right = 20, rear_right = 30, rear_left = 40 }"
    outline = outline_of(text_of(MEASURES) + f"corner_radius = {radii}")
    assert outline.corners == ((-210.0, 0.0), (220.0, 0.0), (205.0, 402.0), (-190.0, 380.0))
    assert outline.radii == (10.0, 20.0, 30.0, 40.0)
    assert outline.side_of_edge == ("front", "right", "rear", "left")
    assert not outline.symmetric


@pytest.mark.parametrize(("left", "right"), [("front_left", "front_right"), ("rear_left", "rear_right"),
                                             ("depth_left", "depth_right")])  # fmt: skip
@pytest.mark.parametrize("more", [-7.0, 7.0])
def test_one_unlike_pair_makes_a_frame_uneven_and_is_told_where_it_is_said_to_be_even(left, right, more):
    even = {key: {"f": 210.0, "r": 200.0, "d": 390.0}[key[0]] for key in MEASURES}
    assert outline_of(text_of(even)).symmetric
    assert outline_of(text_of(even | {left: even[left] + 0.0005})).symmetric
    uneven = text_of(even | {left: even[left] + more, right: even[right]})
    assert not outline_of(uneven).symmetric
    code, keys, text = fault_of(uneven + "symmetric = true")
    assert (code, keys) == ("G007", ("outline", "symmetric"))
    assert "differ by up to 7 mm" in text


def test_the_largest_difference_is_told():
    even = {"front_left": 210, "front_right": 213, "rear_width": 400, "depth_left": 380, "depth_right": 371}
    assert "differ by up to 9 mm" in fault_of(text_of(even) + "symmetric = true")[2]


@pytest.mark.parametrize(("kind", "front", "rear"), [("cushion", "front", "rear"), ("backrest", "bottom", "top")])
def test_what_is_missing_or_said_twice_is_told_in_the_words_of_the_pad(kind, front, rear):
    widths = {f"{front}_width": 400, f"{rear}_width": 380}
    fine = text_of(widths | {"depth": 300})
    assert outline_of(fine, kind).symmetric
    assert "add depth, or depth_left and depth_right measured separately" in fault_of(text_of(widths), kind)[2]
    lacking = fault_of(text_of({f"{rear}_width": 380, "depth": 300}), kind)
    assert lacking[:2] == ("S011", ("outline", "front_width"))
    assert f"add {front}_width, or {front}_left and {front}_right" in lacking[2]
    for have, lack in (("left", "right"), ("right", "left")):
        said = text_of({f"{front}_width": 400, f"{rear}_{have}": 190, "depth": 300})
        found = fault_of(said, kind)
        assert found[:2] == ("S011", ("outline", f"rear_{lack}"))
        assert f"{rear}_{have} needs {rear}_{lack} beside it" in found[2]
        twice = fault_of(fine + f"{rear}_{have} = 190\n", kind)
        assert twice[:2] == ("S020", ("outline", "rear_width"))
        assert f"{rear}_left or {rear}_right" in twice[2]


def test_sizes_at_their_bounds():
    def codes(wide, deep):
        sheet = f"front_width = {wide}\nrear_width = {wide}\ndepth = {deep}\n"
        try:
            return {p.code for p in read(sheet).warnings} & {"G054"}
        except ProblemError as refused:
            return {p.code for p in refused.problems}

    least = SHORTEST_PAD_MM
    assert codes(least, RARE_PAD_MM) == codes(RARE_PAD_MM, least) == set()
    assert codes(least, RARE_PAD_MM - 1) == codes(RARE_PAD_MM - 1, least) == {"G054"}
    assert codes(least - 1, least - 1) == {"S017"}
    assert "S017" not in codes(LARGEST_PAD_MM, 400)


def test_a_traced_outline_of_no_size_is_told_at_its_points():
    points = [[0, 0], [4, 0], [4, 4], [0, 4]]
    code, keys, text = fault_of(f"points = {points}\nsymmetric = false")
    assert (code, keys) == ("S017", ("outline", "points"))
    assert "4 x 4 mm" in text
    warned = read("points = [[0, 0], [300, 0], [300, 60], [0, 60]]\nsymmetric = false").warnings
    assert [(p.code, p.keys[2:]) for p in warned if p.code == "G054"] == [("G054", ("outline", "points"))]


CROOKED = ((-200.0, 0.0), (150.0, -10.0), (240.0, 40.0), (230.0, 300.0), (-190.0, 310.0), (-260.0, 120.0))


def traced(points, radii=None):
    rows = [[*p, r] for p, r in zip(points, radii or [0.0] * len(points), strict=True)]
    return f"points = {rows}\nsymmetric = false"


def test_where_a_trace_begins_makes_no_difference():
    radii = [5.0, 10.0, 15.0, 20.0, 25.0, 30.0]
    first = outline_of(traced(CROOKED, radii))
    assert first.corners == CROOKED
    assert first.side_of_edge == ("front", "front", "right", "rear", "left", "left")
    assert not first.symmetric
    for k in range(1, 6):
        again = outline_of(traced(CROOKED[k:] + CROOKED[:k], radii[k:] + radii[:k]))
        assert again == first


def test_a_mirrored_trace_is_the_mirrored_outline():
    from meshes.records.pad import mirrored_outline

    mirrored = tuple((-x, y) for x, y in reversed(CROOKED))
    assert outline_of(traced(mirrored)) == mirrored_outline(outline_of(traced(CROOKED)))


def test_a_right_half_is_completed_by_its_mirror_image():
    """A point on the centre line is a corner where the edge bends there, and none where it runs straight across."""
    half = [[0, 0], [200, 0, 10], [180, 300, 20], [0, 300]]
    square = outline_of(f"points = {half}")
    assert square.corners == ((-200.0, 0.0), (200.0, 0.0), (180.0, 300.0), (-180.0, 300.0))
    assert square.radii == (10.0, 10.0, 20.0, 20.0)
    assert square.symmetric
    bent = outline_of("points = [[0, -15], [200, 0, 10], [180, 300, 20], [0, 300]]")
    assert bent.corners == ((-200.0, 0.0), (0.0, -15.0), (200.0, 0.0), (180.0, 300.0), (-180.0, 300.0))
    behind = outline_of("points = [[0, 0], [200, 0, 10], [180, 300, 20], [0, 320]]")
    assert behind.corners[3] == (0.0, 320.0)
    # Written out in full it is the same.
    whole = [*half[1:3], [-180, 300, 20], [-200, 0, 10]]
    assert outline_of(f"points = {whole}\nsymmetric = false").corners == square.corners


@pytest.mark.parametrize(
    ("text", "code", "place", "words"),
    [
        ("points = [[0, 0], [-3, 0], [180, 300], [0, 300]]", "G006", 1, "x = -3 mm"),
        ("points = [[4, 0], [200, 0], [180, 300], [0, 300]]", "G006", 0, "the first point of a right half"),
        ("points = [[0, 0], [200, 0], [180, 300], [5, 300]]", "G006", 3, "the last point of a right half"),
        ("points = [[0, 300], [180, 300], [200, 0], [0, 0]]", "G004", None, "from rear to front"),
        ("points = [[0, 0], [0, 150]]", "G005", None, "2 points enclose nothing"),
        ("points = [[0, 0], [200, 0], [0, 300]]", "G005", None, "only 3 corners"),
        ("points = []\nsymmetric = false", "G005", None, "only 0 corners"),
        ("points = [[0, 0], [200, 0], [200, 0], [180, 300], [0, 300]]", "G008", 2, "point 2"),
        (traced((*CROOKED, CROOKED[0])), "G008", 0, "point 7"),
        (traced(CROOKED[::-1]), "G004", None, "clockwise"),
        (traced([CROOKED[k] for k in (0, 1, 3, 2, 4, 5)]), "G001", None, "meets the run from"),
    ],
)
def test_traces_that_cannot_be_used_are_told_at_their_point(text, code, place, words):
    found, keys, said = fault_of(text)
    assert (found, keys) == (code, ("outline", "points", *([] if place is None else [place])))
    assert words in said


def test_a_trace_that_ends_beside_its_beginning_is_only_closed_where_it_is_whole():
    """The first and the last point of a right half may lie as near as two readings: they are no neighbours."""
    assert fault_of("points = [[0, 0], [200, 0], [180, 300], [0, 300]]\nfront_width = 300")[0] == "S020"
    assert fault_of("points = [[0, 0], [200, 0], [180, 300], [0, 300]]\ncorner_radius = 30")[1][-1] == "corner_radius"


def test_radii_fit_a_run_to_its_last_millimetre():
    """Right corners: 100 and 200 mm of an edge of 300 go; a millimetre more does not."""

    def square(first, second):
        points = [[-150, 0, first], [150, 0, second], [150, 300, 0], [-150, 300, 0]]
        return f"points = {points}\nsymmetric = false"

    assert set(outline_of(square(100, 200)).radii) == {0.0, 100.0, 200.0}
    for radii, larger in (((100, 201), 1), ((201, 100), 0)):
        code, keys, text = fault_of(square(*radii))
        assert (code, keys) == ("G002", ("outline", "points", larger))
        assert f"radii {radii[0]} and {radii[1]} mm need 301.0 mm of the front edge, which has 300.0 mm" in text


def test_the_arc_of_a_corner_takes_its_radius_times_the_tangent_of_half_its_turn():
    """An edge of 300 between corners that turn by 60 and 120 degrees."""
    a, b = math.tan(math.radians(30)), math.tan(math.radians(60))
    # Front 300 long; the right side leans out by 60 degrees from it, the left one in.
    reach = 400.0
    right = [150 + reach * math.cos(math.radians(60)), reach * math.sin(math.radians(60))]
    left = [right[0] - 300.0, right[1]]

    def leaning(r1, r2):
        return f"points = {[[-150, 0, r1], [150, 0, r2], [*right, 0], [*left, 0]]}\nsymmetric = false"

    r = 299.0 / (a + b)
    assert outline_of(leaning(r, r)).radii[:2] == (r, r)
    assert f"need {1.01 * 299.0:.1f} mm" in fault_of(leaning(1.01 * r, 1.01 * r))[2]


def test_on_an_even_outline_only_the_right_half_is_told():
    found = faults_of("points = [[0, 0], [200, 0, 180], [200, 300, 180], [0, 300]]")
    assert [(code, keys) for code, keys, _ in found] == [("G002", ("outline", "points", 1))]
    assert "right edge, which has 300.0" in found[0][2]
    four = faults_of("front_width = 400\nrear_width = 400\ndepth = 300\ncorner_radius = 180", "backrest")
    assert [(code, keys) for code, keys, _ in four] == [("G002", ("outline", "corner_radius"))]
    both = faults_of("front_width = 300\nrear_width = 300\ndepth = 400\ncorner_radius = 180", "backrest")
    assert {text.partition(" of the ")[2].partition(" edge")[0] for *_, text in both} == {"bottom", "top"}


@pytest.mark.parametrize(("turn", "sharp"), [(149.0, False), (151.0, True)])
def test_a_corner_under_thirty_degrees_is_too_sharp(turn, sharp):
    """The front right corner of a slanting pad turns by so much."""
    inner = math.radians(180.0 - turn)
    rear = [400.0 - 400.0 * math.cos(inner), 400.0 * math.sin(inner)]
    text = f"points = {[[-200, 0], [400, 0], rear, [-200, rear[1]]]}\nsymmetric = false"
    if sharp:
        code, keys, words = fault_of(text)
        assert (code, keys) == ("G003", ("outline", "points", 1))
        assert f"only {180 - turn:.0f} degrees" in words
    else:
        assert len(outline_of(text).corners) == 4


@pytest.mark.parametrize(("inward", "radius", "told"), [(46.0, 0, False), (60.0, 0, True), (60.0, 25, False)])
def test_a_hollow_corner_needs_a_radius_from_thirty_degrees_on(inward, radius, told):
    """In the middle of an edge of 400 mm, drawn in: 46 mm turn it by 26 degrees, 60 by 33."""
    text = f"points = [[-200, 0], [0, {inward}, {radius}], [200, 0], [200, 300], [-200, 300]]\nsymmetric = false"
    if told:
        code, keys, words = fault_of(text)
        assert (code, keys) == ("G003", ("outline", "points", 1))
        assert "no radius" in words
    else:
        assert len(outline_of(text).corners) == 5


def test_a_side_that_cannot_be_told_is_named():
    text = "points = [[0, 0], [300, 0], [300, 300]]\nsymmetric = false"
    assert "only 3 corners" in fault_of(text)[2]
    for kind, front, rear in (("cushion", "front", "rear"), ("backrest", "bottom", "top")):
        wide = f"{front}_width = 2000\n{rear}_width = 20\ndepth_left = 20\ndepth_right = 400"
        code, keys, words = fault_of(wide, kind)
        assert (code, keys) == ("G005", ("outline",))
        assert f"no {rear} side can be told" in words


# Shapes as corners.


@pytest.mark.parametrize("sweep", [1.9, -1.9, 0.02])
def test_an_arc_is_the_polygon_of_its_tangents(sweep):
    arc = Arc((30.0, -20.0), 90.0, 0.4, sweep)
    corners = arc_corners(arc)
    assert len(corners) % 2 == 1
    assert abs(sweep) / len(corners) <= STEP_RAD
    assert len(corners) <= 3 + abs(sweep) / STEP_RAD
    way = 1.0 if sweep > 0 else -1.0
    start = [30.0 + way * 90.0 * math.cos(0.4), -20.0 + way * 90.0 * math.sin(0.4)]
    # Every edge touches the circle; the first and last end at the arc's ends by half a step.
    path = np.array([c.at for c in corners])
    half = np.linalg.norm(path[0] - start)
    assert half == pytest.approx(90.0 * math.tan(0.5 * abs(sweep) / len(corners)))
    if len(path) > 1:
        assert np.linalg.norm(np.diff(path, axis=0), axis=1) == pytest.approx(2.0 * half)
        assert np.linalg.norm(0.5 * (path[1:] + path[:-1]) - [30.0, -20.0], axis=1) == pytest.approx(90.0)
    middle = 0.4 + 0.5 * sweep
    assert (path[len(path) // 2] - [30.0, -20.0]) / np.linalg.norm(path[len(path) // 2] - [30.0, -20.0]) == (
        pytest.approx([way * math.cos(middle), way * math.sin(middle)])
    )


@pytest.mark.parametrize(("width", "depth"), [(500, 380), (300, 600)])
def test_a_round_plan_lies_with_its_front_at_nought(width, depth):
    outline = outline_of(f'shape = "round"\nwidth = {width}\ndepth = {depth}')
    curve = rounded_outline(outline.corners, outline.radii, outline.side_of_edge)
    path = curve.point(curve.samples(0.2))
    assert np.ptp(path, axis=0) == pytest.approx([width, depth], abs=0.05)
    assert path[:, 1].min() == pytest.approx(0.0, abs=0.05)
    assert (2 * path[:, 0] / width) ** 2 + ((2 * path[:, 1] - depth) / depth) ** 2 == pytest.approx(1.0, abs=5e-4)


def test_a_shape_turned_round_has_front_and_rear_exchanged():
    for shape in (
        '"d"\nwidth = 400\ndepth = 300\ncorner_radius = 30',
        '"kidney"\nwidth = 560\ndepth = 400\nhollow = 50',
    ):
        rear, front = (outline_of(f'shape = {shape}\nside = "{side}"') for side in ("rear", "front"))
        deep = max(y for _, y in rear.corners) + min(y for _, y in rear.corners)
        turned = {(round(x, 6), round(y, 6)) for x, y in front.corners}
        depth = 300.0 if '"d"' in shape else 400.0
        assert turned == {(round(x, 6), round(depth - y, 6)) for x, y in rear.corners}
        assert deep != pytest.approx(2.0 * depth)
        swap = {"front": "rear", "rear": "front"}
        assert sorted(swap.get(s, s) for s in front.side_of_edge) == sorted(rear.side_of_edge)


def test_a_d_takes_the_radii_of_its_straight_side():
    radii = "corner_radius = { front_left = 11, front_right = 11, rear_left = 22, rear_right = 22 }"
    for side, radius in (("rear", 22.0), ("front", 11.0)):
        outline = outline_of(f'shape = "d"\nwidth = 400\ndepth = 300\nside = "{side}"\n{radii}')
        assert outline.radii.count(radius) == 2
        assert {11.0, 22.0} - {radius} - set(outline.radii)


def test_a_d_has_its_bow_in_front_and_its_corners_behind():
    outline = outline_of('shape = "d"\nwidth = 400\ndepth = 300\ncorner_radius = 30')
    bow = [at for at, radius in zip(outline.corners, outline.radii, strict=True) if radius == 200.0]
    assert max(y for _, y in bow) <= 200.0 + 1e-6
    curve = rounded_outline(outline.corners, outline.radii, outline.side_of_edge)
    path = curve.point(curve.samples(0.5))
    low = path[path[:, 1] < 199.0]
    assert np.linalg.norm(low - [0.0, 200.0], axis=1) == pytest.approx(200.0, abs=0.02)
    assert np.abs(path[(path[:, 1] > 201.0) & (path[:, 1] < 268.0), 0]) == pytest.approx(200.0)
    shallow = outline_of('shape = "d"\nwidth = 400\ndepth = 150')
    curve = rounded_outline(shallow.corners, shallow.radii, shallow.side_of_edge)
    bow = curve.point(curve.samples(0.5))
    bow = bow[bow[:, 1] < 149.0]
    assert (bow[:, 0] / 200.0) ** 2 + ((bow[:, 1] - 150.0) / 150.0) ** 2 == pytest.approx(1.0, abs=1e-3)


def test_corners_of_a_d_go_up_to_the_run_of_its_sides():
    outline_of('shape = "d"\nwidth = 400\ndepth = 240\ncorner_radius = 39.9')
    assert "run straight for 40 mm" in fault_of('shape = "d"\nwidth = 400\ndepth = 240\ncorner_radius = 41')[2]
    # Deeper sides leave room for half the width.
    outline_of('shape = "d"\nwidth = 300\ndepth = 600\ncorner_radius = 150')
    assert "150 mm" in fault_of('shape = "d"\nwidth = 300\ndepth = 600\ncorner_radius = 151')[2]


@pytest.mark.parametrize(
    ("given", "key", "words"),
    [
        # Ends as wide as the whole, and ends as deep.
        ((300.0, 500.0, 20.0, 150.0), "end_radius", "make it less than 150 mm"),
        ((300.0, 290.0, 20.0, 145.0), "end_radius", "make it less than 145 mm"),
        ((560.0, 420.0, 50.0, 139.0), "end_radius", "140 mm at least"),
        ((560.0, 400.0, 400.0 - LEAST_MIDDLE_MM, 130.0), "hollow", "no middle"),
        ((560.0, 400.0, 151.0, 130.0), "hollow", "300 mm apart"),
        ((560.0, 400.0, 130.0, 200.0 - 1e-3), "hollow", "does not fit"),
    ],
)
def test_a_kidney_that_cannot_be_is_told_by_the_measure_to_change(given, key, words):
    with pytest.raises(UnlikelyPlanError, match=words) as refused:
        kidney_plan(*given, "rear")
    assert refused.value.key == key


def test_a_kidney_just_within_its_bounds():
    for given in ((560.0, 420.0, 50.0, 140.0), (560.0, 400.0, 149.0, 130.0), (900.0, 300.0, 219.0, 100.0)):
        corners = kidney_plan(*given, "rear")
        assert max(x for (x, _), *_ in corners) >= 0.5 * given[0] - 1e-6


def test_ends_of_a_kidney_are_a_third_of_its_depth_where_that_does_not_bulge():
    assert 400.0 / 3.0 in outline_of('shape = "kidney"\nwidth = 700\ndepth = 400\nhollow = 50').radii
    assert 140.0 in outline_of('shape = "kidney"\nwidth = 560\ndepth = 420\nhollow = 50').radii
    assert 120.0 in outline_of('shape = "kidney"\nwidth = 700\ndepth = 400\nhollow = 50\nend_radius = 120').radii


# Traced curves.


def circle(radius, count):
    angles = -0.5 * math.pi + 2.0 * math.pi * (np.arange(count) + 0.5) / count
    return [Corner((radius * math.cos(a), radius + radius * math.sin(a)), 0.0) for a in angles]


def along(plan):
    curve = rounded_outline([c.at for c in plan], [c.radius for c in plan], ["front"] * len(plan))
    return curve.point(curve.samples(0.5))


def turns_of(plan):
    count = len(plan)
    return [turn_at(plan[k - 1].at, plan[k].at, plan[(k + 1) % count].at) for k in range(count)]


@pytest.mark.parametrize(("radius", "count"), [(200.0, 24), (900.0, 24)])
def test_a_traced_circle_is_followed_in_small_steps_and_comes_back(radius, count):
    plan = traced_plan(circle(radius, count))
    places = np.array([c.at for c in plan])
    steps = np.linalg.norm(np.roll(places, -1, axis=0) - places, axis=1)
    turns = np.array(turns_of(plan))
    # Steps turn by no more than 3.5 degrees nor go on for more than 40 mm, taken together: as many as that asks for.
    assert (turns / TRACED_STEP_RAD + steps / TRACED_STEP_MM).max() <= 1.02
    whole = 2.0 * math.pi / TRACED_STEP_RAD + 2.0 * math.pi * radius / TRACED_STEP_MM
    assert len(plan) <= whole + count
    path = along(plan)
    assert np.linalg.norm(path - [0.0, radius], axis=1) == pytest.approx(radius, rel=2e-4)
    # Arcs take nearly all of the run between them.
    cuts = np.array([c.radius for c in plan]) * np.tan(0.5 * turns)
    assert cuts == pytest.approx(SHARED * steps, rel=0.05)


def test_a_traced_curve_begins_anywhere_and_runs_either_way():
    points = [Corner(at, 0.0) for at in ((0, 0), (150, -20), (260, 60), (240, 260), (80, 330), (-140, 290), (-190, 90))]
    first = {tuple(np.round(c.at, 5)) for c in traced_plan(points)}
    for k in range(1, len(points)):
        assert {tuple(np.round(c.at, 5)) for c in traced_plan(points[k:] + points[:k])} == first
    mirrored = traced_plan([Corner((-c.at[0], c.at[1]), 0.0) for c in reversed(points)])
    assert {tuple(np.round((-c.at[0], c.at[1]), 5)) for c in mirrored} == first


def test_a_traced_curve_keeps_hard_corners_and_leaves_their_arcs_free():
    """A box with bowed sides: corners of 90 degrees with their radius stay, the bows between them keep clear of it."""
    radius = 30.0
    corners = [(0.0, 0.0), (300.0, 0.0), (300.0, 200.0), (0.0, 200.0)]
    middles = [(150.0, -12.0), (312.0, 100.0), (150.0, 212.0), (-12.0, 100.0)]
    given = [c for at, mid in zip(corners, middles, strict=True) for c in (Corner(at, radius), Corner(mid, 0.0))]
    plan = traced_plan(given)
    assert [c.at for c in plan if c.radius == radius] == corners
    every = dict(zip((c.at for c in plan), turns_of(plan), strict=True))
    cut = radius * math.tan(0.5 * max(every[at] for at in corners))
    for c in plan:
        if c.at not in corners:
            assert min(math.dist(c.at, at) for at in corners) > cut
    path = along(plan)
    for mid in middles:
        assert np.linalg.norm(path - mid, axis=1).min() < 0.3
    # Without radii the same corners stay hard, since they turn far enough.
    sharp = traced_plan([c._replace(radius=0.0) for c in given])
    assert [c.at for c in sharp if c.radius == 0.0] == corners


@pytest.mark.parametrize("radius", [20.0, 0.0])
def test_points_of_a_bow_keep_clear_of_corners_that_turn_by_any_angle(radius):
    """A triangle of 400 mm with bowed sides: its corners turn by about 120 degrees less what the bows take."""
    tips = [(200.0 * math.cos(a), 200.0 * math.sin(a)) for a in np.radians([-150.0, -30.0, 90.0])]
    mids = [(0.0, -108.0), (94.0, 54.0), (-94.0, 54.0)]
    plan = traced_plan([c for t, m in zip(tips, mids, strict=True) for c in (Corner(t, radius), Corner(m, 0.0))])
    own = [k for k, c in enumerate(plan) if c.at in tips]
    assert [plan[k].at for k in own] == tips
    cut = radius * math.tan(math.radians(58.0))
    near = min(
        math.dist(plan[k + step].at, plan[k].at)
        for k in own
        for step in (-1, 1 - len(plan) if k + 1 == len(plan) else 1)
    )
    assert CLEAR * 0.9 * cut < near
    assert near < CLEAR * 1.1 * cut + TRACED_STEP_MM


def test_a_wave_has_radii_on_both_sides_and_hollow_corners_stay():
    """A trace that turns in and out again: every bend is rounded, and it runs through its points."""
    wave = [(-300.0, 0.0), (-200.0, 25.0), (-100.0, 40.0), (0.0, 25.0), (100.0, 0.0), (200.0, -10.0), (300.0, 0.0)]
    points = [Corner(at, 0.0) for at in (*wave, (310.0, 300.0), (-310.0, 300.0))]
    plan = traced_plan(points)
    turns = np.array(turns_of(plan))
    assert (turns < -1e-3).any()
    assert all(c.radius > 0.0 for c, turn in zip(plan, turns, strict=True) if 1e-3 < abs(turn) < 0.4)
    path = along(plan)
    for at in wave[1:-1]:
        assert np.linalg.norm(path - at, axis=1).min() < 0.2
    hollow = [Corner(at, 0.0) for at in ((-300, 0), (0, 150), (300, 0), (310, 300), (-310, 300))]
    assert [c.at for c in traced_plan(hollow)] == [c.at for c in hollow]


def test_the_arc_of_a_hollow_corner_takes_as_much_of_its_edges():
    """Drawn in by 100 of 200 mm: the corner turns by 53 degrees, its edges are 224 long."""

    def drawn(radius):
        return f"points = [[-200, 0], [0, 100, {radius}], [200, 0], [200, 400], [-200, 400]]\nsymmetric = false"

    most = math.hypot(200.0, 100.0) / math.tan(math.atan2(100.0, 200.0))
    assert outline_of(drawn(0.999 * most)).radii[1] == pytest.approx(0.999 * most)
    assert {code for code, *_ in faults_of(drawn(1.01 * most))} == {"G002"}


def test_a_trace_with_one_corner_is_a_drop():
    """One hard corner: the curve runs from it round to itself and is smooth everywhere else."""
    radius = 280.0 * math.sqrt(0.5)
    angles = np.linspace(-0.75 * math.pi, 0.75 * math.pi, 13)
    ring = [(280.0 + radius * math.cos(a), radius * math.sin(a)) for a in angles]
    points = [Corner((0.0, 0.0), 0.0), *(Corner(at, 0.0) for at in ring)]
    plan = traced_plan(points)
    turns = np.array(turns_of(plan))
    assert (np.abs(turns) > CORNER_TURN_RAD).sum() == 1
    path = along(plan)
    for at in ring:
        assert np.linalg.norm(path - at, axis=1).min() < 0.5


# Corner arcs that run into each other.


def rectangle(width, depth, radius):
    w = 0.5 * width
    return [Corner(at, radius) for at in ((-w, 0.0), (w, 0.0), (w, depth), (-w, depth))]


NAMES = ["front", "right", "rear", "left"]


@pytest.mark.parametrize(("run", "parted"), [(0.0, True), (0.9 * STUB_MM, True), (1.1 * STUB_MM, False)])
@pytest.mark.parametrize("long_side", ["width", "depth"])
def test_corner_arcs_without_a_run_between_them_are_one_bow(run, parted, long_side):
    short = 200.0 + run
    width, depth = (500.0, short) if long_side == "width" else (short, 500.0)
    given = rectangle(width, depth, 100.0)
    corners, sides = run_together(given, NAMES)
    assert (len(corners) > 4) == parted
    # Either way the rounded outline is the same, and each side has its half of every bow.
    for plan, names in ((corners, sides), (given, NAMES)):
        curve = rounded_outline([c.at for c in plan], [c.radius for c in plan], names)
        path = curve.point(curve.samples(0.2))
        assert np.ptp(path, axis=0) == pytest.approx([width, depth], abs=1e-6)
        length = np.linalg.norm(np.roll(path, -1, axis=0) - path, axis=1).sum()
        assert length == pytest.approx(2.0 * (width + depth) - (8.0 - 2.0 * math.pi) * 100.0, abs=0.1)
    if parted:
        each = len(corners) // 4
        assert [sides.count(name) for name in NAMES] == [each] * 4
        # A quarter turn in steps of 7.5 degrees, and one more, so that one stands in its middle.
        assert each == 13
        assert all(c.radius == 100.0 for c in corners)
        assert sides[each // 2 - 1] != sides[each // 2]


def test_only_corners_at_a_stub_are_parted_and_keep_their_number():
    given = [
        Corner(c.at, r, k) for k, (c, r) in enumerate(zip(rectangle(500, 300, 0), (150, 150, 40, 110), strict=True))
    ]
    # Left: 150 and 110 of 300; right: 150 and 40.
    assert run_together(given, NAMES)[0] == given
    given[3] = given[3]._replace(radius=150.0)
    corners, _ = run_together(given, NAMES)
    assert {c.number for c in corners if c.radius == 150.0} == {0, 1, 3}
    assert [c.number for c in corners].count(1) == [c.number for c in corners].count(2) == 1
    # A bend of a bow is no corner.
    flat = [*given[:2], Corner((0.0, 301.0), 1.0)]
    assert [c for c in run_together([*flat, given[3]], NAMES)[0] if c.at == (0.0, 301.0)]


# Sides.


@pytest.mark.parametrize("corner", ["front_left", "front_right", "rear_right", "rear_left"])
def test_sides_part_where_the_sheet_says(corner):
    """Every corner of a circle moved by itself on an uneven pad, and with its image on an even one."""
    front, right = "front" in corner, "right" in corner
    x = 90.0 if right else -90.0
    place = [x, 24.0 if front else 336.0]
    before, after = {
        "front_left": ("left", "front"), "front_right": ("front", "right"),
        "rear_right": ("right", "rear"), "rear_left": ("rear", "left"),
    }[corner]  # fmt: skip

    def parting(outline, one, two):
        count = len(outline.corners)
        (found,) = [k for k in range(count) if (outline.side_of_edge[k - 1], outline.side_of_edge[k]) == (one, two)]
        return outline.corners[found]

    usual = outline_of('shape = "round"\nwidth = 360')
    ways = [("left", "front"), ("front", "right"), ("right", "rear"), ("rear", "left")]
    for symmetric in ("true", "false"):
        moved = outline_of(f'shape = "round"\nwidth = 360\nsymmetric = {symmetric}\ncorners = {{ {corner} = {place} }}')
        assert math.dist(parting(moved, before, after), place) < 7.0
        changed = {way for way in ways if parting(moved, *way) != parting(usual, *way)}
        image = {"front": ("left", "front") if right else ("front", "right"),
                 "rear": ("rear", "left") if right else ("right", "rear")}["front" if front else "rear"]  # fmt: skip
        assert changed == ({(before, after)} | ({image} if symmetric == "true" else set()))


def test_a_place_of_parting_lies_within_three_centimetres_of_the_outline():
    for off, fine in ((28.0, True), (33.0, False)):
        text = f'shape = "round"\nwidth = 360\ncorners = {{ front_right = [{(180 - off) * math.sqrt(0.5)}, '
        text += f"{180 - (180 - off) * math.sqrt(0.5)}] }}"
        if fine:
            outline_of(text)
        else:
            code, keys, words = fault_of(text)
            assert (code, keys) == ("G009", ("outline", "corners", "front_right"))
            assert words.startswith("front_right at [103.945, 76.0553]")
            assert "the nearest is at [127, 53]" in words
    upright = fault_of('shape = "round"\nwidth = 360\ncorners = { bottom_left = [0, 180] }', "backrest")
    assert upright[2].startswith("bottom_left at [0, 180]")
    # On an even pad the image of a place that was given is told by the place that was.
    assert fault_of('shape = "round"\nwidth = 360\ncorners = { front_left = [0, 180] }')[1][-1] == "front_left"


def test_a_plan_is_the_plan_of_its_own_size():
    assert max(x for (x, _), *_ in round_plan(300.0, 500.0)) == pytest.approx(150.0, abs=0.2)


def test_what_was_measured_on_one_half_is_given_on_both_where_only_the_sides_differ():
    pad = sheet_of(FLAT).pads[0]
    across = Profile("across", 100.0, ((0.0, 60.0), (90.0, 57.0), (150.0, 50.0)))
    alike = in_halves(replace(pad, profiles=(across,)))
    assert alike.symmetric
    assert alike.profiles == (across,)
    sides = {**pad.sides, "left": replace(pad.sides["left"], edge_radius=pad.sides["left"].edge_radius + 4.0)}
    unlike = in_halves(replace(pad, sides=sides, profiles=(across,)))
    assert not unlike.symmetric
    (whole,) = unlike.profiles
    assert whole.points == tuple((-x, height) for x, height in reversed(whole.points))
    assert {point for point in whole.points if point[0] >= 0.0} == set(across.points)


def test_the_line_of_a_side_that_begins_in_a_hollow_corner_leaves_its_arc_out():
    """However far a hollow corner turns inward, it is a corner and no bow."""
    corners = [(-200, 0), (200, 0), (200, 300), (60, 300), (60, 180), (-200, 180)]
    outline = rounded_outline(corners, [20.0] * 6, ("front", "right", "rear", "rear", "left", "left"))
    line = outline.side_line("left")
    assert line[[0, -1]] == pytest.approx(np.array([[40.0, 180.0], [-200.0, 20.0]]), abs=1e-6)
