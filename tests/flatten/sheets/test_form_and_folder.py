"""The form says what the sheet says, in its words and unit; the folder keeps to itself; what was undone comes back."""

import os
import tomllib
from pathlib import Path

import pytest

from flatten.sheets.edits import MOST_KEYS, as_written, value_at, with_row, with_value
from flatten.sheets.fit_rows import ROW_KEYS, fit_row, with_fit_row
from flatten.sheets.folder import MOST_LISTED, SheetFolder, drawing_name, file_name
from flatten.sheets.form import form_of
from flatten.sheets.history import FOLDER, MOST_UNDONE, History, mark_of
from flatten.sheets.kept_variants import MOST_KEPT_VARIANTS
from flatten.sheets.refusals import RefusedError, told_as_json
from meshes.base.problems import Problem, ProblemError
from meshes.sheet.starter import KINDS, starter_text

TEXTS = {kind: starter_text(kind) for kind in KINDS}


def form(text, problems=()):
    return form_of(tomllib.loads(text), problems)


def fields(stages):
    return {tuple(f["keys"]): f for stage in stages for f in stage["fields"]}


def stage_of(stages, ident):
    return next(stage for stage in stages if stage["id"] == ident)


# --- the form --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_every_answer_is_the_sheets_own(kind):
    raw = tomllib.loads(TEXTS[kind])
    stages = form_of(raw, ())
    assert len({stage["id"] for stage in stages}) == len(stages)
    for stage in stages:
        base = ["pad", stage["pad_index"]] if stage["pad_index"] is not None else []
        if base:
            pad = raw["pad"][stage["pad_index"]]
            assert (stage["pad"], stage["kind"]) == (pad["name"], pad["kind"])
            assert stage["id"].endswith(f"-{stage['pad_index']}")
        else:
            assert stage["pad"] == ""
        for field in stage["fields"]:
            assert field["keys"][: len(base)] == base
            value = value_at(raw, field["keys"])
            assert field["value"] == value
            assert not (field["more"] and value is not None)
            assert field["problems"] == []
            if field["type"] == "length" and isinstance(value, int | float):
                assert field["mm"] == pytest.approx(value * (25.4 if raw.get("unit") == "in" else 1.0), abs=1e-3)
            elif field["type"] != "length":
                assert field["mm"] is None
        for row in (stage["rows"] or {"rows": []})["rows"]:
            for field in row:
                assert field["value"] == value_at(raw, field["keys"])


def test_an_inch_is_25_4_mm_and_a_number_may_carry_its_own_unit():
    text = 'name = "x"\nunit = "%s"\n[[pad]]\nname = "p"\nkind = "cushion"\n[pad.outline]\nfront_width = %s\n'
    key = ("pad", 0, "outline", "front_width")
    for unit, value, mm in (("mm", "508", 508.0), ("in", "20", 508.0), ("in", '"52 cm"', 520.0), ("mm", '"x"', None)):
        assert fields(form(text % (unit, value)))[key]["mm"] == mm
    assert fields(form(text % ("mm", "1.0000000004")))[key]["value"] == 1.0


def test_an_upright_pad_is_asked_in_its_own_words():
    stages = form(TEXTS["back"])
    labels = {tuple(f["keys"][2:]): f["label"] for stage in stages for f in stage["fields"]}
    assert labels["outline", "front_width"] == "Width at the bottom"
    assert labels["outline", "rear_width"] == "Width at the top"
    assert labels["outline", "depth"] == "Height, bottom to top"
    assert labels["outline", "corner_radius"] == "Radius of the corners"
    assert {stage["title"] for stage in stages if stage["side"]} == {
        "Down the bottom", "Down the right", "Down the top", "Down the left"
    }  # fmt: skip
    flat = form(TEXTS["bench"])
    labels = {tuple(f["keys"][2:]): f["label"] for stage in flat for f in stage["fields"]}
    assert labels["outline", "front_width"] == "Width in front"
    assert labels["outline", "depth"] == "Depth, front to rear"
    assert {stage["title"] for stage in flat if stage["side"]} >= {"Down the front", "Down the rear"}


def test_a_left_side_that_is_not_given_copies_the_right_one():
    text = TEXTS["bench"]
    assert [stage["side"] for stage in form(text) if stage["copies"]] == (
        ["left"] if value_at(tomllib.loads(text), ["pad", 0, "sides", "left"]) is None else []
    )
    own = with_value(text, ["pad", 0, "sides", "left", "drop"], 70)
    assert not any(stage["copies"] for stage in form(own) if stage["pad_index"] == 0)


