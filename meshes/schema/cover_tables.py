"""Tables of a sheet about the cover and what is made of it: leather cards, ease, cuts, allowances, output."""

from typing import Annotated

from pydantic import Field

from meshes.records.coverings import ROLL_WIDTH_MM
from meshes.records.pad import CORNERS
from meshes.records.seam_kinds import SEAM_KINDS
from meshes.schema.pad_tables import Oversize
from meshes.schema.text_values import CardNameRule, MarkRule, NameRule, NamesRule, SourceRule, TextRule, WordRule
from meshes.schema.values import CountRule, Flag, LengthRule, NumberRule, PlanPoint, Table, WeighedRule

PAGES = ("a4", "letter", "a3")
LEAST_ROLL_MM, MOST_ROLL_MM = 200.0, 5000.0

Allowed = Annotated[float, LengthRule("an allowance", most=200.0)]
Fraction = Annotated[float, NumberRule("a stretch, as a fraction", least=0.0, most=0.6, percent=True)]
Stiffness = Annotated[float, NumberRule("a stiffness", least=0.01, most=1000.0, unit="N/mm")]


CARD_NUMBERS = ("thickness", "stretch_along", "stretch_across", "pull", "stiffness_along", "stiffness_across")


class CardNumbers(Table):
    """What a leather card says: the shop's own numbers."""

    thickness: Annotated[float, LengthRule("leather", least=0.3, most=8.0)] = Field(description="Thickness.")
    stretch_along: Fraction = Field(description="Most it may be stretched along the backbone: 0.06 is 6 %.")
    stretch_across: Fraction = Field(description="Most it may be stretched across the backbone.")
    pull: Fraction = Field(description="Least stretch that keeps it smooth: 0.01 is 1 %.")
    stiffness_along: Stiffness | None = Field(
        default=None, description="Pull along the backbone in N per mm of width for a stretch of 1 (5 %: a twentieth)."
    )
    stiffness_across: Stiffness | None = Field(default=None, description="The same across the backbone.")
    source: Annotated[str | dict[str, str], SourceRule(CARD_NUMBERS)] = Field(
        default="", description="Where the numbers come from: one text, or a table with a text for each number."
    )


class CardInput(CardNumbers):
    name: Annotated[str, NameRule("the leather's name")] = Field(description="What the leather is called.")


class CardFileInput(Table):
    """A file of leather cards: [card.NAME] for each."""

    unit: Annotated[str, WordRule(("mm", "in"))] = Field(
        default="mm", description="Unit of numbers written without one."
    )
    card: dict[Annotated[str, NameRule("the leather's name")], CardNumbers] = Field(description="Cards by name.")


class RollInput(Table):
    width: Annotated[float, LengthRule("the width of the goods", least=200.0, most=4000.0)] = Field(
        default=ROLL_WIDTH_MM, description="Width of the roll."
    )
    usable: Annotated[float, LengthRule("the usable width", least=100.0, most=4000.0)] | None = Field(
        default=None, description="What is usable of it between the selvedges; not given: 30 mm less than its width."
    )


class CoverInput(Table):
    leather: Annotated[str, CardNameRule("a leather card")] | None = Field(
        default=None, description="Name of a built-in leather card, or a file of cards: FILE.toml or FILE.toml:NAME."
    )
    card: CardInput | None = Field(default=None, description="The shop's own leather instead of a built-in card.")
    roll: RollInput | None = Field(
        default=None, description="The leather is roll goods: direction and right side are fixed."
    )
    grain_window: Annotated[float, NumberRule("a grain window", least=0.0, most=90.0, unit="degrees")] = Field(
        default=0.0,
        description="Degrees by which a piece may lie off the backbone, to either side, when that asks less of it.",
    )
    tension: Annotated[float, NumberRule("a tension", least=0.0, most=3000.0, unit="N/m")] | None = Field(
        default=None, description="Tension of the cover in N per m of width; not given: it follows from the leather."
    )


class CoveringInput(Table):
    panels: Annotated[list[str], NamesRule("names of panels", 100)] = Field(
        description='Panels as the report has them, or "faces", "bands", "flies", "hidden parts", "welt"; parts of a '
        "cut panel follow it."
    )
    leather: Annotated[str, CardNameRule("a leather card")] = Field(
        description="Name of a built-in leather card, or a file of cards: FILE.toml or FILE.toml:NAME."
    )
    roll: RollInput | None = Field(default=None, description="It is roll goods: direction and right side are fixed.")


