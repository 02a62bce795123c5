"""What the page says of a job, as plain data: verdicts in words, pieces to draw, roundness, seams, what to buy.

Lengths are mm, demand, floor and budget fractions; texts carry the unit of the sheet.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from flatten.bench.seat_places import seat_places
from flatten.draw.imprint import imprint_of
from flatten.draw.marks import line_record
from flatten.draw.pen import PenLayer
from flatten.draw.strokes import STROKES
from flatten.fit.one_side import SidePlaces, other_sides, without_images
from flatten.fit.places import edge_names, places_on
from flatten.fit.words import figures_words
from flatten.hides.laid import has_something_to_lay_on
from flatten.job.pipeline import Job
from flatten.leather.verdict import is_tight
from flatten.paper.cautions import cautions_for
from flatten.pieces.pattern import drawn_pieces
from flatten.pieces.piece import Piece
from flatten.pieces.pleat_ends import ends_told
from flatten.report.advice import extremes, kind_of, next_step, overall, symbol
from flatten.report.amounts import lots, welt_mm
from flatten.sheets.refusals import told_as_json
from flatten.work.job_steps import strip_words
from meshes.base.arrays import FloatArray
from meshes.base.units import Unit, in_shop_unit
from meshes.closed.words import closed_words
from meshes.seat.build import BuiltPad
from meshes.settle.proposal import Comparison, Proposal
from meshes.tapes.told import disagreeing_words

# Curves flatter than this are told as straight.
TOLD_STRAIGHT_MM = 10_000.0


def answer_of(job: Job, *, level: str) -> dict[str, Any]:
    """Everything the page shows of a job but the seat itself. level: draft or final."""
    unit = job.sheet.unit

    def said(text: str) -> str:
        return in_shop_unit(text, unit=unit)

    verdicts = [job.flats[piece.panels[0]].verdict for piece in job.pieces]
    sides = _sides_of(job) if level == "final" else {}
    ends = ends_told(job.pads, job.flats)
    return {
        "level": level,
        "name": job.sheet.name,
        "unit": unit,
        "revision": job.sheet.revision,
        "imprint": imprint_of(job.sheet).line,
        "seconds": round(job.seconds, 3),
        "fits": not job.unfit,
        "overall": " ".join(
            text for text in (overall(verdicts), disagreeing_words(job.tapes), _after_fitting(job)) if text
        ),
        "leather": job.leather.name,
        "gives": [said(text) for text in strip_words(job.leather, roll=job.coverings.main.roll is not None)],
        "lays": has_something_to_lay_on(job.sheet),
        "places": seat_places(job.pads),
        "pieces": [
            {
                **piece_data(piece),
                **_judged(job, piece, ends, said),
                "marks": _marks(piece, sides),
                "fitted": _fitted(piece, said),
            }
            for piece in job.pieces
        ],
        "others": [piece_data(piece) for piece in (*job.others, *(s for plan in job.plans for s in plan.drawn))],
        "pads": [_pad(job, pad, said) for pad in job.pads],
        "seams": [
            {
                "name": row.name,
                "a": row.a,
                "b": row.b,
                "seat_mm": round(row.seat_mm, 2),
                "mismatch_mm": round(row.mismatch_mm, 2),
                "sews": row.sews,
                "welt": row.welt,
            }
            for row in job.seams
        ],
        "amounts": {
            "welt_mm": round(welt_mm(job), 1),
            "leather_m2": [[lot.covering.card.name, round(lot.all_mm2 / 1e6, 4)] for lot in lots(job)],
        },
        "problems": told_as_json([*job.problems]),
        "cautions": [str(one) for one in cautions_for(job.sheet)],
    }


def piece_data(piece: Piece) -> dict[str, Any]:
    """A piece to draw, mm, y upwards: its lines as every paper has them, by layer."""
    x0, y0, x1, y1 = piece.box()
    drawn = line_record(piece)
    lines: dict[str, list[list[float]]] = {}
    for layer, points, closed in drawn.lines:
        if layer in (PenLayer.CUT, PenLayer.SEW):
            continue
        lines.setdefault(STROKES[layer].word, []).append(_flat_list(points, closed))
    return {
        "name": piece.name,
        "pad": piece.pad,
        "panels": list(piece.panels),
        "kind": str(piece.kind),
        "material": piece.material,
        "count": piece.count_text,
        "side": piece.side_text,
        "box": [round(v, 2) for v in (x0, y0, x1, y1)],
        "cut": _flat_list(piece.cut, True),
        "grain": _flat_list(piece.grain, False),
        "lines": lines,
        "edges": [
            {
                "name": edge.name,
                "kind": str(edge.kind),
                "seam": edge.seam,
                "over": edge.over[1] if edge.over else None,
                "allowance_mm": round(edge.allowance_mm, 2),
                "note": edge.note,
                "points": _flat_list(edge.points, False),
            }
            for edge in piece.edges
        ],
        "notes": list(piece.notes),
    }


def _after_fitting(job: Job) -> str:
    """Whose figures these are where rows of fitting moved something."""
    return "" if job.fitting is None else figures_words(job.fitting.told)


def _marks(piece: Piece, sides: Mapping[str, Sequence[SidePlaces]]) -> list[dict[str, Any]]:
    """The edges of a piece by names of their own, what the places along each are called, and where they are, in
    vertices from the edge's first: for a row of fitting. over: the same names on the other piece of a pair."""
    names = edge_names(piece)
    over = sides.get(piece.panels[0]) if len(piece.panels) > 1 else None
    found = []
    for k, name in enumerate(names):
        places = places_on(piece, k)
        row: dict[str, Any] = {
            "edge": name,
            "places": [one.name for one in places],
            "at": [round(one.at, 4) for one in places],
        }
        if over is not None and len(over[k].places) == len(places):
            row["over"] = {"edge": over[k].edge, "places": list(over[k].places)}
        found.append(row)
    return found


