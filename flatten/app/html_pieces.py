"""The report page's part about pieces: the table of verdicts, and each piece with its drawing and edges."""

from flatten.app.advice import kind_of, next_step, places_in_words, symbol
from flatten.app.cutlist import cut_area
from flatten.app.job import Job
from flatten.app.markup import esc, listed, percent, table
from flatten.app.sketch import is_broad, legend_svg, piece_svg
from flatten.app.stretchmap import reach_of
from flatten.piece import Edge, EdgeKind, Piece
from meshes.files import number
from meshes.surface import curve_length

EDGE_WORDS = {
    EdgeKind.SEWN: "sewn",
    EdgeKind.WELTED: "sewn with welt",
    EdgeKind.PULLED: "pulled down and fixed",
    EdgeKind.CLOSED: "closed by hand after fitting",
}


def badge(verdict: str | None) -> str:
    """A verdict in words, with its symbol and colour."""
    return f'<span class="v {kind_of(verdict)}">{symbol(verdict)} {esc(verdict or "not judged")}</span>'


def verdict_table(job: Job) -> str:
    """Every piece with its verdict and what to do next; the first thing a trimmer looks for."""
    rows = []
    for k, piece in enumerate(job.pieces):
        flat = job.flats[piece.panels[0]]
        rows.append(
            [
                f'<a href="#piece-{k + 1}">{esc(piece.pad)}: {esc(piece.name)}</a>',
                esc(piece.count_text),
                badge(flat.verdict),
                percent(flat.demand),
                percent(flat.budget),
                percent(flat.floor),
                esc(next_step(flat.verdict)),
            ]
        )
    head = ["piece", "how many", "verdict", "demand|", "budget|", "floor|", "what to do next"]
    return table(head, rows, kind="verdicts")


def pieces_section(job: Job) -> str:
    """All pieces with drawings, under one legend."""
    reach = reach_of(job.leather)
    legend = (
        "<p>Solid line: cut. Broken line: sew. Short strokes across the sew line: notches, the last one towards the rear "
        "or right doubled; strokes that cross it: the centre. Arrow: grain. Numbers: edges, as in the table below. "
        "Colour: stretch at that place, in the direction where it is farthest from true length. Thin strokes: the "
        "direction of most stretch where there is much of it. The colours end at "
        f"{percent(reach)}, the most this leather should be stretched.</p>{legend_svg(reach)}"
    )
    return legend + "".join(_article(job, piece, k + 1, reach) for k, piece in enumerate(job.pieces))


def _article(job: Job, piece: Piece, k: int, reach: float) -> str:
    flat = job.flats[piece.panels[0]]
    words = f"Outline and stretch of {piece.pad} {piece.name}, demand {percent(flat.demand)}"
    drawing = f"<figure>{piece_svg(piece, reach=reach, words=words)}</figure>"
    edges = _edges(piece, job)
    body = drawing + edges if is_broad(piece) else f'<div class="beside">{drawing}{edges}</div>'
    notes = listed([esc(note) for note in piece.notes]) if piece.notes else ""
    return (
        f'<article id="piece-{k}"><h3>{esc(piece.pad)}: {esc(piece.name)}</h3>'
        f'<p class="facts">{badge(flat.verdict)} {_facts(job, piece)}</p>{body}{notes}</article>'
    )


def _facts(job: Job, piece: Piece) -> str:
    flat = job.flats[piece.panels[0]]
    x0, y0, x1, y1 = piece.box()
    size = f"{x1 - x0:.0f} × {y1 - y0:.0f} mm up to the cut line"
    area = f"{number(cut_area(piece) / 1e6, 3)} m²"
    parts = [f"{piece.count_text}; {size}, {area}"]
    parts.append(f"demand {percent(flat.demand)} of {percent(flat.budget)}")
    parts += places_in_words(piece, flat)
    parts.append(f"all but 0.5 % of the area is stretched less than {percent(max(flat.p995 - 1.0, 0.0))}")
    if not flat.certified:
        parts.append("not proven free of folds: do not cut this piece")
    return esc("; ".join(parts)) + "."


def _edges(piece: Piece, job: Job) -> str:
    partners = {seam.name: (seam.a, seam.b) for seam in job.seams}
    rows = [
        [
            f"{k + 1}: {esc(edge.name)}",
            esc(_sewn_to(edge, piece, partners)),
            number(curve_length(edge.points), 1),
            number(edge.allowance_mm, 1),
        ]
        for k, edge in enumerate(piece.edges)
    ]
    return table(["edge", "what happens there", "length mm|", "allowance mm|"], rows)


def _sewn_to(edge: Edge, piece: Piece, partners: dict[str, tuple[str, str]]) -> str:
    words = EDGE_WORDS[edge.kind]
    if edge.seam is None or edge.seam not in partners:
        return words
    a, b = partners[edge.seam]
    return f"{words} to {b if a in piece.panels else a}"
