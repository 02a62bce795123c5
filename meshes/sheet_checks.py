"""What several values of a sheet mean together: names used twice, materials that are not there."""

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from typing import Any

from meshes.problems import near_name
from meshes.sheet_parts import Draft
from meshes.sheet_words import Faults


def check_sheet(raw: Mapping[str, Any], faults: Faults) -> None:
    """Check what concerns the sheet as a whole."""
    if raw.get("pad") == []:
        faults.add("S023", ("pad",), "no pad; describe at least one under [[pad]]")


def check_pads(drafts: Sequence[Draft], materials: AbstractSet[str], faults: Faults) -> None:
    """Check every pad as far as it could be read."""
    for drawn in drafts:
        for k, layer in enumerate(drawn.layers):
            if layer is not None and layer.material not in materials:
                near = near_name(layer.material, materials)
                meant = f'did you mean "{near}"?' if near else "describe it under [material.NAME]"
                faults.add(
                    "S022",
                    (*drawn.keys, "layer", k, "material"),
                    f'unknown material "{layer.material}"; {meant}',
                )
