"""Starter sheets: one in which every key is explained, and a short one for every kind of seat, with only what it needs.

Each works as it stands, without a warning.
"""

from importlib.resources import as_file, files

KINDS = ("slip", "box", "bench", "bucket", "stool", "back", "card", "roll")
_SCHEMA = "sheet.schema.json"
_WHOLE = "whole"


def starter_text(kind: str | None = None) -> str:
    """Text of a starter sheet, without a kind of the one with every key. Its first line names the installed JSON
    Schema, so that editors can check the sheet. Raises ValueError for a kind that is not one of KINDS."""
    if kind is not None and kind not in KINDS:
        raise ValueError(f"no such kind of seat: found {kind!r}; use one of {', '.join(KINDS)}")
    text = files("meshes.sheet").joinpath("starters", f"{kind or _WHOLE}.toml").read_text(encoding="utf-8")
    with as_file(files("meshes").joinpath(_SCHEMA)) as schema:
        return text.replace(f"#:schema {_SCHEMA}", f"#:schema {schema.resolve().as_uri()}", 1)
