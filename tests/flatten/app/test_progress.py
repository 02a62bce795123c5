"""Progress: on a terminal only, and for every long command."""

import os
import sys

import pytest
import rich.progress

from flatten.app import progress as app_progress
from flatten.app.cli import app
from flatten.machine import workers
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
    sheet.write_text(SHEET.replace("mesh = 20", "mesh = 1"))
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    app_progress.foretold(sheet)
    assert "triangles, " in capsys.readouterr().err
    app_progress.foretold(sheet, quiet=True)
    assert capsys.readouterr().err == ""


COMMANDS = {
    "make": ("make", "SHEET", "--out", "OUT", "--no-pictures"),
    "check": ("check", "SHEET"),
    "view": ("view", "SHEET", "--save", "OUT.png"),
    "relief": ("relief", "SHEET", "--apply"),
}


@pytest.fixture
def pools(monkeypatch):
    """The pools of workers that were made."""
    made, begin = [], workers.WorkerPool.__init__

    def counted(pool, count):
        begin(pool, count)
        made.append(pool)

    monkeypatch.setattr(workers.WorkerPool, "__init__", counted)
    return made


@pytest.fixture
def at_a_terminal(sheet, tmp_path, monkeypatch, capsys):
    """A function that does a command in this process as if at a terminal, for which no work is too short for a line
    beforehand; returns what stood on stderr, every stage of the bar on a line."""
    monkeypatch.setattr(app_progress, "FORETOLD_S", 0.0)
    # A bar is painted ten times a second, and skips what is shorter.
    told = lambda bar, task, *, description, **figures: print(description, file=sys.stderr)  # noqa: E731
    monkeypatch.setattr(rich.progress.Progress, "update", told)

    def do(words):
        sheet.write_text(SHEET.replace("mesh = 20", "mesh = 35"))
        monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
        given = {"SHEET": str(sheet), "OUT": str(tmp_path / "out"), "OUT.png": str(tmp_path / "seat.png")}
        code = app([given.get(word, word) for word in words], exit_on_error=False, result_action="return_value")
        assert not code
        return capsys.readouterr().err

    return do


@pytest.mark.parametrize("name", COMMANDS)
def test_a_long_command_foretells_its_work_once_shows_it_and_has_one_pool_of_workers(name, at_a_terminal, pools):
    shown = at_a_terminal(COMMANDS[name])
    assert shown.count(" triangles, ") == 1
    assert shown.index(" triangles, ") < shown.index("trying what the pieces pull with")
    assert len(pools) == 1


def test_a_section_shows_its_stages_and_has_one_pool_of_workers(at_a_terminal, pools):
    shown = at_a_terminal(("section", "SHEET", "--pad", "cushion", "--along", "0"))
    assert "trying what the pieces pull with" in shown
    assert "cutting the pad open" in shown
    assert len(pools) == 1
