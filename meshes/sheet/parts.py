"""From the tables of one pad to records: words of upright pads made usual, sides filled in, halves completed.

A part with a fault becomes None, so that the checks can still look at the rest and every fault is shown at
once.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

from meshes.base.plane import Point
from meshes.base.problems import KeyPath
from meshes.base.units import SAME_MM
from meshes.records.bands import USUAL_BANDS, Bands
from meshes.records.frame import Frame
from meshes.records.pad import (
    MIRROR_SIDE,
    NOTHING_WANTED,
    SIDES,
    UPRIGHT,
    ExtraLine,
    Inset,
    Layer,
    Outline,
    Pad,
    Profile,
    SeatPose,
    Side,
    Wanted,
    usual_key,
)
from meshes.records.pleats import Pleats
from meshes.records.springs import Springs
from meshes.schema.outline import OutlineInput
from meshes.schema.pad_tables import (
    BandsInput,
    InsetInput,
    LayerInput,
    LineInput,
    ProfileInput,
    SideInput,
    bands_record,
)
from meshes.schema.pleats import PleatsInput, pleats_record
from meshes.schema.support import FrameInput, SupportInput, springs_record
from meshes.schema.values import Table
from meshes.schema.words import Faults
from meshes.sheet.frame_parts import based_drops, frame_record
from meshes.sheet.outline import outline_record

AnyTable = TypeVar("AnyTable", bound=Table)


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
    bands: Bands = USUAL_BANDS


@dataclass(frozen=True)
class PartReader:
    """Reads single tables of a sheet that was already held against the models as a whole."""

    faults: Faults
    unit: str

    def table(self, model: type[AnyTable], raw: Any, keys: KeyPath) -> AnyTable | None:
        """One table read with its model; None when it is not there or something in it was found faulty."""
        if not isinstance(raw, dict) or self.faults.under(keys):
            return None
        return model.model_validate(raw, context={"unit": self.unit})

    def tables(self, model: type[AnyTable], raw: Mapping[str, Any], name: str, keys: KeyPath) -> list[AnyTable | None]:
        many = raw.get(name, [])
        if not isinstance(many, list):
            return []
        return [self.table(model, one, (*keys, name, k)) for k, one in enumerate(many)]


def usual_words(raw: Mapping[str, Any], keys: KeyPath, faults: Faults) -> dict[str, Any]:
    """The tables of one pad, with front and rear for bottom and top where the pad is upright."""
    pad = dict(raw)
    if faults.places.kind(keys[1]) not in UPRIGHT:
        return pad
    for name in ("outline", "sides", "inset", "frame", "bands"):
        if isinstance(pad.get(name), dict):
            pad[name] = _renamed(pad[name], (*keys, name), faults)
    outline = pad.get("outline")
    if isinstance(outline, dict) and isinstance(outline.get("corner_radius"), dict):
        outline["corner_radius"] = _renamed(outline["corner_radius"], (*keys, "outline", "corner_radius"), faults)
    bands = pad.get("bands")
    if isinstance(bands, dict) and isinstance(bands.get("corners"), dict):
        bands["corners"] = _renamed(bands["corners"], (*keys, "bands", "corners"), faults)
    if isinstance(pad.get("layer"), list):
        pad["layer"] = [_layer_words(layer) for layer in pad["layer"]]
    return pad


def _renamed(table: Mapping[str, Any], keys: KeyPath, faults: Faults) -> dict[str, Any]:
    renamed: dict[str, Any] = {}
    for key, value in table.items():
        usual = usual_key(key)
        if usual in renamed:
            faults.add(
                "S020",
                (*keys, usual),
                f"given twice, as {usual} and in the words bottom or top; keep one of them",
            )
        renamed[usual] = value
    return renamed


def _layer_words(layer: Any) -> Any:
    if isinstance(layer, dict) and layer.get("where") in ("bottom", "top"):
        return {**layer, "where": usual_key(layer["where"])}
    return layer


def draft(raw: Mapping[str, Any], keys: KeyPath, reader: PartReader) -> PadDraft:
    """Read the parts of one pad; raw: its table in usual words, already held against the models as a
    whole.
    """
    faults = reader.faults
    kind = faults.places.kind(keys[1])
    given = reader.table(OutlineInput, raw.get("outline"), (*keys, "outline"))
    outline = None if given is None else outline_record(given, (*keys, "outline"), kind, faults)
    inset = reader.table(InsetInput, raw.get("inset"), (*keys, "inset"))
    pleats = reader.table(PleatsInput, raw.get("pleats"), (*keys, "pleats"))
    support = reader.table(SupportInput, raw.get("support"), (*keys, "support"))
    bands = reader.table(BandsInput, raw.get("bands"), (*keys, "bands"))
    frame = _frame(reader, raw, keys, outline)
    return PadDraft(
        keys=keys,
        kind=kind,
        raw=raw,
        outline=outline,
        profiles=tuple(_profile(p) for p in reader.tables(ProfileInput, raw, "profile", keys)),
        sides=based_drops(_sides(reader, raw, keys, outline), frame, outline),
        layers=tuple(_layer(p) for p in reader.tables(LayerInput, raw, "layer", keys)),
        inset=None if inset is None else _inset(inset),
        lines=tuple(_line(p) for p in reader.tables(LineInput, raw, "line", keys)),
        pleats=None if pleats is None else pleats_record(pleats),
        springs=None if support is None else springs_record(support),
        frame=frame,
        bands=USUAL_BANDS if bands is None else bands_record(bands),
    )


def _frame(reader: PartReader, raw: Mapping[str, Any], keys: KeyPath, outline: Outline | None) -> Frame:
    """The frame, with the drops that are measured along the sides."""
    table = raw.get("sides", {})
    # By side, the side whose table says it: the faults of a table stand at its own place.
    said = {} if not isinstance(table, dict) else {s: s for s in SIDES if s in table}
    for side, other in MIRROR_SIDE.items():
        if side not in said and other in said and (outline is None or outline.symmetric):
            said[side] = other
    given = {side: reader.table(SideInput, table[own], (*keys, "sides", own)) for side, own in said.items()}
    drops = {side: one.drops for side, one in given.items() if one is not None and one.drops is not None}
    dropped = {side: one is not None and bool({"drop", "drops"} & one.model_fields_set) for side, one in given.items()}
    asked = reader.table(FrameInput, raw.get("frame", {}), (*keys, "frame"))
    return Frame() if asked is None else frame_record(asked, drops, dropped, outline, keys, reader.faults)


def _profile(given: ProfileInput | None) -> Profile | None:
    if given is None:
        return None
    direction: Any = given.direction
    return Profile(direction, given.at, _points(given.points))


def _points(given: Sequence[Sequence[float]]) -> tuple[Point, ...]:
    return tuple((float(p[0]), float(p[1])) for p in given)


def _layer(given: LayerInput | None) -> Layer | None:
    if given is None:
        return None
    # A layer all over is full to the tack line, where the cover ends too; others run out over their own thickness.
    usual = 0.0 if given.where == "all" else given.thickness
    taper = usual if given.taper is None else given.taper
    return Layer(given.material, given.thickness, given.where, given.within, taper, given.below, given.oversize)


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
    """The sides; left and right copy each other on a symmetric outline, what is not given gets the defaults."""
    table = raw.get("sides", {})
    if not isinstance(table, dict):
        return {}
    given = {side: _side(reader, table[side], (*keys, "sides", side)) for side in SIDES if side in table}
    for side, other in MIRROR_SIDE.items():
        if side not in given and other in table:
            if outline is None or outline.symmetric:
                given[side] = given[other]
            else:
                text = f"only the {other} side is given and the outline is not symmetric"
                text += f"; the {side} side got the defaults"
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
        bands=drawn.bands,
        wanted=wanted,
    )
    if wanted.continues is None and _same_left_and_right(pad):
        return pad
    if pad.outline.symmetric:
        return replace(pad, symmetric=False, profiles=_both_halves(pad.profiles), lines=_both_sides(pad.lines))
    return replace(pad, symmetric=False)


def _same_left_and_right(pad: Pad) -> bool:
    if not pad.outline.symmetric or pad.sides["left"] != pad.sides["right"]:
        return False
    if pad.frame != pad.frame.mirrored() or not pad.bands.even:
        return False
    if pad.inset is not None and pad.inset.left != pad.inset.right:
        return False
    mirrored = sorted(repr(replace(p, where=MIRROR_SIDE.get(p.where, p.where))) for p in pad.layers)
    if mirrored != sorted(repr(p) for p in pad.layers):
        return False
    return _profiles_agree(pad.profiles)


def _profiles_agree(profiles: Sequence[Profile]) -> bool:
    """True when no measured height on the left contradicts one on the right."""
    for profile in profiles:
        if profile.direction == "across":
            if not _one_half(profile.points) and not _close(profile.points, _turned(profile.points)):
                return False
            continue
        twins = [p for p in profiles if p.direction == "along" and abs(p.at + profile.at) <= SAME_MM]
        if any(not _close(profile.points, twin.points) for twin in twins):
            return False
    return True


def _one_half(points: Sequence[Point]) -> bool:
    return points[0][0] >= 0.0 or points[-1][0] <= 0.0


def _turned(points: Sequence[Point]) -> tuple[Point, ...]:
    """A profile across, seen in the mirror."""
    return tuple((-place, height) for place, height in reversed(points))


def _close(one: Sequence[Point], two: Sequence[Point]) -> bool:
    return len(one) == len(two) and all(
        abs(a - b) <= SAME_MM for p, q in zip(one, two, strict=True) for a, b in zip(p, q, strict=True)
    )


def _both_halves(profiles: Sequence[Profile]) -> tuple[Profile, ...]:
    """Profiles measured on one half only, completed by their mirror images."""
    done = []
    for profile in profiles:
        if profile.direction == "across" and _one_half(profile.points):
            right = profile.points if profile.points[0][0] >= 0.0 else _turned(profile.points)
            left = tuple(p for p in _turned(right) if p[0] < -SAME_MM)
            done.append(replace(profile, points=left + right))
        else:
            done.append(profile)
    places = [p.at for p in profiles if p.direction == "along"]
    if places and (min(places) >= 0.0 or max(places) <= 0.0):
        done += [replace(p, at=-p.at) for p in profiles if p.direction == "along" and abs(p.at) > SAME_MM]
    return tuple(done)


def _both_sides(lines: Sequence[ExtraLine]) -> tuple[ExtraLine, ...]:
    """Lines drawn on the right half, completed by their mirror images; one along the centre line is its
    own.
    """
    done = []
    for line in lines:
        done.append(line)
        if any(x > SAME_MM for x, _ in line.points):
            done.append(replace(line, name=f"{line.name} left", points=tuple((-x, y) for x, y in line.points)))
    return tuple(done)