def _sides_of(job: Job) -> dict[str, list[SidePlaces]]:
    """What the edges of mirrored pairs are called on the piece that is not drawn, by the panel that is."""
    found: dict[str, list[SidePlaces]] = {}
    for pad in job.pads:
        pieces = [piece for piece in job.pieces if piece.pad == pad.pad.name]
        pairs = {piece.panels[0] for piece in pieces if len(piece.panels) > 1}
        if pairs:
            alone = drawn_pieces(without_images(pad, pairs), job.flats, job.sheet.allowance, job.makes)
            found |= other_sides(pad, pieces, alone)
    return found


def _fitted(piece: Piece, said: Any) -> list[str]:
    """What rounds of fitting did to a piece."""
    return [said(note) for note in piece.notes if note.startswith("round ")]


def _flat_list(points: FloatArray, closed: bool) -> list[float]:
    """x, y, x, y; a closed line ends where it began."""
    points = np.asarray(points, dtype=float).reshape(-1, 2)
    if closed and len(points):
        points = np.concatenate([points, points[:1]])
    return [round(float(v), 2) for v in points.ravel()]


def _judged(job: Job, piece: Piece, ends: Mapping[str, Sequence[str]], said: Any) -> dict[str, Any]:
    flat = job.flats[piece.panels[0]]
    return {
        "verdict": flat.verdict,
        "looks": kind_of(flat.verdict),
        "symbol": symbol(flat.verdict),
        "tight": is_tight(flat.verdict),
        "next": said(" ".join([next_step(piece, flat), *ends.get(piece.panels[0], ())])),
        "demand": round(flat.demand, 5),
        "floor": None if flat.floor is None else round(flat.floor, 5),
        "budget": None if flat.budget is None else round(flat.budget, 5),
        "certified": flat.certified,
        "extremes": [[name, said(words)] for name, words in extremes(piece, flat)],
    }


def _pad(job: Job, pad: BuiltPad, said: Any) -> dict[str, Any]:
    rest, words = pad.rest, []
    if rest is not None:
        words.append(f"cover at rest {abs(rest.height_change_mm[0]):.0f} mm down at most")
        if any(rest.foam_layers):
            words.append(f"foam crushed by {100 * rest.foam_compression_max:.0f} % at most")
        if pad.pad.springs is not None:
            words.append(f"springs down by {rest.spring_deflection_mm:.1f} mm")
    if closed := closed_words(pad):
        words.append(closed)
    top = float((pad.shown.vertices @ pad.placement[:3, :3].T)[:, 2].max())
    return {
        "name": pad.pad.name,
        "words": [said(text) for text in words],
        "top_mm": round(top, 2),
        "wanted_radius_mm": pad.pad.wanted_radius,
        "sections": [_section(cut, said) for cut in pad.sections],
        "triangles": len(pad.shown.triangles),
    }


def _section(cut: Comparison, said: Any) -> dict[str, Any]:
    return {
        "name": cut.name,
        "side": cut.ridge.side,
        "bare_mm": radius(cut.ridge_radius_bare_mm),
        "radius_mm": radius(cut.ridge_radius_mm),
        "hard_line_deg": round(cut.ridge.hard_line_deg, 2),
        "proposal": None if cut.proposal is None else _proposal(cut.proposal, said),
    }


def section_rows(cuts: Mapping[str, Sequence[Comparison]], unit: Unit) -> list[dict[str, Any]]:
    """The usual cuts, by pad: how round the cover goes over its edge, and its line, place and height in mm."""

    def said(text: str) -> str:
        return in_shop_unit(text, unit=unit)

    return [
        {
            "pad": pad,
            **_section(cut, said),
            "cover": _flat_list(cut.padded.cover, False),
            "support": _flat_list(cut.bare.support, False),
        }
        for pad, found in cuts.items()
        for cut in found
    ]


def radius(value: float) -> float | None:
    """A radius in mm to be told, None for what is as good as straight."""
    return round(value, 2) if np.isfinite(value) and value < TOLD_STRAIGHT_MM else None


def _proposal(made: Proposal, said: Any) -> dict[str, Any]:
    return {
        "side": made.side,
        "wanted_mm": made.wanted_mm,
        "reached": made.reached,
        "radius_mm": radius(made.radius_mm),
        "cloth": made.cloth,
        "text": said(made.text),
        "layers": [
            {
                "material": one.material,
                "thickness": one.thickness,
                "where": one.where,
                "within": one.within,
                "taper": one.taper,
                "below": one.below,
            }
            for one in made.layers
        ],
    }