class EaseInput(Table):
    seam: Annotated[str, TextRule("the name of a seam")] = Field(description="The seam, as the report has it.")
    longer: Annotated[str, TextRule("the name of a panel")] = Field(description="The panel whose edge is cut longer.")
    by: Annotated[float, NumberRule("ease, as a fraction", least=0.0, most=0.015, percent=True)] = Field(
        description="By what share: 0.01 is 1 %. More than 1.5 % shows."
    )


class SeamInput(Table):
    seam: Annotated[str, TextRule("the name of a seam")] | None = Field(
        default=None, description="The seam, as the report has it; left out: every seam that has no table of its own."
    )
    kind: Annotated[str, WordRule(SEAM_KINDS)] = Field(description="How it is sewn.")
    over: Annotated[str, TextRule("the name of a panel")] | None = Field(
        default=None, description="The panel that the allowances are turned under, or that laps over the other."
    )
    turned: Flag = Field(default=False, description="Whether the upper edge of a lapped seam is turned under.")
    allowance: Allowed | None = Field(
        default=None, description="Allowance of both edges; of a lapped seam that of the lower edge."
    )


class ReliefInput(Table):
    panel: Annotated[str, TextRule("the name of a panel")] = Field(
        description="The panel to be cut, as the report has it."
    )
    apply: Annotated[int, CountRule("the number of a proposal", 1, 20)] = Field(
        description="Which proposal of `trimloft relief` is cut, counted from 1."
    )


# How an amount counts that is taken in or let out.
EACH_LAYER, IN_ALL = "each layer", "in all"
# What is seen at a dry fit.
LOOSE, DIMPLE, DRAG_LINE = "loose", "dimple", "drag line"
CORNER_EMPTY, OFF_RIDGE = "corner empty", "seam off the ridge"
FOUND = (LOOSE, DIMPLE, DRAG_LINE, CORNER_EMPTY, OFF_RIDGE)
# More than this is no correction: something was measured wrong.
MOST_FITTED_MM = 60.0


class FitInput(Table):
    round: Annotated[int, CountRule("the round of fitting", 1, 99)] = Field(
        description="Which dry fit it was noted at, counted from 1; amounts of several rounds add up."
    )
    piece: Annotated[str, TextRule("the name of a piece")] = Field(
        description="The piece, as the cut list or the report has it."
    )
    edge: Annotated[str, TextRule("the name of an edge")] | None = Field(
        default=None, description="Its edge, as it is written along it."
    )
    from_: Annotated[str, MarkRule("the mark where it begins")] | None = Field(
        default=None, alias="from", description='The mark where it begins: 3, "centre", "corner towards left band".'
    )
    to: Annotated[str, MarkRule("the mark where it ends")] | None = Field(
        default=None, description="The mark where it ends; beyond both it runs out to the next mark."
    )
    take_in: Annotated[float, LengthRule("what is taken in", above=True, most=MOST_FITTED_MM)] | None = Field(
        default=None, description="By how much the stitch line goes into the piece between the two marks."
    )
    let_out: Annotated[float, LengthRule("what is let out", above=True, most=MOST_FITTED_MM)] | None = Field(
        default=None, description="By how much it goes out."
    )
    counted: Annotated[str, WordRule((EACH_LAYER, IN_ALL))] = Field(
        default=EACH_LAYER, description="Whether each layer of a seam takes the amount, or both together."
    )
    alone: Flag = Field(
        default=False,
        description="Whether it is off on this side alone; a mirrored pair is then cut as two pieces, one moved.",
    )
    found: Annotated[str, WordRule(FOUND)] | None = Field(default=None, description="What was seen.")
    towards: Annotated[str, TextRule("where a drag line runs")] | None = Field(
        default=None, description="Of a drag line: the edge or corner it runs to."
    )
    stretched: Fraction | None = Field(
        default=None, description="By what share the leather was found stretched under its pull: 0.04 is 4 %."
    )
    way: Annotated[str, WordRule(("along", "across"))] = Field(
        default="along", description="Of that stretch: along or across the backbone."
    )
    padding: Annotated[float, LengthRule("padding", least=-MOST_FITTED_MM, most=MOST_FITTED_MM)] | None = Field(
        default=None, description="By how much the padding is to be higher there, between the marks; below 0 lower."
    )
    taper: Annotated[float, LengthRule("taper", above=True)] | None = Field(
        default=None,
        description="Of such padding: over how much it runs out around; without it 80 mm or 8 times as much.",
    )


# A strip as the worksheet has it: its width, and how far its marks are apart.
STRIP_WIDTH_MM, STRIP_MARKS_MM = 50.0, 200.0
StripRow = Annotated[
    tuple[float, ...], WeighedRule(("between the marks with it", "between the marks after it"), most_kg=50.0)
]


