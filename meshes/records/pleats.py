"""What a measurement sheet says of the pleats of one pad, as a frozen record.

Lengths are mm. Pleats lie side by side; a valley is the stitched line between two of them. On a pad with pleats along,
they run from front to rear and are counted from left to right; across, from side to side, counted from the front.
"""

from dataclasses import dataclass
from typing import Literal

# What fills a channel: soft loose filling stands up as a circular arc, a foam sheet as the line a taut cover takes over
# foam that is stitched down on both sides.
FILLERS = ("wadding", "foam")
CONSTRUCTIONS = ("one piece", "strips")
WHERE = ("face", "inset")
SHAPES = ("straight", "edge")
# More pleats than any pad has: a slip.
MOST_PLEATS = 120


@dataclass(frozen=True)
class Spacing:
    """How wide pleats are. count, pitch, widths: one of them, or none where the valleys of another pad decide; fan:
    width at the rear (right) end over that at the front (left) end; half_at_sides: a pleat of half the width at each
    side."""

    count: int | None = None
    pitch: float | None = None
    widths: tuple[float, ...] | None = None
    fan: float = 1.0
    half_at_sides: bool = False


@dataclass(frozen=True)
class Filling:
    """What stands up between two valleys. foam: name of the material of a foam filler, foam_kpa: its pressure at 25 %;
    rise: crest of wadding over its valleys at full width; taper: length over which the rise runs out towards a seam;
    take_up_measured: what the test strip of five came to between its outer stitch lines."""

    filler: Literal["wadding", "foam"] = "foam"
    thickness: float = 12.0
    foam: str = "foam_soft"
    foam_kpa: float = 1.5
    rise: float | None = None
    taper: float = 25.0
    take_up_measured: float | None = None


@dataclass(frozen=True)
class Joining:
    """How the cut is parted. joins: numbers of the valleys where it is, "auto", or none; largest_width,
    largest_area_m2: of a part."""

    construction: Literal["one piece", "strips"] = "one piece"
    joins: tuple[int, ...] | Literal["auto"] = ()
    largest_width: float | None = None
    largest_area_m2: float | None = None


@dataclass(frozen=True)
class Pleats:
    """The pleats of a pad as they are asked for.

    shape "edge": the valleys follow the edges of the region they lie in; over_edge: where a side has no band they run
    over its edge to the tack line; lines_up_with: name of the pad whose valleys these follow; tied: the valleys are
    tied down onto the padding.
    """

    spacing: Spacing = Spacing()
    filling: Filling = Filling()
    joining: Joining = Joining()
    direction: Literal["along", "across"] = "along"
    where: Literal["face", "inset"] = "face"
    shape: Literal["straight", "edge"] = "straight"
    over_edge: bool = True
    lines_up_with: str | None = None
    tied: bool = False
