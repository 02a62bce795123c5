"""The seat as glTF, read back by another library."""

import io
import json
import struct
from dataclasses import replace

import numpy as np
import pytest
import trimesh

from flatten.job.make import make
from flatten.seatview.glb import _linear, seat_glb
from flatten.seatview.scenes import panel_colours
from meshes.seat.assembly import placed
from tests.pads import FLAT, built, sheet_of
from tests.samples import sample_job


@pytest.fixture(scope="module")
def job():
    return sample_job()


def test_panels_come_back_by_name_in_metres_with_y_up(job):
    scene = trimesh.load(io.BytesIO(seat_glb(job)), file_type="glb", process=False)
    for pad in job.pads:
        for panel in pad.panels:
            mesh = scene.geometry[panel.name]
            assert len(mesh.faces) == len(panel.surface.triangles)
            seat = placed(panel.surface.vertices, pad.placement) / 1000.0
            # glTF 2.0, section 3.4: right-handed, metres, +Y up, the front looks along +Z.
            assert np.ptp(mesh.vertices[:, 1]) == pytest.approx(np.ptp(seat[:, 2]), abs=1e-5)
            assert mesh.vertices[:, 2].max() == pytest.approx(-seat[:, 1].min(), abs=1e-5)


def test_seams_are_lines_of_their_length(job):
    scene = trimesh.load(io.BytesIO(seat_glb(job)), file_type="glb", process=False)
    for pad in job.pads:
        for seam in pad.seams:
            points = scene.geometry[f"seam {seam.name}"].vertices
            seat = pad.surface.vertices[seam.vertices]
            length = np.linalg.norm(np.diff(seat, axis=0), axis=1).sum() / 1000.0
            assert np.linalg.norm(np.diff(points, axis=0), axis=1).sum() == pytest.approx(length, rel=1e-4)


def test_triangles_still_face_outward(job):
    scene = trimesh.load(io.BytesIO(seat_glb(job)), file_type="glb", process=False)
    mesh = scene.geometry[job.pads[0].panels[0].name]
    assert np.average(mesh.face_normals[:, 1], weights=mesh.area_faces) > 0.5


def test_the_same_seat_gives_the_same_bytes(job):
    assert seat_glb(job) == seat_glb(job)


def test_crests_of_pleats_stand_in_the_file():
    text = FLAT + '[pad.pleats]\ncount = 6\nfiller = "wadding"\nrise = 9\n'
    pad = built(text, edge_mm=8.0)
    seat = seat_glb(replace(sample_job(), pads=(pad,)))
    scene = trimesh.load(io.BytesIO(seat), file_type="glb", process=False)
    points = scene.geometry["cushion face"].vertices
    # +Y is up, in metres: the crests stand 9 mm over the flat face.
    assert points[:, 1].max() * 1000.0 == pytest.approx(pad.surface.vertices[:, 2].max() + 9.0, abs=0.3)


def test_the_file_is_what_the_specification_asks_for(job):
    """glTF 2.0, sections 3.6 and 4.4, read byte by byte: header, chunks, buffer views, accessors."""
    data = seat_glb(job)
    magic, version, length = struct.unpack_from("<4sII", data)
    assert (magic, version, length) == (b"glTF", 2, len(data))
    size, kind = struct.unpack_from("<I4s", data, 12)
    listing, start = json.loads(data[20 : 20 + size]), 20 + size + 8
    assert (kind, size % 4, data[20 + size + 4 : start]) == (b"JSON", 0, b"BIN\0")
    assert struct.unpack_from("<I", data, 20 + size)[0] == len(data) - start == listing["buffers"][0]["byteLength"]
    views, accessors = listing["bufferViews"], listing["accessors"]
    assert sum(view["byteLength"] for view in views) == len(data) - start
    for mesh in listing["meshes"]:
        (primitive,) = mesh["primitives"]
        # Points: 32-bit floats in threes for ARRAY_BUFFER; indices: unsigned ints for ELEMENT_ARRAY_BUFFER.
        for number in primitive["attributes"].values():
            accessor = accessors[number]
            assert (accessor["componentType"], accessor["type"]) == (5126, "VEC3")
            assert views[accessor["bufferView"]]["target"] == 34962
            assert views[accessor["bufferView"]]["byteLength"] == 12 * accessor["count"]
        indices, place = accessors[primitive["indices"]], views[accessors[primitive["indices"]]["bufferView"]]
        assert (indices["componentType"], indices["type"], place["target"]) == (5125, "SCALAR", 34963)
        assert indices["count"] % (2 if primitive["mode"] == 1 else 3) == 0
        corners = np.frombuffer(data, "<u4", indices["count"], start + place["byteOffset"])
        points = accessors[primitive["attributes"]["POSITION"]]
        assert corners.max() == points["count"] - 1
        offset = views[points["bufferView"]]["byteOffset"]
        places = np.frombuffer(data, "<f4", 3 * points["count"], start + offset).reshape(-1, 3)
        assert np.allclose(places.min(axis=0), points["min"])
        assert np.allclose(places.max(axis=0), points["max"])
    modes = {mesh["name"]: mesh["primitives"][0]["mode"] for mesh in listing["meshes"]}
    assert {mode for name, mode in modes.items() if name in job.panels} == {4}
    assert {mode for name, mode in modes.items() if name not in job.panels} == {1}


