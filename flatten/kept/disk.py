"""Results kept in files under the user's cache folder.

A file holds the digest of its key and content in front of the content, so one that is torn, changed or under another
name is never believed: it counts as not there. Files appear whole, by a rename, and are only ever replaced by others of
equal meaning, so that several runs can share the folder without a lock. What cannot be written is not kept, and that is
all that comes of it. Only a folder that belongs to the user, and that nobody else can write to, is used: what stands in
it is run as it is read.
"""

import hashlib
import os
import secrets
import stat
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from meshes.base.reading import UnreadableError, read_whole

# All files together, in bytes; when there are more, the least lately used go until this share is left.
DISK_BYTES, LEFT_SHARE = 1 << 30, 0.8
# So much is written before all files are counted again.
COUNT_EVERY_BYTES = 64 << 20
# A file that was begun and not finished for so long belongs to a run that is no more, s.
ABANDONED_S = 3600.0
_MARK = b"trimloft kept 1\n"
_SUFFIX, _NEW = ".kept", ".new"


def cache_folder() -> Path:
    """Where results are kept: under XDG_CACHE_HOME where that is an absolute path, else under ~/.cache."""
    asked = os.environ.get("XDG_CACHE_HOME", "")
    base = Path(asked) if os.path.isabs(asked) else Path.home() / ".cache"
    return base / "trimloft" / "results"


class DiskStore:
    """Pickled results by key, in files."""

    def __init__(self, folder: Path | None = None, most_bytes: int = DISK_BYTES) -> None:
        self.folder = cache_folder() if folder is None else folder
        self.most_bytes = most_bytes
        self._uncounted = COUNT_EVERY_BYTES
        self._usable: bool | None = None

    def get(self, key: str) -> bytes | None:
        """What is kept under a key, None when nothing that can be believed is."""
        if not self.usable:
            return None
        path = self._path(key)
        try:
            data = read_whole(path, most_bytes=self.most_bytes + len(_MARK) + hashlib.sha256().digest_size)
        except UnreadableError:
            return None
        head = len(_MARK) + hashlib.sha256().digest_size
        content = data[head:]
        if data[:head] != _head(key, content):
            self._drop(path)
            return None
        with suppress(OSError):
            os.utime(path)
        return content

    def put(self, key: str, content: bytes) -> None:
        """Keep a result, unless it cannot be written."""
        if not self.usable or len(content) > self.most_bytes:
            return
        path = self._path(key)
        new = path.with_name(f"{path.stem}.{os.getpid()}.{secrets.token_hex(4)}{_NEW}")
        try:
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            with open(new, "xb") as file:
                file.write(_head(key, content))
                file.write(content)
            os.replace(new, path)
        except OSError:
            # A full disk, or one that may not be written to: this run keeps nothing more there.
            self._drop(new)
            self._usable = False
            return
        self._uncounted += len(content)
        if self._uncounted >= COUNT_EVERY_BYTES:
            self.trim()

    def trim(self) -> None:
        """Remove what was used least lately where there is more than there may be, and what other runs left begun."""
        self._uncounted = 0
        found = []
        for path in self._files():
            with suppress(OSError):
                told = path.stat()
                if path.suffix == _NEW and time.time() - told.st_mtime > ABANDONED_S:
                    self._drop(path)
                elif path.suffix == _SUFFIX:
                    found.append((told.st_mtime_ns, told.st_size, path))
        left = sum(size for _, size, _ in found)
        if left <= self.most_bytes:
            return
        for _, size, path in sorted(found):
            self._drop(path)
            left -= size
            if left <= LEFT_SHARE * self.most_bytes:
                return

    @property
    def usable(self) -> bool:
        """Whether the folder can be made, is the user's own, and can be written to by nobody else."""
        if self._usable is None:
            self._usable = self._own()
        return self._usable

    def _own(self) -> bool:
        try:
            self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            told = self.folder.stat(follow_symlinks=False)
        except OSError:
            return False
        mine = not hasattr(os, "geteuid") or told.st_uid == os.geteuid()
        shared = os.name == "posix" and told.st_mode & (stat.S_IWGRP | stat.S_IWOTH)
        return stat.S_ISDIR(told.st_mode) and mine and not shared

    def _path(self, key: str) -> Path:
        return self.folder / key[:2] / f"{key}{_SUFFIX}"

    def _files(self) -> Iterator[Path]:
        with suppress(OSError):
            for part in self.folder.iterdir():
                if part.is_dir():
                    yield from part.iterdir()

    @staticmethod
    def _drop(path: Path) -> None:
        with suppress(OSError):
            path.unlink()


def _head(key: str, content: bytes) -> bytes:
    """What stands in front of a content."""
    found = hashlib.sha256(key.encode())
    found.update(content)
    return _MARK + found.digest()
