"""The sparse symmetric solver, chosen in this one place; nothing else factors a sparse matrix.

`Solver` is for many matrices of one pattern, `Factor` for a single one. Solver's default: CHOLMOD through kvxopt where
the extra `fast` is installed, else SciPy's SuperLU in its symmetric mode; the environment variable TRIMLOFT_SOLVER,
`cholmod` or `scipy`, settles it by hand. Both take the rows in the order given (`meshes.numerics.dissection`). Every
solve is checked by its residual, refined when that is too large, and done again with full pivoting when refining does
not help; `fallbacks` counts those.
"""

import importlib
import importlib.util
import os
from collections.abc import Callable
from typing import Any, Literal

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import SuperLU, splu

from meshes.base.arrays import FloatArray, IntArray

# A residual within this share of the right-hand side is left as it is.
_GOOD = 1e-11
# One within this share is refined, a larger one is solved again.
_USABLE = 1e-7


class SingularError(ArithmeticError):
    """The matrix has no usable factor."""


def _superlu(matrix: sparse.csc_matrix, order: Literal["NATURAL", "MMD_AT_PLUS_A"]) -> SuperLU:
    return splu(sparse.csc_matrix(matrix), permc_spec=order, diag_pivot_thresh=0.0, options={"SymmetricMode": True})


def _cholmod_wanted() -> bool:
    """Whether to use CHOLMOD. Raises ImportError when it is asked for and not installed."""
    asked = os.environ.get("TRIMLOFT_SOLVER", "")
    installed = importlib.util.find_spec("kvxopt") is not None
    if asked not in ("", "cholmod", "scipy"):
        raise ValueError(f"TRIMLOFT_SOLVER is cholmod or scipy, found {asked!r}")
    if asked == "cholmod" and not installed:
        raise ImportError("TRIMLOFT_SOLVER asks for cholmod, which needs the extra `fast` (kvxopt)")
    return installed and asked != "scipy"


class IndefiniteError(ArithmeticError):
    """A matrix said to be positive definite is not."""


class _Checked:
    """A factored matrix whose solves are checked. matrix (n, n); fallbacks: how many systems full pivoting solved."""

    matrix: sparse.csc_matrix
    fallbacks: int
    _step: Callable[[FloatArray], FloatArray]

    def solve(self, rhs: FloatArray, *, good: float = _GOOD) -> FloatArray:
        """The solution for rhs (n,) or (n, k), its residual within `good` of the right-hand side or as near as a
        second solve brings it. Raises SingularError when no way of solving leaves a small residual."""
        x = self._refined(rhs, good)
        if not self._residual(x, rhs) <= max(_USABLE, good):
            self._pivoted()
            x = self._refined(rhs, good)
            if not self._residual(x, rhs) <= max(_USABLE, good):
                raise SingularError("the residual stays large after full pivoting")
        return x

    def precondition(self, rhs: FloatArray) -> FloatArray:
        """One plain solve without a check, for use inside an iteration that checks for itself."""
        return self._step(rhs)

    def _refined(self, rhs: FloatArray, good: float) -> FloatArray:
        x = self.precondition(rhs)
        if self._residual(x, rhs) > good:
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


class Factor(_Checked):
    """One symmetric matrix (n, n), sparse in any pattern, factored in an order of its own (minimum degree).

    Raises SingularError when it has no usable factor.
    """

    def __init__(self, matrix: sparse.sparray | sparse.spmatrix) -> None:
        self.matrix, self.fallbacks = sparse.csc_matrix(matrix), 0
        self._factor: SuperLU | None = None
        try:
            self._factor = _superlu(self.matrix, "MMD_AT_PLUS_A")
            self._step = self._factor.solve
        except RuntimeError:
            self._pivoted()

    @property
    def definite(self) -> bool:
        """Whether the matrix is positive definite: eliminated along its diagonal, all pivots are positive."""
        return self._factor is not None and bool((self._factor.U.diagonal() > 0).all())


class Solver(_Checked):
    """Solves with symmetric matrices of one sparsity pattern, whose rows are already in a good order.

    indptr, indices: the pattern by columns, both triangles, rows rising in each. Call `refactor` with the values, then
    `solve`.
    """

    def __init__(self, indptr: IntArray, indices: IntArray, *, fast: bool | None = None) -> None:
        self.shape = (len(indptr) - 1, len(indptr) - 1)
        self._indptr, self._indices = indptr.astype(np.int32), indices.astype(np.int32)
        self.fallbacks = 0
        self.fast = _cholmod_wanted() if fast is None else fast
        self._cholmod: _Cholmod | None = _Cholmod(indptr, indices) if self.fast else None
        self.matrix, self._definite = self.matrix_of(np.zeros(len(indices))), False

    def matrix_of(self, values: FloatArray) -> sparse.csc_matrix:
        """The matrix with these values, in the order of `indices`; the pattern is shared, not copied."""
        return sparse.csc_matrix((values, self._indices, self._indptr), shape=self.shape, copy=False)

    def refactor(self, values: FloatArray, *, definite: bool = False) -> None:
        """Factor the matrix with these values, in the order of `indices`. Raises SingularError.

        definite: a solve need not look for another way when CHOLMOD finds the matrix not positive definite, but raise
        IndefiniteError.
        """
        self.matrix, self._definite = self.matrix_of(values), definite
        if self._cholmod is not None:
            self._cholmod.refactor(values)
            self._step = self._cholmod.solve
            return
        try:
            self._step = _superlu(self.matrix, "NATURAL").solve
        except RuntimeError:
            self._pivoted()

    def precondition(self, rhs: FloatArray) -> FloatArray:
        """One plain solve without a check, for use inside an iteration that checks for itself."""
        try:
            return self._step(rhs)
        except ArithmeticError as fault:
            # CHOLMOD complains of a factor that broke off, as the matrix is not positive definite, when it is used.
            if self._definite:
                raise IndefiniteError(str(fault)) from fault
            self.fallbacks += 1
        try:
            self._step = _superlu(self.matrix, "NATURAL").solve
        except RuntimeError:
            self._pivoted()
        return self._step(rhs)


class _Cholmod:
    """CHOLMOD by way of kvxopt: the lower triangle, analysed once in the order given."""

    def __init__(self, indptr: IntArray, indices: IntArray) -> None:
        tools: Any = importlib.import_module("kvxopt")
        self._cholmod: Any = importlib.import_module("kvxopt.cholmod")
        self._array, n = tools.matrix, len(indptr) - 1
        columns = np.repeat(np.arange(n, dtype=np.int64), np.diff(indptr))
        self._lower = np.flatnonzero(indices >= columns)
        rows = np.asarray(indices[self._lower], dtype=np.int64)
        self._matrix: Any = tools.spmatrix(1.0, tools.matrix(rows), tools.matrix(columns[self._lower]), (n, n))
        self._symbolic: Any = self._cholmod.symbolic(self._matrix, tools.matrix(np.arange(n, dtype=np.int64)))

    def refactor(self, values: FloatArray) -> None:
        """Factor; when the matrix is not positive definite only `solve` finds out."""
        self._matrix.V = self._array(values[self._lower])
        try:
            self._cholmod.numeric(self._matrix, self._symbolic)
        except ArithmeticError:
            return

    def solve(self, rhs: FloatArray) -> FloatArray:
        """Raises ArithmeticError when the factor broke off."""
        x = self._array(np.asfortranarray(rhs))
        self._cholmod.solve(self._symbolic, x)
        return np.array(x).reshape(rhs.shape, order="F")