def test_colours_are_linear_light_and_stand_for_the_panels(job):
    """sRGB 0, 128 and 255 are 0, 0.2159 and 1 of linear light (IEC 61966-2-1)."""
    data = seat_glb(job)
    listing = json.loads(data[20 : 20 + struct.unpack_from("<I", data, 12)[0]])
    factors = {m["name"]: m["pbrMetallicRoughness"]["baseColorFactor"] for m in listing["materials"]}
    for name, colour in panel_colours(job).items():
        assert factors[name][3] == 1.0
        for share, light in zip(np.array(colour) / 255.0, factors[name], strict=False):
            assert light == pytest.approx(((share + 0.055) / 1.055) ** 2.4, abs=1e-4)
    for material in listing["materials"]:
        assert material["doubleSided"]
        assert material["pbrMetallicRoughness"]["metallicFactor"] == 0.0
        assert 0.0 <= material["pbrMetallicRoughness"]["roughnessFactor"] <= 1.0
    assert _linear((0, 128, 255)) == pytest.approx([0.0, 0.2159, 1.0, 1.0], abs=1e-4)
    # Below 0.04045 the curve is a straight line.
    assert _linear((9, 10, 10))[:2] == pytest.approx([9 / 255 / 12.92, 10 / 255 / 12.92], abs=1e-4)


def test_normals_have_length_one_and_turn_with_the_seat(job):
    scene = trimesh.load(io.BytesIO(seat_glb(job)), file_type="glb", process=False)
    for pad in job.pads:
        for panel in pad.panels:
            mesh = scene.geometry[panel.name]
            normals = mesh.vertex_normals
            assert np.linalg.norm(normals, axis=1) == pytest.approx(1.0, abs=1e-5)
            faces = np.repeat(mesh.face_normals, 3, axis=0)
            assert (np.einsum("ij,ij->i", faces, normals[mesh.faces.ravel()]) > 0.5).mean() > 0.95


CARD = """
name = "card"
[cover]
tension = 0
[output]
mesh = 24
[[pad]]
name = "door"
kind = "side"
origin = [100, 0, 0]
[pad.outline]
bottom_width = 300
top_width = 300
depth = 200
corner_radius = 20
[pad.board]
thickness = 3
wrap = 22
pair = "right"
[[pad.board.opening]]
name = "lock"
at = [-60, 100]
width = 80
depth = 50
edge = "cut"
"""


def test_openings_of_boards_are_cut_out_in_the_file():
    """Board and mirror image: 300 x 200 less four corners of 20 mm, less 80 x 50, which has an edge of its own."""
    scene = trimesh.load(io.BytesIO(seat_glb(make(sheet_of(CARD), workers=1))), file_type="glb", process=False)
    faces = [mesh for name, mesh in scene.geometry.items() if name.endswith("cover")]
    want = 300 * 200 - (4 - np.pi) * 20**2 - 80 * 50
    assert [1e6 * float(face.area) for face in faces] == pytest.approx([want, want], rel=2e-4)
    rings = [mesh for name, mesh in scene.geometry.items() if "opening" in name]
    assert [1e3 * float(ring.length) for ring in rings] == pytest.approx([260.0, 260.0], abs=0.01)


def test_what_folded_corners_take_in_is_in_the_file():
    """With it the file has the whole cover of a slip seat, without holes at its corners."""
    text = CARD.split("[pad.board]")[0].replace('"side"', '"cushion"').replace("bottom", "front").replace("top", "rear")
    job = make(sheet_of(text + '[pad.sides]\nfront = { drop = 30 }\nright = { drop = 30 }\nrear = { drop = 30 }\n'
                        '[pad.folds]\nall = "single"\n'), workers=1)  # fmt: skip
    scene = trimesh.load(io.BytesIO(seat_glb(job)), file_type="glb", process=False)
    found = sum(float(mesh.area) for mesh in scene.geometry.values() if hasattr(mesh, "faces"))
    assert 1e6 * found == pytest.approx(job.pads[0].facts.area_mm2, rel=1e-4)
    assert {"front left fold", "rear right fold"} <= set(scene.geometry)