HEAD = 'name = "x"\nunit = "mm"\n'
PAD = '[[pad]]\nname = "p"\nkind = "cushion"\n'


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ("", "plan heights sides support padding pleats"),
        ('[pad.outline]\nshape = "round"\nwidth = 300\n', "plan heights sides support padding pleats"),
        ("[pad.outline]\npoints = [[0, 0], [1, 0]]\n", "heights sides support padding pleats"),
        ("[pad.closed]\nthickness = 80\n", "plan core padding"),
        ('[pad.closed]\nform = "roll"\nlength = 300\n', "plan core padding"),
        ('[pad.closed]\nform = "panel"\n', "plan padding"),
        ("[pad.board]\nthickness = 4\n", "plan board padding"),
    ],
)
def test_a_pad_is_asked_what_it_has(more, words):
    stages = [stage for stage in form(HEAD + PAD + more) if stage["pad_index"] == 0]
    found = [stage["id"].removesuffix("-0") for stage in stages]
    wanted = []
    for word in words.split():
        wanted += [f"side-{side}" for side in ("front", "right", "rear", "left")] if word == "sides" else [word]
    assert found == wanted
    (plan,) = [stage for stage in stages if stage["id"] == "plan-0"] or [None]
    if plan is not None:
        shaped = "shape" in more or "roll" in more
        assert ("width" in {f["keys"][-1] for f in plan["fields"]}) == shaped
        assert ("front_width" in {f["keys"][-1] for f in plan["fields"]}) != shaped


def test_tapes_over_an_old_cover_are_asked_before_stripping_and_others_last():
    rows = "".join(
        f'[[control]]\npad = "p"\nover = "{over}"\nlength = {k}\n'
        for k, over in enumerate(("cover", "padding", "cover"))
    )
    stages = form(HEAD + rows + PAD)
    before, after = stage_of(stages, "before-stripping"), stage_of(stages, "tapes")
    places = [[row[0]["keys"][1] for row in stage["rows"]["rows"]] for stage in (before, after)]
    assert places == [[0, 2], [1]]
    assert before["rows"]["keys"] == ["control"]
    assert before["rows"]["new"]["over"] == "cover"
    assert [stage["id"] for stage in stages][:2] == ["what", "before-stripping"]
    last = [stage["id"] for stage in stages if stage["pad_index"] is None][2:]
    seldom = [stage["id"] for stage in stages if stage["seldom"]]
    assert last[-len(seldom) :] == seldom == ["strips", "foams", "cutting"]
    assert (last[0], last[-len(seldom) - 1]) == ("tapes", "paper")
    assert "before-stripping" not in last
    panel = form(HEAD + PAD + '[pad.closed]\nform = "panel"\n')
    assert "before-stripping" not in {stage["id"] for stage in panel}


def test_every_problem_is_told_once_at_its_field_or_at_the_stage_that_asks():
    text = TEXTS["bench"]
    places = [
        (("pad", 0, "outline", "depth"), "plan-0", True),
        (("pad", 0, "outline"), "plan-0", False),
        (("pad", 0, "sides", "front", "drop"), "side-front-0", True),
        (("pad", 0, "sides", "front"), "side-front-0", False),
        (("pad", 0, "support", "rate_kpa_per_mm"), "support-0", True),
        (("pad", 0, "profile", 0), "heights-0", False),
        (("name",), "what", True),
        (("output", "page"), "paper", True),
        (("cover", "tension"), "cover", True),
    ]
    for keys, ident, at_field in places:
        stages = form(text, [Problem("S099", "somewhere", "text", line=3, keys=keys)])
        in_fields = [(s["id"], tuple(f["keys"])) for s in stages for f in s["fields"] if f["problems"]]
        in_stages = [s["id"] for s in stages if s["problems"]]
        assert (in_fields, in_stages) == (([(ident, keys)], []) if at_field else ([], [ident])), keys
    # A pad that is not there is nobody's, and neither is a problem without a place.
    for keys in (("pad", 7, "outline"), ("pad",), ()):
        stages = form(text, [Problem("S099", "somewhere", "text", keys=keys)])
        assert not any(s["problems"] or any(f["problems"] for f in s["fields"]) for s in stages)
    # What is rarely asked is shown once something is told of it.
    key = ("pad", 0, "outline", "diagonal_left")
    assert fields(form(text))[key]["more"]
    assert not fields(form(text, [Problem("S099", "", "", keys=key)]))[key]["more"]


