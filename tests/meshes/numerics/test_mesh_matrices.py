"""Angles, the Laplace matrix, matrices on vertex pairs and their order, against sums done in another way."""

import numpy as np
import pytest
from scipy import sparse
from scipy.sparse import csgraph
from scipy.sparse.linalg import splu

from meshes.numerics.contours import areas_of, longer_than
from meshes.numerics.dissection import LEAF, dissected
from meshes.numerics.laplace import corner_angles, laplacian
from meshes.numerics.mesh_pattern import MeshPattern
from meshes.numerics.smooth import smooth_step
from tests.shapes import disc, grid, scattered

EGYPT = np.array([[0.0, 0.0, 1.0], [4.0, 0.0, 1.0], [0.0, 3.0, 1.0]])


def test_angles_of_a_right_triangle():
    angle, cotangent = corner_angles(EGYPT, np.array([[0, 1, 2]]))
    assert angle[0] == pytest.approx([np.pi / 2, np.arctan2(3, 4), np.arctan2(4, 3)])
    assert cotangent[0] == pytest.approx([0.0, 4.0 / 3.0, 3.0 / 4.0], abs=1e-12)
    assert areas_of(EGYPT[:, :2], np.array([[0, 1, 2], [0, 2, 1]])) == pytest.approx([6.0, 6.0])


def test_angles_of_any_triangles_in_space_add_up_to_half_a_turn():
    rng = np.random.default_rng(3)
    points, triangles = rng.normal(size=(30, 3)), rng.permuted(np.tile(np.arange(30), (20, 1)), axis=1)[:, :3]
    angle, cotangent = corner_angles(points, triangles)
    assert angle.sum(axis=1) == pytest.approx(np.pi)
    assert 1.0 / np.tan(angle) == pytest.approx(cotangent, rel=1e-6)
    # The law of cosines at every corner.
    for k in range(3):
        a, b, c = (points[triangles[:, (k + j) % 3]] for j in range(3))
        u, v = np.linalg.norm(b - a, axis=1), np.linalg.norm(c - a, axis=1)
        opposite = np.linalg.norm(c - b, axis=1)
        assert np.cos(angle[:, k]) == pytest.approx((u**2 + v**2 - opposite**2) / (2 * u * v), abs=1e-9)


def test_the_laplace_matrix_measures_the_slope_of_a_plane_exactly():
    """For a linear function u the form u L u is slope squared times area, and inside L u is nought."""
    flat, triangles = scattered(90.0, 60.0, 9.0)
    points = np.column_stack([flat, np.zeros(len(flat))])
    matrix = laplacian(triangles, corner_angles(points, triangles)[1], len(points))
    u = flat @ [0.3, -0.4] + 7.0
    assert u @ matrix @ u == pytest.approx(0.25 * areas_of(flat, triangles).sum(), rel=1e-9)
    inside = (flat > 1e-9).all(axis=1) & (flat < np.array([90.0, 60.0]) - 1e-9).all(axis=1)
    assert np.abs(matrix @ u)[inside].max() < 1e-9
    assert abs(matrix - matrix.T).max() < 1e-12
    assert np.abs(matrix @ np.ones(len(flat))).max() < 1e-12


def test_a_pattern_filled_from_blocks_is_the_matrix_summed_triangle_by_triangle():
    """Quadratic forms of the edges of every triangle, summed densely and laid out by pattern."""
    _, triangles = disc(4)
    n, m = int(triangles.max()) + 1, len(triangles)
    rng = np.random.default_rng(8)
    whole, blocks = np.zeros((2 * n, 2 * n)), np.zeros((3 * m + 1, 4))
    pattern = MeshPattern(triangles, n)
    for t, corners in enumerate(triangles):
        form = rng.normal(size=(4, 4))
        # Two edges from the first corner say all that a triangle feels.
        edges = np.kron(np.array([[-1.0, 1.0, 0.0], [-1.0, 0.0, 1.0]]), np.eye(2))
        own = edges.T @ (form + form.T) @ edges
        at = np.stack([2 * corners, 2 * corners + 1], axis=1).ravel()
        whole[np.ix_(at, at)] += own
        for k in range(3):
            j = (k + 1) % 3
            low, high = (k, j) if corners[k] < corners[j] else (j, k)
            assert pattern.turned[k, t] == (corners[k] > corners[j])
            blocks[k * m + t] = own[2 * low : 2 * low + 2, 2 * high : 2 * high + 2].ravel()
    laid = sparse.csc_matrix((pattern.filled(blocks), pattern.indices, pattern.indptr), shape=(2 * n, 2 * n))
    assert laid.has_sorted_indices
    assert laid.toarray() == pytest.approx(whole, abs=1e-9)
    # Asked for by pairs, the entries are those of the matrix.
    rows, columns = triangles[:, 0], triangles[:, 2]
    for (r, c), spots in pattern.block_spots(rows, columns).items():
        assert pattern.filled(blocks)[spots] == pytest.approx(whole[2 * rows + r, 2 * columns + c])


