"""Changes of a sheet's text keep everything else; undo and redo outlast the program; no kill loses a sheet."""

import os
import re
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import meshes.base.files as base_files
from flatten.sheets.edits import value_at, with_row, with_value
from flatten.sheets.folder import SheetFolder, file_name
from flatten.sheets.form import form_of
from flatten.sheets.history import mark_of
from flatten.sheets.kept_variants import MOST_KEPT_VARIANTS
from flatten.sheets.questions import OF_PAD
from flatten.sheets.refusals import RefusedError
from meshes.base.problems import ProblemError
from meshes.sheet.starter import KINDS, starter_text

PLAIN = st.text(max_size=20).filter(lambda text: "#" not in text)
TEXTS = {kind: starter_text(kind) for kind in KINDS}


def comments(text):
    return [line.partition("#")[2] for line in text.splitlines() if "#" in line]


def fields(text):
    return [f for stage in form_of(tomllib.loads(text), ()) for f in stage["fields"]]


def new_value(field, draw):
    kinds = {"length": st.one_of(st.integers(1, 900), st.just("12 1/2 in")),
             "count": st.integers(1, 40),
             "number": st.floats(0, 5, allow_nan=False), "flag": st.booleans(), "text": PLAIN,
             "word": st.sampled_from(field.get("words") or ["x"])}  # fmt: skip
    return draw(kinds.get(field["type"], st.just(1)))


@given(st.data())
@settings(max_examples=50)
def test_a_change_keeps_every_comment_and_everything_else(data):
    text = TEXTS[data.draw(st.sampled_from(KINDS))]
    field = data.draw(st.sampled_from(fields(text)))
    value = new_value(field, data.draw)
    new = with_value(text, field["keys"], value)
    assert comments(new) == comments(text)
    raw = tomllib.loads(new)
    assert value_at(raw, field["keys"]) == value
    kept = [line for line in text.splitlines() if line.strip()]
    assert sum(line not in new.splitlines() for line in kept) <= 1
    back = with_value(new, field["keys"], field["value"])
    assert tomllib.loads(back) == tomllib.loads(text) or field["value"] is None
    if field["value"] is None:
        assert value_at(tomllib.loads(back), field["keys"]) is None


@pytest.mark.parametrize("kind", KINDS)
def test_layers_are_added_behind_each_other_and_taken_out(kind):
    text = TEXTS[kind]
    row = {"material": "wadding", "thickness": 5, "where": "face"}
    before = value_at(tomllib.loads(text), ["pad", 0, "layer"]) or []
    new = with_row(text, ["pad", 0, "layer"], row)
    assert value_at(tomllib.loads(new), ["pad", 0, "layer"]) == [*before, row]
    assert comments(new) == comments(text)
    back = with_value(new, ["pad", 0, "layer", len(before)], None)
    assert tomllib.loads(back) == tomllib.loads(text)


def test_upright_pads_keep_their_own_words():
    new = with_value(TEXTS["back"], ["pad", 0, "outline", "front_width"], 510)
    assert "bottom_width = 510" in new
    new = with_value(TEXTS["back"], ["pad", 0, "sides", "rear", "welt"], True)
    assert re.search(r"\[pad\.sides\.top\]\n(.*\n)*?welt = true", new)


@pytest.mark.parametrize(
    "keys", [["pad", 7, "name"], ["pad", -1, "name"], ["a b"], ["name", "x"], ["pad", "x"], [3], ["x"] * 9]
)
def test_a_place_that_a_sheet_has_not_is_refused(keys):
    with pytest.raises(RefusedError):
        with_value(TEXTS["box"], keys, 3)


def test_every_question_stands_in_the_schema_and_has_a_label():
    for kind, text in TEXTS.items():
        for field in fields(text):
            assert field["label"], kind
            assert field["type"] in ("length", "number", "count", "flag", "word", "text", "points", "place", "part"), (
                field
            )
    assert len({stage.word for stage in OF_PAD}) >= 10


def test_a_problem_is_told_at_its_field(tmp_path):
    folder = SheetFolder(tmp_path)
    text = with_value(TEXTS["bench"], ["pad", 0, "outline", "depth"], -3)
    with pytest.raises(ProblemError) as caught:
        folder.sheet("a.toml", text)
    stages = form_of(tomllib.loads(text), caught.value.problems)
    told = {tuple(f["keys"]): f["problems"] for stage in stages for f in stage["fields"]}
    assert told["pad", 0, "outline", "depth"][0]["code"] == "S016"


@pytest.fixture
def folder(tmp_path):
    return SheetFolder(tmp_path)


