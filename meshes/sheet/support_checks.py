"""Checks of what carries the pads of a sheet: springs, gaps beside them, compression curves, cores without a frame; and
of how the outer edges of a cover are held."""

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from itertools import pairwise
from typing import Any

from meshes.base.plane import extent
from meshes.base.problems import KeyPath, near_name
from meshes.base.units import SAME_MM
from meshes.fitting.foam_block import check_block
from meshes.records.closed import Closed, zip_run
from meshes.records.corners import CORNERS_AFTER, MIRROR_CORNER, CornerFinish
from meshes.records.frame import BY_HAND, FLY, CornerPost
from meshes.records.materials import CRUSH_LIMIT
from meshes.records.pad import SIDES, UPRIGHT, side_word, upright_key
from meshes.records.springs import BINDING_SHARE, bed_rate_kpa_per_mm
from meshes.schema.support import LEAST_RATE, MOST_RATE, SupportInput
from meshes.schema.tables import MaterialInput
from meshes.schema.words import Faults
from meshes.sheet.part_reader import PartReader
from meshes.sheet.parts import PadDraft

# What a pad on a frame may have and a closed cover has not.
NOT_WHEN_CLOSED = (
    "sides",
    "profile",
    "inset",
    "line",
    "pleats",
    "support",
    "continues",
    "frame",
    "wanted_radius",
    "fixing",
    "post",
)
# A cover smaller than its core by more than this share of it cannot be pulled on (P).
MOST_UNDERSIZE_SHARE = 0.1


def check_support(drafts: Sequence[PadDraft], reader: PartReader, *, slack: bool) -> None:
    """Check springs and gaps of all pads. slack: the sheet gives the cover no tension at all."""
    for drawn in drafts:
        keys = (*drawn.keys, "support")
        given = reader.table(SupportInput, drawn.raw.get("support"), keys)
        if given is not None:
            _check_springs(given, keys, reader.faults)
        _check_gaps(drawn, reader.faults, slack=slack)


def _check_springs(given: SupportInput, keys: KeyPath, faults: Faults) -> None:
    coil = given.coil_rate is not None or given.pitch is not None
    if given.kind == "board":
        if coil or given.rate_kpa_per_mm is not None or given.free_height is not None or given.held_height is not None:
            text = 'a board does not move, so what is said of springs has no effect; write kind = "springs"'
            faults.warn("G079", keys, text)
        return
    if given.rate_kpa_per_mm is not None and coil:
        text = "given together with a coil's rate; keep rate_kpa_per_mm, or coil_rate and pitch"
        faults.add("S020", (*keys, "rate_kpa_per_mm"), text)
    elif given.rate_kpa_per_mm is None and (given.coil_rate is None or given.pitch is None):
        text = "springs without a rate; give rate_kpa_per_mm, or coil_rate in N/mm and the pitch of the coils"
        faults.add("G070", keys, text)
    elif given.coil_rate is not None and given.pitch is not None:
        _check_bed(given.coil_rate, given.pitch, keys, faults)
    _check_preload(given, keys, faults)


def _check_bed(coil_rate: float, pitch: float, keys: KeyPath, faults: Faults) -> None:
    """The rate that follows from the coils is held against what may be given outright."""
    rate = bed_rate_kpa_per_mm(coil_rate, pitch)
    if not LEAST_RATE <= rate <= MOST_RATE:
        text = f"coils of {coil_rate:g} N/mm every {pitch:g} mm make {rate:.3g} kPa per mm"
        text += (
            f"; a bed of springs has {LEAST_RATE:g} to {MOST_RATE:g}, so check the rate and the distance of the coils"
        )
        faults.add("S016", (*keys, "pitch"), text)


def _check_preload(given: SupportInput, keys: KeyPath, faults: Faults) -> None:
    free, held = given.free_height, given.held_height
    if held is None:
        return
    if free is None:
        text = f"held at {held:g} mm, and nothing says how high they stand free; add free_height"
        faults.add("G070", (*keys, "held_height"), text)
    elif held > free:
        text = f"springs of {free:g} mm free height cannot be held at {held:g} mm; held_height is the lower of the two"
        faults.add("G071", (*keys, "held_height"), text)
    elif held < BINDING_SHARE * free:
        text = f"springs of {free:g} mm bind before they are held at {held:g} mm"
        text += f"; hold them above {BINDING_SHARE * free:.0f} mm, or use shorter ones"
        faults.add("G071", (*keys, "held_height"), text)


