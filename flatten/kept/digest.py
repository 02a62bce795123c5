"""The digest of a record: the same for equal content, wherever and whenever it was made.

Every value is told by its kind and its content, every run of values by its length, so that no two records that differ
run into the same bytes.
"""

import hashlib
import struct
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from functools import partial
from pathlib import PurePath
from typing import Any

import numpy as np
import shapely
from scipy import sparse
from shapely.geometry.base import BaseGeometry


class UndigestedError(TypeError):
    """A value of a kind whose content is not known to be all that counts."""


def digest(*values: object) -> str:
    """64 hexadecimal digits of the SHA-256 of some values.

    Known are plain values, numpy arrays, compressed sparse ones, plane geometries, enums, paths, tuples, lists,
    mappings in their order, sets, frozen dataclasses, functions and classes by name, and partial functions of these.
    Raises UndigestedError for anything else.
    """
    found = hashlib.sha256()
    _take(values, found.update)
    return found.hexdigest()


def _take(value: Any, put: Callable[[bytes], object]) -> None:
    """Hand on the bytes of one value."""
    if value is None or (isinstance(value, bool | int | str | bytes | float | complex) and not isinstance(value, Enum)):
        _plain(value, put)
    elif isinstance(value, np.ndarray):
        _array(value, put)
    elif isinstance(value, np.generic):
        _array(np.asarray(value), put)
    elif isinstance(value, Enum):
        _said("enum", f"{_name(type(value))}.{value.name}", put)
    elif isinstance(value, PurePath):
        _said("path", str(value), put)
    elif isinstance(value, tuple | list):
        _run("tuple" if isinstance(value, tuple) else "list", list(value), put)
    elif isinstance(value, Mapping):
        _run("mapping", [part for item in value.items() for part in item], put)
    elif isinstance(value, frozenset | set):
        _run("set", sorted(digest(part) for part in value), put)
    elif isinstance(value, sparse.csr_array | sparse.csr_matrix | sparse.csc_array | sparse.csc_matrix):
        _run(_name(type(value)), [value.shape, value.indptr, value.indices, value.data], put)
    elif isinstance(value, BaseGeometry):
        _run(_name(type(value)), [shapely.to_wkb(value)], put)
    elif isinstance(value, partial):
        _run("partial", [value.func, value.args, value.keywords], put)
    elif is_dataclass(value) and not isinstance(value, type):
        _said("record", _name(type(value)), put)
        _run("fields", [part for f in fields(value) for part in (f.name, getattr(value, f.name))], put)
    elif callable(value) and hasattr(value, "__qualname__"):
        name = _name(value)
        if "<" in name:
            raise UndigestedError(f"{name} holds what its name does not tell")
        _said("named", name, put)
    else:
        raise UndigestedError(f"a {_name(type(value))} has no digest")


def _plain(value: Any, put: Callable[[bytes], object]) -> None:
    if isinstance(value, bytes):
        put(b"bytes" + struct.pack(">Q", len(value)) + value)
    elif isinstance(value, float):
        # The very number, with the sign of zero.
        put(b"float" + struct.pack(">d", value))
    else:
        _said(type(value).__name__, repr(value), put)


def _array(value: Any, put: Callable[[bytes], object]) -> None:
    if value.dtype.hasobject:
        raise UndigestedError("an array of objects has no digest")
    # How an array lies in memory decides the order of sums over it.
    order = "F" if value.flags.f_contiguous and not value.flags.c_contiguous else "C"
    _said("array", f"{value.dtype.str}{value.shape}{order}", put)
    put(value.tobytes())


def _said(kind: str, text: str, put: Callable[[bytes], object]) -> None:
    data = text.encode("utf-8", "surrogatepass")
    put(f"{kind}:{len(data)}:".encode() + data)


def _run(kind: str, parts: list[Any], put: Callable[[bytes], object]) -> None:
    put(f"{kind}:{len(parts)}:".encode())
    for part in parts:
        _take(part, put)


def _name(value: Any) -> str:
    return f"{value.__module__}.{value.__qualname__}"
