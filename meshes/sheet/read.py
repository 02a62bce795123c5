"""The measurement sheet: read from TOML, checked as a whole, handed on as frozen records in millimetres.

`read_sheet` reports every fault of a sheet at once, each with its line, in the order of the file. What it
returns has been checked for meaning: outlines that close without crossing, profiles in order and on the pad,
seams above the tack line.
"""

import hashlib
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Literal

import numpy as np
from pydantic import ValidationError

from meshes.base.frozen_map import FrozenMap
from meshes.base.problems import Key, KeyPath, Problem, ProblemError, in_file_order
from meshes.base.units import Unit
from meshes.records.compression import CurveError, curve
from meshes.records.materials import BUILT_IN, STRAINS, Material
from meshes.records.pad import KINDS, Pad, SeatPose, Wanted
from meshes.records.seam_kinds import SewnAs
from meshes.schema.continues import continues_record
from meshes.schema.lines import toml_lines
from meshes.schema.tables import ALL_FOAM, MaterialInput, SheetInput
from meshes.schema.toml_text import parsed, text_of
from meshes.schema.words import Faults, SheetPlaces, reword_all
from meshes.sheet.checks import check_pads, check_sheet, check_stock
from meshes.sheet.continue_checks import check_continues
from meshes.sheet.parts import PadDraft, PartReader, draft, pad_record, usual_words
from meshes.sheet.pleat_checks import check_pleats
from meshes.sheet.support_checks import check_curves, check_support

# The card used when the sheet names none.
USUAL_LEATHER = "furniture"


@dataclass(frozen=True)
class CardEntry:
    """The shop's own leather: thickness mm; stretch and pull as fractions (0.06 is 6 %); stiffness N/mm, None where
    it was not measured; source: one text for all numbers, or one for each."""

    name: str
    thickness: float
    stretch_along: float
    stretch_across: float
    pull: float
    source: str | Mapping[str, str] = ""
    stiffness_along: float | None = None
    stiffness_across: float | None = None


@dataclass(frozen=True)
class LeatherChoice:
    """The leather: the name of a built-in card or of a file of cards, or the shop's own numbers; grain_window_deg: how
    far a piece may lie off the backbone; tension: of the fitted cover in N/m, None to have it follow from the
    leather."""

    leather: str | None = USUAL_LEATHER
    card: CardEntry | None = None
    grain_window_deg: float = 0.0
    tension: float | None = None


@dataclass(frozen=True)
class Ease:
    """Fullness to be worked into a seam: the panel whose edge is cut longer, and by what share (0.01 is 1 %)."""

    seam: str
    longer: str
    by: float


@dataclass(frozen=True)
class ReliefCut:
    """A dart or seam to be made: the panel, and which of the proposals for it, counted from 1."""

    panel: str
    apply: int


@dataclass(frozen=True)
class Allowance:
    """Allowances by kind of edge, corner style and notch spacing, mm; foam: by how much foam is cut larger than the
    pad."""

    sewn: float = 12.0
    welted: float = 12.0
    pulled: float = 50.0
    closed: float = 25.0
    corner: Literal["square", "round", "mitre"] = "square"
    notch_spacing: float = 120.0
    foam: float = 12.7


@dataclass(frozen=True)
class Output:
    """Paper, file and computing choices; lengths in mm."""

    page: Literal["a4", "letter", "a3"] = "a4"
    overlap: float = 10.0
    roll_width: float = 914.0
    dxf: Literal["R2000", "R12"] = "R2000"
    mesh: float = 6.0


