"""What the standard TOML reader finds wrong with a text, said in a trimmer's words, with its line."""

import re

from meshes.base.problems import Problem, shown

# First words of the reader's messages, and what they mean to someone who has never heard of TOML.
_MEANINGS = (
    (
        "Expected newline",
        "S005",
        "more on the line than one value; decimals have a point, text stands in quotes",
    ),
    ("Invalid value", "S005", "the value cannot be read; text stands in quotes, decimals have a point"),
    ("Expected '=' after a key", "S005", "no equals sign after a key; write key = value"),
    ("Invalid statement", "S005", "neither a key with a value nor a [table]; put # in front of remarks"),
    ("Invalid initial character for a key", "S005", "a key is missing or begins oddly; keys are plain words"),
    ("Unclosed array", "S005", "a square bracket is opened and never closed; add ]"),
    ("Unclosed inline table", "S005", "a curly bracket is opened and never closed; add }"),
    ("Unterminated string", "S005", "a quotation mark is opened and never closed; close it on the same line"),
    ("Illegal character", "S005", "a quotation mark is not closed, or an invisible character stands here"),
    ("Unescaped", "S005", "a backslash in double quotes; use single quotes"),
    ("Expected ']'", "S005", "the header of a table is not closed; write [name]"),
    ("Expected ']]'", "S005", "the header of a table is not closed; write [[name]]"),
    ("Expected", "S005", "a bracket or quotation mark is not closed"),
    (
        "Cannot declare",
        "S006",
        "this table stands twice; put its keys under one header, or use [[two brackets]] for several",
    ),
    ("Cannot overwrite", "S006", "this key stands twice; keep one of them"),
    ("Duplicate inline table key", "S006", "this key stands twice; keep one of them"),
    (
        "Cannot mutate immutable",
        "S006",
        "a table written in curly brackets cannot be added to; write it as [name]",
    ),
    ("Cannot namespace", "S006", "this key stands twice; keep one of them"),
)


def toml_fault(message: str, text: str, file: str, *, show: bool = True) -> Problem:
    """The numbered problem for what the standard reader said about `text`; show: whether its line may be told."""
    # Lines as the reader counts them: no other separator of lines (NEL, U+2028) ends one in TOML.
    lines = text.removesuffix("\n").split("\n")
    place = re.search(r"\(at line (\d+), column \d+\)$", message)
    number = int(place[1]) if place else max(len(lines), 1)
    found = lines[number - 1].strip() if show and number <= len(lines) else ""
    code, meaning = next(
        ((code, meaning) for start, code, meaning in _MEANINGS if message.startswith(start)),
        ("S005", "the line cannot be read; compare it with a starter sheet"),
    )
    what, _, do = meaning.partition("; ")
    said = f"{what}, found {shown(found)}" if found else what
    return Problem(code, "", f"{said}; {do}" if do else said, file, number)