def test_words_limits_and_usual_values_are_those_of_the_schema():
    text = TEXTS["bench"] + "\n[material.mine]\ndensity = 35\ncompression_kpa = [1, 2, 3]\n"
    stages = form(text)
    found = fields(stages)
    assert found["output", "page"]["type"] == "word"
    assert not found["output", "page"]["open"]
    assert "a4" in {word.lower() for word in found["output", "page"]["words"]}
    leather = found["cover", "leather"]
    assert (leather["type"], leather["open"]) == ("word", True)
    assert "firm" in leather["words"]
    depth = found["pad", 0, "outline", "depth"]
    assert depth["type"] == "length"
    assert depth["least"] is None or depth["least"] < depth["most"]
    band = found["pad", 0, "sides", "front", "band"]
    assert (band["type"], band["usual"]) == ("flag", False)
    assert found["allowance", "sewn"]["usual"] == 12.0
    assert found["name",]["usual"] is None
    rows = stage_of(stages, "padding-0")["rows"]
    material = rows["rows"][0][0]
    assert material["words"][-1] == "mine"
    assert "foam_firm" in material["words"]
    points = stage_of(stages, "heights-0")["rows"]["rows"]
    if points:
        assert points[0][2]["type"] == "points"
    assert form_of({"pad": "x"}, ())[0]["id"] == "what"
    second = form_of({"pad": [3, {"name": "p", "kind": "cushion"}]}, ())
    assert {stage["pad_index"] for stage in second if stage["pad"] == "p"} == {1}


def test_foams_that_were_tried_are_rows_under_their_names():
    text = TEXTS["bench"]
    stage = stage_of(form(text), "foams")
    assert stage["rows"]["names"] == {"taken": [], "of_rows": []}
    new = stage["rows"]["new"]
    heights = [mm for _, mm in new["block"]["readings"]]
    assert heights == [new["block"]["height"]] * 7
    for key, value in new.items():
        text = with_value(text, ["material", "ours", key], value)
    whole = text + "\n[material.told]\ndensity = 30\ncompression_kpa = [1, 2, 3]\n"
    rows = stage_of(form(whole), "foams")["rows"]
    # One that was not tried here keeps its name, and is not asked for weights.
    assert rows["names"] == {"taken": ["ours", "told"], "of_rows": ["ours"]}
    found = {tuple(f["keys"]): f for f in rows["rows"][0]}
    assert found["material", "ours", "density"]["value"] == new["density"]
    assert found["material", "ours", "block", "height"]["mm"] == new["block"]["height"]
    readings = found["material", "ours", "block", "readings"]
    assert (readings["type"], len(readings["value"])) == ("weighed", 7)
    with pytest.raises(ProblemError) as caught:
        SheetFolder(Path()).sheet("a.toml", text)
    told = {
        f["keys"][-1]: f["problems"] for f in stage_of(form(text, caught.value.problems), "foams")["rows"]["rows"][0]
    }
    assert [p["code"] for p in told["readings"]] == ["S075"]
    inch = stage_of(form('name = "x"\nunit = "in"\n'), "foams")["rows"]["new"]
    assert inch["block"]["height"] == "100 mm"
    assert inch["block"]["readings"][0] == [0.5, "100 mm"]
    assert inch["density"] == new["density"]
    gone = with_value(text, ["material", "ours"], None)
    assert tomllib.loads(gone) == tomllib.loads(TEXTS["bench"])
    assert "told" in tomllib.loads(with_value(whole, ["material", "ours"], None))["material"]


def test_a_board_in_a_cushion_is_there_or_not():
    for unit, usual in (("mm", 3.0), ("in", "3 mm")):
        head = f'name = "x"\nunit = "{unit}"\n' + PAD + "[pad.closed]\nthickness = 80\n"
        field = fields(form(head))["pad", 0, "board"]
        assert (field["type"], field["value"], field["begins"]) == (
            "part", None, {"key": "thickness", "value": usual}
        )  # fmt: skip
    laid = with_value(head, ["pad", 0, "board", "thickness"], 6)
    assert {"core-0", "board-0"} <= {stage["id"] for stage in form(laid)}
    assert fields(form(laid))["pad", 0, "board"]["value"] == {"thickness": 6}
    assert tomllib.loads(with_value(laid, ["pad", 0, "board"], None)) == tomllib.loads(head)
    assert ("pad", 0, "board") not in fields(form(head.replace("thickness = 80", 'form = "roll"')))


