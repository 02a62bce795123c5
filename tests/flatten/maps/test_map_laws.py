"""First maps, principal stretches and records of maps: what unrolls comes out exact, derivatives by differences."""

from types import SimpleNamespace

import numpy as np
import pytest

from flatten.leather.stretch import singular, stretch
from flatten.maps.energy import Energy
from flatten.maps.flat import Straightening, unconverged
from flatten.maps.jacobians import Maps
from flatten.maps.pose import Heading, laid_out, longest_along_x, scaled_map
from flatten.maps.principal import PrincipalStretches
from flatten.maps.relax import RelaxOptions, relax, renumbered, rigid_pins
from flatten.maps.start import circle_map, conformal, even_circle, flipped, starts
from meshes.base.surface import boundary_loops, triangle_areas
from meshes.numerics.status import Ending, Status
from tests import shapes

# First maps.


def edges(vertices, triangles):
    pairs = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    return np.linalg.norm(vertices[pairs[:, 1]] - vertices[pairs[:, 0]], axis=1)


@pytest.mark.parametrize("made", [shapes.cylinder, lambda: shapes.loose_cylinder(20.0), lambda: shapes.graph(
    lambda x, y: 0.3 * x + 5.0, width=200.0, depth=120.0, edge=30.0)])  # fmt: skip
def test_what_unrolls_comes_out_of_the_first_map_at_its_own_size(made):
    """Of a body that unrolls the conformal map whose rim keeps its length is the unrolled body."""
    seat, triangles = made()
    first = next(starts(seat, triangles))
    assert first.kind == "conformal"
    assert edges(first.points, triangles) == pytest.approx(edges(seat, triangles), rel=2e-3)
    assert flipped(first.points, triangles) == 0
    assert sorted(first.order.tolist()) == list(range(len(seat)))


def test_a_rim_without_inner_vertices_keeps_its_turns():
    """A strip of triangles, all of whose vertices lie on its rim: flat already, it comes back."""
    uv, triangles = shapes.grid(6, 1)
    flat = uv * [120.0, 20.0]
    points = conformal(np.column_stack([flat, np.zeros(len(flat))]), triangles)
    assert edges(points, triangles) == pytest.approx(edges(flat, triangles))
    assert flipped(points, triangles) == 0


def test_kinds_of_first_maps_in_their_order_each_of_its_best_size():
    seat, triangles = shapes.saddle(rings=6)
    found = list(starts(seat, triangles))
    assert [one.kind for one in found] == ["conformal", "circle", "even circle"]
    for one in found:
        assert Maps(seat, triangles).best_scale(one.points) == pytest.approx(1.0)


def test_steps_along_the_circle_are_as_long_as_on_the_rim_or_all_alike():
    seat, triangles = shapes.graph(lambda x, y: 0.0 * x, width=300.0, depth=100.0, edge=40.0)
    (rim,) = boundary_loops(triangles)
    long = np.linalg.norm(np.roll(seat[rim], -1, axis=0) - seat[rim], axis=1)
    for points, wanted in (
        (circle_map(seat, triangles), long / long.sum()),
        (even_circle(seat, triangles), 1 / len(rim)),
    ):
        at = np.arctan2(points[rim, 1], points[rim, 0])
        steps = np.mod(np.roll(at, -1) - at, 2.0 * np.pi) / (2.0 * np.pi)
        assert steps == pytest.approx(np.broadcast_to(wanted, len(rim)))
        assert points[rim[0]] == pytest.approx([1.0, 0.0])


def test_inner_vertices_of_the_circle_lie_in_the_mean_of_their_neighbours():
    """Weighed by one over the length of the edge between them, or all alike."""
    seat, triangles = shapes.saddle(rings=4)
    (rim,) = boundary_loops(triangles)
    for points, even in ((circle_map(seat, triangles), False), (even_circle(seat, triangles), True)):
        for v in np.setdiff1d(np.arange(len(seat)), rim)[::5]:
            near = np.setdiff1d(np.unique(triangles[(triangles == v).any(axis=1)]), [v])
            weights = np.ones(len(near)) if even else 1.0 / np.linalg.norm(seat[near] - seat[v], axis=1)
            assert points[v] == pytest.approx(np.average(points[near], axis=0, weights=weights), abs=1e-9)


# Energy and maps.


