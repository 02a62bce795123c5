"""The report's promises: keys and types that other programs rely on, honest numbers, the same bytes every time."""

import json
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from flatten.figures.report import report, report_bytes, without_seconds
from flatten.job.make import make
from flatten.leather.verdict import Judged
from meshes.base.problems import Problem
from tests.samples import BENCH, sample_job

NUMBER = (int, float)
# The contract: keys that are never renamed or removed, with the types they hold.
TOP = {"version": int, "units": str, "panels": list, "seams": list, "pads": list, "problems": list, "seconds": NUMBER}
PANEL = {
    "name": str,
    "triangles": int,
    "area_seat_mm2": NUMBER,
    "area_piece_mm2": NUMBER,
    "stretch": dict,
    "demand": NUMBER,
    "floor": (*NUMBER, type(None)),
    "budget": (*NUMBER, type(None)),
    "verdict": (str, type(None)),
    "flipped": int,
    "certified": bool,
    "rung": str,
    "seconds": NUMBER,
}
SEAM = {"name": str, "a": str, "b": str}
SEAM |= dict.fromkeys(("length_a_mm", "length_b_mm", "seat_mm", "mismatch_mm"), NUMBER)
PROBLEM = {"code": str, "where": str, "text": str}


def held(row: dict, keys: dict) -> None:
    for key, kind in keys.items():
        assert key in row, key
        assert isinstance(row[key], kind), f"{key}: {row[key]!r}"


def read_back() -> dict:
    return json.loads(report_bytes(sample_job()))


def test_every_key_of_the_contract_is_there():
    data = read_back()
    held(data, TOP)
    assert data["units"] == "mm"
    for rows, keys in (("panels", PANEL), ("seams", SEAM), ("problems", PROBLEM)):
        assert data[rows] or rows == "problems"
        for row in data[rows]:
            held(row, keys)
    for panel in data["panels"]:
        held(panel["stretch"], dict.fromkeys(("max", "min", "p995"), NUMBER))


def test_the_figures_agree_with_each_other():
    data = read_back()
    for panel in data["panels"]:
        figures = panel["stretch"]
        # Demand by its definition; six places of each figure are kept.
        assert panel["demand"] == pytest.approx(figures["max"] / figures["min"] - 1.0, abs=5e-6)
        # No place is slack: the least stretch is the leather's pull.
        assert figures["min"] >= 1.0 + sample_job().leather.pull - 1e-6
        assert figures["p995"] <= figures["max"]
        if panel["verdict"] == "fits":
            assert panel["demand"] <= panel["budget"]
    for seam in data["seams"]:
        assert seam["mismatch_mm"] == pytest.approx(seam["length_b_mm"] - seam["length_a_mm"], abs=2e-3)


def test_seams_are_measured_alike_on_pieces_and_in_the_seam_table():
    data = read_back()
    lengths = {
        (panel, edge["seam"]): edge["length_mm"] for p in data["pieces"] for panel in p["panels"] for edge in p["edges"]
    }
    drawn = {p["panels"][0] for p in data["pieces"]}
    checked = 0
    for seam in data["seams"]:
        for panel, length in ((seam["a"], "length_a_mm"), (seam["b"], "length_b_mm")):
            if panel in drawn:
                assert lengths[panel, seam["name"]] == pytest.approx(seam[length], abs=2e-3)
                checked += 1
    assert checked > len(data["seams"])


def test_every_panel_and_piece_is_named_once():
    job, data = sample_job(), read_back()
    assert [p["name"] for p in data["panels"]] == [p.name for pad in job.pads for p in pad.panels]
    assert sorted(name for p in data["pieces"] for name in p["panels"]) == sorted(p["name"] for p in data["panels"])
    assert [p["count"] for p in data["pieces"]] == [len(p["panels"]) for p in data["pieces"]]


def test_pads_tell_what_was_built():
    cushion, back = read_back()["pads"]
    assert (cushion["name"], cushion["kind"], cushion["rake_deg"]) == ("=cushion", "cushion", 5)
    assert back["origin_mm"] == [0, 300, 420]
    assert [layer["material"] for layer in cushion["layers"]] == ["foam_medium", "wadding"]
    assert cushion["profiles"][0]["points"] == 4
    assert {"what": "depth", "right_minus_left_mm": 4.0} in back["left_right"]
    assert cushion["thickness_mm"]["min"] <= cushion["thickness_mm"]["max"] == pytest.approx(28.0, abs=0.5)


def test_area_of_a_piece_is_that_of_its_cut_line():
    from tests.pieces import boxed_cushion

    # 20 x 18 in with half an inch all round, corners square: 21 x 19 in.
    assert boxed_cushion().cut_mm2 == pytest.approx(21 * 19 * 25.4**2, rel=1e-9)


def test_a_number_that_is_none_is_refused():
    job = sample_job()
    name = next(iter(job.flats))
    flat = job.flats[name]
    spoilt = replace(flat, figures=replace(flat.figures, demand=float("nan")))
    with pytest.raises(ValueError, match="nan"):
        report_bytes(replace(job, flats={**job.flats, name: spoilt}))


