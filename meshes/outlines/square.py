"""A frame measured across: both diagonals say how far it is out of square, the middle width how far its sides bow.

The frame lies with its front edge along x and the middle of that edge at 0. Its four corners are those from which the
readings miss least, in least squares; readings that go together give them exactly. But where a millimetre of the tape
moves corners by many, a mild frame is taken that meets the readings about as well as a tape reads. Lengths mm.
"""

import math
from collections.abc import Callable, Sequence

import numpy as np
from scipy.optimize import least_squares

from meshes.base.arrays import FloatArray
from meshes.base.plane import Point
from meshes.base.problems import KeyPath
from meshes.base.units import TAPE_READING_MM
from meshes.outlines.plans import Corner
from meshes.records.pad import side_word
from meshes.schema.outline import OutlineInput
from meshes.schema.words import Faults

# Diagonals that differ by more than this are told, and so are readings that miss the frame by more.
OUT_OF_SQUARE_MM = 5.0
# A frame that moves corners by so much less, as a factor and mm, is the likelier one; how far corners of frames
# commonly lie off, which weighs against the tape's reading in looking for it (no source: our choice).
MILDER, MILDER_MM, COMMON_MM = 2.0, 5.0, 20.0


def out_of_square(corners: Sequence[Point], given: OutlineInput, keys: KeyPath, faults: Faults) -> list[Point]:
    """The corners of a frame, front left first, after its diagonals; corners: after its widths and depth alone."""
    left, right = given.diagonal_left, given.diagonal_right
    if (left is None) != (right is None):
        have, lack = ("diagonal_left", "diagonal_right") if right is None else ("diagonal_right", "diagonal_left")
        faults.add("S011", (*keys, lack), f"missing; {have} needs {lack} beside it")
        return list(corners)
    if left is None or right is None:
        return list(corners)
    own = math.dist(corners[0], corners[2]), math.dist(corners[1], corners[3])
    if abs((left - right) - (own[0] - own[1])) <= OUT_OF_SQUARE_MM:
        _tell_missed(max(abs(left - own[0]), abs(right - own[1])), keys, faults)
        return list(corners)
    fitted, missed, strayed = _fitted(corners, given, left, right)
    turn = math.degrees(math.atan2(fitted[3][0] - corners[3][0], fitted[3][1]))
    kind = faults.places.kind(keys[1])
    rear = ", ".join(f"{side_word('rear', kind)} {side} at [{x:.1f}, {y:.1f}]" for side, (x, y) in _rear(fitted))
    text = (
        f"the diagonals differ by {abs(left - right):.1f} mm, found {left:g} and {right:g}: the frame is out of square "
    )
    text += f"by {abs(turn):.1f} degrees; it is taken as it was measured, with {rear}, which misses the readings by "
    text += f"{missed:.1f} mm at most; if the frame is square, measure them again"
    if strayed > 0.0:
        text += f"; met exactly the readings would move a corner by {strayed:.0f} mm, and a tape does not read so well"
    faults.warn("G057", (*keys, "diagonal_left"), text)
    _tell_missed(missed, keys, faults)
    if given.symmetric:
        text = f"true, but the diagonals differ by {abs(left - right):.1f} mm; leave symmetric out or measure again"
        faults.add("G007", (*keys, "symmetric"), text)
    return fitted


def _rear(corners: Sequence[Point]) -> list[tuple[str, Point]]:
    return [("left", corners[3]), ("right", corners[2])]


def _tell_missed(missed: float, keys: KeyPath, faults: Faults) -> None:
    if missed > OUT_OF_SQUARE_MM:
        text = f"the diagonals, widths and depth contradict each other by {missed:.1f} mm; measure them again"
        faults.warn("G058", (*keys, "diagonal_left"), text)


def _fitted(
    corners: Sequence[Point], given: OutlineInput, left: float, right: float
) -> tuple[list[Point], float, float]:
    """Corners that meet the readings best, by how much they miss one at most, and how far a corner would lie off by the
    very readings where a milder frame is taken, else 0."""
    wide = corners[1][0] - corners[0][0]
    share = -corners[0][0] / wide

    def placed(x: FloatArray) -> FloatArray:
        return np.array([(-share * x[0], 0.0), ((1.0 - share) * x[0], 0.0), (x[3], x[4]), (x[1], x[2])])

    readings = _readings(corners, given, left, right)

    def missed(x: FloatArray) -> FloatArray:
        return np.array([read(placed(x)) for read in readings])

    def moved(x: FloatArray) -> FloatArray:
        return np.asarray(placed(x) - np.array(corners))

    start = np.array([wide, *corners[3], *corners[2]])
    exact = least_squares(missed, start, xtol=1e-14, ftol=1e-14).x

    def against(x: FloatArray) -> FloatArray:
        return np.concatenate([missed(x) / TAPE_READING_MM, moved(x).ravel() / COMMON_MM])

    mild = least_squares(against, start, xtol=1e-12).x
    far, near = (float(np.linalg.norm(moved(x), axis=1).max()) for x in (exact, mild))
    is_milder = far > MILDER * near + MILDER_MM
    found = mild if is_milder else exact
    at = [(float(x), float(y)) for x, y in placed(found)]
    return at, float(np.abs(missed(found)).max()), far if is_milder else 0.0


def _readings(
    corners: Sequence[Point], given: OutlineInput, left: float, right: float
) -> list[Callable[[FloatArray], float]]:
    """What was measured, each as by how much four corners (4, 2) miss it."""
    front, rear = corners[1][0] - corners[0][0], corners[2][0] - corners[3][0]

    def between(a: int, b: int, length: float) -> Callable[[FloatArray], float]:
        return lambda at: float(np.linalg.norm(at[a] - at[b])) - length

    readings = [between(0, 1, front), between(0, 2, left), between(1, 3, right)]
    if given.rear_width is not None:
        readings.append(between(2, 3, rear))
    else:
        readings += [lambda at: at[2, 0] - corners[2][0], lambda at: at[3, 0] - corners[3][0]]
    if given.depth is not None:
        readings.append(lambda at: 0.5 * (at[2, 1] + at[3, 1]) - corners[2][1])
    else:
        readings += [lambda at: at[2, 1] - corners[2][1], lambda at: at[3, 1] - corners[3][1]]
    return readings


def bowed(corners: Sequence[Corner], middle_width: float | None) -> list[Corner]:
    """The frame with its left and right side through the width measured half-way between front and rear."""
    if middle_width is None:
        return list(corners)
    at = [c.at for c in corners]
    right, left = ((0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])) for a, b in ((at[1], at[2]), (at[3], at[0])))
    out = 0.5 * (middle_width - (right[0] - left[0]))
    if abs(out) <= 0.5 * TAPE_READING_MM:
        return list(corners)
    ends = [Corner((right[0] + out, right[1]), 0.0), Corner((left[0] - out, left[1]), 0.0)]
    return [corners[0], corners[1], ends[0], corners[2], corners[3], ends[1]]
