"""Panels and their flat maps become pieces: turned to the grain, with allowances, notches, centre marks and names.

A piece is drawn once for a mirrored pair. Notches stand at equal shares of the sewn length on both sides of a seam,
counted from the same end on the seat; the last one, towards the rear or the outside (right, on a seam
across the centre line), is doubled on both pieces. A pleated piece is spread for its crests and take-up; what is sewn
to it, and its notches, stay as they are on the finished seat.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatten.corners.lines import RELIEF_CUT, fold_lines
from flatten.corners.wedge import Wedge, wedge
from flatten.corners.words import fold_notes
from flatten.coverings.covering import Coverings
from flatten.edges.fixings import PULLED, fly_grip_mm
from flatten.edges.makes import USUAL_MAKES, edge_allowance
from flatten.edges.named import Makes
from flatten.edges.rows import row_beside
from flatten.leather.grain import carried
from flatten.leather.pleat_grain import pleats_of
from flatten.maps.flat import Flat
from flatten.pieces.allowance import add_allowances, as_cut
from flatten.pieces.crossings import crossing_marks, side_centres
from flatten.pieces.notches import CLEAR_MM, counted, notch_marks, stations
from flatten.pieces.over_notes import with_over_note
from flatten.pieces.piece import CutOrder, Edge, EdgeKind, FlatMesh, InnerLine, LineKind, Mark, Piece, PieceKind
from flatten.pieces.pleat_lines import crest_lines, join_lines, part_notes, stitch_lines
from flatten.pieces.seams import counted_from, seam_runs_back
from flatten.pieces.spread import cut_widths, spread
from meshes.base.arrays import FloatArray
from meshes.base.problems import Problem, ProblemError
from meshes.base.surface import curve_length
from meshes.pleats.channels import Pleated
from meshes.records.frame import BY_HAND, FIXED
from meshes.records.pad import Layer
from meshes.seat.build import BuiltPad
from meshes.seat.panels import CornerFold, Panel, PanelRole, RimEdge, Seam
from meshes.sheet.whole import Allowance
from meshes.support.line_roles import LineRole

BACKING = "backing cloth"


def pieces_of(
    pad: BuiltPad,
    flats: Mapping[str, Flat],
    allowance: Allowance,
    *,
    notes: Mapping[tuple[str, str], str] | None = None,
    makes: Makes | None = None,
) -> tuple[Piece, ...]:
    """All pieces of one pad in reading order; mirrored pairs once. notes: what is written along an edge, by panel and
    seam; makes: how seams are sewn that are not plain or welted. Raises ProblemError when a piece would lie over itself
    once it is spread for its pleats."""
    return told_pieces(drawn_pieces(pad, flats, allowance, makes or {}), flats, notes=notes or {}, makes=makes or {})


def drawn_pieces(pad: BuiltPad, flats: Mapping[str, Flat], allowance: Allowance, makes: Makes) -> tuple[Piece, ...]:
    """The pieces of one pad with their lines and marks, before anything that follows from their edges is added. Raises
    ProblemError as `pieces_of` does."""
    return tuple(_cover(pad, drawn, flats[drawn.panel.name], (allowance, makes)) for drawn in _panels_to_cut(pad))


def told_pieces(
    pieces: Sequence[Piece], flats: Mapping[str, Flat], *, notes: Mapping[tuple[str, str], str], makes: Makes
) -> tuple[Piece, ...]:
    """Drawn pieces with their rows of thread, and with what has to be minded of them."""
    return tuple(_noted(with_over_note(with_rows(p, makes), flats[p.panels[0]]), notes) for p in pieces)


def edge_widths(panel: Panel, piece: Piece, makes: Makes, allowance: Allowance) -> list[float]:
    """Allowances of all edges of a drawn piece, also of those that the leather goes through uncut, mm."""
    pairs = zip(panel.rim, piece.edges, strict=True)
    return [edge.allowance_mm or _width(rim, makes, allowance) for rim, edge in pairs]


def _noted(piece: Piece, notes: Mapping[tuple[str, str], str]) -> Piece:
    told = [notes.get((piece.panels[0], edge.seam or ""), "") for edge in piece.edges]
    if not any(told):
        return piece
    both = ["; ".join(part for part in (e.note, n) if part) for e, n in zip(piece.edges, told, strict=True)]
    return replace(piece, edges=tuple(replace(e, note=n) for e, n in zip(piece.edges, both, strict=True)))


def with_rows(piece: Piece, makes: Makes) -> Piece:
    """The piece with its rows of thread, and with what has to be minded along the edges of its seams."""
    panel, edges, rows = piece.panels[0], [], []
    for edge in piece.edges:
        make = makes.get(edge.seam or "", USUAL_MAKES.get(edge.kind.value))
        edges.append(edge if make is None else replace(edge, note=make.note(panel)))
        for away in () if make is None else make.rows_mm(panel):
            runs = row_beside(edge.points, piece.sew, away)
            rows += [InnerLine(f"row, {away:g} mm", run, LineKind.ROW) for run in runs]
    return replace(piece, edges=tuple(edges), inner=(*piece.inner, *rows))


def from_coverings(pieces: Sequence[Piece], coverings: Coverings) -> list[Piece]:
    """The pieces, each with the leather it is cut from where that is not the sheet's own."""
    return [
        replace(piece, order=replace(piece.order, leather=coverings.card(piece.panels[0]).name))
        if piece.panels[0] in coverings.other
        else piece
        for piece in pieces
    ]


