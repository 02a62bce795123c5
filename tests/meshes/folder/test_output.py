"""An output folder: what its manifest lists is whole whatever stops the program, and nothing else is ever touched.

Stopping is done for real: a child process is killed by a signal before every single line that it runs of the writing,
and what it leaves behind, and what the next run makes of it, are looked at each time.
"""

import errno
import json
import os
import resource
import shutil
import signal
import stat
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path

import pytest

from meshes.base import files
from meshes.base.problems import ProblemError
from meshes.folder import lock, manifest, output, staging
from meshes.folder.manifest import is_whole, manifest_name, read_manifest
from meshes.folder.output import Writer, output_folder
from meshes.folder.report_head import json_text
from tests.kills import killed_at, needs_fork

MAKE = Writer("make", "trimloft make", ("report.json", "patterns.pdf", "padding.svg", "seat *.png"))
CUT = Writer("cut", "trimloft cut", ("cut.svg",))
FLAT = Writer("flat", "trimloft flat", ("report.json", "flat.ply"))
OLD = {"report.json": b"old", "patterns.pdf": b"old pages", "padding.svg": b"old padding"}
NEW = {"report.json": b"new", "patterns.pdf": b"new pages" * 1000, "seat front.png": b"2"}
MINE = {"sheet.toml": b"my sheet", "photos/bench.jpg": b"my photograph", "notes.txt": b"my notes"}
# Files whose lines are places to be killed at: all that change anything.
WATCHED = {m.__file__ for m in (files, lock, output, staging)} | {__file__}


def write(out: Path, content: dict[str, bytes], writer: Writer = MAKE):
    with output_folder(out, writer) as folder:
        return folder.write(content)


def fill(folder: Path, content: dict[str, bytes]) -> None:
    for name, data in content.items():
        (folder / name).parent.mkdir(exist_ok=True, parents=True)
        (folder / name).write_bytes(data)


def content_of(folder: Path) -> dict[str, bytes]:
    """All files but manifests and locks."""
    return {
        str(p.relative_to(folder)): p.read_bytes()
        for p in folder.rglob("*")
        if p.is_file() and p.name != lock.LOCK and not (p.name.startswith(".trimloft-") and p.suffix == ".json")
    }


def hidden(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir() if p.name.startswith("."))


def interrupted(out: Path) -> None:
    """Any next run, even one that comes to nothing."""
    with pytest.raises(KeyboardInterrupt), output_folder(out, CUT):
        raise KeyboardInterrupt


def refused(out: Path, writer: Writer = MAKE) -> str:
    """The code with which the folder is refused, before any work is done."""
    with pytest.raises(ProblemError) as caught, output_folder(out, writer):
        pytest.fail("the work began")
    (problem,) = caught.value.problems
    assert "give" in problem.text or "check" in problem.text
    assert str(problem).isprintable()
    return problem.code


# ----------------------------------------------------------------------------------------------- killed


@pytest.fixture
def quick(monkeypatch):
    """What a signal stops is in the system's hands already; only a failing machine needs it on the disk."""
    monkeypatch.setattr(os, "fsync", lambda handle: None)


def lay_out(out: Path, old: bool) -> None:
    shutil.rmtree(out, ignore_errors=True)
    out.mkdir()
    fill(out, MINE)
    if old:
        write(out, OLD)
        # The user wrote on one of them.
        (out / "patterns.pdf").write_bytes(b"with my remarks")


