"""One pad of a sheet cut where it is asked for: the work of `trimloft section`."""

import json as text_json
from dataclasses import dataclass
from pathlib import Path

from flatten.app.cautions import CAUTIONS
from flatten.app.course import tension_of
from flatten.app.sectiondraw import cut_picture
from flatten.app.sectionfacts import cut_json, cut_text
from flatten.cardfile import card_from_sheet
from flatten.paper.gauge import gauge_pdf, gauge_svg, gauges_of
from meshes.cut import Direction
from meshes.files import write_file, write_folder
from meshes.pad import Pad
from meshes.problems import Problem, ProblemError, near_name
from meshes.proposal import Comparison, compare
from meshes.sheet import Sheet, read_sheet


@dataclass(frozen=True, eq=False)
class SheetCut:
    """A pad of a sheet and its cut."""

    sheet: Sheet
    pad: Pad
    cut: Comparison


def cut_sheet(path: str | Path, pad_name: str, *, along: float | None, across: float | None) -> SheetCut:
    """Cut a pad at one place, mm. Raises ProblemError for an unknown pad, no place or two, or one off the pad."""
    if (along is None) == (across is None):
        found = "neither" if along is None else "both"
        text = f"a section needs one of --along X and --across Y (mm), found {found}"
        raise ProblemError([Problem("C105", "section", text)])
    sheet = read_sheet(path)
    names = [pad.name for pad in sheet.pads]
    if pad_name not in names:
        near = near_name(pad_name, names)
        advice = f'did you mean "{near}"?' if near else f"pads are {', '.join(names)}"
        raise ProblemError([Problem("C106", "--pad", f'there is no pad "{pad_name}"; {advice}', str(path))])
    index = names.index(pad_name)
    direction: Direction = "across" if along is None else "along"
    place = across if along is None else along
    assert place is not None
    cut = compare(
        sheet.pads[index],
        direction,
        place,
        tension_n_per_mm=tension_of(sheet, card_from_sheet(sheet)),
        materials=sheet.materials,
        blame=lambda code, keys, text: sheet.problem(code, ("pad", index, *keys), text),
    )
    return SheetCut(sheet, sheet.pads[index], cut)


def words_of(found: SheetCut, *, json: bool) -> str:
    """The figures as lines of text or as JSON, with the cautions the work asks for."""
    if json:
        data = {"sheet": found.sheet.name, "pad": found.pad.name, **cut_json(found.cut, found.pad.layers)}
        return text_json.dumps({**data, "cautions": list(_cautions())}, indent=1, ensure_ascii=False, allow_nan=False)
    return "\n".join([cut_text(found.cut, found.pad.name, found.pad.layers), *(f"  {c}" for c in _cautions())])


def _cautions() -> tuple[str, ...]:
    """Padding is glued, and laid over springs under load."""
    return tuple(caution for caution in CAUTIONS if caution.startswith(("Springs:", "Adhesive:")))


def write_cut(found: SheetCut, out: Path) -> None:
    """Write section.png, section.json and the gauges into the folder `out`, replacing an earlier one only on success.

    Raises ProblemError when the folder cannot be written.
    """
    gauges = gauges_of(found.pad.name, found.cut)
    with write_folder(out) as folder:
        write_file(folder / "section.png", cut_picture(found.cut, found.pad))
        write_file(folder / "section.json", (words_of(found, json=True) + "\n").encode())
        write_file(folder / "gauges.pdf", gauge_pdf(gauges))
        for gauge in gauges:
            write_file(folder / f"gauge-{gauge.key}.svg", gauge_svg(gauge))
