"""Rows of fitting in a sheet: read as records, in the sheet's unit, with what contradicts itself told at its line."""

import pytest

from meshes.base.problems import ProblemError
from meshes.fitting.notes import FitNote, FitSpan
from meshes.fitting.rounds import by_round, last_round
from tests.pads import FLAT, sheet_of

ROW = """
[[fit]]
round = 1
piece = "cushion face"
edge = "front band"
from = 1
to = "2"
take_in = 6
"""


def sheet(text, unit="mm"):
    return sheet_of(f'unit = "{unit}"\n' + FLAT.strip() + "\n" + text)


def test_a_row_is_read_with_its_marks_as_words():
    (note,) = sheet(ROW).fits
    assert (note.round, note.row, note.piece) == (1, 0, "cushion face")
    assert note.span == FitSpan("front band", "1", "2", -6.0, "each layer")
    assert note.span.each_mm(2) == -6.0
    (out,) = sheet(ROW.replace("take_in = 6", 'let_out = 6\ncounted = "in all"')).fits
    assert (out.span.out_mm, out.span.each_mm(2), out.span.each_mm(1)) == (6.0, 3.0, 6.0)


def test_an_inch_sheet_takes_inches():
    text = FLAT.replace("400", '"400 mm"').replace("300", '"300 mm"').replace("= 40", '= "40 mm"')
    text = text.replace("= 80", '= "80 mm"').replace("= 20", '= "20 mm"').replace("= 5", '= "5 mm"')
    row = ROW.replace("take_in = 6", "take_in = 0.25") + 'padding = "1/8 in"\n'
    (note,) = sheet_of('unit = "in"\n' + text + row).fits
    assert note.span.out_mm == pytest.approx(-6.35)
    assert note.higher_mm == pytest.approx(3.175)


def test_rows_are_kept_by_round_whatever_their_order():
    rows = sheet(ROW.replace("round = 1", "round = 2") + ROW).fits
    assert [(note.round, note.row) for note in rows] == [(1, 1), (2, 0)]
    assert last_round(rows) == 2
    assert last_round(()) == 1
    assert {number: len(found) for number, found in by_round(rows).items()} == {1: 1, 2: 1}


@pytest.mark.parametrize(
    ("old", "new", "code", "text"),
    [
        ("take_in = 6", "take_in = 6\nlet_out = 3", "S065", "either taken in or let out"),
        ('edge = "front band"\n', "", "S066", "without edge"),
        ('to = "2"\n', "", "S066", "without to"),
        ('edge = "front band"\nfrom = 1\nto = "2"\ntake_in = 6\n', "", "S067", "says nothing"),
        ("take_in = 6\n", 'found = "loose"\n', "S066", "marks without an amount"),
        ("take_in = 6", 'take_in = 6\nfound = "drag line"', "S068", "without towards"),
        ("take_in = 6", 'take_in = 6\ntowards = "left"', "S068", "drag line"),
        ("take_in = 6", "take_in = -6", "S016", "negative"),
        ("take_in = 6", "take_in = 90", "S016", "too large"),
        ("from = 1", "from = 1.5", "S012", "no mark"),
        ("from = 1", "form = 1", "S010", 'did you mean "from"'),
        ("round = 1", "round = 0", "S017", "1 to 99"),
        ('piece = "cushion face"\n', "", "S011", "missing"),
        ("take_in = 6", 'take_in = 6\nfound = "lose"', "S013", "loose"),
        ("take_in = 6", "take_in = 6\nstretched = 4", "S017", "0.04"),
    ],
)
def test_what_contradicts_itself_in_a_row_is_told(old, new, code, text):
    assert old in ROW
    with pytest.raises(ProblemError) as found:
        sheet(ROW.replace(old, new))
    assert code in [problem.code for problem in found.value.problems]
    told = next(problem for problem in found.value.problems if problem.code == code)
    assert text in told.text
    assert told.where.startswith("fit 1")
    assert told.line is not None


@pytest.mark.parametrize(
    ("row", "code", "key"),
    [
        ('edge = "front band"\nfrom = 1\nto = 2\ntake_in = 6\nlet_out = 3', "S065", "let_out"),
        ("from = 1\nto = 2\ntake_in = 6", "S066", "take_in"),
        ("from = 1\nto = 2\nlet_out = 6", "S066", "let_out"),
        ('from = 1\nfound = "loose"', "S066", "from"),
        ('to = 1\nfound = "loose"', "S066", "to"),
        ('edge = "front band"', "S067", "piece"),
        ('found = "drag line"', "S068", "found"),
        ('found = "loose"\ntowards = "left"', "S068", "towards"),
    ],
)
def test_what_contradicts_itself_is_told_at_its_key(row, code, key):
    with pytest.raises(ProblemError) as found:
        sheet(f'[[fit]]\nround = 1\npiece = "cushion face"\n{row}\n')
    (problem,) = found.value.problems
    assert (problem.code, problem.keys) == (code, ("fit", 0, key))


def test_what_was_seen_alone_moves_nothing_and_keeps_every_word():
    row = 'round = 3\npiece = "cushion face"\nedge = "front band"\nfound = "drag line"\ntowards = "left"\n'
    row += 'stretched = 0.04\nway = "across"\npadding = -5\nalone = true\n'
    (note,) = sheet(f"[[fit]]\n{row}").fits
    assert note == FitNote(3, 0, "cushion face", None, "drag line", "left", 0.04, "across", -5.0, "front band", True)
    for word in ('found = "loose"', "stretched = 0.04", "padding = 5"):
        (note,) = sheet(f'[[fit]]\nround = 1\npiece = "cushion face"\n{word}\n').fits
        assert note.span is None
        assert not note.alone
