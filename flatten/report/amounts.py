"""How much a job takes: leather with its welt and test strips, backing and filler, by area and by what to buy."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatten.coverings.covering import Covering
from flatten.coverings.roll_length import roll_length_mm
from flatten.edges.fixings import CORD_TO_TIE_MM, rings_for
from flatten.job.pipeline import Job
from flatten.pieces.piece import Piece, PieceKind
from flatten.pieces.welt import WeltPlan, WeltRun, welt_plan, welt_runs
from flatten.report.edge_lengths import edge_lengths
from meshes.base.arrays import FloatArray
from meshes.records.coverings import RollGoods

# Share of a hide that ends up in pieces: many small ones to large seamless ones (keleenleathers.com).
YIELDS = (0.70, 0.50)
# Welt strips come out of a hide about this long (common practice, no source).
WELT_STRIP_MM = 1200.0
# What holds an outer edge of a kind and is bought by length.
FITTINGS = {"ringed": "listing wire", "clipped": "edge clip", "corded": "draw cord"}
# A seam that turns by this much goes round a corner.
WELT_CORNER_RAD = 0.5 * np.pi


def gross_area(net: float, share: float) -> float:
    """Hide to buy for a net area of pieces, in the same unit, when `share` of the hide ends up in pieces.

    Raises ValueError for a share that is not above 0 and at most 1.
    """
    if not 0.0 < share <= 1.0:
        raise ValueError(f"the share of a hide that is used lies between 0 and 1, found {share}")
    return net / share


def all_area_mm2(piece: Piece) -> float:
    """Area of a piece up to its cut line, as often as it is cut, mm2."""
    return (piece.cut_count + piece.mirrored_count) * piece.cut_mm2


def net_area_mm2(job: Job) -> float:
    """Area of all leather pieces up to their cut lines, each as often as it is cut, mm2; without test strips."""
    return sum(all_area_mm2(piece) for piece in job.pieces)


def test_strip_area_mm2(job: Job) -> float:
    """Area of the leather of the test strips, mm2."""
    return sum(all_area_mm2(piece) for piece in job.others if not piece.material)


def leather_area_mm2(job: Job) -> float:
    """Everything that is cut from the leather: pieces, welt strips, test strips; mm2."""
    return net_area_mm2(job) + welt_area_mm2(job) + test_strip_area_mm2(job)


@dataclass(frozen=True)
class Lot:
    """What is cut from one leather or roll, mm2: pieces, welt strips, test strips; roll_mm: how much of a roll that
    takes, None for a hide; wide: pieces that are wider than the roll."""

    covering: Covering
    pieces_mm2: float
    welt_mm2: float
    test_mm2: float
    roll_mm: float | None = None
    wide: tuple[str, ...] = ()

    @property
    def all_mm2(self) -> float:
        """Everything that is cut from it."""
        return self.pieces_mm2 + self.welt_mm2 + self.test_mm2


def lots(job: Job) -> tuple[Lot, ...]:
    """Everything that is cut from leather and roll goods, by what it is cut from, the sheet's leather first; a covering
    that nothing is cut from is left out."""
    coverings = job.coverings
    found = []
    for one in coverings.all:
        main = one.card.name == coverings.main.card.name
        names = ("", one.card.name) if main else (one.card.name,)
        pieces = [piece for piece in job.pieces if piece.order.leather in names]
        area = sum(all_area_mm2(piece) for piece in pieces)
        welt = welt_area_mm2(job) if coverings.of_welt.card.name == one.card.name else 0.0
        lot = Lot(one, area, welt, test_strip_area_mm2(job) if main else 0.0)
        if lot.all_mm2 > 0.0:
            found.append(lot if one.roll is None else _on_roll(lot, pieces, one.roll, job.rolled_mm.get(one.card.name)))
    return tuple(found)


def _on_roll(lot: Lot, pieces: Sequence[Piece], roll: RollGoods, laid_mm: float | None) -> Lot:
    """The lot with how much roll it takes: what a layout takes, else rows of boxes; strips are laid across it besides
    the pieces."""
    each = [piece for piece in pieces for _ in range(piece.cut_count + piece.mirrored_count)]
    boxes = [(x1 - x0, y1 - y0) for x0, y0, x1, y1 in (piece.box() for piece in each)]
    length, wide = roll_length_mm(boxes, roll.usable_mm)
    names = tuple(dict.fromkeys(f"{each[k].pad} {each[k].name}" for k in wide))
    if laid_mm is None:
        laid_mm = length + (lot.welt_mm2 + lot.test_mm2) / roll.usable_mm
    return replace(lot, roll_mm=laid_mm, wide=names)


def other_areas_mm2(job: Job) -> Mapping[tuple[str, bool], float]:
    """Area of backing and filler by material and whether it is a filler, mm2, that of test strips included."""
    found: dict[tuple[str, bool], float] = {}
    for piece in job.others:
        if piece.material:
            key = piece.material, piece.kind is PieceKind.FILLER
            found[key] = found.get(key, 0.0) + all_area_mm2(piece)
    return found


@dataclass(frozen=True)
class Fitting:
    """What is bought by length for outer edges of one kind: how many edges, length in all, mm, and what comes with
    it."""

    name: str
    count: int
    length_mm: float
    words: str


def fittings(job: Job) -> tuple[Fitting, ...]:
    """Wire with its rings, clip and cord for the outer edges that are held by them."""
    found = []
    for kind, name in FITTINGS.items():
        lengths = [edge.paper_mm for edge in edge_lengths(job) if edge.kind == kind]
        if not lengths:
            continue
        length, words = sum(lengths), f"{len(lengths)} edge{'' if len(lengths) == 1 else 's'}"
        if kind == "ringed":
            words += f"; {sum(rings_for(one) for one in lengths)} hog rings"
        if kind == "corded":
            length += CORD_TO_TIE_MM
            words += f"; {CORD_TO_TIE_MM:g} mm of it to tie"
        found.append(Fitting(name, len(lengths), length, words))
    return tuple(found)


def runs_of_welt(job: Job) -> Mapping[str, tuple[str, WeltRun]]:
    """Every run of welt by its name: the pad it is on, and its seams."""
    welted = {seam.name for seam in job.seams if seam.welt}
    runs = [
        (pad.pad.name, run)
        for pad in job.pads
        for run in welt_runs([seam for seam in pad.seams if seam.name in welted], pad.surface.vertices)
    ]
    pads = [pad for pad, _ in runs]
    numbers = [pads[:k].count(pad) + 1 for k, pad in enumerate(pads)]
    return {f"{pad}: welt {number}": (pad, run) for number, (pad, run) in zip(numbers, runs, strict=True)}


def welt(job: Job) -> WeltPlan | None:
    """Strips for all welt of the job; None when no seam is welted."""
    runs = runs_of_welt(job)
    if not runs:
        return None
    lines = _seam_lines(job)
    longest = {seam.name: max(seam.length_a_mm, seam.length_b_mm) for seam in job.seams}
    return welt_plan(
        {name: sum(longest[seam] for seam in run.seams) for name, (_, run) in runs.items()},
        {name: run.turns + sum(corners(lines[seam]) for seam in run.seams) for name, (_, run) in runs.items()},
        covering_mm=job.coverings.of_welt.card.thickness_mm,
        allowance_mm=job.sheet.allowance.welted,
        strip_mm=WELT_STRIP_MM,
    )


def welt_mm(job: Job) -> float:
    """Length of all welt in the sewn seams, mm."""
    plan = welt(job)
    return 0.0 if plan is None else plan.sewn_mm


def welt_area_mm2(job: Job) -> float:
    """Area of the strips that cover the welt cord, with what corners, ends and joins take, mm2."""
    plan = welt(job)
    return 0.0 if plan is None else (plan.cut_mm + plan.joins * plan.width_mm) * plan.width_mm


def _seam_lines(job: Job) -> Mapping[str, list[FloatArray]]:
    """The line of every seam on each of its two pieces, by the seam's name."""
    found: dict[str, list[FloatArray]] = {}
    for name, panel in job.panels.items():
        for rim in panel.rim:
            if rim.seam is not None:
                found.setdefault(rim.seam, []).append(job.flats[name].points[rim.vertices])
    return found


def corners(lines: Iterable[FloatArray]) -> int:
    """How many corners a seam goes round, by how far it turns on the piece where it turns most; lines (k, 2)."""
    turns = [0.0]
    for points in lines:
        steps = np.diff(points, axis=0)
        heading = np.arctan2(steps[:, 1], steps[:, 0])
        turns.append(abs(float(np.sum(np.mod(np.diff(heading) + np.pi, 2 * np.pi) - np.pi))))
    return int(max(turns) / WELT_CORNER_RAD + 0.5)