def backings_of(pad: BuiltPad, flats: Mapping[str, Flat], allowance: Allowance) -> tuple[Piece, ...]:
    """The backings that pleated pieces of several pleats are stitched through to, at finished size."""
    return tuple(
        _backing(pad, drawn, flats[drawn.panel.name], allowance)
        for drawn in _panels_to_cut(pad)
        if drawn.pleats is not None and drawn.pleats.plan.pleats.joining.construction == "one piece"
    )


@dataclass(frozen=True, eq=False)
class _PanelToCut:
    """A panel that is drawn, the one that mirrors it, and its pleats if it has some."""

    panel: Panel
    partner: Panel | None
    pleats: Pleated | None

    @property
    def paired(self) -> bool:
        return self.partner is not None

    @property
    def name(self) -> str:
        return self.panel.part if self.partner is None else f"{self.panel.part} ({self.partner.part} mirrored)"


def _panels_to_cut(pad: BuiltPad) -> list[_PanelToCut]:
    partner = {panel.mirror_of: panel for panel in pad.panels if panel.mirror_of}
    drawn = [panel for panel in pad.panels if panel.mirror_of is None]
    return [_PanelToCut(panel, partner.get(panel.name), pleats_of(pad, panel)) for panel in drawn]


def grain_turn(panel: Panel, flat: Flat) -> float:
    """Angle in rad that turns the flat map so that the panel's grain points up the paper.

    Where the piece lies to the backbone was chosen when it was flattened; otherwise the seat's grain direction is
    carried into every triangle by the map itself, and the area-weighted mean decides.
    """
    run = carried(panel.surface.vertices, panel.surface.triangles, flat.points, panel.grain)
    if flat.backbone is not None:
        # The backbone has no head; the arrow keeps to the side that the seat's direction is on.
        run = flat.backbone if flat.backbone @ run >= 0 else -flat.backbone
    return float(0.5 * np.pi - np.arctan2(run[1], run[0]))


def laid_up(panel: Panel, flat: Flat) -> tuple[FloatArray, FloatArray]:
    """A panel's flat map (n, 2) turned to its grain with its box at zero, and the turn (2, 2), for directions."""
    turn = grain_turn(panel, flat)
    turned = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    points = flat.points @ turned
    return points - points.min(axis=0), turned


def _cover(pad: BuiltPad, drawn: _PanelToCut, flat: Flat, allowance: tuple[Allowance, Makes]) -> Piece:
    panel, pleats = drawn.panel, drawn.pleats
    finished, turned = laid_up(panel, flat)
    if pleats is None:
        return _piece(pad, drawn, flat, (finished, finished), turned, allowance)
    apart = spread(pleats, panel, finished)
    if not apart.certified:
        text = "the piece lies over itself once it is spread for its pleats; sew strips, or part it with joins"
        raise ProblemError([Problem("F312", f"{pad.pad.name} {panel.part}", text)])
    piece = _piece(pad, drawn, flat, (finished, apart.points), turned, allowance)
    lines = stitch_lines(pleats, panel, apart, apart.points, LineKind.STITCH, paired=drawn.paired)
    joins = join_lines(pleats, panel, piece.edges, paired=drawn.paired)
    inner = (*lines, *crest_lines(pleats, panel, apart), *joins)
    notes = part_notes(pleats, apart, cut_widths(pleats, panel, apart, apart.points), paired=drawn.paired)
    return replace(piece, inner=(*piece.inner, *inner), notes=(*piece.notes, *notes))


def sew_foams_of(pad: BuiltPad, flats: Mapping[str, Flat], allowance: Allowance, makes: Makes) -> tuple[Piece, ...]:
    """Sew foam with scrim for the plain panels of a pad, cut as their pieces are."""
    return tuple(
        _sew_foam(_piece(pad, drawn, flat, (points, points), turned, (allowance, makes)), layer)
        for layer in pad.pad.layers
        if layer.sewn
        for drawn in _panels_to_cut(pad)
        if drawn.pleats is None and drawn.panel.role is not PanelRole.FLY
        if layer.where == "all" or drawn.panel.role is not PanelRole.BAND
        for flat in [flats[drawn.panel.name]]
        for points, turned in [laid_up(drawn.panel, flat)]
    )


