"""From the tables of one pad to records: the parts of a draft, sides filled in, and the finished pad.

A part with a fault becomes None, so that the checks can still look at the rest and every fault is shown at
once.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from meshes.base.plane import Point
from meshes.base.problems import KeyPath
from meshes.outlines.halves import in_halves
from meshes.outlines.moved import shifted
from meshes.outlines.openings import opening_record
from meshes.outlines.outline import outline_record
from meshes.records.bands import USUAL_BANDS, Bands
from meshes.records.board import Board, Hole
from meshes.records.closed import Closed
from meshes.records.corners import NO_FOLDS, Folds
from meshes.records.frame import AS_EVER, Fixings, Frame
from meshes.records.pad import (
    MIRROR_SIDE,
    NOTHING_WANTED,
    SIDES,
    Block,
    ExtraLine,
    Inset,
    Layer,
    Outline,
    Pad,
    Profile,
    SeatPose,
    Side,
    Wanted,
)
from meshes.records.pleats import Pleats
from meshes.records.springs import Springs
from meshes.schema.fixings import FixingInput, FoldsInput, PostInput, fixings_record, folds_record, post_records
from meshes.schema.outline import BoardInput, OutlineInput
from meshes.schema.pad_tables import (
    BandsInput,
    EdgesInput,
    InsetInput,
    LayerInput,
    LineInput,
    ProfileInput,
    SideInput,
    bands_record,
)
from meshes.schema.pleats import PleatsInput, pleats_record
from meshes.schema.support import (
    ClosedInput,
    FrameInput,
    SupportInput,
    closed_record,
    springs_record,
)
from meshes.schema.words import Faults
from meshes.sheet.frame_parts import based_drops, cut_for_posts, frame_record, usual_folds, with_rear_join
from meshes.sheet.part_reader import PartReader


@dataclass(frozen=True)
class PadDraft:
    """One pad as far as it could be read. Lists keep their places: an element with a fault is None; a side with a
    fault is left out."""

    keys: KeyPath
    kind: str
    raw: Mapping[str, Any]
    outline: Outline | None
    profiles: tuple[Profile | None, ...]
    sides: Mapping[str, Side]
    layers: tuple[Layer | None, ...]
    inset: Inset | None
    lines: tuple[ExtraLine | None, ...]
    pleats: Pleats | None = None
    springs: Springs | None = None
    frame: Frame = field(default_factory=Frame)
    folds: Folds = NO_FOLDS
    closed: Closed | None = None
    bands: Bands = USUAL_BANDS
    board: Board | None = None
    fixings: Fixings = AS_EVER


def draft(raw: Mapping[str, Any], keys: KeyPath, reader: PartReader) -> PadDraft:
    """Read the parts of one pad; raw: its table in usual words, already held against the models as a
    whole.
    """
    faults = reader.faults
    kind = faults.places.kind(keys[1])
    given = reader.table(OutlineInput, raw.get("outline"), (*keys, "outline"))
    closed = reader.table(ClosedInput, raw.get("closed"), (*keys, "closed"))
    long_mm = closed.length if closed is not None and closed.form == "roll" and closed.length is not None else 0.0
    flat, where = "board" in raw and closed is None, (*keys, "outline")
    outline = None if given is None else outline_record(given, where, kind, faults, flat=flat, long_mm=long_mm)
    inset = reader.table(InsetInput, raw.get("inset"), (*keys, "inset"))
    pleats = reader.table(PleatsInput, raw.get("pleats"), (*keys, "pleats"))
    support = reader.table(SupportInput, raw.get("support"), (*keys, "support"))
    bands = reader.table(BandsInput, raw.get("bands"), (*keys, "bands"))
    frame = _frame(reader, raw, keys, outline)
    folds = reader.table(FoldsInput, raw.get("folds", {}), (*keys, "folds"))
    sides = based_drops(_sides(reader, raw, keys, outline), frame, outline)
    even = outline is not None and outline.symmetric
    layers = tuple(
        _layer(p, _own_outline(p, (*keys, "layer", k), kind, faults), even=even)
        for k, p in enumerate(reader.tables(LayerInput, raw, "layer", keys))
    )
    said = NO_FOLDS if folds is None else folds_record(folds, outline is not None and outline.symmetric)
    fixings = _fixings(reader, raw, keys, outline)
    said = usual_folds(said, outline, sides, layers) if "folds" in raw else said
    board, inside = _board(reader, raw, keys), None if closed is None else closed_record(closed)
    if inside is not None and board is not None:
        # A board inside a loose cushion carries its core; leather goes round no board there.
        inside, board = replace(inside, board=board.thickness), None
    return PadDraft(
        keys=keys,
        kind=kind,
        raw=raw,
        outline=outline,
        profiles=tuple(_profile(p) for p in reader.tables(ProfileInput, raw, "profile", keys)),
        sides=sides,
        layers=layers,
        inset=None if inset is None else _inset(inset),
        lines=tuple(_line(p) for p in reader.tables(LineInput, raw, "line", keys)),
        pleats=None if pleats is None else pleats_record(pleats),
        springs=None if support is None else springs_record(support),
        frame=frame,
        folds=cut_for_posts(said, fixings),
        closed=inside,
        bands=USUAL_BANDS if bands is None else with_rear_join(bands_record(bands), outline, sides),
        fixings=fixings,
        board=board,
    )


def _fixings(reader: PartReader, raw: Mapping[str, Any], keys: KeyPath, outline: Outline | None) -> Fixings:
    """How the outer edges are held; on a symmetric outline left copies right, and right left, where one is said."""
    given = reader.table(FixingInput, raw.get("fixing", {}), (*keys, "fixing"))
    posts = post_records(reader.tables(PostInput, raw, "post", keys), keys, reader.faults)
    said = _given_sides(reader, raw, keys, outline)
    creases = {side: one.crease for side, one in said.items() if one is not None and one.crease is not None}
    even = outline is not None and outline.symmetric
    return AS_EVER if given is None else fixings_record(given, creases, posts, even=even)


def _board(reader: PartReader, raw: Mapping[str, Any], keys: KeyPath) -> Board | None:
    given = reader.table(BoardInput, raw.get("board"), (*keys, "board"))
    if given is None:
        return None
    openings = [
        opening_record(one, (*keys, "board", "opening", k), reader.faults) for k, one in enumerate(given.opening)
    ]
    holes = tuple(Hole(one.name, (one.at[0], one.at[1]), one.diameter) for one in given.hole)
    pair: Any = given.pair
    return Board(given.thickness, given.wrap, tuple(one for one in openings if one is not None), holes, pair)


def _frame(reader: PartReader, raw: Mapping[str, Any], keys: KeyPath, outline: Outline | None) -> Frame:
    """The frame, with the drops that are measured along the sides."""
    given = _given_sides(reader, raw, keys, outline)
    drops = {side: one.drops for side, one in given.items() if one is not None and one.drops is not None}
    dropped = {side: one is not None and bool({"drop", "drops"} & one.model_fields_set) for side, one in given.items()}
    asked = reader.table(FrameInput, raw.get("frame", {}), (*keys, "frame"))
    return Frame() if asked is None else frame_record(asked, drops, dropped, outline, keys, reader.faults)


def _given_sides(
    reader: PartReader, raw: Mapping[str, Any], keys: KeyPath, outline: Outline | None
) -> dict[str, SideInput | None]:
    """What is said of every side; on a symmetric outline left copies right, and right left."""
    table = raw.get("sides", {})
    # By side, the side whose table says it: the faults of a table stand at its own place.
    said = {} if not isinstance(table, dict) else {s: s for s in SIDES if s in table}
    for side, other in MIRROR_SIDE.items():
        if side not in said and other in said and (outline is None or outline.symmetric):
            said[side] = other
    return {side: reader.table(SideInput, table[own], (*keys, "sides", own)) for side, own in said.items()}


def _profile(given: ProfileInput | None) -> Profile | None:
    return None if given is None else _some_profile(given)


def _some_profile(given: ProfileInput) -> Profile:
    direction: Any = given.direction
    return Profile(direction, given.at, _points(given.points))


def _points(given: Sequence[Sequence[float]]) -> tuple[Point, ...]:
    return tuple((float(p[0]), float(p[1])) for p in given)


def _own_outline(given: LayerInput | None, keys: KeyPath, kind: str, faults: Faults) -> Outline | None:
    """The outline of a block's own; None where it has none, or one that cannot be used."""
    if given is None or given.outline is None:
        return None
    found = outline_record(given.outline, (*keys, "outline"), kind, faults)
    return None if found is None else shifted(found, (given.outline.at[0], given.outline.at[1]))


