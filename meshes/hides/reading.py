"""Hides as a sheet says them become records; what is wrong with one is told in the trimmer's words, each with its
place."""

import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from pydantic import ValidationError
from shapely.geometry import LineString, Polygon

from meshes.base.arrays import FloatArray
from meshes.base.problems import Key
from meshes.base.reading import UnreadableError, read_whole
from meshes.base.units import SNAP_MM
from meshes.hides.drawn import LARGEST_DRAWING_BYTES, read_drawing
from meshes.hides.records import TOOL_GAP_MM, Cutting, Flaw, Hide, HidePlan, Pin, Placing
from meshes.hides.standard import derived_zones, standard_outline
from meshes.hides.svg_lines import DrawingFault
from meshes.schema.cover_tables import (
    FLAW_GRADES,
    MOST_HIDE_M2,
    ZONES,
    CuttingInput,
    FlawInput,
    HideInput,
    PlacingInput,
)
from meshes.schema.words import Faults

# The least that is called a hide: what is left of one, for a welt or a patch, m2.
LEAST_PIECE_M2 = 0.001
# Points of a round flaw.
ROUND_POINTS = 48


def hide_plan(
    hides: Sequence[HideInput], placings: Sequence[PlacingInput], cutting: CuttingInput, *, folder: Path, faults: Faults
) -> HidePlan:
    """The hides of a sheet. folder: where its drawings are named from; what is wrong goes to `faults`."""
    found = []
    for k, given in enumerate(hides):
        hide = _hide(given, k, folder, faults)
        if hide is not None:
            found.append(hide)
    names = [given.name for given in hides]
    for k, name in enumerate(names):
        if name in names[:k]:
            faults.add("S049", ("hide", k, "name"), f'two hides are called "{name}"; give each a name of its own')
    asked = []
    for k, one in enumerate(placings):
        zones = None if one.zones is None else tuple(one.zones)
        strange = [zone for zone in zones or () if zone not in ZONES]
        if strange:
            text = f'no zone of that name, found "{strange[0]}"; use {", ".join(ZONES)}'
            faults.add("S048", ("placing", k, "zones"), text)
        asked.append(Placing(tuple(one.pieces), one.seen, zones, one.turn, k))
    gap = TOOL_GAP_MM[cutting.tool] if cutting.gap is None else cutting.gap
    apart = cutting.pair_apart, cutting.neighbours_apart
    return HidePlan(tuple(found), tuple(asked), Cutting(gap, cutting.rim, cutting.chalk, cutting.prices, *apart))


def _from_file(given: HideInput, keys: tuple[Key, ...], folder: Path, faults: Faults) -> HideInput | None:
    """A hide whose keys are in a TOML file of its own, with what the sheet says besides. Of what stands in the file
    nothing is told but its own keys, as with drawings."""
    try:
        data = tomllib.loads(read_whole(folder / str(given.file), most_bytes=LARGEST_DRAWING_BYTES).decode())
        own = HideInput.model_validate({"name": given.name, **data})
    except UnreadableError as fault:
        faults.add("S043", (*keys, "file"), f'the file of hide "{given.name}": {fault}')
        return None
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError):
        faults.add("S043", (*keys, "file"), f'the file of hide "{given.name}" is no TOML that can be read')
        return None
    except ValidationError as fault:
        known = [str(key) for key in fault.errors()[0]["loc"] if key in HideInput.model_fields]
        what = f"its {known[0]} cannot be used" if known else "it has keys that no hide has"
        faults.add("S043", (*keys, "file"), f'the file of hide "{given.name}": {what}')
        return None
    if own.file is not None:
        faults.add("S043", (*keys, "file"), f'the file of hide "{given.name}" names another file; name that one')
        return None
    said = {key: getattr(given, key) for key in given.model_fields_set - {"file", "flaw", "zone", "pin"}}
    lists: dict[str, Any] = {key: [*getattr(own, key), *getattr(given, key)] for key in ("flaw", "zone", "pin")}
    return own.model_copy(update=said | lists)


