"""What a measurement sheet says of one pad, as frozen records: outline, profiles, sides, layers, inset,
lines.

Lengths are float mm, angles degrees. Sides are always named front, right, rear and left; on an upright pad
(backrest, side) a trimmer says bottom for front and top for rear, which `Pad.side_word` turns back.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from meshes.base.frozen_map import FrozenMap
from meshes.base.plane import Point
from meshes.records.bands import USUAL_BANDS, Bands
from meshes.records.board import Board
from meshes.records.built_up import Continues
from meshes.records.closed import Closed
from meshes.records.corners import NO_FOLDS, Folds
from meshes.records.frame import AS_EVER, PLAIN_FRAME, Fixings, Frame
from meshes.records.pleats import Pleats
from meshes.records.springs import Springs

BolsterWord = Literal["mitred", "sides", "ends"]
BOLSTER_WORDS = ("mitred", "sides", "ends")
LAYER_FORMS = ("laid over", "block")
SIDES = ("front", "right", "rear", "left")
KINDS = ("cushion", "backrest", "side")
# The side that mirrors each; front and rear mirror themselves.
MIRROR_SIDE = {"left": "right", "right": "left"}
# How allowances end at corners of a piece.
CORNERS = ("square", "round", "mitre")
# Kinds that stand: they have a bottom and a top where a cushion has a front and a rear.
UPRIGHT = ("backrest", "side")
_UPRIGHT_WORDS = {"front": "bottom", "rear": "top"}


@dataclass(frozen=True)
class Outline:
    """The pad seen square on: a counter-clockwise polygon that begins at the front left corner and goes to
    the front right one. radii: one per corner; side_of_edge: side of the pad that the edge from corner k
    to k + 1 belongs to.
    """

    corners: tuple[Point, ...]
    radii: tuple[float, ...]
    side_of_edge: tuple[str, ...]
    symmetric: bool


@dataclass(frozen=True)
class Profile:
    """Heights measured along a straight line over the bare support: (place, height) by rising place.

    direction "along": place is y, `at` is x; "across": place is x, `at` is y.
    """

    direction: Literal["along", "across"]
    at: float
    points: tuple[Point, ...]


def front_right(outline: Outline) -> int:
    """Number of the corner at which front and right part."""
    sides = outline.side_of_edge
    return next(k for k in range(len(sides)) if (sides[k - 1], sides[k]) == ("front", "right"))


def mirrored_outline(outline: Outline) -> Outline:
    """An outline left for right; it too begins at its front left corner and runs on to the front right one."""
    count, last = len(outline.corners), front_right(outline)
    order = [(last - k) % count for k in range(count)]
    sides = [outline.side_of_edge[k - 1] for k in order]
    return Outline(
        tuple((0.0 - outline.corners[k][0], outline.corners[k][1]) for k in order),
        tuple(outline.radii[k] for k in order),
        tuple(MIRROR_SIDE.get(side, side) for side in sides),
        outline.symmetric,
    )


def mirrored_profile(profile: Profile) -> Profile:
    """A profile left for right."""
    if profile.direction == "along":
        return replace(profile, at=0.0 - profile.at)
    return replace(profile, points=tuple((0.0 - x, z) for x, z in reversed(profile.points)))


@dataclass(frozen=True)
class Side:
    """One side: drop from the edge to the tack line, radius of the bare edge, how far the cover turns round
    it, and how the cover is divided there. seam_below counts from the middle of the turn, on the padded
    surface. gap: from where the springs end to the rail of this side, gap_depth: how far padding can sink there;
    cloth: whether cloth carries it over the gap, cloth_fixed: to the "springs", with which it goes down, or "frame".
    """

    drop: float = 100.0
    edge_radius: float = 10.0
    turn_deg: float = 90.0
    band: bool = False
    seam_below: float = 0.0
    welt: bool = False
    closed_by_hand: bool = False
    gap: float = 0.0
    gap_depth: float = 0.0
    cloth: bool = False
    cloth_fixed: Literal["springs", "frame"] = "frame"

    @property
    def lead(self) -> float:
        """What the turn takes of the drop, mm. The drop counts from where face and side would meet square.

        Up to a quarter turn the side begins where its tangent leaves the turn; past that the tape follows the turn.
        """
        turn, quarter = math.radians(self.turn_deg), 0.5 * math.pi
        if turn <= quarter:
            return self.edge_radius * math.tan(0.5 * turn)
        return self.edge_radius * (1.0 + turn - quarter)


def hollow_radius_mm(side: Side, padding_mm: float) -> float:
    """The least radius, mm, of a hollow corner of the outline at this side: the padded edge turns inside it, and the
    seam below it still has a line of its own."""
    turned = 0.5 * math.radians(side.turn_deg) * (side.edge_radius + padding_mm)
    return turned + (side.seam_below if side.band else 0.0) - side.edge_radius + 1.0


@dataclass(frozen=True)
class Block:
    """A layer that is cut from sheet foam and keeps its form. overhang: how far its lower edge lies out beyond the
    outline of the pad, inward below 0; bevel_deg: how far its sides lean in from upright, towards the top; edge_radius:
    its upper edges are rolled to it, 0 leaves them square; top: profiles of a crown, heights above the flat top;
    edges: (side, radius) of sides whose upper edge has one of its own.
    """

    overhang: float = 0.0
    bevel_deg: float = 0.0
    edge_radius: float = 0.0
    top: tuple[Profile, ...] = ()
    edges: tuple[tuple[str, float], ...] = ()

    def edge_at(self, side: str) -> float:
        """Radius of its upper edge at one side."""
        return dict(self.edges).get(side, self.edge_radius)

    @property
    def roundest_mm(self) -> float:
        """The largest radius of its upper edges."""
        return max(self.edge_at(side) for side in SIDES)

    def lean_mm(self, thickness: float) -> float:
        """How far the upper edge lies inside the lower one."""
        return thickness * math.tan(math.radians(self.bevel_deg))

    def mirrored(self) -> "Block":
        """The block left for right."""
        edges = tuple(sorted((MIRROR_SIDE.get(side, side), radius) for side, radius in self.edges))
        return replace(self, top=tuple(mirrored_profile(profile) for profile in self.top), edges=edges)


@dataclass(frozen=True)
class Layer:
    """One padding layer. where: "all", "face" or a side; within: on the face, within this distance of that
    side's edge; taper: the distance over which it runs out; below: how far past the edge it is carried before that;
    oversize: by how much it is cut larger than the pad, None for the usual of its material; sewn: it is sew foam with
    scrim, sewn to plain panels and cut as their pieces are; block: its own form, None for one that is laid over and
    follows what it lies on.
    """

    material: str
    thickness: float
    where: str
    within: float | None
    taper: float
    below: float = 0.0
    oversize: float | None = None
    sewn: bool = False
    block: Block | None = None

    def mirrored(self) -> "Layer":
        """The layer left for right."""
        where = MIRROR_SIDE.get(self.where, self.where)
        return replace(self, where=where, block=None if self.block is None else self.block.mirrored())


@dataclass(frozen=True)
class Inset:
    """An inset panel: its margins from the outline (0: it runs to that side) and the radius of its corners; tied: the
    seam round it is tied down onto the padding; bolsters: "mitred" at its corners, or butted, those of the "sides" or
    of the "ends" (front and rear) going on past the others.
    """

    front: float
    rear: float
    left: float
    right: float
    corner_radius: float
    welt: bool
    tied: bool = False
    bolsters: BolsterWord = "mitred"


@dataclass(frozen=True)
class ExtraLine:
    """An extra seam line over the face, in the outline's coordinates; tied: it is tied down onto the padding."""

    name: str
    points: tuple[Point, ...]
    welt: bool
    tied: bool = False


