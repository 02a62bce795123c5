"""Progress: on a terminal only, and for every long command."""

import os
import sys

import pytest

from tests import shapes
from tests.running import ROOT, SHEET

pty = pytest.importorskip("pty")


def on_a_terminal(*words):
    """What a command shows on a terminal, and its exit code."""
    number, screen = pty.fork()
    if number == 0:
        os.environ |= {"PYTHONPATH": str(ROOT), "TERM": "xterm", "COLUMNS": "160"}
        os.execv(sys.executable, [sys.executable, "-m", "flatten", *map(str, words)])
    shown = b""
    try:
        while part := os.read(screen, 65536):
            shown += part
    except OSError:
        pass  # How the end of a terminal reads on Linux.
    os.close(screen)
    return shown.decode(), os.waitstatus_to_exitcode(os.waitpid(number, 0)[1])


@pytest.fixture
def mesh(tmp_path):
    import trimesh

    path = tmp_path / "panel.ply"
    trimesh.Trimesh(*shapes.cone(), process=False).export(path)
    return path


@pytest.fixture
def sheet(tmp_path):
    path = tmp_path / "seat.toml"
    path.write_text(SHEET)
    return path


def test_flatten_shows_its_steps_on_a_terminal(mesh, tmp_path):
    shown, code = on_a_terminal("flatten", mesh, "--out", tmp_path / "out")
    assert code == 0, shown
    assert "least energy" in shown
    quiet, code = on_a_terminal("flatten", mesh, "--out", tmp_path / "quiet", "--quiet")
    assert (quiet, code) == ("", 0)


def test_check_shows_its_stages_and_foretells_long_work_only(sheet):
    shown, code = on_a_terminal("check", sheet)
    assert code == 0, shown
    assert "building the pads" in shown
    assert "triangles, " not in shown.split("building the pads")[0]


def test_long_work_is_foretold_on_a_terminal(sheet, monkeypatch, capsys):
    from flatten.app import progress

    sheet.write_text(SHEET.replace("mesh = 20", "mesh = 1"))
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    progress.foretold(sheet)
    assert "triangles, " in capsys.readouterr().err
    progress.foretold(sheet, quiet=True)
    assert capsys.readouterr().err == ""
