"""Results on disk: nothing torn, changed or misplaced is believed, nothing beyond the bound kept; faults stay quiet."""

import builtins
import errno
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from flatten.kept.disk import DiskStore, cache_folder
from flatten.kept.memory import MemoryStore

ONE, TWO = "ab" + "0" * 62, "ab" + "1" * 62


@pytest.fixture
def store(tmp_path):
    return DiskStore(tmp_path / "kept", most_bytes=10_000)


def file_of(store, key):
    return store.folder / key[:2] / f"{key}.kept"


def test_what_was_kept_is_found_by_another_run(store):
    assert store.get(ONE) is None
    store.put(ONE, b"content")
    assert DiskStore(store.folder).get(ONE) == b"content"
    assert [path.name for path in store._files()] == [f"{ONE}.kept"]
    assert store.folder.stat().st_mode & 0o777 == 0o700


@pytest.mark.parametrize("cut", [0, 1, 15, 16, 40, 48, 49, -1])
def test_a_torn_file_is_not_believed_and_goes(store, cut):
    store.put(ONE, b"content of some length")
    path = file_of(store, ONE)
    path.write_bytes(path.read_bytes()[:cut])
    assert store.get(ONE) is None
    assert not path.exists()


@pytest.mark.parametrize("at", [0, 20, 50, -1])
def test_a_changed_byte_is_not_believed(store, at):
    store.put(ONE, b"content")
    path = file_of(store, ONE)
    data = bytearray(path.read_bytes())
    data[at] ^= 1
    path.write_bytes(data)
    assert store.get(ONE) is None


def test_a_pipe_or_a_file_too_large_is_not_waited_for(store):
    store.put(ONE, b"content")
    path = file_of(store, ONE)
    path.unlink()
    os.mkfifo(path)
    assert store.get(ONE) is None
    path.unlink()
    with path.open("wb") as stream:
        stream.truncate(store.most_bytes + 1000)
    assert store.get(ONE) is None


def test_a_file_under_another_name_is_not_believed(store):
    store.put(ONE, b"content")
    file_of(store, ONE).rename(file_of(store, TWO))
    assert store.get(TWO) is None


def test_a_folder_that_others_can_write_to_is_not_used(store):
    store.put(ONE, b"content")
    store.folder.chmod(0o777)
    other = DiskStore(store.folder)
    assert other.get(ONE) is None
    other.put(TWO, b"more")
    assert not file_of(store, TWO).exists()


def test_a_link_to_a_folder_is_not_used(store, tmp_path):
    (tmp_path / "elsewhere").mkdir(mode=0o700)
    (tmp_path / "link").symlink_to(tmp_path / "elsewhere")
    assert not DiskStore(tmp_path / "link").usable


def test_a_full_disk_keeps_nothing_and_leaves_nothing(store, monkeypatch):
    real = builtins.open

    def full(path, mode="r", *rest, **more):
        file = real(path, mode, *rest, **more)
        if "x" not in mode:
            return file

        class Full:
            def __enter__(self):
                return self

            def __exit__(self, *fault):
                file.close()

            def write(self, data):
                raise OSError(errno.ENOSPC, "no space left")

        return Full()

    monkeypatch.setattr(builtins, "open", full)
    store.put(ONE, b"content")
    monkeypatch.undo()
    assert list(store._files()) == []
    store.put(ONE, b"content")
    assert store.get(ONE) is None, "this run keeps nothing more"
    assert DiskStore(store.folder).usable


def test_a_place_that_cannot_be_made_is_not_used(tmp_path):
    (tmp_path / "file").write_text("")
    store = DiskStore(tmp_path / "file" / "kept")
    store.put(ONE, b"content")
    assert store.get(ONE) is None


