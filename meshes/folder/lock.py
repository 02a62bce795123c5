"""One run at a time: locks that end with the process that holds them, however it ends.

Locks of the kind flock(2), which go with an open file. Where a system or a file system has none, runs are not kept
apart.
"""

import contextlib
import errno
import os
from collections.abc import Iterator
from pathlib import Path

from meshes.folder.names import RESERVED

try:
    import fcntl
except ImportError:  # pragma: no cover - systems of another kind
    fcntl = None  # type: ignore[assignment]

LOCK = f"{RESERVED}lock"
_FLAGS = os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_CLOEXEC", 0)
_held_locks: set[int] = set()


class BusyError(Exception):
    """Another run holds the lock."""


@contextlib.contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold a folder's lock. Raises BusyError when another run does, OSError when the folder cannot be written to."""
    path = folder / LOCK
    handle = _taken(path)
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            # Removed while it is held: whoever opened it meanwhile sees that it has no name any more.
            if os.fstat(handle).st_size == 0:
                os.unlink(path)
        let_go(handle)


def hold(handle: int) -> bool:
    """Lock an open file or folder without waiting; False when another run holds it. Worker processes forked from here
    do not hold it with us."""
    if fcntl is not None:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as fault:
            if fault.errno in (errno.EWOULDBLOCK, errno.EAGAIN, errno.EACCES):
                return False
    _held_locks.add(handle)
    return True


def let_go(handle: int) -> None:
    """Close what `hold` locked, and so end the lock."""
    _held_locks.discard(handle)
    os.close(handle)


def is_still(handle: int, path: Path) -> bool:
    """Whether an open file or folder still has this name."""
    try:
        return os.path.samestat(os.fstat(handle), os.lstat(path))
    except OSError:
        return False


def _taken(path: Path) -> int:
    while True:
        handle = os.open(path, _FLAGS, 0o666)
        if not hold(handle):
            os.close(handle)
            raise BusyError
        if is_still(handle, path):
            return handle
        let_go(handle)


def _in_child() -> None:
    """A forked child gives up its share: the lock is the parent's alone and ends with it."""
    for handle in list(_held_locks):
        with contextlib.suppress(OSError):
            let_go(handle)


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_in_child)
