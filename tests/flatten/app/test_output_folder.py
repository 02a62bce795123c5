"""The commands and the folder they write into: nothing of the user's is lost, whatever else is asked or happens."""

import json
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from flatten.app.cli import app
from flatten.app.relief_command import RELIEF
from flatten.job.single import FLATTEN
from flatten.sections.section import SECTION
from flatten.written.writers import MAKE
from meshes.base.problems import ProblemError
from meshes.folder.manifest import is_whole, manifest_name
from meshes.folder.names import alike, file_names, matches
from meshes.folder.staging import STAGING
from meshes.intake.mesh_file import ply_bytes
from tests import shapes
from tests.flatten.app.test_cli import ROOT, SMALL, run

MINE = {"notes.txt": b"front rail is 4 mm out", "photos/front.jpg": b"\xff\xd8 a photograph"}


def content_of(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A folder that holds a sheet, notes and photographs, and the job made into it."""
    out = tmp_path_factory.mktemp("made") / "job"
    (out / "photos").mkdir(parents=True)
    (out / "seat.toml").write_text(SMALL)
    for name, data in MINE.items():
        (out / name).write_bytes(data)
    done = run("make", "seat.toml", "--out", ".", "--no-pictures", cwd=out)
    assert done.returncode == 0, done.stderr
    return out


@pytest.fixture
def job(made, tmp_path):
    return Path(shutil.copytree(made, tmp_path / "job"))


@pytest.fixture(scope="module")
def mesh(tmp_path_factory):
    """A frustum, which is flattened in an instant."""
    path = tmp_path_factory.mktemp("mesh") / "frustum.ply"
    path.write_bytes(ply_bytes(*shapes.cone()))
    return path


def test_a_job_made_over_itself_leaves_all_else_as_it_is(job):
    (job / "patterns.svg").write_bytes((job / "patterns.svg").read_bytes() + b"<!-- cut 3 mm wider -->")
    before = content_of(job)
    done = run("make", "seat.toml", "--out", ".", "--no-pictures", "--json", cwd=job)
    assert done.returncode == 0, done.stderr
    after = content_of(job)
    mine = {"seat.toml", *MINE}
    assert {name: after[name] for name in mine} == {name: before[name] for name in mine}
    assert after["patterns (kept 1).svg"] == before["patterns.svg"]
    assert after["patterns.svg"] != before["patterns.svg"]
    assert set(after) == {*before, "patterns (kept 1).svg"}
    assert is_whole(job, "make")
    # It is told, and the report is still that of the job alone.
    assert "P009" in done.stderr
    assert done.stdout.encode() == after["report.json"]


def test_each_command_leaves_the_files_of_the_others(job):
    before = content_of(job)
    done = run("section", "seat.toml", "--pad", "cushion", "--along", "0", "--out", ".", cwd=job)
    assert done.returncode == 0, done.stderr
    assert before.items() <= content_of(job).items()
    assert is_whole(job, "make")
    assert is_whole(job, "section")
    both = content_of(job)
    done = run("relief", "seat.toml", "--out", ".", cwd=job)
    assert done.returncode == 0, done.stderr
    assert both.items() <= content_of(job).items()
    assert all(is_whole(job, command) for command in ("make", "section", "relief"))


def test_no_two_commands_but_make_and_flatten_write_files_of_one_name():
    writers = {"make": MAKE, "flatten": FLATTEN, "section": SECTION, "relief": RELIEF}
    shared = {
        (a, b)
        for a, one in writers.items()
        for b, two in writers.items()
        if a < b and any(matches(name, one.names) for name in two.names)
    }
    assert shared == {("flatten", "make")}


def refusal(*words: object) -> str:
    """The one line with which the command refuses, run in this process."""
    with pytest.raises(ProblemError) as caught:
        app([str(word) for word in words], exit_on_error=False, result_action="return_value")
    (problem,) = caught.value.problems
    return str(problem)


def test_what_the_folder_forbids_is_told_before_anything_is_read(job, tmp_path):
    """No sheet and no mesh are there: whoever tells of the folder has not begun with them."""
    (tmp_path / "mine").mkdir()
    for name in ("report.json", "section.svg", "relief.html", "Flat.PLY"):
        (tmp_path / "mine" / name).write_bytes(b"mine")
    (tmp_path / "a file").write_bytes(b"mine")
    before = content_of(tmp_path)
    lost, section = tmp_path / "lost.toml", ("--pad", "x", "--along", "0")
    for words, place, code in (
        (("make", lost), "mine", "P003"),
        (("section", lost, *section), "mine", "P003"),
        (("relief", lost), "mine", "P003"),
        (("relief", lost, "--apply"), "mine", "P003"),
        (("flatten", tmp_path / "lost.ply"), "mine", "P003"),
        (("flatten", tmp_path / "lost.ply"), "job", "P010"),
        (("relief", lost, "--apply"), "job", "P010"),
        (("make", lost), "a file", "P002"),
        (("make", lost), "a file/out", "P004"),
        (("make", lost), "x" * 256, "P004"),
        (("make", lost), "two\nlines\x1b[2J/" + "x" * 256, "P004"),
    ):
        line = refusal(*words, "--out", tmp_path / place)
        assert f" {code} " in line, (words, line)
        assert line.isprintable()
    for words, code in (
        (("--save", tmp_path / "a.jpg"), "V104"),
        (("--save", tmp_path / "a file" / "a.png"), "P004"),
        (("--save", tmp_path / "a.png", "--show", "x"), "V103"),
    ):
        assert f" {code} " in f" {refusal('view', lost, *words)}"
    assert "P201" in refusal("make", lost, "--out", tmp_path / "out", "--page", "a9")
    assert content_of(tmp_path) == before


def test_names_of_proposals_fit_and_are_the_commands_own():
    panels = ["cushion face", "Cushion Face", "ж" * 130 + " right side panel", "a/b", "x (kept 1)"]
    names = file_names(panels, ".svg", prefix="relief ")
    assert len({alike(name) for name in names.values()}) == len(panels)
    assert all(matches(name, RELIEF.names) and len(os.fsencode(name)) <= 255 for name in names.values())


# ----------------------------------------------------------------------------------------------- stopped for real


def started(*words, **options) -> subprocess.Popen:
    command = [sys.executable, "-m", "flatten", *map(str, words)]
    env = {**os.environ, "PYTHONPATH": str(ROOT), **options.pop("env", {})}
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "cwd": ROOT}
    return subprocess.Popen(command, env=env, **quiet, **options)


def test_kill_9_at_any_moment_leaves_the_old_output_or_the_new(tmp_path, mesh):
    """At moments spread over the whole run, and again and again while the files take their places."""
    out = tmp_path / "out"
    out.mkdir()
    for name, data in {"notes.txt": b"mine", "seat.toml": b"mine"}.items():
        (out / name).write_bytes(data)
    begin = time.monotonic()
    assert started("flatten", mesh, "--out", out).wait() == 0
    lasts = time.monotonic() - begin
    (out / "flat.ply").write_bytes(b"with my remarks")
    chance = random.Random(1)
    for k in range(12):
        child = started("flatten", mesh, "--out", out, "--budget", str(k + 1))
        end = time.monotonic() + lasts * chance.random()
        if k % 2:
            while child.poll() is None and not (out / STAGING).exists():
                time.sleep(0.0002)
            end = time.monotonic() + 0.02 * chance.random()
        while child.poll() is None and time.monotonic() < end:
            time.sleep(0.0005)
        child.kill()
        child.wait()
        left = content_of(out)
        assert left["notes.txt"] == left["seat.toml"] == b"mine"
        assert b"with my remarks" in left.values()
        if "report.json" in left:
            json.loads(left["report.json"])
    assert started("flatten", mesh, "--out", out).wait() == 0
    assert is_whole(out, "flatten")
    assert {p.name for p in out.iterdir()} == {
        "flat (kept 1).ply",
        "flat.ply",
        "report.json",
        "notes.txt",
        "seat.toml",
        manifest_name("flatten"),
    }


@pytest.mark.skipif(not hasattr(resource, "RLIMIT_FSIZE"), reason="room is limited by the system")
def test_a_full_disk_leaves_everything_as_it_was(job, mesh, tmp_path):
    shutil.copytree(job, tmp_path / "before")

    def little_room() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))

    for words in (
        ("make", job / "seat.toml", "--out", job, "--no-pictures"),
        ("flatten", mesh, "--out", tmp_path / "flat"),
    ):
        assert started(*words, preexec_fn=little_room).wait() == 2
    assert content_of(job) == content_of(tmp_path / "before")
    assert not (tmp_path / "flat").exists()


def test_what_a_killed_run_left_in_the_temporary_folder_goes_with_the_next(job, tmp_path):
    (tmp_path / "temporary").mkdir()
    here = {"TMPDIR": str(tmp_path / "temporary")}
    child = started("make", job / "seat.toml", "--out", job, env=here, start_new_session=True)
    while child.poll() is None and not any((tmp_path / "temporary").glob(".trimloft-work-*/*.npz")):
        time.sleep(0.002)
    # The process that draws goes too: it is not what is tried here.
    os.killpg(child.pid, signal.SIGKILL)
    child.wait()
    assert any((tmp_path / "temporary").glob(".trimloft-work-*/*"))
    assert started("--help", env=here).wait() == 0
    assert not list((tmp_path / "temporary").glob(".trimloft-work-*"))