def _layer(given: LayerInput | None, outline: Outline | None, *, even: bool) -> Layer | None:
    """A layer; outline: of a block's own; even: the pad's is the same left and right, so of a block's edges left copies
    right, right left."""
    if given is None:
        return None
    # A layer all over is full to the tack line, where the cover ends too; others run out over their own thickness.
    usual = 0.0 if given.where == "all" else given.thickness
    taper = usual if given.taper is None else given.taper
    block = None
    if given.form == "block":
        taper = 0.0
        crown = tuple(_some_profile(profile) for profile in given.crown)
        own = given.edge if isinstance(given.edge, EdgesInput) else None
        radius = 0.0 if isinstance(given.edge, EdgesInput) else given.edge
        block = Block(given.overhang, given.bevel, radius, crown, _edges(own, even=even), outline)
    rest = (given.below, given.oversize, given.sewn, block)
    return Layer(given.material, given.thickness, given.where, given.within, taper, *rest)


def _edges(given: EdgesInput | None, *, even: bool) -> tuple[tuple[str, float], ...]:
    """Radii of a block's edges by side, for those that are named."""
    if given is None:
        return ()
    said = {side: getattr(given, side) for side in SIDES}
    if even:
        said = {side: said[MIRROR_SIDE.get(side, side)] if radius is None else radius for side, radius in said.items()}
    return tuple(sorted((side, radius) for side, radius in said.items() if radius is not None))


