"""Triangle meshes as files: PLY (ascii and binary), OBJ and STL read to the letter, PLY written.

Vertices and triangles come out in the order of the file, nothing is merged, split or triangulated: a flat piece must
answer to the mesh it was made from. Formats: Wavefront's Advanced Visualizer object files (from memory); 3D Systems'
StereoLithography interface specification (from memory); for PLY see `ply_file`.
"""

import io
import struct
from array import array
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from meshes.base.arrays import FloatArray, IntArray
from meshes.base.reading import read_whole
from meshes.intake.mesh_limits import (
    LARGEST_FILE_BYTES,
    EmptyFileError,
    MeshFileError,
    PolygonError,
    TooManyError,
    check_count,
)
from meshes.intake.ply_file import read_ply

__all__ = ["EmptyFileError", "MeshFileError", "PolygonError", "TooManyError", "load", "ply_bytes"]


def load(path: Path) -> tuple[FloatArray, IntArray]:
    """Vertices (n, 3) and triangles (m, 3) of a .ply, .obj or .stl file.

    Raises UnreadableError, MeshFileError, and ValueError or OverflowError for what is no number.
    """
    data = read_whole(path, most_bytes=LARGEST_FILE_BYTES)
    if not data:
        raise EmptyFileError("it is empty")
    return {".ply": read_ply, ".obj": _obj, ".stl": _stl}[path.suffix.lower()](data)


def _lines(data: bytes) -> Iterator[list[bytes]]:
    """The words of every line, one line at a time; a line that ends in a backslash goes on."""
    # Some old programs end lines by a carriage return alone.
    kept = b""
    for line in io.BytesIO(data if b"\n" in data else data.replace(b"\r", b"\n")):
        text = line.rstrip(b"\r\n")
        if text.endswith(b"\\") and len(kept) < 1000:
            kept += text[:-1] + b" "
            yield []
        else:
            yield (kept + text).partition(b"#")[0].split()
            kept = b""


def _obj(data: bytes) -> tuple[FloatArray, IntArray]:
    places, corners = array("d"), array("q")
    for line, words in enumerate(_lines(data), 1):
        if words[:1] == [b"v"]:
            if len(words) < 4:
                raise MeshFileError(f"line {line}: a vertex needs x, y and z")
            places.extend(float(word) for word in words[1:4])
            check_count("vertex", len(places) // 3)
        elif words[:1] == [b"f"]:
            if len(words) != 4:
                raise PolygonError(f"face {len(corners) // 3} has {len(words) - 1} corners")
            # Numbers count from 1, or backwards from the latest vertex.
            numbers = [int(word.partition(b"/")[0]) for word in words[1:]]
            corners.extend(k - 1 if k > 0 else len(places) // 3 + k if k < 0 else -1 for k in numbers)
            check_count("face", len(corners) // 3)
    return _rows(places), np.array(corners, dtype=np.int64).reshape(-1, 3)


def _rows(places: "array[float]") -> FloatArray:
    return np.array(places, dtype=np.float64).reshape(-1, 3)


def _stl(data: bytes) -> tuple[FloatArray, IntArray]:
    """Three vertices of its own to every triangle."""
    count = struct.unpack_from("<I", data, 80)[0] if len(data) >= 84 else -1
    if len(data) == 84 + 50 * count:
        check_count("face", count)
        kind = np.dtype([("normal", "<f4", (3,)), ("corner", "<f4", (3, 3)), ("extra", "<u2")])
        vertices = np.frombuffer(data, dtype=kind, offset=84)["corner"].astype(np.float64).reshape(-1, 3)
    elif data[:1000].lstrip()[:5] == b"solid":
        vertices = _facets(data)
    else:
        raise MeshFileError("its length is not that of the triangles it announces")
    return vertices, np.arange(len(vertices), dtype=np.int64).reshape(-1, 3)


def _facets(data: bytes) -> FloatArray:
    places, last = array("d"), [b""]
    for line, words in enumerate(_lines(data), 1):
        if words[:1] == [b"vertex"]:
            if len(words) < 4:
                raise MeshFileError(f"line {line}: a vertex needs x, y and z")
            places.extend(float(word) for word in words[1:4])
            check_count("face", len(places) // 9)
        last = words or last
    if len(places) % 9 or not last[0].startswith(b"endsolid"):
        raise MeshFileError("it ends in the middle of a facet")
    return _rows(places)


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
