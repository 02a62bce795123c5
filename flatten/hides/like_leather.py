"""Pieces that want leather alike: mirror images from mirrored places, parts of one face that are sewn to each other
from places beside each other. What ties them in the search, and what is told where it could not be.
"""

from collections.abc import Mapping, Sequence

import numpy as np
from shapely.geometry import Polygon

from flatten.hides.asks import LeatherCut
from flatten.hides.laid_cut import LaidCut
from flatten.hides.rooms import zone_area
from flatten.nesting.task import Tie
from meshes.base.arrays import FloatArray
from meshes.base.problems import Problem
from meshes.hides.records import NEIGHBOURS_APART_MM, PAIR_APART_MM, Cutting, Hide
from meshes.schema.cover_tables import ZONES
from meshes.seat.panels import Panel, PanelRole

# What a face is made of.
_FACES = (PanelRole.PLEAT, PanelRole.INSET, PanelRole.FACE)


def ties_of(cuts: Sequence[LeatherCut], panels: Mapping[str, Panel], cutting: Cutting) -> list[Tie]:
    """Mirrored pairs, and parts of one face that are sewn to each other, each within half of what is told. panels: by
    name."""
    seams = [_face_seams(cut, panels) for cut in cuts]
    found = []
    for k, one in enumerate(cuts):
        for j, other in enumerate(cuts[:k]):
            if _are_a_pair(one, other):
                found.append(Tie(one.label, other.label, True, 0.5 * cutting.pair_apart_mm))
            elif seams[j] & seams[k]:
                found.append(Tie(one.label, other.label, False, 0.5 * cutting.neighbours_apart_mm))
    return found


def _are_a_pair(one: LeatherCut, other: LeatherCut) -> bool:
    """Whether two cuts are mirror images of each other."""
    if one.piece is None or other.piece is None or not one.piece.panels or one.name == other.name:
        return False
    return one.piece.panels == other.piece.panels


def pair_notes(hides: Sequence[Hide], laid: Sequence[LaidCut], *, apart_mm: float = PAIR_APART_MM) -> list[Problem]:
    """Pairs that are mirror images and do not come from mirrored places of one hide, within `apart_mm`."""
    found = []
    for k, one in enumerate(laid):
        for other in laid[:k]:
            if not _are_a_pair(one.cut, other.cut):
                continue
            here, there = _middle(one), _middle(other) * [1.0, -1.0]
            if one.hide != other.hide:
                text = f"lies on {hides[one.hide].name}, its mirror image {other.cut.label} on {hides[other.hide].name}"
            elif float(np.hypot(*(here - there))) > apart_mm:
                text = f"lies {float(np.hypot(*(here - there))):.0f} mm off where {other.cut.label} lies mirrored"
            else:
                continue
            text += "; a pair from unlike places may stretch unlike: pin both, or swap them"
            found.append(Problem("H010", one.cut.label, text, warning=True))
    return found


def _middle(cut: LaidCut) -> FloatArray:
    return np.asarray(0.5 * (cut.points.min(axis=0) + cut.points.max(axis=0)))


def neighbour_notes(
    hides: Sequence[Hide],
    laid: Sequence[LaidCut],
    panels: Mapping[str, Panel],
    *,
    apart_mm: float = NEIGHBOURS_APART_MM,
) -> list[Problem]:
    """Parts of one face, pleats among them, that are sewn to each other and come from unlike leather: of two hides,
    more than `apart_mm` apart, or of different zones. panels: by name."""
    seams = [_face_seams(one.cut, panels) for one in laid]
    found = []
    for k, one in enumerate(laid):
        for other in (laid[j] for j in range(k) if seams[j] & seams[k]):
            apart = float(Polygon(one.points).distance(Polygon(other.points)))
            zones = [_main_zone(hides[cut.hide], cut.points) for cut in (one, other)]
            if one.hide != other.hide:
                text = f"lies on {hides[one.hide].name}, its neighbour {other.cut.label} on {hides[other.hide].name}"
            elif apart > apart_mm:
                text = f"lies {apart:.0f} mm away from its neighbour {other.cut.label}"
            elif zones[0] != zones[1]:
                text = f"lies mostly in the {zones[0]}, its neighbour {other.cut.label} in the {zones[1]}"
            else:
                continue
            text += "; beside each other on the seat they may differ in grain and stretch: pin both, or look at them"
            found.append(Problem("H011", one.cut.label, text, warning=True))
    return found


def _face_seams(cut: LeatherCut, panels: Mapping[str, Panel]) -> set[tuple[str, PanelRole, str]]:
    """Seams of a part of a face by pad, what the part is, and name; those of anything else do not count."""
    if cut.piece is None or not cut.piece.panels:
        return set()
    panel = panels[cut.piece.panels[0]]
    if panel.role not in _FACES:
        return set()
    return {(panel.pad, panel.role, edge.seam) for edge in cut.piece.edges if edge.seam}


def _main_zone(hide: Hide, points: FloatArray) -> str:
    """The zone with most of a piece, the first of several; "" on a hide without zones."""
    shape = Polygon(points)
    areas = {name: shape.intersection(zone_area(hide, [name])).area for name in ZONES if hide.zones.get(name)}
    return max(areas, key=lambda name: areas[name], default="")
