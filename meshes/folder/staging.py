"""One change of an output folder, all of it or nothing, in the folder itself: nothing is ever exchanged under those who
stand in it.

In this order, each on the disk before the next begins: a hidden staging folder, the journal of what is to come, the new
files, the new manifest; then every file is renamed to its place, the manifest last; then the staging folder goes.
While no manifest is staged nothing has been touched, and an interrupted change is dropped. From then on it is finished,
by whichever run comes next; a fault on the way (no room, no permission) undoes it.

A file is only ever replaced or removed when it is what the earlier manifest lists, or already what is to be written.
Anything else is the user's and is kept beside under a free name.
"""

import contextlib
import json
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from meshes.base.files import sync_folder, write_new
from meshes.folder.manifest import (
    DamagedError,
    Listed,
    entry_of,
    listed_rows,
    manifest_bytes,
    manifest_name,
    read_manifest,
    small_json,
    unchanged,
)
from meshes.folder.names import RESERVED, is_plain, kept_name

STAGING = f"{RESERVED}new"
_JOURNAL, _MANIFEST, _PART = "journal", "manifest", "manifest.part"
_COMMAND = re.compile(r"[a-z-]+")
# A new file has its number for a name, what it replaces the same with "old-" before it; under "kept-" stands the name
# that the user's file was given in its place.
_OURS = re.compile(rf"(old-|kept-)?[0-9]+|{_PART}|{_MANIFEST}")


@dataclass(frozen=True)
class FolderChange:
    """What a command changes in its folder. files: to be written; dropped: names written earlier and no longer; taken:
    what another command wrote under one of these names; kept: (name, name it was kept under), filled while the change
    is made."""

    place: Path
    command: str
    files: Mapping[str, Listed]
    dropped: tuple[str, ...]
    taken: Mapping[str, Listed] = field(default_factory=dict)
    kept: list[tuple[str, str]] = field(default_factory=list)

    @property
    def work(self) -> Path:
        """The staging folder."""
        return self.place / STAGING


def make_change(
    place: Path,
    command: str,
    files: Mapping[str, bytes],
    dropped: tuple[str, ...],
    taken: Mapping[str, Listed] | None = None,
) -> FolderChange:
    """Write files into a folder that is locked and has no change under way. Raises OSError; all is as it was then."""
    listed = {name: entry_of(data) for name, data in files.items()}
    change = FolderChange(place, command, listed, dropped, taken or {})
    try:
        _stage(change, files)
        _finish(change)
    except BaseException:
        _undo(change)
        _tidy(place)
        raise
    with contextlib.suppress(OSError):
        _tidy(place)
    return change


def end_interrupted(place: Path) -> FolderChange | None:
    """Finish what an interrupted run had ready, and return it, or drop what it had not.

    Raises DamagedError when the staging folder is not one of ours, OSError when it cannot be done.
    """
    work = place / STAGING
    if not os.path.lexists(work):
        return None
    if work.is_symlink() or not work.is_dir():
        raise DamagedError(STAGING)
    found = set(os.listdir(work))
    if any(name != _JOURNAL and not _OURS.fullmatch(name) for name in found):
        raise DamagedError(STAGING)
    change = None
    if _MANIFEST in found:
        change = _read_journal(place)
        _recall_kept(change)
        _finish(change)
    _tidy(place)
    return change


def _stage(change: FolderChange, files: Mapping[str, bytes]) -> None:
    work = change.work
    os.mkdir(work)
    journal = {
        "command": change.command,
        "files": _rows(change.files),
        "dropped": list(change.dropped),
        "taken": _rows(change.taken),
    }
    write_new(work / _JOURNAL, json.dumps(journal).encode())
    sync_folder(work)
    sync_folder(change.place)
    for k, data in enumerate(files.values()):
        write_new(work / str(k), data)
    write_new(work / _PART, manifest_bytes(change.command, change.files))
    sync_folder(work)
    os.rename(work / _PART, work / _MANIFEST)
    sync_folder(work)


def _rows(files: Mapping[str, Listed]) -> dict[str, dict[str, str | int]]:
    return {name: {"sha256": one.sha256, "bytes": one.size} for name, one in files.items()}


