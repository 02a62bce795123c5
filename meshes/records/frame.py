"""What a sheet says of the frame under a pad: how its rim runs, where the cover is tacked to it and how its outer edges
are held, where a neighbour hides it, and posts that the cover goes round.

Lengths mm, heights above the pad's own zero. A side whose fixing is not named is held as ever: pulled down and tacked,
or closed by hand. Widths of fixings are common practice without a source unless another code is given.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from meshes.base.arrays import FloatArray
from meshes.base.plane import Point
from meshes.records.corners import MIRROR_CORNER

RimWord = Literal["fair", "carried"]
TackWord = Literal["straight", "parallel"]


@dataclass(frozen=True)
class BasePlane:
    """The plane in which a frame stands and a cover is tacked: height + along y + across x."""

    height: float
    along: float = 0.0
    across: float = 0.0

    def at(self, plan: FloatArray) -> FloatArray:
        """Its height (n,) at plan positions (n, 2)."""
        return np.asarray(self.height + plan[:, 1] * self.along + plan[:, 0] * self.across)


@dataclass(frozen=True)
class Frame:
    """rim: "fair" through the ends of the profiles and fair between them, "carried" as the profiles' form goes on,
    None as usual; tack: "straight" where the frame is, "parallel" to the rim, None as usual; base: the plane of the
    tack lines, for the sides `based` on it; drops: of a side, (place, drop) by rising place: x of front and rear, y of
    left and right."""

    rim: RimWord | None = None
    tack: TackWord | None = None
    base: BasePlane | None = None
    based: tuple[str, ...] = ()
    drops: tuple[tuple[str, tuple[Point, ...]], ...] = ()

    def drops_of(self, side: str) -> tuple[Point, ...]:
        """The drops measured along one side; none where it has one for all."""
        return dict(self.drops).get(side, ())

    def mirrored(self) -> "Frame":
        """The same left for right."""
        other = {"left": "right", "right": "left"}
        base = self.base
        drops = []
        for side, points in self.drops:
            turned = points if side in other else tuple((0.0 - x, drop) for x, drop in points[::-1])
            drops.append((other.get(side, side), turned))
        return Frame(
            self.rim,
            self.tack,
            None if base is None else BasePlane(base.height, base.along, 0.0 - base.across),
            tuple(sorted(other.get(side, side) for side in self.based)),
            tuple(sorted(drops)),
        )


PLAIN_FRAME = Frame()


STAPLED, FLY, BY_HAND = "stapled", "fly", "closed by hand"
# Fixings of an edge as a sheet names them, and what kind of edge a piece then has.
FIXED = {
    STAPLED: "pulled",
    "hog-ringed": "ringed",
    "edge clip": "clipped",
    "glued": "glued",
    "draw cord": "corded",
    "blind-tacked": "blind",
    BY_HAND: "closed",
}
# Under a board staples stand 15 to 20 from the edge of its underside.
USUAL_UNDER_MM = 18.0
# The seam of a fly lies 1 to 2 in below the crease (M: from memory), so that it stays out of sight.
USUAL_PAST_MM = 40.0
# A fly is a strip of cloth, 4 to 6 in deep (M: from memory), its seam allowance in it.
USUAL_STRIP_MM = 120.0
# A side is mirrored by itself unless it is one of these.
_MIRROR = {"left": "right", "right": "left"}


@dataclass(frozen=True)
class Post:
    """A post that stands against the cover. at: its middle, x on front and rear, y on left and right; width: along the
    side; down: how far below the edge it meets the cover, None for where the neighbour hides it; row: of the sheet."""

    side: str
    at: float
    width: float
    down: float | None = None
    row: int = field(default=0, compare=False)

    def mirrored(self) -> "Post":
        """The same left for right."""
        if self.side in _MIRROR:
            return replace(self, side=_MIRROR[self.side])
        return replace(self, at=0.0 - self.at)


@dataclass(frozen=True)
class CornerPost:
    """A post at a corner. width: along front or rear; depth: along left or right. With `down` it stands against the
    sides, `width` wide, and meets the cover so far below the edge; without it stands in the corner, through the cover,
    square with the sides or, `turned`, with a face `width` wide to the middle. row: of the sheet."""

    corner: str
    width: float
    depth: float = 0.0
    down: float | None = None
    turned: bool = False
    row: int = field(default=0, compare=False)

    @property
    def through(self) -> bool:
        """Whether it stands in the corner and comes up through the cover."""
        return self.down is None

    def mirrored(self) -> "CornerPost":
        """The same left for right."""
        return replace(self, corner=MIRROR_CORNER[self.corner])


@dataclass(frozen=True)
class Fixings:
    """sides: words of FIXED or "fly", of the sides that have one; creases: by side how far below the edge a neighbour
    hides it; under: how far in under a board staples stand; past: how far past the crease leather goes on before a fly;
    strip: width of a fly as it is cut; posts: in the cover's way, along the sides; corner_posts: at
    corners."""

    sides: tuple[tuple[str, str], ...] = ()
    creases: tuple[tuple[str, float], ...] = ()
    under: float = USUAL_UNDER_MM
    past: float = USUAL_PAST_MM
    strip: float = USUAL_STRIP_MM
    posts: tuple[Post, ...] = ()
    corner_posts: tuple[CornerPost, ...] = ()

    def of(self, side: str) -> str | None:
        """The fixing of a side; None where the sheet does not name one."""
        return dict(self.sides).get(side)

    def crease(self, side: str) -> float:
        """How far below its edge a side is hidden from."""
        return dict(self.creases).get(side, 0.0)

    def fly_below(self, side: str) -> float | None:
        """How far below the edge the fly of a side is sewn on; None where it has none."""
        return self.crease(side) + self.past if self.of(side) == FLY else None

    def post_down(self, post: Post) -> float:
        """How far below the edge a post meets the cover."""
        return self.crease(post.side) if post.down is None else post.down

    def mirrored(self) -> "Fixings":
        """The same left for right."""
        sides = tuple(sorted((_MIRROR.get(side, side), word) for side, word in self.sides))
        creases = tuple(sorted((_MIRROR.get(side, side), down) for side, down in self.creases))
        return replace(
            self,
            sides=sides,
            creases=creases,
            posts=_ordered(post.mirrored() for post in self.posts),
            corner_posts=_by_corner(post.mirrored() for post in self.corner_posts),
        )

    @property
    def ordered(self) -> "Fixings":
        """The same with everything in one order, to be compared."""
        return replace(
            self,
            sides=tuple(sorted(self.sides)),
            creases=tuple(sorted(self.creases)),
            posts=_ordered(self.posts),
            corner_posts=_by_corner(self.corner_posts),
        )


def _ordered(posts: Iterable[Post]) -> tuple[Post, ...]:
    return tuple(sorted(posts, key=lambda post: (post.side, post.at, post.width)))


def _by_corner(posts: Iterable[CornerPost]) -> tuple[CornerPost, ...]:
    return tuple(sorted(posts, key=lambda post: (post.corner, post.width)))


AS_EVER = Fixings()
