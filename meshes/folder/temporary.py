"""Folders for work on the way, in the system's temporary folder. What a killed run left there the next one removes."""

import contextlib
import os
import re
import shutil
import stat
import tempfile
from collections.abc import Iterator
from pathlib import Path

from meshes.folder.lock import hold, is_still, let_go

_PREFIX = ".trimloft-work-"
# What tempfile appends. Only folders of exactly such names are ever removed.
_NAME = re.compile(re.escape(_PREFIX) + r"[a-z0-9_]{8}")


@contextlib.contextmanager
def temporary_folder() -> Iterator[Path]:
    """A new empty folder, removed in the end. Raises OSError when none can be made."""
    remove_left_over()
    folder, handle = _fresh()
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        let_go(handle)


def remove_left_over() -> None:
    """Remove folders of runs of this user that were killed: nobody holds them any more."""
    top = Path(tempfile.gettempdir())
    with contextlib.suppress(OSError):
        for name in os.listdir(top):
            if _NAME.fullmatch(name):
                _remove_if_left(top / name)


def _fresh() -> tuple[Path, int]:
    """A new folder and the handle that holds it."""
    while True:
        folder = Path(tempfile.mkdtemp(prefix=_PREFIX))
        handle = os.open(folder, os.O_RDONLY)
        # Another run that tidied up in this very instant took the folder for one left over.
        if not hold(handle):
            os.close(handle)
        elif is_still(handle, folder):
            return folder, handle
        else:
            let_go(handle)


def _remove_if_left(folder: Path) -> None:
    with contextlib.suppress(OSError):
        found = os.lstat(folder)
        if not stat.S_ISDIR(found.st_mode) or found.st_uid != os.geteuid():
            return
        handle = os.open(folder, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0))
        if not hold(handle):
            os.close(handle)
            return
        shutil.rmtree(folder, ignore_errors=True)
        let_go(handle)