def _finish(change: FolderChange) -> None:
    """Give every staged file its place, the manifest last; what is done already is not done again."""
    place, work = change.place, change.work
    try:
        earlier = read_manifest(place, change.command) or {}
    except DamagedError:
        earlier = {}
    for k, name in enumerate(change.dropped, len(change.files)):
        _make_room(change, name, k, (earlier.get(name), change.taken.get(name)))
        if os.path.lexists(place / name):
            os.unlink(place / name)
    for k, (name, new) in enumerate(change.files.items()):
        if os.path.lexists(work / str(k)):
            _make_room(change, name, k, (earlier.get(name), new, change.taken.get(name)))
            os.replace(work / str(k), place / name)
    sync_folder(place)
    os.replace(work / _MANIFEST, place / manifest_name(change.command))
    sync_folder(place)


def _make_room(change: FolderChange, name: str, k: int, known: tuple[Listed | None, ...]) -> None:
    """Have a way back for what stands at a name when it is ours; anything else there is renamed and so kept."""
    path, back = change.place / name, change.work / f"old-{k}"
    if not os.path.lexists(path):
        return
    if not unchanged(path, *known):
        _keep(change, name, change.work / f"kept-{k}")
    elif not os.path.lexists(back):
        try:
            os.link(path, back, follow_symlinks=False)
        except OSError:
            # No second names here: the file itself stands aside, and its name is free for an instant.
            os.rename(path, back)


def _keep(change: FolderChange, name: str, note: Path) -> None:
    """Give the user's file a free name, which is noted first: whoever finishes the change can tell it."""
    kept = kept_name(name, os.listdir(change.place))
    with contextlib.suppress(FileNotFoundError):
        os.unlink(note)
    write_new(note, os.fsencode(kept))
    os.rename(change.place / name, change.place / kept)
    change.kept.append((name, kept))


def _recall_kept(change: FolderChange) -> None:
    """What the interrupted run had given another name already."""
    for k, name in enumerate([*change.files, *change.dropped]):
        note = change.work / f"kept-{k}"
        kept = os.fsdecode(note.read_bytes()) if note.is_file() else ""
        if is_plain(kept) and os.path.lexists(change.place / kept):
            change.kept.append((name, kept))


def _undo(change: FolderChange) -> None:
    """Put back what was there. Raises OSError when that fails too; the next run then finishes the change."""
    place, work = change.place, change.work
    if not os.path.lexists(work / _MANIFEST):
        return
    for k, name in enumerate([*change.files, *change.dropped]):
        new, old = work / str(k), work / f"old-{k}"
        if k < len(change.files) and not os.path.lexists(new):
            os.rename(place / name, new)
        if os.path.lexists(old):
            # Two names of one file are left as they are by a rename; then only the second one goes.
            os.rename(old, place / name)
    for name, kept in reversed(change.kept):
        os.rename(place / kept, place / name)
    change.kept.clear()
    sync_folder(place)
    os.rename(work / _MANIFEST, work / _PART)


def _tidy(place: Path) -> None:
    """Remove the staging folder; the journal last, so that what it belongs to can be told."""
    work = place / STAGING
    if not os.path.lexists(work):
        return
    for name in sorted(os.listdir(work)):
        if _OURS.fullmatch(name):
            os.unlink(work / name)
    if os.path.lexists(work / _JOURNAL):
        os.unlink(work / _JOURNAL)
    os.rmdir(work)
    sync_folder(place)


def _read_journal(place: Path) -> FolderChange:
    """The change that a journal tells of. Raises DamagedError, naming the staging folder, for no journal of ours."""
    try:
        data = small_json(place / STAGING / _JOURNAL)
        files = listed_rows(data["files"], place / STAGING)
        command, dropped = data["command"], data["dropped"]
        taken = listed_rows(data.get("taken", {}), place / STAGING)
        sound = isinstance(dropped, list) and all(isinstance(name, str) and is_plain(name) for name in dropped)
        if sound and isinstance(command, str) and _COMMAND.fullmatch(command):
            return FolderChange(place, command, files, tuple(dropped), taken)
    except (TypeError, KeyError, DamagedError) as fault:
        raise DamagedError(STAGING) from fault
    raise DamagedError(STAGING)
