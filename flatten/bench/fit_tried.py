"""A row of fitting tried on the pieces before it is written: what it would move, and what it would look like."""

from dataclasses import replace
from typing import Any

from flatten.bench.told import piece_data
from flatten.job.make import fitted_job
from flatten.job.pipeline import Job
from flatten.pieces.piece import Piece
from flatten.sheets.refusals import told_as_json
from meshes.base.units import in_shop_unit
from meshes.sheet.whole import Sheet


def fit_tried(job: Job, sheet: Sheet) -> dict[str, Any]:
    """What the last row of fitting of a sheet does. job: of the sheet without that row; sheet: with it.

    Raises ProblemError where the row cannot be followed, or contradicts another.
    """
    told = replace(job.sheet, fits=sheet.fits, places=sheet.places)
    tried = fitted_job(replace(job, sheet=told))
    number = len(sheet.fits) - 1

    def said(text: str) -> str:
        return in_shop_unit(text, unit=sheet.unit)

    done = tried.fitting.told if tried.fitting is not None else ()
    before = {_name(piece): piece for piece in job.pieces}
    changed = [piece for piece in tried.pieces if not _same(piece, before.get(_name(piece)))]
    return {
        "words": [said(row.words) for row in done if row.note.row == number],
        "pieces": [piece_data(piece) for piece in changed],
        "problems": told_as_json([p for p in tried.problems if p.keys[:2] == ("fit", number)]),
    }


def _name(piece: Piece) -> tuple[str, str]:
    return piece.pad, piece.name


def _same(piece: Piece, before: Piece | None) -> bool:
    return before is not None and piece.cut.shape == before.cut.shape and bool((piece.cut == before.cut).all())
