"""The sparse symmetric solver, chosen in this one place.

Default: SciPy's SuperLU in its symmetric mode, on an order that keeps the factors thin (minimum degree, found once for
a pattern). With the extra `fast`, CHOLMOD through kvxopt. Every solve is checked by its residual, refined when that
is too large, and done again with full pivoting when refining does not help; `fallbacks` counts those.
"""

import importlib
import importlib.util
from typing import Any, Literal

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import SuperLU, splu

from meshes.arrays import FloatArray, IntArray

# A residual within this share of the right-hand side is left as it is.
_GOOD = 1e-11
# One within this share is refined, a larger one is solved again.
_USABLE = 1e-7


class SingularError(ArithmeticError):
    """The matrix has no usable factor."""


def fill_order(triangles: IntArray, n: int) -> IntArray:
    """An order of the n vertices in which factors of matrices on the mesh's edges stay thin (minimum degree)."""
    rows = np.concatenate([triangles[:, k] for k in (0, 1, 2, 1, 2, 0)])
    cols = np.concatenate([triangles[:, k] for k in (1, 2, 0, 0, 1, 2)])
    links = sparse.coo_matrix((np.full(len(rows), -1.0), (rows, cols)), shape=(n, n)).tocsc()
    heavy = 1.0 - np.asarray(links.sum(axis=0)).ravel()
    return np.argsort(_superlu(links + sparse.diags_array(heavy), "MMD_AT_PLUS_A").perm_c).astype(np.int64)


def _superlu(matrix: sparse.csc_matrix, order: Literal["NATURAL", "MMD_AT_PLUS_A"]) -> SuperLU:
    return splu(sparse.csc_matrix(matrix), permc_spec=order, diag_pivot_thresh=0.0, options={"SymmetricMode": True})


class Solver:
    """Solves with symmetric matrices of one sparsity pattern, whose rows are already in a good order.

    indptr, indices: the pattern by columns, both triangles. Call `refactor` with the values, then `solve`.
    """

    def __init__(self, indptr: IntArray, indices: IntArray, *, fast: bool | None = None) -> None:
        self.shape = (len(indptr) - 1, len(indptr) - 1)
        self._indptr, self._indices = indptr.astype(np.int32), indices.astype(np.int32)
        self.fallbacks = 0
        self.fast = importlib.util.find_spec("kvxopt") is not None if fast is None else fast
        self._cholmod: _Cholmod | None = _Cholmod(indptr, indices) if self.fast else None

    def refactor(self, values: FloatArray) -> None:
        """Factor the matrix with these values, in the order of `indices`. Raises SingularError."""
        self.matrix = sparse.csc_matrix((values, self._indices, self._indptr), shape=self.shape)
        if self._cholmod is not None:
            if self._cholmod.refactor(values):
                self._step = self._cholmod.solve
                return
            self.fallbacks += 1
        try:
            self._step = _superlu(self.matrix, "NATURAL").solve
        except RuntimeError:
            self._pivoted()

    def solve(self, rhs: FloatArray) -> FloatArray:
        """The solution for rhs (n,) or (n, k). Raises SingularError when no way of solving leaves a small residual."""
        x = self._refined(rhs)
        if self._residual(x, rhs) > _USABLE:
            self._pivoted()
            x = self._refined(rhs)
            if self._residual(x, rhs) > _USABLE:
                raise SingularError("the residual stays large after full pivoting")
        return x

    def precondition(self, rhs: FloatArray) -> FloatArray:
        """One plain solve without a check, for use inside an iteration that checks for itself."""
        return self._step(rhs)

    def _refined(self, rhs: FloatArray) -> FloatArray:
        x = self._step(rhs)
        if self._residual(x, rhs) > _GOOD:
            x = x + self._step(rhs - self.matrix @ x)
        return x

    def _residual(self, x: FloatArray, rhs: FloatArray) -> float:
        size = float(np.abs(rhs).max(initial=0.0))
        left = float(np.abs(rhs - self.matrix @ x).max(initial=0.0))
        return left / size if size > 0 else left

    def _pivoted(self) -> None:
        self.fallbacks += 1
        try:
            self._step = splu(self.matrix, permc_spec="COLAMD").solve
        except RuntimeError as fault:
            raise SingularError(str(fault)) from fault


class _Cholmod:
    """CHOLMOD by way of kvxopt: the lower triangle, analysed once."""

    def __init__(self, indptr: IntArray, indices: IntArray) -> None:
        tools: Any = importlib.import_module("kvxopt")
        self._cholmod: Any = importlib.import_module("kvxopt.cholmod")
        self._matrix, self._spmatrix = tools.matrix, tools.spmatrix
        cols = np.repeat(np.arange(len(indptr) - 1, dtype=np.int64), np.diff(indptr))
        self._lower = np.flatnonzero(indices >= cols)
        self._rows, self._cols = indices[self._lower].tolist(), cols[self._lower].tolist()
        self._size = (len(indptr) - 1, len(indptr) - 1)
        self._symbolic: Any = None

    def refactor(self, values: FloatArray) -> bool:
        """False when the matrix is not positive definite."""
        lower = self._spmatrix(self._matrix(values[self._lower]), self._rows, self._cols, self._size)
        if self._symbolic is None:
            self._symbolic = self._cholmod.symbolic(lower)
        try:
            self._cholmod.numeric(lower, self._symbolic)
            # A factor that broke off is only complained of when it is used.
            self.solve(np.ones(self._size[0]))
        except ArithmeticError:
            return False
        return True

    def solve(self, rhs: FloatArray) -> FloatArray:
        x = self._matrix(np.asfortranarray(rhs))
        self._cholmod.solve(self._symbolic, x)
        return np.array(x).reshape(rhs.shape, order="F")
