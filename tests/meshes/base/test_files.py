"""Writing whole or not at all: nothing that stops the program leaves half a file or half a folder.

Stopping is done for real: a child process is killed by a signal before every single line that it runs of the writing
itself and of the library that moves and removes folders, and what it leaves behind is looked at each time.
"""

import os
import resource
import shutil
import signal
import stat
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from meshes.base import files
from meshes.base.files import number, write_file, write_folder
from meshes.base.problems import ProblemError

OLD = {"report.json": b"old", "patterns.pdf": b"old pages", "old only.txt": b"1"}
NEW = {"report.json": b"new", "patterns.pdf": b"new pages" * 1000, "pictures/front.png": b"2"}
needs_fork = pytest.mark.skipif(not hasattr(os, "fork"), reason="a child is killed by a signal")


# Files whose lines are places to be killed at.
WATCHED = {files.__file__, shutil.__file__, __file__}


def fill(folder: Path, content: dict[str, bytes]) -> None:
    for name, data in content.items():
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_bytes(data)


def lay_out(out: Path, content: dict[str, bytes] | None) -> None:
    """Have exactly this content in a folder, or no folder."""
    if out.exists() and content_of(out) != content:
        shutil.rmtree(out)
    if content is not None:
        out.mkdir(exist_ok=True)
        fill(out, content)