def graph(triangles, n):
    a, b = np.concatenate([triangles[:, [k, (k + 1) % 3]] for k in range(3)]).T
    ones = sparse.coo_matrix((np.ones(len(a)), (a, b)), shape=(n, n)).tocsr()
    return ones + ones.T


@pytest.mark.parametrize("turned", [False, True])
def test_the_last_of_an_order_part_the_mesh_across_its_longer_way(turned):
    points, triangles = grid(40, 20)
    places = points * ([20.0, 40.0] if turned else [40.0, 20.0])
    places = places[:, ::-1] if turned else places
    if turned:
        places = np.ascontiguousarray(places)
    order = dissected(places, triangles, leaf=LEAF)
    n = len(places)
    assert np.array_equal(np.sort(order), np.arange(n))
    links = graph(triangles, n)
    for last in range(1, 60):
        rest = order[:-last]
        count, part = csgraph.connected_components(links[rest][:, rest], directed=False)
        if count > 1:
            break
    longer = int(np.argmax(np.ptp(places, axis=0)))
    halves = np.sort(np.bincount(part))
    assert count == 2
    assert last <= 42, "a line across the shorter way, which is 21 or 41 places wide"
    assert halves[0] > 0.4 * n
    spread = np.ptp(places[order[-last:]], axis=0) / np.ptp(places, axis=0)
    assert spread[longer] < 0.1


def test_factors_in_that_order_are_as_thin_as_those_of_minimum_degree():
    points, triangles = disc(24)
    n = len(points)
    links = graph(triangles, n)
    laplace = sparse.csc_matrix(sparse.diags_array(np.asarray(links.sum(axis=1)).ravel() + 1.0) - links)
    order = dissected(points, triangles)

    def fill(matrix, spec):
        factor = splu(matrix, permc_spec=spec, diag_pivot_thresh=0.0, options={"SymmetricMode": True})
        return factor.L.nnz

    ours = fill(sparse.csc_matrix(laplace[order][:, order]), "NATURAL")
    assert ours < 1.15 * fill(laplace, "MMD_AT_PLUS_A")
    assert ours < 0.5 * fill(laplace, "NATURAL")


def test_lines_are_as_long_as_they_run():
    bent = np.array([[0.0, 0.0], [30.0, 0.0], [30.0, 40.0]])
    assert longer_than(70.0, [bent, bent[:2]]) == [pytest.approx(bent)]
    assert longer_than(70.1, [bent]) == []
    assert len(longer_than(30.0, [bent, bent[:2]])) == 2


def test_a_smooth_step_is_even_about_its_middle_with_three_flat_derivatives():
    t = np.linspace(-0.5, 1.5, 401)
    step = smooth_step(t)
    assert step + smooth_step(1.0 - t) == pytest.approx(np.ones(401))
    assert (np.diff(step) >= 0).all()
    # Its slope is 30 t^2 (1 - t)^2, at most 15 / 8 in the middle.
    inside = (t > 0.0) & (t < 1.0)
    slope = (smooth_step(t + 1e-6) - smooth_step(t - 1e-6)) / 2e-6
    assert slope[inside] == pytest.approx(30.0 * (t * (1.0 - t))[inside] ** 2, abs=1e-6)
    assert step[t <= 0.0].max() == 0.0
    assert step[t >= 1.0].min() == 1.0
