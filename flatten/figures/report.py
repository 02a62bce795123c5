"""The report of a job as plain data and as JSON: every figure a program or a person may want to check again.

Lengths are mm, areas mm2, demand, floor, budget and pull fractions, stretch length on the seat / length on the piece.
What is not known is null. Later versions only add keys. The same job gives the same bytes; only keys named `seconds`
differ from run to run.
"""

from collections.abc import Mapping
from typing import Any

from flatten.figures.padding import material_rows, padding_keys, stock_rows
from flatten.figures.pads import pad_row
from flatten.figures.panels import panel_rows
from flatten.figures.pieces import (
    fit_rows,
    fly_rows,
    offset_row,
    piece_row,
    pleat_end_rows,
    pleat_rows,
    seam_rows,
    sewing_rows,
)
from flatten.figures.rounded import fraction, length
from flatten.figures.tapes import tape_rows
from flatten.job.pipeline import Job
from flatten.leather.card import Card
from flatten.paper.cautions import cautions_for
from meshes.folder.report_head import json_text, problem_rows, report_head
from meshes.seat.lineup import line_up


def report(job: Job) -> dict[str, Any]:
    """The whole report: plain dicts, lists, texts, numbers and None, ready for JSON.

    Raises ValueError when a figure is no finite number.
    """
    return {
        **report_head(),
        "sheet": job.sheet.name,
        "leather": _leather(job.leather),
        "fits": not job.unfit,
        "panels": panel_rows(job),
        "seams": seam_rows(job),
        "sewing": sewing_rows(job),
        "pieces": [piece_row(piece) for piece in job.pieces],
        "pads": [
            {**pad_row(pad, job.pieces), **padding_keys(pad, job), "flies": fly_rows(pad, job)} for pad in job.pads
        ],
        "padding_stock": stock_rows(job),
        "materials": material_rows(job),
        "fitting": fit_rows(job),
        "other_pieces": [piece_row(piece) for piece in job.others],
        "pleats": pleat_rows(job),
        "pleat_ends": pleat_end_rows(job),
        "lineup": [offset_row(offset) for offset in line_up(job.pads)],
        "controls": tape_rows(job.tapes),
        "problems": problem_rows(job.problems),
        "cautions": list(cautions_for(job.sheet)),
        "seconds": length(job.seconds),
    }


def report_bytes(job: Job, more: Mapping[str, Any] | None = None) -> bytes:
    """The report as JSON text, UTF-8, indented by one, with a newline at its end. more: keys that later stages add."""
    return json_text({**report(job), **(more or {})}).encode()


def without_seconds(data: Any) -> Any:
    """A copy of a report, or of any part of it, without the keys that tell how long something took."""
    if isinstance(data, Mapping):
        return {key: without_seconds(value) for key, value in data.items() if key != "seconds"}
    if isinstance(data, list):
        return [without_seconds(value) for value in data]
    return data


def _leather(card: Card) -> dict[str, Any]:
    return {
        "name": card.name,
        "thickness_mm": length(card.thickness_mm),
        "pull": fraction(card.pull),
        "stretch_along": fraction(card.stretch_along),
        "stretch_across": fraction(card.stretch_across),
        "budget": fraction(card.budget),
        "stiffness_along": length(card.stiffness_along),
        "stiffness_across": length(card.stiffness_across),
        "source": dict(card.source),
    }