def test_a_stage_says_whether_its_measures_are_still_those_it_was_begun_with(tmp_path):
    folder = SheetFolder(tmp_path)
    for kind, measured in (("box", {"plan-0", "core-0"}), ("slip", {"plan-0", "side-front-0"})):
        state = folder.begin(f"{kind}.toml", kind, "Bow seat")

        def begun(text, name=state.name):
            return {stage["id"] for stage in form_of(tomllib.loads(text), (), folder.begun(name)) if stage["begun"]}

        assert measured <= begun(state.text)
        assert not any(ident in begun(state.text) for ident in ("padding-0", "what", "paper"))
        one = with_value(state.text, ["pad", 0, "outline", "depth"], 411)
        assert begun(one) == begun(state.text) - {"plan-0"}
    # A sheet of another origin has nothing to be told by, nor one whose copy was taken away.
    assert folder.begun("none.toml") == {}
    assert not any(stage["begun"] for stage in form(TEXTS["box"]))
    (tmp_path / FOLDER / "box.toml" / "begun.toml").write_text("= no TOML")
    assert folder.begun("box.toml") == {}


# --- one change ------------------------------------------------------------------------------------------------------

SMALL = """\
name = "x"  # what it is
unit = "mm"
cover = { leather = "firm" }

[[pad]]
name = "p"
kind = "cushion"

[pad.outline]
front_width = 400

# above the first layer
[[pad.layer]]
material = "a"

[[pad.layer]]
material = "b"

# of the second pad
[[pad]]
name = "q"
kind = "backrest"

[pad.sides.top]
drop = 30
"""


def test_a_row_is_put_before_another_and_each_keeps_its_place():
    text = SMALL
    keys = ["pad", 0, "layer"]
    for at, wanted in ((0, "nab"), (1, "anb"), (2, "abn"), (None, "abn"), (9, "abn"), (-1, "abn")):
        new = with_row(text, keys, {"material": "n"}, at)
        assert "".join(row["material"] for row in value_at(tomllib.loads(new), keys)) == wanted
    new = with_row(text, keys, {"material": "n", "points": [[0, 1], [2, 3]]})
    # Behind the last of its like, before what is said of the next pad.
    lines = new.splitlines()
    assert lines.index('material = "b"') < lines.index('material = "n"') < lines.index("# of the second pad")
    assert "points = [[0, 1], [2, 3]]" in new
    assert "\n\n\n" not in new
    first = with_row(text, ["pad", 1, "layer"], {"material": "n"})
    assert [len(pad.get("layer", [])) for pad in tomllib.loads(first)["pad"]] == [2, 1]
    assert first.endswith('material = "n"\n')
    hide = with_row(text, ["hide"], {"name": "red"})
    assert tomllib.loads(hide) == {**tomllib.loads(text), "hide": [{"name": "red"}]}


def test_a_new_key_stands_behind_the_last_of_its_table():
    new = with_value(SMALL, ["pad", 0, "outline", "depth"], 300)
    lines = new.splitlines()
    assert lines[lines.index("front_width = 400") + 1] == "depth = 300"
    assert new.count("\n") == SMALL.count("\n") + 1
    top = with_value(SMALL, ["revision"], "b").splitlines()
    assert top[3] == 'revision = "b"'
    inline = with_value(SMALL, ["cover", "tension"], 0.5)
    assert tomllib.loads(inline)["cover"] == {"leather": "firm", "tension": 0.5}
    table = with_value(SMALL, ["pad", 1, "outline", "front_width"], 300)
    assert "[pad.outline]\nbottom_width = 300\n" in table
    whole = with_value(SMALL, ["pad", 1, "outline"], {"depth": 3})
    assert tomllib.loads(whole)["pad"][1]["outline"] == {"depth": 3}
    assert with_value(SMALL, ["pad", 0, "support", "kind"], None) == SMALL


def test_the_last_row_that_goes_takes_its_list_with_it():
    less = with_value(SMALL, ["pad", 0, "layer", 1], None)
    assert value_at(tomllib.loads(less), ["pad", 0, "layer"]) == [{"material": "a"}]
    none = with_value(less, ["pad", 0, "layer", 0], None)
    assert "layer" not in tomllib.loads(none)["pad"][0]