def _check_gaps(drawn: PadDraft, faults: Faults, *, slack: bool) -> None:
    given = drawn.raw.get("sides")
    for name in SIDES:
        side = drawn.sides.get(name)
        raw = given.get(name) if isinstance(given, dict) else None
        if side is None or not isinstance(raw, dict):
            continue
        keys = (*drawn.keys, "sides", name)
        if side.gap == 0.0:
            for key in ("gap_depth", "cloth", "cloth_fixed"):
                if raw.get(key):
                    text = "has no effect without a gap; give the width of the gap, or leave it out"
                    faults.warn("G079", (*keys, key), text)
            continue
        _check_width(drawn, name, keys, faults)
        if slack and not side.cloth:
            text = "a cover without tension cannot span a gap that nothing carries"
            faults.add("G073", (*keys, "gap"), f"{text}; give [cover] tension, or carry cloth over it (cloth = true)")


def _check_width(drawn: PadDraft, name: str, keys: KeyPath, faults: Faults) -> None:
    if drawn.outline is None:
        return
    across, along = extent(drawn.outline.corners)
    room = (across if name in ("left", "right") else along) - drawn.sides[name].edge_radius
    beyond = drawn.sides.get({"left": "right", "right": "left", "front": "rear", "rear": "front"}[name])
    gap = drawn.sides[name].gap
    if beyond is not None:
        # Of two gaps that leave nothing between them the wider one is to blame.
        room -= beyond.edge_radius + (beyond.gap if beyond.gap <= gap else 0.0)
    if gap >= room:
        word = side_word(name, drawn.kind)
        text = f"a gap of {gap:g} mm along the {word} side leaves no support: the pad has {max(room, 0.0):.0f} mm there"
        faults.add("G072", (*keys, "gap"), f"{text}; measure from the end of the springs to the rail")


def check_curves(raw: Mapping[str, Any], reader: PartReader) -> None:
    """Check the compression tables of the shop's own materials."""
    materials = raw.get("material")
    for name, table in materials.items() if isinstance(materials, dict) else ():
        keys = ("material", name)
        given = reader.table(MaterialInput, table, keys)
        if given is None:
            continue
        if given.block is not None:
            if given.compression is not None or given.compression_kpa is not None:
                text = "given together with pressures; keep the block, or the table that was made of it"
                reader.faults.add("S020", (*keys, "block"), text)
            else:
                check_block(given.block, (*keys, "block"), reader.faults)
        elif given.compression is not None and given.compression_kpa is not None:
            text = "given together with compression_kpa; keep the full table or the three pressures"
            reader.faults.add("S020", (*keys, "compression"), text)
        elif given.compression is None and given.compression_kpa is None:
            text = "missing; add compression_kpa (pressure in kPa at 25, 40 and 65 % compression), or a full table"
            reader.faults.add("S011", (*keys, "compression_kpa"), text)
        elif given.compression is not None:
            _check_curve(given.compression, (*keys, "compression"), reader.faults)


def _check_curve(points: Sequence[Sequence[float]], keys: KeyPath, faults: Faults) -> None:
    for k, (strain, kpa) in enumerate(points):
        if not 0.0 < strain < 1.0 and (strain, kpa) != (0.0, 0.0):
            text = f"strain is a share between 0 and 1, found {strain:g}; write 25 % as 0.25"
            faults.add("S027", (*keys, k), text)
            return
    for k, (low, high) in enumerate(pairwise(points)):
        if not low[0] < high[0]:
            text = f"strain must rise, found {high[0]:g} after {low[0]:g}; give the points in order"
            faults.add("S027", (*keys, k + 1), text)
            return
        if not low[1] < high[1]:
            text = (
                f"pressure must rise with strain, found {high[1]:g} kPa after {low[1]:g} kPa; measure this point again"
            )
            faults.add("S026", (*keys, k + 1), text)
            return
    if points[0][1] <= 0.0 < points[0][0]:
        faults.add("S026", (*keys, 0), f"pressure must rise with strain, found 0 kPa at {points[0][0]:g}; leave it out")


def check_closed(drafts: Sequence[PadDraft], materials: AbstractSet[str], faults: Faults) -> None:
    """Check closed covers. materials: all names a core may be of."""
    for drawn in drafts:
        if drawn.closed is None:
            continue
        for key in NOT_WHEN_CLOSED:
            if drawn.raw.get(key):
                text = "a closed cover is sewn shut all round its core and has nothing of this; leave it out, or leave "
                faults.add("G170", (*drawn.keys, key), f"{text}out [pad.closed]")
        _check_board_inside(drawn, drawn.closed, faults)
        if not drawn.closed.filled:
            if drawn.layers:
                faults.add("G170", (*drawn.keys, "layer"), "a flat panel has nothing under it; leave its layers out")
            if "zip" in drawn.raw["closed"]:
                faults.add("G225", (*drawn.keys, "closed", "zip"), "a flat panel has no zip; leave it out")
            continue
        for k, layer in enumerate(drawn.layers):
            if layer is not None and (layer.where not in ("all", "face") or layer.within is not None):
                text = f'a core is wrapped on both faces alike, found where = "{layer.where}"; write where = "face"'
                faults.add("G171", (*drawn.keys, "layer", k, "where"), text)
        if drawn.closed.core not in materials:
            near = near_name(drawn.closed.core, materials)
            meant = f'did you mean "{near}"?' if near else f"describe it under [material.{drawn.closed.core}]"
            faults.add(
                "S022", (*drawn.keys, "closed", "core"), f'unknown material, found "{drawn.closed.core}"; {meant}'
            )
        _check_reach(drawn, drawn.closed, faults)
        _check_band(drawn, drawn.closed, faults)
        _check_own_keys(drawn, drawn.closed, faults)
        if drawn.outline is not None:
            _check_undersize(drawn.closed, min(extent(drawn.outline.corners)), (*drawn.keys, "closed"), faults)


