"""The report page's part about pieces: the table of verdicts, and each piece with its drawing and edges."""

from markupsafe import Markup

from flatten.draw.stretch_map import reach_of
from flatten.job.pipeline import Job
from flatten.job.pulls import pulls_told
from flatten.job.straight_notes import straight_words
from flatten.maps.flat import Flat, Method
from flatten.pieces.over_notes import over_words
from flatten.pieces.piece import Edge, EdgeKind, Piece
from flatten.pieces.pleat_ends import ends_told
from flatten.report.advice import extremes, kind_of, next_step, symbol
from flatten.report.markup import (
    defined,
    figure,
    fixed,
    item_list,
    joined_up,
    part,
    percent,
    report_section,
    table,
)
from flatten.report.sketch import is_broad, legend_svg, piece_svg
from meshes.base.files import number
from meshes.base.surface import curve_length
from meshes.base.units import span

EDGE_WORDS = {
    EdgeKind.SEWN: "sewn",
    EdgeKind.WELTED: "sewn with welt",
    EdgeKind.TOPSTITCHED: "topstitched",
    EdgeKind.DOUBLE_TOPSTITCHED: "sewn, opened and topstitched twice",
    EdgeKind.LAPPED_OVER: "laps over, sewn",
    EdgeKind.LAPPED_UNDER: "lies under, sewn",
    EdgeKind.PULLED: "pulled down and fixed",
    EdgeKind.CLOSED: "closed by hand after fitting",
    EdgeKind.ZIP: "folded back beside the zip",
    EdgeKind.FLAP: "folded back over the end of the zip, sewn",
    EdgeKind.BLIND: "blind-tacked over a strip of card",
    EdgeKind.RINGED: "turned round a wire and hog-ringed",
    EdgeKind.CLIPPED: "sewn to an edge clip",
    EdgeKind.GLUED: "turned over and glued",
    EdgeKind.CORDED: "hemmed round a draw cord",
    EdgeKind.BARE: "cut edge",
    EdgeKind.OVERSIZE: "cut larger than the pad",
    EdgeKind.MITRED: "mitred to meet the next part",
    EdgeKind.FOLDED: "folded under at the corner",
    EdgeKind.WRAPPED: "turned over the edge and glued to the back",
}


def badge(verdict: str | None) -> Markup:
    """A verdict in words, with its symbol and colour."""
    return part("badge", kind_of(verdict), symbol(verdict), verdict or "not judged")


def verdict_table(job: Job) -> Markup:
    """Every piece with its verdict and what to do next; the first thing a trimmer looks for."""
    reached = pulls_told(job.pads, job.flats, job.coverings)
    ends = ends_told(job.pads, job.flats)
    rows = []
    for k, piece in enumerate(job.pieces):
        flat = job.flats[piece.panels[0]]
        rows.append(
            [
                part("link", f"piece-{k + 1}", f"{piece.pad}: {piece.name}"),
                piece.count_text,
                badge(flat.verdict),
                percent(flat.demand),
                percent(flat.budget),
                percent(flat.floor),
                fixed(1000.0 * reached[piece.panels[0]], 0),
                " ".join([next_step(piece, flat), *ends.get(piece.panels[0], ())]),
            ]
        )
    head = [
        "piece",
        "how many",
        "verdict",
        "must stretch|",
        "may|",
        "least for any|",
        "pulls with N/m|",
        "what to do next",
    ]
    return table(head, rows, kind="verdicts")


def pieces_section(job: Job) -> Markup:
    """All pieces with drawings, under one legend."""
    reach = reach_of(job.leather)
    key = report_section("key", gives=_gives(job), legend=Markup(legend_svg(reach)))
    return joined_up([key, *(_article(job, piece, k + 1, reach) for k, piece in enumerate(job.pieces))])


def _gives(job: Job) -> str:
    return " ".join(
        f"{card.name} gives {percent(card.stretch_along)} along the backbone, {percent(card.stretch_across)} across it."
        for card in (one.card for one in job.coverings.all)
    )


