"""What the JSON reports of all commands have in common: their version, units and problems, and how they are written."""

import json
from collections.abc import Iterable, Mapping
from typing import Any

from meshes.base.problems import Problem

# Keys are only ever added; a key that changed its meaning would raise this number.
REPORT_VERSION = 1


def report_head() -> dict[str, Any]:
    """The keys that every report begins with."""
    return {"version": REPORT_VERSION, "units": "mm"}


def problem_rows(problems: Iterable[Problem]) -> list[dict[str, Any]]:
    """Problems as a report lists them; line: in the sheet, None where there is none."""
    return [
        {"code": one.code, "where": one.where, "text": one.text, "line": one.line, "warning": one.warning}
        for one in problems
    ]


def json_text(report: Mapping[str, Any]) -> str:
    """The text of a report. Raises ValueError when a figure is no finite number."""
    return json.dumps(report, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
