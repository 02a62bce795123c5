"""Writing a file whole or not at all: nothing that stops the program leaves half a file."""

import os
import stat

import pytest
from hypothesis import given
from hypothesis import strategies as st

from meshes.base import files
from meshes.base.files import number, shown_name, write_file
from meshes.base.problems import ProblemError
from tests.kills import killed_at, needs_fork

WATCHED = {files.__file__, __file__}


@needs_fork
@pytest.mark.parametrize("new", [False, True])
def test_a_file_is_whole_wherever_the_program_is_killed(tmp_path, new):
    path = tmp_path / "sheet.toml"
    data = b"new" * 10_000
    seen = []
    for line in range(100_000):
        path.unlink(missing_ok=True)
        if not new:
            path.write_bytes(b"old")
        if not killed_at(line, lambda: write_file(path, data, new=new), WATCHED):
            break
        seen.append(path.read_bytes() if path.exists() else None)
        assert seen[-1] in (None if new else b"old", data)
    assert seen[0] == (None if new else b"old")
    assert seen[-1] == path.read_bytes() == data
    assert len(seen) > 20
    # What killed runs left is gone with the last one, which came to its end.
    assert os.listdir(tmp_path) == ["sheet.toml"]


def test_a_file_has_the_usual_permissions(tmp_path):
    usual = os.umask(0o027)
    try:
        write_file(tmp_path / "sheet.toml", b"x")
    finally:
        os.umask(usual)
    assert stat.S_IMODE((tmp_path / "sheet.toml").stat().st_mode) == 0o640


@pytest.mark.parametrize("stands", ["file", "folder", "link to nothing"])
def test_a_new_file_takes_nothing_away(tmp_path, stands):
    path = tmp_path / "sheet.toml"
    if stands == "file":
        path.write_bytes(b"mine")
    elif stands == "folder":
        path.mkdir()
    else:
        path.symlink_to(tmp_path / "elsewhere")
    before = os.lstat(path)
    with pytest.raises(FileExistsError):
        write_file(path, b"ours", new=True)
    assert os.lstat(path).st_ino == before.st_ino
    assert os.listdir(tmp_path) == ["sheet.toml"]


def test_a_new_file_where_files_have_one_name_only(tmp_path, monkeypatch):
    def refused(*_):
        raise PermissionError(1, "no second names")

    monkeypatch.setattr(os, "link", refused)
    write_file(tmp_path / "a", b"ours", new=True)
    with pytest.raises(FileExistsError):
        write_file(tmp_path / "a", b"again", new=True)
    assert (tmp_path / "a").read_bytes() == b"ours"


def test_names_as_long_as_names_can_be(tmp_path):
    path = tmp_path / ("x" * 255)
    write_file(path, b"old")
    write_file(path, b"new")
    assert path.read_bytes() == b"new"
    with pytest.raises(ProblemError, match="P004"):
        write_file(tmp_path / ("x" * 256), b"")


def test_what_a_living_run_writes_and_what_others_named_alike_stays(tmp_path):
    theirs = [f".trimloft-part-{os.getpid()}-0a0a", ".trimloft-part-notes", ".trimloft-part-"]
    for name in theirs:
        (tmp_path / name).write_bytes(b"x")
    (tmp_path / ".trimloft-part-99999999-0a0a").write_bytes(b"of a run that is no more")
    write_file(tmp_path / "a", b"x")
    assert sorted(os.listdir(tmp_path)) == sorted([*theirs, "a"])


def test_a_folder_in_place_of_the_file(tmp_path):
    with pytest.raises(ProblemError) as caught:
        write_file(tmp_path, b"x")
    assert caught.value.problems[0].code == "P001"


@pytest.mark.parametrize("place", ["file/out", "file/deep/out", "nothing/out", "read-only/out", "nul\0"])
def test_a_place_that_cannot_be_written(tmp_path, place):
    (tmp_path / "file").write_text("mine")
    (tmp_path / "read-only").mkdir()
    # Held to by those too who may do everything.
    (tmp_path / "read-only").chmod(0o555)
    for new in (False, True):
        with pytest.raises(ProblemError) as caught:
            write_file(tmp_path / place, b"x", new=new)
        assert caught.value.problems[0].code == "P004"
        assert "permissions" in str(caught.value)
    assert sorted(os.listdir(tmp_path)) == ["file", "read-only"]
    assert os.listdir(tmp_path / "read-only") == []


@given(st.text(max_size=50) | st.binary(max_size=50).map(os.fsdecode))
def test_a_name_is_shown_on_one_line_and_nothing_in_it_is_obeyed(name):
    shown = shown_name(name)
    assert shown.isprintable()
    shown.encode()
    if name.isprintable():
        assert shown == name


def test_what_cannot_be_printed_is_shown_as_an_escape():
    assert shown_name("a\nb\x1b[31m\u202e" + os.fsdecode(b"\xff")) == "a\\nb\\x1b[31m\\u202e\\xff"


@pytest.mark.parametrize(
    ("x", "places", "text"),
    [
        (1.0, 3, "1"),
        (1.25, 3, "1.25"),
        (-0.0, 2, "0"),
        (-0.001, 2, "0"),
        (0.001, 2, "0"),
        (100.0, 0, "100"),
        (1e-9, 12, "0.000000001"),
        (123456.789, 1, "123456.8"),
        (-2.5, 3, "-2.5"),
    ],
)
def test_numbers(x, places, text):
    assert number(x, places) == text


@given(st.floats(-1e9, 1e9), st.integers(0, 9))
def test_numbers_are_near_and_stable(x, places):
    text = number(x, places)
    assert abs(float(text) - x) <= 0.5 * 10.0**-places * (1 + 1e-6) + abs(x) * 1e-15
    assert number(float(text), places) == text
    assert text != "-0"
    assert "e" not in text


@pytest.mark.parametrize("x", [float("nan"), float("inf")])
def test_what_is_no_number_is_never_written(x):
    with pytest.raises(ValueError):
        number(x, 3)