def _sew_foam(piece: Piece, layer: Layer) -> Piece:
    material = f"{layer.material} {layer.thickness:g} mm with scrim"
    order = replace(piece.order, material=material, kind=PieceKind.BACKING)
    edges = tuple(replace(edge, seam=None, over=edge.over and (edge.over[0], None)) for edge in piece.edges)
    return replace(piece, name=f"sew foam of {piece.name}", edges=edges, order=order)


def _backing(pad: BuiltPad, drawn: _PanelToCut, flat: Flat, allowance: Allowance) -> Piece:
    """The backing of a pleated part: its finished size, with the lines it is stitched along."""
    assert drawn.pleats is not None
    finished, turned = laid_up(drawn.panel, flat)
    apart = spread(drawn.pleats, drawn.panel, finished)
    piece = _piece(pad, drawn, flat, (finished, finished), turned, (allowance, {}))
    lines = stitch_lines(drawn.pleats, drawn.panel, apart, finished, LineKind.BACKING, paired=drawn.paired)
    # The cover's edge, not the backing's, is what a seam is measured by.
    edges = tuple(replace(edge, seam=None, over=edge.over and (edge.over[0], None)) for edge in piece.edges)
    order = replace(piece.order, material=BACKING, kind=PieceKind.BACKING)
    return replace(piece, name=f"backing of {drawn.name}", edges=edges, inner=lines, order=order)


def _piece(
    pad: BuiltPad,
    drawn: _PanelToCut,
    flat: Flat,
    shapes: tuple[FloatArray, FloatArray],
    turned: FloatArray,
    allowances: tuple[Allowance, Makes],
) -> Piece:
    """A piece with its edges and marks; shapes: at finished size, by which it is notched, and as it is cut."""
    panel, (finished, points), (allowance, makes) = drawn.panel, shapes, allowances
    grip = fly_grip_mm(pad, panel, points, (allowance, makes))
    edges = tuple(
        Edge(
            rim.name,
            EdgeKind(rim.kind),
            points[rim.vertices],
            grip if grip is not None and rim.seam is None and rim.kind == PULLED else _width(rim, makes, allowance),
            rim.seam,
            over=_over(rim, drawn.partner),
        )
        for rim in panel.rim
    )
    folds = _folds(pad, panel, edges)
    around = tuple(replace(e, points=folds[k][1].mouth) if k in folds else e for k, e in enumerate(edges))
    outline = add_allowances(around, corner=allowance.corner)
    around = as_cut(around, outline)
    # Marks stand on the sew line of what lies smooth.
    edges = tuple(edge if k in folds else around[k] for k, edge in enumerate(edges))
    marks: list[Mark] = []
    for rim, edge in zip(panel.rim, edges, strict=True):
        marks += _notches(pad, panel, (rim, edge), finished[rim.vertices], allowance.notch_spacing)
    marks += crossing_marks(pad, panel, edges, paired=drawn.paired)
    marks += side_centres(pad, panel, edges, marks)
    return Piece(
        name=drawn.name,
        pad=panel.pad,
        panels=(panel.name,) if drawn.partner is None else (panel.name, drawn.partner.name),
        edges=around,
        outline=outline,
        marks=tuple(marks),
        inner=_lines_of(folds.values(), allowance.pulled),
        notes=fold_notes([fold for fold, _ in folds.values()], [leather.area_mm2 for _, leather in folds.values()]),
        grain=_grain_arrow(points),
        mesh=FlatMesh(points, panel.surface.triangles, flat.stretch, flat.along @ turned, flat.use),
        order=CutOrder(mirrored=1 if drawn.paired else 0),
    )


def _width(rim: RimEdge, makes: Makes, allowance: Allowance) -> float:
    """The allowance of an edge; leather of a fold is pulled down with the edges beside it, and what wraps a flat
    board is drawn later, when it is known what it goes round."""
    if rim.kind == EdgeKind.WRAPPED:
        return 0.0
    kind = str(EdgeKind.PULLED) if rim.kind == EdgeKind.FOLDED else rim.kind
    return edge_allowance(kind, makes.get(rim.seam or ""), allowance)


def _folds(pad: BuiltPad, panel: Panel, edges: Sequence[Edge]) -> dict[int, tuple[CornerFold, Wedge]]:
    """The folded corners of a piece with their leather, by the number of their edge."""
    named = {fold.name: fold for fold in pad.division.folds if fold.panel == panel.name}
    found = {}
    for k, edge in enumerate(edges):
        if edge.kind is EdgeKind.FOLDED:
            fold = named[edge.name]
            share = fold.depth_mm / (2.0 * fold.depth_mm + fold.arc_mm)
            after = edges[(k + 1) % len(edges)]
            found[k] = (fold, wedge(edges[k - 1].points, edge.points, after.points, share))
    return found


