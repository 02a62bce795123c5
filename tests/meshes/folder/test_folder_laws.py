"""What is told of an output folder and by which names, whose a file is, and bounds of what is read, at their places."""

import errno
import json
import os

import pytest

from meshes.base.problems import Problem, ProblemError
from meshes.folder import lock, manifest, output, staging
from meshes.folder.manifest import DamagedError, Listed, all_manifests, entry_of, is_whole, read_manifest, small_json
from meshes.folder.names import LONGEST_NAME, alike, file_names, is_plain, kept_name, matches
from meshes.folder.output import Writer, folder_if, output_folder
from meshes.folder.report_head import json_text, problem_rows, report_head
from meshes.folder.temporary import temporary_folder

MAKE = Writer("make", "trimloft make", ("report.json", "patterns.pdf", "*.svg"))
FLAT = Writer("flat", "trimloft flat", ("report.json", "flat.ply"))


def write(out, content, writer=MAKE):
    with output_folder(out, writer) as folder:
        return folder.write(content)


def refused(out, writer=MAKE):
    with pytest.raises(ProblemError) as told, output_folder(out, writer):
        pytest.fail("the work began")
    (problem,) = told.value.problems
    return problem


def names_of(count):
    return {f"{letter}.svg": b"" for letter in "abcdefgh"[:count]}


@pytest.mark.parametrize("count", [1, 2, 3, 4, 6])
def test_three_names_are_told_and_the_rest_counted(tmp_path, count):
    for name in names_of(count):
        (tmp_path / name).write_bytes(b"mine")
    said = refused(tmp_path).text
    assert said.startswith(", ".join(f'"{name}"' for name in list(names_of(count))[:3]))
    assert ("more" in said) == (count > 3)
    assert (f"and {count - 3} more" in said) == (count > 3)


def test_a_file_of_another_command_is_told_with_its_owner_and_who_wants_it(tmp_path):
    write(tmp_path, {"report.json": b"1"})
    said = refused(tmp_path, FLAT)
    assert said.code == "P010"
    assert said.text.startswith('"report.json" in this folder belongs to "make", and trimloft flat would write')
    assert said.file == str(tmp_path)


def test_a_file_belongs_to_whom_lists_it_as_it_is(tmp_path):
    """Two commands once wrote a file of one name: what stands there now says whose it is."""
    place = output.OutputFolder(tmp_path, "", MAKE, ())
    (tmp_path / "report.json").write_bytes(b"of flat")
    both = {"flat": {"report.json": entry_of(b"of flat")}, "make": {"report.json": entry_of(b"of make")}}
    assert output._owner(place, "report.json", both) == "flat"
    (tmp_path / "report.json").write_bytes(b"of make")
    assert output._owner(place, "report.json", both) == "make"
    # As neither left it, it is the asking command's as soon as that lists it.
    (tmp_path / "report.json").write_bytes(b"of mine")
    assert output._owner(place, "report.json", both) == "make"
    assert output._owner(place, "report.json", {"flat": both["flat"]}) == "flat"
    assert output._owner(place, "report.json", {"cut": {}}) is None
    # Both as they left it: the asking command's.
    alike_ = {"flat": {"report.json": entry_of(b"of mine")}, "make": {"report.json": entry_of(b"of mine")}}
    assert output._owner(place, "report.json", alike_) == "make"
    assert output._owner(output.OutputFolder(tmp_path, "", FLAT, ()), "report.json", alike_) == "flat"


def test_an_old_report_that_some_manifest_accounts_for_makes_no_old_folder(tmp_path):
    report = json.dumps({"version": 1, "units": "mm"}).encode()
    write(tmp_path, {"report.json": report}, FLAT)
    (tmp_path / "patterns.pdf").write_bytes(b"mine")
    (tmp_path / "report.json").unlink()
    assert refused(tmp_path).code == "P003"
    listed = {"flat": {"report.json": entry_of(report)}}
    (tmp_path / "report.json").write_bytes(report)
    assert not output._is_earlier_output(tmp_path, listed)
    assert output._is_earlier_output(tmp_path, {"flat": {"flat.ply": entry_of(b"")}})
    assert output._is_earlier_output(tmp_path, {})


@pytest.mark.parametrize("version", [1, 7, "1", 1.0, True, None])
@pytest.mark.parametrize("units", ["mm", "in"])
def test_an_old_report_has_a_whole_version_and_millimetres(tmp_path, version, units):
    (tmp_path / "report.json").write_text(json.dumps({"version": version, "units": units}))
    assert output._is_earlier_output(tmp_path, {}) == (type(version) is int and units == "mm")


