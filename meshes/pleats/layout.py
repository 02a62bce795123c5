"""Finished widths of pleats and the places of their valleys, from what the sheet asks for and the room there is.

Widths add up to the room exactly and are the same from both sides towards the centre. What had to be rounded for that
is said. Lengths are mm along the surface, across the pleats, counted from the centre mark.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from meshes.base.units import SAME_MM
from meshes.records.pleats import MOST_PLEATS, Spacing

# A pitch that had to change by less than this share is a rounding; listed widths may be off the room by this much.
SCALED_SHARE = 0.03
# An outer pleat narrower than this share of the pitch is a sliver (common practice, no source).
OUTER_SHARE = 2.0 / 3.0
# One length for the low and one for the high side.
Sides = tuple[float, float]


class LayoutFault(ValueError):
    """Pleats that cannot be laid out: code and key of the problem, and what to do in the text."""

    def __init__(self, code: str, key: str, text: str) -> None:
        self.code, self.key = code, key
        super().__init__(text)


@dataclass(frozen=True)
class Layout:
    """edges (n + 1): both ends of the room and the valleys between, from the centre; notes: what was rounded."""

    edges: tuple[float, ...]
    notes: tuple[str, ...] = ()

    @property
    def widths(self) -> tuple[float, ...]:
        """Finished widths, shape (n,)."""
        return tuple(b - a for a, b in pairwise(self.edges))

    @property
    def valleys(self) -> tuple[float, ...]:
        """Places of the valleys, shape (n - 1,)."""
        return self.edges[1:-1]


def lay_out_pleats(spacing: Spacing, low: float, high: float, *, even: bool, lost: Sides = (0.0, 0.0)) -> Layout:
    """Divide the room from `low` to `high`, measured from the centre mark, into pleats.

    even: the pad is the same left and right, so that the layout has to be; then low = -high. lost: what the outer
    pleats lose from the middle of their length to where the region is narrowest. Outer pleats that would be slivers
    there are laid out wider and the others narrower; listed widths are kept. Raises LayoutFault.
    """
    room = high - low
    if room <= 0.0:
        raise LayoutFault("G120", "where", "no room is left for pleats; make the region wider")
    shares, notes = _shares(spacing, room, lost)
    if len(shares) > MOST_PLEATS:
        text = f"{len(shares)} pleats in {room:.0f} mm, at most {MOST_PLEATS} can be laid out; make them wider"
        raise LayoutFault("G121", "count", text)
    if even:
        _same_both_ways(shares)
    total = sum(shares)
    edges = [low]
    for share in shares[:-1]:
        edges.append(edges[-1] + room * share / total)
    edges.append(high)
    return Layout(_evened(edges) if even else tuple(edges), notes)


def outer_kept(
    valleys: Sequence[float], low: float, high: float, *, halves: bool, lost: Sides = (0.0, 0.0)
) -> list[bool]:
    """Which of some rising valleys between `low` and `high` stay, so that neither outer pleat is a sliver against the
    distance to the next valley, less what it has `lost` where the region is narrowest; halves: the outer pleats are
    meant to be half as wide. Without its outermost valley a sliver and its neighbour are one pleat of at most
    1 + OUTER_SHARE pitches there. All stay where none would be left."""
    pitch = max((b - a for a, b in pairwise(valleys)), default=0.0)
    at_low, at_high = _mendable(lost, pitch)
    first = _slivers_at([low + at_low, *valleys], halves=halves)
    last = len(valleys) - _slivers_at([at_high - high, *(-v for v in reversed(valleys))], halves=halves)
    return [first <= k < last or first >= last for k in range(len(valleys))]


def _slivers_at(places: Sequence[float], *, halves: bool) -> int:
    """How many valleys have to go at an end: places of the end and of the valleys from there inward."""
    least = OUTER_SHARE * (0.5 if halves else 1.0)
    gone = 0
    while gone + 2 < len(places):
        here, beyond = places[gone + 1], places[gone + 2]
        if here - places[0] >= least * (beyond - here) - SAME_MM:
            break
        gone += 1
    return gone


def laid_at(valleys: Sequence[float], low: float, high: float, *, least: float = SAME_MM, left_out: int = 0) -> Layout:
    """The layout with given valleys, for pleats that follow those of another pad; those outside the room, or nearer
    than `least` to its ends, are left out, besides those that already were. Raises LayoutFault when none is left."""
    inside = [v for v in valleys if low + least < v < high - least]
    if not inside:
        text = "none of the other pad's valleys meets this pad; check the origins of both pads"
        raise LayoutFault("G122", "lines_up_with", text)
    left_out += len(valleys) - len(inside)
    notes = (f"{left_out} valleys of the other pad find no room on this one",) if left_out else ()
    return Layout((low, *inside, high), notes)


def _shares(spacing: Spacing, room: float, lost: Sides) -> tuple[list[float], tuple[str, ...]]:
    """Widths in proportion, and what was rounded."""
    notes: tuple[str, ...] = ()
    if spacing.widths is not None:
        return _listed(spacing, spacing.widths, room, lost)
    if spacing.count is not None:
        whole = spacing.count
    elif spacing.pitch is not None:
        whole, notes = _whole_number(spacing, spacing.pitch, room, lost)
    else:
        text = "neither count, pitch nor widths; give one of them, or lines_up_with another pad"
        raise LayoutFault("G121", "count", text)
    if whole < 1:
        raise LayoutFault("G121", "count", f"{whole} pleats; give at least one")
    widths = _even_widths(whole, room, lost, halves=spacing.half_at_sides)
    return widths, (*notes, *_told(widths, lost, halves=spacing.half_at_sides))


def _even_widths(whole: int, room: float, lost: Sides, *, halves: bool) -> list[float]:
    """Widths of `whole` even pleats, and of half ones at the sides, that fill the room. An outer pleat that would be a
    sliver where it has `lost` most is as wide as it needs to be there, and the others share the rest evenly."""
    share = 0.5 if halves else 1.0
    inner = whole if halves else whole - 2
    pitch = room / (inner + 2.0 * share)
    outer = [share * pitch, share * pitch]
    if inner < 1:
        return [room / whole] * whole
    # Making one outer pleat wider makes the pitch less, and with it what the other one may need to be.
    for _ in outer:
        wider = [
            0.0 if (share - OUTER_SHARE * share) * pitch >= one - SAME_MM else one for one in _mendable(lost, pitch)
        ]
        parts = [OUTER_SHARE * share if one > 0.0 else share for one in wider]
        pitch = (room - sum(wider)) / (inner + sum(parts))
        outer = [one + part * pitch for one, part in zip(wider, parts, strict=True)]
    return [outer[0], *([pitch] * inner), outer[1]]


def _mendable(lost: Sides, pitch: float) -> Sides:
    """What outer pleats are kept wider for: a loss of more than a pitch is the region's shape, which straight valleys
    do not suit, and is told instead."""
    low, high = (one if one <= pitch else 0.0 for one in lost)
    return low, high


def _told(widths: Sequence[float], lost: Sides, *, halves: bool) -> tuple[str, ...]:
    """What is said of outer pleats that were laid out wider, or that run out to slivers all the same."""
    if len(widths) < 3:
        return ()
    pitch, share = widths[1], 0.5 if halves else 1.0
    least = OUTER_SHARE * share * pitch
    wider = [w for w in (widths[0], widths[-1]) if w > share * pitch + SAME_MM]
    short = [w - one for w, one in zip((widths[0], widths[-1]), lost, strict=True) if w - one < least - SAME_MM]
    notes = []
    if wider:
        text = (
            f"outer pleats are {wider[0]:.1f} mm wide in the middle, the others {pitch:.1f} mm: where the sides run in"
        )
        notes.append(f"{text} they keep {least:.1f} mm, two thirds of a pleat")
    if short:
        text = f"where the sides run in an outer pleat comes to {max(min(short), 0.0):.1f} mm, less than two thirds of"
        notes.append(f"{text} {share * pitch:.1f} mm; let the valleys follow the edges (shape = edge)")
    return tuple(notes)


def _whole_number(spacing: Spacing, pitch: float, room: float, lost: Sides) -> tuple[int, tuple[str, ...]]:
    """The number of pleats whose width comes nearest to the pitch."""
    halves = spacing.half_at_sides
    extra = 1 if halves else 0
    exact = int(room / pitch)

    def width(units: int) -> float:
        widths = _even_widths(units - extra, room, lost, halves=halves)
        return widths[len(widths) // 2]

    units = [max(k, 1 + extra) for k in (exact, exact + 1, exact - 1, exact - 2)]
    near = min(units, key=lambda k: abs(width(k) - pitch))
    if abs(width(near) - pitch) <= SAME_MM:
        return near - extra, ()
    words = f"{near - extra} pleats and half a pleat at each side" if extra else f"{near} pleats"
    return near - extra, (f"a pitch of {pitch:g} mm became {width(near):.2f} mm: {words} fill {room:.1f} mm",)


def _listed(spacing: Spacing, widths: Sequence[float], room: float, lost: Sides) -> tuple[list[float], tuple[str, ...]]:
    total = sum(widths)
    if spacing.half_at_sides:
        rest = 0.5 * (room - total)
        if not 0.0 < rest <= max(widths):
            text = f"the widths add up to {total:g} mm and leave {rest:.1f} mm at each side of {room:.1f} mm"
            raise LayoutFault("G123", "widths", f"{text}; the half pleats take what is left: change the widths")
        notes = (f"the pleats at the sides are {rest:.1f} mm wide", *_slivers(rest - max(lost), 0.5 * widths[0]))
        return [rest, *widths, rest], notes
    if abs(total - room) > SCALED_SHARE * room:
        text = f"the widths add up to {total:g} mm, found room for {room:.1f} mm; change them or measure again"
        raise LayoutFault("G123", "widths", text)
    notes = (
        _slivers(widths[0] - lost[0], widths[1]) + _slivers(widths[-1] - lost[1], widths[-2]) if len(widths) > 1 else ()
    )
    if abs(total - room) <= SAME_MM:
        return list(widths), notes
    return list(widths), (f"the widths add up to {total:g} mm and were scaled to {room:.1f} mm", *notes)


def _slivers(outer: float, beside: float) -> tuple[str, ...]:
    """What is said of an outer pleat that is listed narrower than two thirds of what the one beside it lets expect."""
    if outer >= OUTER_SHARE * beside - SAME_MM:
        return ()
    return (f"an outer pleat of {max(outer, 0.0):.1f} mm is less than two thirds of {beside:.1f} mm; kept as listed",)


def _same_both_ways(shares: Sequence[float]) -> None:
    if any(abs(a - b) > SAME_MM for a, b in zip(shares, reversed(shares), strict=True)):
        text = "the widths are not the same from both sides on a pad that is; list them from left to right, even"
        raise LayoutFault("G123", "widths", text)


def _evened(edges: Sequence[float]) -> tuple[float, ...]:
    """The same places, mirrored exactly: rounding must not tell left and right apart."""
    half = [0.5 * (a - b) for a, b in zip(edges, reversed(edges), strict=True)]
    return tuple(0.0 if 2 * k + 1 == len(half) else value for k, value in enumerate(half))