def _lines_of(folds: Iterable[tuple[CornerFold, Wedge]], allowance_mm: float) -> tuple[InnerLine, ...]:
    return tuple(
        InnerLine(name, points, LineKind.LATER if name == RELIEF_CUT else LineKind.FOLD)
        for fold, leather in folds
        for name, points in fold_lines(leather, fold.finish, fold.corner, allowance_mm)
    )


def _over(rim: RimEdge, partner: Panel | None) -> tuple[str, str | None] | None:
    """What an edge is called on the panel that mirrors its own, and its seam there. Vertices have the same numbers on
    both; where a cut in a neighbour parts only one of two edges, it is the one that goes along with most of it."""
    if partner is None:
        return None
    run = set(rim.vertices.tolist())
    twin = max(partner.rim, key=lambda other: len(run.intersection(other.vertices.tolist())))
    return twin.name, twin.seam


def _notches(
    pad: BuiltPad, panel: Panel, along: tuple[RimEdge, Edge], finished: FloatArray, spacing_mm: float
) -> list[Mark]:
    rim, edge = along
    if rim.seam is None:
        return _matching(edge, spacing_mm) if _matched_by_hand(pad, rim) else []
    seam = next(seam for seam in pad.seams if seam.name == rim.seam)
    run = pad.surface.vertices[seam.vertices]
    length = curve_length(run)
    shares = np.asarray(stations(length, spacing_mm))
    if len(shares) == 0:
        return []
    centre = _centre_share(panel, seam, run)
    numbers = counted(shares, centre)
    kept = np.ones(len(shares), dtype=bool)
    if centre is not None:
        # The centre mark stands there itself; the doubled notch is kept, as it tells the ends apart.
        kept[:-1] = np.abs(shares[:-1] - centre) * length >= CLEAR_MM
    halves = pad.closed is not None
    forward = counted_from(rim.vertices, panel.vertices, seam, pad.surface.vertices, two_sided=halves)
    # Shares of the finished edge: on a spread one the same places of the leather.
    at = _along(finished, edge.points, shares if forward else 1.0 - shares)
    marks = [*notch_marks(edge, at[:-1], double=False), *notch_marks(edge, at[-1:], double=True)]
    return [replace(m, text=str(n)) for m, n, keep in zip(marks, numbers, kept, strict=True) if keep]


def _matched_by_hand(pad: BuiltPad, rim: RimEdge) -> bool:
    """Whether an edge is fitted by hand to another one: of a flat panel, or where the sheet names such a fixing."""
    if rim.kind == FIXED[BY_HAND]:
        return rim.role is LineRole.CLOSING or BY_HAND in dict(pad.pad.fixings.sides).values()
    return rim.kind == EdgeKind.BLIND


def _matching(edge: Edge, spacing_mm: float) -> list[Mark]:
    """Marks along an edge that is matched by hand to what it closes on; counted from its middle."""
    shares = np.asarray(stations(curve_length(edge.points), spacing_mm))
    away = np.unique(np.round(np.abs(shares - 0.5), 9), return_inverse=True)[1]
    marks = notch_marks(edge, shares, double=False)
    return [replace(mark, text=str(int(n) + 1)) for mark, n in zip(marks, away, strict=True)]


def _centre_share(panel: Panel, seam: Seam, run: FloatArray) -> float | None:
    """Share of a seam's length, from the end it is counted from, at which it crosses the centre line."""
    on = np.flatnonzero(np.isin(seam.vertices[1:-1], panel.vertices[panel.centre])) + 1
    if len(on) == 0:
        return None
    share = curve_length(run[: on[0] + 1]) / curve_length(run)
    return 1.0 - share if seam_runs_back(run) else share


def _along(finished: FloatArray, cut: FloatArray, shares: FloatArray) -> FloatArray:
    """Shares of an edge's finished length as shares of its length as cut."""
    lengths = [np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(p, axis=0), axis=1))]) for p in (finished, cut)]
    one, two = (length / length[-1] for length in lengths)
    return np.asarray(np.interp(shares, one, two))


def _grain_arrow(points: FloatArray) -> FloatArray:
    """Tail and head of an arrow up the middle of the piece's box; the drawing moves it to where it has room."""
    low, high = points.min(axis=0), points.max(axis=0)
    x, length = 0.5 * (low[0] + high[0]), min(0.4 * (high[1] - low[1]), 150.0)
    y = 0.5 * (low[1] + high[1])
    return np.array([[x, y - 0.5 * length], [x, y + 0.5 * length]])
