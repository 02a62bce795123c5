"""Crash-safe writing of single files, and numbers as stable text.

A file is written beside its place under a hidden name and renamed when it is whole, so that whatever stops the program
leaves either the old one or the new one. Output folders are the matter of `meshes.folder`.
"""

import contextlib
import errno
import math
import os
import secrets
import stat
from pathlib import Path

from meshes.base.problems import Problem, ProblemError

# The one typeface of pictures and patterns, shipped beside this file.
FONT_FILE = Path(__file__).with_name("DejaVuSans.ttf")
# What is not whole yet has a hidden name that begins like this, then the number of the process that writes it. It does
# not hold the file's own name, which may be as long as names can be.
_PART = ".trimloft-part-"
_FLAGS = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0) | getattr(os, "O_CLOEXEC", 0)
# What a system answers that cannot give a file a second name.
_NO_LINKS = (errno.EPERM, errno.EOPNOTSUPP, errno.ENOSYS, errno.EMLINK, errno.EXDEV)


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


def shown_name(name: str | os.PathLike[str]) -> str:
    """The name of a file or folder as it can be printed anywhere, on one line: what is no printable character, and
    bytes that are no text, as escapes."""
    return "".join(c if c.isprintable() else _escape(c) for c in os.fspath(name))


def _escape(c: str) -> str:
    # Bytes that are no text come as half characters from DC80 on (PEP 383).
    return f"\\x{ord(c) - 0xDC00:02x}" if 0xDC80 <= ord(c) <= 0xDCFF else c.encode("unicode_escape").decode()


def write_file(path: Path, data: bytes, *, new: bool = False) -> None:
    """Write a file whole or not at all. new: only where nothing stands, else it is left as it is.

    Raises ProblemError when the place cannot be written to, FileExistsError for `new` where something stands.
    """
    path = Path(path)
    part = None
    try:
        if path.is_dir() and not new:
            text = "this is a folder, a file was to be written; give another name"
            raise ProblemError([Problem("P001", "", text, shown_name(path))])
        refuse_read_only(path.parent)
        _remove_unfinished(path.parent)
        part = path.parent / f"{_PART}{os.getpid()}-{secrets.token_hex(4)}"
        write_new(part, data)
        if new:
            _give_free_name(part, path)
        else:
            os.replace(part, path)
        sync_folder(path.parent)
    except FileExistsError:
        raise
    except (OSError, ValueError) as fault:
        raise cannot_write(path, fault) from fault
    finally:
        if part is not None:
            with contextlib.suppress(OSError):
                os.unlink(part)


def write_new(path: Path, data: bytes) -> None:
    """Write a file that is not there yet and have it on the disk. Raises OSError, and leaves it unfinished."""
    with os.fdopen(os.open(path, _FLAGS, 0o666), "wb") as stream:
        stream.write(data)
        stream.flush()
        os.fsync(stream.fileno())


def refuse_read_only(folder: Path) -> None:
    """Raise PermissionError for a folder that cannot be written into. One that nobody may write into is left alone also
    by those who may do everything."""
    if not os.stat(folder).st_mode & 0o222 or not os.access(folder, os.W_OK | os.X_OK):
        raise PermissionError(errno.EACCES, "the folder is read-only", str(folder))


def cannot_write(out: str | os.PathLike[str], fault: Exception) -> ProblemError:
    """The problem of a place that refuses to be written to."""
    reason = (fault.strerror if isinstance(fault, OSError) else None) or str(fault)
    text = f"cannot be written ({reason}); check its name, the folder's permissions and the room on the disk"
    return ProblemError([Problem("P004", "", text, shown_name(out))])


def sync_folder(folder: Path) -> None:
    """Have the names in a folder on the disk. Not every system lets a folder be opened; there it does so
    itself.
    """
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _give_free_name(part: Path, path: Path) -> None:
    """Let a finished file take a name that nothing has. Raises FileExistsError when something has it."""
    try:
        os.link(part, path)
    except OSError as fault:
        if fault.errno not in _NO_LINKS:
            raise
        if os.path.lexists(path):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path)) from None
        os.rename(part, path)


def _remove_unfinished(folder: Path) -> None:
    """Remove what runs that are no longer alive left half written in a folder."""
    for name in os.listdir(folder):
        writer = name.removeprefix(_PART).split("-")[0]
        if not name.startswith(_PART) or not writer.isdigit() or _alive(int(writer)):
            continue
        with contextlib.suppress(OSError):
            if stat.S_ISREG(os.lstat(folder / name).st_mode):
                os.unlink(folder / name)


def _alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except PermissionError:
        return True
    return True
