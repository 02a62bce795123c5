"""Mesh files that promise more than they hold, or hold more than is taken; and one mesh in every way to write it."""

import os
import struct
import time
import tracemalloc

import numpy as np
import pytest

from meshes.base.problems import ProblemError
from meshes.intake import mesh_limits
from meshes.intake.mesh_file import load, ply_bytes
from meshes.intake.read import read_mesh
from tests import shapes

FORMATS = ["ascii", "binary_little_endian", "binary_big_endian"]


def refused(path, **asked):
    """The codes a file is refused with, which has to go fast and take next to no memory."""
    tracemalloc.start()
    begin = time.process_time()
    with pytest.raises(ProblemError) as caught:
        read_mesh(path, **asked)
    spent, most = time.process_time() - begin, tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert spent < 1.0
    assert most < 20e6
    return [problem.code for problem in caught.value.problems]


@pytest.mark.parametrize("kind", FORMATS)
@pytest.mark.parametrize(
    "elements",
    [
        "element vertex 1000000000000\nproperty float x\nproperty float y\nproperty float z\n",
        "element junk 1000000000000\nproperty uchar a\n",
        "element junk 1000000000000\nproperty list uchar int a\n",
        "element junk 1000000000000\n",
        "element face 1000000000000\nproperty list uchar int vertex_indices\n",
        "element face 1999999\nproperty list uchar int vertex_indices\nproperty uchar a\n",
        "element vertex 1999999\nproperty float x\nproperty float y\nproperty float z\n",
        "element vertex -5\nproperty float x\nproperty float y\nproperty float z\n",
        f"element vertex {'9' * 4000}\nproperty float x\n",
        f"element vertex {'9' * 5000}\nproperty float x\n",
        "element vertex 3\nproperty nonsense x\n",
        "element vertex 3\nproperty\n",
        "element face 1\nproperty list uchar int\n",
    ],
)
def test_what_a_header_promises_is_held_against_the_file(kind, elements, tmp_path):
    path = tmp_path / "a.ply"
    path.write_bytes(f"ply\nformat {kind} 1.0\n{elements}end_header\n".encode() + b"0 1 2 3 4 5 6 7 8 9\n" * 20)
    assert set(refused(path)) <= {"M104", "M105", "M107"}


@pytest.mark.parametrize("kind", FORMATS[1:])
@pytest.mark.parametrize("length", [-1, 2**31 - 1])
def test_a_list_as_long_as_it_likes(kind, length, tmp_path):
    path = tmp_path / "a.ply"
    head = "element junk 1\nproperty list int int a\nelement vertex 1\n" + "\n".join(
        f"property float {c}" for c in "xyz"
    )
    order = "<" if "little" in kind else ">"
    path.write_bytes(f"ply\nformat {kind} 1.0\n{head}\nend_header\n".encode() + struct.pack(order + "i", length) * 9)
    assert refused(path) == ["M105"]


@pytest.mark.parametrize("number", ["1.5", "nan", "1e300", "-1", "inf"])
def test_a_face_names_its_corners_by_whole_numbers(number, tmp_path):
    path = tmp_path / "a.ply"
    places = "0 0 0\n90 0 0\n0 90 0\n"
    head = "element vertex 3\nproperty float x\nproperty float y\nproperty float z\nelement face 1\n"
    path.write_text(
        f"ply\nformat ascii 1.0\n{head}property list uchar int vertex_index\nend_header\n{places}3 0 1 {number}\n"
    )
    assert set(refused(path)) <= {"M105", "M202"}


@pytest.mark.parametrize("name", ["a.ply", "a.obj", "a.stl"])
def test_a_file_of_many_gigabytes_is_not_read(name, tmp_path):
    path = tmp_path / name
    with path.open("wb") as stream:
        stream.write(b"ply\nformat binary_little_endian 1.0\n" if "ply" in name else b"solid a\n")
        stream.truncate(3_000_000_000)
    assert refused(path) == ["M107"]


@pytest.mark.parametrize("name", ["a.ply", "a.obj", "a.stl"])
def test_a_pipe_or_a_folder_is_no_mesh_file(name, tmp_path):
    os.mkfifo(tmp_path / name)
    (tmp_path / "folder.ply").mkdir()
    (tmp_path / "zero.stl").symlink_to("/dev/zero")
    for path in (tmp_path / name, tmp_path / "folder.ply", tmp_path / "zero.stl", tmp_path / f"{'x' * 5000}{name}"):
        assert refused(path) == ["M103"]


