"""The flat working chart of a pad: its outline seen square on, carried outward over the edges and down the sides.

A place of the cover is named in two ways. On the face it is its plan position (x, y). Round the edge and down the
side it is (u, c): the place u on the outline it belongs to, and how far c it lies along the section square to the
outline, counted from where the edge begins to turn. c is measured on the padded edge, whose radius is the frame's own
edge radius plus the padding on it, so that triangles set evenly in the chart come out even on the finished seat:

    c < 0                 on the face
    0 .. turn_end(u)      round the edge; the middle of the turn is "the edge" a trimmer sees
    .. tack(u)            straight down the side to the tack line

In the plane of the chart the place (u, c) is drawn at outline(u) + normal(u) (c - edge radius). Lengths mm, angles rad.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from meshes.base.arrays import FloatArray
from meshes.base.problems import Problem, ProblemError
from meshes.base.units import place_words
from meshes.outlines.rolled_over import over_corners, over_faults
from meshes.outlines.rounded import CornersTooRoundError, RoundedOutline, rounded_outline
from meshes.outlines.turned_corner import SideSection, round_corners
from meshes.records.bands import USUAL_BANDS, CornerWord
from meshes.records.corners import CORNERS_AFTER, CornerFinish
from meshes.records.pad import SIDES, Pad, Side, hollow_radius_mm
from meshes.support.blocks import BlockBody, BlockOutlineError, FrameRim, SideWay, body_of, side_way
from meshes.support.line_roles import MIRRORED_CORNER, LineIdentity, LineRole
from meshes.support.over import RolledOver, overs_of
from meshes.support.tack import PerPlace, TackLine, below_turn, tack_line

# A join given in the sheet lies no further from the outline.
AT_OUTLINE_MM = 30.0
# At the corner of a gable both tack lines are as low within this.
FOOT_MEETS_MM = 5.0
# A band between two seams is no shorter.
LEAST_BAND_MM = 40.0
# Places of the outline nearer to each other than this share of an arc or run are one.
AT_PLACE = 1e-6
# Makes a problem of a code, the keys within the pad that it speaks of, and a text; whoever has the sheet adds file
# and line.
MakeProblem = Callable[[str, tuple[str | int, ...], str], Problem]


def make_problem_for(pad: Pad) -> MakeProblem:
    """Makes problems that name the pad, for want of a sheet."""
    return lambda code, keys, text: Problem(code, f"pad {pad.name}", text)


@dataclass(frozen=True)
class FlySpan:
    """A fly of one side: from where to where it runs along the outline (u, end above begin), and how far below the edge
    it is sewn on, mm."""

    side: str
    begin: float
    end: float
    below: float

    def holds(self, u: float, period: float) -> bool:
        """Whether a place of the outline lies on it, its ends included."""
        return float(np.mod(u - self.begin + AT_PLACE, period)) <= self.end - self.begin + 2.0 * AT_PLACE


@dataclass(frozen=True, eq=False)
class Chart:
    """Coordinates of one pad. Every callable takes u (n,) and returns (n,): radius of the bare edge, radius of the
    padded edge, turn of the cover round the edge, straight length below it, and how far below the edge the seam
    lies. corners: where front and right, right and rear, rear and left, left and front part; joins: where a band has
    a join besides; overs: the sides over which the face runs on; the seam lies at the end of their turn; flies: of the
    sides that have one; blocks: that lie on the frame, and way: how the cover goes down their sides, None without any.
    """

    outline: RoundedOutline
    radius: PerPlace
    padded_radius: PerPlace
    turn: PerPlace
    straight: PerPlace
    seam_below: PerPlace
    corners: tuple[float, float, float, float]
    joins: tuple[float, ...] = ()
    overs: tuple[RolledOver, ...] = ()
    flies: tuple[FlySpan, ...] = ()
    blocks: BlockBody | None = None
    way: SideWay | None = None

    def edge(self, u: FloatArray) -> FloatArray:
        """c of the middle of the turn."""
        return 0.5 * self.padded_radius(u) * self.turn(u)

    def turn_end(self, u: FloatArray) -> FloatArray:
        """c where the turn ends."""
        return self.padded_radius(u) * self.turn(u)

    def seam(self, u: FloatArray) -> FloatArray:
        """c of the line where face and band are sewn; on a side without band the edge itself."""
        return self.edge(u) + self.seam_below(u)

    def tack(self, u: FloatArray) -> FloatArray:
        """c of the tack line."""
        return self.turn_end(u) + self.straight(u)

    def side_at(self, u: float) -> str:
        """The side that the place u belongs to."""
        ahead = [float(np.mod(corner - u, self.outline.period)) for corner in self.corners]
        return SIDES[int(np.argmin(ahead))]

    def foot(self, u: FloatArray) -> FloatArray:
        """How far below the turn the foot of the blocks lies, 0 without any."""
        return np.zeros(len(u)) if self.way is None else self.way.at(self.way.length[:, self.way.foot], u)

    def bends(self, u: FloatArray) -> FloatArray:
        """c of the lines below the turn at which the side bends, (n, k)."""
        found = [] if self.way is None else [self.way.length[:, k] for k in self.way.bends()]
        below = [self.turn_end(u) + self.way.at(length, u) for length in found if self.way is not None]
        return np.array(below).reshape(len(found), len(u)).T

    def seam_places(self, u: FloatArray) -> FloatArray:
        """Where places of the edge seam are drawn, (n, 2) mm. Between two arcs one of them bears several numbers u."""
        return self.to_plane(u, self.seam(u))

    def to_plane(self, u: FloatArray, c: FloatArray) -> FloatArray:
        """Where (u, c) is drawn in the chart, shape (n, 2) mm."""
        return self.outline.point(u) + self.outline.normal(u) * (c - self.radius(u))[:, None]

    def from_plane(self, at: FloatArray) -> tuple[FloatArray, FloatArray]:
        """(u, c) of points (n, 2) of the chart."""
        u, inside = self.outline.nearest(at)
        c = self.radius(u) - inside
        for over in self.overs:
            u, c = over.section_places(at, u, c)
        return u, c

    def on_seam(self, at: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Points (n, 2) drawn on or all but on the edge seam, moved onto it: where they are drawn, u and c."""
        u, c = self.from_plane(at)
        c = self.seam(u)
        points = self.to_plane(u, c)
        for over in self.overs:
            moved = over.on_seam(at)
            on = over.rolled(at).on
            points[on] = moved
            own_u, own_c = over.section_places(moved, u[on], c[on])
            u[on], c[on] = own_u, own_c
        return points, u, c

    def order(self, at: FloatArray, u: FloatArray) -> FloatArray:
        """Numbers (n,) that put places of the edge seam, drawn at (n, 2), in the order of the outline; u (n,)."""
        for over in self.overs:
            u = over.order(at, u)
        return u

    def seam_corner(self, before: str, after: str) -> FloatArray:
        """Where the edge seams of two sides meet, drawn in the chart, (2,) mm."""
        for over in self.overs:
            for number, b in enumerate(over.beside):
                if {over.side, b.side} == {before, after}:
                    return np.asarray(over.draw(np.array([over.turn_end]), np.array([b.seam]), number)[0])
        u = np.array([self.outline.corner_between(before, after)])
        return np.asarray(self.to_plane(u, self.seam(u))[0])


