"""Lengths as trimmers write them."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from meshes.base.units import in_shop_unit, parse_length, place_words, span

# 25.4 mm to the inch exactly: international yard and pound agreement, 1959.
MM_PER_INCH = 25.4


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("520 mm", 520.0),
        ("520mm", 520.0),
        ("520", 520.0),
        ("52 cm", 520.0),
        ("0.52 m", 520.0),
        ("20 1/2 in", 520.7),
        ("20-1/2 in", 520.7),
        ('20 1/2"', 520.7),
        ("20.5 inches", 520.7),
        ("1 inch", 25.4),
        ("3/8 in", 9.525),
        ("3/8 IN", 9.525),
        ("20½ in", 520.7),
        ("⅜ in", 9.525),
        ("20.5″", 520.7),
        ("20.5''", 520.7),
        ("-3 1/2 in", -88.9),
        ("\u22123 mm", -3.0),
        ("+3 mm", 3.0),
        (".5 in", 12.7),
        ("5. cm", 50.0),
        ("1 / 4 in", 6.35),
    ],
)
def test_text(text, mm):
    assert parse_length(text, unit="mm") == pytest.approx(mm, abs=1e-12)


def test_a_bare_number_is_in_the_unit_of_the_sheet():
    assert parse_length(20, unit="mm") == 20.0
    assert parse_length(20.5, unit="in") == pytest.approx(20.5 * MM_PER_INCH, abs=1e-12)
    assert parse_length("20 1/2", unit="in") == pytest.approx(20.5 * MM_PER_INCH, abs=1e-12)
    assert parse_length("52 cm", unit="in") == 520.0


@pytest.mark.parametrize(
    ("value", "phrase"),
    [
        ("12,5 mm", "with a point: 12.5 mm"),
        ("12 px", 'unit "px"'),
        ("12 ft", "inches only"),
        ("3'", "inches only"),
        ("3' 8\"", "inches only"),
        ("", "is empty"),
        ("mm", "holds no number"),
        ("1/0 in", "divides by zero"),
        ("1 2 3 mm", "cannot be read"),
        ("12 mm mm", "cannot be read"),
        ("1e3 mm", "cannot be read"),
        ("1" * 41, "too long"),
        ("9999999999999", "far too large"),
        (1e300, "far too large"),
        pytest.param(10**400, "far too large", id="a number of 401 digits"),
        (math.nan, "measured"),
        (-math.inf, "measured"),
        (True, "not a length"),
        (None, "not a length"),
        ([1], "not a length"),
        ({"mm": 1}, "not a length"),
        ("٣ mm", "cannot be read"),
    ],
)
def test_what_is_no_length(value, phrase):
    with pytest.raises(ValueError) as caught:
        parse_length(value, unit="mm")
    assert phrase in str(caught.value)


@given(st.integers(0, 400), st.integers(0, 63), st.sampled_from([1, 2, 4, 8, 16, 32, 64]))
def test_inch_fractions_come_back(whole, part, of):
    text = f"{whole} {part}/{of} in"
    assert parse_length(text, unit="mm") / MM_PER_INCH == pytest.approx(whole + part / of, rel=1e-14)


@given(st.integers(-999_999, 999_999), st.integers(0, 4), st.sampled_from(["mm", "cm", "m", "in"]))
def test_decimals_come_back(digits, places, unit):
    """Written with any number of places and any unit, a length is the same to the last bit but one."""
    factor = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": MM_PER_INCH}[unit]
    value = digits / 10**places
    assert parse_length(f"{value:.{places}f} {unit}", unit="mm") == pytest.approx(value * factor, rel=1e-14)


@given(st.floats(-1e6, 1e6))
def test_a_number_in_mm_is_itself(value):
    assert parse_length(value, unit="mm") == value


@given(st.floats(-1e4, 1e4), st.sampled_from(["mm", "in"]))
def test_text_and_number_agree(value, unit):
    number = parse_length(float(f"{value:.6f}"), unit=unit)
    assert parse_length(f"{value:.6f} {unit}", unit="mm") == pytest.approx(number, rel=1e-14)


@given(st.text(max_size=45))
def test_any_text_is_a_length_or_is_refused_in_words(text):
    words = ""
    length = 0.0
    try:
        length = parse_length(text, unit="in")
    except ValueError as refused:
        words = str(refused)
    assert words.startswith(("is ", "has ", "holds ", "cannot ", "divides ")) or not words
    assert abs(length) <= 1e9


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ("strips of 1.2 m", "strips of 47 1/4 in (1.2 m)"),
        ("sheets of 1 × 2 m|", "sheets of 39 3/8 × 78 3/4 in (1 × 2 m)|"),
        ("0.56 m², cut once", "6.0 sq ft (0.56 m²), cut once"),
        ("cover 1.00 m2", "cover 10.8 sq ft (1.00 m2)"),
        ("0.093 m²", "1.00 sq ft (0.093 m²)"),
        ("6.0 sq ft (0.56 m²)", "6.0 sq ft (0.56 m²)"),
        ("47 1/4 in (1.2 m)", "47 1/4 in (1.2 m)"),
        ("stiffness 6.8 N/m, 1.9 kg/m2", "stiffness 6.8 N/m, 1.9 kg/m2"),
        ('d="M 3 4 m 5 6"', 'd="M 3 4 m 5 6"'),
    ],
)
def test_metres_and_areas_are_said_on_the_inch_tape(given, said):
    """1 m is 39.3701 in and 1 m² 10.7639 sq ft (inch and foot of 1959)."""
    assert in_shop_unit(given, unit="in") == said
    assert in_shop_unit(said, unit="in") == said
    assert in_shop_unit(given, unit="mm") == given


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ("padding 31 to 32 mm", "padding 1 1/4 in (31 to 32 mm)"),
        ("padding 22 to 42 mm", "padding 7/8 to 1 5/8 in (22 to 42 mm)"),
        ("11–11.2 mm", "7/16 in (11–11.2 mm)"),
        ("-3 to -3.1 mm", "-1/8 in (-3 to -3.1 mm)"),
        # 25.4 mm is 1 in, 1.6 mm a sixteenth: one ends as the other begins, and they are not alike.
        ("40 to 25.4 mm", "1 9/16 to 1 in (40 to 25.4 mm)"),
        ("32 to 1.6 mm", "1 1/4 to 1/16 in (32 to 1.6 mm)"),
        ("6.4 to 31.8 mm", "1/4 to 1 1/4 in (6.4 to 31.8 mm)"),
        # What is no range keeps both figures.
        ("31 x 31 mm", "1 1/4 x 1 1/4 in (31 x 31 mm)"),
    ],
)
def test_a_range_whose_ends_read_alike_on_the_tape_is_said_once(given, said):
    assert in_shop_unit(given, unit="in") == said


def test_figures_that_print_alike_are_said_once():
    assert span("25", "25") == "25"
    assert span("22", "42") == "22 to 42"


def test_a_place_has_both_its_figures_in_the_shop_s_unit():
    assert place_words(-173.2, 320.4) == "x = -173 mm, y = 320 mm"
    assert place_words(-0.3, 0.2) == "x = 0 mm, y = 0 mm"
    assert in_shop_unit(place_words(-254.0, 508.0), unit="in") == "x = -10 in (-254 mm), y = 20 in (508 mm)"


def test_stock_in_inches_has_no_thousandths_beside_it():
    assert in_shop_unit("9.525 mm wadding", unit="in") == "3/8 in (9.5 mm) wadding"
    assert in_shop_unit("6.35 mm", unit="in") == "1/4 in (6.35 mm)"
    assert in_shop_unit("15.875 x 25.4 mm", unit="in") == "5/8 x 1 in (15.9 x 25.4 mm)"
    assert in_shop_unit("9.525 mm", unit="mm") == "9.525 mm"
