"""Crash-safe writing, and numbers as stable text.

A file or folder is written beside its place under a hidden name and swapped in when it is whole, so that
whatever stops the program leaves either the old one or the new one. Where the system can exchange two names
in one step (Linux: renameat2 with RENAME_EXCHANGE) there is no moment without a folder; elsewhere the old
folder stands aside for an instant, and the next run to the same place puts it back should it have been
stopped in that instant.
"""

import contextlib
import ctypes
import ctypes.util
import errno
import math
import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

from meshes.base.problems import Problem, ProblemError

# The one typeface of pictures and patterns, shipped beside this file.
FONT_FILE = Path(__file__).with_name("DejaVuSans.ttf")
# An output folder of ours always holds this file; a folder without it belongs to someone else.
MARKER = "report.json"
_NEW, _OLD = ".trimloft-new-", ".trimloft-old-"
_AT_FDCWD = -100
_RENAME_EXCHANGE = 2
# What a full disk, a used-up quota or a failing medium answers: the user's to mend, no fault of the program.
_NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO, errno.EROFS)


def number(x: float, places: int) -> str:
    """`x` with at most `places` decimals, without trailing zeros, never "-0": the same number gives the same
    text.

    Raises ValueError for what is no finite number.
    """
    if not math.isfinite(x):
        raise ValueError(f"{x} cannot be written as a number")
    text = f"{x:.{places}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def write_file(path: Path, data: bytes) -> None:
    """Write a file whole or not at all. Raises ProblemError when the place cannot be written to."""
    path = Path(path)
    if path.is_dir():
        raise ProblemError(
            [Problem("P001", "", "this is a folder, a file was to be written; give another name", str(path))]
        )
    part = None
    try:
        _remove_unfinished(path)
        handle, part = tempfile.mkstemp(prefix=f".{path.name}{_NEW}{os.getpid()}-", dir=path.parent)
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(part, 0o666 & ~_umask())
        os.replace(part, path)
        _sync_folder(path.parent)
    except OSError as fault:
        raise _cannot_write(path, fault) from fault
    finally:
        if part is not None:
            with contextlib.suppress(FileNotFoundError):
                os.unlink(part)


@contextlib.contextmanager
def write_folder(out: Path) -> Iterator[Path]:
    """Write a folder whole or not at all: fill the folder this yields; it takes the place of `out` on
    success.

    An earlier output of ours is replaced only then, and left as it was when anything is raised. Raises
    ProblemError when `out` is a file, holds something that is not an output of ours, or cannot be written.
    """
    place = Path(os.path.realpath(out))
    _refuse_foreign(place, out)
    made: list[Path] = []
    try:
        made = _make_parents(place.parent)
        _recover(place)
        fresh = Path(tempfile.mkdtemp(prefix=f".{place.name}{_NEW}{os.getpid()}-", dir=place.parent))
    except OSError as fault:
        _remove_empty(made)
        raise _cannot_write(out, fault) from fault
    try:
        yield fresh
        os.chmod(fresh, 0o777 & ~_umask())
        _sync_tree(fresh)
        _refuse_foreign(place, out)
        _swap_in(fresh, place)
    except OSError as fault:
        if fault.errno in _NO_ROOM or _concerns(fault, fresh, place):
            raise _cannot_write(out, fault) from fault
        raise
    finally:
        # After a swap the hidden name holds the old folder, after a fault the unfinished new one.
        shutil.rmtree(fresh, ignore_errors=True)
        _remove_empty(made)


def _refuse_foreign(place: Path, out: Path) -> None:
    """Raise when something stands at the place that must not be replaced."""
    if not os.path.lexists(place):
        return
    if not place.is_dir():
        text = "a file stands where the folder was to be written; give another name"
        raise ProblemError([Problem("P002", "", text, str(out))])
    try:
        names = os.listdir(place)
    except OSError as fault:
        raise _cannot_write(out, fault) from fault
    if names and MARKER not in names:
        text = f"the folder is in use and holds no {MARKER}, so it is no earlier output and left alone"
        raise ProblemError([Problem("P003", "", f"{text}; give an empty or new folder", str(out))])


def _cannot_write(out: Path, fault: OSError) -> ProblemError:
    why = fault.strerror or str(fault)
    text = f"cannot be written ({why}); check the folder's permissions and the room on the disk"
    return ProblemError([Problem("P004", "", text, str(out))])


def _concerns(fault: OSError, fresh: Path, place: Path) -> bool:
    names = [str(name) for name in (fault.filename, fault.filename2) if name is not None]
    return any(name.startswith((str(fresh), str(place))) for name in names)


def _make_parents(folder: Path) -> list[Path]:
    """Make a folder and those above it; returns the ones made, innermost first."""
    missing = []
    while not folder.exists():
        missing.append(folder)
        folder = folder.parent
    for new in reversed(missing):
        new.mkdir()
    return missing


def _remove_empty(folders: list[Path]) -> None:
    """Take back folders that were made for nothing; those that hold something stay."""
    for folder in folders:
        with contextlib.suppress(OSError):
            folder.rmdir()


def _recover(place: Path) -> None:
    """Tidy up after a run that was stopped: put an old folder back that stands aside, remove unfinished
    ones.
    """
    for aside in sorted(place.parent.glob(f".{_escaped(place.name)}{_OLD}*")):
        if not place.exists():
            os.rename(aside, place)
        else:
            shutil.rmtree(aside, ignore_errors=True)
    _remove_unfinished(place)


def _remove_unfinished(place: Path) -> None:
    """Remove what runs that are no longer alive left half written beside `place`."""
    for left in place.parent.glob(f".{_escaped(place.name)}{_NEW}*"):
        writer = left.name.split(_NEW)[1].split("-")[0]
        if writer.isdigit() and _alive(int(writer)):
            continue
        if left.is_dir():
            shutil.rmtree(left, ignore_errors=True)
        else:
            left.unlink(missing_ok=True)


def _escaped(name: str) -> str:
    return "".join(f"[{c}]" if c in "*?[" else c for c in name)


def _alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True


def _swap_in(fresh: Path, place: Path) -> None:
    """Let `fresh` take the name `place`; what stood there is afterwards at `fresh` or gone."""
    if not place.exists():
        os.rename(fresh, place)
    elif not _exchange(fresh, place):
        aside = place.parent / f".{place.name}{_OLD}{os.getpid()}"
        os.rename(place, aside)
        os.rename(fresh, place)
        shutil.rmtree(aside, ignore_errors=True)
    _sync_folder(place.parent)


@cache
def _renameat2() -> Any:
    """The C library's renameat2, None where there is none."""
    if not sys.platform.startswith("linux"):
        return None
    return getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None)


def _exchange(one: Path, two: Path) -> bool:
    """Exchange two names in one step; False where the system or file system cannot."""
    call = _renameat2()
    if call is None:
        return False
    done = call(_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(two), ctypes.c_uint(_RENAME_EXCHANGE))
    if done == 0:
        return True
    code = ctypes.get_errno()
    if code in (errno.ENOSYS, errno.EINVAL, errno.ENOTSUP):
        return False
    raise OSError(code, os.strerror(code), str(two))


def _sync_tree(folder: Path) -> None:
    """Have everything in a folder on the disk before its name changes."""
    for base, _, names in os.walk(folder):
        for name in names:
            with open(os.path.join(base, name), "rb") as stream:
                os.fsync(stream.fileno())
        _sync_folder(Path(base))


def _sync_folder(folder: Path) -> None:
    """Have the names in a folder on the disk. Not every system lets a folder be opened; there it does so
    itself.
    """
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
