"""Names of files in an output folder: when two are one, names that fit, and names to keep things under."""

import os
import re
import unicodedata
from collections.abc import Collection, Iterable
from fnmatch import fnmatchcase

# Bytes that common file systems allow in one name.
LONGEST_NAME = 255
# Hidden names that the program keeps for itself in an output folder begin like this.
RESERVED = ".trimloft-"
# Characters that some file system refuses or reads as something else.
_NO_FILE_CHARACTERS = frozenset('/\\:*?"<>|')
_KEPT = re.compile(r".* \(kept [0-9]+\)", re.DOTALL)


def alike(name: str) -> str:
    """The same text for names that some file system takes for one: upper and lower case, ways to write an accent."""
    # By way of capitals: some small letters fold to themselves and share their capital with others.
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).upper().casefold())


def matches(name: str, patterns: Iterable[str]) -> bool:
    """Whether a name is, or could be taken for, one of these, in which * stands for anything. What is kept is none."""
    return not _KEPT.fullmatch(alike(os.path.splitext(name)[0])) and any(
        fnmatchcase(alike(name), alike(pattern)) for pattern in patterns
    )


def is_plain(name: str) -> bool:
    """Whether a text names a file in a folder itself and none of those the program keeps for itself."""
    bad = not name or name in (os.curdir, os.pardir) or any(c in name for c in ("/", os.sep, os.altsep or "/", "\0"))
    return not bad and not alike(name).startswith(RESERVED)


def file_names(stems: Iterable[str], suffix: str, *, prefix: str = "") -> dict[str, str]:
    """A file name for each of these words: fit to be one anywhere, at most 255 bytes, and no two alike."""
    taken: set[str] = set()
    names = {}
    for stem in stems:
        clean = "".join("-" if c in _NO_FILE_CHARACTERS or not c.isprintable() else c for c in prefix + stem).strip()
        clean += "-" if _KEPT.fullmatch(alike(clean)) else ""
        k, name = 1, _fitted(clean, suffix)
        while alike(name) in taken:
            k += 1
            name = _fitted(clean, f" {k}{suffix}")
        taken.add(alike(name))
        names[stem] = name
    return names


def kept_name(name: str, present: Collection[str]) -> str:
    """The name a file is kept under beside a new one: `patterns (kept 1).svg`, the next number that is free."""
    stem, suffix = os.path.splitext(name)
    taken = {alike(one) for one in present}
    k = 1
    while alike(_fitted(stem, f" (kept {k}){suffix}")) in taken:
        k += 1
    return _fitted(stem, f" (kept {k}){suffix}")


def _fitted(stem: str, ending: str) -> str:
    """Stem and ending, the stem shortened by whole characters until both fit into a name."""
    room = LONGEST_NAME - len(os.fsencode(ending))
    while len(os.fsencode(stem)) > room:
        stem = stem[: -max(1, (len(os.fsencode(stem)) - room) // 4)]
    return stem + ending
