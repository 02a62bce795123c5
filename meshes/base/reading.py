"""Files from outside, read whole: regular files only, never more than was allowed, every refusal in words.

A pipe or a device can keep a reader waiting or feeding for ever, and what a file says of its own size may be wrong, so
neither is trusted: the file is opened without waiting, looked at, and read no further than the limit.
"""

import os
import stat
from contextlib import suppress
from pathlib import Path


class UnreadableError(ValueError):
    """The file cannot be taken. The text says why and what to do; missing: there is no such file or it is a folder."""

    def __init__(self, text: str, *, missing: bool = False, too_large: bool = False) -> None:
        super().__init__(text)
        self.missing, self.too_large = missing, too_large


def read_whole(path: Path, *, most_bytes: int) -> bytes:
    """The bytes of a regular file that holds no more than `most_bytes`. Raises UnreadableError."""
    try:
        # Not to wait for whoever is at the other end of a pipe.
        number = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    except FileNotFoundError:
        raise UnreadableError("there is no such file; check its name and folder", missing=True) from None
    except IsADirectoryError:
        raise UnreadableError("this is a folder; name the file inside it", missing=True) from None
    except OSError as fault:
        raise _refused(fault) from None
    except ValueError:
        raise UnreadableError("no file can have this name; leave out what cannot be written", missing=True) from None
    try:
        kind = os.fstat(number)
        if stat.S_ISDIR(kind.st_mode):
            raise UnreadableError("this is a folder; name the file inside it", missing=True)
        if not stat.S_ISREG(kind.st_mode):
            raise UnreadableError("this is no regular file but a pipe, a socket or a device; name a file")
        with os.fdopen(number, "rb", closefd=False) as stream:
            data = b"" if kind.st_size > most_bytes else stream.read(min(most_bytes, max(kind.st_size, 1 << 20)) + 1)
    except OSError as fault:
        raise _refused(fault) from None
    finally:
        os.close(number)
    if max(kind.st_size, len(data)) > most_bytes:
        raise UnreadableError(f"the file is larger than {_size(most_bytes)}", too_large=True)
    return data


def _refused(fault: OSError) -> UnreadableError:
    return UnreadableError(f"the file cannot be read ({fault.strerror}); check its name and permissions")


def _size(count: int) -> str:
    return f"{count / 1e6:g} MB"


def exists(path: Path) -> bool:
    """Whether something has this name; False also for names that nothing can have, and in folders that are closed."""
    with suppress(OSError, ValueError):
        path.lstat()
        return True
    return False
