"""PLY files read to the letter: ascii and binary, whatever other elements and properties they carry.

What the header promises is held against what follows it before anything is read, so that no promise costs more time
or memory than its file. Format: Turk, The PLY polygon file format, 1994.
"""

import re
from abc import ABC, abstractmethod
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Any

import numpy as np

from meshes.base.arrays import FloatArray, IntArray
from meshes.intake.mesh_limits import MeshFileError, PolygonError, check_count

_TYPES = {
    **dict.fromkeys(("char", "int8"), "i1"),
    **dict.fromkeys(("uchar", "uint8"), "u1"),
    **dict.fromkeys(("short", "int16"), "i2"),
    **dict.fromkeys(("ushort", "uint16"), "u2"),
    **dict.fromkeys(("int", "int32"), "i4"),
    **dict.fromkeys(("uint", "uint32"), "u4"),
    **dict.fromkeys(("float", "float32"), "f4"),
    **dict.fromkeys(("double", "float64"), "f8"),
}
_FORMATS = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
# A header of words a person could read ends sooner.
_LONGEST_HEAD = 1 << 16
_SHORT = "it ends before all its vertices and faces are there"
_WORD = re.compile(rb"\S+")


@dataclass(frozen=True)
class _Element:
    """name; count; properties: the words of each, its type first and its name last."""

    name: str
    count: int
    properties: list[list[str]]

    @property
    def lists(self) -> list[list[str]]:
        return [words for words in self.properties if words[0] == "list"]

    def least_bytes(self, order: str) -> int:
        """What its rows take at the least: every value, or the length of every list; as text a letter and a blank."""
        if not order:
            return 2 * len(self.properties) * self.count
        kinds = [words[1] if words[0] == "list" else words[0] for words in self.properties]
        return sum(_code(kind, order).itemsize for kind in kinds) * self.count


def read_ply(data: bytes) -> tuple[FloatArray, IntArray]:
    """Vertices (n, 3) and triangles (m, 3) in the order of the file. Raises MeshFileError."""
    end = data.find(b"end_header", 0, _LONGEST_HEAD)
    lines = [line.split() for line in data[: max(end, 0)].decode("latin-1").splitlines()]
    if not lines or lines[0] != ["ply"]:
        raise MeshFileError("it does not begin like a PLY file")
    order = next((_FORMATS.get(words[1]) for words in lines if words[:1] == ["format"] and len(words) == 3), None)
    if order is None:
        raise MeshFileError("its format is none of ascii, binary_little_endian, binary_big_endian")
    elements = _elements(lines)
    begin = data.find(b"\n", end) + 1 or len(data)
    # The last letter of a text needs no blank after it.
    if sum(element.least_bytes(order) for element in elements) > len(data) - begin + (not order):
        raise MeshFileError(f"it promises more than it holds; {_SHORT}")
    return _Text(data, begin).read(elements) if not order else _Binary(data, begin, order).read(elements)


def _elements(lines: list[list[str]]) -> list[_Element]:
    elements: list[_Element] = []
    for words in lines:
        if words[:1] == ["element"] and len(words) == 3:
            count = int(words[2])
            if count < 0:
                raise MeshFileError(f"its header has {count} of an element")
            if words[1] in ("vertex", "face"):
                check_count(words[1], count)
            elements.append(_Element(words[1], count, []))
        elif words[:1] == ["property"] and elements:
            if len(words) != (5 if words[1:2] == ["list"] else 3):
                raise MeshFileError("a property in its header has no type or no name")
            elements[-1].properties.append(words[1:])
    return elements


def _code(kind: str, order: str) -> np.dtype[np.generic]:
    if kind not in _TYPES:
        raise MeshFileError("a property in its header is of no type that PLY knows")
    return np.dtype(order + _TYPES[kind])