def test_what_was_used_least_lately_goes_first(store):
    keys = [f"{k:02x}" + "0" * 62 for k in range(12)]
    for k, key in enumerate(keys):
        store.put(key, bytes(1000))
        os.utime(file_of(store, key), (k, k))
    assert store.get(keys[0]) is not None, "looked at, so used lately"
    store.trim()
    left = [key for key in keys if file_of(store, key).exists()]
    assert keys[0] in left
    assert keys[1] not in left
    assert left[1:] == keys[12 - len(left) + 1 :]
    assert sum(path.stat().st_size for path in store._files()) <= 0.8 * store.most_bytes
    store.put(ONE, bytes(10_001))
    assert store.get(ONE) is None, "larger than all room"


def test_what_a_dead_run_began_goes_when_it_is_old(store):
    store.put(ONE, b"content")
    old, young = (store.folder / "ab" / f"{name}.new" for name in ("old", "young"))
    old.write_bytes(b"half")
    young.write_bytes(b"half")
    os.utime(old, (1, 1))
    store.trim()
    assert not old.exists()
    assert young.exists()


WRITER = """
import sys
from pathlib import Path
from flatten.kept.disk import DiskStore
store = DiskStore(Path(sys.argv[1]), most_bytes=3_000_000)
print("writing", flush=True)
for turn in range(10**9):
    key = f"{turn % 7:02x}" + "0" * 62
    found = store.get(key)
    assert found is None or found == key.encode() * 10_000, "believed what is not so"
    store.put(key, key.encode() * 10_000)
    if turn % 5 == 0:
        store.trim()
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="kills")
def test_two_runs_share_a_folder_and_kill_9_leaves_nothing_that_is_wrongly_believed(tmp_path):
    folder, root = tmp_path / "kept", Path(__file__).parents[3]
    env = {**os.environ, "PYTHONPATH": str(root)}
    command = [sys.executable, "-c", WRITER, str(folder)]
    for turn in range(4):
        both = [subprocess.Popen(command, env=env, stdout=subprocess.PIPE, stderr=subprocess.PIPE) for _ in range(2)]
        for one in both:
            one.stdout.readline()
        time.sleep(0.05 + 0.037 * turn)
        assert [one.poll() for one in both] == [None, None]
        for one in both:
            one.kill()
            assert one.communicate()[1] == b""
        store = DiskStore(folder)
        for k in range(7):
            key = f"{k:02x}" + "0" * 62
            assert store.get(key) in (None, key.encode() * 10_000)


def test_the_folder_follows_the_users_wish(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert cache_folder() == tmp_path / "trimloft" / "results"
    monkeypatch.setenv("XDG_CACHE_HOME", "relative")
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    assert cache_folder() == tmp_path / "home" / ".cache" / "trimloft" / "results"


def test_memory_keeps_the_last_used_within_its_bound():
    held = MemoryStore(most_bytes=30)
    for key in "abc":
        held.put(key, bytes(10))
    held.get("a")
    held.put("d", bytes(10))
    assert [key for key in "abcd" if held.get(key) is not None] == ["a", "c", "d"]
    held.put("d", bytes(5))
    assert held.bytes == 25
    held.put("e", bytes(31))
    assert held.get("e") is None
    assert held.bytes == 25


@given(st.lists(st.tuples(st.booleans(), st.sampled_from("abcdef"), st.integers(0, 40)), max_size=60))
def test_memory_never_holds_more_than_its_bound_and_lets_the_oldest_go(steps):
    held, model = MemoryStore(most_bytes=50), {}
    for puts, key, size in steps:
        if not puts:
            found = held.get(key)
            assert (None if found is None else len(found)) == model.get(key)
            if key in model:
                model[key] = model.pop(key)
            continue
        held.put(key, bytes(2 * size))
        if 2 * size <= 50:
            model.pop(key, None)
            model[key] = 2 * size
        # What is longer than all room is not kept, and what was kept under its name before stays.
        while sum(model.values()) > 50:
            del model[next(iter(model))]
        assert held.bytes == sum(model.values()) <= 50
    assert {key for key in "abcdef" if held.get(key) is not None} == {*model}
