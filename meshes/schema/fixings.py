"""How the edges of a cover are finished, as it is written in a sheet: its corners, [pad.folds], its outer edges,
[pad.fixing], and the posts of the frame that stand in its way, [[pad.post]]."""

from collections.abc import Mapping, Sequence
from typing import Annotated

from pydantic import Field

from meshes.base.problems import KeyPath
from meshes.base.units import SAME_MM
from meshes.records.corners import CORNERS_AFTER, MIRROR_CORNER, SAID_FINISHES, CornerFinish, Folds
from meshes.records.frame import FIXED, FLY, USUAL_PAST_MM, USUAL_STRIP_MM, USUAL_UNDER_MM, CornerPost, Fixings, Post
from meshes.records.pad import SIDES
from meshes.schema.text_values import WordRule
from meshes.schema.values import Flag, LengthRule, Table
from meshes.schema.words import Faults

HeldHow = Annotated[str, WordRule((*FIXED, FLY))]


_Finish = Annotated[str, WordRule(SAID_FINISHES)]


class FoldsInput(Table):
    all: _Finish | None = Field(
        default=None,
        description="Finish of all four corners: drawn (clean on the diagonal, pleats under the board), single or "
        "double (folds), or sewn (cut away and sewn down the corner). When none is named: drawn up to 50 mm of "
        "padding, single on more, at every corner between two sides without a band.",
    )
    front_left: _Finish | None = Field(default=None, description="Finish of this corner.")
    front_right: _Finish | None = Field(default=None, description="Finish of this corner.")
    rear_right: _Finish | None = Field(default=None, description="Finish of this corner.")
    rear_left: _Finish | None = Field(default=None, description="Finish of this corner.")
    clearance: Annotated[float, LengthRule("a clearance", most=50.0)] | None = Field(
        default=None, description="Between the board and the rail round it, on each side."
    )
    rail: Flag = Field(
        default=False,
        description="A rail lies round the board; without a clearance it leaves 3 mm on each side of a thin covering "
        "on thin padding, 6 mm of leather, 9 mm of leather on padding of more than 25 mm.",
    )


def folds_record(given: FoldsInput, symmetric: bool) -> Folds:
    """How the corners are finished; on a symmetric outline left copies right, and right left, where one is said."""
    said = {corner: getattr(given, corner) for corner in CORNERS_AFTER}
    if symmetric:
        said = {corner: word or said[MIRROR_CORNER[corner]] for corner, word in said.items()}
    words = {corner: word or given.all for corner, word in said.items()}
    finishes = tuple((corner, CornerFinish(word)) for corner, word in words.items() if word)
    return Folds(finishes, given.clearance, given.rail or given.clearance is not None)


class FixingInput(Table):
    front: HeldHow | None = Field(
        default=None, description="How the cover is held at this side; left out: pulled down and tacked."
    )
    right: HeldHow | None = Field(default=None, description="How the cover is held at this side.")
    rear: HeldHow | None = Field(default=None, description="How the cover is held at this side.")
    left: HeldHow | None = Field(default=None, description="How the cover is held at this side.")
    under: Annotated[float, LengthRule("how far in staples stand", most=100.0)] = Field(
        default=USUAL_UNDER_MM, description="Stapled: how far in under the board, from the edge of its underside."
    )
    past: Annotated[float, LengthRule("how far leather goes past the crease", most=200.0)] = Field(
        default=USUAL_PAST_MM, description="A fly: how far past the crease the leather goes on before it."
    )
    strip: Annotated[float, LengthRule("the strip of a fly", least=30.0, most=500.0)] = Field(
        default=USUAL_STRIP_MM, description="A fly: how wide its strip is cut, seam allowance included."
    )


_PostCorner = Annotated[str, WordRule((*CORNERS_AFTER, "bottom_left", "bottom_right", "top_left", "top_right"))]


