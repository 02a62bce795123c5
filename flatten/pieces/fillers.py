"""What lies between cover and backing, and the strip to sew first: filler strips and the test strip of five pleats.

Filler strips are as wide as their pleats come out finished and as long as the pleats are over the surface, and curved
where their stitch lines are; towards a seam they are bevelled over the taper. A pleat that a corner cuts to
a point is filled as far as it is wide enough: its strip ends square there. The test strip is cut with the usual
take-up whatever the sheet says it came to, so that `take_up_measured` always speaks of the same strip. Lengths mm.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np
import shapely

from flatten.demand.fairness import STRAIGHT_BOW_MM, bow_in_300
from flatten.maps.flat import Flat
from flatten.pieces.piece import CutLine, CutOrder, Edge, EdgeKind, FlatMesh, InnerLine, LineKind, Piece, PieceKind
from meshes.base.arrays import FloatArray, IntArray
from meshes.pleats.channels import Pleated
from meshes.pleats.ends import whole_run
from meshes.pleats.shape import TEST_PLEATS, usual_take_up
from meshes.seat.build import BuiltPad

TEST_LENGTH_MM, TEST_MARGIN_MM = 200.0, 25.0
# Filler strips that differ by less in width and length are cut as one; foam gives that much.
ALIKE_MM, ALIKE_LENGTH_MM = 1.5, 6.0
BACKING_CLOTH = "backing cloth"
LEATHER = ""


@dataclass(frozen=True, eq=False)
class _Filler:
    """One filler strip: its middle line (m, 2) from the low end, at (0, 0), to the high end, straight above it; half
    the finished width (m,) along it; whether it is the mirror image of the strip on the pad; at which ends, low and
    high, it stops short of a corner; crooked: it is straight because no strip could follow its stitch line."""

    middle: FloatArray
    half: FloatArray
    mirrored: bool
    short: tuple[bool, bool]
    crooked: bool = False

    @property
    def along(self) -> FloatArray:
        """Lengths (m,) along the middle line."""
        return np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(self.middle, axis=0), axis=1))])

    @property
    def is_whole(self) -> bool:
        """Whether its outline does not cross itself, as it does where the line bends more sharply than half the strip
        is wide."""
        left, right = self.sides(self.along)
        return bool(shapely.Polygon(np.concatenate([right, left[::-1]])).is_valid)

    @property
    def bow(self) -> float:
        return float(np.abs(self.middle[:, 0]).max())

    def turned_over(self) -> "_Filler":
        """The strip as it is on the pad, when all that are alike are mirrored."""
        return replace(self, middle=self.middle * np.array([-1.0, 1.0]), mirrored=False)

    def sides(self, at: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Points (k, 2) of the left and the right side at lengths (k,) along the middle line."""
        along = self.along
        slope = np.stack([np.gradient(self.middle[:, j], along) for j in (0, 1)], axis=1)
        slope /= np.linalg.norm(slope, axis=1)[:, None]
        right = np.stack([slope[:, 1], -slope[:, 0]], axis=1) * self.half[:, None]
        places = [self.middle - right, self.middle + right]
        left_at, right_at = (np.stack([np.interp(at, along, p[:, j]) for j in (0, 1)], axis=1) for p in places)
        return left_at, right_at


def fillers_of(pad: BuiltPad, flats: Mapping[str, Flat]) -> tuple[Piece, ...]:
    """Filler strips of a pad, alike ones drawn once and counted. None for a pad with a single pleat or without.

    flats: maps of its panels by name. A strip is straight where its stitch line is, within 1 mm in 300; else it is cut
    to the line's curve.
    """
    pleats = pad.pleats
    if pleats is None or not pleats.valleys:
        return ()
    fillers = [_filler(pad, pleats, k, flats) for k in range(pleats.plan.count)]
    keys = [_key(filler) for filler in fillers]
    order = sorted(range(len(keys)), key=lambda k: (keys[k], k))
    strips = []
    for number, (_, same) in enumerate(groupby(order, key=lambda k: keys[k]), start=1):
        members = sorted(same)
        turned = [k for k in members if fillers[k].mirrored]
        drawn = fillers[members[0]]
        if len(turned) == len(members):
            turned, drawn = [], drawn.turned_over()
        made = _filler_piece(pad, pleats, drawn, members, number)
        cut = CutOrder(len(members) - len(turned), len(turned), filler_material(pleats), PieceKind.FILLER)
        strips.append(replace(made, order=cut))
    return tuple(strips)


