"""Rules of single values: bounds that hold to the last digit, what a number means, and the codes of what cannot be."""

import math
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic_core import PydanticCustomError

from meshes.base.units import SNAP_MM
from meshes.schema import text_values as t
from meshes.schema import values as v


def info(unit="mm"):
    return SimpleNamespace(context={"unit": unit})


def refused(rule, value, unit="mm"):
    """Code and words of what is wrong with a value."""
    with pytest.raises(PydanticCustomError) as caught:
        rule.read(value, info(unit))
    return caught.value.type, caught.value.message()


LENGTH = v.LengthRule("a drop", least=10.0, most=400.0)


@given(st.floats(10.0, 400.0))
def test_a_length_within_its_bounds_is_itself_and_in_inches_25_times_more(length):
    assert LENGTH.read(length, info()) == length
    inches = length / 25.4
    if 10.0 <= inches * 25.4 <= 400.0:
        assert LENGTH.read(inches, info("in")) == pytest.approx(length, rel=1e-12)
        assert LENGTH.read(f"{length:.6f} mm", info("in")) == pytest.approx(min(max(length, 10.0), 400.0), abs=1e-5)


def test_bounds_are_allowed_themselves_and_nothing_beyond():
    assert LENGTH.read(10, info()) == 10.0
    assert LENGTH.read("40 cm", info()) == 400.0
    assert refused(LENGTH, math.nextafter(400.0, 500.0))[0] == "S016"
    assert refused(LENGTH, f"{math.nextafter(10.0, 0.0)} mm")[0] == "S016"
    above = v.LengthRule("a width", least=0.0, above=True)
    assert above.read(SNAP_MM, info()) == SNAP_MM
    assert refused(above, 0.99 * SNAP_MM)[0] == "S016"
    assert math.copysign(1.0, v.LengthRule("a place", least=-5.0).read(-1e-12, info())) == 1.0
    assert v.LengthRule("a place", least=-5.0).read(-1e-6, info()) == -1e-6


@pytest.mark.parametrize(
    ("value", "code", "phrase"),
    [
        (-3, "S016", "negative, found -3; a drop is 10 to 400 mm"),
        (0, "S016", "zero, found 0; a drop is 10 to 400 mm"),
        (5.5, "S017", "too small, found 5.5; looks like centimetres or inches: write the unit with it"),
        (2, "S017", "too small, found 2; looks like centimetres or inches"),
        (0.2, "S017", "looks like metres"),
        (2000, "S016", "too large, found 2000; a drop is 10 to 400 mm"),
        ("2 m", "S016", 'too large, found "2 m" (2000 mm); a drop is 10 to 400 mm'),
        ("5", "S016", 'too small, found "5"'),
        (float("nan"), "S015", "not a number that can be measured, found nan; write the measured length"),
        (float("inf"), "S015", "found inf"),
        ("wide", "S014", "holds no number"),
        (True, "S012", "is not a length, found true"),
        ([1], "S012", "is not a length, found [1]"),
    ],
)
def test_lengths_that_cannot_be(value, code, phrase):
    found, text = refused(LENGTH, value)
    assert found == code
    assert phrase in text


def test_a_number_is_taken_for_the_unit_in_which_it_would_do():
    assert "looks like millimetres" in refused(LENGTH, 120, "in")[1]
    # Of a pad's whole size nothing below 20 mm is likely: 15 may be centimetres or inches, not millimetres in an inch
    # sheet.
    wide = v.LengthRule("a width", least=120.0)
    assert "looks like centimetres or inches" in refused(wide, 44)[1]
    assert "metres" not in refused(wide, 44)[1].replace("centimetres", "").replace("millimetres", "")
    assert refused(v.LengthRule("a depth", least=-500.0, most=500.0), -600)[1].startswith(
        "too small, found -600; a depth"
    )


NUMBER = v.NumberRule("the rake", least=-30.0, most=45.0, unit="degrees")
SHARE = v.NumberRule("a share", least=0.0, most=0.5, percent=True)


def test_numbers_keep_to_their_bounds():
    assert (NUMBER.read(-30, info()), NUMBER.read(45.0, info())) == (-30.0, 45.0)
    assert refused(NUMBER, 45.0001) == ("S016", "out of range, found 45.0001; the rake is -30 to 45 degrees")
    assert refused(NUMBER, -31)[1].startswith("out of range")
    assert refused(SHARE, -0.1)[1].startswith("negative, found -0.1; a share is 0 to 0.5")
    assert refused(SHARE, 0.6)[1].startswith("out of range")
    assert SHARE.read(1e-12, info()) == 0.0
    assert SHARE.read(1e-8, info()) == 1e-8


@pytest.mark.parametrize(("value", "code"), [("5", "S012"), (True, "S012"), (None, "S012"), (float("inf"), "S015")])
def test_what_is_no_number(value, code):
    assert refused(NUMBER, value)[0] == code


def test_per_cent_are_told_by_their_size():
    assert refused(SHARE, 12) == ("S017", "looks like per cent, found 12; write 12 % as 0.12")
    assert refused(SHARE, 1)[0] == refused(SHARE, 100)[0] == "S017"
    assert refused(SHARE, 0.99)[0] == refused(SHARE, 101)[0] == "S016"
    assert refused(NUMBER, 90)[0] == "S016"
    assert "in degrees" in refused(NUMBER, "5")[1]
    assert ", in" not in refused(SHARE, "5")[1]


