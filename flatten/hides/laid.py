"""The pieces of a job laid out on the hides of its sheet."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely.geometry import Polygon

from flatten.hides.asks import CutAsk, LeatherCut, asks_of, leather_cuts
from flatten.hides.pinned import PinnedCuts, pinned_cuts
from flatten.hides.rooms import flaw_area, hide_area, room_of, zone_area
from flatten.job.pipeline import Job
from flatten.nesting.check import faults
from flatten.nesting.layout import lay_out
from flatten.nesting.outline import turned
from flatten.nesting.task import CutLayout, Effort, FixedCut, Tie, Ties, ToPlace
from meshes.base.arrays import FloatArray, locked_floats
from meshes.base.problems import Problem, ProblemError
from meshes.hides.records import Hide, HidePlan
from meshes.schema.cover_tables import ZONES
from meshes.seat.panels import Panel, PanelRole

# Rounds of `make`, the same for the same sheet on any machine.
USUAL_ROUNDS = 10
# Moves of pieces for each round before one is left out for want of leather.
MOVES_A_ROUND = 2_000
# With an arrow along y, this turn brings it along the backbone.
ALONG_DEG = -90.0
# Places of a mirrored pair that differ by more than this are told, mm.
PAIR_APART_MM = 400.0
# Parts of one face that are sewn to each other are told when more leather than this lies between them, mm: common
# practice has them side by side, no source has a figure.
NEIGHBOURS_APART_MM = 300.0
# What a face is made of.
_FACES = (PanelRole.PLEAT, PanelRole.INSET, PanelRole.FACE)


@dataclass(frozen=True, eq=False)
class LaidCut:
    """Where a cut lies. hide: its number; turn_deg: of its arrow off the backbone towards the neck; shift (2,):
    after the turn; points (k, 2): its cut line; both along and off the backbone, mm."""

    cut: LeatherCut
    ask: CutAsk
    hide: int
    turn_deg: float
    shift: FloatArray
    points: FloatArray
    pinned: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "shift", locked_floats(self.shift))
        object.__setattr__(self, "points", locked_floats(self.points))

    def placed(self, points: FloatArray) -> FloatArray:
        """Points (k, 2) of the piece where they lie on the hide."""
        return np.asarray(turned(points, self.turn_deg + ALONG_DEG) + self.shift)

    @property
    def off_deg(self) -> float:
        """How far its arrow lies off the backbone, whichever way it points."""
        return abs((self.turn_deg + 90.0) % 180.0 - 90.0)


@dataclass(frozen=True, eq=False)
class LaidHides:
    """The layout. cuts: all that lie; unplaced: labels of those that do not; seconds: asked for beyond the fixed
    rounds, None where the layout is the same on any machine; first_s: after how long all lay for the first time."""

    plan: HidePlan
    cuts: tuple[LaidCut, ...]
    unplaced: tuple[str, ...]
    problems: tuple[Problem, ...]
    rounds: int
    seconds: float | None
    first_s: float | None

    def on(self, hide: int) -> list[LaidCut]:
        """The cuts on one hide."""
        return [cut for cut in self.cuts if cut.hide == hide]

    @property
    def used(self) -> list[int]:
        """Numbers of the hides that are cut."""
        return sorted({cut.hide for cut in self.cuts})


def lay_hides(job: Job, *, seconds: float | None = None, rounds: int = USUAL_ROUNDS) -> LaidHides:
    """Lay the leather of a job on the hides of its sheet, a fixed number of rounds, or so many seconds.

    Raises ProblemError for pinned pieces that cannot stay where they are, and for names of no piece.
    """
    plan = job.sheet.hides
    cuts = leather_cuts(job)
    _names_are_pieces(job, cuts)
    asks = asks_of(job, cuts, plan.placings)
    pinned = pinned_cuts(job, cuts, asks)
    effort = Effort(rounds=rounds, seconds=seconds, moves=MOVES_A_ROUND * rounds)
    layout, asks, notes = _with_room(job, cuts, asks, pinned, effort)
    laid = _laid(job, cuts, asks, pinned, layout)
    problems = (*notes, *_notes(job, laid, layout, cuts, asks, pinned))
    return LaidHides(plan, laid, layout.unplaced, problems, layout.rounds, seconds, layout.first_s)


def _names_are_pieces(job: Job, cuts: Sequence[LeatherCut]) -> None:
    names = {cut.name for cut in cuts}
    found = [
        job.sheet.problem(
            "H006", ("placing", one.place, "pieces"), f'no piece is called "{name}"; known: {", ".join(sorted(names))}'
        )
        for one in job.sheet.hides.placings
        for name in one.pieces
        if name not in names
    ]
    if found:
        raise ProblemError(found)


def _with_room(
    job: Job, cuts: Sequence[LeatherCut], asks: list[CutAsk], pinned: PinnedCuts, effort: Effort
) -> tuple[CutLayout, list[CutAsk], list[Problem]]:
    """The layout; where pieces find no room in their zones alone, once more with all zones for them, which is told."""
    layout = _lay(job, cuts, asks, pinned, effort)
    narrow = {cut.label for cut, ask in zip(cuts, asks, strict=True) if len(ask.zones) < len(ZONES)}
    short = narrow & set(layout.unplaced)
    if not short:
        return layout, asks, []
    wider = [
        replace(ask, zones=ZONES, why="its zones had no room") if cut.label in short else ask
        for cut, ask in zip(cuts, asks, strict=True)
    ]
    again = _lay(job, cuts, wider, pinned, effort)
    if len(again.unplaced) >= len(layout.unplaced):
        return layout, asks, []
    text = "finds no room in its zones and lies in others; give another hide, or say in [[placing]] where it may lie"
    notes = [Problem("H008", label, text, warning=True) for label in sorted(short - set(again.unplaced))]
    return again, wider, notes


def _order(plan: HidePlan, pinned: PinnedCuts) -> list[int]:
    """Hides in the order they are cut: those with pinned pieces, then the largest."""
    areas = [hide_area(hide).area for hide in plan.hides]
    return sorted(range(len(areas)), key=lambda k: (k not in pinned.hides, -areas[k], k))


def _lay(job: Job, cuts: Sequence[LeatherCut], asks: Sequence[CutAsk], pinned: PinnedCuts, effort: Effort) -> CutLayout:
    plan = job.sheet.hides
    wanted = [
        ToPlace(cut.label, cut.points, tuple(turn + ALONG_DEG for turn in ask.turns_deg), ask.grade)
        for cut, ask in zip(cuts, asks, strict=True)
        if cut.label not in pinned.labels
    ]
    grades = {one.grade for one in wanted}
    rooms = [room_of(plan.hides[k], plan.cutting, grades, pinned.on(k)) for k in _order(plan, pinned)]
    left = [room for room in rooms if room is not None]
    if not left or not wanted:
        return CutLayout((), tuple(one.name for one in wanted), 0.0, 0.0, None, 0)
    names = {room.name for room in left}
    fixed = [
        FixedCut(label, plan.hides[pin.hide].name, pin.turn_deg + ALONG_DEG, pin.points)
        for label, pin in pinned.labels.items()
        if plan.hides[pin.hide].name in names
    ]
    ties = Ties(tuple(ties_of(cuts, job.panels)), tuple(fixed))
    layout = lay_out(wanted, left, gap_mm=plan.cutting.gap_mm, effort=effort, ties=ties)
    wrong = faults(layout, wanted, left, plan.cutting.gap_mm)
    if wrong:
        raise RuntimeError(f"the layout does not hold: {'; '.join(wrong)}")
    return layout


def _laid(
    job: Job, cuts: Sequence[LeatherCut], asks: Sequence[CutAsk], pinned: PinnedCuts, layout: CutLayout
) -> tuple[LaidCut, ...]:
    numbers = {hide.name: k for k, hide in enumerate(job.sheet.hides.hides)}
    placed = {one.wanted.name: one for one in layout.placed}
    found = []
    for cut, ask in zip(cuts, asks, strict=True):
        if cut.label in pinned.labels:
            pin = pinned.labels[cut.label]
            found.append(LaidCut(cut, ask, pin.hide, pin.turn_deg % 360.0, pin.shift, pin.points, True))
        elif cut.label in placed:
            one = placed[cut.label]
            turn = (one.turn_deg - ALONG_DEG) % 360.0
            found.append(LaidCut(cut, ask, numbers[one.room], turn, one.shift, one.points))
    return tuple(found)


def _notes(
    job: Job,
    laid: Sequence[LaidCut],
    layout: CutLayout,
    cuts: Sequence[LeatherCut],
    asks: Sequence[CutAsk],
    pinned: PinnedCuts,
) -> list[Problem]:
    plan, found = job.sheet.hides, []
    by_label = {cut.label: (cut, ask) for cut, ask in zip(cuts, asks, strict=True)}
    for label in layout.unplaced:
        cut, ask = by_label[label]
        alone = _lay(job, [cut], [ask], replace(pinned, labels={}), Effort(rounds=0, moves=0))
        area = Polygon(cut.points).area / 1e6
        if alone.unplaced:
            text = f"no hide has room for it ({area:.3f} m2) clear of flaws and in its zones ({', '.join(ask.zones)})"
            found.append(job.sheet.problem("H003", ("hide",), f"{label}: {text}; part it, or find a larger hide", True))
        else:
            text = f"found no room beside the others; {area:.3f} m2 are missing: add a hide"
            found.append(job.sheet.problem("H005", ("hide",), f"{label}: {text}", True))
    for one in laid:
        marks = _marks_under(plan.hides[one.hide], one.points)
        if marks:
            text = f"lies on {', '.join(marks)} of {plan.hides[one.hide].name}; look whether it shows there"
            found.append(Problem("H007", one.cut.label, text, warning=True))
        if one.off_deg > job.sheet.cover.grain_window_deg + 1e-6 and one.ask.seen in ("face", "band"):
            text = f"its arrow lies {one.off_deg:.0f} degrees off the backbone; sources disagree how much that matters"
            found.append(Problem("H009", one.cut.label, text, warning=True))
    return found + _pair_notes(plan.hides, laid) + neighbour_notes(plan.hides, laid, job.panels)


def ties_of(cuts: Sequence[LeatherCut], panels: Mapping[str, Panel]) -> list[Tie]:
    """Mirrored pairs, and parts of one face that are sewn to each other. panels: by name."""
    seams = [_face_seams(cut, panels) for cut in cuts]
    found = []
    for k, one in enumerate(cuts):
        for j, other in enumerate(cuts[:k]):
            if _are_a_pair(one, other):
                found.append(Tie(one.label, other.label, True, 0.5 * PAIR_APART_MM))
            elif seams[j] & seams[k]:
                found.append(Tie(one.label, other.label, False, 0.5 * NEIGHBOURS_APART_MM))
    return found


def _are_a_pair(one: LeatherCut, other: LeatherCut) -> bool:
    """Whether two cuts are mirror images of each other."""
    if one.piece is None or other.piece is None or not one.piece.panels or one.name == other.name:
        return False
    return one.piece.panels == other.piece.panels


def _marks_under(hide: Hide, points: FloatArray) -> list[str]:
    shape = Polygon(points)
    return [
        flaw.kind
        for flaw in hide.flaws
        if flaw.grade == "mark" and Polygon(hide.along_and_off(flaw.points)).intersects(shape)
    ]


def _pair_notes(hides: Sequence[Hide], laid: Sequence[LaidCut]) -> list[Problem]:
    """Pairs that are mirror images and do not come from mirrored places of one hide."""
    found = []
    for k, one in enumerate(laid):
        for other in laid[:k]:
            if not _are_a_pair(one.cut, other.cut):
                continue
            here, there = _middle(one), _middle(other) * [1.0, -1.0]
            if one.hide != other.hide:
                text = f"lies on {hides[one.hide].name}, its mirror image {other.cut.label} on {hides[other.hide].name}"
            elif float(np.hypot(*(here - there))) > PAIR_APART_MM:
                text = f"lies {float(np.hypot(*(here - there))):.0f} mm off where {other.cut.label} lies mirrored"
            else:
                continue
            text += "; a pair from unlike places may stretch unlike: pin both, or swap them"
            found.append(Problem("H010", one.cut.label, text, warning=True))
    return found


def _middle(cut: LaidCut) -> FloatArray:
    return np.asarray(0.5 * (cut.points.min(axis=0) + cut.points.max(axis=0)))


def neighbour_notes(hides: Sequence[Hide], laid: Sequence[LaidCut], panels: Mapping[str, Panel]) -> list[Problem]:
    """Parts of one face, pleats among them, that are sewn to each other and come from unlike leather: of two hides,
    more than `NEIGHBOURS_APART_MM` apart, or of different zones. panels: by name."""
    seams = [_face_seams(one.cut, panels) for one in laid]
    found = []
    for k, one in enumerate(laid):
        for other in (laid[j] for j in range(k) if seams[j] & seams[k]):
            apart = float(Polygon(one.points).distance(Polygon(other.points)))
            zones = [_main_zone(hides[cut.hide], cut.points) for cut in (one, other)]
            if one.hide != other.hide:
                text = f"lies on {hides[one.hide].name}, its neighbour {other.cut.label} on {hides[other.hide].name}"
            elif apart > NEIGHBOURS_APART_MM:
                text = f"lies {apart:.0f} mm away from its neighbour {other.cut.label}"
            elif zones[0] != zones[1]:
                text = f"lies mostly in the {zones[0]}, its neighbour {other.cut.label} in the {zones[1]}"
            else:
                continue
            text += "; beside each other on the seat they may differ in grain and stretch: pin both, or look at them"
            found.append(Problem("H011", one.cut.label, text, warning=True))
    return found


def _face_seams(cut: LeatherCut, panels: Mapping[str, Panel]) -> set[tuple[str, PanelRole, str]]:
    """Seams of a part of a face by pad, what the part is, and name; those of anything else do not count."""
    if cut.piece is None or not cut.piece.panels:
        return set()
    panel = panels[cut.piece.panels[0]]
    if panel.role not in _FACES:
        return set()
    return {(panel.pad, panel.role, edge.seam) for edge in cut.piece.edges if edge.seam}


def _main_zone(hide: Hide, points: FloatArray) -> str:
    """The zone with most of a piece, the first of several; "" on a hide without zones."""
    shape = Polygon(points)
    areas = {name: shape.intersection(zone_area(hide, [name])).area for name in ZONES if hide.zones.get(name)}
    return max(areas, key=lambda name: areas[name], default="")


__all__ = ["ALONG_DEG", "NEIGHBOURS_APART_MM", "LaidCut", "LaidHides", "flaw_area", "lay_hides", "neighbour_notes"]