def test_places_of_an_upright_pad_are_found_under_both_names():
    raw = tomllib.loads(SMALL)
    assert as_written(raw, ["pad", 1, "sides", "rear", "drop"]) == ("pad", 1, "sides", "top", "drop")
    assert as_written(raw, ["pad", 0, "sides", "rear", "drop"]) == ("pad", 0, "sides", "rear", "drop")
    assert value_at(raw, ["pad", 1, "sides", "rear", "drop"]) == 30
    raw["pad"][1]["sides"]["rear"] = {"drop": 31}
    assert value_at(raw, ["pad", 1, "sides", "rear", "drop"]) == 31
    assert value_at(raw, ["pad", 9, "sides"]) is None
    assert value_at(raw, ["name", "x"]) is None
    assert value_at({"rear": 3}, ["rear"]) == 3


def test_a_place_has_eight_keys_at_most_and_one_at_least():
    assert MOST_KEYS == 8
    assert with_value(SMALL, ["name"], "y").startswith('name = "y"  # what it is\n')
    for keys in ([], ["x"] * 9, [0], ["pad", 2, "name"], ["pad", -1, "name"], ["pad", "name"], ["name", "x"], ["a.b"]):
        with pytest.raises(RefusedError) as refused:
            with_value(SMALL, keys, 3)
        assert (refused.value.status, refused.value.problem.code) == (422, "W309")
    deep = ["a", "b", "c", "d", "e", "f", "g", "h"]
    assert value_at(tomllib.loads(with_value(SMALL, deep, 3)), deep) == 3
    with pytest.raises(RefusedError, match="no plain key"):
        with_row(SMALL, ["hide"], {"a b": 3})


def test_rows_of_fitting_belong_to_the_latest_round_or_begin_the_next():
    given = {"to": "2", "piece": "face", "edge": None, "take_in": 6.0}
    assert fit_row({}, given) == {"round": 1, "piece": "face", "to": "2", "take_in": 6.0}
    assert fit_row({}, given, new_round=True)["round"] == 1
    rows = {"fit": [{"round": 3}, {"round": 1}, {"round": "x"}, 7]}
    assert fit_row(rows, given)["round"] == 3
    assert fit_row(rows, given, new_round=True)["round"] == 4
    assert fit_row(rows, {**given, "round": 9}, new_round=True)["round"] == 9
    assert fit_row({"fit": "x"}, given)["round"] == 1
    assert list(fit_row(rows, given)) == [key for key in ROW_KEYS if key in ("round", "piece", "to", "take_in")]
    new = with_fit_row(SMALL, fit_row({}, given))
    assert tomllib.loads(new)["fit"] == [fit_row({}, given)]
    both = with_fit_row(new, fit_row(tomllib.loads(new), given, new_round=True))
    assert [row["round"] for row in tomllib.loads(both)["fit"]] == [1, 1] or [
        row["round"] for row in tomllib.loads(both)["fit"]
    ] == [1, 2]


# --- what a sheet was before -----------------------------------------------------------------------------------------


@pytest.fixture
def kept(tmp_path):
    (tmp_path / FOLDER).mkdir()
    return History(tmp_path / FOLDER / "a.toml")


def test_steps_before_and_after_are_counted_from_the_text_it_has(kept):
    assert kept.steps("one") == (0, 0)
    kept.keep("one", "two")
    kept.keep("two", "three")
    kept.point("three")
    for text, steps in (("one", (0, 2)), ("two", (1, 1)), ("three", (2, 0))):
        kept.point(text)
        assert kept.steps(text) == steps
    assert [kept.neighbour("two", by) for by in (-1, 1)] == ["one", "three"]
    assert [kept.neighbour("one", -1), kept.neighbour("three", 1)] == [None, None]
    # A text that was never kept comes after all that were.
    assert kept.steps("by hand") == (0, 0)
    assert kept.neighbour("by hand", -1) == "three"
    assert kept.neighbour("by hand", 1) is None
    assert kept.find(mark_of("two")) == "two"
    assert kept.find(mark_of("by hand")) is None


def test_a_change_takes_the_place_of_what_was_undone(kept):
    kept.keep("one", "two")
    kept.keep("two", "three")
    kept.keep("one", "other")
    assert (kept.neighbour("one", 1), kept.find(mark_of("two")), kept.find(mark_of("three"))) == ("other", None, None)
    # One that was never kept is put behind all.
    kept.keep("by hand", "after")
    assert [kept.neighbour(text, -1) for text in ("after", "by hand", "other")] == ["by hand", "other", "one"]