def test_words_names_and_counts():
    word = t.WordRule(("face", "inset"))
    assert word.read("inset", info()) == "inset"
    assert refused(word, "insets") == (
        "S013",
        'not a word known here, found "insets"; did you mean "inset"? Write "face" or "inset"',
    )
    assert refused(word, "zzz")[1].endswith('; write "face" or "inset"')
    assert refused(word, 3)[0] == "S012"
    count = v.CountRule("how many", 2, 9)
    assert (count.read(2, info()), count.read(9, info())) == (2, 9)
    assert refused(count, 1)[0] == refused(count, 10)[0] == "S017"
    assert refused(count, 3.0)[0] == refused(count, True)[0] == "S012"
    assert v.FlagRule().read(False, info()) is False
    assert refused(v.FlagRule(), 1)[0] == "S012"


def test_names_that_no_file_can_have():
    rule = t.NameRule("a name")
    for name in ("helm bench", "a" * t.NAME_LENGTH, "x.y", "bank № 2"):
        assert rule.read(name, info()) == name
    for name in ("", "  ", "a" * (t.NAME_LENGTH + 1), "a/b", "what?", " x", "x ", ".x", "x.", "CON", "a\tb"):
        assert refused(rule, name)[0] == "S018", name
    assert refused(rule, 7)[0] == "S012"
    assert refused(rule, "a/b:c")[1].endswith('leave out "/:"')


def test_free_text_is_one_line_of_writing():
    rule = t.TextRule("a remark")
    assert rule.read("  two \n lines ", info()) == "two lines"
    assert rule.read("x" * t.TEXT_LENGTH, info()) == "x" * t.TEXT_LENGTH
    assert refused(rule, "x" * (t.TEXT_LENGTH + 1))[0] == "S018"
    assert "U+001B" in refused(rule, "red \x1b[31m")[1]
    assert refused(rule, 3)[0] == "S012"
    card = t.CardNameRule("a leather")
    assert card.read("cards.toml:calf/1", info()) == "cards.toml:calf/1"
    assert refused(card, "calf/1")[0] == "S018"


def test_sources_are_told_for_all_or_for_each():
    rule = t.SourceRule(("density", "compression_kpa"))
    assert rule.read("a  handbook", info()) == "a handbook"
    assert rule.read({"density": "own  scales"}, info()) == {"density": "own scales"}
    assert refused(rule, 4)[0] == "S012"
    assert refused(rule, {"density": 4})[0] == "S012"
    code, text = refused(rule, {"densty": "x"})
    assert code == "S010"
    assert 'did you mean "density"?' in text
    assert "known here: density, compression_kpa" in refused(rule, {"zzz": "x"})[1]


def test_points_and_rows():
    plain, corner = v.PointRule(("x", "y")), v.PointRule(("x", "y", "radius"))
    assert plain.read([1, "2 cm"], info()) == (1.0, 20.0)
    assert corner.read([-1, 2, 2000], info()) == (-1.0, 2.0, 2000.0)
    assert refused(plain, [1, 2, 3]) == ("S019", "3 numbers in a point, found [1, 2, 3]; write [x, y]")
    assert refused(corner, [1]) == ("S019", "1 number in a point, found [1]; write [x, y] or [x, y, radius]")
    assert refused(corner, [1, 2, 2001])[0] == "S016"
    assert "negative" in refused(corner, [1, 2, -3])[1]
    assert refused(plain, "1, 2")[0] == "S012"
    assert refused(plain, [1, 5001])[0] == refused(plain, [-5001, 1])[0] == "S016"
    row = v.RowRule("X, Y and Z", 3, v.NumberRule("a number", 0.0, 9.0))
    assert row.read([1, 2, 3], info()) == (1.0, 2.0, 3.0)
    assert refused(row, [1, 2]) == ("S019", "2 numbers, found [1, 2]; write 3: X, Y and Z")
    assert refused(row, 3)[0] == "S012"


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_the_pattern_for_editors_takes_what_the_reader_takes(unit):
    import re

    for text in ("520", " 52 cm", "20 1/2 in", '20-1/2"', "3/8 in", ".5 m", "-4", "1 inch"):
        assert re.fullmatch(v.LENGTH_PATTERN, text), text
        v.LengthRule("a place", least=-1e6, most=1e6).read(text, info(unit))
    for text in ("", "wide", "5 ft", "1,5", "1/2/3"):
        assert not re.fullmatch(v.LENGTH_PATTERN, text), text
        assert refused(LENGTH, text)[0] == "S014"


def test_editors_are_told_the_same_bounds():
    assert NUMBER.json() == {"type": "number", "minimum": -30.0, "maximum": 45.0}
    assert v.CountRule("how many", 2, 9).json() == {"type": "integer", "minimum": 2, "maximum": 9}
    corner = v.PointRule(("x", "y", "radius")).json()
    assert (corner["minItems"], corner["maxItems"]) == (2, 3)
    row = v.RowRule("X, Y and Z", 3, NUMBER).json()
    assert (row["minItems"], row["maxItems"]) == (3, 3)
    assert t.NameRule("a name").json() == {"type": "string", "minLength": 1, "maxLength": t.NAME_LENGTH}
    assert t.CardNameRule("a leather").json()["minLength"] == 1
    assert t.SourceRule(("density",)).json()["anyOf"][1]["additionalProperties"] is False
