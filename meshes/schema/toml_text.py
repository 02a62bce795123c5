"""The text of a sheet or card file: read whole, bounded in size and depth, turned into tables by the standard reader.

The standard reader keeps every prefix of a dotted key and goes down into brackets by recursion, so how deep a text goes
is counted beforehand, in one pass over its brackets and dots.
"""

import re
import tomllib
from pathlib import Path
from typing import Any

from meshes.base.problems import Problem, ProblemError
from meshes.base.reading import UnreadableError, read_whole
from meshes.schema.toml_words import toml_fault

# A sheet is written by hand; a larger file is something else.
LARGEST_SHEET_BYTES = 1_000_000
# The deepest place of a sheet is [pad.outline.corner_radius]; some room for what is wrong to be told in words.
DEEPEST = 12

# More values than this nobody measures.
MOST_MARKS = 60_000

# Texts in quotes and remarks, which may hold anything; brackets, dots and what ends a run of them.
_MARKS = re.compile(
    r'"""(?:[^"\\]|\\.|"{1,2}(?!"))*+"{3,5}'
    r"|'''(?:[^']|'{1,2}(?!'))*+'{3,5}"
    r'|"(?:[^"\\\n]|\\.)*+"?'
    r"|'[^'\n]*+'?"
    r"|\#[^\n]*+"
    r"|[\[\]{}.,=\n]",
    re.DOTALL,
)


def text_of(path: Path, *, show: bool = True) -> str:
    """The text of a sheet or card file; show: as `parsed` has it. Raises ProblemError when it cannot be read or is no
    such text.
    """
    file = str(path)
    try:
        data = read_whole(path, most_bytes=LARGEST_SHEET_BYTES)
    except UnreadableError as fault:
        code = "S003" if fault.too_large else "S001"
        more = "; a measurement sheet is a short text file" if fault.too_large else ""
        raise _stop(file, code, f"{fault}{more}") from None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        found = f", found the byte {data[fault.start]:#04x}" if show else ""
        raise _stop(file, "S002", f"not a UTF-8 text file{found}; save it as UTF-8 text", line) from None
    if not text.strip():
        raise _stop(file, "S004", "the file is empty; write a starter sheet with: trimloft start FILE")
    return text


def parsed(text: str, file: str, *, show: bool = True) -> dict[str, Any]:
    """The tables of a TOML text. show: whether what stands on a faulty line may be told; a file that was only named in
    another one may be anything. Raises ProblemError with the line of what is wrong.
    """
    marks = sum(text.count(mark) for mark in "=,[")
    if marks > MOST_MARKS:
        raise _stop(file, "S003", f"more than {MOST_MARKS} keys and values; a measurement sheet is a short text file")
    deep = _too_deep(text)
    if deep is None:
        try:
            return tomllib.loads(text)
        except RecursionError:
            deep = 1
        except ValueError as fault:
            raise ProblemError([toml_fault(str(fault), text, file, show=show)]) from None
    advice = f"a sheet needs no more than three, and at most {DEEPEST} are read"
    raise _stop(file, "S005", f"brackets or dotted keys are nested too deeply; {advice}", deep)


def _too_deep(text: str) -> int | None:
    """Line from 1 where brackets or dots go deeper than DEEPEST, None where they do not."""
    depth = dots = 0
    for mark in _MARKS.finditer(text):
        what = mark[0]
        if what == ".":
            dots += 1
        elif what in ("[", "{"):
            depth, dots = depth + 1, 0
        elif what in ("]", "}"):
            depth, dots = max(depth - 1, 0), 0
        elif what in (",", "=", "\n"):
            dots = 0
        if depth + dots > DEEPEST:
            return text.count("\n", 0, mark.start()) + 1
    return None


def _stop(file: str, code: str, text: str, line: int = 1) -> ProblemError:
    return ProblemError([Problem(code, "", text, file, line)])
