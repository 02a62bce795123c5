"""Standard output that cannot show every sign, is full, closed, or has lost its reader."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.running import LIMIT_S, ROOT, SHEET


@pytest.fixture(scope="module")
def sheet(tmp_path_factory):
    path = tmp_path_factory.mktemp("sheet") / "seat.toml"
    path.write_text(SHEET.replace("small seat", "Sitz für Zoë, 5° × 2 m²"), encoding="utf-8")
    return path


def run(*words, coding="utf-8", **more):
    env = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": coding}
    command = [sys.executable, "-m", "flatten", *map(str, words)]
    return subprocess.run(command, env=env, timeout=LIMIT_S, check=False, stderr=subprocess.PIPE, **more)


def test_text_without_signs_beyond_ascii(sheet):
    plain = run("check", sheet, coding="ascii", stdout=subprocess.PIPE)
    assert plain.returncode == 0, plain.stderr
    assert b"Sitz f\\u00fcr Zo\\u00eb, 5 deg x 2 m2" in plain.stdout
    assert plain.stdout.isascii()


def test_json_means_the_same_whatever_the_stream_can_show(sheet):
    reports = []
    for coding in ("ascii", "utf-8"):
        done = run("check", sheet, "--json", coding=coding, stdout=subprocess.PIPE)
        assert done.returncode == 0, done.stderr
        reports.append(json.loads(done.stdout.decode(coding)))
    assert [pad["name"] for pad in reports[0]["pads"]] == [pad["name"] for pad in reports[1]["pads"]]
    assert reports[0].get("name") == reports[1].get("name")


def test_a_file_name_that_is_no_text_can_be_told(tmp_path):
    done = run("start", tmp_path / os.fsdecode(b"\xff.toml"), stdout=subprocess.PIPE)
    assert done.returncode == 0, done.stderr
    assert ".toml written" in done.stdout.decode()
    prepared = "from flatten.app.streams import prepare; prepare(); "
    code = prepared + "print(chr(0xdcff), chr(0x1f6a4), chr(0xb0))"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, cwd=ROOT, timeout=LIMIT_S, check=True)
    assert told.stdout.decode().startswith("\\udcff ")


def test_too_little_memory_is_a_numbered_problem():
    code = (
        "import sys; from flatten.app import cli\ndef greedy(**more): raise MemoryError\ncli.app = greedy; cli.main()\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, cwd=ROOT, timeout=LIMIT_S, check=False)
    assert done.returncode == 2
    assert done.stderr.startswith(b"W102 ")
    assert done.stderr.count(b"\n") == 1


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no full device")
def test_a_full_disk_is_a_numbered_problem(sheet):
    with open("/dev/full", "wb") as full:
        done = run("check", sheet, stdout=full)
    assert done.returncode == 2
    last = done.stderr.decode().splitlines()[-1]
    assert last.startswith("P005 standard output: ")
    assert b"Traceback" not in done.stderr


def test_a_reader_that_has_gone_away_ends_it_quietly(sheet):
    reading, writing = os.pipe()
    os.close(reading)
    with os.fdopen(writing, "wb") as pipe:
        done = run("check", sheet, "--json", stdout=pipe)
    assert done.returncode == 141
    assert done.stderr == b""


@pytest.mark.parametrize("closed", [(1,), (0, 1, 2)])
def test_closed_streams_do_no_harm(sheet, closed, tmp_path):
    shut = " ".join(f"{number}>&-" for number in closed)
    words = f'"{sys.executable}" -m flatten make "{sheet}" --out "{tmp_path / "out"}" --no-pictures {shut}'
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    assert subprocess.run(["sh", "-c", words], env=env, timeout=LIMIT_S, check=False).returncode == 0
    assert (tmp_path / "out" / "report.json").exists()
