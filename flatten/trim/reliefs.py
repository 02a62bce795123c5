"""Where leather that is turned over an edge has too much, and is notched, or too little, and is slit.

Turned over an edge of thickness e and glued to the back, leather at a distance r outside the edge comes to lie r - e
inside it. Where the edge turns by an angle t away from the leather, the strip on the back is shorter than it was flat,
by (2 r - e) 2 tan(t / 2): what lies there is notched away from r = e on, so that flaps meet in a mitre and never lie
over each other. At one sharp square corner that is a straight cut at 45 degrees (P: 45 degrees, one thickness outside
the corner). Where the edge turns the other way leather is slit, so that it opens. Round a bow this is done in shares.
Lengths mm; a line has its leather on the left.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from shapely import Geometry
from shapely.geometry import Polygon

from meshes.base.arrays import FloatArray

# A vertex at which a line turns by more stands at a sharp corner, as arcs are followed in finer steps; one that turns
# by less than the second runs straight.
SHARP_RAD, STRAIGHT_RAD = np.radians(9.5), 1e-6
# Round a bow, one notch or slit to so much of it, and none turns by more (P: every 10 to 15 mm).
NOTCH_EVERY_MM, SLIT_EVERY_MM, MOST_TURN_EACH_RAD = 14.0, 12.0, np.radians(100.0)
# Leather eases so much of its length along a glued edge without a notch or a slit (common practice, no source).
EASED_SHARE = 0.04
# Less than this beside a corner is eased as well, mm.
EASED_MM = 1.0
# So far past the cut line a notch is drawn, so that nothing of it is left.
PAST_CUT = 1.05


@dataclass(frozen=True)
class Turned:
    """How leather is turned over an edge. edge_mm: what it goes round, wrap_mm: how far it is glued behind."""

    edge_mm: float
    wrap_mm: float

    @property
    def reach_mm(self) -> float:
        """From the edge to the cut line."""
        return self.edge_mm + self.wrap_mm


@dataclass(frozen=True, eq=False)
class Reliefs:
    """notches: what is cut away outside the edge; slits: where leather is slit, each with its place on the edge (2,)
    and the direction (2,) outwards."""

    notches: tuple[Geometry, ...]
    slits: tuple[tuple[FloatArray, FloatArray], ...]


@dataclass(frozen=True, eq=False)
class _Bend:
    """Where a line turns. at (2,); out (2,): direction outwards in the middle of the turn; turn: rad, away from the
    leather above 0; sharp: at one vertex; place: along the line, in its vertices."""

    at: FloatArray
    out: FloatArray
    turn: float
    sharp: bool
    place: float


def reliefs_of(line: FloatArray, turned: Turned) -> Reliefs:
    """Notches and slits round a closed line (k, 2)."""
    bends = sorted(_bends(line, turned), key=lambda bend: bend.place)
    notches = []
    for k, bend in enumerate(bends):
        if bend.turn > 0.0:
            notch: Geometry = (_mitred if bend.sharp else _notched)(bend, turned)
            for beside in (bends[k - 1], bends[(k + 1) % len(bends)]):
                if beside.turn < 0.0:
                    # Beyond the slit of a hollow corner lies another flap.
                    notch = notch.intersection(_this_side(beside, bend.at, turned))
            notches.append(notch)
    return Reliefs(tuple(notches), tuple((bend.at, bend.out) for bend in bends if bend.turn < 0.0))


def _bends(line: FloatArray, turned: Turned) -> Iterator[_Bend]:
    """All places at which a line is relieved: its sharp corners, and shares of its bows."""
    ahead = np.roll(line, -1, axis=0) - line
    lengths = np.linalg.norm(ahead, axis=1)
    ahead = ahead / lengths[:, None]
    behind = np.roll(ahead, 1, axis=0)
    turns = np.arctan2(behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0], np.einsum("ij,ij->i", ahead, behind))
    sharp = np.abs(turns) > SHARP_RAD
    kind = np.where(sharp | (np.abs(turns) < STRAIGHT_RAD), 0.0, np.sign(turns))
    for run in _runs(kind):
        if kind[run[0]] and len(run) > 1:
            yield from _shares(line, lengths, turns, run, turned)
        elif kind[run[0]]:
            # A line that turns at one vertex alone has a corner there, however blunt.
            sharp[run] = abs(turns[run[0]]) * (2.0 * turned.wrap_mm + turned.edge_mm) > EASED_MM
    for k in np.flatnonzero(sharp):
        out = _out(float(np.arctan2(behind[k, 1], behind[k, 0]) + 0.5 * turns[k]))
        yield _Bend(line[k], out, float(turns[k]), True, float(k))


def _runs(kind: FloatArray) -> list[list[int]]:
    """Numbers that follow each other round a ring and are of one kind."""
    count = len(kind)
    first = next((k for k in range(count) if kind[k] != kind[k - 1]), 0)
    runs: list[list[int]] = []
    for k in range(first, first + count):
        if runs and kind[runs[-1][-1]] == kind[k % count]:
            runs[-1].append(k % count)
        else:
            runs.append([k % count])
    return runs


def _shares(
    line: FloatArray, lengths: FloatArray, turns: FloatArray, run: list[int], turned: Turned
) -> Iterator[_Bend]:
    """A bow in even shares of its turn, each relieved in its middle."""
    half = 0.5 * np.minimum(lengths[run], np.roll(lengths, 1)[run])
    steps = lengths[run[:-1]]
    at = np.concatenate([[0.0], np.cumsum(steps)])
    whole, long = float(turns[run].sum()), float(2.0 * half.sum())
    eased = abs(whole) * (2.0 * turned.wrap_mm + turned.edge_mm if whole > 0.0 else turned.reach_mm)
    if eased < EASED_SHARE * long:
        return
    every = NOTCH_EVERY_MM if whole > 0.0 else SLIT_EVERY_MM
    count = max(round(long / every), int(np.ceil(abs(whole) / MOST_TURN_EACH_RAD)), 1)
    if len(run) == len(line):
        # A ring without a straight run begins anywhere.
        at = at[: len(run)]
    done = np.cumsum(turns[run])
    places = np.stack([at - half, at + half], axis=1).ravel()
    so_far = np.stack([done - turns[run], done], axis=1).ravel()
    begin = line[run[0]] - line[run[0] - 1]
    heading = float(np.arctan2(begin[1], begin[0]))
    for k in range(count):
        share = (k + 0.5) / count * whole
        place = float(np.interp(abs(share), np.abs(so_far), places))
        number = (run[0] + float(np.interp(place, at, np.arange(len(at))))) % len(line)
        yield _Bend(_along(line, lengths, run, place), _out(heading + share), whole / count, False, number)


def _along(line: FloatArray, lengths: FloatArray, run: list[int], place: float) -> FloatArray:
    """The point at a length from the first vertex of a run on, before it where that is below 0."""
    if place < 0.0:
        before = run[0] - 1
        share = place / lengths[before]
        return np.asarray(line[run[0]] + share * (line[run[0]] - line[before]))
    k = run[0]
    while place > lengths[k] + 1e-12:
        place -= lengths[k]
        k = (k + 1) % len(line)
    return np.asarray(line[k] + place / lengths[k] * (line[(k + 1) % len(line)] - line[k]))


def _this_side(bend: _Bend, at: FloatArray, turned: Turned) -> Polygon:
    """All that lies on the same side as `at` (2,) of the line through a bend straight outwards, as far as leather
    reaches."""
    along = np.array([-bend.out[1], bend.out[0]])
    if (at - bend.at) @ along < 0.0:
        along = -along
    far = 4.0 * (float(np.linalg.norm(at - bend.at)) + turned.reach_mm)
    return Polygon([bend.at + a * far * bend.out + b * far * along for a, b in ((-1, 0), (1, 0), (1, 1), (-1, 1))])


def _out(heading: float) -> FloatArray:
    """Direction to the right of a heading."""
    return np.array([np.sin(heading), -np.cos(heading)])


def _notched(bend: _Bend, turned: Turned) -> Polygon:
    """A notch in a bow: blunt where leather meets the back, as wide as what is too much from there out."""
    out, tan = bend.out, np.tan(0.5 * bend.turn)
    aside = np.array([-out[1], out[0]])
    far = turned.edge_mm + PAST_CUT * turned.wrap_mm / np.cos(0.5 * bend.turn) + 1.0
    wide = [(r, (2.0 * r - turned.edge_mm) * tan) for r in (turned.edge_mm, far)]
    (near, narrow), (end, broad) = wide
    corners = [(near, -narrow), (end, -broad), (end, broad), (near, narrow)]
    return Polygon([bend.at + r * out + s * aside for r, s in corners])


def _mitred(bend: _Bend, turned: Turned) -> Polygon:
    """What is cut away at a sharp corner: beyond the line from back edge to back edge, past the mitre of each flap."""
    half, e = 0.5 * bend.turn, turned.edge_mm
    feet, tips = [], []
    for sign in (-1.0, 1.0):
        cos, sin = np.cos(sign * half), np.sin(sign * half)
        out = np.array([cos * bend.out[0] - sin * bend.out[1], sin * bend.out[0] + cos * bend.out[1]])
        # Away from the edge that this flap hangs on, past the corner.
        past = -sign * np.array([-out[1], out[0]])
        foot = bend.at + e * out
        deep = PAST_CUT * turned.wrap_mm + 1.0
        feet.append(foot)
        tips.append(foot + deep * (out - np.tan(half) * past))
    far = bend.at + 1.2 * (turned.reach_mm + 1.0) / np.cos(half) * bend.out
    return Polygon([feet[0], tips[0], far, tips[1], feet[1]])