def _article(job: Job, piece: Piece, k: int, reach: float) -> Markup:
    flat = job.flats[piece.panels[0]]
    words = f"Outline and use of the leather of {piece.pad} {piece.name}, which must stretch {percent(flat.demand)}"
    return report_section(
        "piece",
        number=k,
        title=f"{piece.pad}: {piece.name}",
        badge=badge(flat.verdict),
        broad=is_broad(piece),
        facts=_facts(job, piece),
        drawing=figure(piece_svg(piece, reach=reach, words=words)),
        edges=_edges(piece, job),
        notes=item_list(piece.notes) if piece.notes else "",
    )


def _facts(job: Job, piece: Piece) -> Markup:
    flat = job.flats[piece.panels[0]]
    x0, y0, x1, y1 = piece.box()
    # To the tenth, as in the cut list: sixteenths taken of whole millimetres could be others.
    size = f"{number(x1 - x0, 1)} × {number(y1 - y0, 1)} mm"
    rows = [
        ("how many", piece.count_text),
        ("size", f"{size} up to the cut line, {fixed(piece.cut_mm2 / 1e6, 3)} m²"),
        ("must stretch", _demand_words(flat)),
        ("stretched on the seat", stretched_words(flat)),
        *([("beyond it", over_words(piece, flat))] if flat.over is not None else []),
        *([("straight lines", words)] if (words := straight_words(job.pads, piece, flat)) else []),
        *extremes(piece, flat),
        *_use_fact(flat),
        ("nearly everywhere", f"99.5 % of the area is stretched {percent(max(flat.figures.p995 - 1.0, 0.0))} or less"),
    ]
    # Nearly every piece is made the first way; any other is told.
    if flat.made.method != Method.LEAST_DEMAND:
        rows.append(
            ("worked out by", f"{flat.made.method}; the usual way did not do for this shape, so look at it twice")
        )
    if not flat.certified:
        rows.append(("not proven", "this map may fold: do not cut this piece"))
    return defined(rows, "facts")


def _demand_words(flat: Flat) -> str:
    return (
        f"{percent(flat.demand)} between its least and its most stretched place; the leather gives this piece "
        f"{percent(flat.budget)} between them"
    )


def stretched_words(flat: Flat) -> str:
    """From what to what a piece is stretched, which is what it must from its least stretch on; and how far the leather
    lets it go."""
    least, most = float(flat.stretch.min()), float(flat.stretch.max())
    if least >= 1.0:
        words = span(percent(least - 1.0), percent(most - 1.0)).replace("\u00a0% to", " to")
    else:
        words = f"from fullness of {percent(1.0 - least)} to {percent(most - 1.0)}"
    words = f"{words}: the least, and {percent(flat.demand)} from there on"
    if flat.budget is None or least < 1.0:
        return words
    return f"{words}; may reach {percent(least * (1.0 + flat.budget) - 1.0)} where the leather is asked most"


def _use_fact(flat: Flat) -> list[tuple[str, str]]:
    if flat.use is None:
        return []
    return [
        ("use of what it gives", f"{100 * flat.use.max():.0f} % at the most, {100 * flat.use.min():.0f} % at the least")
    ]


def _edges(piece: Piece, job: Job) -> Markup:
    partners = {seam.name: (seam.a, seam.b) for seam in job.seams}
    rows = []
    for k, edge in enumerate(piece.edges):
        length = curve_length(edge.points)
        words = _sewn_to(edge, piece, partners)
        rows.append([f"{k + 1}: {edge.name}", words, fixed(length), number(edge.allowance_mm, 1)])
    return table(["edge", "what happens there", "length mm|", "allowance mm|"], rows, unit=job.sheet.unit)


def _sewn_to(edge: Edge, piece: Piece, partners: dict[str, tuple[str, str]]) -> str:
    words = EDGE_WORDS[edge.kind]
    if edge.seam is None or edge.seam not in partners:
        return words
    a, b = partners[edge.seam]
    return f"{words} to {b if a in piece.panels else a}"