def content_of(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def hidden(folder: Path) -> list[str]:
    return [p.name for p in folder.iterdir() if p.name.startswith(".")]


def write_new(out: Path) -> None:
    with write_folder(out) as folder:
        fill(folder, NEW)


def tidied_by_another_run(out: Path) -> None:
    """Whatever a killed run left lying is gone after the next run, even one that comes to nothing."""
    with pytest.raises(KeyboardInterrupt), write_folder(out):
        raise KeyboardInterrupt
    assert hidden(out.parent) == []


def killed_at(line: int, work: Callable[[], None]) -> bool:
    """Run `work` in a child that kills itself before the given watched line; False when it ended before that."""
    child = os.fork()
    if child == 0:
        count = 0

        def trace(frame, event, argument):
            nonlocal count
            if frame.f_code.co_filename not in WATCHED:
                return None
            if event == "line":
                if count == line:
                    os.kill(os.getpid(), signal.SIGKILL)
                count += 1
            return trace

        # Whatever happens in the child must not run into the test runner's own code.
        try:
            sys.settrace(trace)
            work()
            sys.settrace(None)
            os._exit(0)
        finally:
            os._exit(1)
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        assert os.WTERMSIG(status) == signal.SIGKILL
        return True
    assert os.WEXITSTATUS(status) == 0, "the child failed before it was killed"
    return False


@needs_fork
@pytest.mark.parametrize("before", [OLD, None], ids=["over an old folder", "where nothing was"])
def test_a_folder_is_whole_wherever_the_program_is_killed(tmp_path, before):
    out = tmp_path / "out"
    seen = []
    for line in range(100_000):
        lay_out(out, before)
        if not killed_at(line, lambda: write_new(out)):
            break
        left = content_of(out) if out.exists() else None
        assert left in (before, NEW), f"killed at line {line}"
        seen.append(left == NEW)
        tidied_by_another_run(out)
    assert content_of(out) == NEW
    # Both states were met, the new one only after the old one: there is one moment of change.
    assert seen == sorted(seen)
    assert seen[0] is False
    assert seen[-1] is True
    assert len(seen) > 50
    assert hidden(tmp_path) == []


@needs_fork
def test_without_exchange_the_next_run_puts_the_old_folder_back(tmp_path, monkeypatch):
    """Where names cannot be exchanged in one step there is an instant without a folder; any next run mends it."""
    monkeypatch.setattr(files, "_renameat2", lambda: None)
    out = tmp_path / "out"
    gaps = 0
    for line in range(100_000):
        lay_out(out, OLD)
        if not killed_at(line, lambda: write_new(out)):
            break
        gaps += not out.exists()
        tidied_by_another_run(out)
        assert content_of(out) in (OLD, NEW), f"killed at line {line}"
    assert gaps >= 1, "the instant between the two renames was met"
    assert content_of(out) == NEW


@needs_fork
def test_a_file_is_whole_wherever_the_program_is_killed(tmp_path):
    path = tmp_path / "sheet.toml"
    seen = []
    for line in range(100_000):
        path.write_bytes(b"old")
        if not killed_at(line, lambda: write_file(path, b"new" * 10_000)):
            break
        seen.append(path.read_bytes())
        assert seen[-1] in (b"old", b"new" * 10_000)
    assert seen[0] == b"old"
    assert seen[-1] == path.read_bytes() == b"new" * 10_000
    assert len(seen) > 20
    assert hidden(tmp_path) == []


def test_a_folder_is_seen_whole_by_others_all_the_time(tmp_path):
    """Another program that looks at the folder again and again never finds it missing."""
    if files._renameat2() is None:
        pytest.skip("this system cannot exchange two names")
    out = tmp_path / "out"
    out.mkdir()
    fill(out, OLD)
    done = threading.Event()
    missing = []

    def look() -> None:
        while not done.is_set():
            try:
                (out / "report.json").stat()
            except FileNotFoundError:
                missing.append(True)

    watcher = threading.Thread(target=look)
    watcher.start()
    for _ in range(30):
        write_new(out)
    done.set()
    watcher.join()
    assert not missing


def raise_after(work: Callable[[], None], fault: BaseException) -> None:
    work()
    raise fault


@pytest.mark.parametrize("fault", [RuntimeError, KeyboardInterrupt, ProblemError])
def test_a_fault_on_the_way_leaves_everything_as_it_was(tmp_path, fault):
    out = tmp_path / "deep" / "out"
    out.mkdir(parents=True)
    fill(out, OLD)
    with pytest.raises(fault), write_folder(out) as folder:
        raise_after(lambda: fill(folder, NEW), fault([]))
    assert content_of(out) == OLD
    assert hidden(out.parent) == []


def test_a_fault_on_the_way_leaves_no_new_folders(tmp_path):
    with pytest.raises(RuntimeError), write_folder(tmp_path / "a" / "b" / "out"):
        raise RuntimeError
    assert list(tmp_path.iterdir()) == []


def test_folders_above_are_made(tmp_path):
    write_new(tmp_path / "a" / "b" / "out")
    assert content_of(tmp_path / "a" / "b" / "out") == NEW


def test_an_old_output_is_replaced_and_an_empty_folder_used(tmp_path):
    for name, before in (("old", OLD), ("empty", {})):
        (tmp_path / name).mkdir()
        fill(tmp_path / name, before)
        write_new(tmp_path / name)
        assert content_of(tmp_path / name) == NEW
    assert hidden(tmp_path) == []


def test_a_folder_behind_a_link_is_replaced_and_the_link_stays(tmp_path):
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    write_new(tmp_path / "link")
    assert (tmp_path / "link").is_symlink()
    assert content_of(tmp_path / "real") == NEW


def test_names_with_odd_characters(tmp_path):
    for name in ("out [1]", "a*b?", "ü ber", "-x"):
        write_new(tmp_path / name)
        write_new(tmp_path / name)
        assert content_of(tmp_path / name) == NEW
    assert hidden(tmp_path) == []


def test_files_and_folders_have_the_usual_permissions(tmp_path):
    usual = os.umask(0o027)
    try:
        write_new(tmp_path / "out")
        write_file(tmp_path / "sheet.toml", b"x")
    finally:
        os.umask(usual)
    assert stat.S_IMODE((tmp_path / "out").stat().st_mode) == 0o750
    assert stat.S_IMODE((tmp_path / "sheet.toml").stat().st_mode) == 0o640


def test_a_folder_of_someone_else_is_refused(tmp_path):
    (tmp_path / "letters.txt").write_text("mine")
    with pytest.raises(ProblemError) as caught:
        write_new(tmp_path)
    assert caught.value.problems[0].code == "P003"
    assert "report.json" in str(caught.value)
    assert content_of(tmp_path) == {"letters.txt": b"mine"}


def test_a_folder_that_fills_up_meanwhile_is_refused(tmp_path):
    out = tmp_path / "out"

    def meanwhile(folder: Path) -> None:
        fill(folder, NEW)
        out.mkdir()
        (out / "letters.txt").write_text("mine")

    with pytest.raises(ProblemError) as caught, write_folder(out) as folder:
        meanwhile(folder)
    assert caught.value.problems[0].code == "P003"
    assert content_of(out) == {"letters.txt": b"mine"}


def test_a_file_in_place_of_the_folder_and_the_other_way_round(tmp_path):
    (tmp_path / "file").write_text("mine")
    with pytest.raises(ProblemError) as caught:
        write_new(tmp_path / "file")
    assert caught.value.problems[0].code == "P002"
    assert (tmp_path / "file").read_text() == "mine"
    with pytest.raises(ProblemError) as caught:
        write_file(tmp_path, b"x")
    assert caught.value.problems[0].code == "P001"


@pytest.mark.parametrize("place", ["file/out", "file/deep/out"])
def test_a_place_that_cannot_be_written(tmp_path, place):
    (tmp_path / "file").write_text("mine")
    for write in (lambda p: write_new(p), lambda p: write_file(p, b"x")):
        with pytest.raises(ProblemError) as caught:
            write(tmp_path / place)
        assert caught.value.problems[0].code == "P004"
        assert "permissions" in str(caught.value)
    assert content_of(tmp_path) == {"file": b"mine"}


@needs_fork
def test_a_full_disk_leaves_the_old_folder(tmp_path):
    """No room is imitated by the system's own limit on the size of a file, in a child."""
    out = tmp_path / "out"
    out.mkdir()
    fill(out, OLD)
    child = os.fork()
    if child == 0:
        try:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (2000, 2000))
            try:
                write_new(out)
            except ProblemError as refused:
                os._exit(10 if refused.problems[0].code == "P004" else 11)
        finally:
            os._exit(1)
    _, status = os.waitpid(child, 0)
    assert os.WEXITSTATUS(status) == 10
    assert content_of(out) == OLD
    assert hidden(tmp_path) == []


def test_a_fault_of_the_work_itself_is_not_called_a_problem_of_the_disk(tmp_path):
    with pytest.raises(FileNotFoundError), write_folder(tmp_path / "out"):
        (tmp_path / "a missing picture").read_bytes()


def test_folders_of_a_living_run_are_left_alone(tmp_path):
    with write_folder(tmp_path / "out") as first:
        fill(first, NEW)
        with write_folder(tmp_path / "out") as second:
            fill(second, OLD)
        assert content_of(tmp_path / "out") == OLD
        assert content_of(first) == NEW
    assert content_of(tmp_path / "out") == NEW


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
