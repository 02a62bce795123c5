"""Which one measured number would explain what tapes say: each is changed until it fits them all as well as it can.

How long a tape is for another value of a number is found from a parabola through three values, and for those that come
out best from the seat itself; then numbers are ranked by what is left between tapes and seat, in errors of a tape, by
how large a slip they would ask for, and by whether a profile comes out fairer. A change by itself says nothing of the
seat: the number is to be measured again.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np

from meshes.base.arrays import FloatArray
from meshes.base.problems import KeyPath, ProblemError
from meshes.base.progress import look_up
from meshes.base.units import Unit
from meshes.closed.build import build_surface
from meshes.records.materials import Material
from meshes.records.pad import Pad
from meshes.sheet.read import sheet_of_tables
from meshes.sheet.whole import Control
from meshes.support.chart import Chart
from meshes.tapes.course import Course, chart_of, course_of, points_over, tape_length, taped_mm
from meshes.tapes.fair import less_fair
from meshes.tapes.loose import loose_length
from meshes.tapes.numbers import lengths_below, measured_numbers, with_number

# A tape on upholstery is off by so much, or by this share of what it reads (P: 2 mm on 500).
TAPE_OFF_MM, TAPE_OFF_SHARE = 2.0, 0.004
# Twice the spread of many readings is what a tape is said to be off by.
_SPREADS = 2.0
# A slip of the pen or of the gauge is about so large, what is bought by thickness is off by far less (P).
SLIP_MM, BOUGHT_OFF_MM = 20.0, 3.0
# Numbers are tried so far either way, and no change is looked for beyond the farthest.
TRIED_BY_MM, FARTHEST_MM = 8.0, 60.0
# So many of the best are held against the seat itself, so often.
MOST_HELD_AGAINST, HELD_ROUNDS = 6, 2
_CHANGE_STEP_MM = 0.5
_CHANGES = np.arange(-FARTHEST_MM, FARTHEST_MM + 0.5 * _CHANGE_STEP_MM, _CHANGE_STEP_MM)
# Of pads without a frame, what a rule or a gauge reads beside their outline.
_OWN_THICKNESS = {"closed": ("thickness", "rear_thickness", "length", "band"), "board": ("thickness",)}
# The cover of a core is built with triangles so coarse, to see what a number changes in it.
_TRIED_EDGE_MM = 30.0
# Numbers that move no tape by more, tried so far, have no part in it.
_UNMOVED_MM = 0.05


@dataclass(frozen=True)
class Taped:
    """A tape beside what was computed there. length_mm: of the model, None where it cannot lie; error_mm: of a tape."""

    control: Control
    length_mm: float | None

    @property
    def error_mm(self) -> float:
        """By how much a tape may be off."""
        return tape_error_mm(self.control.length)

    @property
    def off_mm(self) -> float:
        """How much longer the tape read than was computed."""
        return 0.0 if self.length_mm is None else self.control.length - self.length_mm

    @property
    def differs(self) -> bool:
        """Whether that is more than a tape may be off."""
        return abs(self.off_mm) > self.error_mm


@dataclass(frozen=True)
class Explanation:
    """One number that would explain the tapes. keys: where it stands; words: the same in words; value_mm: in the sheet;
    change_mm: what it would have to be changed by; left_mm: the largest difference then left; score: the lower the
    better: 1 for each tape that is off by its spread and for a change as large as a usual slip, less what it makes its
    profile fairer by."""

    keys: KeyPath
    words: str
    value_mm: float
    change_mm: float
    left_mm: float
    score: float


@dataclass(frozen=True)
class _TriedNumber:
    """A number on trial: keys, value, and how large a slip is usual."""

    keys: KeyPath
    value: float
    slip: float


def tape_error_mm(length_mm: float) -> float:
    """By how much a tape of a length may be off, mm."""
    return max(TAPE_OFF_MM, TAPE_OFF_SHARE * length_mm)


def explained(tables: Mapping[str, Any], path: Path, taped: Sequence[Taped]) -> tuple[Explanation, ...]:
    """Numbers that would explain tapes over one or several pads, the best first; none where nothing can be varied.

    tables: of the sheet at a path. Tapes over the cover of a pad on a frame are followed on the padding below it.
    """
    taped = [one for one in taped if one.length_mm is not None]
    controls = [one.control for one in taped]
    trial = _TapeTrial(tables, path, controls)
    here = trial.lengths(None, 0.0)
    if here is None or not len(here):
        return ()
    wanted = np.array([one.off_mm for one in taped])
    spread = np.array([one.error_mm for one in taped]) / _SPREADS
    first = []
    for number in _numbers(tables, {control.pad for control in controls}):
        look_up()
        sides = [(way * TRIED_BY_MM, trial.quickly(number, way * TRIED_BY_MM)) for way in (1.0, -1.0)]
        seen = [(0.0, np.zeros(len(here)))] + [(by, at - here) for by, at in sides if at is not None]
        if len(seen) > 1 and max(float(np.abs(moved).max()) for _, moved in seen) > _UNMOVED_MM:
            study = _NumberStudy(number, _less_fair(tables, number.keys), wanted, spread, seen)
            first.append((study.best(), study))
    first.sort(key=lambda one: one[0][1])
    found = []
    for (by, _), study in first[:MOST_HELD_AGAINST]:
        for _ in range(HELD_ROUNDS):
            at = (
                trial.lengths(study.number, by)
                if all(abs(by - old) > _CHANGE_STEP_MM for old, _ in study.seen)
                else None
            )
            if at is None:
                break
            study.seen.append((by, at - here))
            by, _ = study.best()
        found.append(study.explanation(trial.words(study.number.keys)))
    return tuple(sorted(found, key=lambda one: one.score))


@dataclass(frozen=True, eq=False)
class _NumberStudy:
    """One number held against the tapes. fairer (k,): by how much less fair the profile that it belongs to becomes with
    each of the changes of `_CHANGES`; wanted, spread (n,): what tapes differ by and are off by; seen: changes tried,
    and by how much the tapes moved (n,)."""

    number: _TriedNumber
    fairer: FloatArray
    wanted: FloatArray
    spread: FloatArray
    seen: list[tuple[float, FloatArray]]

    def best(self) -> tuple[float, float]:
        """The change that suits best, and its score, on a parabola through the three changes seen that are nearest to
        the last."""
        last = self.seen[-1][0] if len(self.seen) > 3 else 0.0
        near = sorted(self.seen, key=lambda one: abs(one[0] - last))[:3]
        moved = np.polynomial.polynomial.polyfit([by for by, _ in near], np.array([m for _, m in near]), len(near) - 1)
        model = np.polynomial.polynomial.polyval(_CHANGES, moved)
        score = (((self.wanted[:, None] - model) / self.spread[:, None]) ** 2).sum(axis=0) + self._slip(_CHANGES)
        k = int(np.argmin(score))
        return float(_CHANGES[k]), float(score[k])

    def explanation(self, words: str) -> Explanation:
        """The best of the changes that were tried on the seat itself."""
        tried = self.seen[1:]
        left = [self.wanted - moved for _, moved in tried]
        scores = [
            float(((off / self.spread) ** 2).sum() + self._slip(np.array([by]))[0])
            for off, (by, _) in zip(left, tried, strict=True)
        ]
        k = int(np.argmin(scores))
        number = self.number
        return Explanation(number.keys, words, number.value, tried[k][0], float(np.abs(left[k]).max()), scores[k])

    def _slip(self, by: FloatArray) -> FloatArray:
        """How unlikely changes (m,) are by themselves."""
        return np.asarray((by / self.number.slip) ** 2 + np.interp(by, _CHANGES, self.fairer))


def _numbers(tables: Mapping[str, Any], pads: set[str]) -> Iterator[_TriedNumber]:
    """The numbers of some pads: what was measured, and the thickness of layers."""
    unit: Unit = "in" if tables.get("unit") == "in" else "mm"
    rows = tables.get("pad", ())
    wanted = {k for k, pad in enumerate(rows) if pad.get("name") in pads}
    for keys, value, _ in measured_numbers(tables):
        if keys[1] in wanted:
            yield _TriedNumber(keys, value, SLIP_MM)
    for k in sorted(wanted):
        for name, own in _OWN_THICKNESS.items():
            for key in own:
                found = lengths_below(rows[k].get(name, {}).get(key), ("pad", k, name, key), unit)
                yield from (_TriedNumber(at, mm, SLIP_MM) for at, mm in found)
        for n, layer in enumerate(rows[k].get("layer", ())):
            keys = ("pad", k, "layer", n, "thickness")
            yield from (
                _TriedNumber(at, mm, BOUGHT_OFF_MM) for at, mm in lengths_below(layer.get("thickness"), keys, unit)
            )


def _less_fair(tables: Mapping[str, Any], keys: KeyPath) -> FloatArray:
    """How much less fair a profile becomes with each of the changes, (k,)."""
    coarse = _CHANGES[::4]
    return np.interp(_CHANGES, coarse, less_fair(tables, keys, coarse))


def _lengths_on(pad: Pad, controls: Sequence[Control], materials: Mapping[str, Material]) -> list[float]:
    """Lengths of tapes over one pad, of its cover where that is all that stands. Raises ProblemError."""
    if pad.on_frame:
        chart = chart_of(pad)
        return [tape_length(pad, chart, one) for one in controls]
    built = None
    if any(one.over == "cover" for one in controls):
        built = build_surface(pad, edge_mm=_TRIED_EDGE_MM, materials=materials)
    return [loose_length(pad, one, built) for one in controls]


class _TapeTrial:
    """Lengths of tapes on the padding of a sheet, on the cover of a core, with one number changed."""

    def __init__(self, tables: Mapping[str, Any], path: Path, controls: Sequence[Control]) -> None:
        self.tables, self.path, self.controls = tables, path, controls
        self.places = sheet_of_tables(dict(tables), path).places

    def words(self, keys: KeyPath) -> str:
        """Where a number stands, in words."""
        return self.places.words(keys)

    def lengths(self, number: _TriedNumber | None, by_mm: float) -> FloatArray | None:
        """Lengths (n,) with a number changed; None for a sheet that is refused then."""
        tables = self._changed(number, by_mm)
        try:
            sheet = sheet_of_tables(tables, self.path)
            pads = {pad.name: pad for pad in sheet.pads}
            found = np.zeros(len(self.controls))
            for name in {one.pad for one in self.controls}:
                rows = [k for k, one in enumerate(self.controls) if one.pad == name]
                found[rows] = _lengths_on(pads[name], [self.controls[k] for k in rows], sheet.materials)
            return found
        except ProblemError:
            return None

    def quickly(self, number: _TriedNumber, by_mm: float) -> FloatArray | None:
        """The same, for a height of a profile with the tapes in the places where they lay before: what else follows of
        it, such as a tack line that moves along, is left out."""
        if "profile" not in number.keys or self._here is None:
            return self.lengths(number, by_mm)
        try:
            pads = {pad.name: pad for pad in sheet_of_tables(self._changed(number, by_mm), self.path).pads}
        except ProblemError:
            return None
        found = self._here.copy()
        for name, (chart, rows, courses) in self.courses.items():
            points = points_over(pads[name], chart, courses)
            found[rows] = [taped_mm(at, one.control) for at, one in zip(points, courses, strict=True)]
        return found

    @cached_property
    def _here(self) -> FloatArray | None:
        """Lengths (n,) as the sheet stands."""
        return self.lengths(None, 0.0)

    @cached_property
    def courses(self) -> dict[str, tuple[Chart, list[int], list[Course]]]:
        """Where all tapes lie as the sheet stands, pad by pad: chart, numbers of the tapes, their courses."""
        found = {}
        for pad in sheet_of_tables(dict(self.tables), self.path).pads:
            rows = [k for k, one in enumerate(self.controls) if one.pad == pad.name]
            if rows and pad.on_frame:
                chart = chart_of(pad)
                found[pad.name] = chart, rows, [course_of(pad, chart, self.controls[k]) for k in rows]
        return found

    def _changed(self, number: _TriedNumber | None, by_mm: float) -> dict[str, Any]:
        return dict(self.tables) if number is None else with_number(self.tables, number.keys, number.value + by_mm)
