"""The sparse solver: answers that hold, other ways when one fails, the same answer from both libraries."""

import numpy as np
import pytest
from scipy import sparse

from meshes.numerics.dissection import dissected
from meshes.numerics.solver import Factor, SingularError, Solver
from tests.shapes import disc


def matrix(n=400, *, seed=2):
    rng = np.random.default_rng(seed)
    a = sparse.random(n, n, density=0.01, random_state=rng) + sparse.eye(n)
    return sparse.csc_matrix(a @ a.T + 0.1 * sparse.eye(n)).sorted_indices(), rng.normal(size=n)


@pytest.mark.parametrize("fast", [False, True])
def test_solves_to_a_small_residual(fast):
    a, rhs = matrix()
    solver = Solver(a.indptr, a.indices, fast=fast)
    solver.refactor(a.data)
    assert np.abs(a @ solver.solve(rhs) - rhs).max() < 1e-10
    solver.refactor(2 * a.data)
    assert np.abs(2 * (a @ solver.solve(rhs)) - rhs).max() < 1e-10
    assert solver.fallbacks == 0


@pytest.mark.parametrize("fast", [False, True])
def test_an_indefinite_matrix_is_solved_all_the_same(fast):
    a = sparse.csc_matrix(np.array([[1e-20, 1.0, 0], [1.0, 1e-20, 0], [0, 0, 1.0]]))
    solver = Solver(a.indptr, a.indices, fast=fast)
    solver.refactor(a.data)
    assert np.allclose(solver.solve(np.array([1.0, 2.0, 3.0])), [2.0, 1.0, 3.0])
    assert solver.fallbacks == (1 if fast else 0)


def test_the_library_is_settled_by_what_is_installed_or_by_hand(monkeypatch):
    a, _ = matrix(20)

    def fast():
        return Solver(a.indptr, a.indices).fast

    monkeypatch.delenv("TRIMLOFT_SOLVER", raising=False)
    assert fast()
    monkeypatch.setenv("TRIMLOFT_SOLVER", "scipy")
    assert not fast()
    monkeypatch.setenv("TRIMLOFT_SOLVER", "cholmod")
    assert fast()
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    with pytest.raises(ImportError, match="kvxopt"):
        fast()
    monkeypatch.setenv("TRIMLOFT_SOLVER", "")
    assert not fast()
    monkeypatch.setenv("TRIMLOFT_SOLVER", "other")
    with pytest.raises(ValueError, match="other"):
        fast()


def test_a_bad_factor_is_found_out_by_its_residual():
    a, rhs = matrix()
    solver = Solver(a.indptr, a.indices, fast=False)
    solver.refactor(a.data)
    solver._step = lambda b: 0.1 * b
    assert np.abs(a @ solver.solve(rhs) - rhs).max() < 1e-10
    assert solver.fallbacks == 1


def test_a_single_matrix_is_held_to_the_same_residual():
    a, rhs = matrix()
    factor = Factor(a)
    assert np.abs(a @ factor.solve(rhs) - rhs).max() < 1e-10
    factor._step = lambda b: 0.1 * b
    assert np.abs(a @ factor.solve(rhs) - rhs).max() < 1e-10
    assert factor.fallbacks == 1


def test_a_factor_tells_definite_matrices_from_others():
    a, _ = matrix()
    lowest = np.linalg.eigvalsh(a.toarray())[0]
    shift = sparse.eye(a.shape[0], format="csc")
    assert Factor(a - 0.9 * lowest * shift).definite
    assert not Factor(a - 1.1 * lowest * shift).definite


@pytest.mark.parametrize("entries", [np.ones((3, 3)), np.zeros((3, 3))])
def test_a_single_singular_matrix_is_the_same_error(entries):
    with pytest.raises(SingularError):
        Factor(sparse.csc_matrix(entries)).solve(np.array([1.0, 0.0, 0.0]))


def test_a_singular_matrix_is_an_error():
    def attempt():
        a = sparse.csc_matrix(np.ones((3, 3)))
        solver = Solver(a.indptr, a.indices, fast=False)
        solver.refactor(a.data)
        return solver.solve(np.array([1.0, 0.0, 0.0]))

    with pytest.raises(SingularError):
        attempt()


def test_the_order_thins_the_factors():
    vertices, triangles = disc(30)
    n = int(triangles.max()) + 1
    order = dissected(vertices, triangles)
    assert np.array_equal(np.sort(order), np.arange(n))
    rank = np.argsort(order)

    def fill(t):
        rows, cols = t[:, [0, 1, 2]].ravel(), t[:, [1, 2, 0]].ravel()
        links = sparse.coo_matrix((np.ones(len(rows)), (rows, cols)), shape=(n, n)).tocsr()
        laplace = sparse.csgraph.laplacian(links + links.T) + sparse.eye(n)
        lu = sparse.linalg.splu(
            sparse.csc_matrix(laplace), permc_spec="NATURAL", diag_pivot_thresh=0.0, options={"SymmetricMode": True}
        )
        return lu.L.nnz

    assert fill(rank[triangles]) < 0.4 * fill(triangles)
