"""The outline of a pad as a sheet says it: widths, with the diagonals of a crooked frame; a named shape; or points.
And a board that is covered flat, with its openings: the keys of [pad.board]."""

from typing import Annotated

from pydantic import Discriminator, Field, Tag

from meshes.base.units import SMALLEST_PAD_MM
from meshes.records.board import HANDS, USUAL_BOARD_MM, USUAL_WRAP_MM
from meshes.schema.text_values import NameRule, WordRule
from meshes.schema.values import CornerPoint, Flag, LengthRule, PlanPoint, Table

# More readings than anyone takes by hand; a scan is a mesh, not a list of points.
MOST_POINTS = 300
SHAPES = ("round", "d", "kidney", "traced")

PadWidth = Annotated[float, LengthRule("a pad's width or depth", least=SMALLEST_PAD_MM)]
HalfWidth = Annotated[float, LengthRule("half of a pad's width", least=SMALLEST_PAD_MM / 2)]
Diagonal = Annotated[float, LengthRule("a diagonal", least=SMALLEST_PAD_MM, most=8000.0)]
Radius = Annotated[float, LengthRule("a radius", most=2000.0)]


class RadiiInput(Table):
    front_left: Radius = 0.0
    front_right: Radius = 0.0
    rear_left: Radius = 0.0
    rear_right: Radius = 0.0


def _kind_of_radii(value: object) -> str:
    return "table" if isinstance(value, dict | RadiiInput) else "length"


Radii = Annotated[Annotated[Radius, Tag("length")] | Annotated[RadiiInput, Tag("table")], Discriminator(_kind_of_radii)]


class CornersInput(Table):
    """Places [x, y] at which two sides meet; those left out are found."""

    front_left: PlanPoint | None = None
    front_right: PlanPoint | None = None
    rear_left: PlanPoint | None = None
    rear_right: PlanPoint | None = None


class OutlineInput(Table):
    front_width: PadWidth | None = Field(
        default=None, description="Width along the front edge (bottom_width of an upright pad)."
    )
    rear_width: PadWidth | None = Field(
        default=None, description="Width along the rear edge (top_width of an upright pad)."
    )
    depth: PadWidth | None = Field(default=None, description="From the front edge to the rear edge, square on.")
    front_left: HalfWidth | None = Field(default=None, description="Left of the centre line, along the front edge.")
    front_right: HalfWidth | None = Field(default=None, description="Right of the centre line, along the front edge.")
    rear_left: HalfWidth | None = Field(default=None, description="Left of the centre line, along the rear edge.")
    rear_right: HalfWidth | None = Field(default=None, description="Right of the centre line, along the rear edge.")
    depth_left: PadWidth | None = Field(default=None, description="Depth at the left side.")
    depth_right: PadWidth | None = Field(default=None, description="Depth at the right side.")
    shape: Annotated[str, WordRule(SHAPES)] | None = Field(
        default=None,
        description="round: a circle, or an ellipse where width and depth differ; d: one straight side; kidney: one "
        "side drawn in; traced: a fair curve through points. When not given: four corners, or points joined straight.",
    )
    width: PadWidth | None = Field(default=None, description="With a shape: its width over all.")
    side: Annotated[str, WordRule(("front", "rear"))] = Field(
        default="rear", description="The straight side of a d, the side of a kidney that is drawn in."
    )
    hollow: Annotated[float, LengthRule("a hollow", above=True, most=2000.0)] | None = Field(
        default=None, description="With a kidney: how far its side is drawn in at the middle."
    )
    end_radius: Radius | None = Field(
        default=None, description="With a kidney: radius of its two ends; when not given, a third of the depth."
    )
    corners: CornersInput = Field(
        default=CornersInput(),
        description="Where the sides part on an outline without clear corners.",
    )
    middle_width: PadWidth | None = Field(default=None, description="Width half-way between front and rear.")
    diagonal_left: Diagonal | None = Field(
        default=None, description="From the front left corner to the rear right one, across the frame."
    )
    diagonal_right: Diagonal | None = Field(
        default=None, description="From the front right corner to the rear left one, across the frame."
    )
    corner_radius: Radii = Field(default=0.0, description="One radius for all corners, or a table with one for each.")
    points: list[CornerPoint] | None = Field(
        default=None, max_length=MOST_POINTS, description="Traced corners: [x, y] or [x, y, radius]."
    )
    symmetric: Flag | None = Field(
        default=None, description="true: points trace the right half only, front centre to rear centre."
    )


OpeningSize = Annotated[float, LengthRule("an opening", least=5.0, most=3000.0)]
Wrap = Annotated[float, LengthRule("how far leather is turned in", least=5.0, most=100.0)]


class OpeningInput(Table):
    name: Annotated[str, NameRule("the opening's name")] = Field(default="opening", description="What it is for.")
    shape: Annotated[str, WordRule(("round", "traced"))] | None = Field(
        default=None,
        description="round: a circle, or an ellipse where width and depth differ; traced: a fair curve through points. "
        "When not given: square on, or points joined straight.",
    )
    at: PlanPoint | None = Field(default=None, description="[x, y] of its middle, in the outline's coordinates.")
    width: OpeningSize | None = Field(default=None, description="Its width.")
    depth: OpeningSize | None = Field(
        default=None, description="From its front to its rear (bottom to top of an upright pad)."
    )
    corner_radius: Radius = Field(default=0.0, description="Radius of its corners.")
    points: list[CornerPoint] | None = Field(
        default=None, max_length=MOST_POINTS, description="Traced corners instead: [x, y] or [x, y, radius], all round."
    )
    edge: Annotated[str, WordRule(("wrap", "cut"))] = Field(
        default="wrap",
        description="wrap: leather is turned through it and glued to the back; cut: leather is cut off along its edge.",
    )
    wrap: Wrap | None = Field(default=None, description="How far leather is glued to the back there; usual: 13 mm.")


class HoleInput(Table):
    name: Annotated[str, NameRule("the hole's name")] = Field(default="hole", description="What it is for.")
    at: PlanPoint = Field(description="[x, y] of its middle, in the outline's coordinates.")
    diameter: Annotated[float, LengthRule("a hole", least=1.0, most=60.0)] = Field(description="Its diameter.")


class BoardInput(Table):
    thickness: Annotated[float, LengthRule("a board", least=0.5, most=40.0)] = Field(
        default=USUAL_BOARD_MM, description="Thickness of the board."
    )
    wrap: Wrap = Field(default=USUAL_WRAP_MM, description="How far leather is glued to the back, all round.")
    opening: list[OpeningInput] = Field(default=[], max_length=50, description="Openings of the board.")
    hole: list[HoleInput] = Field(
        default=[], max_length=100, description="Holes that are pierced once the board is covered."
    )
    pair: Annotated[str, WordRule(HANDS)] | None = Field(
        default=None, description="The hand of this board, where its mirror image is covered too; else there is one."
    )
