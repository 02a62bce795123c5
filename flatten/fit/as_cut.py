"""What a piece asks of its leather after a fitting: its map carried along with the moved stitch line, and judged again.

A row that names what was seen, a loose place or a drag line, says that the seat itself is other than was computed, by
what it takes in or lets out; the piece then asks what it did. So it is where a seam was off the ridge: the line on the
seat goes over with it. A row with an amount alone stretches or slackens the piece on the seat as it was computed, whose
lines stay; between its edges the leather shares that as evenly as can be (the displacement is harmonic, cotangent
weights: Pinkall and Polthier 1993). Leather is not pressed together: a place that is longer than its seat lies loose,
and asks nothing more of the others. Limit: seams do not slide over the seat, so short stretches ask too much.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatten.coverings.covering import Coverings
from flatten.fit.asked import MakeFitProblem
from flatten.fit.fitted import FittedPad, FittedSeat
from flatten.fit.linked import followers
from flatten.fit.moved import CrossedError, EdgeMove, moved_rim
from flatten.leather.card import Card
from flatten.leather.stretch import Stretch, stretch
from flatten.leather.verdict import Judged, LaidPiece, Verdict, is_tight, judged, with_ease
from flatten.maps.certify import certify
from flatten.maps.flat import Flat, MapFigures, mirrored
from flatten.pieces.pattern import laid_up
from flatten.pieces.piece import FlatMesh, Piece
from meshes.base.arrays import FloatArray, IntArray, locked_floats
from meshes.base.problems import Problem
from meshes.base.surface import boundary_loops, triangle_areas
from meshes.numerics.laplace import corner_angles, laplacian
from meshes.numerics.solver import Factor
from meshes.schema.cover_tables import LOOSE
from meshes.seat.panels import Panel


@dataclass(frozen=True, eq=False)
class AsCut:
    """flats: maps of the moved pieces by panel; pieces: of the pad, with their maps; unknown: names of pieces whose map
    does not lie flat with the moved line, and whose figures are those before."""

    flats: Mapping[str, Flat]
    pieces: tuple[Piece, ...]
    unknown: tuple[str, ...]


def as_cut_flats(fit: FittedPad, flats: Mapping[str, Flat], coverings: Coverings) -> AsCut:
    """The maps of a pad's moved pieces, as they are cut. flats: by panel, before the fitting."""
    panels = {panel.name: panel for panel in fit.drawn.pad.panels}
    found: dict[str, Flat] = {}
    pieces, unknown = [], []
    for i, piece in enumerate(fit.pieces):
        moves = {k: move for (of, k), move in fit.moves.items() if of == i and abs(move.out_mm).max() > 0.0}
        if not moves:
            pieces.append(piece)
            continue
        panel, old = panels[piece.panels[0]], flats[piece.panels[0]]
        new = _as_cut(panel, old, moves, coverings.card(panel.name))
        if new is None:
            unknown.append(f"{piece.pad} {piece.name}")
            pieces.append(piece)
            continue
        found |= {name: new if k == 0 else mirrored(new) for k, name in enumerate(piece.panels)}
        pieces.append(replace(piece, mesh=_mesh(piece.mesh, panel, old, new)))
    return AsCut(found, tuple(pieces), tuple(unknown))


def _as_cut(panel: Panel, old: Flat, moves: Mapping[int, EdgeMove], card: Card) -> Flat | None:
    """The map with its rim moved; None where it would fold."""
    try:
        rim = moved_rim([old.points[edge.vertices] for edge in panel.rim], moves)
    except CrossedError:
        return None
    return on_points(panel, old, old.points + _spread(old, [edge.vertices for edge in panel.rim], rim), card)