def _hide(given: HideInput, k: int, folder: Path, faults: Faults) -> Hide | None:
    keys: tuple[Key, ...] = ("hide", k)
    if given.file is not None and given.file.lower().endswith(".toml") and given.outline is None and given.area is None:
        read = _from_file(given, keys, folder, faults)
        if read is None:
            return None
        given = read
    told = [given.outline is not None, given.area is not None, given.file is not None]
    if sum(told) != 1:
        text = f'hide "{given.name}" has {sum(told)} of outline, area and file; give one'
        faults.add("S044", keys, text)
        return None
    drawn: Mapping[str, list[FloatArray]] = {}
    backbone = None if given.backbone is None else np.array(given.backbone, dtype=float)
    if given.area is not None:
        outline, usual = standard_outline(given.area)
        backbone = usual if backbone is None else backbone
    elif given.file is not None:
        drawing = _drawing(given, keys, folder, faults)
        if drawing is None:
            return None
        drawn, outline = drawing, max(drawing["outline"], key=len)
        if backbone is None and drawn.get("backbone"):
            backbone = drawn["backbone"][0][[0, -1]]
    else:
        outline = np.array(given.outline, dtype=float)
    ring = _ring(outline)
    if ring is None:
        text = f'the outline of hide "{given.name}" crosses itself or has no area; trace it once round'
        faults.add("S040", (*keys, "outline"), text)
        return None
    if not _backbone_is_good(given, backbone, ring, keys, faults):
        return None
    assert backbone is not None
    area = float(Polygon(ring).area) / 1e6
    if not LEAST_PIECE_M2 <= area <= MOST_HIDE_M2:
        asks = "is the scale of its drawing right?" if given.file is not None else "is its outline in the sheet's unit?"
        text = f'hide "{given.name}" has {area:.4g} m2; hides and what is left of them have {LEAST_PIECE_M2:g} to'
        faults.add(
            "S051", (*keys, "scale" if given.file is not None else "outline"), f"{text} {MOST_HIDE_M2:g}, {asks}"
        )
        return None
    flaws = _flaws(given, drawn, ring, keys, faults)
    bare = Hide(given.name, ring, backbone, {}, flaws, _pins(given), given.thickness, True, k, given.leather)
    zones = _drawn_zones(given, drawn, keys, faults)
    if zones:
        return Hide(given.name, ring, backbone, zones, flaws, _pins(given), given.thickness, False, k, given.leather)
    places = derived_zones(bare.along_and_off(ring))
    zones = {name: tuple(bare.from_backbone(part) for part in parts) for name, parts in places.items()}
    return Hide(given.name, ring, backbone, zones, flaws, _pins(given), given.thickness, True, k, given.leather)


def _ring(points: FloatArray) -> FloatArray | None:
    """The outline counter-clockwise, first point not repeated; None when it crosses itself or holds nothing."""
    if len(points) > 1 and np.allclose(points[0], points[-1], rtol=0.0, atol=SNAP_MM):
        points = points[:-1]
    if len(points) < 3:
        return None
    shape = Polygon(points)
    if not shape.is_valid or shape.area <= 0.0:
        return None
    return points if shape.exterior.is_ccw else points[::-1]


def _backbone_is_good(
    given: HideInput, backbone: FloatArray | None, ring: FloatArray, keys: tuple[Key, ...], faults: Faults
) -> bool:
    if backbone is None:
        what = "zones are drawn, but no backbone" if given.zone else "no backbone"
        text = f'{what} on hide "{given.name}"; give two points of it, the tail first: pieces lie along it'
        faults.add("S042", (*keys, "zone") if given.zone else keys, text)
        return False
    if float(np.hypot(*(backbone[1] - backbone[0]))) < 1.0 or not LineString(backbone).intersects(Polygon(ring)):
        text = f'the backbone of hide "{given.name}" does not run over it; give two points, the tail first'
        faults.add("S045", (*keys, "backbone"), text)
        return False
    return True