def test_maps_of_a_plane_are_the_matrix_that_was_applied():
    flat, triangles = shapes.scattered(200.0, 120.0, 40.0)
    matrix = np.array([[1.2, 0.3], [-0.1, 0.8]])
    maps = Maps(np.column_stack([flat, np.zeros(len(flat))]), triangles)
    sizes = np.linalg.svd(matrix)[1]
    squares, det = maps.invariants(flat @ matrix.T)
    assert squares == pytest.approx(np.full(len(triangles), (sizes**2).sum()))
    assert det == pytest.approx(np.full(len(triangles), sizes.prod()))
    assert maps.value(flat @ matrix.T) == pytest.approx((sizes**2 + sizes**-2).sum())
    assert maps.value(flat) == pytest.approx(4.0)
    assert maps.weights.sum() == pytest.approx(1.0)
    assert maps.value(flat * [1.0, -1.0]) == np.inf
    assert maps.value(flat * [1.0, 0.0]) == np.inf
    # Each triangle's gradients of its corners' hats add up to nothing.
    assert sum(np.array(hat) for hat in maps.hats) == pytest.approx(np.zeros((2, len(triangles))), abs=1e-12)


def test_logs_and_directions_of_principal_stretches():
    rng = np.random.default_rng(3)
    maps = rng.normal(size=(30, 2, 2)) + 2.0 * np.eye(2)
    maps = maps[np.linalg.det(maps) > 0.1]
    found = PrincipalStretches(maps)
    sizes = np.linalg.svd(maps)[1]
    assert found.s == pytest.approx(sizes)
    assert found.logs == pytest.approx(-np.log(sizes))
    by, step = rng.normal(size=maps.shape), 1e-6
    slope = (PrincipalStretches(maps + step * by).logs - PrincipalStretches(maps - step * by).logs) / (2.0 * step)
    assert found.change(by) == pytest.approx(slope, rel=1e-5, abs=1e-6)
    _, left, right = singular(maps)
    assert found.axes.cl == pytest.approx(np.cos(left))
    assert found.axes.sr == pytest.approx(np.sin(right))


def test_a_folded_triangle_has_no_log():
    folded = np.array([[[1.0, 0.0], [0.0, -0.5]], [[2.0, 0.0], [0.0, 0.5]]])
    logs = PrincipalStretches(folded).logs
    assert logs[0].tolist() == [0.0, np.inf]
    assert logs[1] == pytest.approx([-np.log(2.0), np.log(2.0)])


# The search for least energy.


def test_a_rigid_motion_is_held_by_the_middle_and_the_vertex_farthest_along_x():
    points = np.array([[-50.0, 0.0], [0.0, 1.0], [9.0, -40.0], [40.0, 30.0]])
    assert rigid_pins(points).tolist() == [2, 3, 1]
    assert renumbered(np.array([2, 3, 1]), np.array([3, 0, 1, 2])).tolist() == [0, 1, 7]


def test_a_search_ends_where_its_next_step_is_not_worth_it_and_holds_what_it_is_told_to():
    seat, triangles = shapes.cap(1.0, rings=8)
    first = next(starts(seat, triangles))
    fine = relax(seat, first.points, triangles)
    rough = relax(seat, first.points, triangles, RelaxOptions(done=1e-4))
    assert rough.steps <= fine.steps
    assert rough.energy == pytest.approx(fine.energy, rel=1e-3)
    assert rough.status.converged
    # From a good start a Newton search squares its error at every step.
    assert fine.steps <= 8
    assert fine.status.gap < 1e-12
    again = relax(seat, fine.points, triangles)
    assert again.steps <= 1
    held = np.array([0, 1, 2 * 20, 2 * 20 + 1])
    kept = relax(seat, first.points, triangles, RelaxOptions(held=held))
    assert kept.points.ravel()[held] == pytest.approx(first.points.ravel()[held], abs=1e-12)
    assert kept.energy >= fine.energy - 1e-12
    # The order of elimination changes nothing but digits.
    other = relax(seat, first.points, triangles, RelaxOptions(order=np.arange(len(seat))))
    assert other.energy == pytest.approx(fine.energy, rel=1e-12)


def test_even_a_map_far_from_the_best_ends_in_it_within_a_few_dozen_steps():
    seat, triangles = shapes.cap(2.4, rings=10)
    found = [relax(seat, Maps(seat, triangles).best_scale(p) * p, triangles) for p in
             (circle_map(seat, triangles), even_circle(seat, triangles))]  # fmt: skip
    assert found[0].energy == pytest.approx(found[1].energy, rel=1e-12)
    assert max(one.steps for one in found) <= 60
    for one in found:
        assert np.abs(Energy(seat, triangles).gradient(one.points)).max() < 1e-9


