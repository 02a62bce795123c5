"""What is told of a closed cover, in words: how it is smaller than its core, how full it is, how long its zip, and how
a tube is snipped so that it goes round its discs."""

from meshes.base.files import number
from meshes.base.plane import extent
from meshes.records.closed import Closed
from meshes.records.frame import FIXED
from meshes.records.pad import SIDES, Pad
from meshes.seat.build import BuiltPad
from meshes.seat.panels import PanelRole

# A tube's allowance is snipped so often that it spreads round the disc: on small rolls and on larger ones (P: every 10
# to 15 mm below 150 mm across, every 20 above).
SMALL_ROLL_MM, SNIP_SMALL_MM, SNIP_LARGE_MM = 150.0, 12.0, 20.0


def snip_spacing_mm(pad: BuiltPad) -> float | None:
    """How often the allowances of a roll's tube are snipped; None for a pad that is no roll."""
    closed = pad.pad.closed
    if closed is None or closed.form != "roll":
        return None
    return SNIP_SMALL_MM if min(extent(pad.pad.outline.corners)) < SMALL_ROLL_MM else SNIP_LARGE_MM


def snip_notes(pad: BuiltPad) -> dict[tuple[str, str], str]:
    """What is written along the round edges of a roll's tube, by panel and seam; nothing on other pads."""
    apart = snip_spacing_mm(pad)
    if apart is None:
        return {}
    tubes = [panel for panel in pad.panels if panel.role is PanelRole.BAND]
    words = f"snip the allowance every {number(apart, 0)} mm"
    return {(tube.name, edge.seam): words for tube in tubes for edge in tube.rim if edge.seam is not None}


def wedge_words(pad: Pad, closed: Closed) -> str:
    """How thick a wedge is at both its ends, by the words of its pad: an upright one has a bottom and a top."""
    thick, rear = number(closed.thickness, 1), number(closed.rear or closed.thickness, 1)
    if pad.side_word("rear") == "rear":
        return f"{thick} mm in front and {rear} mm behind"
    return f"{thick} mm at the {pad.side_word('front')} and {rear} mm at the {pad.side_word('rear')}"


def zip_side_words(pad: Pad, closed: Closed) -> str:
    """The sides that a zip runs along, in the words of its pad."""
    said = [pad.side_word(side) for side in closed.zip_along]
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"


def zip_corners(pad: Pad, closed: Closed) -> str:
    """The corners at which the sides of a zip end."""
    said = zip_side_words(pad, closed)
    return f"each {said} corner" if len(closed.zip_along) == 1 else f"both corners where {said} end"


def zip_place(pad: Pad) -> str:
    """Where the zip of a loose cushion runs, before what else is said of it; empty for the seam of a tube."""
    closed = pad.closed
    if closed is None or closed.form == "roll" or not closed.filled:
        return ""
    past = f"{number(closed.past_corner, 1)} mm past" if closed.banded else f"{number(closed.zip_short, 1)} mm short of"
    return f"along the {zip_side_words(pad, closed)}, {past} {zip_corners(pad, closed)}; "


def join_side(pad: Pad) -> str:
    """The side on which a welt that goes all round is joined: that of the zip, which is turned away; else the rear."""
    closed = pad.closed
    return "rear" if closed is None or closed.form == "roll" else pad.side_word(closed.zip_along[0])


def closed_words(pad: BuiltPad) -> str:
    """One sentence on a closed cover; empty for a pad on a frame."""
    closed, facts = pad.pad.closed, pad.closed
    if closed is None or facts is None:
        return ""
    if not closed.filled:
        how = {kind: word for word, kind in FIXED.items()}
        sides = [f"{pad.pad.side_word(side)} {how[kind]}" for side, kind in zip(SIDES, closed.edges, strict=True)]
        return f"a flat panel: {', '.join(sides)}"
    smaller = f"{number(facts.smaller.mm, 1)} mm smaller than its core in all, not on each side ({facts.smaller.row})"
    words = [f"a closed cover, {smaller}" if facts.smaller.mm else "a closed cover of the core's own size"]
    if closed.rear is not None:
        words.append(f"a wedge, {wedge_words(pad.pad, closed)}")
    if closed.form == "box":
        face = "its upper face stands" if closed.board else "each face stands"
        words.append(f"{face} {number(facts.rise_mm, 1)} mm above its rim")
        if closed.board:
            words.append(f"below lies flat on a board of {number(closed.board, 1)} mm")
        words.append(f"pulled by its core with {1000.0 * facts.tension_n_per_mm:.0f} N/m")
    if closed.form == "knife_edge":
        words.append(f"each face stands {number(facts.rise_mm, 1)} mm above its seam")
        if closed.corners_in:
            words.append(f"corners taken in {number(closed.corners_in, 1)} mm over a quarter of each side")
    where = "" if closed.form == "roll" else f" along the {zip_side_words(pad.pad, closed)}"
    words.append(f"zip {number(facts.zip_mm, 1)} mm{where}")
    return ", ".join(words)
