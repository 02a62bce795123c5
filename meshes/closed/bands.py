"""Where the band of a closed cover is parted: zip strips behind, the band round the rest, joins where nobody looks.

Places t along the rim are mm, counter-clockwise from the middle of the rear side (`rim`).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from meshes.closed.rim import RimCurve
from meshes.records.closed import LEAST_OPENING_MM, LONGEST_BAND_MM, Closed
from meshes.seat.names import numbered

# So much of a side is left to the band in front of a zip that comes round its corner.
LEFT_OF_SIDE_MM = 20.0


class ZipTooLongError(Exception):
    """A zip that reaches past the front corner: room_mm is how far past the rear corner it may go."""

    def __init__(self, room_mm: float) -> None:
        self.room_mm = room_mm
        super().__init__(f"a side leaves {room_mm:.0f} mm for the zip")


class OpeningTooShortError(Exception):
    """A knife edge whose zip ends too near to its middle: room_mm is how far short of a rear corner it may end."""

    def __init__(self, room_mm: float) -> None:
        self.room_mm = room_mm
        super().__init__(f"the rear leaves {room_mm:.0f} mm beside the zip")


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
    if closed.form == "knife_edge":
        left, right = rim.corners[0] - closed.zip_short, rim.corners[3] + closed.zip_short
        if left + rim.length - right < LEAST_OPENING_MM:
            raise OpeningTooShortError(0.5 * (rim.corners[0] + rim.length - rim.corners[3] - LEAST_OPENING_MM))
        return (BandPart("seam", left, right), BandPart("zip", right, left + rim.length, zipped=True))
    if closed.form == "roll":
        # The tube's zip is its one lengthwise seam; its round seams are parted in front, so that both have two ends.
        return (BandPart("tube", 0.0, rim.length, seams_at=(rim.front,)),)
    left, right = rim.corners[0] + closed.past_corner, rim.corners[3] - closed.past_corner
    room = min(rim.corners[1] - rim.corners[0], rim.corners[3] - rim.corners[2]) - LEFT_OF_SIDE_MM
    if closed.past_corner > room:
        raise ZipTooLongError(room)
    front = _parted(left, right, rim.corners)
    behind = [
        BandPart("zip strip", *run, zipped=True) for run in _parted(right, left + rim.length, rim.corners, rim.length)
    ]
    if len(front) == 1:
        return (BandPart("band", left, right), *behind)
    bands = [BandPart(f"{_side(rim, 0.5 * (begin + end))} band", begin, end) for begin, end in front]
    if len(behind) > 1:
        behind = [replace(one, name=f"{_side(rim, one.middle)} zip strip") for one in behind]
    names = numbered([one.name for one in (*bands, *behind)])
    return tuple(replace(one, name=name) for one, name in zip((*bands, *behind), names, strict=True))


def _parted(begin: float, end: float, corners: Sequence[float], length: float = 0.0) -> list[tuple[float, float]]:
    """A run of band in parts that are not too long: parted at the corners in it, and what is still too long into an odd
    number of even parts, so that no join comes to lie in the middle."""
    if end - begin <= LONGEST_BAND_MM:
        return [(begin, end)]
    inner = sorted({c for k in (0.0, length) for c in (corner + k for corner in corners) if begin < c < end})
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
