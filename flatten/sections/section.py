"""The work of `trimloft section`: a pad cut open at one place, as text, JSON and a folder with drawing and gauges."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from flatten.draw.imprint import imprint_of
from flatten.job.pads import built_pads
from flatten.job.tension import agreed
from flatten.leather.card_file import card_from_sheet
from flatten.machine.workers import Workers, worker_pool
from flatten.paper.cautions import cautions_for
from flatten.paper.dxf import patterns_dxf
from flatten.paper.pdf import patterns_pdf
from flatten.paper.svg import patterns_svg
from flatten.paper.wording import GAUGES
from flatten.pieces.piece import Piece
from flatten.sections.drawing import section_drawing
from flatten.sections.gauges import gauges_of
from meshes.base.problems import Problem, ProblemError, near_name, one_of, plain
from meshes.base.progress import Progress, unheard
from meshes.base.units import in_shop_unit, parse_length
from meshes.folder.manifest import DamagedError, small_json
from meshes.folder.output import OutputFolder, Writer
from meshes.folder.report_head import json_text, report_head
from meshes.seat.build import in_pad
from meshes.settle.proposal import Comparison, compare
from meshes.settle.section import THIN_MM, Section
from meshes.settle.section_line import Cut, Direction, section_line
from meshes.sheet.read import read_sheet
from meshes.sheet.whole import Sheet

_FIGURES = "section.json"
SECTION = Writer(
    "section",
    "trimloft section",
    ("section.svg", "section.png", "section.json", "gauges.pdf", "gauges.svg", "gauges.dxf", "cautions.txt"),
)


@dataclass(frozen=True, eq=False)
class PadCut:
    """A pad of a sheet cut at one place."""

    sheet: Sheet
    pad: str
    tension_n_per_mm: float
    cut: Comparison

    @property
    def gauges(self) -> tuple[Piece, ...]:
        """Section gauges: of the padding proposed where some is, else of the padding in the sheet."""
        if self.cut.proposal is not None:
            return gauges_of(self.pad, self.cut.proposal.after, "the padding proposed")
        return gauges_of(self.pad, self.cut.padded, "as the sheet pads it")


def cut_pad(
    sheet_path: Path,
    pad: str,
    *,
    along: float | str | None,
    across: float | str | None,
    progress: Progress | None = None,
    workers: Workers = 2,
) -> PadCut:
    """Cut a pad along (x given) or across (y given), a number in mm or text as lengths stand in the sheet: "3 in".

    Raises ProblemError for what there is not.
    """
    if (along is None) == (across is None):
        text = "give --along with a place across the pad, or --across with a place along it, one of the two"
        raise ProblemError([Problem("C105", "section", text)])
    direction: Direction = "along" if along is not None else "across"
    given = along if along is not None else across
    assert given is not None
    return cut_sheet(read_sheet(sheet_path), pad, (direction, given), progress=progress, workers=workers)


def cut_sheet(
    sheet: Sheet,
    pad: str,
    where: tuple[Direction, float | str],
    *,
    progress: Progress | None = None,
    workers: Workers = 2,
) -> PadCut:
    """The same of a sheet at hand. where: which way, and at which place."""
    say = progress or unheard
    names = [one.name for one in sheet.pads]
    if pad not in names:
        near = near_name(pad, names)
        advice = f'did you mean "{near}"?' if near else f"pads are {one_of(names)}"
        raise ProblemError([Problem("C106", "--pad", f'there is no pad "{pad}"; {advice}')])
    if not sheet.pads[names.index(pad)].on_frame:
        what = "a flat board" if sheet.pads[names.index(pad)].board else "a closed cover"
        text = f'pad "{pad}" is {what}, and only pads on a frame are cut open; check tells its figures'
        raise ProblemError([Problem("C109", "--pad", text)])
    index = names.index(pad)
    direction, given = where
    cut, make_problem = Cut(direction, _place_of(given, direction, sheet)), partial(_problem, sheet, index)
    # A cut that cannot be made is refused before the seat is settled.
    section_line(sheet.pads[index], cut, materials=sheet.materials, make_problem=make_problem)
    # The seat itself, settled at what its pieces pull with: in hollows the cover across the cut decides.
    with worker_pool(workers) as pool:
        asked = agreed(sheet, card_from_sheet(sheet), pool.map, say)
        built = built_pads(sheet, asked.tensions, pool.map, say, sections=False, begin=asked.begin)[index]
    tension = 0.0 if built.rest is None else built.rest.tension_n_per_mm
    say("cutting the pad open", 0, 0)
    made = compare(
        sheet.pads[index],
        cut,
        tension_n_per_mm=tension,
        materials=sheet.materials,
        make_problem=make_problem,
        alignment=built.alignment,
    )
    if built.rest is not None:
        made = in_pad(made, built, materials=sheet.materials, make_problem=make_problem)
    return PadCut(sheet, pad, tension, made)


def _problem(sheet: Sheet, index: int, code: str, keys: Sequence[str | int], text: str) -> Problem:
    return sheet.problem(code, ("pad", index, *keys), text)


def _place_of(given: float | str, direction: Direction, sheet: Sheet) -> float:
    """Where to cut, mm. Raises ProblemError for text that is no length."""
    if not isinstance(given, str):
        return given
    try:
        return parse_length(given, unit=sheet.unit)
    except ValueError as fault:
        raise ProblemError([Problem("C107", f"--{direction}", f'"{given}" {fault}')]) from None


def section_dict(cut: Comparison) -> dict[str, Any]:
    """The figures of a cut: the keys that reports have too. Radii beyond 10 m are told as null."""
    return {
        "name": cut.name,
        "ridge_radius_bare_mm": _radius(cut.ridge_radius_bare_mm),
        "ridge_radius_mm": _radius(cut.ridge_radius_mm),
        "hard_line_deg": round(cut.ridge.hard_line_deg, 3),
        "lifts": [{"at": [round(x, 2) for x in lift.at], "gap_mm": round(lift.gap_mm, 3)} for lift in cut.lifts],
        "side": cut.ridge.side,
        "hard_line_bare_deg": round(cut.ridge_bare.hard_line_deg, 3),
        "proposal": _proposal(cut),
    }


def _radius(value: float) -> float | None:
    return round(value, 3) if np.isfinite(value) and value < 10_000 else None


def _proposal(cut: Comparison) -> dict[str, Any] | None:
    made = cut.proposal
    if made is None:
        return None
    return {
        "side": made.side,
        "wanted_radius_mm": made.wanted_mm,
        "reached": made.reached,
        "ridge_radius_mm": _radius(made.ridge.radius_mm),
        "hard_line_deg": round(made.ridge.hard_line_deg, 3),
        "cloth": made.cloth,
        "foam_compression_max": None if made.crushed is None else round(made.crushed[1], 6),
        "layers": [
            {
                "material": one.material,
                "thickness_mm": one.thickness,
                "where": one.where,
                "within_mm": one.within,
                "taper_mm": one.taper,
            }
            for one in made.layers
        ],
        "text": made.text,
    }


def section_json(found: PadCut) -> str:
    """The cut as JSON text: figures and lines, mm."""
    lines = {
        name: {
            "support": _points(one.support),
            "free": _points(one.free),
            "cover": _points(one.cover),
            "layers_before": [_points(top) for top in one.before],
            "layers_after": [_points(top) for top in one.after],
        }
        for name, one in _shown(found.cut)
    }
    whole = {
        **report_head(),
        "sheet": found.sheet.name,
        "pad": found.pad,
        "section": section_dict(found.cut),
        "lines": lines,
    }
    return json_text(whole)


def _points(points: np.ndarray[Any, Any]) -> list[list[float]]:
    return [[float(x), float(y)] for x, y in np.round(points, 3)]


def _shown(cut: Comparison) -> list[tuple[str, Section]]:
    shown = [("bare", cut.bare), ("padded", cut.padded)]
    made = cut.proposal
    return [*shown, ("proposed", made.after)] if made is not None and (made.layers or made.cloth) else shown


def section_text(found: PadCut) -> str:
    """The figures as lines of plain text."""
    lines = [f"{found.pad}, cut {found.cut.name} mm, cover pulled with {1000 * found.tension_n_per_mm:.0f} N/m"]
    words = {
        "bare": "as measured, first layer only",
        "padded": "as the sheet pads it",
        "proposed": "with what is proposed",
    }
    sprung = any(pad.name == found.pad and pad.springs is not None for pad in found.sheet.pads)
    for name, one in _shown(found.cut):
        ridge = one.ridge
        radius = f"{ridge.radius_mm:.0f} mm" if np.isfinite(ridge.radius_mm) else "straight"
        lines.append(
            f"  {words[name]:<32} {ridge.side:<8} radius {radius:>8}   hard line {ridge.hard_line_deg:4.1f} deg"
        )
        if one.settled is not None:
            before = one.thickness_mm.max(axis=1)
            strain = one.settled.compression.max(axis=0)
            # Layers that do not reach this cut are not there to be crushed.
            there = [pair for pair in zip(before, strain, strict=False) if pair[0] > THIN_MM]
            layers = ", ".join(f"{thick:.0f} mm by {100 * s:.0f} %" for thick, s in there) or "none lie here"
            gone_down = f"; springs down {one.settled.spring_mm.max():.1f} mm" if sprung else ""
            lines.append(f"  {'':<32} layers crushed at most: {layers}{gone_down}")
    lines += [
        f"  lifts off the padding by {lift.gap_mm:.1f} mm at {lift.at[0]:.0f}: a tie-down or a seam belongs there"
        for lift in found.cut.lifts
    ]
    if found.cut.proposal is not None:
        lines.append(f"  proposed: {found.cut.proposal.text}")
    return "\n".join(in_shop_unit(line, unit=found.sheet.unit) for line in lines)


def write_section(found: PadCut, folder: OutputFolder) -> tuple[Problem, ...]:
    """Write section.svg, section.png, section.json and full-size gauges; returns warnings about the folder."""
    pad = next(pad for pad in found.sheet.pads if pad.name == found.pad)
    drawing = section_drawing(pad, found.cut, found.sheet.unit)
    files = {
        "section.svg": drawing.svg().encode(),
        "section.png": drawing.png(),
        "cautions.txt": ("\n".join(str(one) for one in cautions_for(found.sheet)) + "\n").encode(),
        **gauge_papers(found),
    }
    files["section.json"] = section_json(found).encode()
    other = _replaced(found, folder)
    return (*folder.write(files), *other)


def _replaced(found: PadCut, folder: OutputFolder) -> tuple[Problem, ...]:
    """A warning where the folder holds our section of another place, which this one takes the place of."""
    if folder.owner(_FIGURES) != SECTION.key:
        return ()
    try:
        data = small_json(folder.place / _FIGURES)
        pad, name = str(data["pad"]), str(data["section"]["name"])
    except (DamagedError, KeyError, TypeError):
        return ()
    if (pad, name) == (found.pad, found.cut.name):
        return ()
    was = in_shop_unit(f"{pad}, {name} mm", unit=found.sheet.unit)
    text = f"the section of {plain(was)} that lay here is replaced; to keep several, give each a folder of its own"
    return (Problem("P011", "", text, folder.shown, warning=True),)


def gauge_papers(found: PadCut) -> dict[str, bytes]:
    """Full-size section gauges as papers by file name; none where the cut has no edge to gauge."""
    gauges, choices = found.gauges, found.sheet.output
    if not gauges:
        return {}
    imprint = imprint_of(found.sheet)
    roll: dict[str, Any] = {"roll_width_mm": choices.roll_width, "imprint": imprint}
    return {
        "gauges.pdf": patterns_pdf(
            gauges, page=choices.page, overlap_mm=choices.overlap, wording=GAUGES, imprint=imprint
        ),
        "gauges.svg": patterns_svg(gauges, wording=GAUGES, **roll),
        "gauges.dxf": patterns_dxf(gauges, version=choices.dxf, **roll),
    }
