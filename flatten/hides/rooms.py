"""What of a hide will do for which piece, on its own table: distances along and off the backbone, mm."""

from collections.abc import Iterable, Sequence

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from flatten.nesting.outline import ARC_OUTSIDE, QUARTER
from flatten.nesting.table import taken_in
from flatten.nesting.task import Room
from meshes.hides.records import NEVER_COVERED, ONLY_HIDDEN, Cutting, Hide
from meshes.schema.cover_tables import ZONES

# Zones that share a line are joined over it.
ZONE_SEAM_MM = 0.05


def hide_area(hide: Hide) -> Polygon:
    """The hide along and off its backbone."""
    return Polygon(hide.along_and_off(hide.outline))


def zone_area(hide: Hide, names: Iterable[str]) -> BaseGeometry:
    """Zones of a hide in one."""
    parts = [Polygon(hide.along_and_off(ring)) for name in names for ring in hide.zones.get(name, ())]
    return shapely.union_all([part.buffer(ZONE_SEAM_MM) for part in parts])


def flaw_area(hide: Hide, grades: Sequence[str], margin_mm: float) -> BaseGeometry:
    """All flaws of some grades, with a margin."""
    rings = [Polygon(hide.along_and_off(flaw.points)) for flaw in hide.flaws if flaw.grade in grades]
    return shapely.union_all([ring.buffer(margin_mm * ARC_OUTSIDE, quad_segs=QUARTER) for ring in rings])


def free_area(hide: Hide, cutting: Cutting, grade: str, taken: Sequence[Polygon] = ()) -> BaseGeometry:
    """Where cut lines of a grade may lie. taken: pieces that are pinned there."""
    kind, _, zones = grade.partition(":")
    free: BaseGeometry = taken_in(hide_area(hide), cutting.rim_mm)
    names = [zone for zone in zones.split(",") if zone]
    if len(names) < len(ZONES):
        free = free.intersection(zone_area(hide, names))
    grades = (*NEVER_COVERED, *(() if kind == "hidden" else ONLY_HIDDEN))
    free = free.difference(flaw_area(hide, grades, cutting.chalk_mm))
    for shape in taken:
        free = free.difference(shape.buffer(cutting.gap_mm * ARC_OUTSIDE, quad_segs=QUARTER))
    return free


def room_of(hide: Hide, cutting: Cutting, grades: Iterable[str], taken: Sequence[Polygon] = ()) -> Room | None:
    """The hide as a room, None when nothing of it is left."""
    areas = {grade: free_area(hide, cutting, grade, taken) for grade in sorted(set(grades))}
    if all(area.is_empty for area in areas.values()):
        return None
    return Room(hide.name, areas, 0.0, {name: zone_area(hide, [name]) for name in ZONES if hide.zones.get(name)})
