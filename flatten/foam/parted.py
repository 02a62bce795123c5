"""A layer of padding as it lies, parted and laid flat: what its cutting shapes are drawn from. Lengths mm."""

from collections.abc import Mapping
from dataclasses import dataclass

from flatten.foam.parts import LayerPart, mitred_sides, parts_of
from flatten.foam.rolled import Rolled, rolled_over
from meshes.padding.layup import LaidLayer, lie_of, twin_number
from meshes.records.alignment import UNALIGNED, Alignment
from meshes.records.materials import Material
from meshes.records.pad import Pad
from meshes.support.chart import MakeProblem

# Triangles that shapes are found with.
EDGE_MM = 12.0


@dataclass(frozen=True, eq=False)
class PartedLayer:
    """One layer, or a mirrored pair of them, laid flat in its parts. numbers: of the layers, counted from 0 at the
    support, the one that was laid flat first; rolled: where it goes over an edge that it does not bend round."""

    numbers: tuple[int, ...]
    lie: LaidLayer
    parts: tuple[LayerPart, ...]
    rolled: tuple[Rolled, ...] = ()

    def mitred(self) -> dict[int, frozenset[str]]:
        """By number of the layer: the sides along whose edge face and band meet in a mitre."""
        sides = mitred_sides(self.lie, self.parts)
        mirrored = frozenset({"left": "right", "right": "left"}.get(side, side) for side in sides)
        return dict(zip(self.numbers, (sides, mirrored), strict=False))


def parted_layer(
    pad: Pad,
    index: int,
    materials: Mapping[str, Material],
    *,
    make_problem: MakeProblem,
    edge_mm: float = EDGE_MM,
    alignment: Alignment = UNALIGNED,
) -> PartedLayer | None:
    """One layer of a pad, counted from 0 at the support, laid flat. Mirrored layers are laid once, as the right one;
    the left one has no parts of its own.

    Raises ProblemError for a layer that cannot be laid flat.
    """
    layer = pad.layers[index]
    lie = lie_of(pad, index, edge_mm=edge_mm, make_problem=make_problem, alignment=alignment)
    if lie.half and layer.where == "left":
        return None
    twin = twin_number(pad.layers, index) if lie.half and layer.where == "right" else None
    material = materials[layer.material]
    parts = parts_of(lie, foam=material.foam)
    rolled = rolled_over(lie, parts, material)
    return PartedLayer((index,) if twin is None else (index, twin), lie, parts, rolled)
