"""Variants side by side: each what `make` finds for it, refused ones told, the same on a cluster."""

import json
import os
from pathlib import Path

import pytest

from flatten.figures.report import report
from flatten.job.make import make
from flatten.live.levels import sheet_of_text
from flatten.variants.many import Variant, tasks_of, worked_out_all
from flatten.variants.measures import Measure, changes, measures_of
from flatten.variants.settings import setting
from flatten.variants.tables import compared_json, compared_page, compared_text, rows_of
from flatten.variants.watch import changed_text, saved_again, stamp_of, watched
from meshes.base.problems import ProblemError
from tests.running import SHEET

TEXT = SHEET.replace("mesh = 20", "mesh = 30") + "[cover]\ntension = 0\n"
THICKER = TEXT.replace("thickness = 20", "thickness = 30")


@pytest.fixture(scope="module")
def sheet(tmp_path_factory):
    path = tmp_path_factory.mktemp("variants") / "seat.toml"
    path.write_text(TEXT)
    return path


@pytest.fixture(scope="module")
def found(sheet):
    asked = [setting("pad.cushion.layer.1.thickness=30"), setting("output.mesh=30")]
    tasks = tasks_of([sheet], asked) + tasks_of([sheet], [setting("pad.cushion.sides.front.drop=-80")])[1:]
    return worked_out_all(tasks, workers=1)


def test_every_variant_is_what_make_finds_for_it(found):
    one, two, wrong = found
    assert (one.name, two.name) == ("as it is", "pad.cushion.layer.1.thickness = 30, output.mesh = 30")
    for variant, text in ((one, TEXT), (two, THICKER)):
        assert variant.measures == measures_of(report(make(sheet_of_text(text, Path("x.toml")), workers=1)))
    assert wrong.refused[0].keys[-1] == "drop"
    assert not wrong.measures


def test_the_table_shows_what_differs_and_marks_it(found):
    lines = compared_text(found).splitlines()
    assert lines[3].startswith("  3 is refused: ")
    rows = dict(rows_of(found))
    assert rows["cushion face: demand"][0].value != rows["cushion face: demand"][1].value
    assert rows["cushion face: demand"][2] == Measure(None)
    assert "cushion face: verdict" not in rows, "the same in all"
    assert "cushion face: verdict" in dict(rows_of(found, every=True))
    marked = next(line for line in lines if "cushion face: demand" in line)
    assert marked.count("*") == 2, "thicker, and refused"
    page = compared_page(found, "<seat>")
    assert "&lt;seat&gt;" in page
    assert "cushion face: demand" in page
    data = json.loads(compared_json(found))
    assert [one["name"] for one in data["variants"]] == [one.name for one in found]
    assert data["variants"][1]["figures"]["cushion face: demand"]["unit"] == "%"
    assert compared_text([found[0], found[0]]).endswith("no figure differs")
    assert compared_text([found[0], found[0], found[2]]).endswith(
        "no figure differs between those that are not refused"
    )
    alone = [found[0], found[2]]
    assert compared_text(alone).endswith("only one of them was worked out, the others are refused")
    assert "Nothing to compare: only one of them was worked out" in compared_page(alone, "seat")


def test_nothing_to_compare_is_refused(sheet):
    with pytest.raises(ProblemError, match="V114"):
        tasks_of([sheet], [])
    with pytest.raises(ProblemError, match="V113"):
        tasks_of([sheet] * 50, [])
    assert [task.name for task in tasks_of([sheet, sheet.with_name("seat.toml")], [])] == ["seat", "seat"]


def test_a_cluster_that_does_not_answer_or_is_not_installed_is_told(sheet):
    with pytest.raises(ProblemError, match=r"V11[56]"):
        worked_out_all(tasks_of([sheet], [setting("output.mesh=30")]), scheduler="tcp://127.0.0.1:9")


@pytest.mark.slow
def test_a_cluster_of_two_workers_finds_the_same(sheet, found):
    distributed = pytest.importorskip("distributed")
    tasks = tasks_of([sheet], [setting("pad.cushion.layer.1.thickness=30"), setting("output.mesh=30")])
    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
        assert worked_out_all(tasks, scheduler=cluster.scheduler_address) == found[:2]


