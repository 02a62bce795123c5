"""The cover in two dimensions: flat maps, pieces, paper. Lengths are mm.

flat = flatten.flatten(vertices, triangles, leather="furniture")
job = flatten.make("bench.toml")
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from flatten.app.job import Job, make
    from flatten.develop import Flat, flatten
    from flatten.leather import Card

__all__ = ["Card", "Flat", "Job", "flatten", "make"]

_HOMES = {
    "Card": "flatten.leather",
    "Flat": "flatten.develop",
    "Job": "flatten.app.job",
    "flatten": "flatten.develop",
    "make": "flatten.app.job",
}


def __getattr__(name: str) -> Any:
    # Numerical libraries take a good part of a second to load; a name is fetched when it is first used.
    if name not in _HOMES:
        raise AttributeError(f"module flatten has no attribute {name}")
    import importlib

    return getattr(importlib.import_module(_HOMES[name]), name)
