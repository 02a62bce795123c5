"""What a sheet was before: every saved text as a file of its own, so that undo and redo outlast the program.

The texts of one sheet are numbered files in a hidden folder beside it. A save writes the new text there first, then the
sheet, then which number it has; whatever stops the program between two of these steps, the sheet is the old one or the
new one, and which number that is is found from its text.
"""

import hashlib
import os
import stat
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from meshes.base.files import write_file
from meshes.base.problems import Problem, ProblemError
from meshes.schema.toml_text import LARGEST_SHEET_BYTES

FOLDER = ".trimloft-page"
# So many steps can be undone; older texts are removed.
MOST_UNDONE = 200
_AT = "at"


def mark_of(text: str) -> str:
    """What a text is known by: the first 16 hexadecimal digits of its SHA-256."""
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:16]


@dataclass(frozen=True)
class History:
    """The saved texts of one sheet, in the folder at `place`."""

    place: Path

    def steps(self, current: str) -> tuple[int, int]:
        """How many steps lie before the current text, and how many after it."""
        numbers = self._numbers()
        at = self._number_of(current)
        return sum(n < at for n in numbers), sum(n > at for n in numbers) if at else 0

    def neighbour(self, current: str, by: int) -> str | None:
        """The text one step before (-1) or after (+1) the current one; None where there is none."""
        numbers, at = self._numbers(), self._number_of(current)
        if not at:
            # The current text is not kept yet: the newest kept one came before it.
            return self.text(numbers[-1]) if by < 0 and numbers else None
        near = [n for n in numbers if (n < at if by < 0 else n > at)]
        return self.text(near[-1] if by < 0 else near[0]) if near else None

    def find(self, mark: str) -> str | None:
        """The kept text with this mark."""
        return next((text for n in reversed(self._numbers()) if mark_of(text := self.text(n)) == mark), None)

    def keep(self, current: str, new: str) -> None:
        """Keep the current text, if it is not, and after it a new one, which takes the place of what was undone.

        Raises ProblemError when the folder cannot be written.
        """
        self.made()
        at = self._number_of(current)
        if not at:
            at = max(self._numbers(), default=0) + 1
            self._write(at, current)
        for number in [n for n in self._numbers() if n > at]:
            self._path(number).unlink(missing_ok=True)
        self._write(at + 1, new)
        for number in self._numbers()[:-MOST_UNDONE]:
            self._path(number).unlink(missing_ok=True)

    def point(self, text: str) -> None:
        """Note that the sheet holds this text now."""
        number = self._number_of(text)
        if number:
            write_file(self.place / _AT, str(number).encode())

    def text(self, number: int) -> str:
        """The text of a number; empty where it cannot be read."""
        with suppress(OSError, UnicodeDecodeError):
            return self._path(number).read_bytes()[:LARGEST_SHEET_BYTES].decode("utf-8")
        return ""

    def made(self) -> None:
        """Make the folder where it is missing. Raises ProblemError where that cannot be."""
        for folder in (self.place.parent, self.place):
            with suppress(FileExistsError):
                folder.mkdir()
            if not stat.S_ISDIR(os.lstat(folder).st_mode):
                text = "stands where earlier texts of the sheets are kept, and is no folder; move it away"
                raise ProblemError([Problem("W320", "", text, folder.name)])

    def _write(self, number: int, text: str) -> None:
        write_file(self._path(number), text.encode())

    def _path(self, number: int) -> Path:
        return self.place / f"{number:06d}.toml"

    def _numbers(self) -> list[int]:
        names: list[str] = []
        # A folder that leads elsewhere is not ours.
        with suppress(OSError):
            if stat.S_ISDIR(os.lstat(self.place).st_mode) and stat.S_ISDIR(os.lstat(self.place.parent).st_mode):
                names = os.listdir(self.place)
        return sorted(int(name[:-5]) for name in names if name.endswith(".toml") and name[:-5].isdigit())

    def _number_of(self, text: str) -> int:
        """The number of a text, of several the one nearest to where the sheet was last; 0 where it is not kept."""
        at = 0
        with suppress(OSError, ValueError):
            at = int((self.place / _AT).read_text())
        same = [number for number in self._numbers() if self.text(number) == text]
        return min(same, key=lambda number: (abs(number - at), -number), default=0)
