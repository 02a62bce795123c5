"""The folder that a command writes into: which files there are its own, and what is refused before the work begins.

A command owns the files that its manifest lists and that have a name on its list; nothing else is ever touched. In a
folder without its manifest no such name may be taken. A file of its own that the user changed is kept beside. Commands
that write one thing in two ways take its files over from each other: the last one's are there.
"""

import contextlib
import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from meshes.base.files import cannot_write, refuse_read_only, shown_name
from meshes.base.problems import Problem, ProblemError
from meshes.folder.lock import BusyError, locked
from meshes.folder.manifest import DamagedError, Listed, all_manifests, disown, read_manifest, small_json, unchanged
from meshes.folder.names import is_plain, matches
from meshes.folder.staging import FolderChange, end_interrupted, make_change

# The report that folders of versions without manifests hold, and the most that is read of one.
REPORT = "report.json"
_LARGEST_REPORT = 100_000_000


@dataclass(frozen=True)
class Writer:
    """A command that writes a folder. key: names its manifest; called: as the user knows it; names: of all files it
    can write, in which * stands for anything; shares: keys of commands whose files of these names it takes over."""

    key: str
    called: str
    names: tuple[str, ...]
    shares: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class OutputFolder:
    """A folder held for one command until its work is done. place: without links; shown: as the user named it; notes:
    what was found and mended in it, as warnings."""

    place: Path
    shown: str
    writer: Writer
    notes: tuple[Problem, ...]

    def write(self, files: Mapping[str, bytes]) -> tuple[Problem, ...]:
        """Write these files, all of them or none; returns warnings about files that were kept beside.

        Files written earlier that are not among them go, unless the user changed them: then they are kept too. Raises
        ProblemError when the folder cannot be written or something that is not ours has one of the names.
        """
        names = self.writer.names
        strange = [name for name in files if not is_plain(name) or not matches(name, names)]
        if strange:
            raise ValueError(f"{self.writer.key} does not write {strange}")
        try:
            own = _checked(self)
            gone = tuple(sorted(own - set(files)))
            change = make_change(self.place, self.writer.key, files, gone, self._taken_over({*files, *gone}))
            for key in self.writer.shares:
                disown(self.place, key, {*files, *gone})
        except (OSError, DamagedError) as fault:
            raise cannot_write(self.shown, fault) from fault
        return tuple(self.notes) + _kept_notes(change, self.shown)

    def owner(self, name: str) -> str | None:
        """The key of the command that wrote a file that stands in the folder; None for anyone else's."""
        return _owner(self, name, all_manifests(self.place)) if (self.place / name).exists() else None

    def _taken_over(self, names: set[str]) -> dict[str, Listed]:
        """What commands that share these names wrote under them, as it stands there."""
        found = {}
        for key in self.writer.shares:
            for name, one in (read_manifest(self.place, key) or {}).items():
                if name in names and unchanged(self.place / name, one):
                    found[name] = one
        return found


@contextlib.contextmanager
def output_folder(out: Path, writer: Writer) -> Iterator[OutputFolder]:
    """Hold the folder `out` for a command while it works, made if it is not there and nothing prevents it.

    What an interrupted run left is finished or dropped first. A folder that was made goes again when nothing was
    written into it. Raises ProblemError, before the work begins, for what could not be written in the end.
    """
    shown = shown_name(out)
    made: list[Path] = []
    try:
        with contextlib.ExitStack() as held:
            try:
                place = Path(os.path.realpath(out))
                _refuse_file(place, shown)
                _make_folders(place, made)
                refuse_read_only(place)
                held.enter_context(locked(place))
                folder = OutputFolder(place, shown, writer, _mended(place, shown))
                _checked(folder)
            except BusyError:
                text = "another run is writing into this folder; wait until it has ended, or give another folder"
                raise ProblemError([Problem("P006", "", text, shown)]) from None
            except (OSError, ValueError) as fault:
                raise cannot_write(shown, fault) from fault
            yield folder
    finally:
        for new in reversed(made):
            with contextlib.suppress(OSError):
                new.rmdir()


