"""The seat as glTF, read back by another library."""

import io
from dataclasses import replace

import numpy as np
import pytest
import trimesh

from flatten.seatview.glb import seat_glb
from meshes.seat.assembly import placed
from tests.pads import FLAT, built
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
