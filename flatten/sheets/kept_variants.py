"""Variants of a sheet that are kept beside it: whole texts by name, in the hidden folder of its earlier texts."""

import json
import threading
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from flatten.sheets.history import FOLDER, History, mark_of
from flatten.sheets.refusals import RefusedError
from meshes.base.files import shown_name, write_file
from meshes.schema.toml_text import LARGEST_SHEET_BYTES

# More variants than these are not kept beside each other.
MOST_KEPT_VARIANTS = 6
_FILE = "variants.json"


@dataclass(frozen=True)
class KeptVariants:
    """The variants of the sheets in one folder."""

    place: Path
    _lock: threading.RLock = field(default_factory=threading.RLock, repr=False, compare=False)

    def of(self, sheet: str) -> list[tuple[str, str, str]]:
        """Name, mark and text of every variant of a sheet, in the order they were kept."""
        with suppress(OSError, ValueError):
            most = 2 * MOST_KEPT_VARIANTS * LARGEST_SHEET_BYTES
            rows = json.loads(self._path(sheet).read_bytes()[:most])
            found = rows.items() if isinstance(rows, dict) else ()
            return [(name, mark_of(text), text) for name, text in found if isinstance(text, str)]
        return []

    def keep(self, sheet: str, name: str, text: str) -> None:
        """Keep a text under a name, in the place of what had that name. Raises RefusedError for one too many,
        ProblemError when it cannot be written."""
        with self._lock:
            rows = {one: there for one, _, there in self.of(sheet)}
            if name not in rows and len(rows) >= MOST_KEPT_VARIANTS:
                text = f"{MOST_KEPT_VARIANTS} variants are kept already; let one go first"
                raise RefusedError(422, "W325", shown_name(name), text)
            self._write(sheet, {**rows, name: text})

    def let_go(self, sheet: str, name: str) -> None:
        """Keep a variant no longer. Raises ProblemError when that cannot be written."""
        with self._lock:
            self._write(sheet, {one: there for one, _, there in self.of(sheet) if one != name})

    def _write(self, sheet: str, rows: dict[str, str]) -> None:
        History(self.place / FOLDER / sheet).made()
        write_file(self._path(sheet), json.dumps(rows).encode())

    def _path(self, sheet: str) -> Path:
        return self.place / FOLDER / sheet / _FILE