@contextlib.contextmanager
def folder_if(out: Path | None, writer: Writer) -> Iterator[OutputFolder | None]:
    """The folder `out` held as `output_folder` holds it; None when none is asked for."""
    if out is None:
        yield None
        return
    with output_folder(out, writer) as folder:
        yield folder


def _refuse_file(place: Path, shown: str) -> None:
    if os.path.lexists(place) and not place.is_dir():
        text = "a file stands where the folder was to be written; give another name"
        raise ProblemError([Problem("P002", "", text, shown)])


def _make_folders(folder: Path, made: list[Path]) -> None:
    """Make a folder and those above it, and note the ones made, outermost first."""
    missing = []
    while not folder.exists():
        missing.append(folder)
        folder = folder.parent
    for new in reversed(missing):
        new.mkdir()
        made.append(new)


def _mended(place: Path, shown: str) -> tuple[Problem, ...]:
    """Finish or drop what an interrupted run left."""
    try:
        change = end_interrupted(place)
    except DamagedError as fault:
        raise _damaged(str(fault), shown) from fault
    if change is None:
        return ()
    text = f"a run of {change.command} was interrupted while it put its files in place; they are all in place now"
    return (Problem("P008", "", text, shown, warning=True), *_kept_notes(change, shown))


def _damaged(name: str, shown: str) -> ProblemError:
    text = (
        f"{shown_name(name)} in this folder keeps account of what was written there and cannot be read, so nobody can "
        "tell our files from yours; move it and the files you need away, or give another folder"
    )
    return ProblemError([Problem("P007", "", text, shown)])


def _checked(folder: OutputFolder) -> set[str]:
    """The names on the command's list that are there, all its own to replace. Raises ProblemError for others."""
    try:
        manifests = all_manifests(folder.place)
    except DamagedError as fault:
        raise _damaged(str(fault), folder.shown) from fault
    there = [name for name in sorted(os.listdir(folder.place)) if matches(name, folder.writer.names)]
    owners = {name: _owner(folder, name, manifests) for name in there}
    good = (folder.writer.key, *folder.writer.shares, None)
    others = {name: owner for name, owner in owners.items() if owner not in good}
    if others:
        text = (
            f"{_some(list(others))} in this folder belongs to {_some(sorted({*map(str, others.values())}))}, and "
            f"{folder.writer.called} would write a file of that name; give it a folder of its own"
        )
        raise ProblemError([Problem("P010", "", text, folder.shown)])
    strange = [name for name, owner in owners.items() if owner is None]
    if strange and not _is_earlier_output(folder.place, manifests):
        text = (
            f"{_some(strange)} in this folder was not written by {folder.writer.called}, which writes a file of that "
            "name, and is left alone; move it away, or give another folder"
        )
        raise ProblemError([Problem("P003", "", text, folder.shown)])
    return set(there)


def _owner(folder: OutputFolder, name: str, manifests: Mapping[str, Mapping[str, Listed]]) -> str | None:
    """The command that wrote a file: the one that lists it as it is, else one that lists its name; None when it is the
    user's."""
    claims = [key for key, files in manifests.items() if name in files]
    exact = [key for key in claims if unchanged(folder.place / name, manifests[key][name])]
    for group in (exact, claims):
        if group:
            return folder.writer.key if folder.writer.key in group else group[0]
    return None


def _is_earlier_output(place: Path, manifests: Mapping[str, Mapping[str, Listed]]) -> bool:
    """Whether a folder was written by a version that left no manifests: by its report, if none accounts for that."""
    if any(REPORT in files for files in manifests.values()):
        return False
    try:
        data = small_json(place / REPORT, _LARGEST_REPORT)
    except DamagedError:
        return False
    return isinstance(data, dict) and type(data.get("version")) is int and data.get("units") == "mm"


def _kept_notes(change: FolderChange, shown: str) -> tuple[Problem, ...]:
    text = '"{}" was not as it had been written there; it is kept as "{}"'
    return tuple(
        Problem("P009", "", text.format(shown_name(name), shown_name(kept)), shown, warning=True)
        for name, kept in change.kept
    )


def _some(names: list[str], most: int = 3) -> str:
    """The first few names, and how many more there are."""
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(f'"{shown_name(name)}"' for name in names[:most]) + more