@dataclass(frozen=True)
class SeatPose:
    """Where a pad sits in the seat: its origin, its rake (back, about its own left-right axis), and which way it faces
    about the upright axis."""

    origin: tuple[float, float, float] = (0.0, 0.0, 0.0)
    rake_deg: float = 0.0
    facing_deg: float = 0.0


@dataclass(frozen=True)
class Wanted:
    """What the sheet asks of a pad beyond its own measures. radius: how round, in mm, the settled cover is to go over
    its ridges; finished_height: the most it is to stand above its origin; continues: which neighbour it goes on from;
    leader: the pad whose valleys its pleats follow, as that was measured."""

    radius: float | None = None
    finished_height: float | None = None
    continues: Continues | None = None
    leader: "Pad | None" = None


NOTHING_WANTED = Wanted()


@dataclass(frozen=True)
class Pad:
    """One upholstered block as it was measured.

    symmetric: left and right are the same in every respect. Then `lines` hold the right half only (x >= 0)
    and profiles may; otherwise both hold the whole pad. springs: None on board; frame: how
    its rim and its tack lines run; bands: where they part; folds: how its corners are finished where the cover runs
    over the edge; closed: a cover without a frame, board: one that is covered flat; at most one of both is there;
    fixings: how its outer edges are held.
    """

    name: str
    kind: Literal["cushion", "backrest", "side"]
    pose: SeatPose
    outline: Outline
    profiles: tuple[Profile, ...]
    sides: Mapping[str, Side]
    layers: tuple[Layer, ...]
    inset: Inset | None
    lines: tuple[ExtraLine, ...]
    symmetric: bool = True
    pleats: Pleats | None = None
    springs: Springs | None = None
    wanted: Wanted = NOTHING_WANTED
    frame: Frame = PLAIN_FRAME
    folds: Folds = NO_FOLDS
    closed: Closed | None = None
    bands: Bands = USUAL_BANDS
    board: Board | None = None
    fixings: Fixings = AS_EVER

    def __post_init__(self) -> None:
        object.__setattr__(self, "sides", FrozenMap(self.sides))

    @property
    def on_frame(self) -> bool:
        """Whether it is padded on a frame and its cover tacked there; a closed cover and a flat board are not."""
        return self.closed is None and self.board is None

    @property
    def origin(self) -> tuple[float, float, float]:
        """Where the pad sits in the seat, mm."""
        return self.pose.origin

    @property
    def rake_deg(self) -> float:
        """How far it leans back."""
        return self.pose.rake_deg

    @property
    def facing_deg(self) -> float:
        """Which way it faces, about the upright axis."""
        return self.pose.facing_deg

    @property
    def wanted_radius(self) -> float | None:
        """How round, in mm, the settled cover is to go over its ridges."""
        return self.wanted.radius

    @property
    def finished_height(self) -> float | None:
        """The most it is to stand above its origin, mm."""
        return self.wanted.finished_height

    @property
    def continues(self) -> Continues | None:
        """Which neighbour it goes on from."""
        return self.wanted.continues

    @property
    def leader(self) -> "Pad | None":
        """The pad whose valleys its pleats follow."""
        return self.wanted.leader

    def side_word(self, side: str) -> str:
        """What a trimmer calls this side of this pad: "rear" is the "top" of an upright pad."""
        return side_word(side, self.kind)


def side_word(side: str, kind: str) -> str:
    """What a trimmer calls a side of a pad of this kind."""
    return _UPRIGHT_WORDS.get(side, side) if kind in UPRIGHT else side


def upright_key(key: str) -> str:
    """A key that names front or rear in the words of an upright pad: front_width is bottom_width."""
    word, mark, rest = key.partition("_")
    return _UPRIGHT_WORDS.get(word, word) + mark + rest


def usual_key(key: str) -> str:
    """The other way round: bottom_width is front_width, top is rear."""
    word, mark, rest = key.partition("_")
    back = {upright: usual for usual, upright in _UPRIGHT_WORDS.items()}
    return back.get(word, word) + mark + rest
