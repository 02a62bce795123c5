"""Tapes of a sheet held against what is computed: rows that cannot be laid, differences, what would explain them."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from meshes.base.files import number
from meshes.base.problems import Problem, ProblemError, near_name
from meshes.records.pad import Pad
from meshes.seat.build import BuiltPad
from meshes.sheet.whole import Control, Sheet
from meshes.tapes.course import chart_of, tape_length, tape_points
from meshes.tapes.covered import covered_length
from meshes.tapes.explain import Explanation, Taped, explained
from meshes.tapes.loose import loose_length, why_not

# Keys that a way has to have, and others that it may have.
_NEEDS = {"along": ("at",), "across": ("at",), "round": (), "between": ("start", "end")}
_MAY = {"along": ("ends",), "across": ("ends",), "round": ("below",), "between": ()}
_ALL = ("at", "start", "end", "below", "ends")
# So many numbers are named that would explain the tapes.
MOST_NAMED = 3


@dataclass(frozen=True)
class Tapes:
    """All tapes of a sheet and the numbers that would explain them, the best first; none where tape and seat agree."""

    taped: tuple[Taped, ...] = ()
    explained: tuple[Explanation, ...] = ()


NO_TAPES = Tapes()


def tape_faults(sheet: Sheet) -> list[Problem]:
    """Rows about a pad that there is not or that cannot be taped so, with keys missing or too many, or with two
    readings of one tape."""
    pads = {pad.name: pad for pad in sheet.pads}
    rows = sheet.tables.get("control", ())
    faults: list[Problem] = []
    for k, control in enumerate(sheet.controls):
        faults += _of_pad(sheet, k, control, pads)
        given = {key for key in _ALL if key in rows[k]} if k < len(rows) else set()
        missing = [key for key in _NEEDS[control.way] if key not in given]
        over = sorted(given - {*_NEEDS[control.way], *_MAY[control.way]})
        if missing:
            text = f"a tape {control.way} needs {' and '.join(missing)}; say where it lay"
            faults.append(sheet.problem("S057", ("control", k, "way"), text))
        elif over:
            text = f"a tape {control.way} takes no {' and '.join(over)}; take it out"
            faults.append(sheet.problem("S057", ("control", k, over[0]), text))
        same = [n for n, other in enumerate(sheet.controls[:k]) if replace(other, length=control.length) == control]
        if same:
            text = f"row {same[0] + 1} is about the same tape; keep one reading, or the mean of both"
            faults.append(sheet.problem("S059", ("control", k, "length"), text))
    return faults


def _of_pad(sheet: Sheet, k: int, control: Control, pads: dict[str, Pad]) -> Iterator[Problem]:
    pad = pads.get(control.pad)
    if pad is None:
        near = near_name(control.pad, pads)
        advice = f'did you mean "{near}"?' if near else f"pads are {', '.join(pads)}"
        yield sheet.problem("S055", ("control", k, "pad"), f'there is no pad "{control.pad}"; {advice}')
        return
    text = why_not(pad, control)
    if text is not None:
        # The row holds what the pad cannot have, said or left out.
        yield sheet.problem("S056", ("control", k, "ends" if "ends = " in text else "over"), text)


def tapes_of(sheet: Sheet, pads: Sequence[BuiltPad]) -> Tapes:
    """Every tape of a sheet beside what is computed there, and what would explain them where they differ; pads: as
    built. Raises ProblemError for rows that cannot be laid."""
    if not sheet.controls:
        return NO_TAPES
    faults = tape_faults(sheet)
    if faults:
        raise ProblemError(faults)
    built = {pad.pad.name: pad for pad in pads}
    taped = []
    for k, control in enumerate(sheet.controls):
        try:
            taped.append(Taped(control, _computed(built[control.pad], control)))
        except ProblemError as fault:
            # Where a tape cannot lie is told at its own row.
            faults += [sheet.problem("S058", ("control", k, "way"), one.text) for one in fault.problems]
    if faults:
        raise ProblemError(faults)
    why = explained(sheet.tables, sheet.path, taped) if any(one.differs for one in taped) else ()
    return Tapes(tuple(taped), why)


def _computed(pad: BuiltPad, control: Control) -> float | None:
    if not pad.pad.on_frame:
        return loose_length(pad.pad, control, pad)
    chart = chart_of(pad.pad)
    if control.over == "cover":
        return covered_length(pad, control, tape_points(pad.pad, chart, control))
    return tape_length(pad.pad, chart, control)


def disagreeing_words(tapes: Tapes) -> str:
    """What a verdict says of tapes that do not agree with the seat, empty where all do."""
    off = sum(one.differs for one in tapes.taped)
    if not off:
        return ""
    said = "tape does" if off == 1 else "tapes do"
    return f"{off} {said} not agree with the seat: measure again before anything is cut."


def tape_notes(sheet: Sheet, tapes: Tapes) -> Iterator[Problem]:
    """A warning for every tape that differs by more than its error, and one with what would explain them."""
    differ = [(k, one) for k, one in enumerate(tapes.taped) if one.differs]
    for k, one in differ:
        more = "longer" if one.off_mm > 0.0 else "shorter"
        text = (
            f"the tape {one.control.words} read {number(one.control.length, 1)} mm, {number(abs(one.off_mm), 1)} mm "
            f"{more} than the {number(one.length_mm or 0.0, 1)} mm computed there, and a tape is off by "
            f"{number(one.error_mm, 1)} mm at most; measure both again before anything is cut"
        )
        yield sheet.problem("S060", ("control", k, "length"), text, warning=True)
    if differ:
        yield sheet.problem("S061", ("control",), explained_words(tapes), warning=True)


def explained_words(tapes: Tapes) -> str:
    """What would explain the tapes, in words."""
    spare = max((one.error_mm for one in tapes.taped), default=0.0)
    fitting = [one for one in tapes.explained if one.left_mm <= spare][:MOST_NAMED]
    if not fitting:
        framed = any(one.control.ends == "tack lines" for one in tapes.taped)
        again = "the profiles" if framed else "the measures of the pad"
        return f"no single number of the sheet would explain what the tapes say; lay them again, then {again}"
    told = [_told(one) for one in fitting]
    rest = f"; less well: {'; '.join(told[1:])}" if len(told) > 1 else ""
    return f"one number would explain all tapes, measure it first: {told[0]}{rest}"


def _told(one: Explanation) -> str:
    would, left = number(one.value_mm + one.change_mm, 1), number(one.left_mm, 1)
    return f"{one.words}, {number(one.value_mm, 1)} mm in the sheet, would be {would} mm ({left} mm left)"