@dataclass(frozen=True)
class Sheet:
    """A whole measurement sheet. materials: built-in ones and the sheet's own by name; warnings: what was
    found worth knowing while reading; revision: a mark that changes with any value of the sheet, and with nothing else.
    """

    name: str
    unit: Unit
    path: Path
    pads: tuple[Pad, ...]
    cover: LeatherChoice = LeatherChoice()
    allowance: Allowance = Allowance()
    output: Output = Output()
    materials: Mapping[str, Material] = field(default_factory=lambda: BUILT_IN)
    warnings: tuple[Problem, ...] = ()
    places: SheetPlaces = field(default_factory=lambda: SheetPlaces("", {}), repr=False)
    cuts: tuple[ReliefCut, ...] = ()
    eases: tuple[Ease, ...] = ()
    seams: tuple[SewnAs, ...] = ()
    revision: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "materials", FrozenMap(self.materials))

    def line_of(self, *keys: Key) -> int | None:
        """Line of a key such as ("pad", 0, "profile", 1, "points"), or of the nearest table above it in the
        file.
        """
        return self.places.line_of(*keys)

    def problem(self, code: str, keys: Sequence[Key], text: str, warning: bool = False) -> Problem:
        """A problem at a place of this sheet, with its words, file and line."""
        return self.places.problem(code, keys, text, warning=warning)


def read_sheet(path: str | Path) -> Sheet:
    """Read and check a measurement sheet.

    Raises ProblemError with every fault of the sheet, in the order of the file.
    """
    path = Path(path)
    text = text_of(path)
    return sheet_of_tables(parsed(text, str(path)), path, lines=toml_lines(text))


def sheet_of_tables(raw: dict[str, Any], path: Path, *, lines: Mapping[KeyPath, int] | None = None) -> Sheet:
    """Check the tables of a sheet as its TOML text has them; lines: where they stand in the file at `path`.

    Raises ProblemError with every fault of the sheet, in the order of the file.
    """
    faults = Faults(SheetPlaces(str(path), lines or {}, _pads_of(raw)))
    unit: Unit = "in" if raw.get("unit") == "in" else "mm"
    revision = revision_of(raw)
    raw = _in_usual_words(raw, faults)
    whole = _held_against_models(raw, faults, unit)
    reader = PartReader(faults, unit)
    drafts = [draft(pad, ("pad", k), reader) for k, pad in enumerate(_list_of(raw, "pad")) if isinstance(pad, dict)]
    own = _own_materials(raw, reader)
    check_sheet(raw, reader)
    names = set(BUILT_IN) | set(own) | set(_dict_of(raw, "material"))
    check_stock(raw, names, faults)
    check_pads(drafts, names, faults)
    check_pleats(drafts, names, faults)
    check_curves(raw, reader)
    check_continues(drafts, reader)
    check_support(drafts, reader, slack=whole is not None and whole.cover.tension == 0.0)
    found = in_file_order(faults.problems)
    errors = [problem for problem in found if not problem.warning]
    if errors or whole is None:
        raise ProblemError(errors)
    materials = with_stock({**BUILT_IN, **own}, own, whole.stock)
    return replace(_sheet(whole, drafts, materials, faults, path, unit), revision=revision)


def revision_of(raw: Mapping[str, Any]) -> str:
    """Six hexadecimal digits of the SHA-256 of a sheet's values; comments and the order of keys do not count."""
    return hashlib.sha256(json.dumps(_digestible(raw), sort_keys=True, default=str).encode()).hexdigest()[:6]


def _digestible(value: Any) -> Any:
    """A value without whole numbers that are too long to be written out in tens; those are refused elsewhere."""
    if isinstance(value, dict):
        return {key: _digestible(one) for key, one in value.items()}
    if isinstance(value, list):
        return [_digestible(one) for one in value]
    return hex(value) if isinstance(value, int) and value.bit_length() > 64 else value


def _list_of(raw: Mapping[str, Any], key: str) -> list[Any]:
    return raw[key] if isinstance(raw.get(key), list) else []


def _dict_of(raw: Mapping[str, Any], key: str) -> dict[str, Any]:
    return raw[key] if isinstance(raw.get(key), dict) else {}


