"""Pieces that stay where the trimmer put them: found, placed, and held against flaws, rim and each other."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry import Polygon

from flatten.hides.asks import CutAsk, LeatherCut
from flatten.hides.rooms import hide_area
from flatten.job.pipeline import Job
from flatten.nesting.outline import turned
from meshes.base.arrays import FloatArray
from meshes.base.problems import Problem, ProblemError
from meshes.hides.records import NEVER_COVERED, ONLY_HIDDEN, Hide, Pin


@dataclass(frozen=True, eq=False)
class PinnedPlace:
    """hide: its number; turn_deg: of the arrow off the backbone; shift (2,), points (k, 2): along and off the
    backbone."""

    hide: int
    turn_deg: float
    shift: FloatArray
    points: FloatArray


@dataclass(frozen=True, eq=False)
class PinnedCuts:
    """Pinned places by the cut's label."""

    labels: Mapping[str, PinnedPlace]

    @property
    def hides(self) -> set[int]:
        """Numbers of hides with pinned pieces."""
        return {place.hide for place in self.labels.values()}

    def on(self, hide: int) -> list[Polygon]:
        """Shapes pinned on one hide."""
        return [Polygon(place.points) for place in self.labels.values() if place.hide == hide]


def pinned_cuts(job: Job, cuts: Sequence[LeatherCut], asks: Sequence[CutAsk]) -> PinnedCuts:
    """All pinned pieces. Raises ProblemError for those that cannot stay there, naming each."""
    labels: dict[str, PinnedPlace] = {}
    wrong: list[Problem] = []
    for k, hide in enumerate(job.sheet.hides.hides):
        for j, pin in enumerate(hide.pins):
            keys = ("hide", hide.place, "pin", j)
            found = [n for n, cut in enumerate(cuts) if cut.name == pin.piece and cut.number == pin.number]
            if not found:
                names = ", ".join(sorted({cut.name for cut in cuts}))
                text = f'no piece {pin.number} is called "{pin.piece}"; known: {names}'
                wrong.append(job.sheet.problem("H006", keys, text))
                continue
            cut, ask = cuts[found[0]], asks[found[0]]
            place = _place(hide, k, pin, cut)
            wrong += [
                job.sheet.problem(code, keys, text)
                for code, text in _faults(job, hide, cut, ask, place, [*labels.items()])
            ]
            labels[cut.label] = place
    if wrong:
        raise ProblemError(wrong)
    return PinnedCuts(labels)


def _place(hide: Hide, number: int, pin: Pin, cut: LeatherCut) -> PinnedPlace:
    points = turned(cut.points, pin.turn_deg - 90.0)
    middle = 0.5 * (points.min(axis=0) + points.max(axis=0))
    shift = hide.along_and_off(np.array([pin.at]))[0] - middle
    return PinnedPlace(number, pin.turn_deg, shift, points + shift)


def _faults(
    job: Job,
    hide: Hide,
    cut: LeatherCut,
    ask: CutAsk,
    place: PinnedPlace,
    others: Sequence[tuple[str, PinnedPlace]],
) -> list[tuple[str, str]]:
    shape, cutting, found = Polygon(place.points), job.sheet.hides.cutting, []
    leather = hide.leather or job.coverings.main.card.name
    if cut.leather != leather:
        text = f"{cut.label} is cut from {cut.leather} and pinned on {hide.name}, which is {leather}"
        found.append(("H016", f"{text}; pin it on a hide of its own leather"))
    grades = (*NEVER_COVERED, *(() if ask.seen in ("rear", "hidden") else ONLY_HIDDEN))
    for flaw in hide.flaws:
        ring = Polygon(hide.along_and_off(flaw.points))
        if flaw.grade in grades and ring.distance(shape) < cutting.chalk_mm - 1e-6:
            text = f"{cut.label} is pinned over the flaw {flaw.kind} ({flaw.grade}) of {hide.name}; move it off"
            found.append(("H001", f"{text}, {cutting.chalk_mm:g} mm outside its chalk ring"))
    area = hide_area(hide)
    if not area.covers(shape) or area.exterior.distance(shape) < cutting.rim_mm - 1e-6:
        text = f"{cut.label} is pinned over the rim of {hide.name}, or nearer to it than {cutting.rim_mm:g} mm"
        found.append(("H002", f"{text}; move it inward"))
    for label, other in others:
        if other.hide == place.hide and Polygon(other.points).distance(shape) < cutting.gap_mm - 1e-6:
            text = f"{cut.label} and {label} are pinned nearer to each other than {cutting.gap_mm:g} mm"
            found.append(("H004", f"{text}; move one of them"))
    return found