def test_of_texts_that_are_alike_the_sheet_has_the_one_it_was_at_last(kept):
    """There and back again: the same text first and last."""
    kept.keep("one", "two")
    kept.point("two")
    kept.keep("two", "one")
    kept.point("one")
    assert kept.steps("one") == (2, 0)
    kept.point("two")
    assert kept.steps("two") == (1, 1)
    # Of two as near the later one.
    assert kept.steps("one") == (2, 0)
    assert kept.neighbour("one", -1) == "two"


def test_so_many_steps_are_kept_and_no_more(kept):
    kept.keep("0", "1")
    for k in range(1, MOST_UNDONE + 3):
        kept.place.joinpath(f"{k + 2:06d}.toml").write_text(str(k + 1))
    assert MOST_UNDONE == 200
    last = str(MOST_UNDONE + 3)
    kept.keep(last, "new")
    assert kept.steps("new") == (MOST_UNDONE - 1, 0)
    assert kept.text(1) == ""


def test_a_folder_that_is_none_is_told_and_one_that_leads_elsewhere_is_not_read(tmp_path):
    (tmp_path / FOLDER).write_text("x")
    with pytest.raises(ProblemError, match="W320"):
        History(tmp_path / FOLDER / "a.toml").keep("one", "two")
    other = tmp_path / "other"
    (other / "a.toml").mkdir(parents=True)
    (other / "a.toml" / "000001.toml").write_text("secret")
    (other / "a.toml" / "note.toml").write_text("x")
    assert History(other / "a.toml").find(mark_of("secret")) == "secret"
    os.symlink(other, tmp_path / "link")
    assert History(tmp_path / "link" / "a.toml").find(mark_of("secret")) is None
    (tmp_path / "real").mkdir()
    os.symlink(other / "a.toml", tmp_path / "real" / "a.toml")
    assert History(tmp_path / "real" / "a.toml").find(mark_of("secret")) is None


# --- the folder ------------------------------------------------------------------------------------------------------


@pytest.fixture
def folder(tmp_path):
    return SheetFolder(tmp_path)


def test_only_plain_files_of_the_folder_are_sheets(folder, tmp_path):
    folder.begin("b.toml", "box", "B")
    folder.begin("a.toml", "box", "A")
    for odd in (".hidden.toml", "note.txt", ".toml"):
        (tmp_path / odd).write_text("x")
    (tmp_path / "dir.toml").mkdir()
    os.symlink(tmp_path / "a.toml", tmp_path / "link.toml")
    assert folder.names() == ["a.toml", "b.toml"]
    for name in ("../a.toml", ".hidden.toml", ".toml", "note.txt", "dir/a.toml", "dir.toml", "link.toml"):
        with pytest.raises(RefusedError) as refused:
            folder.path(name)
        assert (refused.value.status, refused.value.problem.code) == (403, "W307"), name
    with pytest.raises(RefusedError) as refused:
        folder.state("c.toml")
    assert (refused.value.status, refused.value.problem.code) == (404, "W306")
    assert folder.path("a.toml") == tmp_path.resolve() / "a.toml"
    assert MOST_LISTED == 500


def test_a_new_sheet_has_its_title_and_takes_no_others_place(folder):
    state = folder.begin("a.toml", "bench", "Bench of ours \U0001f4d0 é")
    assert tomllib.loads(state.text)["name"] == "Bench of ours \U0001f4d0 é"
    assert not state.text.startswith("#:schema")
    assert (state.undo, state.redo, state.mark, state.name) == (0, 0, mark_of(state.text), "a.toml")
    with pytest.raises(RefusedError) as refused:
        folder.begin("a.toml", "box", "B")
    assert (refused.value.status, refused.value.problem.code) == (409, "W317")
    assert folder.state("a.toml") == state


@pytest.mark.parametrize("odd", ['"', "\\", "\t", "\x7f", "\U000e0001", '" = 3\n'])
def test_a_title_that_no_file_can_have_is_told_as_such(folder, odd):
    """Whatever it holds, it is written as a text of the sheet, and the sheet's own check refuses it."""
    with pytest.raises(ProblemError) as told:
        folder.begin("a.toml", "box", f"Bench{odd}ours")
    assert [problem.code for problem in told.value.problems] == ["S018"]
    assert folder.names() == []


