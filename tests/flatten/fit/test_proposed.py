"""A first row for what was seen without an amount: it can be written into the sheet as it stands, and is followed."""

import tomllib

import numpy as np
import pytest

from flatten.fit.places import edge_names
from meshes.fitting.notes import FitNote
from meshes.fitting.reading import fit_notes
from meshes.schema.cover_tables import CORNER_EMPTY, DIMPLE, DRAG_LINE, FOUND, LOOSE, OFF_RIDGE, FitInput
from tests.flatten.fit.test_fit_notes import noted, piece_of
from tests.samples import sample_job


def proposed(note):
    return [p for p in noted(note).problems if p.code == "F344"]


def read(problem):
    """The proposed row as a sheet would have it."""
    text = problem.text.partition("[[fit]] ")[2]
    row = tomllib.loads("\n".join(text.split(", ")))
    for key in ("take_in", "let_out", "padding"):
        if key in row:
            row[key] = float(row[key].removesuffix(" mm"))
    (note,) = fit_notes([FitInput.model_construct(**FitInput.model_validate(row).__dict__)], None)
    return row, note


@pytest.mark.parametrize("found", FOUND)
def test_every_word_gets_a_row_that_can_be_followed(found):
    towards = "top band" if found == DRAG_LINE else None
    (told,) = proposed(FitNote(1, 0, "back face", found=found, towards=towards))
    assert "common practice, no source" in told.text
    row, note = read(told)
    assert row["round"] == 2
    assert row.get("edge", "top band") in edge_names(piece_of(sample_job(), "back face"))
    # a hollow without an edge is filled in the middle of its piece
    assert ("edge" in row) == (found != DIMPLE)
    assert {LOOSE: "take_in", OFF_RIDGE: "take_in", DRAG_LINE: "let_out", DIMPLE: "padding", CORNER_EMPTY: "padding"}[
        found
    ] in row
    job = noted(note)
    moved = not np.array_equal(piece_of(job, "back face").cut, piece_of(sample_job(), "back face").cut)
    assert moved


def test_an_edge_that_is_named_is_the_one_to_try():
    (told,) = proposed(FitNote(1, 0, "back face", found=LOOSE, edge="left band"))
    assert 'edge = "left band"' in told.text
    (told,) = proposed(FitNote(1, 0, "back face", found=DRAG_LINE, towards="right band"))
    assert 'edge = "right band"' in told.text
    assert 'towards = "right band"' in told.text


def test_a_row_with_an_amount_gets_no_other():
    from meshes.fitting.notes import FitSpan

    assert not proposed(FitNote(1, 0, "back face", FitSpan("top band", "1", "2", -3.0), found=LOOSE))
