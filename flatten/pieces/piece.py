"""A flat piece as it is drawn and cut: sew line, cut line, marks, inner lines, texts, grain.

Coordinates are mm, seen from the outer (grain) side of the leather, y along the grain arrow. Drawing a
piece is one function (`flatten.draw.marks.draw_piece`) on one pen protocol; every paper format and every measurement
goes through it, so that they cannot disagree.
"""

from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from meshes.base.arrays import FloatArray, IntArray, locked_floats, locked_ints

# Between the slits of a doubled notch; slits of two marks nearer than this would tear into one.
SLITS_APART_MM = 6.0
# What gauges are cut from.
CARD = "card"
# Which side of the leather lies up when a piece is cut.
GRAIN_UP, FLESH_UP = "right side (grain) up", "flesh side up"


class EdgeKind(StrEnum):
    """What happens at an edge of a piece; decides its allowance."""

    SEWN = "sewn"
    WELTED = "welted"
    TOPSTITCHED = "topstitched"
    DOUBLE_TOPSTITCHED = "double topstitched"
    LAPPED_OVER = "lapped over"
    LAPPED_UNDER = "lapped under"
    PULLED = "pulled"
    CLOSED = "closed"
    ZIP = "zip"
    FLAP = "flap"
    BLIND = "blind"
    RINGED = "ringed"
    CLIPPED = "clipped"
    GLUED = "glued"
    CORDED = "corded"
    BARE = "bare"
    OVERSIZE = "oversize"
    MITRED = "mitred"
    FOLDED = "folded"
    WRAPPED = "wrapped"


# What a board is called where what is cut for it is listed.
BOARD = "board"


class PieceKind(StrEnum):
    """What a piece is of."""

    COVER = "piece"
    BACKING = "backing"
    FILLER = "filler"
    TEST_STRIP = "test strip"
    PADDING = "padding shape"
    GAUGE = "gauge"


class LineKind(StrEnum):
    """What a line inside a piece is for; each kind has its own layer on paper."""

    INNER = "inner"
    STITCH = "stitch line"
    CREST = "crest"
    JOIN = "join"
    BACKING = "backing line"
    BEVEL = "bevel line"
    ROUNDING = "rounding line"
    FOLD = "fold line"
    ROW = "row of thread"
    GLUE = "glue line"
    OPENING = "opening"
    SLIT = "slit"
    HOLE = "hole"
    LATER = "cut later"
    HELD = "held line"
    BEFORE = "line before fitting"


class MarkKind(StrEnum):
    """Marks a trimmer matches by."""

    NOTCH = "notch"
    DOUBLE_NOTCH = "double notch"
    CENTRE = "centre"
    VALLEY = "valley"
    JOINT = "joint"
    SNIP = "snip"


@dataclass(frozen=True, eq=False)
class Edge:
    """One stretch of the sew line between two corners, in counter-clockwise order round the piece.

    points (k, 2) mm including both corners; allowance_mm: 0 too where it is sewn but not cut open; seam: name of the
    seam it is sewn in, None for an edge that is not sewn; note: what else has to be minded along it; over: what it is
    called on the mirrored piece, and its seam there, for a piece that is cut mirrored too.
    """

    name: str
    kind: EdgeKind
    points: FloatArray
    allowance_mm: float
    seam: str | None = None
    note: str = ""
    over: tuple[str, str | None] | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", locked_floats(self.points).reshape(-1, 2))


@dataclass(frozen=True, eq=False)
class Mark:
    """A mark on the sew line: `at` (2,) mm, `outward` (2,) unit direction to the cut edge, room to the cut edge; text:
    what is written beside it; pen: it is drawn only, and never cut; spots (k, 2) mm: where on the sew line its slits
    stand, two for a doubled notch; left out, they lie square to `outward`."""

    kind: MarkKind
    at: FloatArray
    outward: FloatArray
    allowance_mm: float
    text: str = ""
    pen: bool = False
    spots: FloatArray = field(default_factory=lambda: np.zeros((0, 2)))

    def __post_init__(self) -> None:
        object.__setattr__(self, "at", locked_floats(self.at))
        object.__setattr__(self, "outward", locked_floats(self.outward))
        object.__setattr__(self, "spots", locked_floats(self.spots if len(self.spots) else self._straight()))

    def _straight(self) -> FloatArray:
        """The spots of a mark on a straight line."""
        across = np.array([-self.outward[1], self.outward[0]])
        shifts = (-0.5 * SLITS_APART_MM, 0.5 * SLITS_APART_MM) if self.kind is MarkKind.DOUBLE_NOTCH else (0.0,)
        return np.array([self.at + shift * across for shift in shifts])


