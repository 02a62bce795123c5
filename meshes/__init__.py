"""The seat in three dimensions: from a measurement sheet to the padded surface and its panels. Lengths are mm.

sheet = meshes.read_sheet("bench.toml")
pad = meshes.build(sheet.pads[0])
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from meshes.pad_build import BuiltPad, build
    from meshes.problems import Problem, ProblemError
    from meshes.sheet import Sheet, read_sheet

__all__ = ["BuiltPad", "Problem", "ProblemError", "Sheet", "build", "read_sheet"]

_HOMES = {
    "BuiltPad": "meshes.pad_build",
    "build": "meshes.pad_build",
    "Problem": "meshes.problems",
    "ProblemError": "meshes.problems",
    "Sheet": "meshes.sheet",
    "read_sheet": "meshes.sheet",
}


def __getattr__(name: str) -> Any:
    # Numerical libraries take a good part of a second to load; a name is fetched when it is first used.
    if name not in _HOMES:
        raise AttributeError(f"module meshes has no attribute {name}")
    import importlib

    return getattr(importlib.import_module(_HOMES[name]), name)