def test_everything_is_on_the_disk_before_the_next_step_relies_on_it(tmp_path, monkeypatch):
    """What the system was asked for, in order: a failing machine can lose whatever was not brought to the disk."""
    out = tmp_path / "out"
    lay_out(out, True)
    before = {os.lstat(p).st_ino for p in out.iterdir()}
    on_disk: dict[int, int] = {}
    asked: list[str] = []
    calls = {name: getattr(os, name) for name in ("rename", "replace")}

    def fsync(handle):
        found = os.fstat(handle)
        on_disk[found.st_ino] = found.st_size
        names = {os.stat(p).st_ino: str(p.relative_to(out)) for p in (out, *out.glob(".trimloft-new"))}
        asked.append("sync " + names.get(found.st_ino, "file"))

    def moving(name):
        def move(source, target):
            found = os.lstat(source)
            assert found.st_ino in before or on_disk.get(found.st_ino) == found.st_size, f"{source} is not on the disk"
            calls[name](source, target)
            asked.append("move " + str(Path(target).relative_to(out)))

        return move

    monkeypatch.setattr(os, "fsync", fsync)
    for name in calls:
        monkeypatch.setattr(os, name, moving(name))
    write(out, NEW)
    steps = [step for step in asked if step != "sync file"]
    staging_folder = f"sync {staging.STAGING}"
    # The journal's name, then all files and the staged manifest's; only then is anything moved into its place.
    ready = [staging_folder, "sync .", staging_folder, f"move {staging.STAGING}/manifest", staging_folder]
    assert steps[:5] == ready
    moved = {f"move {name}" for name in (*NEW, "patterns (kept 1).pdf")}
    assert set(steps[5:-4]) == moved
    # All of them are on the disk before the manifest says so, and that before the journal goes.
    assert steps[-4:] == ["sync .", f"move {manifest_name('make')}", "sync .", "sync ."]
    assert asked.index("sync file") < asked.index(staging_folder)


def killed_half_way(out: Path) -> None:
    """A run that is killed when some of its files are in place: at the second that takes its place."""
    count = 0
    replace = os.replace

    def replacing(*names):
        nonlocal count
        count += 1
        if count == 2:
            os.kill(os.getpid(), signal.SIGKILL)
        replace(*names)

    def work() -> None:
        os.replace = replacing
        write(out, NEW)

    assert killed_at(0, work, ())


@needs_fork
@pytest.mark.parametrize("links", [True, False], ids=["second names", "no second names"])
@pytest.mark.parametrize("old", [True, False], ids=["over an old output", "into a folder in use"])
def test_nothing_is_lost_and_all_is_whole_wherever_the_program_is_killed(tmp_path, monkeypatch, quick, old, links):
    if not links:

        def no_links(*_, **__):
            raise OSError(errno.EPERM, "no second names")

        monkeypatch.setattr(os, "link", no_links)
    out = tmp_path / "out"
    remarks = {b"with my remarks"} if old else set()
    seen = []
    for line in range(100_000):
        lay_out(out, old)
        if not killed_at(line, lambda: write(out, NEW), WATCHED):
            break
        left = content_of(out)
        assert MINE.items() <= left.items(), f"killed at line {line}"
        assert remarks <= set(left.values()), f"killed at line {line}"
        # Never half a file under a name that counts.
        for name in NEW:
            known = (None, OLD.get(name) if old else None, NEW[name], *remarks)
            assert left.get(name) in known, f"killed at line {line}"
        was_whole = is_whole(out, "make")
        interrupted(out)
        after = content_of(out)
        assert MINE.items() <= after.items(), f"killed at line {line}"
        assert remarks <= set(after.values()), f"killed at line {line}"
        listed = read_manifest(out, "make")
        done = listed is not None and set(listed) == set(NEW)
        if done:
            assert is_whole(out, "make"), f"killed at line {line}"
            assert NEW.items() <= after.items()
        else:
            assert after == {**MINE, **(OLD if old else {}), **({"patterns.pdf": b"with my remarks"} if old else {})}
        assert not was_whole or done
        assert hidden(out) == ([manifest_name("make")] if done or old else []), f"killed at line {line}"
        seen.append(done)
    # Both ends were met, the new one only after the old one: there is one moment from which on it is finished.
    assert seen == sorted(seen)
    assert seen[0] is False
    assert seen[-1] is True
    assert len(seen) > 100
    assert is_whole(out, "make")


@needs_fork
def test_a_run_that_is_killed_while_it_mends_another_leaves_that_to_the_next(tmp_path, quick):
    out = tmp_path / "out"
    lay_out(out, True)

    for line in range(100_000):
        lay_out(out, True)
        killed_half_way(out)
        if not killed_at(line, lambda: interrupted(out), WATCHED):
            break
        interrupted(out)
        assert is_whole(out, "make"), f"killed at line {line}"
        assert MINE.items() <= content_of(out).items()
        assert b"with my remarks" in content_of(out).values()
        assert hidden(out) == [manifest_name("make")]
    assert line > 30