def test_a_sheet_that_was_changed_elsewhere_is_neither_written_nor_undone(folder, tmp_path):
    state = folder.begin("a.toml", "box", "A")
    folder.save("a.toml", state.text + "# mine\n", base=state.mark)
    for act in (
        lambda: folder.save("a.toml", state.text, base=state.mark),
        lambda: folder.step("a.toml", -1, base=state.mark),
    ):
        with pytest.raises(RefusedError) as refused:
            act()
        assert (refused.value.status, refused.value.problem.code) == (409, "W308")
    now = folder.state("a.toml")
    assert (now.text, now.undo, now.redo) == (state.text + "# mine\n", 1, 0)
    # The same text once more is no step.
    assert folder.save("a.toml", now.text, base=now.mark) == now
    back = folder.step("a.toml", -1, base=now.mark)
    assert (back.text, back.undo, back.redo) == (state.text, 0, 1)
    with pytest.raises(RefusedError, match="nothing to undo") as refused:
        folder.step("a.toml", -1, base=back.mark)
    assert refused.value.problem.code == "W310"
    assert folder.step("a.toml", 1, base=back.mark).text == now.text


def test_an_earlier_text_is_found_by_its_mark(folder):
    state = folder.begin("a.toml", "box", "A")
    saved = folder.save("a.toml", state.text + "# mine\n", base=state.mark)
    folder.variants.keep("a.toml", "v", "variant")
    assert folder.earlier("a.toml", saved.mark) == saved.text
    assert folder.earlier("a.toml", state.mark) == state.text
    assert folder.earlier("a.toml", mark_of("variant")) == "variant"
    assert folder.earlier("a.toml", mark_of("nothing")) is None
    # What an editor wrote is kept once it was seen, and what is kept already is not kept twice.
    (folder.place / "a.toml").write_text("seen")
    for _ in range(2):
        folder.remember("a.toml", "seen")
    (folder.place / "a.toml").write_text(saved.text)
    assert folder.earlier("a.toml", mark_of("seen")) == "seen"
    assert folder.state("a.toml").redo == 2


def test_a_drawing_keeps_its_name_and_gives_way_to_another_of_that_name(folder, tmp_path):
    assert folder.keep_drawing("hide.svg", b"one") == "hide.svg"
    assert folder.keep_drawing("hide.svg", b"two") == "hide-2.svg"
    assert folder.keep_drawing("hide.svg", b"three") == "hide-3.svg"
    for data, name in ((b"one", "hide.svg"), (b"two", "hide-2.svg")):
        assert folder.keep_drawing("hide.svg", data) == name
        assert (tmp_path / name).read_bytes() == data
    os.symlink(tmp_path / "hide.svg", tmp_path / "link.svg")
    assert folder.keep_drawing("link.svg", b"one") == "link-2.svg"
    (tmp_path / "dir.svg").mkdir()
    assert folder.keep_drawing("dir.svg", b"one") == "dir-2.svg"


def test_readings_are_kept_by_place_and_the_newest_of_many(folder, tmp_path):
    folder.begin("a.toml", "box", "A")
    assert folder.readings("a.toml") == {}
    for k in range(503):
        if k in (0, 1, 2, 502):
            folder.note_reading("a.toml", ["pad", k, "depth"], (500.0, 500.0 + k))
        if k == 2:
            many = {f"x.{n}": {"mm": [1.0, 2.0]} for n in range(498)}
            place = tmp_path / FOLDER / "a.toml" / "readings.json"
            import json

            place.write_text(json.dumps({**folder.readings("a.toml"), **many}))
    found = folder.readings("a.toml")
    assert len(found) == 500
    assert "pad.0.depth" not in found
    assert "pad.1.depth" not in found
    assert found["pad.2.depth"] == {"mm": [500.0, 502.0]}
    assert list(found)[-1] == "pad.502.depth"
    with pytest.raises(RefusedError):
        folder.note_reading("b.toml", ["x"], (1.0, 2.0))


NAMING = {
    'cover = { leather = "cards.toml firm" }': "cards.toml",
    '[[covering]]\nleather = "mine.toml"': "mine.toml",
    '[[hide]]\nname = "red"\nfile = "red.svg"': "red.svg",
    '[cutting]\nprices = "prices.csv"': "prices.csv",
}


