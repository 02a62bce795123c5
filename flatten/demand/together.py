"""Pieces that share seams, sought together, so that both sides of every seam come out of one length.

No side is asked for a length beforehand: each seam takes, edge by edge, the length that costs its two pieces least. A
dome keeps its seam; a saddle, whose middle would bag if its rim were held, stretches it, and its neighbour follows.
Panels that are the same left and right are halves here, and of mirrored panels one stands for both.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatten.coverings.covering import Coverings
from flatten.coverings.pulls import shared_pull, shared_rest
from flatten.demand.fair_lines import lines_of, on_half
from flatten.demand.least_demand import Member, least_demands
from flatten.demand.length_penalty import Joins
from flatten.demand.options import PrecomputedMap
from flatten.demand.window import Terms
from flatten.leather.card import Card
from flatten.leather.grain import carried, carrying, chosen, even_backbone, upright
from flatten.leather.pleat_grain import pleats_of, running, with_pleats
from flatten.leather.stretch import stretch
from flatten.maps.flat import Flat
from flatten.maps.halves import Half, halved, right_half
from flatten.maps.pose import Heading
from meshes.base.arrays import FloatArray, IntArray
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel, Seam
from meshes.seat.seam_sides import ease_of, sides_of
from meshes.sheet.whole import Ease


@dataclass(frozen=True, eq=False)
class _Seat:
    """A panel as it takes part: its half, if it is one; number (n,): of its vertices among the member's, -1 for those
    that are not there; backbone (2,) on the start."""

    panel: Panel
    member: Member
    half: Half | None
    number: IntArray
    backbone: FloatArray

    def backbone_on(self, points: FloatArray) -> FloatArray:
        """The backbone's direction (2,) on a map of the panel (n, 2): to the seat's grain direction as on the start."""
        heading = self.member.heading
        return self.backbone if heading is None else heading.followed(self.backbone, points)


@dataclass(frozen=True)
class SewingTerms:
    """What is asked of panels that are sewn together. gap: how close to the least, as a share of the largest window;
    window_deg: by how much the backbone may lie off the seat's grain direction, to either side; eases: fullness that is
    to be worked into seams; tension_n_per_mm: what the pieces are to pull with where they are free to;
    coverings: what every panel is cut from; own_wishes: whether each leather has its own tension, as it does where the
    sheet gives none; prices: whether it is tried what lines that bow would ask to be straight."""

    gap: float
    window_deg: float = 0.0
    eases: Sequence[Ease] = ()
    tension_n_per_mm: float = 0.0
    prices: bool = False
    own_wishes: bool = False
    coverings: Coverings | None = None

    def card(self, panel: str, usual: Card) -> Card:
        """The card a panel is cut from."""
        return usual if self.coverings is None else self.coverings.card(panel)

    def wish(self, card: Card, usual: Card) -> float:
        """The tension wished for in N/mm of a panel of this card, which may have one of its own."""
        if self.own_wishes and card.name != usual.name:
            return card.tension_n_per_mm
        return self.tension_n_per_mm


def together(pad: BuiltPad, flats: Mapping[str, Flat], card: Card, asked: SewingTerms) -> dict[str, PrecomputedMap]:
    """Least demand for all panels of one pad, sewn edges of equal length, by panel name; mirrored panels left out.

    flats: a good map of every panel that is no mirror image; asked: what the panels are asked.
    """
    drawn = [panel for panel in pad.panels if panel.mirror_of is None]
    cards = {p.name: asked.card(p.name, card) for p in drawn}
    rolls = {p.name for p in drawn if asked.coverings is not None and asked.coverings.of(p.name).roll is not None}
    seats = {
        p.name: _seat(pad, p, flats[p.name].points, cards[p.name], 0.0 if p.name in rolls else asked.window_deg)
        for p in drawn
    }
    each = list(cards.values())
    rest = float(np.log1p(shared_rest(each, [asked.wish(one, card) for one in each])))
    terms = Terms(float(np.log1p(shared_pull(each))), rest, joins=_joins(pad, seats, asked.eases))
    best = least_demands([seat.member for seat in seats.values()], terms, gap=asked.gap, prices=asked.prices)
    found = {}
    for (name, seat), one in zip(seats.items(), best, strict=True):
        points = one.points if seat.half is None else seat.half.unfolded(one.points)
        found[name] = PrecomputedMap(points, seat.backbone_on(points), one.steps, one.status, one.straightening)
    return found


def _joins(pad: BuiltPad, seats: Mapping[str, _Seat], eases: Sequence[Ease]) -> Joins | None:
    """All sewn edges, numbered through all members; None when there are none."""
    base, start = {}, 0
    for name, seat in seats.items():
        base[name] = start
        start += len(seat.member.vertices)
    by_name = {panel.name: panel for panel in pad.panels}
    rows, eased = [], []
    for seam in pad.seams:
        if (row := _joined(seam, by_name, seats, base)) is not None:
            rows.append(row)
            eased.append(np.full(len(row[2]), np.log1p(ease_of(seam, by_name, eases))))
    if not rows:
        return None
    edges, others, lengths = (np.concatenate(part) for part in zip(*rows, strict=True))
    return Joins(edges, others, lengths / lengths.sum(), np.concatenate(eased))


def _seat(pad: BuiltPad, panel: Panel, points: FloatArray, card: Card, window_deg: float) -> _Seat:
    """A panel laid to the grain; points (n, 2): a good map of it."""
    vertices, triangles = panel.surface.vertices, panel.surface.triangles
    least = min(card.limits)
    along, across = (limit / least for limit in card.limits)
    half = None if panel.mirror is None else right_half(vertices, triangles, panel.mirror)
    mine = None if half is None else halved(half, points)
    pleats, even = pleats_of(pad, panel), None
    run = None if pleats is None else running(pleats, panel)
    if half is not None and mine is not None:
        even = even_backbone(_middle(panel, run, half.unfolded(mine)), window_deg)
    if half is None or mine is None or even is None:
        field, middle = stretch(vertices, points, triangles), _middle(panel, run, points)
        backbone = chosen(field, float(np.log1p(card.pull)), middle, window_deg, card.limits)
        start = upright(points, backbone)
        weights = carrying(vertices, triangles, panel.grain) if run is None else run
        heading, lines = Heading.on(start, weights), tuple(lines_of(pad, panel, points))
        member = Member(vertices, triangles, start, ratio=(across, along), heading=heading, lines=lines, most=least)
        return _Seat(panel, member, None, np.arange(len(vertices)), np.array([0.0, 1.0]))
    number = np.full(len(vertices), -1)
    number[half.vertices] = np.arange(len(half.vertices))
    ratio = (along, across) if even[0] else (across, along)
    lines = tuple(on_half(line, half) for line in lines_of(pad, panel, points))
    member = Member(vertices[half.vertices], half.triangles, mine, ratio=ratio, held=half.held(), lines=lines)
    member = replace(member, most=least)
    return _Seat(panel, member, half, number, even)


def _middle(panel: Panel, run: FloatArray | None, points: FloatArray) -> FloatArray:
    """The direction (2,) on a map (n, 2) that the backbone should follow: of the pleats (their run (n,)), if the panel
    has some, else of the seat's grain."""
    if run is not None:
        return with_pleats(panel, run, points)
    return carried(panel.surface.vertices, panel.surface.triangles, points, panel.grain)


def _joined(
    seam: Seam, panels: Mapping[str, Panel], seats: Mapping[str, _Seat], base: Mapping[str, int]
) -> tuple[IntArray, IntArray, FloatArray] | None:
    """Edges of both sides, numbered through all members, and their lengths on the seat; None when a seam's edges are
    those of another, mirrored, or of a piece and its own mirror image."""
    sides = []
    for name, run in sides_of(seam, panels):
        panel = panels[name]
        source = panel.mirror_of or name
        sides.append((panel, source, run))
    (a, first, run), (b, second, other) = sides
    mirrored = [panel.mirror_of is not None for panel in (a, b)]
    if (first == second and any(mirrored)) or (all(mirrored)):
        return None
    numbers = [seats[source].number[path] for source, path in ((first, run), (second, other))]
    edges = [np.stack([n[:-1], n[1:]], axis=1) for n in numbers]
    there = np.all([(e >= 0).all(axis=1) for e in edges], axis=0)
    if not there.any():
        return None
    lengths = np.linalg.norm(np.diff(a.surface.vertices[run], axis=0), axis=1)
    return edges[0][there] + base[first], edges[1][there] + base[second], lengths[there]