class PostInput(Table):
    side: Annotated[str, WordRule((*SIDES, "bottom", "top"))] | None = Field(
        default=None, description="The side it stands at; or else its corner."
    )
    at: Annotated[float, LengthRule("a place along a side", least=-5000.0)] | None = Field(
        default=None, description="At a side: its middle, x on front and rear, y on left and right."
    )
    corner: _PostCorner | None = Field(default=None, description="The corner it stands at, in place of a side.")
    width: Annotated[float, LengthRule("a post", above=True, most=500.0)] = Field(
        description="How wide it is along the side; in a corner along front or rear, turned the face to the middle."
    )
    depth: Annotated[float, LengthRule("a post", above=True, most=500.0)] | None = Field(
        default=None, description="In a corner: how deep it is along left or right."
    )
    turned: Flag = Field(
        default=False, description="In a corner: it stands across, a face of its width to the middle of the pad."
    )
    down: Annotated[float, LengthRule("how far down a post meets the cover", most=1000.0)] | None = Field(
        default=None, description="How far below the edge it meets the cover; left out: at the crease of its side."
    )


def fixings_record(
    given: FixingInput,
    creases: Mapping[str, float],
    posts: tuple[Sequence[Post], Sequence[CornerPost]],
    *,
    even: bool,
) -> Fixings:
    """How the outer edges are held. posts: at sides and at corners; even: the outline is the same left and right, so
    left copies right, right copies left, and posts of one half stand on the other too."""
    said = {side: getattr(given, side) for side in SIDES}
    if even:
        said["left"], said["right"] = said["left"] or said["right"], said["right"] or said["left"]
    found, corners = list(posts[0]), list(posts[1])
    if even:
        halves = {_half(post) for post in found}
        if len(halves - {0}) == 1:
            found += [post.mirrored() for post in found if _half(post)]
        if len({post.corner.split("_")[1] for post in corners}) == 1:
            corners += [post.mirrored() for post in corners]
    named = tuple((side, word) for side, word in said.items() if word is not None)
    return Fixings(named, tuple(creases.items()), given.under, given.past, given.strip, tuple(found), tuple(corners))


def post_records(
    given: Sequence[PostInput | None], keys: KeyPath, faults: Faults
) -> tuple[list[Post], list[CornerPost]]:
    """Posts at sides and posts at corners; what cannot be one of both is told. keys: of the pad."""
    posts: list[Post] = []
    corners: list[CornerPost] = []
    for k, one in enumerate(given):
        if one is None:
            continue
        wrong = _not_a_post(one)
        if wrong is not None:
            faults.add("G206", (*keys, "post", k), wrong)
        elif one.corner is not None:
            corners.append(CornerPost(one.corner, one.width, one.depth or 0.0, one.down, one.turned, row=k))
        elif one.side is not None and one.at is not None:
            posts.append(Post(one.side, one.at, one.width, one.down, row=k))
    return posts, corners


def _not_a_post(given: PostInput) -> str | None:
    """Why the place of a post is not told, or told twice; None where it is told once."""
    inside = given.depth is not None or given.turned
    if given.corner is None:
        if given.side is None or given.at is None:
            return "no place; write side and at, or corner"
        return "depth and turned belong to a post at a corner; write corner in place of side and at" if inside else None
    if given.side is not None or given.at is not None:
        return "a side and a corner; write side and at, or corner alone"
    if given.depth is not None and given.turned:
        return "a depth, and turned, whose width is that of its face; keep one of them"
    if inside and given.down is not None:
        return "a post in the corner comes up through the cover, so down has no meaning; leave out down, or its depth"
    if not inside and given.down is None:
        return (
            "how it stands is not said; write depth or turned = true where it comes up in the corner, or down where "
            "it meets the cover below the edge"
        )
    return None


def _half(post: Post) -> int:
    """On which half a post stands: 1 right, -1 left, 0 on the centre line."""
    if post.side in ("left", "right"):
        return 1 if post.side == "right" else -1
    return 0 if abs(post.at) <= SAME_MM else 1 if post.at > 0.0 else -1