def test_what_is_said_of_faults_in_a_folder(tmp_path, monkeypatch):
    (tmp_path / "file").write_bytes(b"")
    told = refused(tmp_path / "file")
    assert (told.code, told.file) == ("P002", str(tmp_path / "file"))
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / manifest.manifest_name("make")).write_bytes(b"{")
    told = refused(tmp_path / "out")
    assert told.code == "P007"
    assert told.text.startswith(manifest.manifest_name("make"))
    with output_folder(tmp_path / "busy", MAKE):
        assert refused(tmp_path / "busy").code == "P006"


def test_a_changed_file_is_told_with_both_of_its_names(tmp_path):
    write(tmp_path, {"a.svg": b"1", "b.svg": b"1"})
    for name in ("a.svg", "b.svg"):
        (tmp_path / name).write_bytes(b"mine")
    notes = write(tmp_path, {"a.svg": b"2"})
    # What is no longer written is kept first.
    assert [note.text for note in notes] == [
        f'"{name}.svg" was not as it had been written there; it is kept as "{name} (kept 1).svg"' for name in "ba"
    ]
    assert all(note.file == str(tmp_path) and note.warning for note in notes)


def test_no_folder_is_held_where_none_is_asked_for(tmp_path):
    with folder_if(None, MAKE) as folder:
        assert folder is None
    with folder_if(tmp_path / "out", MAKE) as folder:
        folder.write({"a.svg": b"1"})
        assert refused(tmp_path / "out").code == "P006"
    assert is_whole(tmp_path / "out", "make")


def test_only_folders_that_were_made_and_are_empty_go_again(tmp_path):
    (tmp_path / "a").mkdir()

    def interrupted(place, note):
        with output_folder(place, MAKE) as folder:
            if note:
                (folder.place.parent / "notes.txt").write_bytes(b"mine")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupted(tmp_path / "a" / "b" / "c", True)
    assert sorted(p.name for p in (tmp_path / "a" / "b").iterdir()) == ["notes.txt"]
    with pytest.raises(KeyboardInterrupt):
        interrupted(tmp_path / "a" / "d", False)
    assert sorted(p.name for p in (tmp_path / "a").iterdir()) == ["b"]


def test_names_no_command_writes_are_a_fault_of_ours_told_by_name(tmp_path):
    with (
        output_folder(tmp_path, MAKE) as folder,
        pytest.raises(ValueError, match=r"make does not write \['flat"),
    ):
        folder.write({"a.svg": b"", "flat.ply": b""})
    assert sorted(p.name for p in tmp_path.iterdir()) == []


# Manifests.


def test_a_manifest_tells_of_every_file_its_size_and_digest(tmp_path):
    files = {"b.svg": b"two", "a.svg": b""}
    write(tmp_path, files)
    whole = json.loads((tmp_path / manifest.manifest_name("make")).read_bytes())
    assert (whole["version"], whole["command"]) == (1, "make")
    # SHA-256 of nothing, as every reference prints it.
    empty = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
    assert whole["files"]["a.svg"] == {"sha256": empty, "bytes": 0}
    assert list(whole["files"]) == ["a.svg", "b.svg"]
    assert read_manifest(tmp_path, "make") == {name: entry_of(data) for name, data in files.items()}
    assert read_manifest(tmp_path, "flat") is None
    assert (tmp_path / manifest.manifest_name("make")).read_text().startswith('{\n "version": 1,\n')


def test_manifests_of_all_commands_are_told_apart(tmp_path):
    write(tmp_path, {"a.svg": b"1"})
    write(tmp_path, {"flat.ply": b"2"}, FLAT)
    (tmp_path / "other.json").write_bytes(b"{")
    assert all_manifests(tmp_path) == {"flat": {"flat.ply": entry_of(b"2")}, "make": {"a.svg": entry_of(b"1")}}


def test_a_folder_is_whole_with_all_its_files_and_no_other(tmp_path):
    assert not is_whole(tmp_path, "make")
    write(tmp_path, {"a.svg": b"1", "b.svg": b"2"})
    assert is_whole(tmp_path, "make")
    (tmp_path / "c.svg").write_bytes(b"mine")
    assert is_whole(tmp_path, "make")
    (tmp_path / "b.svg").write_bytes(b"3")
    assert not is_whole(tmp_path, "make")
    (tmp_path / manifest.manifest_name("make")).write_bytes(b"")
    assert not is_whole(tmp_path, "make")