def test_the_sharper_of_left_and_right_is_one_row_whichever_it_is():
    pad = {"name": "seat", "tack_lines": [], "foam_compression_max": 0.1, "spring_deflection_mm": 0.0}
    nothing = {"panels": [], "pieces": [], "padding_stock": [], "fits": True}
    cuts = [[{"side": side, "ridge_radius_mm": 14.5}, {"side": "front", "ridge_radius_mm": 9.0}] for side in
            ("left", "right")]  # fmt: skip
    one, two = (measures_of({"pads": [{**pad, "sections": rows}], **nothing}) for rows in cuts)
    assert one == two
    assert {name for name in one if "radius" in name} == {"seat: radius over left or right", "seat: radius over front"}


def test_changes_are_told_from_what_a_trimmer_would_notice():
    before = {
        "a": Measure(10.0, "mm"),
        "b": Measure("tight"),
        "c": Measure(1.0, "%"),
        "gone": Measure(1.0, "mm"),
    }
    now = {"a": Measure(10.04, "mm"), "b": Measure("fits"), "c": Measure(1.06, "%"), "new": Measure(None)}
    rows = changes(before, now)
    assert [name for name, _, _ in rows] == ["b", "c", "gone"]
    assert changed_text(rows).splitlines()[1] == "  c     1.0 % -> 1.1 %"
    assert "nothing changed" in changed_text([])


def test_a_watched_sheet_is_checked_when_it_is_saved_and_what_changed_is_told(tmp_path):
    path = tmp_path / "seat.toml"
    path.write_text(TEXT)
    told, texts = [], [TEXT + "# a remark\n", "name = ", THICKER]

    def save():
        if texts:
            path.with_name("new").write_text(texts.pop(0))
            path.with_name("new").replace(path)

    def tell(job, rows):
        told.append(None if rows is None else {name: (str(a), str(b)) for name, a, b in rows})
        save()

    def refuse(fault):
        told.append(fault.problems[0].code)
        save()

    watched(path, tell, refuse, turns=4)
    first, remark, broken, thicker = told
    assert first is None
    assert remark == {}
    assert broken.startswith("S")
    assert thicker["cushion face: demand"][0].endswith(" %")
    assert any(name.startswith("seam ") for name in thicker)


def test_a_file_that_is_still_being_written_is_waited_for(tmp_path):
    path, naps = tmp_path / "seat.toml", []

    def rest(seconds):
        naps.append(seconds)
        if len(naps) < 4:
            path.write_text("x" * len(naps))

    assert saved_again(path, None, rest) == stamp_of(path)
    assert path.read_text() == "xxx"
    assert Variant("a", {}).refused == ()


@pytest.mark.parametrize("kind", ["missing", "pipe", "folder"])
def test_what_cannot_be_saved_again_is_not_waited_for(tmp_path, kind):
    """A name that is mistyped is told, and not waited for in silence."""
    path = tmp_path / "seat.toml"
    if kind == "pipe":
        os.mkfifo(path)
    elif kind == "folder":
        path.mkdir()
    with pytest.raises(ProblemError, match="S001"):
        watched(path, pytest.fail, pytest.fail, turns=1)


def test_a_sheet_that_is_wrong_at_first_is_told_and_watched_on(tmp_path):
    (tmp_path / "seat.toml").write_text("name = \n")
    told = []
    watched(tmp_path / "seat.toml", pytest.fail, told.append, turns=1)
    assert [problem.code for problem in told[0].problems] == ["S005"]


def test_where_all_variants_are_refused_nothing_is_written(tmp_path):
    from flatten.app.study_commands import compare

    (tmp_path / "a\x1b[31m.toml").write_text(TEXT.replace("thickness = 20", "thickness = -20"))
    with pytest.raises(ProblemError, match="thickness"):
        compare(tmp_path / "a\x1b[31m.toml", set=("output.mesh=31",), out=tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_names_of_sheets_command_no_terminal(tmp_path):
    path = tmp_path / "a\x1b[31m.toml"
    path.write_text(TEXT)
    assert all(task.name.isprintable() for task in tasks_of([path, path], [setting("output.mesh=31")]))
