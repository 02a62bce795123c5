"""The starter sheet: a small cushion that works as it stands, with every key explained."""

from importlib.resources import as_file, files

_SCHEMA = "sheet.schema.json"


def starter_text() -> str:
    """Text of a starter sheet. Its first line names the installed JSON Schema, so that editors can check the sheet."""
    text = files("meshes.sheet").joinpath("starter.toml").read_text(encoding="utf-8")
    with as_file(files("meshes").joinpath(_SCHEMA)) as schema:
        return text.replace(f"#:schema {_SCHEMA}", f"#:schema {schema.resolve().as_uri()}", 1)