@dataclass(frozen=True, eq=False)
class InnerLine:
    """A line inside the piece (a fold, a stitch line, the centre line): points (k, 2) mm; its name is written along it
    unless it is a crest or a plain line."""

    name: str
    points: FloatArray
    kind: LineKind = LineKind.INNER

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", locked_floats(self.points).reshape(-1, 2))


@dataclass(frozen=True, eq=False)
class FlatMesh:
    """The flattened triangles behind a piece: points (n, 2) mm, triangles (m, 3), stretch (m, 2) larger first,
    `along` (m, 2), the unit direction on the piece of the larger stretch, and use (m,), share of the leather's budget,
    None when no budget is known."""

    points: FloatArray
    triangles: IntArray
    stretch: FloatArray
    along: FloatArray
    use: FloatArray | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", locked_floats(self.points).reshape(-1, 2))
        object.__setattr__(self, "triangles", locked_ints(self.triangles).reshape(-1, 3))
        object.__setattr__(self, "stretch", locked_floats(self.stretch).reshape(-1, 2))
        object.__setattr__(self, "along", locked_floats(self.along).reshape(-1, 2))
        if self.use is not None:
            object.__setattr__(self, "use", locked_floats(self.use).reshape(-1))


@dataclass(frozen=True, eq=False)
class CutLine:
    """points (k, 2) mm: closed, counter-clockwise, first point not repeated; faults: what is wrong with it,
    in words."""

    points: FloatArray
    faults: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", locked_floats(self.points).reshape(-1, 2))


@dataclass(frozen=True)
class CutOrder:
    """What is cut from what and how often. count: how many as drawn; mirrored: how many mirrored; material: what it is
    cut from, empty for the leather; kind: what it is of; leather: which one, empty for the sheet's own."""

    count: int = 1
    mirrored: int = 0
    material: str = ""
    kind: PieceKind = PieceKind.COVER
    leather: str = ""


@dataclass(frozen=True, eq=False)
class Piece:
    """One piece to cut.

    panels: the panels it serves (two for a mirrored pair); edges: of its sew line, counter-clockwise; outline: its cut
    line; grain (2, 2) mm tail and head of the arrow; mesh: the map behind it; order: how many are cut, and from what;
    flesh_up: it is drawn as seen from the flesh side.
    """

    name: str
    pad: str
    panels: tuple[str, ...]
    edges: tuple[Edge, ...]
    outline: CutLine
    marks: tuple[Mark, ...]
    grain: FloatArray
    mesh: FlatMesh
    inner: tuple[InnerLine, ...] = ()
    notes: tuple[str, ...] = field(default=())
    order: CutOrder = field(default=CutOrder())
    flesh_up: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "grain", locked_floats(self.grain).reshape(2, 2))

    @property
    def cut(self) -> FloatArray:
        """The cut line, closed, counter-clockwise, first point not repeated, shape (k, 2) mm."""
        return self.outline.points

    @property
    def faults(self) -> tuple[str, ...]:
        """What is wrong with the cut line, in words."""
        return self.outline.faults

    @property
    def cut_count(self) -> int:
        """How many to cut as drawn."""
        return self.order.count

    @property
    def mirrored_count(self) -> int:
        """How many to cut mirrored."""
        return self.order.mirrored

    @property
    def material(self) -> str:
        """What it is cut from, empty for the leather."""
        return self.order.material

    @property
    def kind(self) -> PieceKind:
        """What it is of."""
        return self.order.kind

    @property
    def sew(self) -> FloatArray:
        """The sew line, closed, first point not repeated, shape (k, 2) mm."""
        return np.concatenate([edge.points[:-1] for edge in self.edges])

    @property
    def cut_mm2(self) -> float:
        """Area inside the cut line, mm2; openings in it count, as what is cut out of them is waste."""
        x, y = self.cut.T
        return float(0.5 * (x * np.roll(y, -1) - y * np.roll(x, -1)).sum())

    @property
    def side_text(self) -> str:
        """Which side lies up when a piece is cut by this drawing; empty for foam, which has no right side."""
        if self.kind in (PieceKind.PADDING, PieceKind.GAUGE, PieceKind.FILLER):
            return ""
        if self.material:
            return "wrong side up" if self.flesh_up else "right side up"
        return FLESH_UP if self.flesh_up else GRAIN_UP

    @property
    def count_text(self) -> str:
        """How many to cut, in words: "cut 1", "cut 2, one mirrored"."""
        total = self.cut_count + self.mirrored_count
        source = f" from {self.order.leather}" if self.order.leather else ""
        if not self.mirrored_count:
            return f"cut {total}{source}"
        mirrored = "one" if self.mirrored_count == 1 else str(self.mirrored_count)
        return f"cut {total}{source}, {mirrored} mirrored"

    def box(self) -> tuple[float, float, float, float]:
        """Smallest and largest x and y of everything drawn up to the cut line: (x0, y0, x1, y1) mm."""
        low, high = self.cut.min(axis=0), self.cut.max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])
