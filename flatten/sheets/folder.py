"""The folder that was chosen for the page: its sheets, read and written there and nowhere else.

A sheet is named by the plain name of a regular file that ends in .toml. Names with a folder in them, links and devices
are refused, and so are sheets that name a file outside of the folder: of leather cards, a drawing of a hide, prices.
"""

import json
import os
import re
import stat
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from flatten.sheets.history import FOLDER, History, mark_of
from flatten.sheets.kept_variants import KeptVariants
from flatten.sheets.refusals import RefusedError
from meshes.base.files import shown_name, write_file
from meshes.base.problems import ProblemError, plain
from meshes.folder.names import is_plain
from meshes.schema.lines import toml_lines
from meshes.schema.toml_text import LARGEST_SHEET_BYTES, parsed, text_of
from meshes.sheet.read import sheet_of_tables
from meshes.sheet.starter import starter_text
from meshes.sheet.whole import Sheet

_ENDING = ".toml"
# The text that a sheet was begun with, beside its earlier texts.
_BEGUN = "begun.toml"
# What a sheet may name in another file, by the key that names it.
_NAMED = {"leather": "leather cards", "file": "drawings of hides", "prices": "price tables"}
# Readings of one sheet that are kept, and how large their file may be.
MOST_READINGS, MOST_READINGS_BYTES = 500, 100_000
# Endings of drawings.
DRAWINGS = (".svg", ".dxf")
# A folder with more sheets than this is not shown whole.
MOST_LISTED = 500


@dataclass(frozen=True)
class SheetState:
    """A sheet as it stands. text: of the file; mark: of the text; undo, redo: how many steps there are."""

    name: str
    text: str
    mark: str
    undo: int
    redo: int


