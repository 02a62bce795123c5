"""What a request carries, held against what was asked for."""

import json
import math
from collections.abc import Mapping
from typing import Any

from starlette.requests import Request

from flatten.sheets.refusals import RefusedError


async def sent(request: Request, **wanted: type | tuple[type, ...]) -> dict[str, Any]:
    """The JSON that was sent, with these keys of these types. Raises RefusedError."""
    try:
        data = json.loads(await request.body())
    except (ValueError, RecursionError):
        raise RefusedError(400, "W305", "body", "what was sent is no JSON") from None
    if not isinstance(data, dict):
        raise RefusedError(400, "W305", "body", "what was sent is no JSON object")
    for key, kinds in wanted.items():
        value = data.get(key)
        number_meant = kinds in (float, (int, float))
        if not isinstance(value, kinds) or (isinstance(value, bool) and number_meant):
            raise RefusedError(400, "W305", "body", f'"{key}" is missing or is of another kind than is asked for')
    return data


def finite(value: Any, depth: int = 0) -> bool:
    """Whether a value can stand in a sheet: no text half of a character, no number without end, not nested deeply."""
    if depth > 6:
        return False
    if isinstance(value, dict):
        return all(isinstance(k, str) and finite(v, depth + 1) for k, v in value.items())
    if isinstance(value, list):
        return len(value) <= 1000 and all(finite(one, depth + 1) for one in value)
    if isinstance(value, str):
        return len(value) <= 20_000 and not any("\ud800" <= c <= "\udfff" for c in value)
    if isinstance(value, float):
        return math.isfinite(value)
    return value is None or isinstance(value, bool) or (isinstance(value, int) and abs(value) < 2**63)


def plain_rows(raw: Mapping[str, Any], key: str) -> list[dict[str, Any]]:
    """The rows of a list of tables as a sheet has them, each with its number; what is no table, or holds what the page
    cannot show, is left out."""
    rows = raw.get(key)
    found = []
    for k, row in enumerate(rows if isinstance(rows, list) else ()):
        if isinstance(row, dict):
            found.append({**{str(name): value for name, value in row.items() if finite(value)}, "row": k})
    return found


def sheet_name(request: Request) -> str:
    """The sheet that the address names."""
    return str(request.path_params["sheet"])
