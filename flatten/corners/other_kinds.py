"""What the other kinds of corner would ask of a face: the pad built and its face flattened again with corners finished
so, on triangles of at least KINDS_MESH_MM, so that the figures stand beside each other and not for the last tenth.

Drawn clean, in one fold or in two, a corner takes in the same leather, so that one run serves all three.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from flatten.corners.unfolded import bare_corners
from flatten.corners.words import CORNER_LAYERS
from flatten.demand.develop import flatten
from flatten.leather.card import Card
from flatten.leather.verdict import Verdict
from meshes.base.files import number
from meshes.base.problems import ProblemError
from meshes.records.corners import CORNERS_AFTER, CornerFinish
from meshes.records.materials import Material
from meshes.seat.build import BuiltPad, Tension, build
from meshes.seat.panels import Panel, PanelRole

KINDS_MESH_MM = 16.0
# Kinds that ask alike, the first of which is built.
_ALIKE = ((CornerFinish.DRAWN, CornerFinish.SINGLE, CornerFinish.DOUBLE), (CornerFinish.SEWN,))


@dataclass(frozen=True)
class KindOfCorner:
    """Corners of one kind or of several that ask alike. demand and verdict: of the face; depth_mm: of the folds, None
    where there is none; thick_mm: by kind, the leather that lies at a corner."""

    kinds: tuple[CornerFinish, ...]
    demand: float
    verdict: Verdict | None
    depth_mm: float | None
    thick_mm: tuple[float, ...]


def kinds_of_corner(
    pad: BuiltPad, panel: Panel, card: Card, tension: Tension | None, materials: Mapping[str, Material]
) -> tuple[KindOfCorner, ...]:
    """All kinds that could be at the corners of a face without bands, as each would be; none where it has no such
    corner, or is no face."""
    corners = bare_corners(pad.pad) if pad.pad.on_frame and panel.role is PanelRole.FACE else {}
    found = []
    for kinds in _ALIKE if corners else ():
        words = {corner: kinds[0] if corner in corners else pad.pad.folds.of(corner) for corner in CORNERS_AFTER}
        finishes = tuple((corner, word) for corner, word in words.items() if word is not None)
        other = replace(pad.pad, folds=replace(pad.pad.folds, finishes=finishes))
        try:
            made = build(
                other, edge_mm=KINDS_MESH_MM, tension_n_per_mm=tension, materials=materials, alignment=pad.alignment
            )
        except ProblemError:
            # Corners that cannot be of that kind have nothing to be told.
            continue
        face = next((one for one in made.panels if one.part == panel.part), None)
        if face is None:
            continue
        flat = flatten(face.surface.vertices, face.surface.triangles, leather=card)
        depths = [fold.depth_mm for fold in made.division.folds if fold.finish is not CornerFinish.CUT]
        thick = tuple(CORNER_LAYERS[kind] * card.thickness_mm for kind in kinds)
        found.append(KindOfCorner(kinds, flat.demand, flat.verdict, max(depths, default=None), thick))
    return tuple(found)


def kinds_words(found: Sequence[KindOfCorner]) -> list[str]:
    """What is said of them, a line for each."""
    told = []
    for one in found:
        layers = ", ".join(
            f"{kind} {CORNER_LAYERS[kind]} layers, {number(mm, 1)} mm" if CORNER_LAYERS[kind] > 1 else f"{kind} 1 layer"
            for kind, mm in zip(one.kinds, one.thick_mm, strict=True)
        )
        deep = "" if one.depth_mm is None else f"; {number(one.depth_mm, 0)} mm deep"
        told.append(
            f"corners {' or '.join(one.kinds)}: demand about {100.0 * one.demand:.1f} %, {one.verdict}{deep}; {layers}"
        )
    return told
