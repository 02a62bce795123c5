"""What every command prints: its words, nothing with --quiet, and JSON alone with --json; and its exit codes."""

import json
import sys
from dataclasses import replace

import pytest

from flatten.app import cli
from flatten.app.options import DrawingOptions, MeshLimit, MeshOptions, Running
from flatten.app.progress import FORETOLD_S, foretold, progress
from flatten.app.stopping import SIGNALS, Stopped
from flatten.leather.verdict import Verdict
from flatten.sections.section import cut_pad
from meshes.base.problems import Problem, ProblemError
from meshes.intake.mesh_file import ply_bytes
from tests import shapes
from tests.running import SHEET
from tests.samples import sample_job

QUIET = Running(quiet=True)
WAYS = {"plain": {}, "quiet": {"telling": QUIET}, "json": {"telling": Running(json=True)}}


@pytest.fixture
def sheet(tmp_path):
    path = tmp_path / "seat.toml"
    path.write_text(SHEET)
    return path


@pytest.fixture
def made(monkeypatch):
    """The job is a finished one; commands get it whatever their sheet."""
    jobs = [sample_job()]
    monkeypatch.setattr("flatten.hides.parted.make_for_hides", lambda asked, **_: jobs[-1])
    return jobs


@pytest.fixture
def mesh(tmp_path):
    path = tmp_path / "panel.ply"
    vertices, triangles = shapes.cone(cells=(24, 5))
    path.write_bytes(ply_bytes(vertices, triangles))
    return path


def printed(way, out, place=None):
    """Hold what stands on standard output to the way that was asked for."""
    if way == "quiet":
        assert out == ""
    elif way == "json":
        assert isinstance(json.loads(out), dict | list)
    else:
        assert len(out) > 40
        assert not out.startswith("{")
        if place is not None:
            assert f"written: {place}" in out


@pytest.mark.parametrize("way", WAYS)
def test_check_prints_as_asked(way, sheet, made, capsys):
    assert cli.check(sheet, **WAYS[way]) == 0
    printed(way, capsys.readouterr().out)


@pytest.mark.parametrize("way", WAYS)
def test_make_prints_as_asked_and_writes_all_the_same(way, sheet, made, capsys, tmp_path):
    assert cli.make(sheet, out=tmp_path / "out", drawing=DrawingOptions(pictures=False), **WAYS[way]) == 0
    printed(way, capsys.readouterr().out, tmp_path / "out")
    assert (tmp_path / "out" / "report.json").exists()
    assert not list((tmp_path / "out").glob("*.png"))


@pytest.mark.parametrize("way", WAYS)
def test_flatten_prints_as_asked(way, mesh, capsys, tmp_path):
    assert cli.flatten_mesh(mesh, out=tmp_path / "flat", asked=MeshOptions(budget=5.0), **WAYS[way]) == 0
    printed(way, capsys.readouterr().out, tmp_path / "flat")


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    path = tmp_path_factory.mktemp("cut") / "seat.toml"
    path.write_text(SHEET)
    return cut_pad(path, "cushion", along=0.0, across=None)


@pytest.mark.parametrize("way", WAYS)
def test_section_prints_as_asked_with_a_folder_and_without(way, sheet, found, monkeypatch, capsys, tmp_path):
    monkeypatch.setattr("flatten.sections.section.cut_pad", lambda *given, **more: found)
    assert cli.section(sheet, pad="cushion", along=0.0, **WAYS[way]) == 0
    out = capsys.readouterr().out
    printed(way, out)
    assert "written" not in out
    assert cli.section(sheet, pad="cushion", along=0.0, out=tmp_path / "cut", **WAYS[way]) == 0
    printed(way, capsys.readouterr().out, tmp_path / "cut")
    assert any((tmp_path / "cut").iterdir())


@pytest.mark.parametrize("way", WAYS)
def test_relief_of_a_mesh_prints_as_asked(way, mesh, capsys):
    assert cli.relief(mesh, limit=MeshLimit(budget=5.0), **WAYS[way]) == 0
    printed(way, capsys.readouterr().out)


def test_only_strict_and_tight_together_are_told_by_the_exit_code(sheet, made, capsys):
    def with_verdict(verdict):
        job = sample_job()
        flats = {n: replace(f, judgement=replace(f.judgement, verdict=verdict)) for n, f in job.flats.items()}
        return replace(job, flats=flats)

    for verdict, code in ((Verdict.FITS, 0), (Verdict.EASE, 0), (Verdict.TIGHT, 3), (Verdict.PROVEN, 3)):
        made.append(with_verdict(verdict))
        assert cli.check(sheet, telling=QUIET) == 0
        assert cli.check(sheet, telling=QUIET, strict=True) == code
    # One piece of many is enough.
    one = with_verdict(Verdict.FITS)
    name = next(iter(one.flats))
    tight = replace(one.flats[name], judgement=replace(one.flats[name].judgement, verdict=Verdict.TIGHT))
    made.append(replace(one, flats={**one.flats, name: tight}))
    assert cli.check(sheet, telling=QUIET, strict=True) == 3


