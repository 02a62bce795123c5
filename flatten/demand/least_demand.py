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
from typing import Self

import numpy as np

from flatten.demand.fairness import Line, Lines
from flatten.demand.length_penalty import Joins, RimLengths
from flatten.demand.search import Search
from flatten.demand.straightening import straightening_of
from flatten.demand.window import State, Terms, Window
from flatten.maps.flat import Straightening
from flatten.maps.pose import Heading
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


@dataclass(frozen=True, eq=False)
class Member:
    """A piece that is sought, by itself or with others.

    vertices (n, 3) mm, triangles (m, 3), start (n, 2) mm, without folds, counter-clockwise everywhere, as the result
    is; ratio: how the bound on ln stretch differs along x and along y of the piece; held: unknowns (2 x vertex + 0 for
    x, + 1 for y) that stay as they are, a centre line on x = 0 for one; without it a rigid motion is held; heading:
    which way it stays turned; lines: that should come out fair or straight; most: bound that is not to be gone beyond
    for lines to come out straight.
    """

    vertices: FloatArray
    triangles: IntArray
    start: FloatArray
    ratio: tuple[float, float] = (1.0, 1.0)
    held: IntArray | None = None
    heading: Heading | None = None
    lines: tuple[Line, ...] = ()
    most: float = float("inf")

    def pins(self, *, turning: bool) -> IntArray:
        """Unknowns that stay where they are; turning: whether it may turn."""
        return rigid_pins(self.start)[: 2 if turning else None] if self.held is None else self.held


def least_demand(
    member: Member,
    terms: Terms | None = None,
    *,
    gap: float = GAP,
    ease: bool = True,
    progress: Trace | None = None,
) -> LeastDemand:
    """One piece of least demand; arguments as for `least_demands`."""
    return least_demands([member], terms, gap=gap, ease=ease, progress=progress)[0]


def least_demands(
    members: Sequence[Member],
    terms: Terms | None = None,
    *,
    gap: float = GAP,
    ease: bool = True,
    prices: bool = False,
    progress: Trace | None = None,
) -> list[LeastDemand]:
    """Several pieces of least demand, sewn edges of equal length.

    What is made least is the mean of the pieces' bounds. terms: what is asked of all; lengths held to numbers and to
    each other have their vertices numbered through all members in their order, and seats of members that are joined lie
    side by side; gap: how close to the best, as a share of the largest window, ln(largest / smallest stretch); ease:
    whether the freedom left is used; prices: whether it is tried what lines that bow would ask to be straight. progress
    hears the steps and the spread reached. Raises ValueError when a start
    has a fold.
    """
    terms = terms or Terms()
    whole = _Whole.of(members, terms)
    lines = whole.lines()
    window = whole.window(terms, lines)
    begin = np.concatenate([member.start for member in members])[whole.order] / whole.size
    if not np.isfinite(window.logs(begin)).all():
        raise ValueError("the start is folded")
    search = _headed(whole, window, begin)
    _make_room(search, window)
    if lines.lines:
        search.lines, search.most = lines, np.array([member.most for member in members])
        search.prices = prices
    search.run(gap, progress or untraced, ease=ease)
    points, reached = whole.size * search.at.points[whole.rank], search.spreads()
    return [
        LeastDemand(
            points[whole.base[k] : whole.base[k + 1]],
            float(reached[k]),
            search.steps,
            search.status,
            straightening_of(search.bought, k) if prices and search.bought is not None else None,
        )
        for k in range(len(members))
    ]


