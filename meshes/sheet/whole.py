"""A whole measurement sheet as frozen records: its pads, and what is chosen for leather, allowances, paper, seams."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from meshes.base.frozen_map import FrozenMap
from meshes.base.plane import Point
from meshes.base.problems import Key, Problem
from meshes.base.units import Unit, place_words
from meshes.fitting.notes import FitNote
from meshes.fitting.strips import StripTest
from meshes.hides.records import HidePlan
from meshes.records.coverings import CoveringChoice, RollGoods
from meshes.records.materials import BUILT_IN, Material
from meshes.records.pad import Pad
from meshes.records.seam_kinds import SewnAs
from meshes.schema.words import SheetPlaces

# The card used when the sheet names none.
USUAL_LEATHER = "furniture"


@dataclass(frozen=True)
class CardEntry:
    """The shop's own leather: thickness mm; stretch and pull as fractions (0.06 is 6 %); stiffness N/mm, None where
    it was not measured; source: one text for all numbers, or one for each."""

    name: str
    thickness: float
    stretch_along: float
    stretch_across: float
    pull: float
    source: str | Mapping[str, str] = ""
    stiffness_along: float | None = None
    stiffness_across: float | None = None


@dataclass(frozen=True)
class LeatherChoice:
    """The leather: the name of a built-in card or of a file of cards, or the shop's own numbers; grain_window_deg: how
    far a piece may lie off the backbone; tension: of the fitted cover in N/m, None to have it follow from the
    leather."""

    leather: str | None = USUAL_LEATHER
    card: CardEntry | None = None
    grain_window_deg: float = 0.0
    tension: float | None = None


@dataclass(frozen=True)
class Ease:
    """Fullness to be worked into a seam: the panel whose edge is cut longer, and by what share (0.01 is 1 %)."""

    seam: str
    longer: str
    by: float


@dataclass(frozen=True)
class ReliefCut:
    """A dart or seam to be made: the panel, and which of the proposals for it, counted from 1."""

    panel: str
    apply: int


@dataclass(frozen=True)
class Control:
    """A tape laid over a pad and what it read. way: "along" the pad at x = at or "across" it at y = at, from tack line
    to tack line, from edge to edge (the middle of the turn) or right round it, its girth; "round" it, so far below the
    edge; "between" two places of its face; over: the bare "support", the "padding", or the "cover" on it; length: the
    tape's reading, mm; follows: it was pressed into hollows, where a taut one bridges them."""

    pad: str
    way: Literal["along", "across", "round", "between"]
    over: Literal["support", "padding", "cover"]
    length: float
    at: float | None = None
    ends: Literal["tack lines", "edges", "girth"] = "tack lines"
    start: Point | None = None
    end: Point | None = None
    below: float = 0.0
    follows: bool = False

    @property
    def words(self) -> str:
        """Where it lies, in words."""
        on = {"support": "bare support", "padding": "padding", "cover": "cover"}[self.over]
        if self.way == "round":
            return f"round the {on}, {self.below:g} mm below the edge"
        if self.start is not None and self.end is not None:
            start, end = (place_words(*at) for at in (self.start, self.end))
            return f"over the {on} from {start} to {end}"
        place = f"{'x' if self.way == 'along' else 'y'} = {self.at or 0.0:g} mm"
        if self.ends == "girth":
            return f"{self.way} at {place} right round the {on}"
        return f"{self.way} at {place} over the {on}, between its {self.ends}"


@dataclass(frozen=True)
class Allowance:
    """Allowances by kind of edge, corner style and notch spacing, mm; foam: by how much foam is cut larger than the
    pad."""

    sewn: float = 12.0
    welted: float = 12.0
    pulled: float = 50.0
    closed: float = 25.0
    zip: float = 19.0
    flap: float = 76.0
    blind: float = 20.0
    ringed: float = 25.0
    clipped: float = 12.0
    glued: float = 22.0
    corded: float = 20.0
    corner: Literal["square", "round", "mitre"] = "square"
    notch_spacing: float = 120.0
    foam: float = 12.7


@dataclass(frozen=True)
class Output:
    """Paper, file and computing choices; lengths in mm."""

    page: Literal["a4", "letter", "a3"] = "a4"
    overlap: float = 10.0
    roll_width: float = 914.0
    dxf: Literal["R2000", "R12"] = "R2000"
    mesh: float = 6.0


# What a shop that works in inches takes where its sheet is silent: whole fractions of an inch, as its ruler has them,
# nearest to the widths in millimetres (common practice, no source).
ALLOWANCE_BY_UNIT: Mapping[Unit, Allowance] = {
    "mm": Allowance(),
    "in": Allowance(
        sewn=12.7,
        welted=12.7,
        pulled=50.8,
        closed=25.4,
        zip=19.05,
        flap=76.2,
        blind=19.05,
        ringed=25.4,
        clipped=12.7,
        glued=22.225,
        corded=19.05,
        notch_spacing=127.0,
    ),
}
OUTPUT_BY_UNIT: Mapping[Unit, Output] = {
    "mm": Output(),
    "in": Output(page="letter", overlap=9.525, roll_width=914.4),
}


@dataclass(frozen=True)
class Sheet:
    """A whole measurement sheet. materials: built-in ones and the sheet's own by name; warnings: what was
    found worth knowing while reading; revision: a mark that changes with any value of the sheet, and with nothing else;
    tables: what it was read from, kept where tapes are to be explained, else empty.
    """

    name: str
    unit: Unit
    path: Path
    pads: tuple[Pad, ...]
    cover: LeatherChoice = LeatherChoice()
    allowance: Allowance = Allowance()
    output: Output = Output()
    materials: Mapping[str, Material] = field(default_factory=lambda: BUILT_IN)
    warnings: tuple[Problem, ...] = ()
    places: SheetPlaces = field(default_factory=lambda: SheetPlaces("", {}), repr=False)
    cuts: tuple[ReliefCut, ...] = ()
    eases: tuple[Ease, ...] = ()
    seams: tuple[SewnAs, ...] = ()
    coverings: tuple[CoveringChoice, ...] = ()
    roll: RollGoods | None = None
    fits: tuple[FitNote, ...] = ()
    strips: tuple[StripTest, ...] = ()
    hides: HidePlan = field(default_factory=HidePlan)
    revision: str = ""
    controls: tuple[Control, ...] = ()
    tables: Mapping[str, Any] = field(default_factory=dict, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "materials", FrozenMap(self.materials))

    def line_of(self, *keys: Key) -> int | None:
        """Line of a key such as ("pad", 0, "profile", 1, "points"), or of the nearest table above it in the
        file.
        """
        return self.places.line_of(*keys)

    def problem(self, code: str, keys: Sequence[Key], text: str, warning: bool = False) -> Problem:
        """A problem at a place of this sheet, with its words, file and line."""
        return self.places.problem(code, keys, text, warning=warning)
