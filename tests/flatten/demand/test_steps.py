"""Single steps of the search, each against what first-order calculus and its own equations say."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import sparse

from flatten.demand import search
from flatten.demand.fairness import Line, Lines
from flatten.demand.least_demand import Member, least_demand
from flatten.demand.length_penalty import Joins, RimLengths
from flatten.demand.slack import COMPLEMENTARITY_RATIO, LEAST_TRUE_SHARE, Slack
from flatten.demand.window import Goal, State, Terms, Window
from flatten.leather.budget_use import use_of
from flatten.leather.stretch import stretch
from flatten.maps.relax import relax
from flatten.maps.start import starts
from meshes.base.surface import boundary_loops
from tests import shapes

MESH = shapes.cap(0.9, rings=4, radius=1.0)
RATIOS = [(1.0, 1.0), (1.0, 2.0)]


def rim_of(triangles):
    loop = boundary_loops(triangles)[0]
    return np.stack([loop, np.roll(loop, -1)], axis=1)


def window_of(ratio, *, held=False, pull=-0.3, lined=False):
    edges = rim_of(MESH[1])
    rim = RimLengths(edges, np.full(len(edges), 0.2), np.full(len(edges), 1.0 / len(edges))) if held else None
    joins = Joins(edges[:4], edges[8:12], np.full(4, 0.25), np.full(4, 0.05)) if held else None
    lines = Lines((rim_line(),), 1000.0)
    linked = lines.stencils() if lined else None
    window = Window(*MESH, Terms(pull=pull, rim=rim, joins=joins), ratio=np.array([ratio]), linked=linked)
    if lined:
        window.hold_lines(lines.bent(inside(window)[0].points))
    return window


def rim_line():
    """Half the rim as a line that should be straight, its last vertex the mirror image of one on the other side."""
    path = boundary_loops(MESH[1])[0][:12]
    return Line(path, np.arange(12) == 11, np.full(10, 1e-3), np.array([[0, 3, 7], [2, 6, 10]]))


def inside(window, room=0.15, seed=6):
    """A map well inside its window, and a move of it."""
    rng = np.random.default_rng(seed)
    points = shapes.disc(4)[0] * [0.9, 0.84] + rng.uniform(-0.01, 0.01, (len(MESH[0]), 2))
    bound = window.needed(points) + room
    window.begun(bound)
    return State(points, bound), rng.normal(size=points.shape) * 0.02, np.array([0.03])


def dense(window, values):
    size = 2 * window.n
    return sparse.csc_matrix((values, window.indices, window.indptr), shape=(size, size)).toarray()


def along(at, step, step_bound, t):
    return State(at.points + t * step, at.bound + t * step_bound)


@pytest.mark.parametrize("ratio", [(1.0, 1.0), (0.7, 1.0)])
def test_a_window_knows_points_by_where_they_are_even_when_they_are_moved_in_place(ratio):
    window = window_of(ratio)
    points = inside(window)[0].points.copy()
    window.logs(points)
    points *= 2.0
    fresh = window_of(ratio)
    fresh.tilt = window.tilt
    for told, known in zip(window.sides(points), fresh.sides(points), strict=True):
        np.testing.assert_allclose(told.logs, known.logs, rtol=1e-12)


@pytest.mark.parametrize("ratio", RATIOS)
def test_a_change_is_the_slope_of_the_distances_and_keeps_their_products(ratio):
    """Distances change as the map does; with them the products of pressure and distance, to first order, become mu."""
    window, mu = window_of(ratio), 0.02
    at, step, step_bound = inside(window)
    kept = window.slack(at, 0.05)
    change = window.change(at, mu, kept, step, step_bound)
    t = 1e-6
    there, back = (window.distances(along(at, step, step_bound, s)) for s in (t, -t))
    for found, one, other in zip((change.above, change.below), there, back, strict=True):
        assert np.allclose(found, (one - other) / (2 * t), rtol=1e-6, atol=1e-7)
    for distance, pressure in (("above", "dual_above"), ("below", "dual_below")):
        d, p = getattr(kept, distance), getattr(kept, pressure)
        assert np.allclose(d * p + d * getattr(change, pressure) + p * getattr(change, distance), mu, atol=1e-12)


@pytest.mark.parametrize(("share", "dual"), [(1.0, 1.0), (0.5, 1.0), (1.0, 0.25), (0.3, 0.8)])
def test_a_move_takes_the_share_it_is_told_of_distances_and_of_pressures(share, dual):
    rng = np.random.default_rng(2)
    kept, change = (Slack(*rng.uniform(0.5, 1.0, (4, 7, 2))) for _ in range(2))
    nowhere = (np.full((7, 2), -1.0), np.full((7, 2), -1.0))
    moved = kept.moved(change, share, dual, nowhere)
    for name, part in (("above", share), ("below", share), ("dual_above", dual), ("dual_below", dual)):
        whole = getattr(change, name)
        assert np.allclose(getattr(moved, name) - getattr(kept, name), part * whole, atol=1e-14), name


def test_a_slack_takes_the_true_distance_unless_there_is_hardly_any():
    kept = Slack(*(np.full((1, 2), 1.0) for _ in range(4)))
    still = Slack(*(np.zeros((1, 2)) for _ in range(4)))
    true = (np.array([[1.1 * LEAST_TRUE_SHARE, 0.9 * LEAST_TRUE_SHARE]]), np.array([[2.0, -1.0]]))
    moved = kept.moved(still, 1.0, 1.0, true)
    assert moved.above.tolist() == [[1.1 * LEAST_TRUE_SHARE, 1.0]]
    assert moved.below.tolist() == [[2.0, 1.0]]


@pytest.mark.parametrize("which", ["above", "below", "dual_above", "dual_below"])
def test_a_change_meets_a_side_where_the_first_of_all_is_gone(which):
    rng = np.random.default_rng(4)
    kept = Slack(*rng.uniform(0.5, 1.0, (4, 9, 2)))
    change = Slack(*rng.uniform(0.0, 1.0, (4, 9, 2)))
    values = getattr(change, which).copy()
    values[3, 1] = -2.0 * getattr(kept, which)[3, 1]
    distances, pressures = kept.shares(replace(change, **{which: values}))
    assert (distances, pressures) == ((0.5, np.inf) if which in ("above", "below") else (np.inf, 0.5))


def test_safeguarded_products_are_near_their_mean_and_the_rest_is_left():
    rng = np.random.default_rng(5)
    kept = Slack(*np.exp(rng.normal(0.0, 2.5, (4, 60, 2))))
    weights = rng.dirichlet(np.ones(60))
    mean = float((weights[:, None] * (kept.dual_above * kept.above + kept.dual_below * kept.below)).sum()) / 4.0
    assert kept.complementarity(weights) == pytest.approx(mean)
    even = kept.safeguarded(weights)
    for distance, pressure in (("above", "dual_above"), ("below", "dual_below")):
        before = getattr(kept, distance) * getattr(kept, pressure)
        after = getattr(even, distance) * getattr(even, pressure)
        assert np.array_equal(getattr(even, distance), getattr(kept, distance))
        assert after == pytest.approx(
            np.clip(before, mean / COMPLEMENTARITY_RATIO, mean * COMPLEMENTARITY_RATIO), rel=1e-12
        )
    pulling = replace(kept, dual_above=-kept.dual_above)
    assert (pulling.feasible().dual_above == 0.0).all()
    assert np.array_equal(pulling.feasible().dual_below, kept.dual_below)


@pytest.mark.parametrize(("held", "lined"), [(False, False), (True, False), (False, True), (True, True)])
@pytest.mark.parametrize("ratio", RATIOS)
def test_the_model_has_the_slope_of_what_is_minimised(ratio, held, lined):
    """At rest inside the window the eliminated system is Newton's of the barrier itself; against differences."""
    window = window_of(ratio, held=held, lined=lined)
    at, step, step_bound = inside(window)
    goal = Goal(0.02, lead=0.8, ease=0.3, stiff=3.0)
    model = window.model(at, goal, window.slack(at, goal.mu))
    t = 1e-5

    def value(s):
        return window.barrier(along(at, step, step_bound, s), goal)

    slope = model.slope @ step.ravel() + model.slope_bound @ step_bound
    assert slope == pytest.approx((value(t) - value(-t)) / (2 * t), rel=1e-6)
    # By the bounds alone the barrier is convex and its curvature is whole.
    still = np.zeros_like(step)
    values = [window.barrier(along(at, still, step_bound, s), goal) for s in (-1e-3, 0.0, 1e-3)]
    bend = float(step_bound @ np.diag(model.bend_bound) @ step_bound)
    assert bend == pytest.approx((values[0] - 2 * values[1] + values[2]) / 1e-6, rel=1e-3)
    # Mixed: how the slope by the points changes with the bounds.
    more = window.model(
        along(at, still, step_bound, 1e-5), goal, window.slack(along(at, still, step_bound, 1e-5), goal.mu)
    )
    assert np.allclose((more.slope - model.slope) / 1e-5, model.mixed @ step_bound, rtol=1e-3, atol=1e-4)


