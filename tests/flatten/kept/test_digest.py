"""Digests of records: equal for equal content, different for different content, refused where that cannot be told."""

import pickle
from dataclasses import dataclass
from enum import Enum
from functools import partial
from pathlib import PurePosixPath

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Polygon, box

from flatten.kept.digest import UndigestedError, digest
from meshes.base.frozen_map import FrozenMap


class Side(Enum):
    FRONT = "front"
    REAR = "rear"


@dataclass(frozen=True)
class Row:
    name: str
    values: tuple[float, ...] = ()


@dataclass(frozen=True)
class OtherRow:
    name: str
    values: tuple[float, ...] = ()


def work(task):
    return task


class Loose:
    pass


LEAVES = st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text() | st.binary()
VALUES = st.recursive(
    LEAVES,
    lambda inner: (
        st.lists(inner, max_size=3).map(tuple)
        | st.lists(inner, max_size=3)
        | st.dictionaries(st.text(max_size=3), inner, max_size=3)
    ),
    max_leaves=8,
)


def told(value):
    """A value as text that keeps kinds apart, and the sign of zero."""
    return repr(value)


@given(VALUES, VALUES)
def test_what_differs_has_another_digest_and_what_is_equal_the_same(one, two):
    assert (digest(one) == digest(two)) == (told(one) == told(two))
    assert digest(pickle.loads(pickle.dumps(one))) == digest(one)


@pytest.mark.parametrize(
    ("one", "two"),
    [
        (Row("a"), OtherRow("a")),
        (Row("a", (1.0,)), Row("a", (1.0, 0.0))),
        (Row("ab"), Row("a")),
        (("ab", "c"), ("a", "bc")),
        (1, 1.0),
        (True, 1),
        (0.0, -0.0),
        ("1", 1),
        ((), []),
        (Side.FRONT, Side.REAR),
        (Side.FRONT, "front"),
        (np.zeros(2), np.zeros(3)),
        (np.zeros((2, 3)), np.zeros((3, 2))),
        (np.zeros(2), np.zeros(2, dtype=np.float32)),
        (np.zeros((2, 3)), np.zeros((2, 3), order="F")),
        (np.array([0.0]), np.array([-0.0])),
        (work, told),
        (partial(work, 1), partial(work, 2)),
        ({"a": 1, "b": 2}, {"b": 2, "a": 1}),
        (PurePosixPath("a"), "a"),
        ({1}, {2}),
        (box(0, 0, 1, 1), box(0, 0, 1, 1 + 1e-15)),
        (box(0, 0, 1, 1), LineString(box(0, 0, 1, 1).exterior.coords)),
    ],
)
def test_kinds_shapes_and_orders_count(one, two):
    assert digest(one) != digest(two)
    assert digest(one) == digest(one)


def test_content_alone_counts():
    base = np.arange(12.0)
    assert digest(base[::2]) == digest(base[::2].copy())
    assert digest(FrozenMap({"a": 1.0})) == digest({"a": 1.0})
    assert digest({1, 2, 3}) == digest({3, 2, 1})
    assert digest(box(0, 0, 1, 1)) == digest(Polygon(box(0, 0, 1, 1).exterior.coords))
    assert digest(Row("a", (1.0, 2.0))) == digest(Row("a", tuple(float(x) for x in range(1, 3))))


@pytest.mark.parametrize("value", [Loose(), lambda x: x, np.array([None]), iter(())])
def test_what_may_hold_more_than_is_seen_is_refused(value):
    with pytest.raises(UndigestedError):
        digest(value)
