"""Where the band of a closed cover is parted: zip strips along one side, the band round the rest, joins at corners.

Places t along the rim are mm, counter-clockwise from the middle of the rear side (`rim`).
"""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from meshes.closed.rim import RimCurve
from meshes.records.closed import LEAST_OPENING_MM, LONGEST_BAND_MM, ROUND_THE_RIM, Closed
from meshes.seat.names import numbered

# So much of a side is left to the band in front of a zip that comes round its corner.
LEFT_OF_SIDE_MM = 20.0


class ZipTooLongError(Exception):
    """A zip that reaches past the next corner: room_mm is how far past the corners of its side it may go."""

    def __init__(self, room_mm: float) -> None:
        self.room_mm = room_mm
        super().__init__(f"a side leaves {room_mm:.0f} mm for the zip")


class OpeningTooShortError(Exception):
    """A knife edge whose zip ends too near to its middle: room_mm is how far short of its corners it may end."""

    def __init__(self, room_mm: float) -> None:
        self.room_mm = room_mm
        super().__init__(f"its side leaves {room_mm:.0f} mm beside the zip")


@dataclass(frozen=True)
class BandPart:
    """One part of the band. begin, end: places, end above begin and past the length where the part runs through the
    middle of the rear; zipped: it is two strips with a zip between them; seams_at: places within it at which its seams
    with the plates are parted."""

    name: str
    begin: float
    end: float
    zipped: bool = False
    seams_at: tuple[float, ...] = ()

    @property
    def middle(self) -> float:
        """Place half-way along it."""
        return 0.5 * (self.begin + self.end)


def band_parts(closed: Closed, rim: RimCurve) -> tuple[BandPart, ...]:
    """All parts of the band, counter-clockwise; of a knife edge its one seam and the zip in it. Raises ZipTooLongError
    and OpeningTooShortError."""
    begin, end = _zipped_run(closed, rim)
    if closed.form == "knife_edge":
        left, right = end - closed.zip_short, begin + closed.zip_short
        run = _up_to(begin, end, rim.length) - begin
        if run - 2.0 * closed.zip_short < LEAST_OPENING_MM:
            raise OpeningTooShortError(0.5 * (run - LEAST_OPENING_MM))
        opened = (right, _up_to(right, left, rim.length))
        return BandPart("seam", left, _up_to(left, right, rim.length)), BandPart("zip", *opened, zipped=True)
    if closed.form == "roll":
        # The tube's zip is its one lengthwise seam; its round seams are parted in front, so that both have two ends.
        return (BandPart("tube", 0.0, rim.length, seams_at=(rim.front,)),)
    left, right = end + closed.past_corner, begin - closed.past_corner
    room = _room_past(closed, rim)
    if closed.past_corner > room:
        raise ZipTooLongError(room)
    rest = _parted(left, _up_to(left, right, rim.length), rim)
    zipped = [BandPart("zip strip", *run, zipped=True) for run in _parted(right, _up_to(right, left, rim.length), rim)]
    bands = [BandPart("band", *run) for run in rest]
    # A band or a zip strip that is one has no side to be told from others by.
    many = [
        replace(one, name=f"{_side(rim, one.middle)} {one.name}") if len(own) > 1 else one
        for own in (bands, zipped)
        for one in own
    ]
    names = numbered([one.name for one in many])
    return tuple(replace(one, name=name) for one, name in zip(many, names, strict=True))


def _zipped_run(closed: Closed, rim: RimCurve) -> tuple[float, float]:
    """The corners between which the zipped sides lie."""
    first, last = (ROUND_THE_RIM.index(side) for side in (closed.zip_along[0], closed.zip_along[-1]))
    return rim.corners[first - 1], rim.corners[last]


def _up_to(begin: float, end: float, length: float) -> float:
    """The place `end`, counted on past the length where it does not lie behind `begin`."""
    return end if end > begin else end + length


def _room_past(closed: Closed, rim: RimCurve) -> float:
    """How far a zip may go on past its corners along the sides beside it."""
    ends = rim.corners
    runs = (ends[0] + rim.length - ends[3], ends[1] - ends[0], ends[2] - ends[1], ends[3] - ends[2])
    long = dict(zip(ROUND_THE_RIM, runs, strict=True))
    after = ROUND_THE_RIM[(ROUND_THE_RIM.index(closed.zip_along[-1]) + 1) % 4]
    before = ROUND_THE_RIM[ROUND_THE_RIM.index(closed.zip_along[0]) - 1]
    if after == before:
        return 0.5 * (long[after] - LEFT_OF_SIDE_MM)
    return min(long[after], long[before]) - LEFT_OF_SIDE_MM


def _parted(begin: float, end: float, rim: RimCurve) -> list[tuple[float, float]]:
    """A run of band in parts that are not too long: parted at the corners in it, and what is still too long into an odd
    number of even parts, so that no join comes to lie in the middle."""
    if end - begin <= LONGEST_BAND_MM:
        return [(begin, end)]
    turns = (-rim.length, 0.0, rim.length)
    inner = sorted({c for turn in turns for c in (corner + turn for corner in rim.corners) if begin < c < end})
    parts: list[tuple[float, float]] = []
    for low, high in pairwise([begin, *inner, end]):
        count = int(np.ceil((high - low) / LONGEST_BAND_MM - 1e-9))
        count += 1 - count % 2
        cuts = low + (high - low) * np.arange(count + 1) / count
        parts += [(float(a), float(b)) for a, b in pairwise(cuts)]
    return parts


def _side(rim: RimCurve, t: float) -> str:
    """The side of the pad that a place lies on."""
    rear_left, front_left, front_right, rear_right = rim.corners
    at = float(np.mod(t, rim.length))
    if at < rear_left or at > rear_right:
        return "rear"
    return "left" if at < front_left else "front" if at <= front_right else "right"
