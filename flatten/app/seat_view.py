"""The command `view`: a window on the seat, or one picture of it without a screen.

A picture that was saved is known again by its seal, a text chunk (PNG specification, 11.3.4.3) with the SHA-256 of the
rest of the file; only such a picture, and unchanged, is ever replaced.
"""

import errno
import hashlib
import os
import stat
import struct
import sys
import zlib
from pathlib import Path

from flatten.job.pipeline import Job
from flatten.seatview.pictures import painted_note, png
from flatten.seatview.scenes import SHOWS, scene
from meshes.base.files import cannot_write, refuse_read_only, shown_name, write_file
from meshes.base.problems import Problem, ProblemError, one_of
from meshes.view.view import Shot, pictures, window

_KEY = b"trimloft view\0"
# Signature and header chunk of a PNG file; the seal comes after them. Its length, name, text and check follow.
_HEAD, _SEAL = 33, 12 + len(_KEY) + 64


def check_view(show: str, save: Path | None) -> None:
    """Raise ProblemError for what could not be shown or saved in the end: a name, a place, a file that is kept."""
    if show not in SHOWS:
        found = shown_name(show)
        raise ProblemError([Problem("V103", "--show", f"nothing of this name: found {found!r}; use {one_of(SHOWS)}")])
    if save is None:
        _check_screen()
        return
    if save.suffix.lower() != ".png":
        text = f'a picture is written as PNG: found "{shown_name(save.name)}"; end it in .png'
        raise ProblemError([Problem("V104", "--save", text)])
    _check_place(save)


def view_sheet(job: Job, *, save: Path | None = None, show: str = "panels") -> None:
    """Show a job's seat in a window, `show` first, or save a picture of it as PNG.

    Raises ProblemError as `check_view` does, when the file cannot be written and when no window can be opened.
    """
    check_view(show, save)
    if save is None:
        window({word: scene(job, word) for word in (show, *(word for word in SHOWS if word != show))})
        return
    drawn = pictures([Shot(scene(job, show), "front")])
    picture = sealed(png(drawn.images[0]))
    if os.path.lexists(save):
        _check_place(save)
        write_file(save, picture)
    else:
        try:
            write_file(save, picture, new=True)
        except FileExistsError:
            raise _kept(save) from None
    for note in painted_note(drawn.reason):
        print(note, file=sys.stderr)


def sealed(picture: bytes) -> bytes:
    """A PNG file with the seal added."""
    text = _KEY + hashlib.sha256(picture).hexdigest().encode()
    chunk = struct.pack(">I", len(text)) + b"tEXt" + text + struct.pack(">I", zlib.crc32(b"tEXt" + text))
    return picture[:_HEAD] + chunk + picture[_HEAD:]


def has_seal(picture: bytes) -> bool:
    """Whether a file is a picture as it was saved."""
    return picture == sealed(picture[:_HEAD] + picture[_HEAD + _SEAL :])


def _check_screen() -> None:
    """On systems where a window needs a screen that is named, say at once when none is."""
    if sys.platform.startswith("linux") and not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        text = "no window could be opened (there is no screen); save a picture instead: --save seat.png"
        raise ProblemError([Problem("V101", "window", text)])


def _check_place(save: Path) -> None:
    """Raise ProblemError unless the picture can be written there, over nothing but a picture of our own."""
    try:
        refuse_read_only(save.parent)
        found = os.lstat(save)
        if stat.S_ISDIR(found.st_mode):
            text = "this is a folder, a file was to be written; give another name"
            raise ProblemError([Problem("P001", "", text, shown_name(save))])
        if not stat.S_ISREG(found.st_mode) or not has_seal(save.read_bytes()):
            raise _kept(save)
    except FileNotFoundError:
        if not save.parent.is_dir():
            raise cannot_write(save, FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT))) from None
    except (OSError, ValueError) as fault:
        raise cannot_write(save, fault) from fault


def _kept(save: Path) -> ProblemError:
    text = "this file exists, is no picture saved here before or was changed since, and is kept as it is; "
    return ProblemError([Problem("P101", shown_name(save), text + "name another file")])
