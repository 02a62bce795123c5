"""Files from outside: regular ones only, never more than allowed, whatever the path."""

import os
from pathlib import Path

import pytest

from meshes.base.reading import UnreadableError, exists, read_whole


def test_a_file_is_read_up_to_the_limit_and_not_beyond(tmp_path):
    path = tmp_path / "a"
    path.write_bytes(b"x" * 100)
    assert read_whole(path, most_bytes=100) == b"x" * 100
    with pytest.raises(UnreadableError) as fault:
        read_whole(path, most_bytes=99)
    assert fault.value.too_large


def test_a_file_of_many_gigabytes_is_refused_by_its_size_alone(tmp_path):
    path = tmp_path / "sparse"
    with path.open("wb") as stream:
        stream.truncate(1 << 42)
    with pytest.raises(UnreadableError, match="larger than 1 MB"):
        read_whole(path, most_bytes=1_000_000)


@pytest.mark.parametrize("make", ["fifo", "folder", "device", "endless", "loop", "dangling", "long", "nul", "through"])
def test_nothing_but_a_regular_file_is_waited_for(make, tmp_path):
    path = tmp_path / "it"
    match make:
        case "fifo":
            os.mkfifo(path)
        case "folder":
            path.mkdir()
        case "device":
            path = Path("/dev/null")
        case "endless":
            path = Path("/dev/zero")
        case "loop":
            path.symlink_to(path)
        case "dangling":
            path.symlink_to(tmp_path / "gone")
        case "long":
            path = tmp_path / ("x" * 5000)
        case "nul":
            path = tmp_path / "a\0b"
        case "through":
            (tmp_path / "file").write_text("x")
            path = tmp_path / "file" / "below"
    with pytest.raises(UnreadableError) as fault:
        read_whole(path, most_bytes=100)
    assert ";" in str(fault.value)


def test_a_folder_that_is_closed_is_a_refusal_and_no_fault_of_the_program(tmp_path, monkeypatch):
    # Nothing is closed to root, so the system's answer is given for it.
    def closed(*args, **kwargs):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "open", closed)
    with pytest.raises(UnreadableError, match="cannot be read"):
        read_whole(tmp_path / "a", most_bytes=100)


def test_what_exists_can_be_asked_of_any_name(tmp_path):
    (tmp_path / "a").write_text("")
    assert exists(tmp_path / "a")
    assert not any(exists(tmp_path / name) for name in ("b", "x" * 5000, "a\0b", "a/b"))