def test_a_file_is_unchanged_when_it_is_one_of_those_known(tmp_path):
    path = tmp_path / "a"
    path.write_bytes(b"12")
    same, other, longer = entry_of(b"12"), entry_of(b"21"), entry_of(b"123")
    assert manifest.unchanged(path, same)
    assert manifest.unchanged(path, None, longer, same)
    assert not manifest.unchanged(path, other)
    assert not manifest.unchanged(path, None)
    assert not manifest.unchanged(path)
    # A digest without its size is another file's.
    assert not manifest.unchanged(path, Listed(same.sha256, 3))
    assert not manifest.unchanged(tmp_path / "b", same)
    (tmp_path / "link").symlink_to(path)
    assert not manifest.unchanged(tmp_path / "link", same)
    assert not manifest.unchanged(tmp_path, same)


def test_a_small_file_is_read_up_to_its_largest_size(tmp_path):
    path = tmp_path / "a.json"
    path.write_bytes(b"[1, 2]")
    assert small_json(path, 6) == [1, 2]
    for fault in (lambda: small_json(path, 5), lambda: small_json(tmp_path / "none"), lambda: small_json(tmp_path)):
        with pytest.raises(DamagedError):
            fault()
    path.write_bytes(b"[1, 2")
    with pytest.raises(DamagedError, match=r"a\.json"):
        small_json(path)
    # The list of a hundred thousand files still fits.
    assert manifest._LARGEST >= 3_000_000
    assert output._LARGEST_REPORT >= 50_000_000


def test_rows_that_no_program_of_ours_wrote_are_damaged(tmp_path):
    good = {"a.svg": {"sha256": "0f", "bytes": 3}}
    assert manifest.listed_rows(good, tmp_path) == {"a.svg": Listed("0f", 3)}
    for bad in ([], None, {"a.svg": {}}, {"a.svg": {"sha256": "0f", "bytes": "x"}}, {"../a": good["a.svg"]},
                {"": good["a.svg"]}, {".trimloft-lock": good["a.svg"]}):  # fmt: skip
        with pytest.raises(DamagedError):
            manifest.listed_rows(bad, tmp_path)


# Names.


def test_which_names_are_plain():
    assert all(is_plain(name) for name in ("a", "a b.svg", "..a", "trimloft-x", ".trimloft", "ü"))
    for name in ("", ".", "..", "a/b", "/", "a\0", ".trimloft-", ".trimloft-lock", ".TRIMLOFT-make.json"):
        assert not is_plain(name)


def test_capitals_and_ways_to_write_an_accent_make_no_difference():
    assert alike("Patterns.PDF") == alike("patterns.pdf")
    assert alike("u\u0308ber") == alike("\u00fcber") == alike("\u00dcBER")
    assert alike("a") != alike("b")
    assert alike("stra\u00dfe") == alike("STRASSE")


def test_a_star_stands_for_anything_and_what_is_kept_is_never_matched():
    assert matches("Seat Front.PNG", ["seat *.png"])
    assert matches("seat .png", ["seat *.png"])
    assert not matches("seat.png", ["seat *.png"])
    assert not matches("a.svg", ["b.svg"])
    assert not matches("a.svg", [])
    assert not matches("seat x (kept 12).png", ["seat *.png"])
    assert matches("seat (kept).png", ["seat *.png"])


def test_a_word_becomes_a_file_s_name():
    assert file_names(["a/b:c", " x ", "a\tb"], ".svg", prefix="p ") == {
        "a/b:c": "p a-b-c.svg",
        " x ": "p  x.svg",
        "a\tb": "p a-b.svg",
    }
    assert list(file_names(["a", "A", "a "], ".svg").values()) == ["a.svg", "A 2.svg", "a 3.svg"]
    # What looks like a kept file's name is made another.
    assert file_names(["a (kept 1)"], ".svg")["a (kept 1)"] == "a (kept 1)-.svg"
    assert all(c not in file_names([c], "")[c] for c in '/\\:*?"<>|')


