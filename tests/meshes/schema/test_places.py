"""Places of a sheet in lines and words, what is wrong there, and what to vary to be rid of it."""

import pytest
from pydantic import ValidationError

from meshes.base.problems import Vary, Way
from meshes.schema.lines import toml_lines
from meshes.schema.remedies import REMEDIES, remedies
from meshes.schema.tables import SheetInput
from meshes.schema.words import MOST_REWORDED, Faults, SheetPlaces, default_at, reword_all
from tests.pads import FLAT, sheet_of
from tests.sheets import GOOD, line_of

PLACES = SheetPlaces("sheet.toml", toml_lines(GOOD), (("bench", "cushion"), ("rest", "backrest")))


@pytest.mark.parametrize(
    ("keys", "words", "at"),
    [
        (("name",), "name", 'name = "Launch"'),
        (("pad", 0), 'pad "bench"', "[[pad]]"),
        (("pad", 0, "sides", "front", "drop"), 'pad "bench", front side, drop', "drop = 120"),
        (("pad", 1, "sides", "rear", "turn"), 'pad "rest", top side, turn', "turn = 170"),
        (("pad", 0, "profile", 1, "points", 0), 'pad "bench", profile 2, point 1', "points = [[0, 1], [470, 2]]"),
        (("pad", 0, "profile", 0, "points", 2), 'pad "bench", profile 1, point 3', "  [470, -10],"),
        (("pad", 0, "layer", 1), 'pad "bench", layer 2', "[[pad.layer]] @2"),
        (("pad", 0, "line", 0, "points"), 'pad "bench", line 1, points', "points = [[0, 200], [560, 210]]"),
        (("material", "my_foam", "density"), 'material "my_foam", density', "density = 35"),
        (("pad", 1, "outline", "front_width"), 'pad "rest", outline, bottom_width', "[pad.outline] @2"),
        (("pad", 0, "origin", 2), 'pad "bench", origin, number 3', "origin = [0, 0, 350]"),
        (("pad", 0, "sides", "lid", "drop"), 'pad "bench", sides, lid, drop', None),
    ],
)
def test_a_place_has_its_words_and_its_line(keys, words, at):
    assert PLACES.words(keys) == words
    if at is not None:
        assert PLACES.line_of(*keys) == line_of(GOOD, at)
    problem = PLACES.problem("S016", keys, "wrong")
    assert (problem.where, problem.keys, problem.file, problem.warning) == (words, keys, "sheet.toml", False)
    assert problem.line == (PLACES.line_of(*keys) or 1)


def test_a_key_that_is_not_written_stands_at_the_table_above_it():
    assert PLACES.line_of("pad", 0, "sides", "front", "gap") == line_of(GOOD, "[pad.sides.front]")
    assert PLACES.line_of("nothing") is None
    assert PLACES.kind(1) == "backrest"
    assert PLACES.kind(7) == PLACES.kind("x") == "cushion"
    nameless = SheetPlaces("", {}, (("", "cushion"),))
    assert nameless.words(("pad", 0)) == "pad 1"
    assert nameless.words(("pad", 4)) == "pad 5"


def test_a_bad_place_spoils_all_that_it_lies_in_and_nothing_beside_it():
    faults = Faults(PLACES)
    faults.add("S016", ("pad", 0, "sides", "front", "drop"), "wrong")
    for above in ((), ("pad",), ("pad", 0), ("pad", 0, "sides"), ("pad", 0, "sides", "front", "drop")):
        assert faults.under(above)
    for beside in (("pad", 1), ("pad", 0, "sides", "rear"), ("pad", 0, "sides", "front", "drop", 0)):
        assert not faults.under(beside)
    faults.warn("S016", ("pad", 1), "odd")
    assert not faults.under(("pad", 1))
    assert [p.warning for p in faults.problems] == [False, True]
    assert faults.problems[1].vary == ()


def reworded(data):
    """What is said of a sheet given as plain tables."""
    faults = Faults(PLACES)
    with pytest.raises(ValidationError) as caught:
        SheetInput.model_validate(data, context={"unit": "mm"})
    reword_all(caught.value, faults, SheetInput)
    return faults


OUTLINE = {"front_width": 400.0, "rear_width": 400.0, "depth": 300.0}


