"""Where a dart or a seam helps a panel most, and how much.

Candidates are tried on a coarse copy for the least demand that the cut panel can be cut out with; the best few are
tried again on the panel itself. What is kept is the trade-off of length and demand: no proposal is both longer and
worse than another. A cut that would make the leather lie over itself (a dart in a saddle) is none.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from flatten.demand.least_demand import Member, least_demand
from flatten.maps.certify import certify
from flatten.maps.relax import relax
from flatten.relief.candidates import Candidate, ReliefKind, candidates, ground
from flatten.relief.coarse import Coarse, coarse_copy
from flatten.relief.cutting import CutLineError, Mapped, draw_lines, mapped, parts
from flatten.relief.potential import Potential, potential
from flatten.relief.symmetry import Axis, symmetry_axis
from meshes.base.arrays import BoolArray, FloatArray, IntArray
from meshes.base.cut_open import CutMesh, cut_open
from meshes.base.progress import Progress, unheard
from meshes.base.surface import boundary_loops, curve_length
from meshes.numerics.status import Status

# Below this demand a cut can win nothing that a trimmer could feel.
NOTHING = 1e-4
# How close to the least demand a trial goes on the coarse copy and on the panel itself.
TRIAL_GAP, FINAL_GAP = 0.03, 0.005
# A cut has to take at least this share of the demand away to be worth the sewing.
LEAST_GAIN = 0.05
# On a panel that is its own mirror image, an uneven cut counts as longer by this factor.
UNEVEN = 1.3


@dataclass(frozen=True, eq=False)
class ReliefTask:
    """One panel that a cut is looked for in.

    vertices (n, 3) mm, triangles (m, 3) a disc, plan (n, 2) mm a flat map of it without folds. budget: the demand
    allowed, a fraction: the shortest cut that meets it is always among the proposals. corners: rim vertices where
    seams end; across (3,): normal of a likely mirror plane; seen (n,): which vertices are seen on the finished seat,
    all of them when it is None.
    """

    vertices: FloatArray
    triangles: IntArray
    plan: FloatArray
    budget: float | None = None
    corners: IntArray | None = None
    across: FloatArray | None = None
    seen: BoolArray | None = None


@dataclass(frozen=True, eq=False)
class Relief:
    """One proposal: the panel with its lines drawn, and cut open along them.

    kind: "dart" or "seam"; words: what it is; paths: for each line its vertices in `drawn`, a dart from its tip to the
    rim; length_mm: of all lines on the seat; demand_before, demand_after: least demand of the panel and of its worst
    part when cut, fractions; after: of every part; visible: the share of the length that is seen; even: mirrored onto
    itself on a symmetric panel; status: how the search for the demand after ended, for the part where it went worst.
    """

    kind: ReliefKind
    words: str
    drawn: Mapped
    paths: tuple[IntArray, ...]
    cut: CutMesh
    length_mm: float
    demand_before: float
    demand_after: float
    after: tuple[float, ...]
    visible: float
    even: bool
    status: Status

    @property
    def lines(self) -> tuple[FloatArray, ...]:
        """The lines on the seat, (k, 3) mm each."""
        return tuple(self.drawn.vertices[path] for path in self.paths)


@dataclass(frozen=True, eq=False)
class Study:
    """What was found for one panel: its least demand without a cut, its potential, how many cuts were tried, the
    proposals, the shortest first, and how the search without a cut ended."""

    demand: float
    potential: Potential
    tried: int
    reliefs: tuple[Relief, ...]
    status: Status


@dataclass(frozen=True, eq=False)
class _CandidateTrial:
    candidate: Candidate
    length: float
    demand: float


@dataclass(frozen=True)
class Least:
    """Least demand of a part, infinite when its best piece would lie over itself, and how the search for it ended."""

    demand: float
    status: Status


def least_of_parts(vertices: FloatArray, triangles: IntArray, plan: FloatArray, *, gap: float) -> tuple[Least, ...]:
    """Least demand of every connected part of a mesh, from a plan (n, 2) without folds.

    The search has more than one valley: a part is relaxed first, because the plan of the whole panel may lead it into
    a poor one.
    """
    found = []
    for own, _, local in parts(triangles):
        rested = relax(vertices[own], plan[own], local)
        best = least_demand(Member(vertices[own], local, rested.points), gap=gap)
        sound = certify(best.points, local).holds
        found.append(Least(float(np.expm1(best.log_spread)) if sound else float("inf"), best.status))
    return tuple(found)


def relieve(task: ReliefTask, *, most: int = 5, progress: Progress | None = None) -> Study:
    """The best few cuts for one panel, at most `most`."""
    say = progress or unheard
    vertices, triangles, plan = task.vertices, task.triangles, task.plan
    field = potential(vertices, triangles)
    whole = least_of_parts(vertices, triangles, plan, gap=FINAL_GAP)[0]
    before = whole.demand
    axis = symmetry_axis(vertices, triangles, plan, across=task.across)
    copy = coarse_copy(vertices, triangles, plan)
    rim = copy.plan[boundary_loops(copy.triangles)[0]]
    ends = plan[task.corners] if task.corners is not None else np.zeros((0, 2))
    tried = candidates(ground(rim, plan[field.extremes], ends, axis)) if before > NOTHING else []
    trials = _tried(copy, tried, say)
    good = [t for t in trials if t.demand < (1.0 - LEAST_GAIN) * before]
    front = _thinned(_front(good, axis), task.budget, most)
    found = _on_the_panel(task, front, before, say)
    return Study(before, field, len(tried), trade_off(found), whole.status)


def _on_the_panel(task: ReliefTask, front: Sequence[_CandidateTrial], before: float, say: Progress) -> list[Relief]:
    """The best candidates on the panel itself, those that take enough of its demand away."""
    panel = mapped(task.vertices, task.triangles, task.plan)
    seen = np.ones(len(task.vertices), dtype=bool) if task.seen is None else task.seen
    found = []
    for k, trial in enumerate(front):
        say("trying the best cuts on the panel", k, len(front))
        relief = cut_as(panel, trial.candidate, before, seen)
        if relief is not None and relief.demand_after < (1.0 - LEAST_GAIN) * before:
            found.append(relief)
    return found


def _tried(copy: Coarse, tried: Sequence[Candidate], say: Progress) -> list[_CandidateTrial]:
    """Every candidate on the coarse copy; those that cannot be drawn or cut out are left out."""
    panel, found = mapped(copy.vertices, copy.triangles, copy.plan), []
    for k, candidate in enumerate(tried):
        say("trying cuts", k, len(tried))
        drawn = _on_mesh(panel, candidate)
        if drawn is None:
            continue
        made, paths = drawn
        cut = cut_open(made.vertices, made.triangles, *paths)
        least = least_of_parts(cut.vertices, cut.triangles, made.plan[cut.origin], gap=TRIAL_GAP)
        worst = max(part.demand for part in least)
        if np.isfinite(worst):
            length = sum(curve_length(made.vertices[path]) for path in paths)
            found.append(_CandidateTrial(candidate, length, worst))
    return found


def _on_mesh(panel: Mapped, candidate: Candidate) -> tuple[Mapped, tuple[IntArray, ...]] | None:
    """The candidate's lines on a mesh; None when they leave it or meet each other."""
    rim = boundary_loops(panel.triangles)[0]
    inside = np.setdiff1d(np.arange(len(panel.plan)), rim)
    lines = []
    for line in candidate.lines:
        last = len(line) - 1
        on_rim = [k == last or (k == 0 and candidate.kind == "seam") for k in range(len(line))]
        pools = (rim if edge else inside for edge in on_rim)
        spots = [
            int(pool[np.argmin(np.linalg.norm(panel.plan[pool] - place, axis=1))])
            for pool, place in zip(pools, line, strict=True)
        ]
        lines.append(tuple(dict.fromkeys(spots)))
    try:
        return draw_lines(panel, *lines)
    except CutLineError:
        return None