def test_problems_are_told_on_the_other_stream_but_not_beside_json(sheet, made, capsys):
    told = Problem("G999", "here", "something to mind", warning=True)
    made.append(replace(sample_job(), problems=(told,)))
    for way, seen in (("plain", True), ("quiet", True), ("json", False)):
        cli.check(sheet, **WAYS[way])
        streams = capsys.readouterr()
        assert (str(told) in streams.err) == seen
        assert str(told) not in streams.out or way == "json"


@pytest.mark.parametrize("number", SIGNALS)
def test_a_signal_ends_with_128_and_its_number(number):
    assert Stopped(number).exit_code == 128 + int(number)


@pytest.fixture
def terminal(monkeypatch, capsys):
    """A function that makes standard error a terminal, and gives what was written on it since it was last called."""
    monkeypatch.setenv("TERM", "xterm")

    def written():
        monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
        return capsys.readouterr().err

    return written


def test_a_bar_counts_what_is_done_of_how_many_and_goes_away(terminal):
    terminal()
    with progress() as say:
        say("flat maps", 3, 7)
    text = terminal()
    assert "flat maps" in text
    assert "3/7" in text
    # A cursor moved up and a line erased: nothing of the bar stays (ECMA-48, CUU and EL).
    assert "\x1b[1A" in text
    assert "\x1b[2K" in text


def test_work_of_unknown_length_has_no_number_to_reach(terminal):
    terminal()
    with progress() as say:
        say("searching", 4, 0)
    assert "4/?" in terminal()


def test_nothing_moves_where_quiet_is_asked_for_or_nobody_looks(terminal, monkeypatch):
    terminal()
    with progress(quiet=True) as say:
        say("flat maps", 3, 7)
    assert terminal() == ""
    monkeypatch.setattr(sys.stderr, "isatty", lambda: False)
    with progress() as say:
        say("flat maps", 3, 7)
    assert terminal() == ""


@pytest.mark.parametrize("way", WAYS)
def test_only_plain_commands_move_a_bar(way, sheet, mesh, made, terminal, tmp_path):
    terminal()
    cli.check(sheet, **WAYS[way])
    cli.make(sheet, out=tmp_path / "out", drawing=DrawingOptions(pictures=False), **WAYS[way])
    cli.flatten_mesh(mesh, out=tmp_path / "flat", **WAYS[way])
    cli.relief(mesh, limit=MeshLimit(budget=5.0), **WAYS[way])
    assert ("\x1b[" in terminal()) == (way == "plain")


def test_only_long_work_is_foretold(sheet, terminal, monkeypatch):
    class Found:
        seconds = FORETOLD_S

        def __str__(self):
            return "some work"

    monkeypatch.setattr("flatten.machine.estimate.estimate_of", lambda read: Found())
    terminal()
    assert foretold(sheet).name == "small seat"
    assert terminal() == ""
    Found.seconds = 1.01 * FORETOLD_S
    foretold(sheet, quiet=True)
    assert terminal() == ""
    foretold(sheet)
    assert terminal().count("some work") == 1


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ({"strict": True}, "C102"),
        ({"strict": True, "asked": MeshOptions(budget=5.0)}, ""),
        ({"asked": MeshOptions(budget=5.0)}, ""),
    ],
)
def test_strict_needs_something_to_hold_a_piece_to(words, code, mesh, tmp_path, capsys):
    if code:
        with pytest.raises(ProblemError) as refused:
            cli.flatten_mesh(mesh, out=tmp_path / "flat", **words)
        assert [problem.code for problem in refused.value.problems] == [code]
        assert not (tmp_path / "flat").exists()
    else:
        assert cli.flatten_mesh(mesh, out=tmp_path / "flat", **words) == 0


def test_a_piece_that_is_too_tight_is_told_by_the_exit_code_where_strict_is_asked_for(tmp_path, capsys):
    vertices, triangles = shapes.cap(1.0, rings=8)
    path = tmp_path / "cap.ply"
    path.write_bytes(ply_bytes(vertices, triangles))
    assert cli.flatten_mesh(path, out=tmp_path / "flat", asked=MeshOptions(budget=0.5), telling=QUIET) == 0
    assert cli.flatten_mesh(path, out=tmp_path / "flat", asked=MeshOptions(budget=0.5), telling=QUIET, strict=True) == 3