def _check_reach(drawn: PadDraft, closed: Closed, faults: Faults) -> None:
    """A box has a thickness, a roll a length."""
    keys = (*drawn.keys, "closed")
    own, other = ("length", "thickness") if closed.form == "roll" else ("thickness", "length")
    said = drawn.raw["closed"]
    if said.get(own) is None:
        faults.add("S011", (*keys, own), f"missing; a {closed.words} needs the {own} of its core")
    if said.get(other) is not None:
        faults.add("G176", (*keys, other), f"a {closed.words} has a {own}, not a {other}; leave it out")


def _check_band(drawn: PadDraft, closed: Closed, faults: Faults) -> None:
    """The band holds the wrapped core together: no higher than that is, and not so low that the foam is crushed."""
    keys = (*drawn.keys, "closed", "band")
    if closed.form == "roll":
        if closed.band is not None:
            faults.add("G172", keys, "a roll has no band, its tube is as long as its core; leave it out")
        return
    if not closed.banded:
        return
    wraps = sum(layer.thickness for layer in drawn.layers if layer is not None)
    full = closed.thickness + closed.board + closed.wrapped_faces * wraps
    if not CRUSH_LIMIT * full <= closed.height <= full + SAME_MM:
        text = f"a band of {closed.height:g} mm round a core that is {full:g} mm high with its wrap; the cover would "
        text += "hang loose" if closed.height > full else f"crush it by more than {100 * CRUSH_LIMIT:.0f} %"
        faults.add("G172", keys, f"{text}; write {CRUSH_LIMIT * full:.0f} to {full:.0f} mm")


def _check_own_keys(drawn: PadDraft, closed: Closed, faults: Faults) -> None:
    """What only a band can have, and what only a knife edge can."""
    said = drawn.raw["closed"]
    if said.get("rear_thickness") is not None and (closed.form != "box" or said.get("band") is not None):
        text = "a wedge is a box whose bands are as high as its core; leave this out"
        text += ", or leave band out" if closed.form == "box" else f", a {closed.words} is no wedge"
        faults.add("G227", (*drawn.keys, "closed", "rear_thickness"), text)
    _check_zip(drawn, closed, faults)
    others: tuple[str, ...] = ("band", "past_corner", "flap")
    if closed.form == "knife_edge":
        text = "a knife edge has no band, and nothing of this; leave it out"
    else:
        others, text = ("corners_in", "zip_short"), f'a {closed.words} has nothing of this; write form = "knife_edge"'
    for key in others:
        if said.get(key) not in (None, False):
            faults.add("G225", (*drawn.keys, "closed", key), text)


def _check_board_inside(drawn: PadDraft, closed: Closed, faults: Faults) -> None:
    """A board below the core lies in a box, and has nothing but its thickness."""
    said = drawn.raw.get("board")
    if not isinstance(said, dict):
        return
    if closed.form != "box":
        text = f"a {closed.words} has no flat bottom for a board; leave one of [pad.board] and [pad.closed] out"
        faults.add("G190", (*drawn.keys, "closed"), text)
    for key in said:
        if key != "thickness":
            text = "a board inside a loose cushion has a thickness alone; leave this out"
            faults.add("G190", (*drawn.keys, "board", key), text)


def _check_zip(drawn: PadDraft, closed: Closed, faults: Faults) -> None:
    """A zip runs along sides next to each other, and leaves one."""
    keys, said = (*drawn.keys, "closed", "zip"), drawn.raw["closed"].get("zip")
    if said is None:
        return
    if closed.form == "roll":
        faults.add("G225", keys, "the zip of a roll is the one lengthwise seam of its tube; leave this out")
        return
    sides = [part.strip() for part in said.split(",")] if isinstance(said, str) else said
    if zip_run(sides) is None:
        near = " or ".join(side_word(side, drawn.kind) for side in ("left", "right"))
        text = "one zip runs along sides next to each other, each once, and leaves at least one to the band"
        faults.add("G229", keys, f'{text}; write "{side_word("rear", drawn.kind)}" alone, or with {near}')


