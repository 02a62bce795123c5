"""What a sheet says of panels and seams by name, held against those that its pads have.

Names come from pads and what is on them, so two pads can come to call their panels alike; a sheet that speaks of one
seam twice, or of one and its mirror image, says two things of the same edge.
"""

from collections.abc import Iterable, Mapping, Sequence

from meshes.base.problems import Problem, ProblemError
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel
from meshes.seat.seam_sides import likeness
from meshes.sheet.whole import Sheet
from meshes.tapes.told import tape_faults


def check_built(sheet: Sheet, pads: Sequence[BuiltPad]) -> None:
    """Hold the sheet against its pads as built. Raises ProblemError for names used twice, seams eased twice, and tapes
    that cannot be laid."""
    faults = _one_name_each(sheet, pads)
    if not faults:
        faults = eased_twice(sheet, {panel.name: panel for pad in pads for panel in pad.panels})
    faults += tape_faults(sheet)
    if faults:
        raise ProblemError(faults)


def _one_name_each(sheet: Sheet, pads: Sequence[BuiltPad]) -> list[Problem]:
    """Every panel has a name of its own, in capitals or not: names become file names."""
    faults = []
    taken: dict[str, int] = {}
    for k, pad in enumerate(pads):
        clash = _first(panel.name for panel in pad.panels if taken.get(panel.name.casefold(), k) != k)
        if clash is not None:
            other = pads[taken[clash.casefold()]].pad.name
            text = f'its panel "{clash}" has the same name as one of pad "{other}"; call one of the two pads otherwise'
            faults.append(sheet.problem("S028", ("pad", k, "name"), text))
        taken.update((panel.name.casefold(), k) for panel in pad.panels)
    return faults


def _first(names: Iterable[str]) -> str | None:
    return next(iter(names), None)


def eased_twice(sheet: Sheet, panels: Mapping[str, Panel]) -> list[Problem]:
    """Rows of ease for a seam that an earlier row has eased already, by its own name or by that of its mirror image."""
    faults = []
    seen: dict[frozenset[tuple[str, tuple[int, ...]]], int] = {}
    for k, ease in enumerate(sheet.eases):
        run = likeness(ease.seam, panels)
        first = seen.setdefault(run, k) if run else k
        if first != k:
            other = sheet.eases[first].seam
            what = "the same seam" if other == ease.seam else f'the mirror image of "{other}"'
            row = f"row {first + 1} (line {sheet.line_of('ease', first)})"
            text = f"eases {what}, which {row} does already; ease holds for both, keep one of the two rows"
            faults.append(sheet.problem("F304", ("ease", k, "seam"), text))
    return faults