@needs_fork
def test_the_next_run_says_that_an_interrupted_one_was_finished(tmp_path, quick):
    out = tmp_path / "out"
    lay_out(out, True)
    killed_half_way(out)
    assert not is_whole(out, "make")
    notes = write(out, {"cut.svg": b"1"}, CUT)
    assert [note.code for note in notes] == ["P008", "P009"]
    assert all(note.warning for note in notes)
    assert is_whole(out, "make")
    assert is_whole(out, "cut")


@needs_fork
@pytest.mark.parametrize("room", [2000, 10])
def test_a_full_disk_leaves_everything_as_it_was(tmp_path, room):
    """No room is imitated by the system's own limit on the size of a file, in a child."""
    out = tmp_path / "out"
    lay_out(out, True)
    before = content_of(out)
    child = os.fork()
    if child == 0:
        try:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (room, room))
            try:
                write(out, NEW)
            except ProblemError as fault:
                os._exit(10 if fault.problems[0].code == "P004" else 11)
        finally:
            os._exit(1)
    _, status = os.waitpid(child, 0)
    assert os.WEXITSTATUS(status) == 10
    assert content_of(out) == before
    assert hidden(out) == [manifest_name("make")]


@pytest.mark.parametrize("links", [True, False], ids=["second names", "no second names"])
@pytest.mark.parametrize("fault", [OSError(errno.EIO, "the disk fails"), KeyboardInterrupt()])
def test_a_fault_while_files_take_their_places_undoes_what_was_done(tmp_path, monkeypatch, quick, fault, links):
    """Every single call that renames, removes or gives a second name fails once."""
    out = tmp_path / "out"
    calls = {name: getattr(os, name) for name in ("rename", "replace", "unlink", "link")}

    @contextmanager
    def failing(at: int):
        count = 0

        def wrapped(name):
            def call(*args, **options):
                nonlocal count
                if name == "link" and not links:
                    raise OSError(errno.EPERM, "no second names")
                count += 1
                if count == at:
                    raise fault
                return calls[name](*args, **options)

            return call

        with monkeypatch.context() as patched:
            for name in calls:
                patched.setattr(os, name, wrapped(name))
            yield lambda: count

    outcomes = []
    for at in range(1, 200):
        lay_out(out, True)
        before = content_of(out)
        with output_folder(out, MAKE) as folder:
            with failing(at) as counted:
                try:
                    folder.write(NEW)
                    outcomes.append("done")
                except (ProblemError, KeyboardInterrupt):
                    outcomes.append("undone" if content_of(out) == before else "left")
            calls_made = counted()
        interrupted(out)
        assert hidden(out) == [manifest_name("make")]
        listed = read_manifest(out, "make")
        if set(listed) == set(NEW):
            assert is_whole(out, "make"), at
            assert outcomes[-1] != "undone"
            assert {*MINE.values(), b"with my remarks"} <= set(content_of(out).values())
        else:
            assert content_of(out) == before, at
        if calls_made < at:
            break
    assert outcomes.count("undone") > 5
    assert outcomes[-1] == "done"


# ----------------------------------------------------------------------------------------------- whose files


def test_only_what_was_written_is_replaced_or_removed(tmp_path):
    fill(tmp_path, MINE)
    assert write(tmp_path, OLD) == ()
    assert write(tmp_path, NEW) == ()
    assert content_of(tmp_path) == {**MINE, **NEW}
    assert set(read_manifest(tmp_path, "make")) == set(NEW)
    assert hidden(tmp_path) == [manifest_name("make")]


@pytest.mark.parametrize("name", sorted(OLD))
def test_a_file_that_was_changed_is_kept_beside_and_told(tmp_path, name):
    stem, _, suffix = name.partition(".")
    for k in (1, 2):
        write(tmp_path, OLD)
        (tmp_path / name).write_bytes(b"mine %d" % k)
        (note,) = write(tmp_path, NEW)
        assert (note.code, note.warning) == ("P009", True)
        assert f"{stem} (kept {k}).{suffix}" in note.text
        assert (tmp_path / f"{stem} (kept {k}).{suffix}").read_bytes() == b"mine %d" % k
        assert is_whole(tmp_path, "make")
    assert not (tmp_path / "padding.svg").exists()


