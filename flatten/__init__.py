"""The cover in two dimensions: flat maps, pieces, paper. Lengths are mm.

flat = flatten.flatten(vertices, triangles, leather="furniture")
job = flatten.make("bench.toml")
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from flatten.demand.develop import Flat, flatten
    from flatten.job.make import Job, make
    from flatten.leather.card import Card

__all__ = ["Card", "Flat", "Job", "flatten", "make"]

_HOMES = {
    "Card": "flatten.leather.card",
    "Flat": "flatten.demand.develop",
    "Job": "flatten.job.make",
    "flatten": "flatten.demand.develop",
    "make": "flatten.job.make",
}


def __getattr__(name: str) -> Any:
    # Numerical libraries take a good part of a second to load; a name is fetched when it is first used.
    if name not in _HOMES:
        raise AttributeError(f"module flatten has no attribute {name}")
    import importlib

    return getattr(importlib.import_module(_HOMES[name]), name)