def test_other_files_are_read_from_the_folder_alone(folder, tmp_path):
    for text, name in NAMING.items():
        raw = 'name = "x"\n' + text + "\n"
        assert folder.tables("a.toml", raw) == tomllib.loads(raw)
        assert folder.named_stamps("a.toml", raw) == ()
        (tmp_path / name).write_text("some")
        told = (tmp_path / name).stat()
        assert folder.named_stamps("a.toml", raw) == ((name, told.st_mtime_ns, 4),)
        outside = raw.replace(name, f"../{name}")
        with pytest.raises(RefusedError) as refused:
            folder.tables("a.toml", outside)
        assert (refused.value.status, refused.value.problem.code) == (403, "W307")
        assert "are read from this folder only" in refused.value.problem.text
        (tmp_path / name).unlink()
        os.symlink("/dev/null", tmp_path / name)
        with pytest.raises(RefusedError):
            folder.tables("a.toml", raw)
    # A leather card of the program's own is no file, and what stands elsewhere names none.
    assert folder.named_stamps("a.toml", 'cover = { leather = "firm" }\n[[hide]]\nname = "a.svg"\nfile = 3\n') == ()
    deep = 'name = "x"\n' + "a = " + "[" * 60 + "]" * 60 + "\n"
    with pytest.raises((RefusedError, ProblemError)):
        folder.sheet("a.toml", deep)


def test_names_are_made_plain():
    assert file_name("Pilot's bench, No. 2") == "pilot-s-bench-no-2.toml"
    assert file_name("---") == "seat.toml"
    assert file_name("a" * 60) == "a" * 40 + ".toml"
    assert file_name("a" * 39 + " b") == "a" * 39 + ".toml"
    assert drawing_name("My hide.SVG", ".svg") == "my-hide.svg"
    assert drawing_name("../x.y.dxf", ".dxf") == "x-y.dxf"


# --- refusals and variants -------------------------------------------------------------------------------------------


def test_problems_are_told_as_plain_data_and_a_refusal_survives_a_process():
    import pickle

    row = told_as_json([Problem("S001", "where", "text", line=3, warning=True, keys=("pad", 0))])
    assert row == [{"code": "S001", "where": "where", "text": "text", "line": 3, "warning": True, "keys": ["pad", 0]}]
    again = pickle.loads(pickle.dumps(RefusedError(403, "W307", "sheet", "why")))
    assert (again.status, again.problem.code, again.problem.where, again.problem.text, str(again)) == (
        403, "W307", "sheet", "why", "why",
    )  # fmt: skip


def test_six_variants_are_kept_and_the_seventh_refused(folder):
    folder.begin("a.toml", "box", "A")
    assert MOST_KEPT_VARIANTS == 6
    for k in range(6):
        folder.variants.keep("a.toml", f"v{k}", f"text {k}")
    folder.variants.keep("a.toml", "v3", "other")
    with pytest.raises(RefusedError) as refused:
        folder.variants.keep("a.toml", "v6", "text")
    assert (refused.value.status, refused.value.problem.code) == (422, "W325")
    folder.variants.let_go("a.toml", "v0")
    folder.variants.keep("a.toml", "v6", "text 6")
    assert folder.variants.of("a.toml")[2] == ("v3", mark_of("other"), "other")
    assert [name for name, _, _ in folder.variants.of("a.toml")] == ["v1", "v2", "v3", "v4", "v5", "v6"]
    assert folder.variants.of("b.toml") == []
    assert Path(folder.place, FOLDER, "a.toml", "variants.json").is_file()


def test_a_new_row_is_in_mm_and_says_so_where_the_sheet_is_in_inches():
    text = 'name = "x"\nunit = "%s"\n' + PAD

    def new(unit, ident):
        return stage_of(form(text % unit), ident)["rows"]["new"]

    assert new("mm", "padding-0") == {"material": "foam_firm", "thickness": 20}
    assert new("in", "padding-0") == {"material": "foam_firm", "thickness": "20 mm"}
    assert new("mm", "heights-0")["points"] == [[0, 0], [200, 8], [400, 0]]
    assert new("in", "heights-0")["points"] == [["0 mm", "0 mm"], ["200 mm", "8 mm"], ["400 mm", "0 mm"]]
    assert (new("mm", "tapes")["length"], new("in", "tapes")["length"]) == (600, "600 mm")
    assert new("in", "tapes")["way"] == "along"
    # Kilograms stay, what was read under them is a length.
    kilograms = list(new("mm", "strips")["readings"])
    assert new("in", "strips")["readings"] == [[kg, *(f"{mm:g} mm" for mm in rest)] for kg, *rest in kilograms]
