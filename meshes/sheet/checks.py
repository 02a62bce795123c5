"""What several values of a sheet mean together: names, leather, paper, materials, sides, layers, neighbours.

Every check looks at what could be read and adds what it finds to the collector; none stops at the first
fault.
"""

import math
from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from itertools import pairwise
from typing import Any

from meshes.base.plane import extent, turn_at
from meshes.base.problems import KeyPath, near_name, one_of
from meshes.base.units import THICK_PADDING_MM
from meshes.records.frame import BY_HAND
from meshes.records.pad import SIDES, Layer, Outline, Side, hollow_radius_mm, side_word
from meshes.schema.cover_tables import CardInput, OutputInput
from meshes.schema.support import ContinuesInput
from meshes.schema.tables import ALL_FOAM, MaterialInput
from meshes.schema.words import Faults
from meshes.sheet.face_checks import check_face
from meshes.sheet.part_reader import PartReader
from meshes.sheet.parts import PadDraft

# Thicker foam is not sewn through with the cover (common practice, no source).
MOST_SEWN_MM = 15.0
# Short sides of the pages, mm (ISO 216; ANSI Y14.1, from memory).
PAGE_SHORT_SIDE_MM = {"a4": 210.0, "letter": 215.9, "a3": 297.0}


def check_sheet(raw: Mapping[str, Any], reader: PartReader) -> None:
    """Check what concerns the sheet as a whole: pads by name, leather, paper, the shop's own materials."""
    _check_names(raw, reader.faults)
    cover = raw.get("cover")
    if isinstance(cover, dict):
        _check_cover(cover, reader)
    output = reader.table(OutputInput, raw.get("output", {}), ("output",))
    if output is not None:
        page = PAGE_SHORT_SIDE_MM[output.page]
        if output.overlap > 0.25 * page:
            text = f"{output.overlap:g} mm is too much of an {output.page} page that is {page:g} mm wide"
            reader.faults.add("S024", ("output", "overlap"), f"{text}; 10 to 20 mm are usual")
    materials = raw.get("material")
    for name, table in materials.items() if isinstance(materials, dict) else ():
        given = reader.table(MaterialInput, table, ("material", name))
        kpas = None if given is None else given.compression_kpa
        if kpas is not None and not _rises(kpas):
            found = ", ".join(f"{kpa:g}" for kpa in kpas)
            text = f"pressure must rise from 25 to 40 to 65 %, found {found} kPa; give the three in this order"
            reader.faults.add("S026", ("material", name, "compression_kpa"), text)


def check_stock(raw: Mapping[str, Any], materials: AbstractSet[str], faults: Faults) -> None:
    """Check that the stock list names foam or a material. materials: all names there are."""
    stock = raw.get("stock")
    for name in stock if isinstance(stock, dict) else ():
        if name not in materials and name != ALL_FOAM:
            near = near_name(name, [ALL_FOAM, *materials])
            meant = f'did you mean "{near}"?' if near else f"describe it under [material.{name}]"
            text = f'unknown material, found "{name}"; {meant} The key {ALL_FOAM} means all foam'
            faults.add("S022", ("stock", name), text)


def _check_names(raw: Mapping[str, Any], faults: Faults) -> None:
    pads = raw.get("pad")
    if pads == []:
        faults.add("S023", ("pad",), "no pad; describe at least one under [[pad]]")
    seen: dict[str, int] = {}
    for k, pad in enumerate(pads if isinstance(pads, list) else []):
        name = pad.get("name") if isinstance(pad, dict) else None
        if not isinstance(name, str) or not name.strip():
            continue
        # Names become file names, and not every system tells capitals apart.
        first = seen.setdefault(name.casefold(), k)
        if first != k:
            line = faults.places.line_of("pad", first, "name")
            text = f'the name "{name}" is taken by pad {first + 1} (line {line}); give every pad its own'
            faults.add("S021", ("pad", k, "name"), text)


def _check_cover(cover: Mapping[str, Any], reader: PartReader) -> None:
    if "leather" in cover and "card" in cover:
        text = "given together with [cover.card]; name a built-in leather or give your own card, not both"
        reader.faults.add("S020", ("cover", "leather"), text)
    card = reader.table(CardInput, cover.get("card"), ("cover", "card"))
    if card is None:
        return
    for key in ("stretch_along", "stretch_across"):
        most = getattr(card, key)
        if card.pull >= most:
            text = f"the pull that keeps the leather smooth, {card.pull:g}, is not below {key}, {most:g}"
            reader.faults.add("S025", ("cover", "card", "pull"), f"{text}; pull is the least stretch, {key} the most")