class _Body(ABC):
    """What follows the header, read element by element."""

    def read(self, elements: list[_Element]) -> tuple[FloatArray, IntArray]:
        vertices, triangles = np.empty((0, 3)), np.empty((0, 3), dtype=np.int64)
        for element in elements:
            if element.name == "vertex" and not element.lists:
                vertices = self._vertices(element)
            elif element.name == "face":
                triangles = self._faces(element)
            elif element.lists:
                for _ in range(element.count):
                    self._row(element.properties)
            elif element.properties:
                self._table(element)
        return vertices, triangles

    @abstractmethod
    def _table(self, element: _Element) -> list[FloatArray]:
        """All values of an element without lists, property by property."""

    @abstractmethod
    def _even(self, words: list[str], count: int) -> tuple[IntArray | FloatArray, IntArray | FloatArray]:
        """Lengths and three values of lists that are hoped to be of three each, as many as there are, up to `count`."""

    @abstractmethod
    def _values(self, kind: str, count: int) -> list[float]:
        """The next `count` values."""

    def _vertices(self, element: _Element) -> FloatArray:
        names = [words[-1] for words in element.properties]
        if not {"x", "y", "z"} <= set(names):
            raise MeshFileError("its vertices have no x, y and z")
        table = self._table(element)
        return np.stack([table[names.index(axis)] for axis in "xyz"], axis=1)

    def _faces(self, element: _Element) -> IntArray:
        properties = element.properties
        which = [k for k, words in enumerate(properties) if words[0] == "list" and words[-1].startswith("vertex_ind")]
        if not which:
            raise MeshFileError("its faces name no vertices")
        if len(properties) == 1:
            lengths, corners = self._even(properties[0], element.count)
            odd = np.flatnonzero(lengths != 3)
            if len(odd):
                raise PolygonError(f"face {odd[0]} has {lengths[odd[0]]:g} corners")
            if len(lengths) < element.count:
                raise MeshFileError(_SHORT)
            return _whole(corners)
        rows = np.empty((element.count, 3))
        for face in range(element.count):
            numbers = self._row(properties)[which[0]]
            if len(numbers) != 3:
                raise PolygonError(f"face {face} has {len(numbers)} corners")
            rows[face] = numbers
        return _whole(rows)

    def _row(self, properties: list[list[str]]) -> list[list[float]]:
        """One element's values, a list for each property."""
        row = []
        for words in properties:
            kind, length = words[0], 1
            if kind == "list":
                kind, length = words[2], int(self._values(words[1], 1)[0])
                if length < 0:
                    raise MeshFileError("a list in it has a length below 0")
            row.append(self._values(kind, length))
        return row


def _whole(numbers: IntArray | FloatArray) -> IntArray:
    """Numbers of vertices (m, 3)."""
    if numbers.dtype.kind == "f" and not (np.abs(numbers) < 2.0**53).all():
        raise MeshFileError("a face names a vertex by what is no number")
    whole = numbers.astype(np.int64)
    if not np.array_equal(whole, numbers):
        raise MeshFileError("a face names a vertex by a number that is not whole")
    return whole


class _Text(_Body):
    """Values as words."""

    def __init__(self, data: bytes, begin: int) -> None:
        self._words: Iterator[float] = (float(word[0]) for word in _WORD.finditer(data, begin))

    def _some(self, count: int) -> FloatArray:
        return np.fromiter(islice(self._words, count), dtype=np.float64)

    def _all(self, count: int) -> FloatArray:
        found = self._some(count)
        if len(found) < count:
            raise MeshFileError(_SHORT)
        return found

    def _table(self, element: _Element) -> list[FloatArray]:
        width = len(element.properties)
        return list(self._all(element.count * width).reshape(element.count, width).T)

    def _even(self, words: list[str], count: int) -> tuple[FloatArray, FloatArray]:
        found = self._some(4 * count)
        table = found[: len(found) // 4 * 4].reshape(-1, 4)
        return table[:, 0], table[:, 1:]

    def _values(self, kind: str, count: int) -> list[float]:
        return self._all(count).tolist()


class _Binary(_Body):
    """Values as bytes."""

    def __init__(self, data: bytes, begin: int, order: str) -> None:
        self._data, self._place, self._order = data, begin, order

    def _take(self, kind: np.dtype[np.generic], count: int) -> np.ndarray[Any, Any]:
        size = count * kind.itemsize
        if size > len(self._data) - self._place:
            raise MeshFileError(_SHORT)
        self._place += size
        return np.frombuffer(self._data, dtype=kind, count=count, offset=self._place - size) if count else np.empty(0)

    def _table(self, element: _Element) -> list[FloatArray]:
        kinds = [(str(k), _code(words[0], self._order)) for k, words in enumerate(element.properties)]
        packed = self._take(np.dtype(kinds), element.count)
        return [packed[name].astype(np.float64) if element.count else np.empty(0) for name, _ in kinds]

    def _even(self, words: list[str], count: int) -> tuple[IntArray | FloatArray, IntArray | FloatArray]:
        length, value = _code(words[1], self._order), _code(words[2], self._order)
        kind = np.dtype([("n", length), ("v", value, (3,))])
        there = min(count, (len(self._data) - self._place) // kind.itemsize)
        table = self._take(kind, there) if there else np.empty(0, dtype=kind)
        return table["n"], table["v"]

    def _values(self, kind: str, count: int) -> list[float]:
        return self._take(_code(kind, self._order), count).tolist()