@pytest.mark.parametrize(
    ("pad", "code", "where", "phrase"),
    [
        ({"drop": 3}, "S010", 'pad "bench", drop', "drop belongs under [pad.sides.front] or [pad.sides.right]"),
        ({"zzzz": 3}, "S010", 'pad "bench", zzzz', "known here: name, kind, origin"),
        ({"bottom": 3}, "S010", 'pad "bench", bottom', "a cushion has front and rear"),
        (
            {"layer": {"material": "x"}},
            "S012",
            'pad "bench", layer',
            "write its header with two brackets: [[pad.layer]]",
        ),
        ({"sides": 4}, "S012", 'pad "bench", sides', "not a table, found 4; write its keys under a line [pad.sides]"),
        ({"layer": [{"thickness": 5.0}]}, "S011", 'pad "bench", layer 1, material', "missing; add material ("),
        (
            {"profile": [{"direction": "along", "points": [[0, 0]]}]},
            "S019",
            'pad "bench", profile 1, points',
            "give at least two",
        ),
    ],
)
def test_what_pydantic_finds_is_said_with_its_place(pad, code, where, phrase):
    found = reworded({"name": "x", "pad": [{"name": "bench", "kind": "cushion", "outline": OUTLINE, **pad}]}).problems
    assert [(p.code, p.where) for p in found] == [(code, where)]
    assert phrase in found[0].text


def test_a_key_of_an_upright_pad_is_told_in_its_own_words():
    pads = [{"name": "bench", "kind": "cushion", "outline": OUTLINE}]
    pads += [{"name": "rest", "kind": "backrest", "outline": {"rear_width": 400.0, "depth": 300.0}, "seam_below": 2}]
    found = {p.code: p for p in reworded({"name": "x", "pad": pads}).problems}
    assert found["S010"].where == 'pad "rest", seam_below'
    assert "[pad.sides.bottom]" in found["S010"].text


def test_of_very_many_faults_the_first_are_said_and_the_rest_counted():
    many = {f"odd_{k:04d}": k for k in range(MOST_REWORDED + 7)}
    pad = {"name": "bench", "kind": "cushion", "outline": OUTLINE}
    faults = reworded({"name": "x", "pad": [pad], **many})
    assert len(faults.problems) == MOST_REWORDED + 1
    assert faults.problems[-1].code == "S009"
    assert "and 7 more faults" in faults.problems[-1].text
    # It stands at the first that is not said, and all of them are marked.
    assert faults.problems[-1].where not in {p.where for p in faults.problems[:-1]}
    assert all(faults.under((key,)) for key in many)
    assert not [p for p in reworded({"name": "x", "pad": [pad], "odd": 1}).problems if p.code == "S009"]


def test_what_counts_where_nothing_is_written():
    assert default_at(SheetInput, ("pad", 0, "sides", "front", "turn")) == 90.0
    assert default_at(SheetInput, ("pad", 1, "sides", "rear", "band")) is False
    assert default_at(SheetInput, ("name",)) is None
    assert default_at(SheetInput, ("pad", 0, "nothing")) is None


def test_remedies_are_at_the_place_of_the_problem_or_beside_it():
    keys = ("pad", 1, "sides", "front", "edge_radius")
    own, beside = remedies("G020", keys)
    assert own == Vary(keys, Way.LESS)
    assert beside == Vary(("pad", 1, "sides", "front", "drop"), Way.MORE)
    (taken_out,) = remedies("G062", keys)
    assert taken_out == Vary(keys, Way.SET, (None,))
    # Others count from the pad.
    assert remedies("G101", keys)[0].keys == ("pad", 1, "outline", "corner_radius")
    assert remedies("G106", ("pad", 0, "sides", "rear"))[1] == Vary(("pad", 0, "sides", "rear", "drop"), Way.MORE)
    assert remedies("S001", keys) == remedies("G020", ("cover", "tension")) == remedies("G020", ("pad",)) == ()


@pytest.mark.parametrize("code", sorted(REMEDIES))
def test_every_remedy_stays_in_its_pad_and_says_values_only_where_it_sets_them(code):
    found = remedies(code, ("pad", 3, "sides", "front", "drop"))
    assert len(found) == len(REMEDIES[code])
    for vary in found:
        assert vary.keys[:2] == ("pad", 3)
        assert (vary.way is Way.SET) == bool(vary.values)


def test_corners_without_a_radius_are_sharp():
    for key, place in (("front_left", 0), ("front_right", 1), ("rear_right", 2), ("rear_left", 3)):
        (pad,) = sheet_of(FLAT.replace("corner_radius = 40", f"corner_radius = {{ {key} = 30 }}")).pads
        radii = [0.0] * 4
        radii[place] = 30.0
        assert pad.outline.radii == tuple(radii)