@dataclass(frozen=True, eq=False)
class _Whole:
    """Members numbered as one, in the order in which their vertices are eliminated: base (k + 1,): where each begins;
    order (n,): which vertex comes at each place; rank (n,): the place of each; size: mm of the unit of length."""

    members: Sequence[Member]
    vertices: FloatArray
    triangles: IntArray
    base: IntArray
    order: IntArray
    rank: IntArray
    size: float

    @classmethod
    def of(cls, members: Sequence[Member], terms: Terms) -> Self:
        """Of members that may be joined."""
        base = np.concatenate([[0], np.cumsum([len(member.vertices) for member in members])])
        vertices = np.concatenate([member.vertices for member in members])
        triangles = np.concatenate([member.triangles + b for member, b in zip(members, base, strict=False)])
        links = [triangles] if terms.joins is None else [triangles, _links(terms.joins)]
        order = dissected(vertices, np.concatenate(links))
        rank = np.empty_like(order)
        rank[order] = np.arange(len(order))
        # One size for all meshes, so that a seat drawn larger takes the same steps and systems stay well scaled.
        size = float(np.sqrt(triangle_areas(vertices, triangles).sum()))
        return cls(members, vertices, triangles, base, order, rank, size)

    def lines(self) -> Lines:
        """Lines of all members that should come out fair or straight."""
        return Lines(
            tuple(
                replace(line, vertices=self.rank[line.vertices + b])
                for member, b in zip(self.members, self.base, strict=False)
                for line in member.lines
            ),
            self.size,
        )

    def window(self, terms: Terms, lines: Lines) -> Window:
        """The window of all members."""
        rank, rim, joins = self.rank, terms.rim, terms.joins
        if rim is not None:
            rim = RimLengths(rank[rim.edges], rim.lengths / self.size, rim.weights)
        if joins is not None:
            joins = Joins(rank[joins.edges], rank[joins.others], joins.weights, joins.eased)
        ranked = rank[self.triangles]
        return Window(
            (self.vertices[self.order] - self.vertices.mean(axis=0)) / self.size,
            ranked[np.argsort(ranked.min(axis=1), kind="stable")],
            replace(terms, rim=rim, joins=joins),
            ratio=np.array([member.ratio for member in self.members]),
            part=np.repeat(np.arange(len(self.members)), np.diff(self.base))[self.order],
            linked=lines.stencils(),
        )

    def among(self, pins: Sequence[IntArray]) -> IntArray:
        """Unknowns of every member as they are numbered among all."""
        rows = zip(pins, self.base, strict=False)
        return np.concatenate([renumbered(own + 2 * start, self.rank) for own, start in rows])


def _headed(whole: _Whole, window: Window, begin: FloatArray) -> Search:
    """The search from points (n, 2), lengths brought near to what is asked for, headings held."""
    members = whole.members
    straight = window.plain and not window.held
    free = np.array([member.held is None and straight for member in members])
    # Turning a piece costs nothing, but in the model it may: a pin against it would bend the step.
    pins = [member.pins(turning=straight) for member in members]
    search = Search(window, begin, whole.among(pins), free)
    if window.held:
        search.rest()
        begin = search.at.points
    headed = {k: h for k, member in enumerate(members) if (h := member.heading) is not None and not window.plain}
    if headed:
        kept, begin = np.zeros((len(headed), len(begin), 2)), begin.copy()
        for column, (k, heading) in enumerate(headed.items()):
            own = whole.rank[whole.base[k] : whole.base[k + 1]]
            kept[column, own], begin[own] = heading.across, heading.turned(begin[own])
            pins[k] = members[k].pins(turning=True)
        search.system.hold(whole.among(pins), kept.reshape(len(headed), -1).T)
    search.at = replace(search.at, points=begin)
    return search


def _make_room(search: Search, window: Window) -> None:
    """Bounds, and a size of the map at the beginning, that leave it room to both sides."""
    begin = search.at.points
    logs = window.logs(begin)
    spread = window.most(logs[:, 1]) + window.most(-logs[:, 0])
    # A part that is nearly flat needs room to follow its neighbours.
    room = (ROOM_HELD if window.held else ROOM) * np.maximum(spread, 0.3 * spread.max()) + 1e-9
    # A smaller piece is stretched more everywhere: shrunk or grown until its least stretch is just above the pull.
    # All alike, so that sewn edges stay of one length.
    fitted = begin * np.exp(float(logs.min()) - window.pull - float(room.max()))
    search.at = State(fitted, window.begun(window.needed(fitted) + room))


def _links(joins: Joins) -> IntArray:
    """Triangles that connect joined edges, for the order of elimination."""
    (a, b), (c, d) = joins.edges.T, joins.others.T
    return np.concatenate([np.stack([a, b, c], axis=1), np.stack([b, c, d], axis=1), np.stack([a, b, d], axis=1)])
