"""`trimloft fit` and `trimloft strip`: rows put into a sheet with its comments kept, or nothing written at all."""

from dataclasses import replace

import pytest

from flatten.app import fit_command
from flatten.app.fit_command import FitOptions, fit, strip
from flatten.app.telling import tell_rows
from flatten.job.make import fitted_job
from flatten.sheets.fit_rows import ROW_KEYS, fit_row
from meshes.base.problems import Problem, ProblemError
from meshes.schema.toml_text import parsed
from tests.samples import BENCH, sample_job

TEXT = BENCH.replace('[[pad]]\nname = "back"', '# the back, measured twice\n[[pad]]\nname = "back"   # upright')
GIVEN = {"piece": "back face", "edge": "top band", "start": "1", "to": "2", "take_in": "6"}


@pytest.fixture
def sheet(tmp_path, monkeypatch):
    """The sample sheet in a folder; what is made of it goes on from the sample job."""
    monkeypatch.setattr(fit_command, "_made", lambda read: fitted_job(replace(sample_job(), sheet=read)))
    path = tmp_path / "bench.toml"
    path.write_text(TEXT)
    return path


def test_a_row_is_written_behind_the_rest_and_told(sheet, capsys):
    assert fit(sheet, noted=FitOptions(**GIVEN)) == 0
    said = capsys.readouterr().out
    assert "round 1: taken in 6.0 mm each layer along top band, from 1 to 2" in said
    assert said.rstrip().endswith("bench.toml: row 1 written, round 1")
    text = sheet.read_text()
    assert "# the back, measured twice" in text
    assert "# upright" in text
    assert parsed(text, "")["fit"] == [
        {"round": 1, "piece": "back face", "edge": "top band", "from": "1", "to": "2", "take_in": 6}
    ]
    assert {k: v for k, v in parsed(text, "").items() if k != "fit"} == parsed(TEXT, "")


def test_rounds_go_on_from_the_sheet(sheet, capsys):
    fit(sheet, noted=FitOptions(**GIVEN))
    fit(sheet, noted=FitOptions(**{**GIVEN, "take_in": None}, let_out="1/8 in", new_round=True, in_all=True))
    fit(sheet, noted=FitOptions(piece="back face", found="loose"))
    rows = parsed(sheet.read_text(), "")["fit"]
    assert [row["round"] for row in rows] == [1, 2, 2]
    assert (rows[1]["let_out"], rows[1]["counted"]) == ("1/8 in", "in all")
    assert "pinch" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"piece": "back fce"}, "F330"),
        ({"edge": "tip band"}, "F331"),
        ({"start": "9"}, "F332"),
        ({"take_in": None}, "S066"),
        ({"let_out": "3"}, "S065"),
        ({"take_in": "much"}, "S014"),
        ({"piece": None}, "C110"),
    ],
)
def test_a_row_that_cannot_be_followed_writes_nothing(sheet, change, code):
    with pytest.raises(ProblemError) as found:
        fit(sheet, noted=FitOptions(**{**GIVEN, **change}))
    assert found.value.problems[0].code == code
    assert sheet.read_text() == TEXT


def test_rows_of_fitting_are_told_wherever_their_pieces_are_used(capsys):
    """Of all a job has to say, what speaks of its rows."""
    told = Problem("F339", "row 1", "one side bends by 3.0 mm", warning=True, keys=("fit", 0, "edge"))
    tell_rows(replace(sample_job(), problems=(told, Problem("H007", "face", "lies on a vein", warning=True))))
    said = capsys.readouterr().err
    assert "F339" in said
    assert "H007" not in said


def test_a_row_that_cannot_be_followed_is_refused_with_the_list_that_mends_it(sheet, capsys):
    fit(sheet, noted=FitOptions(**GIVEN))
    sheet.write_text(sheet.read_text().replace('edge = "top band"', 'edge = "tip band"'))
    with pytest.raises(ProblemError) as found:
        fit(sheet)
    assert [problem.code for problem in found.value.problems] == ["F331"]
    assert "    top band: corner towards right band, 1, centre, 2" in capsys.readouterr().out


def test_without_a_row_the_marks_of_every_edge_are_listed(sheet, capsys):
    fit(sheet, noted=FitOptions(**GIVEN))
    capsys.readouterr()
    assert fit(sheet) == 0
    said = capsys.readouterr().out
    assert "back face\n" in said
    assert "    top band: corner towards right band, 1, centre, 2, corner towards left band" in said
    assert "row 1, round 1: taken in 6.0 mm" in said


def test_keys_stand_in_the_order_of_the_table():
    row = fit_row({}, {"take_in": 6, "piece": "face", "edge": None, "round": 3})
    assert list(row) == ["round", "piece", "take_in"]
    assert ROW_KEYS[:5] == ("round", "piece", "edge", "from", "to")
    assert fit_row({"fit": [{"round": 2}]}, {"piece": "x"})["round"] == 2
    assert fit_row({"fit": [{"round": 2}]}, {"piece": "x"}, new_round=True)["round"] == 3


def test_the_worksheet_is_written_once(sheet, capsys):
    out = sheet.with_name("strips.pdf")
    assert strip(sheet, out=out) == 0
    assert out.read_bytes().startswith(b"%PDF")
    assert "no strip in the sheet" in capsys.readouterr().out
    with pytest.raises(ProblemError) as found:
        strip(sheet, out=out)
    assert found.value.problems[0].code == "P101"