def _filler(pad: BuiltPad, pleats: Pleated, k: int, flats: Mapping[str, Flat]) -> _Filler:
    # The valley nearer the middle: those at the sides may be cut short by rounded corners.
    path = pleats.valleys[min(max(k if 2 * k < pleats.plan.count else k - 1, 0), len(pleats.valleys) - 1)]
    steps = np.linalg.norm(np.diff(pad.surface.vertices[path], axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    width = pleats.widths_at(pleats.station[path])[:, k]
    middle = float(np.interp(pleats.plan.reference, pleats.station[path], along))
    low, high = whole_run(along, width, middle)
    kept = np.concatenate([[low], along[(along > low) & (along < high)], [high]])
    half, short = 0.5 * np.interp(kept, along, width), (low > along[0], high < along[-1])
    straight = np.stack([np.zeros(len(kept)), kept - low], axis=1)
    line = _stitch_line(pad, path, flats)
    # A stitch line that is straight enough is met by a strip that is cut straight.
    if line is None or bow_in_300(line) <= STRAIGHT_BOW_MM:
        return _Filler(straight, half, mirrored=False, short=short)
    line = np.stack([np.interp(kept, along, line[:, j]) for j in (0, 1)], axis=1)
    chord = line[-1] - line[0]
    up = chord / np.linalg.norm(chord)
    line = (line - line[0]) @ np.array([[up[1], up[0]], [-up[0], up[1]]])
    # As long as the pleat is over the surface, where the piece of leather is a little shorter.
    line *= (high - low) / float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())
    mirrored = bool(line[np.argmax(np.abs(line[:, 0])), 0] < 0.0)
    if mirrored:
        line = line * np.array([-1.0, 1.0])
    found = _Filler(line, half, mirrored, short)
    return found if found.is_whole else _Filler(straight, half, mirrored=False, short=short, crooked=True)


def _stitch_line(pad: BuiltPad, path: IntArray, flats: Mapping[str, Flat]) -> FloatArray | None:
    """A valley (m, 2) on the map of a panel that it runs on from end to end; None when there is none."""
    for panel in pad.panels:
        number = {int(v): j for j, v in enumerate(panel.vertices)}
        found = [number.get(int(v), -1) for v in path]
        if min(found) >= 0:
            return np.asarray(flats[panel.name].points[found])
    return None


def _key(filler: _Filler) -> tuple[int, ...]:
    along = filler.along
    spots = np.linspace(0.0, along[-1], 7)
    half, off = np.interp(spots, along, filler.half), np.interp(spots, along, filler.middle[:, 0])
    sizes = np.round(np.concatenate([2.0 * half, off]) / ALIKE_MM).astype(int)
    return (round(along[-1] / ALIKE_LENGTH_MM), *filler.short, filler.crooked, *sizes.tolist())


def _filler_piece(pad: BuiltPad, pleats: Pleated, filler: _Filler, members: Sequence[int], number: int) -> Piece:
    plan = pleats.plan.pleats
    left, right = filler.sides(filler.along)
    low, high = np.stack([left[0], right[0]]), np.stack([right[-1], left[-1]])
    shift = np.array([-float(left[:, 0].min()), 0.0])
    edges = [("front end", low), ("valley", right), ("rear end", high), ("valley", left[::-1])]
    bevels = _bevels(pleats, filler, shift)
    names = [pleats.figures[k].name for k in members]
    words = ", ".join(names) if len(names) < 4 else f"for {len(names)} pleats, {names[0]} to {names[-1]}"
    notes: tuple[str, ...] = (words,)
    if filler.bow > 0.0:
        notes = (*notes, f"curved as its stitch line, {filler.bow:.0f} mm over {filler.middle[-1, 1]:.0f} mm")
    if filler.crooked:
        notes = (
            *notes,
            "straight, as its stitch line is too crooked for a strip: lay it in while sewing, trim it there",
        )
    if any(filler.short):
        ends = " and ".join(_end_width(filler, j) for j in (0, 1) if filler.short[j])
        notes = (
            *notes,
            f"stops short of a corner, {ends} wide: cut the end square, leave the point of the pleat empty",
        )
    if bevels:
        notes = (*notes, f"bevel to nothing from the line to the end, {plan.filling.taper:g} mm")
    moved = [(name, points + shift) for name, points in edges]
    return _bare(f"filler strip {number}", pad.pad.name, moved, bevels, notes)


def _bevels(pleats: Pleated, filler: _Filler, shift: FloatArray) -> list[InnerLine]:
    """Lines from which the strip is bevelled to nothing at its end: at seams, and where it stops short of one."""
    taper, length = pleats.plan.pleats.filling.taper, float(filler.along[-1])
    if taper <= 0.0:
        return []
    ends = zip(pleats.plan.region.sewn, filler.short, (taper, length - taper), strict=True)
    lines = [filler.sides(np.array([at])) for sewn, short, at in ends if sewn or short]
    return [InnerLine("bevel", np.concatenate(line) + shift) for line in lines]


def _end_width(filler: _Filler, end: int) -> str:
    return f"{2.0 * filler.half[-end]:.0f} mm at the {('front', 'rear')[end]} end"


def filler_material(pleats: Pleated) -> str:
    """What the channels are filled with, in words."""
    filling = pleats.plan.pleats.filling
    what = filling.foam.replace("_", " ") if filling.filler == "foam" else filling.filler
    return f"{what} {filling.thickness:g} mm"


def trial_finished_mm(pleats: Pleated) -> float:
    """What the strip that is sewn first should come to between its outer lines, mm: what it is cut for."""
    return TEST_PLEATS * pleats.plan.section.nominal


def trial_strip_of(pad: BuiltPad) -> tuple[Piece, ...]:
    """Cover and backing of the strip to sew first, full size; nothing for a pad without pleats."""
    if pad.pleats is None:
        return ()
    section = pad.pleats.plan.section
    finished = section.nominal
    cut = float(section.arc(np.array(finished))) + usual_take_up(pad.pleats.plan.pleats.filling)
    asked = f"sewn, the outer lines should come to {trial_finished_mm(pad.pleats):.1f} mm"
    notes = (f"stitch lines {cut:.2f} mm apart", asked, "write what you measure as take_up_measured")
    return (
        _strip("test strip", pad.pad.name, cut, LineKind.STITCH, notes, LEATHER),
        _strip(
            "backing of the test strip",
            pad.pad.name,
            finished,
            LineKind.BACKING,
            (f"lines {finished:.2f} mm apart", f"fill with {filler_material(pad.pleats)}"),
            BACKING_CLOTH,
        ),
    )


def _strip(name: str, pad: str, spacing: float, kind: LineKind, notes: tuple[str, ...], material: str) -> Piece:
    width = TEST_PLEATS * spacing + 2.0 * TEST_MARGIN_MM
    corners = np.array([[0.0, 0.0], [width, 0.0], [width, TEST_LENGTH_MM], [0.0, TEST_LENGTH_MM]])
    edges = [("margin", corners[[k, (k + 1) % 4]]) for k in range(4)]
    lines = [
        InnerLine(f"line {k + 1}", np.array([[x, 0.0], [x, TEST_LENGTH_MM]]), kind)
        for k, x in enumerate(TEST_MARGIN_MM + spacing * np.arange(TEST_PLEATS + 1))
    ]
    made = _bare(name, pad, edges, lines, notes)
    return replace(made, order=CutOrder(material=material, kind=PieceKind.TEST_STRIP))


def _bare(
    name: str,
    pad: str,
    edges: Sequence[tuple[str, FloatArray]],
    inner: Sequence[InnerLine],
    notes: tuple[str, ...],
) -> Piece:
    """A piece that is cut on its line, without allowance."""
    made = tuple(Edge(word, EdgeKind.BARE, points, 0.0) for word, points in edges)
    outline = np.concatenate([edge.points[:-1] for edge in made])
    middle = 0.5 * (outline.min(axis=0) + outline.max(axis=0))
    reach = min(0.2 * float(np.ptp(outline[:, 1])), 75.0)
    return Piece(
        name=name,
        pad=pad,
        panels=(),
        edges=made,
        outline=CutLine(outline),
        marks=(),
        grain=middle + np.array([[0.0, -reach], [0.0, reach]]),
        mesh=FlatMesh(outline, np.zeros((0, 3), dtype=np.int64), np.zeros((0, 2)), np.zeros((0, 2))),
        inner=tuple(inner),
        notes=notes,
    )
