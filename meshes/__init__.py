"""The seat in three dimensions: from a measurement sheet to the padded surface and its panels. Lengths are mm.

sheet = meshes.read_sheet("bench.toml")
pad = meshes.build(sheet.pads[0])
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from meshes.base.problems import Problem, ProblemError
    from meshes.closed.build import build
    from meshes.seat.build import BuiltPad
    from meshes.sheet.read import read_sheet
    from meshes.sheet.whole import Sheet

__all__ = ["BuiltPad", "Problem", "ProblemError", "Sheet", "build", "read_sheet"]

_HOMES = {
    "BuiltPad": "meshes.seat.build",
    "build": "meshes.closed.build",
    "Problem": "meshes.base.problems",
    "ProblemError": "meshes.base.problems",
    "Sheet": "meshes.sheet.whole",
    "read_sheet": "meshes.sheet.read",
}


def __getattr__(name: str) -> Any:
    # Numerical libraries take a good part of a second to load; a name is fetched when it is first used.
    if name not in _HOMES:
        raise AttributeError(f"module meshes has no attribute {name}")
    import importlib

    return getattr(importlib.import_module(_HOMES[name]), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