def _check_undersize(closed: Closed, size_mm: float, keys: KeyPath, faults: Faults) -> None:
    if closed.undersize is not None and closed.undersize > MOST_UNDERSIZE_SHARE * size_mm:
        text = f"a cover {closed.undersize:g} mm smaller than a core of {size_mm:g} mm goes on over no foam; the whole "
        text += f"undersize of both sides together is at most {MOST_UNDERSIZE_SHARE * size_mm:.0f} mm"
        faults.add("G175", (*keys, "undersize"), text)


def check_fixings(drafts: Sequence[PadDraft], faults: Faults) -> None:
    """Check how the outer edges of all pads are held."""
    for drawn in drafts:
        if drawn.closed is None:
            _check_fixings(drawn, faults)


def _check_fixings(drawn: PadDraft, faults: Faults) -> None:
    """How a side is held is said once, a fly leaves no fold beside it, and a crease serves a fly or a post."""
    fixings, kind = drawn.fixings, drawn.kind
    for side, word in fixings.sides:
        own = drawn.sides.get(side)
        if own is not None and own.closed_by_hand and word != BY_HAND and _said(drawn, "fixing", side):
            text = f'"{word}", and the side says closed_by_hand = true; keep one of them'
            faults.add("S020", (*drawn.keys, "fixing", side), text)
    for k, corner in enumerate(CORNERS_AFTER):
        beside = [s for s in (SIDES[k], SIDES[(k + 1) % len(SIDES)]) if fixings.of(s) == FLY]
        if drawn.folds.of(corner) not in (None, CornerFinish.CUT) and beside:
            text = f"{drawn.folds.of(corner)}, but the {side_word(beside[0], kind)} side has a fly, which ends there"
            faults.add("G118", (*drawn.keys, "folds"), f"{text}; name only corners between sides without one")
            break
    flown = [side for side, word in fixings.sides if word == FLY]
    if flown and drawn.bands.over:
        text = "a fly, and the face runs on over a side, whose gables leave no place for one; hold that side otherwise"
        faults.add("G205", (*drawn.keys, "fixing", flown[0]), text)
    for post in {post.row: post for post in fixings.corner_posts[::-1]}.values():
        _check_corner_post(drawn, post, faults)
    posts = {post.side for post in fixings.posts}
    for side, down in fixings.creases:
        if fixings.of(side) != FLY and side not in posts and down > 0.0 and _said(drawn, "sides", side):
            text = f'has no effect without a fly or a post; write {side_word(side, kind)} = "fly" under [pad.fixing]'
            faults.warn("G204", (*drawn.keys, "sides", side, "crease"), text)


def _check_corner_post(drawn: PadDraft, post: CornerPost, faults: Faults) -> None:
    """A post in a corner needs a cover that is pulled down beside it; a fold is told where a post stands too."""
    k, keys = CORNERS_AFTER.index(post.corner), (*drawn.keys, "post", post.row)
    end, side = post.corner.split("_")
    where = f"{side_word(end, drawn.kind)} {side} corner"
    said = [corner for corner in (post.corner, MIRROR_CORNER[post.corner]) if _said(drawn, "folds", corner)]
    if not post.through:
        if drawn.folds.folded(post.corner):
            text = f"a post and a fold are both at the {where}: the fold is cut open from below up to the post, and "
            text += f"{post.down:g} mm of it are left; draw the corner clean there, or sew it"
            faults.warn("G207", keys, text)
        return
    for beside in (SIDES[k], SIDES[(k + 1) % len(SIDES)]):
        word, own = side_word(beside, drawn.kind), drawn.sides.get(beside)
        ends = "a band" if own is not None and own.band else "a fly" if drawn.fixings.of(beside) == FLY else None
        if beside in drawn.bands.over:
            ends = "a gable beside it"
        if ends is not None:
            text = f"stands in the {where}, and the {word} side has {ends}, which the cut would run through; take that "
            text += "out, or write down in place of depth where the post meets the cover only below the edge"
            faults.add("G206", keys, text)
            return
    if said:
        text = f"a post stands in the {where}, so the leather is cut in there and not {drawn.raw['folds'][said[0]]}; "
        text += f"leave {upright_key(said[0]) if drawn.kind in UPRIGHT else said[0]} out under [pad.folds]"
        faults.warn("G207", keys, text)


def _said(drawn: PadDraft, table: str, side: str) -> bool:
    """Whether a side is named in a table of its own, not copied from the other half."""
    return isinstance(drawn.raw.get(table), dict) and side in drawn.raw[table]
