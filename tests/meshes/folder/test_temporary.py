"""Temporary folders: gone in the end, and when their run was killed gone with the next one; nothing else goes."""

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from meshes.folder.temporary import remove_left_over, temporary_folder

HOLD = (
    "import time\nfrom meshes.folder.temporary import temporary_folder\nwith temporary_folder() as place:\n"
    "    (place / 'scene').write_bytes(b'1' * 1000)\n    print(place, flush=True)\n    time.sleep(60)\n"
)


@pytest.fixture
def top(tmp_path, monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    return tmp_path


def test_a_folder_is_gone_in_the_end_whatever_happens(top):
    with temporary_folder() as place:
        (place / "a").write_bytes(b"")
    with pytest.raises(KeyboardInterrupt), temporary_folder():
        raise KeyboardInterrupt
    assert os.listdir(top) == []


def test_what_a_killed_run_left_goes_with_the_next_and_that_of_a_living_one_stays(top):
    runs = [subprocess.Popen([sys.executable, "-c", HOLD], stdout=subprocess.PIPE, text=True) for _ in range(2)]
    try:
        killed, living = (Path(run.stdout.readline().strip()) for run in runs)
        runs[0].kill()
        runs[0].wait()
        assert (killed / "scene").exists()
        with temporary_folder() as place:
            remove_left_over()
            assert not killed.exists()
            assert (living / "scene").exists()
            assert place.exists()
    finally:
        for run in runs:
            run.kill()
            run.wait()
            run.stdout.close()


def test_folders_of_other_names_and_links_stay(top):
    for name in ("trimloft-work-abcdefgh", ".trimloft-work-my notes", ".trimloft-work-", "other"):
        (top / name).mkdir()
    (top / "mine").mkdir()
    (top / "mine" / "sheet.toml").write_bytes(b"mine")
    (top / ".trimloft-work-abcdefgh").symlink_to(top / "mine")
    (top / ".trimloft-work-abcdefgi").write_bytes(b"a file")
    before = sorted(os.listdir(top))
    remove_left_over()
    assert sorted(os.listdir(top)) == before
    assert (top / "mine" / "sheet.toml").read_bytes() == b"mine"