def test_what_is_not_known_is_null():
    job = sample_job()
    flats = {name: replace(flat, judgement=Judged(None, None, None), lower=None) for name, flat in job.flats.items()}
    panel = json.loads(report_bytes(replace(job, flats=flats)))["panels"][0]
    assert panel["budget"] is None
    assert panel["verdict"] is None
    assert panel["floor"] is None


def test_no_minus_zero():
    job = sample_job()
    seam = replace(job.seams[0], mismatch_mm=-1e-9)
    text = report_bytes(replace(job, seams=(seam,))).decode()
    assert '"mismatch_mm": 0.0' in text
    assert '"mismatch_mm": -0.0' not in text


def test_text_of_any_kind_survives():
    job = sample_job()
    problem = Problem("F301", 'seam "a" / b', "naïve \\ text\nwith a tab\t and ✗", line=3, warning=True)
    row = json.loads(report_bytes(replace(job, problems=(problem,))))["problems"][0]
    assert row["text"] == problem.text
    assert (row["line"], row["warning"]) == (3, True)


def test_a_second_run_gives_the_same_report(tmp_path):
    path = tmp_path / "bench.toml"
    path.write_text(BENCH, encoding="utf-8")
    first, second = report(sample_job()), report(make(path, workers=1))
    assert without_seconds(first) == without_seconds(second)
    assert "seconds" in first
    assert "seconds" not in without_seconds(first)["panels"][0]
    assert report_bytes(sample_job()) == report_bytes(sample_job())


def test_another_program_can_read_it(tmp_path):
    path = tmp_path / "report.json"
    path.write_bytes(report_bytes(sample_job()))
    done = subprocess.run([sys.executable, "-m", "json.tool", str(path)], capture_output=True, text=True, check=True)
    assert np.isclose(json.loads(done.stdout)["version"], 1)
    assert path.read_bytes().endswith(b"}\n")


def test_use_of_the_budget_is_told_with_its_place_on_the_seat():
    job = sample_job()
    for row in read_back()["panels"]:
        use, flat = row["use"], job.flats[row["name"]]
        assert use["min"] <= use["p995"] <= use["max"] == pytest.approx(flat.use.max(), abs=1e-6)
        pad = next(pad for pad in job.pads if pad.pad.name == row["pad"])
        panel = job.panels[row["name"]]
        middles = (pad.shown.vertices[panel.vertices] @ pad.placement[:3, :3].T + pad.placement[:3, 3])[flat.triangles]
        nearest = np.linalg.norm(middles.mean(axis=1) - use["where_mm"], axis=1).argmin()
        assert flat.use[nearest] == pytest.approx(use["max"], abs=1e-6)


def test_the_padding_plan_says_what_to_cut_and_what_it_takes():
    job = sample_job()
    found = report(job)
    for pad, plan in zip(found["pads"], job.plans, strict=True):
        assert [row["layer"] for row in pad["padding_plan"]] == list(range(1, len(pad["layers"]) + 1))
        for row, layer in zip(pad["padding_plan"], pad["layers"], strict=True):
            assert row["material"] == layer["material"]
            assert row["shapes"], "every layer has a shape or shares its mirror image's"
            for shape in row["shapes"]:
                assert shape["count"] >= row["sheets"]
                assert 0 < shape["area_mm2"] <= shape["width_mm"] * shape["height_mm"] * (1 + 1e-9)
                assert all(edge["oversize_mm"] >= 0.0 for edge in shape["edges"])
        assert pad["finished_height"]["found_mm"] == pytest.approx(plan.height.found_mm, abs=1e-3)
    cut = sum(
        shape["area_mm2"] * (shape["count"] + shape["mirrored"])
        for plan in job.plans
        for shape in ({"area_mm2": s.cut_mm2, "count": s.cut_count, "mirrored": s.mirrored_count} for s in plan.shapes)
    )
    assert sum(row["cut_mm2"] for row in found["padding_stock"]) == pytest.approx(cut, rel=1e-6)


def test_every_panel_says_what_it_pulls_with_and_it_is_what_the_seat_was_settled_at():
    job = sample_job()
    data = report(job)
    told = {problem["where"] for problem in data["problems"] if problem["code"] == "F321"}
    for row in data["panels"]:
        assert row["pull"]["least"] <= row["pull"]["mean"]
        assert row["pull"]["least"] == pytest.approx(row["stretch"]["min"] - 1.0, abs=2e-6)
        tension = row["tension_n_per_m"]
        off = abs(tension["reached"] - tension["settled"]) / tension["settled"]
        # mirrored panels are told together
        assert ((row["mirror_of"] or row["name"]) in told) == (off > 0.15)


def test_both_sides_of_every_seam_carry_the_same_marks():
    for row in report(sample_job())["seams"]:
        assert row["marks"] == row["marks_a"] == row["marks_b"] > 0