def pad_chart(pad: Pad, padding_mm: Mapping[str, float], make_problem: MakeProblem) -> Chart:
    """Chart of a pad; padding_mm: thickness of the padding on the edge of every side.

    Raises ProblemError when corner radii and edges do not go together, or bands part where they cannot.
    """
    blocks, way = _blocks(pad, make_problem), None
    carrier = pad if blocks is None else blocks.carrier
    faults = over_faults(carrier, padding_mm, make_problem)
    if faults:
        raise ProblemError(faults)
    outline = _outline_with_room(carrier, padding_mm, make_problem)
    radius = outline.blend({s: side.edge_radius for s, side in carrier.sides.items()})
    if blocks is None:
        section = _section(pad, outline)
    else:
        frame = _outline_with_room(blocks.pad, dict.fromkeys(SIDES, 0.0), make_problem)
        way = side_way(blocks, FrameRim(frame, _section(blocks.pad, frame)), outline, radius)
        section = _way_section(way, radius)
    chart = Chart(
        outline=outline,
        radius=radius,
        padded_radius=outline.blend({s: side.edge_radius + padding_mm[s] for s, side in carrier.sides.items()}),
        turn=lambda u: section(u).turn,
        straight=lambda u: section(u).straight,
        seam_below=outline.blend({s: _seam_below(pad, s, side, padding_mm[s]) for s, side in carrier.sides.items()}),
        corners=(corners := _corners(pad, outline)),
        flies=_flies(pad, outline, corners),
        joins=tuple(outline.nearest(np.array(pad.bands.joins).reshape(-1, 2))[0].tolist()),
        overs=overs_of(carrier, outline, padding_mm),
        blocks=blocks,
        way=way,
    )
    if pad.bands != USUAL_BANDS:
        check_bands(pad, chart, make_problem)
    return chart