@pytest.mark.parametrize("stands", ["folder", "link to a file", "link to nothing", "pipe"])
def test_whatever_stands_where_a_file_was_is_kept_and_nothing_is_written_through_it(tmp_path, stands):
    out, elsewhere = tmp_path / "out", tmp_path / "elsewhere"
    write(out, OLD)
    elsewhere.write_bytes(b"mine")
    path = out / "report.json"
    path.unlink()
    if stands == "folder":
        fill(path, {"inside.txt": b"mine"})
    elif stands == "pipe":
        os.mkfifo(path)
    else:
        path.symlink_to(elsewhere if stands == "link to a file" else tmp_path / "nothing")
    kind = stat.S_IFMT(os.lstat(path).st_mode)
    (note,) = write(out, NEW)
    assert note.code == "P009"
    assert stat.S_IFMT(os.lstat(out / "report (kept 1).json").st_mode) == kind
    assert path.read_bytes() == b"new"
    assert not path.is_symlink()
    assert elsewhere.read_bytes() == b"mine"
    assert not (tmp_path / "nothing").exists()
    if stands == "folder":
        assert (out / "report (kept 1).json" / "inside.txt").read_bytes() == b"mine"


def test_files_that_were_taken_away_are_written_again(tmp_path):
    write(tmp_path, OLD)
    for name in OLD:
        (tmp_path / name).unlink()
    assert write(tmp_path, OLD) == ()
    assert content_of(tmp_path) == OLD
    assert is_whole(tmp_path, "make")


def test_each_command_owns_its_own_files(tmp_path):
    write(tmp_path, OLD)
    write(tmp_path, {"cut.svg": b"1"}, CUT)
    assert content_of(tmp_path) == {**OLD, "cut.svg": b"1"}
    write(tmp_path, {}, CUT)
    assert content_of(tmp_path) == OLD
    assert is_whole(tmp_path, "make")


def test_a_name_that_another_command_wrote_is_refused_before_the_work(tmp_path):
    write(tmp_path, OLD)
    assert refused(tmp_path, FLAT) == "P010"
    # As long as it is there: then it is free.
    (tmp_path / "report.json").unlink()
    write(tmp_path, {"report.json": b"cut"}, FLAT)
    assert is_whole(tmp_path, "flat")
    assert refused(tmp_path, MAKE) == "P010"
    assert (tmp_path / "report.json").read_bytes() == b"cut"


@pytest.mark.parametrize("name", ["report.json", "REPORT.json", "seat of mine.png", "Padding.SVG"])
def test_a_folder_that_holds_a_name_of_ours_is_refused_naming_it(tmp_path, name):
    fill(tmp_path, {**MINE, name: b"mine"})
    with pytest.raises(ProblemError, match=name):
        write(tmp_path, NEW)
    assert refused(tmp_path) == "P003"
    assert content_of(tmp_path) == {**MINE, name: b"mine"}
    assert hidden(tmp_path) == []


def test_a_name_that_is_taken_while_the_work_goes_on_is_refused(tmp_path):
    with output_folder(tmp_path, MAKE) as folder:
        (tmp_path / "report.json").write_bytes(b"mine")
        with pytest.raises(ProblemError, match="P003"):
            folder.write(NEW)
    assert content_of(tmp_path) == {"report.json": b"mine"}


def test_the_output_of_a_version_without_manifests_is_kept_beside_once(tmp_path):
    report = json.dumps({"version": 1, "units": "mm", "panels": []}).encode()
    fill(tmp_path, {**MINE, **OLD, "report.json": report, "seat rear.png": b"3"})
    notes = write(tmp_path, NEW)
    assert [note.code for note in notes] == ["P009"] * 4
    kept = {"report (kept 1).json": report, "patterns (kept 1).pdf": b"old pages"}
    kept |= {"padding (kept 1).svg": b"old padding", "seat rear (kept 1).png": b"3"}
    assert content_of(tmp_path) == {**MINE, **NEW, **kept}
    assert write(tmp_path, OLD) == ()
    assert content_of(tmp_path) == {**MINE, **OLD, **kept}


