"""Meshes from files and arrays: read to the letter, every fault with its code, every repair stated."""

import struct

import numpy as np
import pytest
import trimesh

from meshes.base.arrays import locked_floats, locked_ints
from meshes.base.problems import ProblemError
from meshes.intake.checks import check_mesh
from meshes.intake.mesh_file import ply_bytes
from meshes.intake.read import read_mesh
from meshes.intake.repair import REPAIRS, repair_mesh
from tests import shapes


def codes(caught):
    return [problem.code for problem in caught.value.problems]


def refused(vertices, triangles):
    """The codes a mesh is refused with."""
    with pytest.raises(ProblemError) as caught:
        check_mesh(vertices, triangles)
    return codes(caught)


@pytest.fixture
def cap():
    return shapes.cap(0.8, rings=4)


@pytest.mark.parametrize("how", ["ply", "ply ascii", "obj", "ours"])
def test_what_another_library_wrote_is_read_to_the_letter(tmp_path, cap, how):
    seat, triangles = cap
    file = tmp_path / f"cap.{'obj' if how == 'obj' else 'ply'}"
    mesh = trimesh.Trimesh(seat, triangles, process=False)
    if how == "ours":
        file.write_bytes(ply_bytes(seat, triangles))
    elif how == "obj":
        mesh.export(file)
    else:
        mesh.export(file, encoding="ascii" if "ascii" in how else "binary")
    read = read_mesh(file)
    assert np.array_equal(read.triangles, triangles)
    assert np.allclose(read.vertices, seat, atol=1e-5)
    assert read.notes == ()


def test_our_ply_is_read_by_another_library(tmp_path, cap):
    seat, triangles = cap
    (tmp_path / "a.ply").write_bytes(ply_bytes(seat, triangles))
    mesh = trimesh.load(tmp_path / "a.ply", process=False)
    assert np.array_equal(mesh.vertices, seat)
    assert np.array_equal(mesh.faces, triangles)


@pytest.mark.parametrize("kind", ["stl", "stl_ascii"])
def test_stl_is_merged_and_says_so(tmp_path, cap, kind):
    seat, triangles = cap
    trimesh.Trimesh(seat, triangles, process=False).export(tmp_path / "cap.stl", file_type=kind)
    read = read_mesh(tmp_path / "cap.stl")
    assert len(read.vertices) == len(seat)
    assert "merged" in read.notes[0]
    # The corners of every triangle stay where they were, triangle by triangle.
    assert np.allclose(read.vertices[read.triangles], seat[triangles], atol=1e-5)


def test_big_endian_ply_with_more_than_positions(tmp_path, cap):
    seat, triangles = cap
    head = (
        f"ply\nformat binary_big_endian 1.0\nelement vertex {len(seat)}\nproperty float x\nproperty float y\n"
        "property float z\nproperty uchar red\n"
        f"element face {len(triangles)}\nproperty list uchar int vertex_index\nproperty float quality\nend_header\n"
    )
    body = b"".join(struct.pack(">fffB", *row, 7) for row in seat)
    body += b"".join(struct.pack(">Biiif", 3, *row, 0.5) for row in triangles)
    (tmp_path / "a.ply").write_bytes(head.encode() + body)
    read = read_mesh(tmp_path / "a.ply")
    assert np.array_equal(read.triangles, triangles)
    assert np.allclose(read.vertices, seat, atol=1e-4)


def test_obj_with_normals_texture_and_backward_numbers(tmp_path):
    text = "v 0 0 0\nv 100 0 0\nv 0 100 0 # third\nvt 0 0\nvn 0 0 1\nf 1/1/1 2/1/1 3/1/1\n"
    text += "v 100 100 0\nf -3//1 -1//1 -2//1\n"
    (tmp_path / "a.obj").write_text(text)
    read = read_mesh(tmp_path / "a.obj")
    assert read.triangles.tolist() == [[0, 1, 2], [1, 3, 2]]


@pytest.mark.parametrize(
    ("name", "data", "code"),
    [
        ("a.3mf", b"x", "M102"),
        ("missing.ply", None, "M103"),
        ("a.ply", b"", "M104"),
        ("a.ply", b"ply\nformat ascii 1.0\nelement vertex 0\nproperty float x\nend_header\n", "M105"),
        ("a.ply", b"not a mesh", "M105"),
        ("a.obj", b"v 0 0 0\nv 1 0 0\n", "M104"),
        ("a.obj", b"v 0 0\nf 1 1 1\n", "M105"),
        ("a.obj", b"v a b c\n", "M105"),
        ("a.obj", b"v 0 0 0\nv 9 0 0\nv 9 9 0\nv 0 9 0\nf 1 2 3 4\n", "M106"),
        ("a.stl", b"\0" * 100, "M105"),
        ("a.stl", b"solid a\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\n", "M105"),
        ("a.obj", b"v 0 0 0\nv 9 0 0\nv 9 9 0\nf 1 2 7\n", "M202"),
        ("a.obj", b"v 0 0 0\nv 9 0 0\nv 9 9 0\nf 0 1 2\n", "M202"),
        ("a.obj", b"v 0 0 0\nv nan 0 0\nv 9 9 0\nf 1 2 3\n", "M203"),
    ],
)
def test_files_that_are_no_mesh(tmp_path, name, data, code):
    if data is not None:
        (tmp_path / name).write_bytes(data)
    with pytest.raises(ProblemError) as caught:
        read_mesh(tmp_path / name)
    assert codes(caught) == [code]
    assert caught.value.problems[0].file == str(tmp_path / name)


