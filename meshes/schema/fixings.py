"""How the edges of a cover are finished, as it is written in a sheet: its corners, [pad.folds], its outer edges,
[pad.fixing], and the posts of the frame that stand in its way, [[pad.post]]."""

from collections.abc import Mapping, Sequence
from typing import Annotated

from pydantic import Field

from meshes.base.units import SAME_MM
from meshes.records.corners import CORNERS_AFTER, MIRROR_CORNER, CornerFinish, Folds
from meshes.records.frame import FIXED, FLY, USUAL_PAST_MM, USUAL_STRIP_MM, USUAL_UNDER_MM, Fixings, Post
from meshes.records.pad import SIDES
from meshes.schema.text_values import WordRule
from meshes.schema.values import Flag, LengthRule, Table

HeldHow = Annotated[str, WordRule((*FIXED, FLY))]


_Finish = Annotated[str, WordRule(tuple(CornerFinish))]


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


class PostInput(Table):
    side: Annotated[str, WordRule((*SIDES, "bottom", "top"))] = Field(description="The side it stands at.")
    at: Annotated[float, LengthRule("a place along a side", least=-5000.0)] = Field(
        description="Its middle: x on front and rear, y on left and right."
    )
    width: Annotated[float, LengthRule("a post", above=True, most=500.0)] = Field(
        description="How wide it is along the side."
    )
    down: Annotated[float, LengthRule("how far down a post meets the cover", most=1000.0)] | None = Field(
        default=None, description="How far below the edge it meets the cover; left out: at the crease of its side."
    )


def fixings_record(
    given: FixingInput, creases: Mapping[str, float], posts: Sequence[PostInput], *, even: bool
) -> Fixings:
    """How the outer edges are held. even: the outline is the same left and right, so left copies right, right copies
    left, and posts of one half stand on the other too."""
    said = {side: getattr(given, side) for side in SIDES}
    if even:
        said["left"], said["right"] = said["left"] or said["right"], said["right"] or said["left"]
    found = [Post(post.side, post.at, post.width, post.down) for post in posts]
    if even:
        halves = {_half(post) for post in found}
        if len(halves - {0}) == 1:
            found += [post.mirrored() for post in found if _half(post)]
    named = tuple((side, word) for side, word in said.items() if word is not None)
    return Fixings(named, tuple(creases.items()), given.under, given.past, given.strip, tuple(found))


def _half(post: Post) -> int:
    """On which half a post stands: 1 right, -1 left, 0 on the centre line."""
    if post.side in ("left", "right"):
        return 1 if post.side == "right" else -1
    return 0 if abs(post.at) <= SAME_MM else 1 if post.at > 0.0 else -1