@pytest.mark.parametrize("held", [False, True])
def test_lines_add_their_own_curvature(held):
    """What fairness adds is quadratic: its matrix is the change of its slope, exactly."""
    window = window_of((1.0, 2.0), held=held, lined=True)
    at, step, _ = inside(window)
    goal = Goal(0.02, ease=0.3, stiff=3.0)
    kept = window.slack(at, goal.mu)
    lines, with_lines = window.lines, dense(window, window.model(at, goal, kept).values)
    window.lines = None
    added = (with_lines - dense(window, window.model(at, goal, kept).values)) @ step.ravel()
    change = lines.slope(at.points + step) - lines.slope(at.points)
    assert np.abs(change).max() > 1e-6
    assert added == pytest.approx(0.3 * change.ravel(), abs=1e-9 * np.abs(change).max() + 1e-9)


@pytest.mark.parametrize("ratio", RATIOS)
def test_curvature_is_never_below_the_true_one_and_turning_is_resisted(ratio):
    """The matrix of the model is positive but for moving the piece as a whole: turned at rest in the middle of its
    window, where pressures cancel, a piece still holds against it, so that no step turns triangles about freely."""
    window = window_of(ratio)
    at, *_ = inside(window)
    goal = Goal(0.02)
    found = np.linalg.eigvalsh(dense(window, window.model(at, goal, window.slack(at, goal.mu)).values))
    assert np.abs(found[:2]).max() < 1e-9
    assert found[2] > 1e-5