def written(kind, seat, triangles):
    """The mesh as bytes, written by nothing but this test."""
    rows = "".join(f"v {x!r} {y!r} {z!r}\n" for x, y, z in seat.tolist())
    if kind == "obj":
        return (rows + "".join(f"f {a}/1 {b}//7 {c}\n" for a, b, c in (triangles + 1).tolist())).encode()
    if kind == "obj, continued, old line ends":
        faces = "".join(f"f {a} \\\n {b} {c} # corner\n" for a, b, c in (triangles - len(seat)).tolist())
        return (rows + faces).replace("\n", "\r").encode()
    if kind == "stl":
        facets = "".join(
            "facet normal 0 0 1\nouter loop\n"
            + "".join(f"vertex {x!r} {y!r} {z!r}\n" for x, y, z in corners.tolist())
            + "endloop\nendfacet\n"
            for corners in seat[triangles]
        )
        return f"solid a\n{facets}endsolid a\n".encode()
    more = "property uchar flags\n" if "more" in kind else ""
    head = f"ply\nformat ascii 1.0\nelement edge 2\nproperty int a\nelement vertex {len(seat)}\n" + "".join(
        f"property double {axis}\n" for axis in "zxy"
    )
    head += f"element face {len(triangles)}\nproperty list uchar int vertex_indices\n{more}end_header\n"
    body = "7 8\n" + "".join(f"{z!r} {x!r} {y!r}\n" for x, y, z in seat.tolist())
    return (head + body + "".join(f"3 {a} {b} {c}{' 0' * bool(more)}\n" for a, b, c in triangles.tolist())).encode()


@pytest.mark.parametrize("kind", ["obj", "obj, continued, old line ends", "stl", "ply", "ply with more"])
def test_one_mesh_is_the_same_in_every_way_to_write_it(kind, tmp_path):
    seat, triangles = shapes.cap(0.8, rings=5)
    path = tmp_path / f"a.{kind[:3]}"
    path.write_bytes(written(kind, seat, triangles))
    vertices, corners = load(path)
    assert np.array_equal(vertices[corners], seat[triangles])


@pytest.mark.parametrize("kind", ["obj", "stl", "ply", "ply with more", "binary ply", "binary stl"])
def test_the_most_triangles_are_taken_and_not_one_more(kind, tmp_path, monkeypatch):
    seat, triangles = shapes.cap(0.8, rings=5)
    name = kind.removeprefix("binary ")[:3]
    path = tmp_path / f"a.{name}"
    if kind == "binary ply":
        path.write_bytes(ply_bytes(seat, triangles))
    elif kind == "binary stl":
        rows = b"".join(struct.pack("<12fH", 0, 0, 1, *corners.ravel(), 0) for corners in seat[triangles])
        path.write_bytes(b"\0" * 80 + struct.pack("<I", len(triangles)) + rows)
    else:
        path.write_bytes(written(kind, seat, triangles))
    monkeypatch.setattr(mesh_limits, "MOST_TRIANGLES", len(triangles))
    assert len(read_mesh(path).triangles) == len(triangles)
    monkeypatch.setattr(mesh_limits, "MOST_TRIANGLES", len(triangles) - 1)
    assert refused(path) == ["M107"]


@pytest.mark.parametrize("seed", range(8))
def test_bytes_changed_or_cut_anywhere_are_problems_with_numbers(seed, tmp_path):
    rng = np.random.default_rng(seed)
    seat, triangles = shapes.cap(0.8, rings=2)
    whole = {"a.ply": ply_bytes(seat, triangles)}
    whole |= {
        f"{kind[:3]}{len(kind)}.{kind[:3]}": written(kind, seat, triangles)
        for kind in ("obj", "stl", "ply", "ply with more")
    }
    for name, data in whole.items():
        for _ in range(25):
            spoilt = np.frombuffer(data, dtype=np.uint8).copy()
            spoilt[rng.integers(0, len(spoilt), 3)] = rng.integers(0, 256, 3)
            (tmp_path / name).write_bytes(spoilt.tobytes()[: int(rng.integers(1, len(data) + 400))])
            try:
                read_mesh(tmp_path / name, repair=["merge", "orient", "drop-loose", "largest-part"])
            except ProblemError as fault:
                said = str(fault)
            else:
                continue
            assert said.isprintable() or "\n" in said
