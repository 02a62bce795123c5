"""What a job will take, held against what it took; and the refusal of what there is no room for."""

import math
import os
import subprocess
import sys
from dataclasses import replace

import pytest

from flatten.machine.estimate import (
    MB,
    STEPS_MM,
    FreeMemory,
    check_room,
    check_room_for,
    estimate_for,
    estimate_of,
    fits,
    triangles_of,
)
from flatten.machine.room import _groups, room
from meshes.base.problems import ProblemError
from meshes.seat.build import build
from meshes.sheet.read import read_sheet
from tests.running import LIMIT_S, OTHER, ROOT, SHEET
from tests.samples import BENCH

NO_LIMIT = FreeMemory(together=None, each=None)


@pytest.fixture
def sheet(tmp_path):
    path = tmp_path / "seat.toml"
    path.write_text(SHEET)
    return read_sheet(path)


@pytest.mark.parametrize("text", [SHEET, BENCH])
@pytest.mark.parametrize("edge", [20.0, 10.0])
def test_hardly_more_triangles_are_made_than_were_foretold(text, edge, tmp_path):
    (tmp_path / "seat.toml").write_text(text)
    for pad in read_sheet(tmp_path / "seat.toml").pads:
        assert len(build(pad, edge_mm=edge).surface.triangles) < 1.06 * triangles_of(pad, edge)


def test_triangles_are_those_of_face_and_sides_and_a_tenth_for_lines_less_what_long_ones_save(sheet):
    (pad,) = sheet.pads
    # A face of 400 to 380 x 300 mm, its sides 10 mm out of square.
    drop = {name: side.drop for name, side in pad.sides.items()}
    area = 390.0 * 300.0 + 400.0 * drop["front"] + 380.0 * drop["rear"]
    area += math.hypot(300.0, 10.0) * (drop["left"] + drop["right"])
    assert triangles_of(pad, 0.5) == pytest.approx(0.7 * 1.1 * area / (math.sqrt(3.0) / 4.0 * 0.5**2), rel=1e-4)


# Seconds of one core that whole jobs took, as DEVELOPERS.md has them to a tenth.
@pytest.mark.parametrize(
    ("triangles", "took_s"), [(5_400, 0.5), (15_000, 1.2), (34_000, 2.7), (60_000, 5.3), (135_000, 16.0)]
)
def test_time_is_foretold_within_a_factor_of_two_of_what_was_measured_and_never_too_short(triangles, took_s):
    assert took_s < estimate_for([triangles]).seconds - estimate_for([0]).seconds < 2.0 * (took_s + 0.05)


def test_time_grows_faster_than_the_mesh_only_where_it_is_large():
    start = estimate_for([0]).seconds
    few, more, many, most = (estimate_for([n]).seconds - start for n in (30_000, 60_000, 120_000, 240_000))
    assert more == pytest.approx(2.0 * few)
    assert many / more == pytest.approx(2.0**1.25)
    assert most / many == pytest.approx(2.0**1.25)


def test_triangles_go_with_the_square_of_the_mesh(sheet):
    few, many = (estimate_of(sheet, edge_mm=edge) for edge in (6.0, 1.5))
    assert many.triangles == pytest.approx(16 * few.triangles, rel=0.01)
    assert many.seconds > few.seconds
    assert many.bytes > few.bytes


@pytest.mark.parametrize(("kind", "most"), [("together", 400), ("each", 900)])
def test_a_refusal_names_the_finest_mesh_that_fits(sheet, kind, most):
    asked = replace(sheet, output=replace(sheet.output, mesh=1.0))
    left = replace(NO_LIMIT, **{kind: most * MB})
    with pytest.raises(ProblemError) as told:
        check_room(asked, left=left)
    (problem,) = told.value.problems
    assert (problem.code, problem.line) == ("W201", sheet.line_of("output", "mesh"))
    offered = float(problem.text.split("write mesh = ")[1].split()[0])
    assert check_room(asked, left=NO_LIMIT).triangles > 400_000
    assert fits(estimate_of(asked, edge_mm=offered), left)
    finer = [step for step in STEPS_MM if 1.0 < step < offered]
    assert not any(fits(estimate_of(asked, edge_mm=step), left) for step in finer)
    # The advice, followed, is taken.
    check_room(replace(asked, output=replace(asked.output, mesh=offered)), left=left)


def test_no_mesh_fits_is_told_with_what_to_do(sheet):
    with pytest.raises(ProblemError, match=r"no mesh fits now; close other programs and raise ulimit -v"):
        check_room(sheet, left=FreeMemory(together=None, each=100 * MB))


def test_an_inch_sheet_is_advised_in_what_it_can_be_written_in(tmp_path):
    path = tmp_path / "seat.toml"
    path.write_text(SHEET.replace("mesh = 20", 'mesh = "2 mm"'))
    asked = replace(read_sheet(path), unit="in")
    with pytest.raises(ProblemError, match=r'mesh = "\d+ mm" or more'):
        check_room(asked, left=FreeMemory(together=250 * MB, each=None))


def test_a_mesh_without_room_is_refused():
    assert check_room_for(100_000, "panel.ply", left=NO_LIMIT).triangles == estimate_for([100_000]).triangles
    with pytest.raises(ProblemError, match=r"panel\.ply:1: W202"):
        check_room_for(10_000_000, "panel.ply", left=FreeMemory(together=1024 * MB, each=None))


def test_the_room_is_what_the_tightest_group_leaves(tmp_path):
    for place, most, used in (("a/b", "max", 5), ("a", 900, 300), (".", 5000, 1000)):
        (tmp_path / place).mkdir(parents=True, exist_ok=True)
        (tmp_path / place / "memory.max").write_text(f"{most}\n")
        (tmp_path / place / "memory.current").write_text(f"{used}\n")
    (tmp_path / "a" / "memory.stat").write_text("anon 7\ninactive_file 100\n")
    own = tmp_path / "own"
    own.write_text("0::/a/b\n")
    assert list(_groups(own, tmp_path)) == [700, 4000]


def test_the_room_of_an_older_group(tmp_path):
    group = tmp_path / "memory" / "c"
    group.mkdir(parents=True)
    (group / "memory.limit_in_bytes").write_text("900")
    (group / "memory.usage_in_bytes").write_text("400")
    (tmp_path / "memory" / "memory.limit_in_bytes").write_text(str((1 << 63) - 4096))
    (tmp_path / "memory" / "memory.usage_in_bytes").write_text("400")
    own = tmp_path / "own"
    own.write_text("7:cpu:/\n4:memory,hugetlb:/c\n")
    assert list(_groups(own, tmp_path)) == [500]


def test_this_machine_has_room_for_something():
    left = room().together
    assert left is None or left > 0


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="ulimit -v")
def test_too_fine_a_mesh_under_a_limit_is_refused_before_the_work(tmp_path):
    path = tmp_path / "seat.toml"
    path.write_text((SHEET + OTHER).replace("mesh = 20", "mesh = 1"))
    words = f'ulimit -v 2000000; exec "{sys.executable}" -m flatten make "{path}" --out "{tmp_path / "out"}"'
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(["sh", "-c", words], env=env, capture_output=True, text=True, timeout=LIMIT_S, check=False)
    assert done.returncode == 2, done.stderr
    assert done.stderr.startswith(f"{path}:4: W201 ")
    assert "write mesh = " in done.stderr
    assert not (tmp_path / "out").exists()