def test_turning_an_even_piece_in_the_middle_of_its_window_costs_something():
    """A flat piece drawn to scale s, its window even to both sides: pressures cancel, nothing else resists a turn."""
    points, triangles = shapes.disc(4)
    seat, s = np.column_stack([points, 0 * points[:, 0]]), 0.9
    window = Window(seat, triangles, Terms(pull=-np.log(s) - 0.1), ratio=np.ones((1, 2)))
    at = State(s * points, window.begun(np.array([-np.log(s) + 0.1])))
    matrix = dense(window, window.model(at, Goal(0.02), window.slack(at, 0.02)).values)
    turn = np.stack([-at.points[:, 1], at.points[:, 0]], axis=1).ravel()
    cost = float(turn @ matrix @ turn)
    # A turn's map has size^2 2 s^2; resisted by a share small against the pressures, 0.2 / (0.1 s)^2 a mode.
    assert 1e-4 < cost / (2 * s * s) < 1e-2


@pytest.mark.parametrize("ratio", RATIOS)
def test_the_least_bound_a_map_needs_is_its_use_of_such_a_leather(ratio):
    """Another route: the use of a budget (bisection over directions) whose limits are in this ratio."""
    window = window_of(ratio)
    at, *_ = inside(window)
    field = stretch(MESH[0], at.points, MESH[1])
    use = use_of(field.values, field.along, np.array([1.0, 0.0]), ratio).values.max()
    assert window.needed(at.points)[0] == pytest.approx(use, abs=1e-9)


@pytest.mark.parametrize("ratio", RATIOS)
def test_every_step_brings_the_products_to_where_it_was_told(monkeypatch, ratio):
    """A step of which distances and pressures go nearly the whole way ends where the mean product is nearly the weight
    of the barrier: what makes an interior point method quick. Half a step of the pressures would leave half."""
    rows, advance = [], search.Search._advance

    def watched(self, kept, goal):
        found = advance(self, kept, goal)
        rows.append(
            (
                found[1],
                goal.mu,
                kept.complementarity(self.window.weights),
                found[0].complementarity(self.window.weights),
            )
        )
        return found

    monkeypatch.setattr(search.Search, "_advance", watched)
    for mesh in (shapes.cap(1.0, rings=8), shapes.saddle(rings=10)):
        start = relax(mesh[0], next(starts(*mesh)).points, mesh[1]).points
        assert least_demand(Member(*mesh, start, ratio=ratio), gap=1e-3).status.converged
    left = [(after - mu) / (before - mu) for share, mu, before, after in rows if share > 0.8 and before > 1.5 * mu]
    assert len(left) >= 4
    assert np.abs(left).max() < 0.2


def test_the_number_of_steps_does_not_grow_with_the_triangles():
    counts = []
    for rings in (6, 12, 24):
        mesh = shapes.cap(0.8, rings=rings)
        found = least_demand(Member(*mesh, next(starts(*mesh)).points), gap=2e-3)
        assert found.status.converged
        counts.append(found.steps)
    assert counts[2] <= counts[0] + 8