class StripInput(Table):
    way: Annotated[str, WordRule(("along", "across"))] = Field(
        description="Whether the strip was cut along the backbone or across it."
    )
    width: Annotated[float, LengthRule("the width of a strip", least=10.0, most=200.0)] = Field(
        default=STRIP_WIDTH_MM, description="Width of the strip."
    )
    marks: Annotated[float, LengthRule("the distance of the marks", least=50.0, most=1000.0)] = Field(
        default=STRIP_MARKS_MM, description="Between its two marks before any weight."
    )
    readings: list[StripRow] = Field(
        min_length=3,
        max_length=30,
        description="A row for every weight, rising: kg, between the marks after 5 minutes with it, and 5 without.",
    )


class AllowanceInput(Table):
    sewn: Allowed = Field(
        default=12.0, description="Where two pieces are sewn together; 1/2 in where the sheet is in inches."
    )
    welted: Allowed = Field(
        default=12.0, description="Where they are sewn with welt between; 1/2 in where the sheet is in inches."
    )
    pulled: Allowed = Field(
        default=50.0, description="Beyond the tack line, to grip and fold under; 2 in where the sheet is in inches."
    )
    closed: Allowed = Field(default=25.0, description="Where an edge is closed by hand after fitting.")
    zip: Allowed = Field(default=19.0, description="Folded back beside a zip.")
    flap: Allowed = Field(default=76.0, description="Of a band that is folded back over the end of a zip.")
    blind: Allowed = Field(default=20.0, description="Where an edge is blind-tacked over a strip of card.")
    ringed: Allowed = Field(default=25.0, description="Turned round a wire that is hog-ringed to the frame.")
    clipped: Allowed = Field(default=12.0, description="Where an edge clip is sewn on.")
    glued: Allowed = Field(default=22.0, description="Turned over and glued.")
    corded: Allowed = Field(default=20.0, description="Turned over as a hem for a draw cord.")
    corner: Annotated[str, WordRule(CORNERS)] = Field(
        default="square", description="How the cut line turns at a corner."
    )
    notch_spacing: Annotated[float, LengthRule("notch spacing", least=20.0, most=1000.0)] = Field(
        default=120.0, description="Distance between notches along a seam; 5 in where the sheet is in inches."
    )
    foam: Oversize = Field(
        default=12.7, description="By how much foam is cut larger than the pad on every side; firm foam half of it."
    )


class OutputInput(Table):
    page: Annotated[str, WordRule(PAGES)] = Field(
        default="a4", description="Page of the tiled patterns; Letter where the sheet is in inches."
    )
    overlap: Annotated[float, LengthRule("an overlap")] = Field(
        default=10.0, description="How far neighbouring pages overlap."
    )
    roll_width: Annotated[float, LengthRule("a roll's width", least=LEAST_ROLL_MM, most=MOST_ROLL_MM)] = Field(
        default=914.0, description="Width of the roll paper."
    )
    dxf: Annotated[str, WordRule(("R2000", "R12"))] = Field(default="R2000", description="Version of the DXF file.")
    mesh: Annotated[float, LengthRule("the mesh size", least=1.0, most=40.0)] = Field(
        default=6.0, description="Edge length of the triangles the seat is computed with."
    )


# Numbers of a hide that no hide has: a calf skin to the largest bull, m2 (the trade sells 0.5 to 7).
LEAST_HIDE_M2, MOST_HIDE_M2 = 0.05, 9.0
FLAW_GRADES = ("hole", "cut", "unusable", "hidden", "mark")
ZONES = ("butt", "shoulder", "neck", "belly", "flank")
SEEN = ("face", "band", "side", "rear", "hidden")
TOOLS = ("knife", "table", "shears")
HIDE_POINTS = 2000


class FlawInput(Table):
    kind: Annotated[str, TextRule("what the flaw is")] = Field(description="What it is: brand, scar, hole, vein.")
    grade: Annotated[str, WordRule(FLAW_GRADES)] = Field(
        description="hole, cut, unusable: never covered; hidden: only for rear or hidden pieces; mark: told."
    )
    at: PlanPoint | None = Field(default=None, description="Middle of a round flaw.")
    radius: Annotated[float, LengthRule("the radius of a flaw", least=1.0, most=1000.0)] | None = Field(
        default=None, description="Radius of a round flaw."
    )
    points: list[PlanPoint] | None = Field(
        default=None, min_length=3, max_length=HIDE_POINTS, description="Instead: its outline, as its chalk ring runs."
    )