@pytest.mark.parametrize(
    "text", [b"{}", b"[1]", b'{"version": true, "units": "mm"}', b'{"version": 1}', b"\xff", b"[" * 100_000]
)
def test_a_report_of_another_program_is_no_earlier_output(tmp_path, text):
    fill(tmp_path, {"report.json": text})
    assert refused(tmp_path) == "P003"
    assert content_of(tmp_path) == {"report.json": text}


@pytest.mark.parametrize(
    "text",
    [
        b"",
        b"{",
        b"[]",
        b'{"files": 1}',
        b'{"files": {"../sheet.toml": {"sha256": "", "bytes": 0}}}',
        b'{"files": {"a": {"bytes": "x", "sha256": ""}}}',
        b"[" * 100_000,
    ],
)
def test_a_manifest_that_cannot_be_read_is_refused(tmp_path, text):
    fill(tmp_path, {**OLD, manifest_name("make"): text})
    assert refused(tmp_path) == "P007"
    assert refused(tmp_path, FLAT) == "P007"
    assert content_of(tmp_path) == OLD


def test_a_manifest_gives_no_leave_to_remove_what_a_command_never_writes(tmp_path):
    fill(tmp_path, MINE)
    forged = {name: manifest.entry_of(data) for name, data in MINE.items() if "/" not in name}
    (tmp_path / manifest_name("make")).write_bytes(manifest.manifest_bytes("make", forged))
    write(tmp_path, NEW)
    assert content_of(tmp_path) == {**MINE, **NEW}


@pytest.mark.parametrize("strange", ["folder", "file", "link"])
def test_a_staging_folder_that_is_not_ours_is_refused_and_left(tmp_path, strange):
    out, work = tmp_path / "out", tmp_path / "out" / staging.STAGING
    out.mkdir()
    if strange == "file":
        work.write_bytes(b"mine")
    elif strange == "link":
        fill(tmp_path / "elsewhere", {"0": b"mine", "manifest": b"mine"})
        work.symlink_to(tmp_path / "elsewhere")
    else:
        fill(work, {"notes.txt": b"mine"})
    before = content_of(tmp_path)
    assert refused(out) == "P007"
    assert content_of(tmp_path) == before


def test_only_names_on_the_list_are_written(tmp_path):
    with output_folder(tmp_path / "out", MAKE) as folder:
        for name in ("other.txt", "../report.json", ".trimloft-make.json", "seat /x.png", "seat \0.png"):
            with pytest.raises(ValueError):
                folder.write({name: b""})
    assert not (tmp_path / "out").exists()


# ----------------------------------------------------------------------------------------------- places


def test_a_fault_of_the_work_leaves_no_new_folders_and_is_passed_on(tmp_path):
    fault = FileNotFoundError("a missing picture")
    with pytest.raises(FileNotFoundError) as caught, output_folder(tmp_path / "a" / "b" / "out", MAKE):
        raise fault
    assert caught.value is fault
    assert list(tmp_path.iterdir()) == []


def test_folders_above_are_made(tmp_path):
    write(tmp_path / "a" / "b" / "out", NEW)
    assert content_of(tmp_path / "a" / "b" / "out") == NEW


def test_the_folder_itself_stays_the_same_one(tmp_path, monkeypatch):
    """So a mount point, and the folder a shell stands in, can be written into."""
    before = os.stat(tmp_path).st_ino
    monkeypatch.chdir(tmp_path)
    for content in (OLD, NEW):
        write(Path("."), content)
        assert os.stat(tmp_path).st_ino == before
        assert sorted(os.listdir(".")) == sorted([*content, manifest_name("make")])


def test_a_folder_behind_a_link_is_written_and_the_link_stays(tmp_path):
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    write(tmp_path / "link", NEW)
    assert (tmp_path / "link").is_symlink()
    assert content_of(tmp_path / "real") == NEW


def test_names_with_odd_characters(tmp_path):
    for name in ("out [1]", "a*b?", "ü ber", "-x", "two\nlines", os.fsdecode(b"\xff")):
        write(tmp_path / name, OLD)
        write(tmp_path / name, NEW)
        assert content_of(tmp_path / name) == NEW
        (tmp_path / name / "report.json").write_bytes(b"mine")
        assert all(str(note).isprintable() for note in write(tmp_path / name, NEW))


