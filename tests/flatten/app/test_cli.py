"""The command line: exit codes, streams, nothing written on bad input, the same bytes twice."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]
SMALL = """
name = "test seat"
[output]
mesh = 20
[[pad]]
name = "cushion"
kind = "cushion"
[pad.outline]
front_width = 400
rear_width = 380
depth = 300
corner_radius = 80
[pad.sides.front]
drop = 80
edge_radius = 10
band = true
seam_below = 5
welt = true
[pad.sides.right]
drop = 80
edge_radius = 10
band = true
[pad.sides.rear]
drop = 60
[[pad.layer]]
material = "foam_medium"
thickness = 20
where = "face"
taper = 50
"""
PADDING = {"padding.pdf", "padding-roll.pdf", "padding.svg", "padding.dxf"}
WRITTEN = {
    ".trimloft-make.json",
    "report.json",
    "report.html",
    "patterns.pdf",
    "patterns-roll.pdf",
    "patterns.svg",
    "patterns.dxf",
    "cutlist.csv",
    "job-sheet.pdf",
    "seat.glb",
    "order.csv",
}


def run(*args, cwd=ROOT):
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-m", "flatten", *map(str, args)]
    return subprocess.run(command, capture_output=True, text=True, cwd=cwd, env=env, timeout=300, check=False)


@pytest.fixture(scope="module")
def sheet(tmp_path_factory):
    path = tmp_path_factory.mktemp("sheet") / "seat.toml"
    path.write_text(SMALL)
    return path


def test_start_writes_a_sheet_that_checks_and_never_overwrites(tmp_path):
    sheet = tmp_path / "new.toml"
    done = run("start", sheet)
    assert done.returncode == 0, done.stderr
    text = sheet.read_text()
    again = run("start", sheet)
    assert again.returncode == 2
    assert "P101" in again.stderr
    assert sheet.read_text() == text
    # Nobody is taught by a sheet that warns of itself.
    checked = run("check", "--strict", sheet)
    assert (checked.returncode, checked.stderr) == (0, "")


def test_make_writes_every_file_of_the_contract(sheet, tmp_path):
    out = tmp_path / "out"
    done = run("make", sheet, "--out", out, "--no-pictures")
    assert done.returncode == 0, done.stderr
    assert {p.name for p in out.iterdir()} == WRITTEN | {
        "padding.pdf",
        "padding-roll.pdf",
        "padding.svg",
        "padding.dxf",
    }
    report = json.loads((out / "report.json").read_text())
    assert report["units"] == "mm"
    assert [p["name"] for p in report["panels"]] == [
        "cushion face",
        "cushion front band",
        "cushion left band",
        "cushion right band",
    ]
    assert all(p["certified"] and p["flipped"] == 0 and 0 <= p["floor"] <= p["demand"] for p in report["panels"])
    assert "written" in done.stdout


def test_the_same_sheet_gives_the_same_bytes(sheet, tmp_path):
    files = []
    for name in ("first", "second"):
        done = run("make", sheet, "--out", tmp_path / name, "--no-pictures", "--quiet")
        assert done.returncode == 0, done.stderr
        assert done.stdout == ""
        files.append({p.name: p.read_bytes() for p in (tmp_path / name).iterdir()})
    reports = [json.loads(f.pop("report.json")) for f in files]
    manifests = [json.loads(f.pop(".trimloft-make.json"))["files"] for f in files]
    assert files[0] == files[1]
    # Manifests differ in what they tell of the report alone.
    for listed in manifests:
        listed.pop("report.json")
    assert manifests[0] == manifests[1]

    def timeless(value):
        if isinstance(value, dict):
            return {k: timeless(v) for k, v in value.items() if k != "seconds"}
        return [timeless(v) for v in value] if isinstance(value, list) else value

    assert timeless(reports[0]) == timeless(reports[1])


def test_check_writes_nothing_and_json_is_the_report(sheet, tmp_path):
    before = sorted(tmp_path.rglob("*"))
    done = run("check", sheet, "--json", cwd=ROOT)
    assert done.returncode == 0, done.stderr
    report = json.loads(done.stdout)
    assert {"version", "units", "panels", "seams", "pads", "problems", "seconds"} <= report.keys()
    assert sorted(tmp_path.rglob("*")) == before


def test_bad_input_is_told_by_file_and_line_and_nothing_is_written(tmp_path):
    sheet = tmp_path / "bad.toml"
    sheet.write_text(SMALL.replace("depth = 300", "depth = -300").replace("corner_radius", "corner_radus"))
    done = run("make", sheet, "--out", tmp_path / "out")
    assert done.returncode == 2
    assert not (tmp_path / "out").exists()
    lines = done.stderr.strip().splitlines()
    assert len(lines) >= 2
    assert all(line.startswith(f"{sheet}:") for line in lines)
    assert any(f"{sheet}:11: " in line and "-300" in line for line in lines)
    assert any("corner_radius" in line and "corner_radus" in line for line in lines)


def test_bad_input_leaves_an_earlier_folder_whole(sheet, tmp_path):
    out = tmp_path / "out"
    assert run("make", sheet, "--out", out, "--no-pictures").returncode == 0
    before = {p.name: p.read_bytes() for p in out.iterdir()}
    bad = tmp_path / "bad.toml"
    bad.write_text(SMALL.replace("depth = 300", "depth = 0"))
    assert run("make", bad, "--out", out).returncode == 2
    assert {p.name: p.read_bytes() for p in out.iterdir()} == before


def test_geometry_that_cannot_be_built_names_the_line_of_its_side(tmp_path):
    banded = "drop = 80\nedge_radius = 10\nband = true\nseam_below = 5\nwelt = true"
    sheet = tmp_path / "deep.toml"
    sheet.write_text(SMALL.replace(banded, "drop = 300\nedge_radius = 10\nturn = 180"))
    done = run("check", sheet)
    assert done.returncode == 2
    # Line 13 is the table of the front side, which reaches through the pad.
    assert done.stderr.startswith(f"{sheet}:13: G108 ")


def test_strict_exits_3_when_a_piece_does_not_fit(tmp_path):
    tight = '[cover.card]\nname = "board"\nthickness = 1\npull = 0\nstretch_along = 0.001\nstretch_across = 0.001\n'
    sheet = tmp_path / "tight.toml"
    sheet.write_text(SMALL.replace("[output]", tight + "[output]"))
    assert run("check", sheet, "--quiet").returncode == 0
    assert run("check", sheet, "--strict", "--quiet").returncode == 3


def test_words_that_are_no_command_exit_2():
    for words in (("mak", "x"), ("make",), ("make", "x.toml"), ("check", "x.toml", "--nothing")):
        done = run(*words)
        assert done.returncode == 2, words
        assert done.stderr
        assert "Traceback" not in done.stderr


def test_unknown_paper_is_refused_before_anything_is_written(sheet, tmp_path):
    done = run("make", sheet, "--out", tmp_path / "out", "--page", "a9")
    assert done.returncode == 2
    assert "P201" in done.stderr
    assert not (tmp_path / "out").exists()


def test_flatten_keeps_the_mesh_and_says_what_it_asks(tmp_path):
    from tests import shapes

    mesh = tmp_path / "frustum.ply"
    vertices, triangles = shapes.cone()
    import trimesh

    trimesh.Trimesh(vertices, triangles, process=False).export(mesh)
    done = run("flatten", mesh, "--out", tmp_path / "flat", "--budget", "5")
    assert done.returncode == 0, done.stderr
    report = json.loads((tmp_path / "flat" / "report.json").read_text())
    assert report["panels"][0]["demand"] < 1e-6
    assert report["panels"][0]["budget"] == pytest.approx(0.05)
    flat = trimesh.load(tmp_path / "flat" / "flat.ply", process=False)
    assert (flat.faces == triangles).all()


def test_help_is_quick_to_read_and_names_every_command():
    done = run("--help")
    assert done.returncode == 0
    for word in ("start", "make", "check", "flatten", "view"):
        assert word in done.stdout


def test_flatten_strict_needs_something_to_hold_the_piece_to(tmp_path):
    done = run("flatten", tmp_path / "none.ply", "--out", tmp_path / "out", "--strict")
    assert done.returncode == 2
    assert "C102" in done.stderr


def test_relief_proposes_cuts_for_a_tight_panel_and_makes_them(tmp_path):
    card = '[cover.card]\nname = "stiff"\nthickness = 1\npull = 0.005\nstretch_along = 0.03\nstretch_across = 0.03\n'
    sheet = tmp_path / "tight.toml"
    sheet.write_text(
        SMALL.replace("[output]", card + 'source = "made up"\n[output]').replace("thickness = 20", "thickness = 45")
    )
    done = run("relief", sheet, "--json")
    assert done.returncode == 0, done.stderr
    panels = json.loads(done.stdout)["panels"]
    assert panels
    for panel in panels:
        for cut in panel["proposals"]:
            assert cut["demand_after"] < cut["demand_before"]
    made = run("relief", sheet, "--apply", "--out", tmp_path / "out")
    assert made.returncode == 0, made.stderr
    assert "cut: " in made.stdout
    report = json.loads((tmp_path / "out" / "report.json").read_text())
    assert all(p["certified"] and p["floor"] <= p["demand"] for p in report["panels"])


def test_relief_refuses_what_cannot_be(tmp_path):
    for words, code in ((("x.ply", "--out", "o"), "C103"), (("x.ply", "--apply"), "C104"), (("x.toml",), "S0")):
        done = run("relief", *words, cwd=ROOT)
        assert done.returncode == 2
        assert code in done.stderr


def test_of_many_problems_fifty_are_told_and_none_commands_the_terminal(tmp_path):
    path = tmp_path / "bad\x1b[31m\u202e.toml"
    path.write_text(SMALL + "".join(f'[[line]]\n"key{k}\\u001b[2J\\u009b" = 1\n' for k in range(70)) + "[x]\n" * 1)
    path.write_text("".join(f'"key{k}\\u001b[2J\\u009b" = 1\n' for k in range(70)) + path.read_text())
    done = run("check", path)
    assert done.returncode == 2
    lines = done.stderr.splitlines()
    assert len(lines) == 51
    assert lines[-1].startswith("and ")
    assert all(line.isprintable() for line in lines)


@pytest.mark.parametrize("given", ["\x1b[31m", "\u202ex", "\x9b2J"])
def test_what_is_typed_is_never_printed_raw(given, tmp_path):
    for args in (
        ("check", f"{tmp_path}/{given}.toml"),
        ("check", "a", f"--{given}"),
        ("flatten", f"{given}.ply", "--out", "x"),
    ):
        done = run(*args)
        assert done.returncode == 2
        assert all(line.isprintable() for line in done.stderr.splitlines())
        assert given not in done.stderr + done.stdout
