"""What panels are covered with beside the sheet's leather: another leather, or roll goods."""

from dataclasses import dataclass

# Roll goods as they usually come, and what is left of their width between the selvedges (common practice, no source).
ROLL_WIDTH_MM, SELVEDGES_MM = 1370.0, 30.0
# Words for all panels of one kind, and for what lies between panels, where names of panels may stand.
# Hidden parts are flies, and flat panels under a seat.
FACES, BANDS, WELT, FLIES, HIDDEN = "faces", "bands", "welt", "flies", "hidden parts"
GROUPS = (FACES, BANDS, WELT, FLIES, HIDDEN)


@dataclass(frozen=True)
class RollGoods:
    """A covering by the metre: width of the roll, and what is usable of it, mm. Its right side and direction are fixed:
    pieces lie upright along the roll, and none is turned over."""

    width_mm: float = ROLL_WIDTH_MM
    usable_mm: float = ROLL_WIDTH_MM - SELVEDGES_MM


@dataclass(frozen=True)
class CoveringChoice:
    """panels: names of panels or words of GROUPS; leather: a card's name, or a file of cards; roll: None for a hide."""

    panels: tuple[str, ...]
    leather: str
    roll: RollGoods | None = None