def test_files_and_folders_have_the_usual_permissions(tmp_path):
    usual = os.umask(0o027)
    try:
        write(tmp_path / "out", NEW)
    finally:
        os.umask(usual)
    assert stat.S_IMODE((tmp_path / "out").stat().st_mode) == 0o750
    assert stat.S_IMODE((tmp_path / "out" / "report.json").stat().st_mode) == 0o640


def test_places_that_cannot_be_written_are_refused_before_the_work(tmp_path):
    (tmp_path / "file").write_text("mine")
    (tmp_path / "read-only").mkdir()
    (tmp_path / "read-only").chmod(0o555)
    (tmp_path / "loop").symlink_to("loop")
    for place, code in {
        "file": "P002",
        "file/out": "P004",
        "read-only": "P004",
        "loop": "P002",
        "x" * 256: "P004",
        "nul\0": "P004",
        "line\nend/" + "x" * 256: "P004",
    }.items():
        assert refused(tmp_path / place) == code, place
    assert sorted(os.listdir(tmp_path)) == ["file", "loop", "read-only"]
    assert os.listdir(tmp_path / "read-only") == []


# ----------------------------------------------------------------------------------------------- two runs


def test_the_second_of_two_runs_is_told_and_the_first_comes_to_its_end(tmp_path):
    with output_folder(tmp_path / "out", MAKE) as folder:
        assert refused(tmp_path / "out") == "P006"
        assert refused(tmp_path / "out", CUT) == "P006"
        folder.write(NEW)
    write(tmp_path / "out", OLD)
    assert content_of(tmp_path / "out") == OLD


def test_a_lock_ends_with_its_process_even_where_a_worker_lives_on(tmp_path):
    """Killed without a chance to tidy up, while a process it forked goes on."""
    code = (
        "import os, sys, time\nfrom pathlib import Path\nfrom meshes.folder.output import Writer, output_folder\n"
        "with output_folder(Path(sys.argv[1]), Writer('make', '', ('a',))):\n"
        # The forked process says its own number: by then it has been told to give up its share of the lock.
        "    if os.fork() == 0:\n        print(os.getpid(), flush=True); time.sleep(20); os._exit(0)\n"
        "    time.sleep(20)\n"
    )
    holder = subprocess.Popen([sys.executable, "-c", code, str(tmp_path / "out")], stdout=subprocess.PIPE, text=True)
    worker = int(holder.stdout.readline())
    try:
        assert refused(tmp_path / "out") == "P006"
        holder.kill()
        holder.wait()
        write(tmp_path / "out", NEW)
        os.kill(worker, 0)
    finally:
        os.kill(worker, signal.SIGKILL)
        holder.kill()
        holder.stdout.close()
    assert hidden(tmp_path / "out") == [manifest_name("make")]


def test_a_file_named_like_the_lock_is_not_removed(tmp_path):
    (tmp_path / lock.LOCK).write_bytes(b"mine")
    write(tmp_path, NEW)
    assert (tmp_path / lock.LOCK).read_bytes() == b"mine"


@pytest.mark.parametrize(
    "wrong",
    [{"command": "../make"}, {"command": 7}, {"dropped": ["../notes.txt"]}, {"dropped": {}}, {"dropped": [1]}],
    ids=repr,
)
def test_a_journal_is_believed_only_where_every_word_of_it_can_be_ours(tmp_path, wrong):
    work = tmp_path / staging.STAGING
    work.mkdir()
    right = {"command": "make", "files": {}, "dropped": []}
    for name, told in (("journal", right | wrong), ("manifest", right)):
        (work / name).write_text(json.dumps(told))
    with pytest.raises(manifest.DamagedError):
        staging.end_interrupted(tmp_path)
    assert sorted(os.listdir(work)) == ["journal", "manifest"]


def test_a_lock_can_be_opened_by_whom_the_users_own_files_can(tmp_path):
    (tmp_path / "mine").write_text("")
    with lock.locked(tmp_path):
        told = [stat.S_IMODE((tmp_path / name).stat().st_mode) for name in ("mine", lock.LOCK)]
    assert told[0] == told[1]


def test_a_report_is_indented_by_one_and_ends_its_last_line():
    assert json_text({"a": {"b": [1.5, "ö"]}}) == '{\n "a": {\n  "b": [\n   1.5,\n   "ö"\n  ]\n }\n}\n'
