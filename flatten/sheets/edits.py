"""One change in the text of a sheet, with its comments and the order of its keys kept.

Values are changed and removed with tomlkit. New keys and tables are put in as lines where a person would write them,
beside their like; tomlkit would put them behind the comments of the next table. Every change is checked in the end: the
new text must read as the old tables with that one change made, else it is refused.
"""

import copy
import re
from collections.abc import Sequence
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from flatten.sheets.refusals import RefusedError
from meshes.base.problems import Key, KeyPath, ProblemError
from meshes.records.pad import UPRIGHT, upright_key
from meshes.schema.lines import toml_lines
from meshes.schema.toml_text import parsed

# The most keys down to a value.
MOST_KEYS = 8
_BARE = re.compile(r"[A-Za-z0-9_-]+")


def as_written(raw: dict[str, Any], keys: Sequence[Key]) -> KeyPath:
    """A place as this file has it: sides of an upright pad are called bottom and top there, in the keys of the form
    front and rear."""
    path: list[Key] = []
    node: Any = raw
    for depth, key in enumerate(keys):
        name = key
        if isinstance(key, str) and depth >= 2 and keys[0] == "pad" and _kind(raw, keys[1]) in UPRIGHT:
            there = node if isinstance(node, dict) else {}
            name = key if key in there else upright_key(key)
        path.append(name)
        node = _under(node, name)
    return tuple(path)


def value_at(raw: dict[str, Any], keys: Sequence[Key]) -> Any:
    """What stands at a place of a sheet, None where nothing does."""
    node: Any = raw
    for key in as_written(raw, keys):
        node = _under(node, key)
    return node


def with_value(text: str, keys: Sequence[Key], value: Any) -> str:
    """The text with another value at a place; None: without it. Raises RefusedError where that cannot be done."""
    raw = parsed(text, "sheet")
    path = _checked(raw, keys)
    there = value_at(raw, keys)
    if value is None and there is None:
        # Not even the table may be there that it would stand in.
        return text
    if value is None:
        new = _without(text, path)
    elif isinstance(there, dict | list) or there is not None:
        new = _replaced(text, path, value)
    else:
        new = _added(text, path, value)
    return _agreed(new, _put(raw, path, value))


def with_row(text: str, keys: Sequence[Key], row: dict[str, Any], at: int | None = None) -> str:
    """The text with one more table in a list of tables, such as the layers of a pad; at: before which one."""
    raw = parsed(text, "sheet")
    path = _checked(raw, keys)
    rows = list(value_at(raw, keys) or [])
    if at is not None and 0 <= at < len(rows):
        # Rows that stand in a certain order are written anew behind each other.
        for k in reversed(range(at, len(rows))):
            text = with_value(text, (*path, k), None)
        for one in [row, *rows[at:]]:
            text = with_row(text, path, one)
        return text
    block = [f"[[{_dotted(path)}]]", *_lines_of(row, path)]
    new = _inserted_block(text, path, block)
    wanted = copy.deepcopy(raw)
    above: Any = wanted
    for key in path[:-1]:
        above = above.setdefault(key, {}) if isinstance(above, dict) else above[key]
    above.setdefault(path[-1], []).append(row)
    return _agreed(new, wanted)


def _kind(raw: dict[str, Any], index: Key) -> str:
    pads = raw.get("pad")
    pad = pads[index] if isinstance(pads, list) and isinstance(index, int) and 0 <= index < len(pads) else {}
    return str(pad.get("kind")) if isinstance(pad, dict) else ""


def _under(node: Any, key: Key) -> Any:
    if isinstance(node, dict) and isinstance(key, str):
        return node.get(key)
    if isinstance(node, list) and isinstance(key, int) and 0 <= key < len(node):
        return node[key]
    return None


def _checked(raw: dict[str, Any], keys: Sequence[Key]) -> KeyPath:
    """The place, when it is one a sheet can have."""
    fine = 1 <= len(keys) <= MOST_KEYS and isinstance(keys[0], str)
    if not fine or not all(isinstance(k, int) or _BARE.fullmatch(k) for k in keys):
        raise _refused("a place of a sheet is a few plain keys")
    path = as_written(raw, keys)
    node: Any = raw
    for depth, key in enumerate(path):
        below = isinstance(node, dict | list) if node is not None else True
        number = isinstance(key, int)
        inside = isinstance(node, list) and isinstance(key, int) and 0 <= key < len(node)
        if not below or ((number or isinstance(node, list)) and not inside):
            raise _refused(f"there is no such place in the sheet ({'.'.join(map(str, path[: depth + 1]))})")
        node = _under(node, key)
    return path


def _refused(text: str) -> RefusedError:
    return RefusedError(422, "W309", "change", f"{text}; change it in the file itself")


def _put(raw: dict[str, Any], path: KeyPath, value: Any) -> dict[str, Any]:
    """The tables with the change made."""
    root: Any = copy.deepcopy(raw)
    node = root
    for key in path[:-1]:
        node = node.setdefault(key, {}) if isinstance(node, dict) else node[key]
    last: Any = path[-1]
    if isinstance(node, list):
        if value is None:
            del node[last]
        elif last == len(node):
            node.append(value)
        else:
            node[last] = value
    elif value is None:
        if isinstance(node.pop(last, None), dict) and not node and len(path) > 1:
            # A table that stood for its tables alone goes with the last of them.
            _at(root, path[:-2]).pop(path[-2])
    elif isinstance(node.get(last), list) and isinstance(value, dict):
        node[last].append(value)
    else:
        node[last] = value
    return _pruned(root, path)


