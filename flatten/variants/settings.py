"""Values of a sheet set from the command line: where they stand, what they become, and all variants that follow.

A place is written as in `pad.cushion.layer.1.thickness`: pads and what else has a name by that, with "_" for blanks,
rows of a list by their number from 1. A value is written as in the sheet; `20..40:5` means 20, 25, 30, 35 and 40.
"""

import itertools
import math
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from meshes.base.problems import Key, KeyPath, Problem, ProblemError, SheetChange, near_name, one_of, plain
from meshes.sheet.changes import changed, written

# More variants than this nobody compares in one table.
MOST_VARIANTS = 40
# No measure has more digits; what has is no range.
_NUMBER = r"\d{1,9}(?:\.\d{1,9})?"
_RANGE = re.compile(rf"(-?{_NUMBER})\.\.(-?{_NUMBER}):({_NUMBER})")
_COMMA = re.compile(rf"-?{_NUMBER}(?:\s*,\s*-?{_NUMBER})+")
# Rows of a list have numbers of so many digits, and more of a place or value than this is not told.
_ROW_DIGITS, _LONGEST_SETTING = 4, 60


@dataclass(frozen=True)
class Setting:
    """One `--set`. place: as written; values: the texts it takes, one after the other."""

    place: str
    values: tuple[str, ...]


def setting(text: str) -> Setting:
    """What a text `place=value` asks for. Raises ProblemError for one that asks for nothing, or for a range without
    end."""
    place, equals, value = text.partition("=")
    if not equals or not place.strip() or not value.strip():
        raise _refused("V110", f"write place=value, as in pad.cushion.layer.1.thickness=30; found {_told(text)}")
    span = _RANGE.fullmatch(value.strip())
    if span is None and _COMMA.fullmatch(value.strip()):
        advice = "give --set once for every value, or a range, as in 20..40:5; decimals have a point, as in 2.5"
        raise _refused("V111", f"one value has no comma: {advice}; found {_told(value.strip())}")
    if span is None:
        return Setting(place.strip(), (value.strip(),))
    first, last, step = (float(part) for part in span.groups())
    if step <= 0.0 or last < first:
        raise _refused("V111", f"a range goes up in steps above 0, as in 20..40:5; found {_told(value.strip())}")
    if (last - first) / step > MOST_VARIANTS:
        raise _too_many(math.floor((last - first) / step) + 1)
    # Decimals of what was written, so that steps of 0.1 are those.
    places = max(len(part.partition(".")[2]) for part in span.groups())
    count = math.floor((last - first) / step + 1e-9) + 1
    numbers = [round(first + k * step, places) for k in range(count)]
    return Setting(place.strip(), tuple(f"{number:.{places}f}" for number in numbers))


def variants_of(tables: Mapping[str, Any], settings: Sequence[Setting]) -> list[tuple[str, dict[str, Any]]]:
    """Names and tables of all variants: every value of each place with every value of the others; settings of one
    place add their values to each other.

    tables: of the sheet as it stands, which is left as it is. Raises ProblemError for a place there is not, and for too
    many variants.
    """
    keys, settings = _by_place(tables, settings)
    count = math.prod(len(one.values) for one in settings)
    if count > MOST_VARIANTS:
        raise _too_many(count)
    found = []
    for values in itertools.product(*(one.values for one in settings)):
        name = ", ".join(f"{_told(one.place)} = {_told(value)}" for one, value in zip(settings, values, strict=True))
        new = tuple(SheetChange(key, None, _value(value)) for key, value in zip(keys, values, strict=True))
        found.append((name, changed(tables, new)))
    return found


def _by_place(tables: Mapping[str, Any], settings: Sequence[Setting]) -> tuple[list[KeyPath], list[Setting]]:
    """Paths and settings, those of one place in one."""
    found: dict[KeyPath, Setting] = {}
    for one in settings:
        path = place_of(tables, one.place)
        before = found.get(path, Setting(one.place, ()))
        found[path] = Setting(before.place, tuple(dict.fromkeys((*before.values, *one.values))))
    return list(found), list(found.values())


def place_of(tables: Mapping[str, Any], place: str) -> KeyPath:
    """The path of a place in the tables of a sheet; its last key need not stand there yet. Raises ProblemError for a
    place there is not."""
    here: Any = tables
    path: KeyPath = ()
    words = place.split(".")
    for depth, word in enumerate(words):
        key = _key(here, word)
        last = depth == len(words) - 1
        if key is None and isinstance(here, dict) and (last or word in ("cover", "allowance", "output")):
            # The reader says whether there is such a key; tables with usual values need not be written.
            key = word
        if key is None:
            raise _refused("V112", f"{_told(place)}: there is no {_told(word)!r}{_advice(here, word)}")
        path = (*path, key)
        here = _below(here, key)
    return written(tables, path)


def _key(here: Any, word: str) -> Key | None:
    """The key that a word means in a table or list, None when there is none."""
    if isinstance(here, list):
        if word.isdecimal() and len(word) <= _ROW_DIGITS and 1 <= int(word) <= len(here):
            return int(word) - 1
        named = {_plain(one["name"]): k for k, one in enumerate(here) if isinstance(one, dict) and "name" in one}
        return named.get(_plain(word))
    return word if isinstance(here, dict) and word in here else None


def _below(here: Any, key: Key) -> Any:
    """What stands under a key; an empty table where nothing does."""
    if isinstance(here, list) and isinstance(key, int):
        return here[key]
    return here.get(key, {}) if isinstance(here, dict) else {}


def _told(text: str) -> str:
    """What was written on the command line, as it may be shown anywhere."""
    return plain(text) if len(text) <= _LONGEST_SETTING else f"{plain(text[: _LONGEST_SETTING - 3])}..."


def _plain(name: object) -> str:
    return re.sub(r"[\s_-]+", "_", str(name).strip().casefold())


def _advice(here: Any, word: str) -> str:
    if isinstance(here, list):
        names = [str(one["name"]) for one in here if isinstance(one, dict) and "name" in one]
        return f"; write {one_of(names)}" if names else f"; rows are numbered 1 to {len(here)}"
    names = [str(key) for key in here] if isinstance(here, dict) else []
    near = near_name(word, names)
    return f"; did you mean {near!r}?" if near else f"; there are {', '.join(names)}" if names else ""


def _value(text: str) -> Any:
    """A value as TOML has it; what is none is text, so that `leather=soft` needs no quotes within quotes."""
    try:
        return tomllib.loads(f"value = {text}")["value"]
    except (tomllib.TOMLDecodeError, RecursionError):
        return text


def _too_many(count: int) -> ProblemError:
    return _refused("V113", f"{count} variants, at most {MOST_VARIANTS} are compared; take longer steps")


def _refused(code: str, text: str) -> ProblemError:
    return ProblemError([Problem(code, "--set", text)])
