"""What helps to decide, as plain data: variants beside each other, and darts and seams where they would help."""

from collections.abc import Sequence
from typing import Any

from flatten.figures.report import report
from flatten.job.pipeline import Job
from flatten.job.relieve import ReliefAdvice, relieve_job
from flatten.seatview.relief_drawing import piece_drawing, turn_of
from flatten.sheets.refusals import told_as_json
from flatten.variants.many import Variant
from flatten.variants.measures import measures_of
from flatten.variants.tables import rows_of
from meshes.base.problems import Problem
from meshes.base.progress import Progress
from meshes.base.units import Unit, in_shop_unit


def variant_of(name: str, job: Job) -> Variant:
    """The figures of a job that decide."""
    return Variant(name, measures_of(report(job)), (), job.problems)


def refused_variant(name: str, problems: Sequence[Problem]) -> Variant:
    """A variant that cannot be made, and why."""
    return Variant(name, {}, tuple(problems))


def compared(variants: Sequence[Variant], unit: Unit) -> dict[str, Any]:
    """Figures that are not the same in all variants, row by row; differs: from the first; refused: by variant."""
    rows = [
        {
            "name": name,
            "cells": ["" if one.refused else in_shop_unit(str(value), unit=unit) for value, one in pairs],
            "differs": [not one.refused and value.differs(pairs[0][0]) for value, one in pairs],
        }
        for name, values in rows_of(variants)
        for pairs in [list(zip(values, variants, strict=True))]
    ]
    refused = [{"name": one.name, "problems": told_as_json(one.refused)} for one in variants if one.refused]
    return {"names": [one.name for one in variants], "rows": rows, "refused": refused}


def reliefs(job: Job, panel: str, progress: Progress) -> dict[str, Any]:
    """Darts and seams that would help one panel, the shortest first: number, words, length, what the piece asks before
    and after, where its lines meet the edges; lines in seat coordinates; drawing: of the piece with all of them."""
    found = job.panels.get(panel)
    name = panel if found is None else found.mirror_of or panel
    advice = relieve_job(job, only={name}, progress=progress, workers=1).advice
    if not advice:
        return {"panel": name, "proposals": [], "drawing": ""}
    one = advice[0]
    drawing = piece_drawing(one, turn_rad=turn_of(job, one)) if one.study.reliefs else ""
    return {"panel": name, "proposals": _proposals(one, job.sheet.unit), "drawing": drawing}


def _proposals(one: ReliefAdvice, unit: Unit) -> list[dict[str, Any]]:
    rows = []
    for k, relief in enumerate(one.study.reliefs):
        rows.append(
            {
                "number": k + 1,
                "words": in_shop_unit(f"{relief.words}, {relief.length_mm:.0f} mm", unit=unit),
                "place": one.places[k],
                "before": round(relief.demand_before, 5),
                "after": round(relief.demand_after, 5),
                "verdict": one.verdict(relief),
                "seen": round(relief.visible, 3),
                "lines": [line.round(1).ravel().tolist() for line in one.lines[k]],
            }
        )
    return rows