def _pads_of(raw: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    """Name and kind of every pad as far as they can be read."""
    pads = [pad if isinstance(pad, dict) else {} for pad in _list_of(raw, "pad")]
    return tuple(
        (
            re.sub(r"\s+", " ", pad["name"])[:60] if isinstance(pad.get("name"), str) else "",
            pad["kind"] if pad.get("kind") in KINDS else "cushion",
        )
        for pad in pads
    )


def _in_usual_words(raw: dict[str, Any], faults: Faults) -> dict[str, Any]:
    if not isinstance(raw.get("pad"), list):
        return raw
    pads = [usual_words(pad, ("pad", k), faults) if isinstance(pad, dict) else pad for k, pad in enumerate(raw["pad"])]
    return {**raw, "pad": pads}


def _held_against_models(raw: dict[str, Any], faults: Faults, unit: Unit) -> SheetInput | None:
    try:
        return SheetInput.model_validate(raw, context={"unit": unit})
    except ValidationError as found:
        reword_all(found, faults, SheetInput)
        return None


def _own_materials(raw: Mapping[str, Any], reader: PartReader) -> dict[str, Material]:
    own = {}
    for name, table in _dict_of(raw, "material").items():
        given = reader.table(MaterialInput, table, ("material", name))
        if given is not None:
            source = given.source or "the sheet"
            points = tuple((row[0], row[1]) for row in given.compression or () if row[0] > 0)
            kpa = given.compression_kpa or _usual_three(points)
            own[name] = Material(
                name, given.density, kpa, given.thickness, source, compression=points, foam=given.kind == "foam"
            )
    return own


def with_stock(
    materials: Mapping[str, Material], own: Mapping[str, Material], stock: Mapping[str, tuple[float, ...]]
) -> dict[str, Material]:
    """The materials with the sheets the shop has of them: those named for one, else its own thickness, else those named
    for all foam."""
    found = {}
    for name, one in materials.items():
        stated = name in own and one.thickness_mm is not None
        general = stock.get(ALL_FOAM, ()) if one.foam and not stated else ()
        found[name] = replace(one, stock_mm=stock.get(name, general))
    return found


def _usual_three(table: Sequence[tuple[float, float]]) -> tuple[float, float, float]:
    """Pressures at the three usual strains, read off a full table; its faults are told elsewhere."""
    try:
        low, middle, high = curve(table).pressure(np.array(STRAINS))
    except CurveError:
        return 0.0, 0.0, 0.0
    return float(low), float(middle), float(high)


def _with_foam(pad: Pad, materials: Mapping[str, Material]) -> Pad:
    """The pad, with how stiff the foam in its pleats is."""
    if pad.pleats is None:
        return pad
    kpa = materials[pad.pleats.filling.foam].compression_kpa[0]
    return replace(pad, pleats=replace(pad.pleats, filling=replace(pad.pleats.filling, foam_kpa=kpa)))


def _with_leaders(pads: Sequence[Pad]) -> tuple[Pad, ...]:
    """The pads, with those whose valleys others follow at hand."""
    named = {pad.name: pad for pad in pads}
    return tuple(
        replace(pad, wanted=replace(pad.wanted, leader=named[pad.pleats.lines_up_with]))
        if pad.pleats and pad.pleats.lines_up_with
        else pad
        for pad in pads
    )


def _sheet(
    whole: SheetInput,
    drafts: Sequence[PadDraft],
    materials: Mapping[str, Material],
    faults: Faults,
    path: Path,
    unit: Unit,
) -> Sheet:
    """The sheet without a fault; what `faults` holds are warnings."""
    pads = [
        pad_record(
            draft,
            SeatPose(given.origin, given.rake, given.facing),
            Wanted(given.wanted_radius, given.finished_height, continues_record(given.continues)),
        )
        for draft, given in zip(drafts, whole.pad, strict=True)
    ]
    card = None if whole.cover.card is None else CardEntry(**whole.cover.card.model_dump())
    leather = None if card is not None else whole.cover.leather or USUAL_LEATHER
    return Sheet(
        name=whole.name,
        unit=unit,
        path=path,
        pads=_with_leaders([_with_foam(pad, materials) for pad in pads]),
        cover=LeatherChoice(leather, card, whole.cover.grain_window, whole.cover.tension),
        allowance=Allowance(**whole.allowance.model_dump()),
        output=Output(**whole.output.model_dump()),
        materials=materials,
        warnings=in_file_order(faults.problems),
        places=faults.places,
        cuts=tuple(ReliefCut(cut.panel, cut.apply) for cut in whole.relief),
        seams=tuple(SewnAs(s.seam, s.kind, s.over, s.turned, s.allowance) for s in whole.seam),
        eases=tuple(Ease(ease.seam, ease.longer, ease.by) for ease in whole.ease),
    )