def _rises(values: Sequence[float]) -> bool:
    return all(low < high for low, high in pairwise(values))


def check_pads(drafts: Sequence[PadDraft], materials: AbstractSet[str], faults: Faults) -> None:
    """Check every pad as far as it could be read. materials: all names that a layer may use."""
    for drawn in drafts:
        for k, layer in enumerate(drawn.layers):
            if layer is not None:
                _check_sewn(layer, (*drawn.keys, "layer", k), faults)
                _check_layer(layer, drawn, (*drawn.keys, "layer", k), materials, faults)
        if drawn.closed is None and drawn.board is None:
            _check_sides(drawn, faults)
        _warn_thick(drawn, faults)
        check_face(drawn, faults)


def _check_sewn(layer: Layer, keys: KeyPath, faults: Faults) -> None:
    """Check that sew foam lies under whole panels and is as thin as can be sewn through."""
    if not layer.sewn:
        return
    if layer.where in SIDES or layer.within is not None:
        text = f'sew foam lies under whole panels, found where = "{layer.where}"; write "all" or "face"'
        faults.add("S030", (*keys, "where"), text)
    if layer.thickness > MOST_SEWN_MM:
        text = f"{layer.thickness:g} mm is too thick to sew through; sew foam is up to {MOST_SEWN_MM:g} mm"
        faults.add("S030", (*keys, "thickness"), text)


def _check_layer(layer: Layer, drawn: PadDraft, keys: KeyPath, materials: AbstractSet[str], faults: Faults) -> None:
    if layer.material not in materials:
        near = near_name(layer.material, materials)
        meant = f'did you mean "{near}"?' if near else f"describe it under [material.{layer.material}]"
        faults.add("S022", (*keys, "material"), f'unknown material, found "{layer.material}"; {meant}')
    words = ["all", "face", *(side_word(side, drawn.kind) for side in SIDES)]
    if layer.where not in ("all", "face", *SIDES):
        near = near_name(layer.where, words)
        choice = one_of(f'"{word}"' for word in words)
        advice = f'did you mean "{near}"? Write {choice}' if near else f"write {choice}"
        text = f'a {drawn.kind} has no side "{layer.where}"; {advice}'
        faults.add("S029", (*keys, "where"), text)
    if layer.within is None:
        return
    if layer.where in ("all", "face"):
        text = f'a strip needs a side, found where = "{layer.where}"; write where = {one_of(words[2:])}'
        faults.add("G023", (*keys, "within"), text)
    elif drawn.outline is not None:
        across, along = extent(drawn.outline.corners)
        room = across if layer.where in ("left", "right") else along
        if layer.within > room:
            text = f"a strip {layer.within:g} mm wide on a pad of {room:g} mm; make it smaller or leave within out"
            faults.add("G024", (*keys, "within"), text)


def _warn_thick(drawn: PadDraft, faults: Faults) -> None:
    """Say so when the layers add up to more than a cover is usually laid over. Springs need little on top
    (P).
    """
    layers = [layer for layer in drawn.layers if layer is not None]
    places = {"the face": ("all", "face"), **{f"the {side_word(s, drawn.kind)} side": ("all", s) for s in SIDES}}
    totals = {
        place: sum(layer.thickness for layer in layers if layer.where in words and layer.within is None)
        for place, words in places.items()
    }
    place = max(totals, key=lambda place: totals[place])
    if totals[place] > THICK_PADDING_MM:
        own = [(k, one) for k, one in enumerate(drawn.layers, start=1) if one is not None and one.within is None]
        number, layer = max((row for row in own if row[1].where in places[place]), key=lambda row: row[1].thickness)
        text = (
            f"{totals[place]:g} mm of padding on {place}, most of it layer {number}, {layer.thickness:g} mm "
            f"{layer.material}; {_thinner(drawn)}"
        )
        faults.warn("G050", (*drawn.keys, "layer"), text)


def _thinner(drawn: PadDraft) -> str:
    """What helps against padding that is very thick."""
    if drawn.springs is not None:
        return "over springs one layer of about 25 mm is usual: make that layer thinner, or hold the springs higher"
    return "on a board that is as thick as seats get: make that layer thinner or firmer, or raise the board"


def edge_padding_mm(drawn: PadDraft, side: str) -> float:
    """Thickness of the layers that lie on an edge, mm, before any of them runs out."""
    return sum(
        layer.thickness
        for layer in drawn.layers
        if layer is not None and layer.where in ("all", "face", side) and layer.within is None
    )