def cut_as(panel: Mapped, candidate: Candidate, before: float, seen: BoolArray) -> Relief | None:
    """One cut on the panel itself; None when it cannot be drawn, or not be cut out of leather.

    before: least demand of the panel as it is; seen (n,): which of its vertices are seen on the finished seat.
    """
    drawn = _on_mesh(panel, candidate)
    if drawn is None:
        return None
    made, paths = drawn
    cut = cut_open(made.vertices, made.triangles, *paths)
    least = least_of_parts(cut.vertices, cut.triangles, made.plan[cut.origin], gap=FINAL_GAP)
    after = tuple(part.demand for part in least)
    if not np.isfinite(after).all():
        return None
    steps = [np.linalg.norm(np.diff(made.vertices[path], axis=0), axis=1) for path in paths]
    looks = _grown(seen, made)
    shown = sum(float(s @ (0.5 * (looks[p[1:]] + looks[p[:-1]]))) for s, p in zip(steps, paths, strict=True))
    length = float(sum(s.sum() for s in steps))
    return Relief(
        candidate.kind,
        candidate.words,
        made,
        paths,
        cut,
        length,
        before,
        max(after),
        after,
        shown / length,
        candidate.even,
        next((part.status for part in least if not part.status.converged), least[0].status),
    )


def _grown(seen: BoolArray, made: Mapped) -> FloatArray:
    """1 for the vertices that are seen, 0 for the others, new ones in between."""
    looks = np.concatenate([seen.astype(np.float64), np.zeros(len(made.vertices) - len(seen))])
    for k in range(len(seen), len(looks)):
        i, j = made.ends[k]
        looks[k] = (1.0 - made.share[k]) * looks[i] + made.share[k] * looks[j]
    return looks


def _front(trials: Sequence[_CandidateTrial], axis: Axis | None) -> list[_CandidateTrial]:
    """The trade-off of length and demand, the shortest first; uneven cuts of an even panel count as longer."""

    def counted(trial: _CandidateTrial) -> float:
        return trial.length * (UNEVEN if axis is not None and not trial.candidate.even else 1.0)

    kept: list[_CandidateTrial] = []
    for trial in sorted(trials, key=lambda t: (counted(t), t.demand)):
        if not kept or trial.demand < 0.98 * kept[-1].demand:
            kept.append(trial)
    return kept


def _thinned(front: Sequence[_CandidateTrial], budget: float | None, most: int) -> list[_CandidateTrial]:
    """At most `most` of a trade-off: the first that meets the budget, the best, and those where most is gained."""
    kept = list(front)
    fits = next((t for t in kept if budget is not None and t.demand <= budget), None)
    while len(kept) > most:
        gains = [
            np.inf if kept[k] is fits else kept[k - 1].demand / kept[k].demand if k else 1.0 + LEAST_GAIN
            for k in range(len(kept) - 1)
        ]
        del kept[int(np.argmin(gains))]
    return kept


def trade_off(reliefs: Sequence[Relief]) -> tuple[Relief, ...]:
    """The shortest first; every longer one takes at least 2 % more of the demand away."""
    kept: list[Relief] = []
    for relief in sorted(reliefs, key=lambda r: (r.length_mm, r.demand_after)):
        if not kept or relief.demand_after < 0.98 * kept[-1].demand_after:
            kept.append(relief)
    return tuple(kept)
