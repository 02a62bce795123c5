"""The manifest of a command in its output folder: the files it wrote there last, each with size and SHA-256.

A reader trusts what a manifest lists and finds as it is listed, nothing else. One manifest for every command, because
several may write into one folder.
"""

import contextlib
import errno
import hashlib
import json
import os
import stat
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from io import BufferedReader
from pathlib import Path
from typing import Any

from meshes.base.files import write_file
from meshes.folder.names import RESERVED, is_plain

MANIFEST_VERSION = 1
# Far more than the list of any folder of ours takes.
_LARGEST = 4_000_000
_FLAGS = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)


class DamagedError(ValueError):
    """A manifest or journal that is there but cannot be read as one."""


@dataclass(frozen=True)
class Listed:
    """What is told of a file: SHA-256 as hexadecimal digits, and size in bytes."""

    sha256: str
    size: int


def entry_of(data: bytes) -> Listed:
    """What a manifest tells of a file with these bytes."""
    return Listed(hashlib.sha256(data).hexdigest(), len(data))


def unchanged(path: Path, *known: Listed | None) -> bool:
    """Whether a plain file, no link, stands there and is one of those known."""
    try:
        with _plain_file(path) as (stream, size):
            # The size first: a large file of someone else is not read for nothing.
            if size not in {one.size for one in known if one is not None}:
                return False
            return Listed(hashlib.file_digest(stream, "sha256").hexdigest(), size) in known
    except OSError:
        return False


def manifest_name(command: str) -> str:
    """The hidden file that lists what a command wrote."""
    return f"{RESERVED}{command}.json"


def manifest_bytes(command: str, files: Mapping[str, Listed]) -> bytes:
    """A manifest as JSON."""
    rows = {name: {"sha256": one.sha256, "bytes": one.size} for name, one in sorted(files.items())}
    whole = {"version": MANIFEST_VERSION, "command": command, "files": rows}
    return (json.dumps(whole, indent=1) + "\n").encode()


def read_manifest(folder: Path, command: str) -> dict[str, Listed] | None:
    """What a command wrote into a folder, None when it has no manifest there. Raises DamagedError."""
    path = folder / manifest_name(command)
    return _read(path) if os.path.lexists(path) else None


def all_manifests(folder: Path) -> dict[str, dict[str, Listed]]:
    """The manifests of all commands in a folder. Raises DamagedError when one cannot be read."""
    names = [name for name in os.listdir(folder) if name.startswith(RESERVED) and name.endswith(".json")]
    return {name.removeprefix(RESERVED).removesuffix(".json"): _read(folder / name) for name in sorted(names)}


def disown(folder: Path, command: str, names: Collection[str]) -> None:
    """Take names out of a command's manifest, where it has one: what stands there is another's now. Raises
    DamagedError, ProblemError."""
    files = read_manifest(folder, command)
    if files is not None and not files.keys().isdisjoint(names):
        left = {name: one for name, one in files.items() if name not in names}
        write_file(folder / manifest_name(command), manifest_bytes(command, left))


def is_whole(folder: Path, command: str) -> bool:
    """Whether a folder holds what a command wrote there last, complete and unchanged."""
    try:
        files = read_manifest(folder, command)
    except DamagedError:
        return False
    return files is not None and all(unchanged(folder / name, one) for name, one in files.items())


def small_json(path: Path, largest: int = _LARGEST) -> Any:
    """The data of a small JSON file. Raises DamagedError for anything else."""
    try:
        with _plain_file(path) as (stream, size):
            if size > largest:
                raise DamagedError(path.name)
            return json.loads(stream.read(largest + 1))
    except (OSError, ValueError, RecursionError) as fault:
        raise DamagedError(path.name) from fault


def listed_rows(rows: Any, path: Path) -> dict[str, Listed]:
    """Files by name from JSON data. Raises DamagedError for what no program of ours wrote."""
    try:
        found = {name: Listed(str(row["sha256"]), int(row["bytes"])) for name, row in rows.items()}
    except (AttributeError, KeyError, TypeError, ValueError) as fault:
        raise DamagedError(path.name) from fault
    if not all(is_plain(name) for name in found):
        raise DamagedError(path.name)
    return found


@contextlib.contextmanager
def _plain_file(path: Path) -> Iterator[tuple[BufferedReader, int]]:
    """A plain file, open, and its size. Raises OSError for anything else, links among it, and waits for nothing."""
    handle = os.open(path, _FLAGS)
    try:
        found = os.fstat(handle)
        if not stat.S_ISREG(found.st_mode):
            raise OSError(errno.EINVAL, "no plain file", str(path))
        with os.fdopen(handle, "rb", closefd=False) as stream:
            yield stream, found.st_size
    finally:
        os.close(handle)


def _read(path: Path) -> dict[str, Listed]:
    data = small_json(path)
    if not isinstance(data, dict):
        raise DamagedError(path.name)
    return listed_rows(data.get("files"), path)
