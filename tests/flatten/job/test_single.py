"""`trimloft flatten`: one mesh in, flat.ply and report.json out, or a clear refusal and nothing."""

import json

import numpy as np
import pytest
import trimesh

from flatten.job.single import flatten_file, report_text, summary_text
from flatten.maps.certify import certify
from meshes.base.problems import ProblemError
from meshes.intake.mesh_file import load, ply_bytes
from meshes.intake.read import read_mesh
from tests import shapes


@pytest.fixture
def cap_file(tmp_path):
    seat, triangles = shapes.cap(0.6, rings=8)
    file = tmp_path / "cap.ply"
    file.write_bytes(ply_bytes(seat, triangles))
    return file


def test_the_folder_holds_the_piece_and_its_report(tmp_path, cap_file):
    single = flatten_file(cap_file, tmp_path / "out", leather="soft")
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == [
        ".trimloft-flatten.json",
        "flat.ply",
        "report.json",
    ]
    flat = trimesh.load(tmp_path / "out" / "flat.ply", process=False)
    mesh = read_mesh(cap_file)
    assert np.array_equal(flat.faces, mesh.triangles)
    assert np.all(flat.vertices[:, 2] == 0)
    # Counter-clockwise from above, and still proven after the way through the file.
    assert flat.area == pytest.approx(single.flat.figures.area_piece_mm2, rel=1e-12)
    assert np.all(flat.face_normals[:, 2] > 0)
    vertices, triangles = load(tmp_path / "out" / "flat.ply")
    assert certify(vertices[:, :2], triangles).holds


def test_the_report_has_the_contracts_keys(tmp_path, cap_file):
    single = flatten_file(cap_file, tmp_path / "out", budget_pct=4.0)
    report = json.loads((tmp_path / "out" / "report.json").read_text())
    assert report == json.loads(report_text(single))
    assert set(report) >= {"version", "units", "panels", "seams", "pads", "problems", "seconds"}
    assert report["units"] == "mm"
    (panel,) = report["panels"]
    keys = (
        "name triangles area_seat_mm2 area_piece_mm2 stretch demand floor budget verdict flipped certified rung seconds"
    )
    assert set(panel) >= set(keys.split())
    assert set(panel["stretch"]) == {"max", "min", "p995"}
    assert panel["demand"] == pytest.approx(panel["stretch"]["max"] / panel["stretch"]["min"] - 1, rel=1e-12)
    assert panel["budget"] == pytest.approx(0.04)
    assert 0 <= panel["floor"] <= panel["demand"]
    assert (panel["name"], panel["verdict"], panel["certified"], panel["flipped"]) == (
        "cap",
        "proven too tight",
        True,
        0,
    )
    assert "too tight" in summary_text(single)


def test_a_repair_is_told_in_the_report(tmp_path):
    seat, triangles = shapes.cap(0.6, rings=5)
    trimesh.Trimesh(seat, triangles, process=False).export(tmp_path / "cap.stl")
    single = flatten_file(tmp_path / "cap.stl", tmp_path / "out")
    (problem,) = json.loads(report_text(single))["problems"]
    assert problem["code"] == "M301"
    assert "merged" in problem["text"]
    assert "merged" in summary_text(single)


def test_a_mesh_in_metres_is_refused_and_nothing_written(tmp_path):
    seat, triangles = shapes.cap(0.6, rings=5)
    (tmp_path / "m.ply").write_bytes(ply_bytes(0.001 * seat, triangles))
    with pytest.raises(ProblemError, match=r"M206.*metres.*1000"):
        flatten_file(tmp_path / "m.ply", tmp_path / "out")
    assert not (tmp_path / "out").exists()
