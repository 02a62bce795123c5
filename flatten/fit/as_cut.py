"""What a piece asks of its leather after a fitting: its map carried along with the moved stitch line, and judged again.

A row that names what was seen, a loose place or a drag line, says that the seat itself is other than was computed, by
what it takes in or lets out; the piece then asks what it did. So it is where a seam was off the ridge: the line on the
seat goes over with it. A row with an amount alone stretches or slackens the piece on the seat as it was computed, whose
lines stay; between its edges the leather shares that as it is drawn over its seat (`spread`). Leather is not pressed
together: a place that is longer than its seat lies loose, and asks nothing more of the others. Limit: seams do not
slide over the seat, so short stretches of seams ask too much.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from flatten.coverings.covering import Coverings
from flatten.fit.fitted import FittedPad
from flatten.fit.moved import CrossedError, EdgeMove, moved_rim
from flatten.fit.spread import spread
from flatten.leather.card import Card
from flatten.leather.stretch import Stretch, stretch
from flatten.leather.verdict import Judged, LaidPiece, Verdict, judged, with_ease
from flatten.maps.certify import certify
from flatten.maps.flat import Flat, MapFigures, mirrored
from flatten.pieces.pattern import laid_up
from flatten.pieces.piece import EdgeKind, FlatMesh, Piece
from meshes.base.arrays import FloatArray, locked_floats
from meshes.base.surface import boundary_loops, triangle_areas
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
        folded = {k for k, edge in enumerate(panel.rim) if edge.kind == EdgeKind.FOLDED}
        rim = moved_rim([old.points[edge.vertices] for edge in panel.rim], moves, folded)
    except CrossedError:
        return None
    return on_points(panel, old, old.points + spread(old, panel.rim, rim), card)


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