@pytest.mark.parametrize("binary", [False, True])
def test_ply_with_quads_or_cut_short(tmp_path, cap, binary):
    seat, triangles = cap
    mesh = trimesh.Trimesh(seat, triangles, process=False)
    mesh.export(tmp_path / "a.ply", encoding="binary" if binary else "ascii")
    whole = (tmp_path / "a.ply").read_bytes()
    (tmp_path / "a.ply").write_bytes(whole[: len(whole) // 2])
    with pytest.raises(ProblemError) as caught:
        read_mesh(tmp_path / "a.ply")
    assert codes(caught) == ["M105"]
    text = "ply\nformat ascii 1.0\nelement vertex 4\nproperty float x\nproperty float y\nproperty float z\n"
    text += (
        "element face 1\nproperty list uchar int vertex_indices\nend_header\n0 0 0\n9 0 0\n9 9 0\n0 9 0\n4 0 1 2 3\n"
    )
    data = text.encode()
    if binary:
        body = np.array([[0, 0, 0], [9, 0, 0], [9, 9, 0], [0, 9, 0]], "<f4").tobytes() + struct.pack(
            "<Biiii", 4, 0, 1, 2, 3
        )
        data = text.split("0 0 0\n")[0].replace("ascii", "binary_little_endian").encode() + body
    (tmp_path / "a.ply").write_bytes(data)
    with pytest.raises(ProblemError) as caught:
        read_mesh(tmp_path / "a.ply")
    assert codes(caught) == ["M106"]


def test_an_unknown_repair_is_named(tmp_path):
    with pytest.raises(ProblemError, match=r"M101.*mrege"):
        read_mesh(tmp_path / "a.ply", repair=["mrege"])


def test_arrays_of_the_wrong_shape(cap):
    seat, triangles = cap
    assert refused(seat[:, :2], triangles) == ["M201"]
    assert refused(seat, triangles.ravel()) == ["M201"]
    assert refused(seat, triangles + 0.5) == ["M201"]
    assert refused([["a", 0, 0]], triangles) == ["M201"]
    assert refused(seat, np.empty((0, 3), dtype=int)) == ["M104"]


def test_numbers_that_are_none(cap):
    seat, triangles = cap
    bad = seat.copy()
    bad[3, 1] = np.inf
    assert refused(bad, triangles) == ["M203"]
    assert refused(seat, np.where(triangles == 5, 999, triangles)) == ["M202"]
    assert refused(seat, np.where(triangles == 5, -1, triangles)) == ["M202"]


def test_loose_and_doubled_vertices(cap):
    seat, triangles = cap
    assert refused(np.vstack([seat, [[0, 0, 50.0]]]), triangles) == ["M204"]
    # Unjoined triangles, as a careless export leaves them.
    assert "M205" in refused(seat[triangles].reshape(-1, 3), np.arange(triangles.size).reshape(-1, 3))
    pressed = seat.copy()
    pressed[1] = pressed[40]
    assert "M205" in refused(pressed, triangles)


@pytest.mark.parametrize("scale", [1e-3, 1 / 25.4 / 2, 1e3])
def test_sizes_that_are_no_seat(cap, scale):
    seat, triangles = cap
    assert refused(0.5 * seat * scale, triangles) == ["M206"]


def test_flat_thin_and_doubled_triangles(cap):
    seat, triangles = cap
    assert "M207" in refused(seat, np.vstack([triangles, [[0, 1, 1]]]))
    assert "M209" in refused(seat, np.vstack([triangles, triangles[5, [1, 2, 0]][None]]))
    thin = np.array([[0.0, 0, 0], [100, 0, 0], [50, 0.01, 0], [50, 60, 0]])
    assert refused(thin, [[0, 1, 2], [0, 2, 3], [2, 1, 3]]) == ["M208"]
    thin[2, 1] = 0.0
    assert refused(thin, [[0, 1, 2], [0, 2, 3], [2, 1, 3]]) == ["M207"]


def test_edges_of_three_triangles_and_triangles_turned_over(cap):
    seat, triangles = cap
    fin = np.vstack([seat, [[0, 0, 200.0]]])
    assert refused(fin, np.vstack([triangles, [[0, 1, len(seat)]]])) == ["M210"]
    turned = triangles.copy()
    turned[7] = turned[7, ::-1]
    assert refused(seat, turned) == ["M211"]


def test_several_parts_and_parts_that_hang_by_a_point():
    seat, triangles = shapes.cap(0.8, rings=3)
    two = np.vstack([seat, seat + np.array([500, 0, 0])])
    assert refused(two, np.vstack([triangles, triangles + len(seat)])) == ["M212"]
    flat = np.array([[0.0, 0, 0], [10, 0, 0], [0, 10, 0], [-10, 0, 0], [0, -10, 0]])
    assert refused(flat, [[0, 1, 2], [0, 3, 4]])[0] in ("M212", "M213")


def test_closed_ring_and_handle():
    ball = trimesh.creation.icosphere(subdivisions=2, radius=100)
    assert refused(ball.vertices, ball.faces) == ["M214"]
    seat, triangles = shapes.cap(0.8, rings=4)
    assert refused(seat[1:], triangles[6:] - 1) == ["M215"]
    torus = trimesh.creation.torus(100, 30, major_sections=24, minor_sections=12)
    assert refused(torus.vertices, torus.faces[1:]) == ["M216"]


def test_a_rim_that_lies_on_itself_is_a_cut(tmp_path):
    # A frustum slit along a ruling, both sides of the slit at exactly one place, as any mesh file would have it.
    seat, triangles = shapes.cone(cells=(24, 4))
    seat = np.round(seat, 3)
    (tmp_path / "cone.ply").write_bytes(ply_bytes(seat, triangles))
    read = read_mesh(tmp_path / "cone.ply")
    assert len(read.notes) == 1
    assert "10 vertices" in read.notes[0]
    assert "cut" in read.notes[0]
    assert np.array_equal(read.triangles, triangles)


def test_repairs_are_done_when_asked_for_and_stated(tmp_path):
    seat, triangles = shapes.cap(0.8, rings=4)
    turned = triangles.copy()
    turned[[3, 7, 8]] = turned[[3, 7, 8]][:, ::-1]
    loose = np.vstack([seat, seat[:6] + np.array([900, 0, 0])])
    everything = np.vstack([turned, [[len(seat), len(seat) + 1, len(seat) + 2]]])
    (tmp_path / "a.ply").write_bytes(ply_bytes(loose, everything))
    with pytest.raises(ProblemError):
        read_mesh(tmp_path / "a.ply")
    read = read_mesh(tmp_path / "a.ply", repair=["orient", "largest-part", "drop-loose"])
    assert np.array_equal(read.vertices, seat)
    assert np.array_equal(np.sort(read.triangles, axis=1), np.sort(triangles, axis=1))
    assert len(read.notes) == 3
    assert "3 triangles turned over" in read.notes[-1]


def test_merging_numbers_by_first_appearance(tmp_path):
    seat, triangles = shapes.cap(0.8, rings=4)
    (tmp_path / "a.ply").write_bytes(
        ply_bytes(seat[triangles].reshape(-1, 3), np.arange(triangles.size).reshape(-1, 3))
    )
    read = read_mesh(tmp_path / "a.ply", repair=["merge"])
    assert np.array_equal(read.vertices[read.triangles], seat[triangles])
    first_seen = np.unique(read.triangles.ravel(), return_index=True)[1]
    assert np.all(np.diff(first_seen) > 0)


def test_locked_arrays_are_not_needed_for_writing(cap):
    seat, triangles = cap
    kept = check_mesh(locked_floats(seat), locked_ints(triangles))
    assert np.array_equal(kept[0], seat)


def test_a_repair_of_a_mesh_that_names_a_missing_vertex_is_refused():
    for repair in REPAIRS:
        with pytest.raises(ProblemError) as caught:
            repair_mesh([[0, 0, 0], [40, 0, 0], [0, 40, 0]], [[0, 1, 2], [1, 2, 9]], repair=[repair])
        assert codes(caught) == ["M202"]


def test_repairing_arrays_and_repairing_a_file_are_one_thing(tmp_path):
    points = np.array([[0, 0, 0], [40, 0, 0], [0, 40, 0], [40, 40, 5], [90, 0, 0.0]])
    corners = np.array([[0, 1, 2], [1, 2, 3]])
    path = tmp_path / "two.ply"
    path.write_bytes(ply_bytes(points, corners))
    repair = ("orient", "drop-loose")
    read, made = read_mesh(path, repair=repair), repair_mesh(points, corners, repair=repair)
    assert np.array_equal(read.vertices, made.vertices)
    assert np.array_equal(read.triangles, made.triangles)
    assert read.notes == made.notes
    assert len(made.vertices) == 4