# How a map is laid down.


def test_a_map_is_scaled_to_the_pull_and_never_made_larger():
    seat, triangles = shapes.saddle(rings=6)
    points = next(starts(seat, triangles)).points
    even = stretch(seat, scaled_map(seat, points, triangles, None), triangles).values
    assert even.max() * even.min() == pytest.approx(1.0)
    for size in (1.3, 0.5):
        values = stretch(seat, scaled_map(seat, size * points, triangles, 0.02), triangles).values
        assert values.min() == pytest.approx(max(1.02, stretch(seat, size * points, triangles).values.min()))


def test_a_piece_lies_with_its_middle_at_nought_and_its_longest_way_along_x():
    flat, triangles = shapes.scattered(300.0, 100.0, 25.0)
    # A wedge, wider on the right: the heavy end settles which way it lies.
    wedge = flat * np.column_stack([np.ones(len(flat)), 0.4 + 0.6 * flat[:, 0] / 300.0])
    first = laid_out(wedge, triangles)
    for turn in (0.7, 2.0, 4.0):
        c, s = np.cos(turn), np.sin(turn)
        again = laid_out(wedge @ np.array([[c, s], [-s, c]]) + [40.0, -9.0], triangles)
        assert again == pytest.approx(first, abs=1e-9)
    areas = triangle_areas(first, triangles)
    assert np.average(first[triangles].mean(axis=1), axis=0, weights=areas) == pytest.approx([0.0, 0.0], abs=1e-9)
    turn = longest_along_x(first, triangles)
    assert turn == pytest.approx(np.eye(2), abs=1e-9)
    assert np.ptp(first[:, 0]) > 2.5 * np.ptp(first[:, 1])


def test_a_heading_is_kept_by_a_turn():
    points = np.array([[0.0, 0.0], [30.0, 10.0], [5.0, 40.0]])
    weights = np.array([-1.0, 0.5, 0.5])
    heading = Heading.on(points, weights)
    run = weights @ points
    assert heading.toward == pytest.approx(run / np.linalg.norm(run))
    c, s = np.cos(0.8), np.sin(0.8)
    moved = points @ np.array([[c, s], [-s, c]]) + [3.0, 4.0]
    back = heading.turned(moved)
    assert weights @ back == pytest.approx(run)
    assert (heading.across * back).sum() == pytest.approx(0.0, abs=1e-9)
    # A direction goes with the points.
    up = np.array([0.0, 1.0])
    assert heading.followed(up, moved) == pytest.approx(up @ np.array([[c, s], [-s, c]]))


# Records.


@pytest.mark.parametrize(
    ("asks", "demand", "budget", "left"),
    [
        (0.01, 0.04, 0.06, 0.01),
        (0.03, 0.04, 0.06, None),
        (0.02, 0.04, None, 0.02),
        (0.0, 0.09, 0.06, 0.0),
        (None, 0.04, 0.06, None),
    ],
)
def test_straight_lines_that_would_take_a_piece_beyond_its_budget_are_not_given(asks, demand, budget, left):
    assert Straightening(0.001, asks).within(demand, budget) == Straightening(0.001, left)


@pytest.mark.parametrize("ending", Ending)
def test_a_search_that_ended_early_is_told(ending):
    status = Status(ending, 0.1, detail="more")
    found = unconverged("face", status)
    assert (found is None) == (ending in (Ending.CONVERGED, Ending.FLAT))
    if found is not None:
        assert (found.code, found.where, found.warning) == ("F201", "face", True)
        assert f"ended early: {ending}: more" in found.text


def test_a_flat_map_reads_its_figures_from_their_records():
    from flatten.maps.flat import Flat

    given = SimpleNamespace(
        figures=SimpleNamespace(demand=0.04),
        lower=SimpleNamespace(demand=0.01, trouble="there"),
        judgement=SimpleNamespace(budget=0.05, verdict="fits", use="use", over=None),
        certificate=SimpleNamespace(holds=True, flipped=0),
    )
    words = ("demand", "floor", "trouble", "budget", "verdict", "use", "over", "certified", "flipped")
    assert [getattr(Flat, word).fget(given) for word in words] == [
        0.04,
        0.01,
        "there",
        0.05,
        "fits",
        "use",
        None,
        True,
        0,
    ]
    given.lower = None
    assert Flat.floor.fget(given) is None
    assert Flat.trouble.fget(given) is None
