"""Whole flat maps against outside values: developable surfaces, spherical caps, laws of invariance, refusals."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import flatten
from flatten.demand import develop, methods
from flatten.demand.options import Aim, Options
from flatten.leather.verdict import EASE, EASE_AREA
from flatten.maps.certify import Certificate, certify
from flatten.maps.relax import Relaxed
from meshes.base.arrays import locked_floats, locked_ints
from meshes.base.problems import ProblemError
from meshes.base.surface import boundary_loops, curve_length
from meshes.numerics.status import Ending, Status
from tests import shapes


def least_energy(vertices, triangles, **options):
    """The map of least energy: the optimum is unique and known to all digits, so laws can be held to all digits."""
    return flatten.flatten(vertices, triangles, options=Options(aim=Aim.ENERGY), **options)


def distances_agree(one, two, relative=1e-7):
    """Whether two sets of points are the same up to a rigid motion without turning over."""
    a, b = one - one.mean(axis=0), two - two.mean(axis=0)
    u, _, v = np.linalg.svd(a.T @ b)
    return np.linalg.det(u @ v) > 0 and np.abs(a @ u @ v - b).max() < relative * np.ptp(b)


def frustum_figures(flat, cells):
    """Radii and sector of a flat frustum, from circles fitted to its two round edges."""
    columns = cells[0] + 1
    lower, upper = flat.points[:columns], flat.points[-columns:]

    def circle(points):
        left = np.column_stack([2 * points, np.ones(len(points))])
        x, y, c = np.linalg.lstsq(left, (points**2).sum(axis=1), rcond=None)[0]
        return np.array([x, y]), float(np.sqrt(c + x * x + y * y))

    (middle, large), (_, small) = circle(lower), circle(upper)
    a, b = lower[0] - middle, lower[-1] - middle
    sector = np.degrees(np.arctan2(a[0] * b[1] - a[1] * b[0], a @ b)) % 360
    return small, large, min(sector, 360 - sector)


@pytest.mark.parametrize(
    ("lower", "upper", "height", "expected"),
    [
        # Pattern drafting formula, e.g. ceemrr.com nets 6: dia 5 and 8, height 4.
        (4.0, 2.5, 4.0, (7.1200, 11.3920, 126.404)),
        # Derived from slant = sqrt(h^2 + (R - r)^2), radius = slant r / (R - r), sector = 360 (R - r) / slant.
        (75.0, 60.0, 120.0, (483.73546, 604.66933, 44.65250)),
    ],
)
def test_frustum_radii_and_sector(lower, upper, height, expected):
    # The mesh is a pyramid frustum; its flat chords keep the angle 2 asin(sin(pi/n) sin(half apex)) each. With many
    # columns it is the cone's to 1e-4.
    cells = (1600, 2)
    seat, triangles = shapes.cone(lower=lower, upper=upper, height=height, cells=cells)
    small, large, sector = frustum_figures(least_energy(seat, triangles), cells)
    assert small == pytest.approx(expected[0], rel=1e-4 / 7)
    assert large == pytest.approx(expected[1], rel=1e-4 / 7)
    assert sector == pytest.approx(expected[2], rel=1e-4 / 7)


@pytest.mark.parametrize("made", [shapes.cone, shapes.cylinder])
def test_along_the_rulings_nothing_is_stretched(made):
    seat, triangles = made()
    flat = least_energy(seat, triangles, leather="cloth")
    assert flat.demand < 1e-9
    assert flat.figures.energy == pytest.approx(4.0, abs=1e-14)
    assert flat.figures.area_piece_mm2 == pytest.approx(flat.figures.area_seat_mm2, rel=1e-12)
    assert (flat.made.method, flat.verdict, flat.certified, flat.flipped) == ("least energy", "fits", True, 0)


@pytest.mark.parametrize("made", [shapes.loose_cylinder, shapes.loose_cone])
def test_demand_of_unstructured_developables_falls_with_the_square(made):
    edges = np.array([20.0, 10.0, 5.0, 2.5])
    # The largest of many triangles fluctuates with their shapes: the mean of three meshes is steadier.
    demands = [np.mean([least_energy(*made(edge, seed=s)).demand for s in (1, 2, 3)]) for edge in edges]
    rate = np.polyfit(np.log(edges), np.log(demands), 1)[0]
    assert rate == pytest.approx(2.0, abs=0.25)


@pytest.mark.parametrize(
    # Symmetric Dirichlet optimum on the cap by the radial differential equation: mean energy and pattern radius over
    # the sphere's (derived).
    ("angle", "energy", "radius"),
    [(0.5, 4.00131414, 0.494848), (1.0, 4.02164433, 0.960019)],
)
def test_least_energy_of_caps(angle, energy, radius):
    rings = np.array([12, 24, 48])
    flats = [least_energy(*shapes.cap(angle, rings=int(k), radius=100.0)) for k in rings]
    excess = np.array([flat.figures.energy - 4.0 for flat in flats])
    reach = np.array([_rim_radius(flat) for flat in flats]) / 100.0
    # Second order in the edge length, and the limit by Richardson's extrapolation.
    order = np.log2((excess[0] - excess[1]) / (excess[1] - excess[2]))
    assert order == pytest.approx(2.0, abs=0.15)
    assert (4 * excess[2] - excess[1]) / 3 == pytest.approx(energy - 4.0, rel=1e-3)
    assert (4 * reach[2] - reach[1]) / 3 == pytest.approx(radius, rel=2e-5)


def _rim_radius(flat):
    rim = flat.points[boundary_loops(flat.triangles)[0]]
    return np.linalg.norm(rim - rim.mean(axis=0), axis=1).mean()


@pytest.mark.parametrize(
    "made", [shapes.saddle, shapes.cushion, shapes.free_form, shapes.torus_quarter, lambda: shapes.cap(2.2, rings=20)]
)
def test_every_piece_holds_its_certificate_and_stands_at_a_minimum(made):
    seat, triangles = made()
    flat = least_energy(seat, triangles)
    assert certify(flat.points, flat.triangles).holds
    assert np.array_equal(flat.triangles, triangles)
    assert flat.made.status.converged
    assert flat.demand >= flat.figures.p995 / flat.stretch[:, 1].max() - 1


def test_a_piece_that_would_lie_on_itself_is_kept_apart():
    seat, triangles = shapes.ramp()
    flat = least_energy(seat, triangles)
    assert flat.made.method == "least energy, rim kept apart"
    assert flat.certified
    assert certify(flat.points, flat.triangles).holds


small_shapes = st.sampled_from(
    [shapes.saddle(rings=6), shapes.cushion(edge=60.0), shapes.free_form(edge=45.0), shapes.cap(1.2, rings=6)]
)


@settings(max_examples=20, deadline=None)
@given(small_shapes, st.integers(0, 2**32 - 1), st.floats(-3, 3))
def test_moving_and_scaling_the_seat_scales_the_piece(mesh, seed, power):
    seat, triangles = mesh
    rng, scale = np.random.default_rng(seed), 10.0**power
    turn = np.linalg.qr(rng.normal(size=(3, 3)))[0]
    turn *= np.sign(np.linalg.det(turn))
    # Within the sizes that a seat may have, from 5 mm to 20 m, whichever way it is turned.
    scale = min(max(scale, 0.06), 30.0)
    moved = scale * seat @ turn + scale * rng.uniform(-500, 500, 3)
    one, two = least_energy(seat, triangles), least_energy(moved, triangles)
    assert distances_agree(scale * one.points, two.points)
    assert two.demand == pytest.approx(one.demand, rel=1e-7)


@settings(max_examples=15, deadline=None)
@given(small_shapes, st.integers(0, 2**32 - 1))
def test_renumbering_changes_nothing(mesh, seed):
    seat, triangles = mesh
    rng = np.random.default_rng(seed)
    order = rng.permutation(len(seat))
    rank = np.argsort(order)
    first_corner = (np.arange(3) + rng.integers(0, 3, (len(triangles), 1))) % 3
    shuffled = rng.permutation(np.take_along_axis(triangles, first_corner, axis=1))
    one, two = least_energy(seat, triangles), least_energy(seat[order], rank[shuffled])
    assert distances_agree(one.points[order], two.points)


@settings(max_examples=8, deadline=None)
@given(small_shapes)
def test_a_mirrored_seat_gives_the_mirrored_piece(mesh):
    seat, triangles = mesh
    one = least_energy(seat, triangles)
    two = least_energy(seat * [-1, 1, 1], triangles[:, [0, 2, 1]])
    assert distances_agree(one.points * [-1, 1], two.points)
    assert not distances_agree(one.points, two.points, relative=1e-3) or _is_mirror_symmetric(one.points)


def _is_mirror_symmetric(points):
    return distances_agree(points * [-1, 1], points, relative=1e-3)


def test_the_piece_is_seen_from_the_outer_side():
    # A flat sheet lying on the ground, outer side up, is seen from above as it is.
    points, triangles = shapes.scattered(300, 200, 20)
    flat = least_energy(np.column_stack([points, np.zeros(len(points))]), triangles)
    assert distances_agree(points, flat.points, relative=1e-12)


def test_inputs_are_left_alone_and_results_are_locked():
    seat, triangles = shapes.cap(0.7, rings=6)
    flat = least_energy(locked_floats(seat), locked_ints(triangles))
    for array in (flat.points, flat.triangles, flat.stretch, flat.along):
        assert not array.flags.writeable


def test_the_same_bytes_every_time():
    seat, triangles = shapes.free_form()
    one, two = least_energy(seat, triangles), least_energy(seat.copy(), triangles.copy())
    assert one.points.tobytes() == two.points.tobytes()
    assert one.stretch.tobytes() == two.stretch.tobytes()


def test_rim_of_a_cone_keeps_its_length():
    seat, triangles = shapes.cone()
    rim = boundary_loops(triangles)[0]
    flat = least_energy(seat, triangles)
    assert curve_length(flat.points[rim]) == pytest.approx(curve_length(seat[rim]), rel=1e-12)


def test_progress_is_told():
    told = []
    least_energy(*shapes.saddle(rings=6), progress=lambda *news: told.append(news))
    assert told[0] == ("least energy", 0, 0)
    assert [step for _, step, _ in told] == list(range(len(told)))
    assert len(told) > 1


def test_the_budget_by_hand_goes_before_the_card():
    mesh = shapes.cap(0.5, rings=6)
    assert least_energy(*mesh).verdict is None
    assert least_energy(*mesh, leather="soft").verdict == "fits"
    assert least_energy(*mesh, leather="soft", budget=0.01).verdict == "proven too tight"
    # A cap is stretched most all round its middle: over by a little, but on much of its area.
    found = least_energy(*mesh, budget=0.04)
    assert found.verdict == "too tight"
    assert found.over.excess < EASE
    assert found.over.share > EASE_AREA


def test_a_budget_that_is_none_is_refused():
    with pytest.raises(ProblemError, match="L106"):
        least_energy(*shapes.cap(0.5, rings=6), budget=5.0)


def test_nothing_leaves_without_its_certificate(monkeypatch):
    monkeypatch.setattr(develop, "certify", lambda *points, **rim: Certificate(True, 2, 1))
    with pytest.raises(ProblemError, match="F101"):
        least_energy(*shapes.cap(0.5, rings=6))


def test_the_last_method_is_the_fold_free_start(monkeypatch):
    def broken(vertices, start, triangles, *asked, **told):
        return Relaxed(-start * [1, -1], 9.0, 3, Status(Ending.NO_DESCENT, 1.0))

    monkeypatch.setattr(methods, "relax", broken)
    monkeypatch.setattr(methods, "relax_apart", broken)
    flat = least_energy(*shapes.cap(0.5, rings=6))
    assert flat.made.method == "fold-free start"
    assert certify(flat.points, flat.triangles).holds


def test_a_search_that_needed_another_solver_says_so(monkeypatch):
    def helped(*mesh, **options):
        done = relax(*mesh, **options)
        return dataclasses.replace(done, status=dataclasses.replace(done.status, fallbacks=2))

    relax = methods.relax
    monkeypatch.setattr(methods, "relax", helped)
    assert "2 of its linear systems by full pivoting" in str(least_energy(*shapes.cap(0.5, rings=6)).made.status)


@pytest.mark.parametrize("triangles", [[[0, 1, 2]], [[0, 1, 2], [1, 3, 2]]])
def test_pieces_without_an_inner_vertex(triangles):
    corners = np.array([[0.0, 0, 0], [0, 100, 0], [0, 0, 100], [60, 100, 100]])[: 2 + len(triangles)]
    flat = least_energy(corners, triangles)
    assert flat.demand < 1e-12
    assert flat.certified


def test_a_rough_sheet_still_gets_its_certificate():
    rng = np.random.default_rng(4)
    points, triangles = shapes.scattered(200, 200, 10)
    flat = least_energy(np.column_stack([points, rng.uniform(-25, 25, len(points))]), triangles)
    assert certify(flat.points, flat.triangles).holds


def test_both_solvers_give_one_piece(monkeypatch):
    mesh = shapes.free_form()
    monkeypatch.setenv("TRIMLOFT_SOLVER", "cholmod")
    with_it = least_energy(*mesh)
    monkeypatch.setenv("TRIMLOFT_SOLVER", "scipy")
    without = least_energy(*mesh)
    assert np.abs(with_it.points - without.points).max() < 1e-9
    assert without.made.steps == with_it.made.steps


def test_a_good_map_that_no_half_can_be_had_of_is_gone_on_from_as_a_whole():
    """A flat strip that begins curled up at one end and down at the other: made even left to right it would fold, so
    the whole is gone on from, as it is where no demand is made least."""
    x, y = np.meshgrid(np.linspace(-1.0, 1.0, 41), np.linspace(-0.05, 0.05, 3))
    plan, count = 100.0 * np.column_stack([x.ravel(), y.ravel()]), x.size
    cells = np.arange(count).reshape(3, 41)
    a, b, c, d = cells[:-1, :-1].ravel(), cells[:-1, 1:].ravel(), cells[1:, 1:].ravel(), cells[1:, :-1].ravel()
    left = plan[a, 0] < 0.0
    # Diagonals are mirrored too.
    first = np.stack([a, b, np.where(left, d, c)], axis=1)
    triangles = np.concatenate([first, np.stack([np.where(left, b, a), c, d], axis=1)])
    angle = 2.2 * plan[:, 0] / 100.0
    # A curve that turns evenly to either side, and the strip's own width across it.
    run = 100.0 / 2.2
    middle = run * np.column_stack([np.sin(angle), np.sign(angle) * (1.0 - np.cos(angle))])
    turned = np.abs(angle)
    start = middle + plan[:, 1:] * np.column_stack([-np.sin(turned), np.cos(turned)])
    flat = np.column_stack([plan, np.zeros(count)])
    asked = Options(aim=Aim.ENERGY, mirror=cells[:, ::-1].ravel(), start=start, prove=False)
    found = flatten.flatten(flat, triangles, options=asked)
    assert found.certified
    assert distances_agree(found.points, start)
