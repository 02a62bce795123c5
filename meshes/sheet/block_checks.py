"""Layers that are blocks of sheet foam: what an older sheet means by one, and what goes together on one."""

from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from dataclasses import replace

from meshes.base.plane import extent
from meshes.base.problems import KeyPath
from meshes.records.pad import SIDES, Block, Layer, side_word
from meshes.schema.words import Faults
from meshes.sheet.face_checks import check_profiles
from meshes.sheet.parts import PadDraft

# What only blocks have.
BLOCK_KEYS = ("overhang", "bevel", "edge", "crown")


def as_blocks(drafts: Sequence[PadDraft], foam: AbstractSet[str], faults: Faults) -> list[PadDraft]:
    """The pads, with foam on a board that ends without a taper as the block it is; told once for a sheet. foam: names
    of all foam."""
    found, told = [], False
    for drawn in drafts:
        layers = list(drawn.layers)
        for k, layer in enumerate(layers):
            if layer is None or not _was_meant(layer, drawn, k, foam):
                continue
            layers[k] = replace(layer, block=Block())
            if not told:
                text = (
                    f"{layer.thickness:g} mm foam on a board without a taper is a block, its sides upright and square "
                    'as it is cut, not laid over the edge; write form = "block" to say so, or form = "laid over"'
                )
                faults.warn("G211", (*drawn.keys, "layer", k, "taper"), text)
            told = True
        found.append(replace(drawn, layers=tuple(layers)))
    return found


def _was_meant(layer: Layer, drawn: PadDraft, number: int, foam: AbstractSet[str]) -> bool:
    raw = drawn.raw["layer"][number]
    if raw.get("form") is not None or "taper" not in raw or layer.taper > 0.0 or layer.below > 0.0:
        return False
    on_board = drawn.springs is None and drawn.closed is None
    return on_board and not layer.sewn and layer.material in foam and layer.where == "face" and layer.within is None


def check_blocks(drafts: Sequence[PadDraft], foam: AbstractSet[str], faults: Faults) -> None:
    """Check what the sheet says of blocks; foam: names of what blocks can be cut from."""
    for drawn in drafts:
        for k, layer in enumerate(drawn.layers):
            keys = (*drawn.keys, "layer", k)
            if layer is None:
                continue
            if layer.block is None:
                _no_block(drawn.raw["layer"][k], keys, faults)
            else:
                _check_block(layer, layer.block, drawn, keys, faults)
                if layer.material not in foam:
                    text = f"a block keeps its form, found {layer.material}; choose a foam, or lay it over"
                    faults.add("G212", (*keys, "material"), text)


def _no_block(raw: dict[str, object], keys: KeyPath, faults: Faults) -> None:
    for key in BLOCK_KEYS:
        if key in raw:
            text = f'only a block has {key}; write form = "block", or leave {key} out'
            faults.add("G212", (*keys, key), text)
            return


def _check_block(layer: Layer, block: Block, drawn: PadDraft, keys: KeyPath, faults: Faults) -> None:
    raw = drawn.raw["layer"][keys[-1]]
    for key in ("taper", "below", "oversize", "sewn"):
        if raw.get(key):
            text = f"a block ends at its own side; leave {key} out, and write overhang where it is larger than the pad"
            faults.add("G212", (*keys, key), text)
    if drawn.closed is not None:
        faults.add("G212", (*keys, "form"), "a closed cover has its core; what is wrapped round it is laid over")
        return
    if drawn.bands.over:
        _check_under_over(layer, block, drawn, keys, faults)
    strip = layer.where in SIDES
    if layer.where == "all" or (strip and layer.within is None):
        text = f'a block lies on the face, found where = "{layer.where}"; write where = "face", or a side and within'
        faults.add("G212", (*keys, "where"), text)
    elif strip and block.overhang:
        text = 'a strip ends where what it lies on ends; leave overhang out, or write where = "face"'
        faults.add("G212", (*keys, "overhang"), text)
    if block.roundest_mm > layer.thickness:
        text = (
            f"an edge of {block.roundest_mm:g} mm radius on {layer.thickness:g} mm foam; make it {layer.thickness:g} mm"
        )
        faults.add("G213", (*keys, "edge"), f"{text} or less")
    if block.edges and block.bevel_deg:
        text = "sides that lean have one edge all round; give edge one radius, or leave bevel out"
        faults.add("G212", (*keys, "edge"), text)
    check_profiles(block.top, drawn.outline, (*keys, "crown"), faults)
    low = min((height for profile in block.top for _, height in profile.points), default=0.0)
    if low <= -layer.thickness:
        text = f"hollowed by {-low:g} mm, more than its thickness of {layer.thickness:g} mm; measure it again"
        faults.add("G213", (*keys, "crown"), text)
    if drawn.outline is not None:
        _has_room(layer, block, min(extent(drawn.outline.corners)), keys, faults)


def _check_under_over(layer: Layer, block: Block, drawn: PadDraft, keys: KeyPath, faults: Faults) -> None:
    """A face that runs on over a side goes straight down from its edge, and so does what carries it."""
    word = side_word(drawn.bands.over[0], drawn.kind)
    text = f"the face runs on over the {word}, straight down from the edge of the block: "
    if layer.where in SIDES:
        text += f'it lies under the whole face, found where = "{side_word(layer.where, drawn.kind)}"; write "face"'
        faults.add("G212", (*keys, "where"), text)
    for key, found in (("overhang", block.overhang), ("bevel", block.bevel_deg)):
        if found:
            faults.add("G212", (*keys, key), f"{text}its sides are upright and end with the frame; leave {key} out")


def _has_room(layer: Layer, block: Block, narrowest: float, keys: KeyPath, faults: Faults) -> None:
    """Check that something is left of a block's top; narrowest: the lesser of the pad's width and depth, mm."""
    lean = block.lean_mm(layer.thickness)
    if layer.within is not None:
        if lean + 2.0 * block.roundest_mm >= layer.within:
            text = f"its bevel and its edges leave nothing of the top of a strip {layer.within:g} mm wide"
            faults.add("G213", (*keys, "bevel" if lean > 0.0 else "edge"), f"{text}; make them less")
        return
    across = max(block.edge_at("left") + block.edge_at("right"), block.edge_at("front") + block.edge_at("rear"))
    left = narrowest + 2.0 * (block.overhang - lean) - across
    if left <= 0.0:
        text = (
            f"overhang, bevel and edges take {narrowest - left:.0f} mm of a pad of {narrowest:.0f} mm; make them less"
        )
        faults.add("G213", (*keys, "overhang" if block.overhang < 0.0 else "bevel"), text)
