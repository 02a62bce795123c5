"""Checks of the pleats of a sheet: what their keys mean together, and the pads whose valleys they follow."""

from collections.abc import Sequence
from collections.abc import Set as AbstractSet

from meshes.base.problems import KeyPath, near_name
from meshes.records.pleats import Pleats
from meshes.schema.words import Faults
from meshes.sheet.parts import PadDraft


def check_pleats(drafts: Sequence[PadDraft], materials: AbstractSet[str], faults: Faults) -> None:
    """Check the pleats of all pads as far as they could be read."""
    for drawn in drafts:
        if drawn.pleats is None:
            continue
        keys = (*drawn.keys, "pleats")
        _check_number(drawn.pleats, keys, faults)
        _check_place(drawn.pleats, drawn, keys, faults)
        _check_filler(drawn.pleats, materials, keys, faults)
        _check_parts(drawn.pleats, keys, faults)
        _check_leader(drawn, drafts, keys, faults)


def _check_number(pleats: Pleats, keys: KeyPath, faults: Faults) -> None:
    said = {key: getattr(pleats.spacing, key) for key in ("count", "pitch", "widths")}
    given = [key for key, value in (said | {"lines_up_with": pleats.lines_up_with}).items() if value is not None]
    if not given:
        text = "neither count, pitch nor widths; give one of them, or lines_up_with another pad"
        faults.add("G060", keys, text)
    elif len(given) > 1:
        text = f"given together with {given[0]}, which already says how many pleats there are; keep one of them"
        faults.add("S020", (*keys, given[1]), text)
    if pleats.spacing.half_at_sides and pleats.lines_up_with is not None:
        text = "has no effect with lines_up_with: the other pad's valleys decide"
        faults.warn("G069", (*keys, "half_at_sides"), text)


def _check_place(pleats: Pleats, drawn: PadDraft, keys: KeyPath, faults: Faults) -> None:
    has_inset = drawn.raw.get("inset") is not None
    if pleats.where == "face" and has_inset:
        text = 'a pad with an inset has no face of its own; write where = "inset", or leave the inset out'
        faults.add("G061", (*keys, "where"), text)
    elif pleats.where == "inset" and not has_inset:
        text = 'there is no inset to be pleated; describe it under [pad.inset], or write where = "face"'
        faults.add("G061", (*keys, "where"), text)
    if pleats.spacing.fan == 1.0:
        return
    if pleats.shape == "edge":
        text = "has no effect where the valleys follow the edges; leave it out, or write shape = straight"
        faults.warn("G069", (*keys, "fan"), text)
    elif pleats.direction == "across" and drawn.outline is not None and drawn.outline.symmetric:
        text = f"pleats from side to side that are {pleats.spacing.fan:g} times as wide at the right"
        faults.add("G062", (*keys, "fan"), f"{text} on a pad that is even left and right; leave it out")


def _check_filler(pleats: Pleats, materials: AbstractSet[str], keys: KeyPath, faults: Faults) -> None:
    if pleats.filling.filler == "foam" and pleats.filling.rise is not None:
        text = "over foam the rise follows from its thickness; leave it out, or write filler = wadding"
        faults.warn("G069", (*keys, "rise"), text)
    if pleats.filling.foam not in materials:
        near = near_name(pleats.filling.foam, materials)
        meant = f'did you mean "{near}"?' if near else f"describe it under [material.{pleats.filling.foam}]"
        faults.add("S022", (*keys, "filler_foam"), f'unknown material, found "{pleats.filling.foam}"; {meant}')


def _check_parts(pleats: Pleats, keys: KeyPath, faults: Faults) -> None:
    limited = pleats.joining.largest_width is not None or pleats.joining.largest_area_m2 is not None
    if pleats.joining.construction == "strips":
        if pleats.joining.joins:
            faults.warn("G069", (*keys, "joins"), "strips are parted at every valley; leave it out")
    elif pleats.joining.joins == "auto" and not limited:
        text = "joins are asked for and no part is too large; give largest_width or largest_area"
        faults.add("G063", (*keys, "joins"), text)
    elif pleats.joining.joins != "auto" and limited:
        key = "largest_width" if pleats.joining.largest_width is not None else "largest_area"
        faults.warn("G069", (*keys, key), 'has no effect without joins = "auto"')


def _check_leader(drawn: PadDraft, drafts: Sequence[PadDraft], keys: KeyPath, faults: Faults) -> None:
    pleats = drawn.pleats
    if pleats is None or pleats.lines_up_with is None:
        return
    here = (*keys, "lines_up_with")
    named = {str(other.raw.get("name")): other for other in drafts}
    leader = named.get(pleats.lines_up_with)
    if leader is None or leader is drawn:
        near = near_name(pleats.lines_up_with, set(named) - {str(drawn.raw.get("name"))})
        meant = f'did you mean "{near}"?' if near else "name another pad of this sheet"
        faults.add("G064", here, f'no other pad "{pleats.lines_up_with}"; {meant}')
    elif leader.pleats is None:
        faults.add("G064", here, f'the pad "{pleats.lines_up_with}" has no pleats; give it [pad.pleats] first')
    elif leader.pleats.lines_up_with is not None:
        text = f'the pad "{pleats.lines_up_with}" follows another pad itself; name that one'
        faults.add("G064", here, text)
    elif "across" in (pleats.direction, leader.pleats.direction):
        text = "only pleats that run along both pads can meet; write direction = along for both"
        faults.add("G064", here, text)
    elif pleats.shape == "edge" or leader.raw.get("facing", 0) != drawn.raw.get("facing", 0):
        text = "only straight or fanned pleats of pads that face the same way can follow; change shape or facing"
        faults.add("G064", here, text)