def _pruned(root: Any, path: KeyPath) -> Any:
    """A list of tables whose last row was taken out is no key any more."""
    node = root
    for key in path[:-2]:
        node = _under(node, key)
    if len(path) >= 2 and isinstance(node, dict) and node.get(path[-2]) == []:
        node.pop(path[-2])
    return root


def _agreed(text: str, wanted: dict[str, Any]) -> str:
    """The text, when it reads as is wanted."""
    if _plain(parsed(text, "sheet")) != _plain(wanted):
        raise _refused("this change cannot be written without losing something else")
    return text


def _plain(value: Any) -> Any:
    """Values without the difference of rows as lists or tuples."""
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    return [_plain(one) for one in value] if isinstance(value, list | tuple) else value


def _opened(text: str) -> Any:
    try:
        return tomlkit.parse(text)
    except TOMLKitError as fault:
        raise _refused(f"the text cannot be taken apart ({fault})") from None


def _replaced(text: str, path: KeyPath, value: Any) -> str:
    doc = _opened(text)
    node = doc
    for key in path[:-1]:
        node = node[key]
    node[path[-1]] = _item(value)
    return tomlkit.dumps(doc)


def _without(text: str, path: KeyPath) -> str:
    doc = _opened(text)
    node, above = doc, None
    for key in path[:-1]:
        above, node = node, node[key]
    whole = isinstance(node[path[-1]], dict)
    del node[path[-1]]
    if (isinstance(path[-1], int) or whole) and not len(node) and above is not None:
        del above[path[-2]]
    return tomlkit.dumps(doc)


def _item(value: Any) -> Any:
    """A value for tomlkit; rows of points one a line."""
    if isinstance(value, list) and value and all(isinstance(one, list) for one in value):
        return tomlkit.parse(f"x = {_written(value)}")["x"]
    return value


def _written(value: Any) -> str:
    """A value as TOML."""
    if isinstance(value, list) and value and all(isinstance(one, list) for one in value):
        return "[" + ", ".join(_written(one) for one in value) + "]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_written(one)}" for key, one in value.items()) + " }"
    return str(tomlkit.item(value).as_string())


def _lines_of(row: dict[str, Any], path: KeyPath) -> list[str]:
    bad = [key for key in row if not _BARE.fullmatch(key)]
    if bad:
        raise _refused(f"no plain key: {bad[0]!r}")
    return [f"{key} = {_written(value)}" for key, value in row.items()]


def _dotted(path: KeyPath) -> str:
    return ".".join(str(key) for key in path if isinstance(key, str))


def _added(text: str, path: KeyPath, value: Any) -> str:
    """A key that is not there yet: behind the last key of its table, or as a new table."""
    raw = parsed(text, "sheet")
    if isinstance(value, dict):
        return _inserted_block(text, path, [f"[{_dotted(path)}]", *_lines_of(value, path)])
    line = f"{path[-1]} = {_written(value)}"
    table = path[:-1]
    if isinstance(_at(raw, table), dict):
        if _is_inline(text, table):
            return _replaced(text, path, value)
        return _behind_last_key(text, table, line)
    return _inserted_block(text, table, [f"[{_dotted(table)}]", line])


def _at(raw: Any, path: KeyPath) -> Any:
    for key in path:
        raw = _under(raw, key)
    return raw


def _is_inline(text: str, table: KeyPath) -> bool:
    """Whether a table is written inside one line, so that it has no header of its own."""
    if not table:
        return False
    line = toml_lines(text).get(table)
    lines = text.replace("\r\n", "\n").split("\n")
    return line is not None and not lines[line - 1].lstrip().startswith("[")


def _behind_last_key(text: str, table: KeyPath, new: str) -> str:
    """The text with one more line in a table: behind its last key that ends on its line, else under its header."""
    places = toml_lines(text)
    lines = text.split("\n")
    own = [line for path, line in places.items() if path[:-1] == table and not lines[line - 1].lstrip().startswith("[")]
    header = places.get(table, 0) if table else 0
    wanted = [max(own)] if own else []
    for line in [*wanted, header]:
        tried = "\n".join([*lines[:line], new, *lines[line:]])
        try:
            tables = parsed(tried, "sheet")
        except ProblemError:
            continue
        if _under(_at(tables, table), new.partition(" = ")[0]) is not None:
            return tried
    raise _refused("there is no room for this key in its table")


def _inserted_block(text: str, path: KeyPath, block: list[str]) -> str:
    """The text with a new table: behind the last table that belongs to the same pad, before what is said of the
    next."""
    places = toml_lines(text)
    lines = text.rstrip("\n").split("\n")
    heads = [k + 1 for k, line in enumerate(lines) if re.match(r"\s*\[", line)]
    group = path[:2] if len(path) > 2 and isinstance(path[1], int) else ()
    like = [line for place, line in places.items() if place[: len(path)] == path and line in heads]
    inside = [line for place, line in places.items() if group and place[: len(group)] == group and line in heads]
    last = max(like or inside or heads or [len(lines)])
    following = [line for line in heads if line > last]
    end = following[0] - 1 if following else len(lines)
    # Comments right above the next table speak of it.
    while following and end > last and lines[end - 1].lstrip().startswith("#"):
        end -= 1
    while end > last and not lines[end - 1].strip():
        end -= 1
    return "\n".join([*lines[:end], "", *block, *([""] if following else []), *_trimmed(lines[end:])]) + "\n"


def _trimmed(lines: list[str]) -> list[str]:
    while lines and not lines[0].strip():
        lines = lines[1:]
    return lines
