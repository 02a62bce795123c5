"""The coverings a sheet names, held against the panels that its pads have.

A name holds for a panel, for its mirror image, since both are cut from one drawing, and for the parts that a cut makes
of it. The last table that names a panel counts, a name of a panel before a word for many.
"""

from collections.abc import Iterator, Mapping, Sequence, Set

from flatten.coverings.covering import Covering, Coverings
from flatten.leather.card import Card, card_named
from flatten.leather.card_file import find_card
from meshes.base.problems import Problem, ProblemError, near_name
from meshes.records.coverings import BANDS, FACES, FLIES, GROUPS, HIDDEN, WELT, RollGoods
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel, PanelRole
from meshes.sheet.whole import Sheet

# Flies are cut from this unless the sheet names something else.
FLY_CARD = "cloth"


def other_coverings(sheet: Sheet) -> tuple[Covering, ...]:
    """What the sheet names beside its leather, in the order of its tables. Raises ProblemError with file and line."""
    found, faults = [], []
    for k, choice in enumerate(sheet.coverings):
        try:
            found.append(Covering(find_card(choice.leather, beside=sheet.path.parent), choice.roll))
        except ProblemError as fault:
            place = ("covering", k, "leather")
            faults += [p if p.file else sheet.problem(p.code, place, p.text) for p in fault.problems]
    if faults:
        raise ProblemError(faults)
    return tuple(found)


def coverings_of(sheet: Sheet, leather: Card, pads: Sequence[BuiltPad]) -> Coverings:
    """What every panel of the pads is cut from. Raises ProblemError for a card there is not."""
    main = Covering(leather, sheet.roll)
    panels = [panel for pad in pads for panel in pad.panels]
    cloth = Covering(card_named(FLY_CARD), RollGoods())
    flies = {panel.name: cloth for panel in panels if panel.role is PanelRole.FLY}
    if not sheet.coverings:
        return Coverings(main, flies)
    bottoms = {pad.pad.name for pad in pads if _is_bottom(pad)}
    twins = {panel.mirror_of: panel.name for panel in panels if panel.mirror_of is not None}
    others, welt = other_coverings(sheet), None
    by_word: dict[str, Covering] = {}
    by_name: dict[str, Covering] = {}
    for choice, covering in zip(sheet.coverings, others, strict=True):
        welt = covering if WELT in choice.panels else welt
        for panel in panels:
            if any(_in_group(panel, word, bottoms) for word in choice.panels):
                by_word[panel.name] = covering
            if any(_means(name, panel, twins) for name in choice.panels if name not in GROUPS):
                by_name[panel.name] = covering
    return Coverings(main, flies | by_word | by_name, welt)


def _is_bottom(pad: BuiltPad) -> bool:
    """Whether a pad is a flat panel that lies under a seat."""
    return pad.pad.closed is not None and not pad.pad.closed.filled and pad.pad.kind == "cushion"


def _in_group(panel: Panel, word: str, bottoms: Set[str]) -> bool:
    """Whether a word for many panels means one; bottoms: names of the pads that lie under a seat."""
    if word in (BANDS, FLIES):
        return panel.role is (PanelRole.BAND if word == BANDS else PanelRole.FLY)
    if word == HIDDEN:
        return panel.role is PanelRole.FLY or panel.pad in bottoms
    return word == FACES and panel.role not in (PanelRole.BAND, PanelRole.FLY)


def _means(name: str, panel: Panel, twins: Mapping[str, str]) -> bool:
    own = (panel.name, panel.mirror_of or twins.get(panel.name, panel.name))
    return any(one == name or one.startswith(f"{name} ") for one in own)


def covering_faults(sheet: Sheet, pads: Sequence[BuiltPad]) -> Iterator[Problem]:
    """Names under [[covering]] that no panel has, and rolls of which more is usable than there is."""
    rolls = [(("covering", k, "roll"), choice.roll) for k, choice in enumerate(sheet.coverings)]
    for keys, roll in ((("cover", "roll"), sheet.roll), *rolls):
        if roll is not None and roll.usable_mm > roll.width_mm:
            text = f"{roll.usable_mm:g} mm is usable of a roll {roll.width_mm:g} mm wide; measure between the selvedges"
            yield sheet.problem("F307", keys, text)
    panels = [panel for pad in pads for panel in pad.panels]
    twins = {panel.mirror_of: panel.name for panel in panels if panel.mirror_of is not None}
    for k, choice in enumerate(sheet.coverings):
        for name in choice.panels:
            if name in GROUPS or any(_means(name, panel, twins) for panel in panels):
                continue
            known = [panel.name for panel in panels]
            near = near_name(name, known)
            advice = f'did you mean "{near}"?' if near else f"write {', '.join(GROUPS)}, or of {', '.join(known)}"
            text = f'there is no panel "{name}"; {advice}'
            yield sheet.problem("F306", ("covering", k, "panels"), text)