def test_undo_and_redo_outlast_the_program(folder, tmp_path):
    state = folder.begin("a.toml", "box", "A")
    texts = [state.text]
    for width in (500, 510, 520):
        text = with_value(state.text, ["pad", 0, "outline", "front_width"], width)
        state = folder.save("a.toml", text, base=state.mark)
        texts.append(state.text)
    assert (state.undo, state.redo) == (3, 0)
    again = SheetFolder(tmp_path)
    for text in texts[-2::-1]:
        state = again.step("a.toml", -1, base=state.mark)
        assert state.text == text
    with pytest.raises(RefusedError, match="nothing to undo"):
        again.step("a.toml", -1, base=state.mark)
    state = SheetFolder(tmp_path).step("a.toml", +1, base=state.mark)
    assert state.text == texts[1]
    # A new change takes the place of what was undone.
    state = again.save("a.toml", texts[3] + "# other\n", base=state.mark)
    assert (state.undo, state.redo) == (2, 0)
    with pytest.raises(RefusedError, match="nothing to redo"):
        again.step("a.toml", +1, base=state.mark)


def test_what_an_editor_wrote_can_be_undone_to_and_from(folder, tmp_path):
    state = folder.begin("a.toml", "box", "A")
    saved = folder.save("a.toml", state.text + "# one\n", base=state.mark)
    (tmp_path / "a.toml").write_text(state.text + "# by hand\n")
    now = folder.state("a.toml")
    back = folder.step("a.toml", -1, base=now.mark)
    assert back.text == saved.text
    assert folder.step("a.toml", +1, base=back.mark).text == now.text


class Killed(BaseException):
    pass


def test_killed_at_any_moment_the_sheet_is_the_old_one_or_the_new_one(tmp_path, monkeypatch):
    calls = ("replace", "link", "unlink", "fsync", "open")
    real = {name: getattr(os, name) for name in calls}
    at = 0
    while True:
        place = tmp_path / f"try{at}"
        place.mkdir()
        folder = SheetFolder(place)
        old = folder.begin("a.toml", "box", "A")
        new = old.text + "# new\n"
        count = 0

        def counted(name, most=at):
            def call(*args, **kwargs):
                nonlocal count
                count += 1
                if count > most:
                    raise Killed
                return real[name](*args, **kwargs)

            return call

        for name in calls:
            monkeypatch.setattr(base_files.os, name, counted(name))
        finished = True
        try:
            folder.save("a.toml", new, base=old.mark)
        except Killed:
            finished = False
        monkeypatch.undo()
        state = SheetFolder(place).state("a.toml")
        assert state.text in (old.text, new)
        if state.text == new:
            assert SheetFolder(place).step("a.toml", -1, base=state.mark).text == old.text
        if finished:
            break
        at += 1
    assert at > 8


def test_a_mark_tells_texts_apart_and_names_are_plain():
    assert mark_of("a") != mark_of("b")
    for title in ("../../x", "<script>alert(1)</script>", "\u202eabc", "é" * 300, "  ", "CON", "a/b\\c"):
        name = file_name(title)
        assert re.fullmatch(r"[a-z0-9_-]{1,40}\.toml", name)


def test_variants_outlast_the_program_and_are_bounded(tmp_path):
    folder = SheetFolder(tmp_path)
    state = folder.begin("a.toml", "box", "A")
    for k in range(MOST_KEPT_VARIANTS):
        folder.variants.keep("a.toml", f"v{k}", state.text + f"# {k}\n")
    with pytest.raises(RefusedError, match="let one go"):
        folder.variants.keep("a.toml", "one more", state.text)
    folder.variants.keep("a.toml", "v0", state.text + "# new\n")
    again = SheetFolder(tmp_path)
    kept = again.variants.of("a.toml")
    assert [name for name, _, _ in kept] == [f"v{k}" for k in range(MOST_KEPT_VARIANTS)]
    assert again.earlier("a.toml", kept[0][1]) == state.text + "# new\n"
    again.variants.let_go("a.toml", "v3")
    assert len(again.variants.of("a.toml")) == MOST_KEPT_VARIANTS - 1
    for odd in ("", "[]", '{"x": 3}', "{"):
        (tmp_path / ".trimloft-page" / "a.toml" / "variants.json").write_text(odd)
        assert again.variants.of("a.toml") == []


def test_both_readings_are_kept_beside_the_sheet(tmp_path):
    folder = SheetFolder(tmp_path)
    text = folder.begin("a.toml", "box", "A").text
    folder.note_reading("a.toml", ["pad", 0, "outline", "depth"], (500.0, 507.0))
    folder.note_reading("a.toml", ["pad", 0, "outline", "front_width"], (520.0, 521.0))
    again = SheetFolder(tmp_path)
    assert again.readings("a.toml")["pad.0.outline.depth"] == {"mm": [500.0, 507.0]}
    assert len(again.readings("a.toml")) == 2
    assert (again.state("a.toml").text, again.state("a.toml").undo) == (text, 0)
    (tmp_path / ".trimloft-page" / "a.toml" / "readings.json").write_text("[1]")
    assert again.readings("a.toml") == {}