def _blocks(pad: Pad, make_problem: MakeProblem) -> BlockBody | None:
    """The blocks on a pad. Raises ProblemError for corners that their outlines leave no room for."""
    try:
        return body_of(pad)
    except CornersTooRoundError as fault:
        number = next(k for k, layer in enumerate(pad.layers) if layer.block is not None)
        text = (
            f"the outline of the block leaves no room for its corners: {fault}; make its overhang or its bevel smaller"
        )
        raise ProblemError([make_problem("G210", ("layer", number), text)]) from fault
    except BlockOutlineError as fault:
        own = [k for k, layer in enumerate(pad.layers) if layer.block is not None and layer.block.outline is not None]
        text = f"the block's own outline does not go with what it lies on: {fault}; let it end all along a side, "
        text += "keep it on the face, or leave outline out and write overhang"
        raise ProblemError([make_problem("G210", ("layer", own[-1], "outline"), text)]) from fault


def _section(pad: Pad, outline: RoundedOutline) -> Callable[[FloatArray], SideSection]:
    """The section of a bare frame at any places of its outline."""
    tacked = tack_line(pad, outline)

    def per_side(value: Callable[[Side], float]) -> PerPlace:
        return outline.blend({s: value(side) for s, side in pad.sides.items()})

    blended = (
        per_side(lambda side: side.edge_radius),
        per_side(lambda side: float(np.deg2rad(side.turn_deg))),
        per_side(below_turn) if tacked is None else tacked.at(outline.period),
    )
    own = {s: _own_section(pad.sides[s], s, outline, tacked) for s in SIDES}
    return lambda u: round_corners(outline, own, SideSection(*(value(u) for value in blended)), u)


def _way_section(way: SideWay, radius: PerPlace) -> Callable[[FloatArray], SideSection]:
    """The section of a body of blocks: its own edge, and the way down to the tack line."""
    return lambda u: SideSection(radius(u), way.at(way.turn, u), way.at(way.length[:, -1], u))


def _seam_below(pad: Pad, name: str, side: Side, padding_mm: float) -> float:
    """How far below the middle of its turn the seam of a side lies; where the face runs on over it, at the turn's
    end."""
    if name in pad.bands.over:
        return 0.5 * float(np.deg2rad(side.turn_deg)) * (side.edge_radius + padding_mm)
    return side.seam_below if side.band else 0.0


def _own_section(
    side: Side, name: str, outline: RoundedOutline, tacked: TackLine | None
) -> Callable[[FloatArray], SideSection]:
    """The section that one side by itself has at any places."""
    down = None if tacked is None else tacked.at(outline.period, name)

    def at(u: FloatArray) -> SideSection:
        straight = np.full(len(u), below_turn(side)) if down is None else down(u)
        return SideSection(np.full(len(u), side.edge_radius), np.full(len(u), np.deg2rad(side.turn_deg)), straight)

    return at


def _corners(pad: Pad, outline: RoundedOutline) -> tuple[float, float, float, float]:
    """Where the sides part: in the middle of the corner unless the sheet says which band it belongs to, but a band goes
    the whole way round a corner next to a side without one, because a cover that runs on over that side lies flat only
    where the side is straight."""
    places = []
    for k, (before, after) in enumerate(zip(SIDES, SIDES[1:] + SIDES[:1], strict=True)):
        middle = outline.corner_between(before, after)
        both = tuple(float(pad.sides[s].band and s not in pad.bands.over) for s in (before, after))
        lean = 0.5 * (both[0] - both[1])
        if both == (1.0, 1.0):
            lean = _lean(pad.bands.corners[k], before)
        places.append(middle + lean)
    return places[0], places[1], places[2], places[3]


def _lean(word: CornerWord | None, before: str) -> float:
    """How far past the middle of a corner two bands part, +-0.5 at its ends; before: the side that ends there."""
    if word not in ("sides", "ends"):
        return 0.0
    return 0.5 if (word == "sides") == (before in ("right", "left")) else -0.5


