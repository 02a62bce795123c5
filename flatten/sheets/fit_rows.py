"""A row of fitting put into the text of a sheet, with its comments kept: the only way such rows are written."""

from collections.abc import Mapping
from typing import Any

from flatten.sheets.edits import with_row
from meshes.fitting.rounds import FIRST_ROUND
from meshes.schema.cover_tables import FitInput

# Keys of a row in the order a person would write them.
ROW_KEYS = tuple(entry.alias or name for name, entry in FitInput.model_fields.items())


def fit_row(raw: Mapping[str, Any], given: Mapping[str, Any], *, new_round: bool = False) -> dict[str, Any]:
    """A row of what is given; without a round of its own it belongs to the latest there is, or begins the next.

    raw: tables of the sheet. Keys with None are left out.
    """
    rows = raw.get("fit")
    rounds = [row.get("round") for row in rows if isinstance(row, dict)] if isinstance(rows, list) else []
    last = max((number for number in rounds if isinstance(number, int)), default=0)
    row = {**given, "round": given.get("round") or max(last + new_round, FIRST_ROUND)}
    return {key: row[key] for key in ROW_KEYS if row.get(key) is not None}


def with_fit_row(text: str, row: Mapping[str, Any]) -> str:
    """The text with one more row. Raises RefusedError where that cannot be done."""
    return with_row(text, ("fit",), dict(row))