def _check_sides(drawn: PadDraft, faults: Faults) -> None:
    given = drawn.raw.get("sides", {})
    for name, side in drawn.sides.items():
        if name not in given:
            continue
        keys = (*drawn.keys, "sides", name)
        if side.drop < side.lead:
            text = f"the turn round an edge of {side.edge_radius:g} mm radius takes {side.lead:.1f} mm"
            text += f", found a drop of {side.drop:g} mm; measure the drop again or make edge_radius smaller"
            faults.add("G022", (*keys, "drop"), text)
            continue
        turn = math.radians(side.turn_deg)
        room = 0.5 * turn * (side.edge_radius + edge_padding_mm(drawn, name)) + side.drop - side.lead
        if side.band and side.seam_below >= room:
            text = f"the seam lies {side.seam_below:g} mm below the edge, the tack line {room:.1f} mm"
            faults.add("G020", (*keys, "seam_below"), f"{text}; make seam_below smaller or the drop larger")
        if side.welt and not side.band:
            text = "welt needs the seam of a band; set band = true or leave welt out"
            faults.add("G021", (*keys, "welt"), text)
        if side.seam_below > 0.0 and not side.band:
            faults.warn("G056", (*keys, "seam_below"), "has no effect without band = true")
    by_hand = BY_HAND in dict(drawn.fixings.sides).values()
    if drawn.kind == "backrest" and not by_hand and not any(side.closed_by_hand for side in drawn.sides.values()):
        text = "no side is closed by hand; the edge that is fixed last usually is (closed_by_hand = true)"
        faults.warn("G052", (*drawn.keys, "sides"), text)
    if drawn.outline is not None and len(drawn.sides) == len(SIDES):
        _warn_corners(drawn.outline, drawn.sides, drawn, faults)


def _warn_corners(outline: Outline, sides: Mapping[str, Side], drawn: PadDraft, faults: Faults) -> None:
    """A corner is built at least as round as the edges that meet in it, a hollow one as round as its cover needs; say
    so where the sheet says less."""
    corners, radii, names = outline.corners, outline.radii, outline.side_of_edge
    key = "points" if "points" in drawn.raw.get("outline", {}) else "corner_radius"
    for k, radius in enumerate(radii):
        both = (names[k - 1], names[k])
        if set(both) & set(drawn.bands.over):
            # A gable's corner is as sharp as its own edge; what is rounder is refused.
            continue
        edge = max(sides[name].edge_radius for name in both)
        hollow = turn_at(corners[k - 1], corners[k], corners[(k + 1) % len(corners)]) < 0.0
        least = max(hollow_radius_mm(sides[name], edge_padding_mm(drawn, name)) for name in both) if hollow else edge
        if not 0.0 < radius < least:
            continue
        text = f"a corner of {radius:g} mm radius between edges of {edge:g} mm; it is made {edge:g} mm round"
        if hollow:
            text = f"a hollow corner of {radius:g} mm radius; edge, padding and seam need {least:.0f} mm there"
            text += ", so it is made that round"
        faults.warn("G051", (*drawn.keys, "outline", key), text)
        return


def check_continues(drafts: Sequence[PadDraft], reader: PartReader) -> None:
    """Check which pads go on from which: each from another one, and none in a circle."""
    asked: dict[str, str] = {}
    names = [str(drawn.raw.get("name")) for drawn in drafts]
    for drawn, name in zip(drafts, names, strict=True):
        keys = (*drawn.keys, "continues")
        given = reader.table(ContinuesInput, drawn.raw.get("continues"), keys)
        if given is None:
            continue
        if given.pad == name:
            reader.faults.add("G160", (*keys, "pad"), "a pad cannot go on from itself; name its neighbour")
        elif given.pad not in names:
            near = near_name(given.pad, set(names) - {name})
            meant = f'did you mean "{near}"?' if near else "name another pad of this sheet"
            reader.faults.add("G160", (*keys, "pad"), f'no pad "{given.pad}"; {meant}')
        else:
            asked[name] = given.pad
    for drawn, name in zip(drafts, names, strict=True):
        if name in asked and _returns(name, asked):
            way = f"{name} goes on from {asked[name]}, which comes back to {name}"
            reader.faults.add("G160", (*drawn.keys, "continues", "pad"), f"{way}; one of them has to be the first")


def _returns(name: str, asked: dict[str, str]) -> bool:
    """Whether the way from neighbour to neighbour comes back to a pad."""
    at, seen = asked.get(name), set[str]()
    while at is not None and at not in seen:
        if at == name:
            return True
        seen.add(at)
        at = asked.get(at)
    return False
