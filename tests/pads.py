"""Pads for tests, built from short sheets; all measurements invented."""

from pathlib import Path
from tempfile import TemporaryDirectory

from meshes.numerics.sizes import Sizes
from meshes.seat.build import BuiltPad, build
from meshes.sheet.read import read_sheet
from meshes.sheet.whole import Sheet

FLAT = """
name = "test"
[[pad]]
name = "cushion"
kind = "cushion"
[pad.outline]
front_width = 400
rear_width = 400
depth = 300
corner_radius = 40
[pad.sides.front]
drop = 80
edge_radius = 20
band = true
seam_below = 5
[pad.sides.right]
drop = 80
edge_radius = 20
band = true
[pad.sides.rear]
drop = 80
edge_radius = 20
"""


def sheet_of(text: str) -> Sheet:
    """Read a sheet given as text."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "sheet.toml"
        path.write_text(text)
        return read_sheet(path)


def built(text: str, *, edge_mm: float | Sizes = 12.0, pad: int = 0) -> BuiltPad:
    """Build one pad of a sheet given as text, coarse enough for quick tests."""
    return build(sheet_of(text).pads[pad], edge_mm=edge_mm)
