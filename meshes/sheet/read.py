"""The measurement sheet: read from TOML, checked as a whole, handed on as frozen records in millimetres.

`read_sheet` reports every fault of a sheet at once, each with its line, in the order of the file. What it
returns has been checked for meaning: outlines that close without crossing, profiles in order and on the pad,
seams above the tack line.
"""

import hashlib
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from meshes.base.problems import KeyPath, ProblemError, in_file_order
from meshes.base.units import Unit
from meshes.fitting.notes import FitNote
from meshes.fitting.reading import fit_notes
from meshes.fitting.strip_rows import strip_tests
from meshes.fitting.strips import StripTest
from meshes.hides.reading import plan_of_tables
from meshes.records.coverings import SELVEDGES_MM, CoveringChoice, RollGoods
from meshes.records.materials import BUILT_IN, Material, built_in
from meshes.records.pad import KINDS, Pad, SeatPose, Wanted
from meshes.records.seam_kinds import SewnAs
from meshes.schema.cover_tables import RollInput
from meshes.schema.lines import toml_lines
from meshes.schema.support import continues_record
from meshes.schema.tables import ControlInput, SheetInput
from meshes.schema.toml_text import parsed, text_of
from meshes.schema.words import Faults, SheetPlaces, reword_all
from meshes.sheet.block_checks import as_blocks, check_blocks
from meshes.sheet.board_checks import check_boards
from meshes.sheet.checks import check_continues, check_pads, check_sheet, check_stock
from meshes.sheet.frame_parts import check_folds
from meshes.sheet.materials import own_materials, with_stock
from meshes.sheet.part_reader import PartReader, usual_words
from meshes.sheet.parts import PadDraft, draft, pad_record
from meshes.sheet.pleat_checks import check_pleats
from meshes.sheet.support_checks import check_closed, check_curves, check_fixings, check_support
from meshes.sheet.whole import (
    ALLOWANCE_BY_UNIT,
    OUTPUT_BY_UNIT,
    USUAL_LEATHER,
    CardEntry,
    Control,
    Ease,
    LeatherChoice,
    ReliefCut,
    Sheet,
)


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
    given = raw
    raw = _in_usual_words(raw, faults)
    whole = _held_against_models(raw, faults, unit)
    reader = PartReader(faults, unit)
    drafts = [draft(pad, ("pad", k), reader) for k, pad in enumerate(_list_of(raw, "pad")) if isinstance(pad, dict)]
    own = own_materials(raw, reader)
    foam = {name for name, one in {**BUILT_IN, **own}.items() if one.foam}
    drafts = as_blocks(drafts, foam, faults)
    check_sheet(raw, reader)
    names = set(BUILT_IN) | set(own) | set(_dict_of(raw, "material"))
    check_stock(raw, names, faults)
    check_pads(drafts, names, faults)
    check_blocks(drafts, {*foam, *(names - set(BUILT_IN) - set(own))}, faults)
    check_closed(drafts, names, faults)
    check_boards(drafts, faults)
    check_pleats(drafts, names, faults)
    for drawn in drafts:
        check_folds(drawn.folds, drawn.sides, drawn.keys, faults)
    check_fixings(drafts, faults)
    check_curves(raw, reader)
    check_continues(drafts, reader)
    check_support(drafts, reader, slack=whole is not None and whole.cover.tension == 0.0)
    hides = plan_of_tables(whole, path.parent, faults)
    fits: tuple[FitNote, ...] = () if whole is None else fit_notes(whole.fit, faults)
    strips: tuple[StripTest, ...] = () if whole is None else strip_tests(whole.strip, faults)
    found = in_file_order(faults.problems)
    errors = [problem for problem in found if not problem.warning]
    if errors or whole is None:
        raise ProblemError(errors)
    materials = with_stock({**built_in(unit), **own}, own, whole.stock)
    sheet = _sheet(whole, drafts, materials, faults, path, unit)
    kept = given if sheet.controls else {}
    return replace(sheet, revision=revision, hides=hides, fits=fits, strips=strips, tables=kept)


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
        allowance=replace(ALLOWANCE_BY_UNIT[unit], **whole.allowance.model_dump(exclude_unset=True)),
        output=replace(OUTPUT_BY_UNIT[unit], **whole.output.model_dump(exclude_unset=True)),
        materials=materials,
        warnings=in_file_order(faults.problems),
        places=faults.places,
        cuts=tuple(ReliefCut(cut.panel, cut.apply) for cut in whole.relief),
        seams=tuple(SewnAs(s.seam, s.kind, s.over, s.turned, s.allowance) for s in whole.seam),
        coverings=tuple(CoveringChoice(tuple(c.panels), c.leather, _roll(c.roll)) for c in whole.covering),
        roll=_roll(whole.cover.roll),
        controls=tuple(_control(c, pads) for c in whole.control),
        eases=tuple(Ease(ease.seam, ease.longer, ease.by) for ease in whole.ease),
    )


def _control(given: ControlInput, pads: Sequence[Pad]) -> Control:
    """A tape; one over a pad without tack lines ends at edges where the sheet does not say."""
    framed = all(pad.on_frame for pad in pads if pad.name == given.pad)
    ends = given.ends or ("tack lines" if framed else "edges")
    return Control(**{**given.model_dump(), "below": given.below or 0.0, "ends": ends})


def _roll(given: RollInput | None) -> RollGoods | None:
    if given is None:
        return None
    return RollGoods(given.width, given.width - SELVEDGES_MM if given.usable is None else given.usable)
