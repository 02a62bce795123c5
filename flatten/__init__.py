"""The cover in two dimensions: flat maps, pieces, paper. Lengths are mm.

flat = flatten.flatten(vertices, triangles, leather="furniture")
job = flatten.make("bench.toml")
flatten.write_job(job, Path("bench"))
"""

import sys
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from flatten.demand.develop import flatten
    from flatten.hides.parted import make_for_hides as make
    from flatten.job.make import Job
    from flatten.job.seat import build_pads, flatten_pads
    from flatten.leather.card import Card
    from flatten.leather.card_file import card_from_sheet, find_card
    from flatten.maps.flat import Flat
    from flatten.pieces.seams import SeamFigures, seam_figures
    from flatten.written.job_folder import write_job
    from meshes.intake.checks import check_mesh
    from meshes.intake.repair import repair_mesh

__all__ = [
    "Card",
    "Flat",
    "Job",
    "SeamFigures",
    "build_pads",
    "card_from_sheet",
    "check_mesh",
    "find_card",
    "flatten",
    "flatten_pads",
    "make",
    "repair_mesh",
    "seam_figures",
    "write_job",
]

__version__ = "0.1.0"

# The PDF library runs what it finds under these names in the home folder, and fails where that is no folder. Papers
# depend on the sheet alone: it finds them here, empty.
for _name in ("reportlab_mods", "reportlab_settings"):
    sys.modules.setdefault(_name, ModuleType(_name))

_HOMES = {
    "Card": "flatten.leather.card",
    "Flat": "flatten.maps.flat",
    "Job": "flatten.job.make",
    "SeamFigures": "flatten.pieces.seams",
    "build_pads": "flatten.job.seat",
    "card_from_sheet": "flatten.leather.card_file",
    "check_mesh": "meshes.intake.checks",
    "find_card": "flatten.leather.card_file",
    "flatten": "flatten.demand.develop",
    "flatten_pads": "flatten.job.seat",
    "make": "flatten.hides.parted",
    "repair_mesh": "meshes.intake.repair",
    "seam_figures": "flatten.pieces.seams",
    "write_job": "flatten.written.job_folder",
}


# What is called otherwise where it is at home.
_NAMES = {"make": "make_for_hides"}


def __getattr__(name: str) -> Any:
    # Numerical libraries take a good part of a second to load; a name is fetched when it is first used.
    if name not in _HOMES:
        raise AttributeError(f"module flatten has no attribute {name}")
    import importlib

    return getattr(importlib.import_module(_HOMES[name]), _NAMES.get(name, name))


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