def on_points(panel: Panel, old: Flat, points: FloatArray, card: Card) -> Flat | None:
    """The map of a panel with other points (n, 2), certified and judged anew; None where it would fold."""
    certificate = certify(points, old.triangles, rim=boundary_loops(old.triangles)[0])
    if not certificate.holds:
        return None
    field = stretch(panel.surface.vertices, points, old.triangles)
    runs = tuple(edge.vertices for edge in panel.rim if edge.seam is not None)
    judgement = _judged(field, old, LaidPiece(points, old.triangles, old.backbone, runs), card)
    area = float(triangle_areas(points, old.triangles).sum())
    cost = old.straightening and old.straightening.within(field.demand, judgement.budget)
    return replace(
        old,
        points=locked_floats(points),
        stretch=locked_floats(field.values),
        along=locked_floats(field.along),
        figures=MapFigures(field.demand, field.p995, field.energy, old.figures.area_seat_mm2, area),
        judgement=judgement,
        certificate=certificate,
        straightening=cost,
    )


def _spread(old: Flat, runs: list[IntArray], rim: Sequence[FloatArray]) -> FloatArray:
    """How far every vertex goes (n, 2) when those of the rim go as they do."""
    n, moved = len(old.points), np.zeros((len(old.points), 2))
    for vertices, line in zip(runs, rim, strict=True):
        moved[vertices] = line - old.points[vertices]
    inside = np.setdiff1d(np.arange(n), np.concatenate(runs))
    if len(inside):
        matrix = laplacian(old.triangles, corner_angles(_in_space(old.points), old.triangles)[1], n)
        moved[inside] = Factor(matrix[inside][:, inside]).solve(-(matrix @ moved)[inside])
    return moved


def _in_space(points: FloatArray) -> FloatArray:
    return np.column_stack([points, np.zeros(len(points))])


def _judged(field: Stretch, old: Flat, laid: LaidPiece, card: Card) -> Judged:
    """The verdict on a piece that is sewn at the size it has: what is loose is left loose, not pulled smooth."""
    least = float(old.stretch.min())
    smooth = replace(field, values=np.maximum(field.values, least))
    found = judged(smooth, None, laid, card=card, budget=None)
    told = None if found.budget is None else (1.0 + found.budget) * (1.0 + field.demand) / (1.0 + smooth.demand) - 1.0
    floor, tight = old.floor, found.verdict == Verdict.TIGHT
    proven = tight and floor is not None and floor > with_ease(card.widest_budget)
    return replace(found, budget=told, verdict=Verdict.PROVEN if proven else found.verdict)


def _mesh(mesh: FlatMesh, panel: Panel, old: Flat, new: Flat) -> FlatMesh:
    """The map behind a piece that lies as its drawing does."""
    turned = laid_up(panel, old)[1]
    points = mesh.points + (new.points - old.points) @ turned
    return FlatMesh(points, mesh.triangles, new.stretch, new.along @ turned, new.use)


def tightened(
    fitting: FittedSeat, before: Mapping[str, Flat], now: Mapping[str, Flat], problem: MakeFitProblem
) -> list[Problem]:
    """Rows that say nothing of what was seen and make pieces too tight that were not, on the seat as computed."""
    told, known = [], set[str]()
    for row in fitting.done:
        drawn = row.found.drawn
        numbers = {one.where[0] for one in followers(drawn.pad, drawn.pieces, row.found.where)}
        pieces = [drawn.pieces[i] for i in sorted(numbers)]
        tight = [p for p in pieces if is_tight(now[p.panels[0]].verdict) and not is_tight(before[p.panels[0]].verdict)]
        names = [f"{piece.pad} {piece.name}" for piece in tight if piece.panels[0] not in known]
        known |= {piece.panels[0] for piece in tight}
        if row.found.note.found is not None or not names:
            continue
        text = (
            f"on the seat as computed this makes {' and '.join(names)} too tight; where the cover was loose by as much "
        )
        text += f'the seat is smaller there than computed: write found = "{LOOSE}" in the row, and it is judged so'
        told.append(replace(problem("F342", row.found.note.row, "piece", text), warning=True))
    return told