def _outline_with_room(pad: Pad, padding_mm: Mapping[str, float], make_problem: MakeProblem) -> RoundedOutline:
    """The pad's outline with corners round enough for the edge to turn inside them and for the chart outside hollow
    ones."""
    corners = np.asarray(pad.outline.corners)
    radii, beside = [], over_corners(pad)
    short = (0.0, 0, 0.0)
    for k, radius in enumerate(pad.outline.radii):
        both = {pad.outline.side_of_edge[k - 1], pad.outline.side_of_edge[k]}
        both = {beside[k]} if k in beside else both
        edge = max(pad.sides[s].edge_radius for s in both)
        before, here, after = corners[k - 1], corners[k], corners[(k + 1) % len(corners)]
        (ax, ay), (bx, by) = here - before, after - here
        hollow = ax * by - ay * bx < -1e-9 * float(np.linalg.norm(after - before)) ** 2
        least = max(hollow_radius_mm(pad.sides[s], padding_mm[s]) for s in both) if hollow else edge
        if hollow and radius > 0.0:
            short = max(short, (least - radius, k, least))
        radii.append(max(radius, least))
    try:
        return rounded_outline(pad.outline.corners, radii, pad.outline.side_of_edge)
    except CornersTooRoundError as fault:
        text = f"{fault}; make the corner or edge radii smaller (a corner is at least as round as its edge)"
        if short[0] > 0.0:
            k, least = short[1:]
            x, y = pad.outline.corners[k]
            text = f"the hollow at {place_words(x, y)} has a radius of {pad.outline.radii[k]:.0f} mm, and its "
            text += f"edge, padding and seam need {least:.0f} mm; make it rounder, or one of these less"
            raise ProblemError([make_problem("G111", ("outline",), text)]) from fault
        raise ProblemError([make_problem("G101", ("outline",), text)]) from fault


def _flies(pad: Pad, outline: RoundedOutline, corners: Sequence[float]) -> tuple[FlySpan, ...]:
    """The flies of a pad: each as long as its side runs straight, or up to the seam of a band or another fly there."""
    found = []
    for k, side in enumerate(SIDES):
        below = pad.fixings.fly_below(side)
        if below is None:
            continue
        begin, end = (_fly_end(pad, outline, corners, n, side) for n in ((k - 1) % len(SIDES), k))
        found.append(FlySpan(side, begin if begin < end else begin - outline.period, end, below))
    return tuple(found)


def _fly_end(pad: Pad, outline: RoundedOutline, corners: Sequence[float], corner: int, side: str) -> float:
    """Where the fly of a side ends at a corner."""
    before, after = SIDES[corner], SIDES[(corner + 1) % len(SIDES)]
    other = after if side == before else before
    if pad.fixings.fly_below(other) is not None or _seam_at(pad, corner):
        return corners[corner]
    return outline.corner_between(before, after) + (-0.5 if side == before else 0.5)


def fly_ends(pad: Pad, chart: Chart) -> list[tuple[float, LineIdentity]]:
    """The lines down the ends of flies and their places u: two flies are sewn to each other, else a fly ends free."""
    down: list[tuple[float, LineIdentity]] = []
    for span in chart.flies:
        k = SIDES.index(span.side)
        for corner, place in (((k - 1) % len(SIDES), span.begin), (k, span.end)):
            both = all(pad.fixings.fly_below(SIDES[n % len(SIDES)]) is not None for n in (corner, corner + 1))
            role = LineRole.SIDE_SEAM if both else LineRole.FLY_END
            down.append((place, LineIdentity(role, corner, MIRRORED_CORNER[corner], sewn=True)))
    return down


def _seam_at(pad: Pad, corner: int) -> bool:
    """Whether a seam runs down a corner, because a band ends there."""
    bands = [pad.sides[SIDES[n % len(SIDES)]].band for n in (corner, corner + 1)]
    return any(bands) and not (all(bands) and pad.bands.corners[corner] == "none")


def seams_down(pad: Pad, chart: Chart) -> list[tuple[float, LineIdentity]]:
    """The seams down the sides and their places u: at corners beside a band, or sewn without one, and where the sheet
    has joins."""
    down = []
    for k, (before, after, corner) in enumerate(zip(SIDES, SIDES[1:] + SIDES[:1], chart.corners, strict=True)):
        if {before, after} & set(pad.bands.over):
            # There the seam of the gable goes down the corner.
            continue
        bands = (pad.sides[before].band, pad.sides[after].band)
        if _seam_at(pad, k):
            down.append((corner, LineIdentity(LineRole.SIDE_SEAM, k, MIRRORED_CORNER[k], sewn=True)))
        elif not any(bands) and pad.folds.of(CORNERS_AFTER[k]) is CornerFinish.SEWN:
            down.append((corner, LineIdentity(LineRole.CORNER_SEAM, k, MIRRORED_CORNER[k], sewn=True)))
    for k, join in enumerate(chart.joins):
        down.append((join, LineIdentity(LineRole.JOIN, k, pad.bands.image(k), sewn=True)))
    return down