class ZoneInput(Table):
    name: Annotated[str, WordRule(ZONES)] = Field(description="Which part of the hide.")
    points: list[PlanPoint] = Field(min_length=3, max_length=HIDE_POINTS, description="Its outline.")


class PinInput(Table):
    piece: Annotated[str, TextRule("the name of a piece")] = Field(description="Pad and piece, as in the cut list.")
    number: Annotated[int, CountRule("the number of a piece", 1, 99)] = Field(
        default=1, description="Which of several alike."
    )
    at: PlanPoint = Field(description="Where the middle of its box lies, in the hide's own coordinates.")
    turn: Annotated[float, NumberRule("a turn", least=-360.0, most=360.0, unit="degrees")] = Field(
        default=0.0, description="Degrees its arrow is turned off the backbone towards the neck, counter-clockwise."
    )


class HideInput(Table):
    name: Annotated[str, NameRule("the hide's name")] = Field(description="What the hide is called.")
    outline: list[PlanPoint] | None = Field(
        default=None, min_length=3, max_length=HIDE_POINTS, description="Traced points all round, grain side up."
    )
    area: Annotated[float, NumberRule("a hide", least=LEAST_HIDE_M2, most=MOST_HIDE_M2, unit="m2")] | None = Field(
        default=None, description="Instead: measured area in m2; a usual outline is scaled to it."
    )
    file: Annotated[str, TextRule("the name of a drawing")] | None = Field(
        default=None,
        description="Instead: an SVG or DXF drawing, or a TOML file with the keys of this table, named from the sheet.",
    )
    scale: Annotated[float, NumberRule("a scale", least=0.0001, most=10000.0, unit="mm per unit")] | None = Field(
        default=None, description="Millimetres of hide for one unit of the drawing."
    )
    leather: Annotated[str, TextRule("the leather of a hide")] | None = Field(
        default=None, description="Which leather it is, by its card's name; not given: the sheet's own."
    )
    backbone: list[PlanPoint] | None = Field(
        default=None, min_length=2, max_length=2, description="Two points of the backbone, tail first, neck second."
    )
    thickness: Annotated[float, LengthRule("leather", least=0.3, most=8.0)] | None = Field(
        default=None, description="Thickness as measured."
    )
    zone: list[ZoneInput] = Field(default=[], description="Zones as drawn; without one they follow from the backbone.")
    flaw: list[FlawInput] = Field(default=[], description="Flaws.")
    pin: list[PinInput] = Field(default=[], description="Pieces that stay where they are put.")


class PlacingInput(Table):
    pieces: Annotated[list[str], NamesRule("names of pieces", 100)] = Field(
        description='Pieces as the cut list has them with their pads, or "welt", "test strips".'
    )
    seen: Annotated[str, WordRule(SEEN)] | None = Field(default=None, description="How it is seen on the seat.")
    zones: Annotated[list[str], NamesRule("zones", len(ZONES))] | None = Field(
        default=None, description="Zones it may come from."
    )
    turn: Annotated[float, NumberRule("a turn", least=0.0, most=180.0, unit="degrees")] | None = Field(
        default=None, description="How far its arrow may lie off the backbone; 180 is any way."
    )


class CuttingInput(Table):
    tool: Annotated[str, WordRule(TOOLS)] = Field(
        default="knife", description="What cuts: a knife or a table needs 3 mm between pieces, shears 6."
    )
    gap: Annotated[float, LengthRule("the gap between pieces", least=0.5, most=50.0)] | None = Field(
        default=None, description="Between cut lines; not given: it follows from the tool."
    )
    rim: Annotated[float, LengthRule("the margin along the rim", most=200.0)] = Field(
        default=15.0, description="What is left along the rim of a hide."
    )
    chalk: Annotated[float, LengthRule("the margin round a flaw", most=100.0)] = Field(
        default=5.0, description="What is left outside the chalk ring of a flaw."
    )
    pair_apart: Annotated[float, LengthRule("how far a pair may lie apart", above=True, most=5000.0)] = Field(
        default=400.0, description="A mirrored pair is told from so far off its mirrored place on."
    )
    neighbours_apart: Annotated[float, LengthRule("how far neighbours may lie apart", above=True, most=5000.0)] = Field(
        default=300.0, description="Parts of one face sewn to each other are told from so much leather between them on."
    )
    prices: Annotated[str, TextRule("the name of a price table")] | None = Field(
        default=None, description="A price table (CSV: item, price, per) beside the sheet, for the order list."
    )
