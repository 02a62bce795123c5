"""The piece of least demand: no place slack, and the largest stretch as small as the mesh allows.

With l = ln of a principal stretch, every l is kept at or above the leather's pull, and the bound M on the largest l,
which may differ along and across the backbone, is an unknown of its own and made least, by a primal-dual interior-point
method (flatten/demand/slack.py): Newton steps for the conditions pressure x distance = mu at both bounds, while mu
falls. At rest M exceeds the least bound by no more than 4 mu, so the search knows how far it may still be from the
best.

What freedom the reached bound leaves is then used: within it the mean of (l - pull)^2 is made small, so the leather is
nowhere pulled more than its shape asks, and lines come out fair (flatten/demand/fairness.py).

Lengths along the rim may be asked for: each such edge adds a stiff spring between its length on the piece and the
length wanted, so that both sides of a seam come out equal.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatten.demand.fairness import Line, Lines
from flatten.demand.length_penalty import Joins, RimLengths
from flatten.demand.search import Search
from flatten.demand.straightening import Straightening
from flatten.demand.window import State, Window
from flatten.leather.grain import as_it_lay
from flatten.maps.relax import renumbered, rigid_pins
from meshes.base.arrays import FloatArray, IntArray
from meshes.base.surface import triangle_areas
from meshes.numerics.dissection import dissected
from meshes.numerics.status import Status, Trace, untraced

# The search ends when the demand is within this share of the best one the mesh allows.
GAP = 1e-3
# Room that the start has to the bounds, as a share of its spread: usually, and when rim lengths are held.
ROOM, ROOM_HELD = 1.0, 0.3


@dataclass(frozen=True, eq=False)
class LeastDemand:
    """points (n, 2) mm, smallest stretch at the pull or just above; log_spread: ln(largest / smallest stretch); steps:
    Newton steps; status: why it ended, its gap how far the mean bound may be above the least possible for this mesh, as
    a share of the window; straightening: what straight lines cost, None when that was not asked for."""

    points: FloatArray
    log_spread: float
    steps: int
    status: Status
    straightening: Straightening | None = None


def least_demand(
    vertices: FloatArray,
    triangles: IntArray,
    start: FloatArray,
    *,
    pull: float = 0.0,
    ratio: tuple[float, float] = (1.0, 1.0),
    rim: RimLengths | None = None,
    held: IntArray | None = None,
    heading: "Heading | None" = None,
    gap: float = GAP,
    ease: bool = True,
    progress: Trace | None = None,
) -> LeastDemand:
    """Piece of least demand from a map without folds.

    vertices (n, 3) mm, triangles (m, 3), start (n, 2) mm, counter-clockwise everywhere, as the result is. pull: least
    ln stretch wanted; ratio: how the bound on ln stretch differs along x and along y of the piece; rim: lengths that
    edges of the rim should have on the piece; held: unknowns (2 x vertex + 0 for x, + 1 for y) that stay as they are,
    a centre line on x = 0 for one; without it a rigid motion is held; heading: which way it stays turned; gap: how
    close to the best, as a share of ln(largest / smallest stretch); ease: whether the freedom left is used. progress
    hears the steps and the spread reached. Raises ValueError when the start has a fold.
    """
    member = Member(vertices, triangles, start, ratio=ratio, held=held, heading=heading)
    return least_demands([member], pull=pull, rim=rim, gap=gap, ease=ease, progress=progress)[0]


@dataclass(frozen=True, eq=False)
class Heading:
    """Which way a piece lies to the bounds that differ along x and y: the sum of its points (n, 2) with these weights
    (n,), which add up to 0, stays along `toward` (2,), a unit direction."""

    weights: FloatArray
    toward: FloatArray

    @classmethod
    def on(cls, points: FloatArray, weights: FloatArray) -> "Heading":
        """The heading that points (n, 2) have."""
        run = weights @ points
        return cls(weights, run / np.linalg.norm(run))

    def followed(self, backbone: FloatArray, points: FloatArray) -> FloatArray:
        """A direction (2,) on the piece, turned as the points (n, 2) have turned away from the heading."""
        return as_it_lay(self.toward, backbone, Heading.on(points, self.weights).toward)

    def turned(self, points: FloatArray) -> FloatArray:
        """The points (n, 2) turned so that they keep it."""
        now = self.weights @ points
        c, s = np.array([now @ self.toward, now[0] * self.toward[1] - now[1] * self.toward[0]]) / np.linalg.norm(now)
        return np.asarray(points @ np.array([[c, s], [-s, c]]))

    @property
    def across(self) -> FloatArray:
        """The sum (n, 2) over the points that is 0 while they keep it."""
        return self.weights[:, None] * np.array([-self.toward[1], self.toward[0]])


@dataclass(frozen=True, eq=False)
class Member:
    """One of several pieces sought together. vertices (n, 3) mm, triangles (m, 3), start (n, 2) mm; ratio, held,
    heading: as for `least_demand`; lines: that should come out fair or straight; most:
    bound that is not to be gone beyond for lines to come out straight."""

    vertices: FloatArray
    triangles: IntArray
    start: FloatArray
    ratio: tuple[float, float] = (1.0, 1.0)
    held: IntArray | None = None
    heading: Heading | None = None
    lines: tuple[Line, ...] = ()
    most: float = float("inf")


def least_demands(
    members: Sequence[Member],
    *,
    pull: float = 0.0,
    rest: float | None = None,
    rim: RimLengths | None = None,
    joins: Joins | None = None,
    gap: float = GAP,
    ease: bool = True,
    prices: bool = False,
    progress: Trace | None = None,
) -> list[LeastDemand]:
    """Several pieces of least demand, sewn edges of equal length.

    What is made least is the mean of the pieces' bounds. rest: the ln stretch that pieces come to within these bounds,
    where they are free to; the pull when not given; rim, joins: lengths held to numbers and to each
    other, vertices numbered through all members in their order; seats of members that are joined lie side by side;
    prices: whether it is tried what lines that bow would ask to be straight.
    The rest as for `least_demand`; gap: as a share of the largest window. Raises ValueError when a start has a fold.
    """
    counts = [len(member.vertices) for member in members]
    base = np.concatenate([[0], np.cumsum(counts)])
    vertices = np.concatenate([member.vertices for member in members])
    triangles = np.concatenate([member.triangles + b for member, b in zip(members, base, strict=False)])
    links = [triangles] if joins is None else [triangles, _links(joins)]
    order = dissected(vertices, np.concatenate(links))
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    # One size for all meshes, so that a seat drawn larger takes the same steps and systems stay well scaled.
    size = float(np.sqrt(triangle_areas(vertices, triangles).sum()))
    ranked = rank[triangles]
    lines = Lines(
        tuple(
            replace(line, vertices=rank[line.vertices + b])
            for member, b in zip(members, base, strict=False)
            for line in member.lines
        ),
        size,
    )
    window = Window(
        (vertices[order] - vertices.mean(axis=0)) / size,
        ranked[np.argsort(ranked.min(axis=1), kind="stable")],
        pull=pull,
        rest=rest,
        ratio=np.array([member.ratio for member in members]),
        rim=None if rim is None else RimLengths(rank[rim.edges], rim.lengths / size, rim.weights),
        joins=None if joins is None else Joins(rank[joins.edges], rank[joins.others], joins.weights, joins.eased),
        part=np.repeat(np.arange(len(members)), counts)[order],
        linked=lines.stencils(),
    )
    begin = np.concatenate([member.start for member in members])[order] / size
    if not np.isfinite(window.logs(begin)).all():
        raise ValueError("the start is folded")
    straight = window.plain and not window.held
    free = np.array([member.held is None and straight for member in members])
    # Turning a piece costs nothing, but in the model it may: a pin against it would bend the step.
    pins = [_pins(member, turning=straight) for member in members]
    search = Search(window, begin, _among(pins, base, rank), free)
    if window.held:
        search.rest()
        begin = search.at.points
    headed = {k: h for k, member in enumerate(members) if (h := member.heading) is not None and not window.plain}
    if headed:
        kept = np.zeros((len(headed), len(order), 2))
        for column, (k, heading) in enumerate(headed.items()):
            own = rank[base[k] : base[k + 1]]
            kept[column, own], begin[own] = heading.across, heading.turned(begin[own])
            pins[k] = _pins(members[k], turning=True)
        search.hold(_among(pins, base, rank), kept.reshape(len(headed), -1).T)
    logs = window.logs(begin)
    spread = window.most(logs[:, 1]) + window.most(-logs[:, 0])
    # A part that is nearly flat needs room to follow its neighbours.
    room = (ROOM_HELD if window.held else ROOM) * np.maximum(spread, 0.3 * spread.max()) + 1e-9
    # A smaller piece is stretched more everywhere: shrunk or grown until its least stretch is just above the pull.
    # All alike, so that sewn edges stay of one length.
    fitted = begin * np.exp(float(logs.min()) - pull - float(room.max()))
    search.at = State(fitted, window.begun(window.needed(fitted) + room))
    if lines.lines:
        search.lines, search.most = lines, np.array([member.most for member in members])
        search.prices = prices
    search.run(gap, progress or untraced, ease=ease)
    points, reached, bought = size * search.at.points[rank], search.spreads(), search.bought
    return [
        LeastDemand(
            points[base[k] : base[k + 1]],
            float(reached[k]),
            search.steps,
            search.status,
            None if bought is None or not prices else Straightening.of(bought, k),
        )
        for k, member in enumerate(members)
    ]


def _pins(member: Member, *, turning: bool) -> IntArray:
    """Unknowns of a member that stay where they are; turning: whether it may turn."""
    return rigid_pins(member.start)[: 2 if turning else None] if member.held is None else member.held


def _among(pins: Sequence[IntArray], base: IntArray, rank: IntArray) -> IntArray:
    """Unknowns of every member as they are numbered among all."""
    return np.concatenate([renumbered(own + 2 * start, rank) for own, start in zip(pins, base, strict=False)])


def _links(joins: Joins) -> IntArray:
    """Triangles that connect joined edges, for the order of elimination."""
    (a, b), (c, d) = joins.edges.T, joins.others.T
    return np.concatenate([np.stack([a, b, c], axis=1), np.stack([b, c, d], axis=1), np.stack([a, b, d], axis=1)])