def _line(given: LineInput | None) -> ExtraLine | None:
    return None if given is None else ExtraLine(given.name, _points(given.points), given.welt, given.tied)


def _inset(given: InsetInput) -> Inset:
    usual = 0.0 if given.margin is None else given.margin
    front, rear, left, right = (
        usual if margin is None else margin for margin in (given.front, given.rear, given.left, given.right)
    )
    word: Any = given.bolsters
    return Inset(front, rear, left, right, given.corner_radius, given.welt, given.tied, word)


def _sides(reader: PartReader, raw: Mapping[str, Any], keys: KeyPath, outline: Outline | None) -> dict[str, Side]:
    """The sides; left and right copy each other, which is told where the outline is not symmetric; what is not given
    gets the defaults."""
    table = raw.get("sides", {})
    if not isinstance(table, dict):
        return {}
    given = {side: _side(reader, table[side], (*keys, "sides", side)) for side in SIDES if side in table}
    for side, other in MIRROR_SIDE.items():
        if side not in given and other in table:
            given[side] = given[other]
            if outline is not None and not outline.symmetric:
                text = f"only the {other} side is given and the outline is not symmetric"
                text += f"; the {side} side is taken to be like it: give it too where it differs"
                reader.faults.warn("G055", (*keys, "sides", other), text)
    every = {side: given.get(side, Side()) for side in SIDES}
    return {name: side for name, side in every.items() if side is not None}


def _side(reader: PartReader, raw: Any, keys: KeyPath) -> Side | None:
    given = reader.table(SideInput, raw, keys)
    if given is None:
        return None
    drop = given.drop
    if given.drops is not None:
        if "drop" in given.model_fields_set:
            text = "given together with drop; keep one drop, or drops at several places"
            reader.faults.add("S020", (*keys, "drops"), text)
        drop = min(down for _, down in given.drops)
    depth = given.gap if given.gap_depth is None else given.gap_depth
    fixed: Any = given.cloth_fixed
    edge = (drop, given.edge_radius, given.turn, given.band, given.seam_below, given.welt, given.closed_by_hand)
    return Side(*edge, given.gap, depth if given.gap > 0 else 0.0, given.cloth, fixed)


def pad_record(drawn: PadDraft, pose: SeatPose, wanted: Wanted = NOTHING_WANTED) -> Pad:
    """The finished record of a pad without faults."""
    assert drawn.outline is not None
    kind: Any = drawn.kind
    pad = Pad(
        name=drawn.raw["name"],
        kind=kind,
        pose=pose,
        outline=drawn.outline,
        profiles=tuple(p for p in drawn.profiles if p is not None),
        sides=drawn.sides,
        layers=tuple(p for p in drawn.layers if p is not None),
        inset=drawn.inset,
        lines=tuple(p for p in drawn.lines if p is not None),
        pleats=drawn.pleats,
        springs=drawn.springs,
        frame=drawn.frame,
        folds=drawn.folds,
        bands=drawn.bands,
        fixings=drawn.fixings,
        wanted=wanted,
        closed=drawn.closed,
        board=drawn.board,
    )
    return in_halves(pad)