class SheetFolder:
    """The sheets of one folder."""

    def __init__(self, place: Path) -> None:
        self.place = place.resolve()
        self._lock = threading.RLock()
        self.variants = KeptVariants(self.place)

    def names(self) -> list[str]:
        """Names of the files that may be sheets, rising."""
        with os.scandir(self.place) as found:
            names = [e.name for e in found if e.name.endswith(_ENDING) and e.is_file(follow_symlinks=False)]
        return sorted(name for name in names if not name.startswith(".") and is_plain(name))[:MOST_LISTED]

    def path(self, name: str) -> Path:
        """Where a sheet stands. Raises RefusedError for a name that leads out of the folder, or to no file in it."""
        path = self._inside(name)
        try:
            kind = os.lstat(path).st_mode
        except (OSError, ValueError):
            text = "there is no sheet of this name in the folder any more; it may have been moved or deleted"
            raise RefusedError(404, "W306", shown_name(name), text) from None
        if not stat.S_ISREG(kind):
            text = "this is a link, a folder or a device; only files that lie in the folder itself are opened"
            raise RefusedError(403, "W307", shown_name(name), text)
        return path

    def state(self, name: str) -> SheetState:
        """A sheet as it stands. Raises RefusedError and ProblemError."""
        with self._lock:
            text = text_of(self.path(name))
            return SheetState(name, text, mark_of(text), *self._history(name).steps(text))

    def begin(self, name: str, kind: str, title: str) -> SheetState:
        """A new sheet from the starter of a kind of seat. Raises RefusedError where a file has that name,
        ProblemError for a title that cannot be a name."""
        path = self._inside(name)
        text = re.sub(r'(?m)^name = ".*"$', lambda _: f"name = {_quoted(title)}", starter_text(kind), count=1)
        text = re.sub(r"^#:schema .*\n", "", text)
        self.sheet(name, text)
        try:
            write_file(path, text.encode(), new=True)
        except FileExistsError:
            text = "a file of this name is there already, and is kept as it is; give another name"
            raise RefusedError(409, "W317", shown_name(name), text) from None
        # Without it the page only cannot tell which numbers are still the starter's.
        with suppress(ProblemError):
            self._history(name).made()
            write_file(self._history(name).place / _BEGUN, text.encode())
        return self.state(name)

    def begun(self, name: str) -> dict[str, Any]:
        """The tables that a sheet was begun with on the page; empty where it was not."""
        path = self._history(name).place / _BEGUN
        with suppress(OSError, ProblemError):
            if not path.is_symlink():
                return parsed(path.read_bytes()[:LARGEST_SHEET_BYTES].decode("utf-8", "replace"), name)
        return {}

    def save(self, name: str, new: str, *, base: str) -> SheetState:
        """Write a sheet. base: mark of the text that was changed. Raises RefusedError (W308) when the file holds
        another text by now, ProblemError when it cannot be written; then the file is as it was."""
        with self._lock:
            path, current = self.path(name), self.state(name)
            if current.mark != base:
                text = "the sheet was changed elsewhere meanwhile; both are kept: choose which one stays"
                raise RefusedError(409, "W308", shown_name(name), text)
            if new != current.text:
                history = self._history(name)
                history.keep(current.text, new)
                write_file(path, new.encode())
                history.point(new)
            return self.state(name)

    def step(self, name: str, by: int, *, base: str) -> SheetState:
        """Undo (-1) or redo (+1). Raises RefusedError where there is nothing to, and as `save` does."""
        with self._lock:
            path, current = self.path(name), self.state(name)
            if current.mark != base:
                text = "the sheet was changed elsewhere meanwhile; look at it before a step is undone"
                raise RefusedError(409, "W308", shown_name(name), text)
            history = self._history(name)
            near = history.neighbour(current.text, by)
            if not near:
                raise RefusedError(409, "W310", shown_name(name), f"there is nothing to {'undo' if by < 0 else 'redo'}")
            if not history.steps(current.text)[0] and by < 0:
                history.keep(current.text, near)
            write_file(path, near.encode())
            history.point(near)
            return self.state(name)

    def earlier(self, name: str, mark: str) -> str | None:
        """A text that the sheet had, by its mark."""
        current = self.state(name)
        if current.mark == mark:
            return current.text
        kept = next((text for _, one, text in self.variants.of(name) if one == mark), None)
        return self._history(name).find(mark) or kept

    def keep_drawing(self, name: str, data: bytes) -> str:
        """Keep a drawing in the folder under a plain name, or that name with a number where another file has it; the
        name it has now. A drawing that is there already is not written again. Raises ProblemError."""
        stem, dot, suffix = name.rpartition(".")
        with self._lock:
            for k in range(1, MOST_LISTED):
                tried = name if k == 1 else f"{stem}-{k}{dot}{suffix}"
                path = self.place / tried
                try:
                    write_file(path, data, new=True)
                except FileExistsError:
                    if path.is_symlink() or not path.is_file() or path.read_bytes() != data:
                        continue
                return tried
        raise RefusedError(409, "W317", shown_name(name), "there are too many drawings of this name in the folder")

    def readings(self, name: str) -> dict[str, Any]:
        """What was read twice, by the place of the number in the sheet: {"mm": [one, two]}."""
        with suppress(OSError, ValueError):
            found = json.loads(self._readings_file(name).read_bytes()[:MOST_READINGS_BYTES])
            if isinstance(found, dict):
                return found
        return {}

    def note_reading(self, name: str, keys: Sequence[str | int], mm: tuple[float, float]) -> None:
        """Keep both readings of a number, mm, beside the sheet. Raises ProblemError when that cannot be written."""
        with self._lock:
            self.path(name)
            found = {**self.readings(name), ".".join(map(str, keys)): {"mm": list(mm)}}
            data = json.dumps(dict(list(found.items())[-MOST_READINGS:])).encode()
            self._history(name).made()
            write_file(self._readings_file(name), data)

    def _readings_file(self, name: str) -> Path:
        return self.place / FOLDER / name / "readings.json"

    def remember(self, name: str, text: str) -> None:
        """Keep the text a sheet has now, so that it can be come back to."""
        with self._lock:
            history = self._history(name)
            if history.find(mark_of(text)) is None:
                history.keep(text, text)

    def tables(self, name: str, text: str) -> dict[str, Any]:
        """The tables of a text as the standard reader has them. Raises ProblemError, RefusedError."""
        raw = parsed(text, name)
        for place, file in _named_files(raw):
            self._check_named(place, file)
        return raw

    def sheet(self, name: str, text: str) -> Sheet:
        """A checked sheet. Raises ProblemError with every fault, RefusedError."""
        raw = self.tables(name, text)
        try:
            return sheet_of_tables(raw, self._inside(name), lines=toml_lines(text))
        except RecursionError:
            raise RefusedError(422, "W305", shown_name(name), "the sheet is nested too deeply") from None

    def named_stamps(self, name: str, text: str) -> tuple[tuple[str, int, int], ...]:
        """How the other files that a text names stand: name, time of writing in ns and size of each that is there."""
        found = []
        for _, file in sorted(set(_named_files(self.tables(name, text)))):
            with suppress(OSError):
                told = os.lstat(self.place / file)
                found.append((file, told.st_mtime_ns, told.st_size))
        return tuple(found)

    def _inside(self, name: str) -> Path:
        if not (is_plain(name) and name.endswith(_ENDING) and len(name) > len(_ENDING) and not name.startswith(".")):
            text = f"sheets are files of the folder, ending in {_ENDING}; found {plain(shown_name(name))[:80]!r}"
            raise RefusedError(403, "W307", "sheet", text)
        return self.place / name

    def _check_named(self, place: str, file: str) -> None:
        if not is_plain(file) or os.path.islink(self.place / file):
            what = _NAMED[place]
            text = f"{what} are read from this folder only, found {shown_name(file)[:80]!r}; copy the file here"
            raise RefusedError(403, "W307", place, text)

    def _history(self, name: str) -> History:
        return History(self.place / FOLDER / name)


def _named_files(raw: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Other files that a sheet names, each with the key that names it."""
    for table, key in (("cover", "leather"), ("covering", "leather"), ("hide", "file"), ("cutting", "prices")):
        rows = raw.get(table)
        for row in rows if isinstance(rows, list) else [rows]:
            name = row.get(key) if isinstance(row, dict) else None
            if isinstance(name, str) and key != "leather":
                yield key, name
            elif isinstance(name, str) and _ENDING in name:
                yield key, name.partition(_ENDING)[0] + _ENDING


def file_name(title: str) -> str:
    """A file name for a sheet of this title."""
    stem = re.sub(r"[^\w]+", "-", title.lower(), flags=re.ASCII).strip("-")[:40].strip("-")
    return f"{stem or 'seat'}{_ENDING}"


def drawing_name(given: str, suffix: str) -> str:
    """A file name for a drawing that was sent under some name. suffix: one of DRAWINGS."""
    return file_name(re.sub(r"\.\w+$", "", given)).removesuffix(_ENDING) + suffix


def _quoted(text: str) -> str:
    """A text as TOML has it in quotes."""
    body = "".join(c if c.isprintable() and c not in '"\\' else _escaped(c) for c in text)
    return f'"{body}"'


def _escaped(c: str) -> str:
    return f"\\{c}" if c in '"\\' else f"\\u{ord(c):04x}" if ord(c) < 0x10000 else f"\\U{ord(c):08x}"
