"""Triangle meshes as files: PLY (ascii and binary), OBJ and STL read to the letter, PLY written.

Vertices and triangles come out in the order of the file, nothing is merged, split or triangulated: a flat piece must
answer to the mesh it was made from. Formats: Turk, The PLY polygon file format, 1994; Wavefront's Advanced Visualizer
object files (from memory); 3D Systems' StereoLithography interface specification (from memory).
"""

import struct
from pathlib import Path

import numpy as np

from meshes.base.arrays import FloatArray, IntArray

_PLY_TYPES = {
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


class MeshFileError(ValueError):
    """The file is no mesh of its kind. The text says where it stops making sense."""


class PolygonError(MeshFileError):
    """A face with other than three corners."""


def load(path: Path) -> tuple[FloatArray, IntArray]:
    """Vertices (n, 3) and triangles (m, 3) of a .ply, .obj or .stl file. Raises MeshFileError, OSError."""
    data = path.read_bytes()
    return {".ply": _ply, ".obj": _obj, ".stl": _stl}[path.suffix.lower()](data)


def _corners(numbers: list[int] | IntArray, count: int, face: int) -> list[int] | IntArray:
    if count != 3:
        raise PolygonError(f"face {face} has {count} corners")
    return numbers


def _ply(data: bytes) -> tuple[FloatArray, IntArray]:
    head, mark, body = data.partition(b"end_header")
    lines = [line.split() for line in head.decode("latin-1").splitlines()]
    if not mark or not lines or lines[0] != ["ply"]:
        raise MeshFileError("it does not begin like a PLY file")
    body = body[body.find(b"\n") + 1 :]
    order: str | None = None
    elements: list[tuple[str, int, list[list[str]]]] = []
    for words in lines[1:]:
        if words[:1] == ["format"] and len(words) == 3:
            order = _FORMATS.get(words[1])
        elif words[:1] == ["element"] and len(words) == 3:
            elements.append((words[1], int(words[2]), []))
        elif words[:1] == ["property"] and elements:
            elements[-1][2].append(words[1:])
    if order is None:
        raise MeshFileError("its format is none of ascii, binary_little_endian, binary_big_endian")
    return _PlyBody(body, order).read(elements)


class _PlyBody:
    """What follows the header, read element by element."""

    def __init__(self, body: bytes, order: str) -> None:
        self.order, self.body, self.place = order, body, 0
        self.words = body.split() if not order else []

    def read(self, elements: list[tuple[str, int, list[list[str]]]]) -> tuple[FloatArray, IntArray]:
        vertices, triangles = np.empty((0, 3)), np.empty((0, 3), dtype=np.int64)
        for name, count, properties in elements:
            lists = [p for p in properties if p[0] == "list"]
            if name == "vertex" and not lists:
                vertices = self._vertices(count, properties)
            elif name == "face":
                triangles = self._faces(count, properties)
            else:
                for _ in range(count):
                    self._row(properties)
        return vertices, triangles

    def _vertices(self, count: int, properties: list[list[str]]) -> FloatArray:
        names = [p[-1] for p in properties]
        if not {"x", "y", "z"} <= set(names):
            raise MeshFileError("its vertices have no x, y and z")
        if not self.order:
            words = self._take_words(count * len(names))
            table = np.array(words, dtype=np.float64).reshape(count, len(names))
            return table[:, [names.index(axis) for axis in "xyz"]]
        kind = np.dtype([(str(k), self.order + _PLY_TYPES[p[0]]) for k, p in enumerate(properties)])
        packed = np.frombuffer(self._take(count * kind.itemsize), dtype=kind)
        return np.stack([packed[str(names.index(axis))].astype(np.float64) for axis in "xyz"], axis=1)

    def _faces(self, count: int, properties: list[list[str]]) -> IntArray:
        which = [k for k, p in enumerate(properties) if p[0] == "list" and p[-1] in ("vertex_indices", "vertex_index")]
        if not which:
            raise MeshFileError("its faces name no vertices")
        if self.order and len(properties) == 1:
            return self._even_faces(count, properties[0])
        rows = []
        for face in range(count):
            numbers = self._row(properties)[which[0]]
            rows.append(_corners([int(x) for x in numbers], len(numbers), face))
        return np.array(rows, dtype=np.int64).reshape(-1, 3)

    def _even_faces(self, count: int, words: list[str]) -> IntArray:
        """All faces at once, as triangles; the counts are checked."""
        kind = np.dtype([("n", self.order + _PLY_TYPES[words[1]]), ("v", self.order + _PLY_TYPES[words[2]], (3,))])
        whole = len(self.body) - self.place
        table = np.frombuffer(self.body, dtype=kind, count=min(count, whole // kind.itemsize), offset=self.place)
        odd = np.flatnonzero(table["n"] != 3)
        if len(odd):
            raise PolygonError(f"face {odd[0]} has {table['n'][odd[0]]} corners")
        self._take(count * kind.itemsize)
        return table["v"].astype(np.int64)

    def _row(self, properties: list[list[str]]) -> list[list[float]]:
        """One element's values, a list for each property."""
        row = []
        for words in properties:
            if words[0] == "list":
                length = int(self._values(words[1], 1)[0])
                row.append(self._values(words[2], length))
            else:
                row.append(self._values(words[0], 1))
        return row

    def _values(self, kind: str, count: int) -> list[float]:
        if not self.order:
            return [float(word) for word in self._take_words(count)]
        code = np.dtype(self.order + _PLY_TYPES[kind])
        return np.frombuffer(self._take(max(count, 0) * code.itemsize), dtype=code).tolist()

    def _take(self, size: int) -> bytes:
        part = self.body[self.place : self.place + size]
        if len(part) < size:
            raise MeshFileError("it ends before all its vertices and faces are there")
        self.place += size
        return part

    def _take_words(self, count: int) -> list[bytes]:
        part = self.words[self.place : self.place + count]
        if len(part) < count:
            raise MeshFileError("it ends before all its vertices and faces are there")
        self.place += count
        return part


def _obj(data: bytes) -> tuple[FloatArray, IntArray]:
    vertices: list[list[float]] = []
    triangles: list[list[int]] = []
    for line, text in enumerate(data.decode("latin-1").replace("\\\n", " ").splitlines(), 1):
        words = text.split("#")[0].split()
        if words[:1] == ["v"]:
            if len(words) < 4:
                raise MeshFileError(f"line {line}: a vertex needs x, y and z")
            vertices.append([float(word) for word in words[1:4]])
        elif words[:1] == ["f"]:
            numbers = [int(word.split("/")[0]) for word in words[1:]]
            # Numbers count from 1, or backwards from the latest vertex.
            numbers = [k - 1 if k > 0 else len(vertices) + k if k < 0 else -1 for k in numbers]
            triangles.append(list(_corners(numbers, len(numbers), len(triangles))))
    return np.array(vertices, dtype=np.float64).reshape(-1, 3), np.array(triangles, dtype=np.int64).reshape(-1, 3)


def _stl(data: bytes) -> tuple[FloatArray, IntArray]:
    """Three vertices of its own to every triangle."""
    count = struct.unpack_from("<I", data, 80)[0] if len(data) >= 84 else -1
    if len(data) == 84 + 50 * count:
        kind = np.dtype([("normal", "<f4", (3,)), ("corner", "<f4", (3, 3)), ("extra", "<u2")])
        vertices = np.frombuffer(data, dtype=kind, offset=84)["corner"].astype(np.float64).reshape(-1, 3)
    elif data.lstrip()[:5] == b"solid":
        words = [line.split() for line in data.splitlines()]
        rows = [row[1:4] for row in words if row[:1] == [b"vertex"]]
        vertices = np.array([[float(x) for x in row] for row in rows], dtype=np.float64).reshape(-1, 3)
        if len(vertices) % 3 or not data.rstrip().splitlines()[-1].lstrip().startswith(b"endsolid"):
            raise MeshFileError("it ends in the middle of a facet")
    else:
        raise MeshFileError("its length is not that of the triangles it announces")
    return vertices, np.arange(len(vertices), dtype=np.int64).reshape(-1, 3)


def ply_bytes(vertices: FloatArray, triangles: IntArray) -> bytes:
    """A binary PLY file: vertices (n, 3) as doubles, so that no digit is lost, and triangles (m, 3)."""
    head = (
        "ply\nformat binary_little_endian 1.0\ncomment lengths in mm\n"
        f"element vertex {len(vertices)}\nproperty double x\nproperty double y\nproperty double z\n"
        f"element face {len(triangles)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    faces = np.empty(len(triangles), dtype=[("n", "u1"), ("v", "<i4", (3,))])
    faces["n"], faces["v"] = 3, triangles
    return head.encode() + np.ascontiguousarray(vertices, dtype="<f8").tobytes() + faces.tobytes()