def fold_ends(pad: Pad, chart: Chart) -> list[float]:
    """Places u at which the arcs of corners that are folded begin and end."""
    folded = [u for name, u in zip(CORNERS_AFTER, chart.corners, strict=True) if pad.folds.folded(name)]
    return [float(np.mod(u + half, chart.outline.period)) for u in folded for half in (-0.5, 0.5)]


def check_bands(pad: Pad, chart: Chart, make_problem: MakeProblem) -> None:
    """Joins have to lie on bands, and leave bands long enough to sew. Raises ProblemError."""
    faults = []
    for k, (place, u) in enumerate(zip(pad.bands.joins, chart.joins, strict=True)):
        at = chart.outline.point(np.array([u]))[0]
        off, side = float(np.linalg.norm(at - place)), chart.side_at(u)
        said = f"a join at [{place[0]:g}, {place[1]:g}]"
        if off > AT_OUTLINE_MM:
            text = f"{said} is {off:.0f} mm off the outline; the nearest place of it is [{at[0]:.0f}, {at[1]:.0f}]"
            faults.append(make_problem("G116", ("bands", "joins", k), text))
        elif not pad.sides[side].band or _in_gable(chart, u):
            if _in_gable(chart, u):
                text = f"{said} is in the gable of the {pad.side_word(side)} side, which is one piece; leave it out"
                faults.append(make_problem("G187", ("bands", "joins", k), text))
                continue
            text = f"{said} is on the {pad.side_word(side)} side, which has no band; set band = true there, or move it"
            faults.append(make_problem("G116", ("bands", "joins", k), text))
    faults += [fault for over in chart.overs for fault in _foot_faults(pad, chart, over, make_problem)]
    if not faults:
        faults = _short_bands(pad, chart, make_problem)
    if faults:
        raise ProblemError(faults)


def _foot_faults(pad: Pad, chart: Chart, over: RolledOver, make_problem: MakeProblem) -> list[Problem]:
    """A gable's foot goes on from the tack line of the over-side, so both are as low at their corner: there the tack
    line goes round the gable's edge, square to the section, which lifts it where that comes back under or behind."""
    faults = []
    for number, b in enumerate(over.beside):
        across = over.section(chart.tack(over.places(np.array([over.reach[number]]))))[2][0]
        there = float(across) + b.radius * float(np.cos(over.turn))
        here = float(b.radius - b.turn_end + chart.tack(b.places(np.array([b.reach[0]])))[0])
        if abs(here - there) > FOOT_MEETS_MM:
            word = pad.side_word(b.side)
            text = (
                f"the {word} gable ends {here:.0f} mm below the face at its corner, and the face that runs on over the "
                f"{pad.side_word(over.side)} asks for {there:.0f} mm; write drop = {there:.0f} mm on the {word} side, "
                f"or the tack line of both as a base under [pad.frame]; measure there where the {word} side is to be "
                "tacked"
            )
            faults.append(make_problem("G186", ("sides", b.side, "drop"), text))
    return faults


def _in_gable(chart: Chart, u: float) -> bool:
    """Whether a place lies on the run of a side that ends in a gable."""
    beside = [b for over in chart.overs for b in over.beside]
    return any(min(b.run) - 1.0 <= u <= max(b.run) for b in beside)


def _short_bands(pad: Pad, chart: Chart, make_problem: MakeProblem) -> list[Problem]:
    """A problem for every two seams down the sides that leave no band between them."""
    down = sorted(u for u, _ in seams_down(pad, chart))
    reach = np.concatenate([[0.0], np.cumsum(chart.outline.lengths)])
    along = np.interp(down, np.arange(len(reach)), reach)
    faults = []
    for k in range(len(down) if len(down) > 1 else 0):
        room = float(np.mod(along[(k + 1) % len(down)] - along[k], reach[-1]))
        if room < LEAST_BAND_MM:
            x, y = chart.outline.point(np.array([down[k]]))[0]
            text = f"two seams of the bands leave {room:.0f} mm of a band at [{x:.0f}, {y:.0f}], the least is "
            text += f"{LEAST_BAND_MM:g}; move a join, or let the band run on round that corner (none)"
            faults.append(make_problem("G117", ("bands",), text))
    return faults
