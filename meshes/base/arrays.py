"""Typed numpy arrays that cannot be changed after they are handed on.

Stages pass plain arrays to each other. An array inside a frozen record is locked, so that no later stage can
change what an earlier one stated.
"""

from typing import Any

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]


def locked_floats(values: npt.ArrayLike) -> FloatArray:
    """A C-ordered float64 copy of `values` that refuses to be written to."""
    return _lock(np.array(values, dtype=np.float64, order="C"))


def locked_ints(values: npt.ArrayLike) -> IntArray:
    """A C-ordered int64 copy of `values` that refuses to be written to."""
    return _lock(np.array(values, dtype=np.int64, order="C"))


def _lock(array: npt.NDArray[Any]) -> npt.NDArray[Any]:
    array.setflags(write=False)
    return array