def _drawing(
    given: HideInput, keys: tuple[Key, ...], folder: Path, faults: Faults
) -> Mapping[str, list[FloatArray]] | None:
    if given.scale is None:
        text = f'no scale for the drawing of hide "{given.name}"; say how many mm one unit of it is'
        faults.add("S043", (*keys, "scale"), text)
        return None
    try:
        drawn = read_drawing(folder / str(given.file), given.scale)
    except DrawingFault as fault:
        faults.add("S043", (*keys, "file"), f'the drawing of hide "{given.name}": {fault}')
        return None
    if not drawn.get("outline"):
        text = f'the drawing of hide "{given.name}" has no line on a layer called outline'
        faults.add("S043", (*keys, "file"), text)
        return None
    return drawn


def _flaws(
    given: HideInput, drawn: Mapping[str, list[FloatArray]], ring: FloatArray, keys: tuple[Key, ...], faults: Faults
) -> tuple[Flaw, ...]:
    hide, found = Polygon(ring), []
    for j, one in enumerate(given.flaw):
        points = _flaw_points(one)
        if points is None:
            text = f'flaw {j + 1} of hide "{given.name}" is neither round (at, radius) nor drawn (points); give one'
            faults.add("S046", (*keys, "flaw", j), text)
        elif not Polygon(points).is_valid:
            faults.add("S046", (*keys, "flaw", j), f'flaw {j + 1} of hide "{given.name}" crosses itself')
        elif not hide.intersects(Polygon(points)):
            text = f'flaw {j + 1} ({one.kind}) lies outside hide "{given.name}"; measure it from the same corner'
            faults.add("S041", (*keys, "flaw", j), text)
        else:
            found.append(Flaw(one.kind, one.grade, points))
    for grade in FLAW_GRADES:
        for points in drawn.get(grade, ()):
            ring_of_it = _ring(points)
            if ring_of_it is None:
                text = (
                    f'a flaw ({grade}) in the drawing of hide "{given.name}" crosses itself or is no ring round an area'
                )
                faults.add("S046", (*keys, "file"), f"{text}; draw its chalk ring, once round")
            elif not hide.intersects(Polygon(ring_of_it)):
                text = f'a flaw ({grade}) in the drawing of hide "{given.name}" lies outside of its outline'
                faults.add("S041", (*keys, "file"), f"{text}; draw it where it is")
            else:
                found.append(Flaw(grade, grade, points))
    return tuple(found)


def _flaw_points(given: FlawInput) -> FloatArray | None:
    if (given.points is None) == (given.at is None or given.radius is None):
        return None
    if given.points is not None:
        return np.array(given.points, dtype=float)
    assert given.radius is not None
    turn = np.linspace(0.0, 2.0 * np.pi, ROUND_POINTS, endpoint=False)
    # The polygon goes round the circle, not inside it.
    radius = given.radius / float(np.cos(np.pi / ROUND_POINTS))
    return np.array(given.at) + radius * np.column_stack([np.cos(turn), np.sin(turn)])


def _drawn_zones(
    given: HideInput, drawn: Mapping[str, list[FloatArray]], keys: tuple[Key, ...], faults: Faults
) -> dict[str, tuple[FloatArray, ...]]:
    asked = [(z.name, np.array(z.points, dtype=float), (*keys, "zone", j)) for j, z in enumerate(given.zone)]
    asked += [(name, points, (*keys, "file")) for name in ZONES for points in drawn.get(name, ())]
    found: dict[str, list[FloatArray]] = {}
    for name, points, place in asked:
        if _ring(points) is None:
            text = f'the {name} of hide "{given.name}" crosses itself or has no area; trace it once round'
            faults.add("S050", place, text)
        else:
            found.setdefault(name, []).append(points)
    return {name: tuple(parts) for name, parts in found.items() if parts}


def _pins(given: HideInput) -> tuple[Pin, ...]:
    return tuple(Pin(one.piece, one.number, (one.at[0], one.at[1]), one.turn) for one in given.pin)


def plan_of_tables(whole: Any, folder: Path, faults: Faults) -> HidePlan:
    """The hides of a whole sheet as its tables have them; nothing where these could not be read."""
    if whole is None:
        return HidePlan()
    return hide_plan(whole.hide, whole.placing, whole.cutting, folder=folder, faults=faults)
