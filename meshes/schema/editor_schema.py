"""The JSON Schema of a sheet, with which editors help to write one."""

import json
from typing import Any

from meshes.records.pad import upright_key
from meshes.schema.tables import SheetInput


def json_schema() -> dict[str, Any]:
    """JSON Schema of a sheet for editors (draft 2020-12), with bottom and top allowed wherever front and rear
    are.
    """
    schema = SheetInput.model_json_schema()
    _tidy(schema)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema, "title": "Measurement sheet"}


def schema_text() -> str:
    """The JSON Schema as the text that is shipped in sheet.schema.json."""
    return json.dumps(json_schema(), indent=1, ensure_ascii=False) + "\n"


def _tidy(node: Any) -> None:
    """Take out the null choices, which TOML cannot write, and give every key about front and rear its upright
    twin.
    """
    for item in node.values() if isinstance(node, dict) else node if isinstance(node, list) else ():
        _tidy(item)
    if not isinstance(node, dict):
        return
    choices = node.get("anyOf")
    if isinstance(choices, list) and {"type": "null"} in choices:
        rest = [choice for choice in choices if choice != {"type": "null"}]
        node.pop("anyOf")
        node.update(rest[0] if len(rest) == 1 else {"anyOf": rest})
    if node.get("default", 0) is None:
        node.pop("default")
    if isinstance(node.get("properties"), dict):
        twins = {twin: value for key, value in node["properties"].items() if (twin := upright_key(key)) != key}
        node["properties"] |= twins