@pytest.mark.parametrize("letter", ["x", "\u00e9", "\u65e5", "\U0001f9f5"])
def test_a_name_is_as_long_as_it_may_be_and_no_longer(letter):
    wide = len(letter.encode())
    for count in (251 // wide, 251 // wide + 1, 400):
        (name,) = file_names([letter * count], ".svg").values()
        assert len(name.encode()) <= LONGEST_NAME
        assert name.startswith(letter * min(count, 60))
        if count * wide + 4 <= LONGEST_NAME:
            assert name == letter * count + ".svg"
        else:
            # Hardly more is cut off than has to be.
            assert len(name.encode()) > LONGEST_NAME - 2 * wide - (len(letter * count) * wide - 251) // 4 - 4


def test_the_next_free_name_is_taken():
    assert kept_name("a.svg", []) == "a (kept 1).svg"
    assert kept_name("a.svg", ["A (KEPT 1).svg"]) == "a (kept 2).svg"
    assert kept_name("a.svg", ["a (kept 2).svg"]) == "a (kept 1).svg"
    assert kept_name("a", ["a (kept 1)", "a (kept 2)"]) == "a (kept 3)"


# Locks.


def test_a_lock_is_one_s_until_it_is_let_go(tmp_path):
    with lock.locked(tmp_path):
        assert (tmp_path / lock.LOCK).exists()
        with pytest.raises(lock.BusyError), lock.locked(tmp_path):
            pytest.fail("two hold it")
    assert not (tmp_path / lock.LOCK).exists()
    assert lock._held_locks == set()
    with lock.locked(tmp_path):
        pass


def test_a_lock_whose_name_is_gone_is_none(tmp_path):
    """Who opened the file just before it was removed asks again and gets a new one."""
    path = tmp_path / "lock"
    handle = os.open(path, os.O_RDWR | os.O_CREAT)
    assert lock.is_still(handle, path)
    path.unlink()
    assert not lock.is_still(handle, path)
    path.write_bytes(b"")
    assert not lock.is_still(handle, path)
    os.close(handle)
    assert not lock.is_still(handle, path)


@pytest.mark.parametrize(("number", "held"), [(errno.EWOULDBLOCK, False), (errno.EACCES, False), (errno.ENOLCK, True)])
def test_where_nothing_can_be_locked_runs_are_not_kept_apart(tmp_path, monkeypatch, number, held):
    def failing(*_):
        raise OSError(number, "")

    monkeypatch.setattr(lock.fcntl, "flock", failing)
    handle = os.open(tmp_path / "a", os.O_RDWR | os.O_CREAT)
    assert lock.hold(handle) == held
    assert (handle in lock._held_locks) == held
    lock.let_go(handle)


def test_a_process_forked_meanwhile_holds_nothing(tmp_path):
    with lock.locked(tmp_path):
        child = os.fork()
        if child == 0:
            os._exit(7 if not lock._held_locks else 8)
        assert os.WEXITSTATUS(os.waitpid(child, 0)[1]) == 7
        with pytest.raises(lock.BusyError), lock.locked(tmp_path):
            pytest.fail("the child's end ended it")


# Staging.


def test_a_staging_folder_without_a_manifest_is_dropped(tmp_path):
    work = tmp_path / staging.STAGING
    work.mkdir()
    for name in ("journal", "0", "12", "old-3", "kept-4", "manifest.part"):
        (work / name).write_bytes(b"x")
    assert staging.end_interrupted(tmp_path) is None
    assert not work.exists()
    assert staging.end_interrupted(tmp_path) is None


@pytest.mark.parametrize("name", ["notes", "old-", "kept-x", "1a", "manifest2", "old-1-2"])
def test_a_staging_folder_with_a_strange_name_in_it_is_left(tmp_path, name):
    work = tmp_path / staging.STAGING
    work.mkdir()
    (work / name).write_bytes(b"mine")
    with pytest.raises(DamagedError):
        staging.end_interrupted(tmp_path)
    assert (work / name).read_bytes() == b"mine"


def test_an_interrupted_change_is_finished_with_all_that_was_kept(tmp_path):
    """Files staged, journal and manifest written, one user's file already aside: the rest is done now."""
    write(tmp_path, {"a.svg": b"old a", "b.svg": b"old b", "c.svg": b"old c"})
    work = tmp_path / staging.STAGING
    work.mkdir()
    new = {"a.svg": b"new a", "b.svg": b"new b"}
    rows = {name: {"sha256": entry_of(data).sha256, "bytes": len(data)} for name, data in new.items()}
    (work / "journal").write_text(json.dumps({"command": "make", "files": rows, "dropped": ["c.svg"]}))
    for k, data in enumerate(new.values()):
        (work / str(k)).write_bytes(data)
    (work / "manifest").write_bytes(manifest.manifest_bytes("make", {n: entry_of(d) for n, d in new.items()}))
    # The user's changed b was renamed before the run was killed; c was changed since.
    (tmp_path / "b.svg").rename(tmp_path / "b (kept 1).svg")
    (work / "kept-1").write_bytes(b"b (kept 1).svg")
    (tmp_path / "c.svg").write_bytes(b"my c")
    change = staging.end_interrupted(tmp_path)
    assert (change.command, change.dropped) == ("make", ("c.svg",))
    assert sorted(change.kept) == [("b.svg", "b (kept 1).svg"), ("c.svg", "c (kept 1).svg")]
    assert is_whole(tmp_path, "make")
    assert (tmp_path / "c (kept 1).svg").read_bytes() == b"my c"
    assert not (tmp_path / "c.svg").exists()
    assert not work.exists()


def test_what_is_dropped_is_only_removed_as_it_was_written(tmp_path):
    write(tmp_path, {"a.svg": b"1", "b.svg": b"2"})
    assert write(tmp_path, {"a.svg": b"1"}) == ()
    assert not (tmp_path / "b.svg").exists()
    assert sorted(p.name for p in tmp_path.iterdir()) == [manifest.manifest_name("make"), "a.svg"]


# Reports and temporary folders.


def test_a_report_begins_with_its_version_and_unit_and_tells_problems_by_their_parts():
    assert report_head() == {"version": 1, "units": "mm"}
    one = Problem("G001", "pad", "text", "a.toml", 7)
    other = Problem("M301", "mesh", "note", warning=True)
    assert problem_rows([one, other]) == [
        {"code": "G001", "where": "pad", "text": "text", "line": 7, "warning": False},
        {"code": "M301", "where": "mesh", "text": "note", "line": None, "warning": True},
    ]
    with pytest.raises(ValueError):
        json_text({"a": float("nan")})


def test_a_temporary_folder_is_its_own_and_gone_with_what_is_in_it():
    with temporary_folder() as one, temporary_folder() as two:
        assert one != two
        assert oct(one.stat().st_mode & 0o777) == "0o700"
        (one / "deep").mkdir()
        (one / "deep" / "a").write_bytes(b"1")
    assert not one.exists()
    assert not two.exists()


def test_a_command_takes_over_what_another_wrote_that_shares_its_names(tmp_path):
    """The last one's files are there, the other's manifest no longer speaks of them, the user's are kept beside."""
    one = output.Writer("make", "trimloft make", ("report.json", "plan *.svg", "list.csv"), shares=("lay",))
    other = output.Writer("lay", "trimloft lay", ("plan *.svg", "list.csv"), shares=("make",))
    write(tmp_path, {"report.json": b"r", "plan a.svg": b"1", "plan b.svg": b"1", "list.csv": b"1"}, one)
    (tmp_path / "list.csv").write_bytes(b"mine")
    with output_folder(tmp_path, other) as folder:
        assert folder.owner("plan a.svg") == "make"
        assert folder.owner("none") is None
        notes = folder.write({"plan a.svg": b"2", "list.csv": b"2"})
        assert folder.owner("plan a.svg") == "lay"
    assert [note.code for note in notes] == ["P009"]
    there = {path.name: path.read_bytes() for path in tmp_path.iterdir() if not path.name.startswith(".")}
    assert there == {"report.json": b"r", "plan a.svg": b"2", "list.csv": b"2", "list (kept 1).csv": b"mine"}
    assert set(read_manifest(tmp_path, "make")) == {"report.json"}
    assert is_whole(tmp_path, "make")
    assert is_whole(tmp_path, "lay")
    write(tmp_path, {"report.json": b"r", "plan b.svg": b"3", "list.csv": b"2"}, one)
    assert not (tmp_path / "plan a.svg").exists()
    assert read_manifest(tmp_path, "lay") == {}
    assert is_whole(tmp_path, "make")


def test_what_was_taken_over_is_finished_after_an_interruption(tmp_path):
    write(tmp_path, {"report.json": b"1", "patterns.pdf": b"1"})
    listed = read_manifest(tmp_path, "make")
    change = staging.FolderChange(tmp_path, "lay", {"patterns.pdf": entry_of(b"2")}, (), listed)
    staging._stage(change, {"patterns.pdf": b"2"})
    done = staging.end_interrupted(tmp_path)
    assert done.kept == []
    assert dict(done.taken) == dict(listed)
    assert (tmp_path / "patterns.pdf").read_bytes() == b"2"
