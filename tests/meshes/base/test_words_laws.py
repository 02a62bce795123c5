"""Words, lengths and limits of what is shown and read: exact places of bounds, two ways to one figure."""

import errno
import math
import os

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from meshes.base import files
from meshes.base.files import cannot_write, number, refuse_read_only, write_file
from meshes.base.plane import contains, crosses, crossing_of, distance_to_run, first_crossing, side_of, turn_at
from meshes.base.problems import (
    MOST_TOLD,
    Problem,
    ProblemError,
    commands,
    in_file_order,
    near_name,
    one_of,
    plain,
    shown,
    told,
)
from meshes.base.reading import UnreadableError, read_whole
from meshes.base.units import (
    HIGHEST_MM,
    LARGEST_PAD_MM,
    LINE_REACH_MM,
    RARE_PAD_MM,
    SAME_MM,
    SAME_PLACE_MM,
    SHORTEST_PAD_MM,
    SMALLEST_PAD_MM,
    SNAP_MM,
    SQUARE_FOOT_MM2,
    TAPE_READING_MM,
    THICK_PADDING_MM,
    in_shop_unit,
    inches,
    length_words,
    parse_length,
)

# Inches on the tape.


@pytest.mark.parametrize(
    ("mm", "said"),
    [
        (25.4, "1 in"),
        (12.7, "1/2 in"),
        (25.4 / 16, "1/16 in"),
        (25.4 * 20.5, "20 1/2 in"),
        (25.4 * (3 + 15 / 16), "3 15/16 in"),
        (25.4 * 0.49 / 16, "0 in"),
        (25.4 * 0.51 / 16, "1/16 in"),
        (25.4 * 31.51 / 16, "2 in"),
        (0.0, "0 in"),
    ],
)
def test_a_length_on_the_inch_tape(mm, said):
    assert inches(mm) == said
    if mm and said != "0 in":
        assert abs(parse_length(said, unit="mm") - mm) <= 25.4 / 32 + 1e-9


@given(st.floats(0.0, 3000.0))
def test_what_is_said_in_inches_is_the_length_to_half_a_sixteenth(mm):
    said = inches(mm)
    assert abs(parse_length(said, unit="mm") - mm) <= 25.4 / 32 + 1e-9
    # Fractions are those of a tape, in their lowest terms.
    if "/" in said:
        part, of = said.removesuffix(" in").split()[-1].split("/")
        assert int(of) in (2, 4, 8, 16)
        assert math.gcd(int(part), int(of)) == 1


def test_lengths_in_the_shop_s_unit():
    assert length_words(60.4, unit="mm") == "60 mm"
    assert length_words(60.4, unit="in") == "2 3/8 in (60 mm)"
    said = {
        "12.5 mm": "1/2 in (12.5 mm)",
        "480 x 300 mm": "18 7/8 x 11 13/16 in (480 x 300 mm)",
        "11 to 13 mm": "7/16 to 1/2 in (11 to 13 mm)",
        "20 and 40 mm": "13/16 and 1 9/16 in (20 and 40 mm)",
        "5–9 mm": "3/16–3/8 in (5–9 mm)",
        "-30 mm": "-1 3/16 in (-30 mm)",
        # Less than half of the finest line on the tape is read as nothing, and so is left in mm.
        "0.7 mm": "0.7 mm",
        "0.9 mm": "1/16 in (0.9 mm)",
        "-0.7 mm": "-0.7 mm",
        "0 mm": "0 in (0 mm)",
        "0.7 to 3 mm": "0 to 1/8 in (0.7 to 3 mm)",
        "1.2 m": "47 1/4 in (1.2 m)",
        "0.0005 m": "0.0005 m",
        "2 N/mm": "2 N/mm",
        "30 mm/s": "30 mm/s",
        "a.30 mm": "a.30 mm",
        "x/30 mm": "x/30 mm",
        "1.5 m²": "16.1 sq ft (1.5 m²)",
        "1.50 m²": "16.1 sq ft (1.50 m²)",
        "1.505 m²": "16.20 sq ft (1.505 m²)",
        "1–2 m²": "10.8–21.5 sq ft (1–2 m²)",
    }
    for given_, wanted in said.items():
        assert in_shop_unit(given_, unit="in") == wanted
        assert in_shop_unit(given_, unit="mm") == given_
        assert in_shop_unit(wanted, unit="in") == wanted
    assert pytest.approx((0.3048e3) ** 2) == SQUARE_FOOT_MM2


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_a_length_of_a_thousand_kilometres_is_the_longest(unit):
    most = 1e9 if unit == "mm" else 1e9 / 25.4
    assert parse_length(most * (1 - 1e-12), unit=unit) == pytest.approx(1e9)
    for value in (1.001 * most, -1.001 * most, f"{1.001 * most:.1f}"):
        with pytest.raises(ValueError, match="far too large"):
            parse_length(value, unit=unit)
    assert parse_length(-5, unit="mm") == -5.0


def test_a_text_for_a_length_may_have_forty_signs():
    assert parse_length("1" + " " * 37 + "mm", unit="in") == 1.0
    with pytest.raises(ValueError, match="too long"):
        parse_length("1" + " " * 38 + "mm", unit="in")


def test_tolerances_stand_in_their_order():
    """From what cannot be marked, over what a tape reads, to what no pad is."""
    order = [SAME_MM, SNAP_MM, SAME_PLACE_MM, TAPE_READING_MM, LINE_REACH_MM, SMALLEST_PAD_MM, THICK_PADDING_MM,
             RARE_PAD_MM, SHORTEST_PAD_MM, HIGHEST_MM, LARGEST_PAD_MM]  # fmt: skip
    assert order == sorted(order)
    # 44 in written as 44 mm is rare; 3 in, the least pad that inches could mean, is none as 3 mm.
    assert SMALLEST_PAD_MM < 44.0 < RARE_PAD_MM
    assert 3.0 < SMALLEST_PAD_MM < 25.4
    assert 1.5 <= TAPE_READING_MM <= 2.5
    assert 4000.0 < LARGEST_PAD_MM < 6000.0
    assert 400.0 < HIGHEST_MM < 600.0
    assert 60.0 < THICK_PADDING_MM < 100.0
    assert SHORTEST_PAD_MM == 120.0
    assert LINE_REACH_MM == 12.0
    assert (SNAP_MM, SAME_MM) == (0.01, 0.001)


# Problems.


def test_words_that_may_be_written_are_listed():
    assert [one_of(words) for words in (["a"], ["a", "b"], ["a", "b", "c"], iter("ab"))] == [
        "a", "a or b", "a, b or c", "a or b"
    ]  # fmt: skip


def test_the_name_that_was_probably_meant():
    names = ["front_width", "Rear_Width", "depth"]
    assert near_name("front-width", names) == "front_width"
    assert near_name("REAR WIDTH", names) == "Rear_Width"
    assert near_name("dept", names) == "depth"
    assert near_name("xyz", names) is None
    assert near_name("depth", []) is None
    # Three of five letters are the least that is near.
    assert near_name("abcxy", ["abcde"]) == "abcde"
    assert near_name("abxyz", ["abcde"]) is None


def test_problems_stand_in_the_order_of_the_file():
    rows = [Problem("A", "", "", line=line) for line in (5, None, 3, 5, None)]
    assert [rows.index(one) for one in in_file_order(rows[:3])] == [1, 2, 0]
    assert [one.line for one in in_file_order(rows)] == [None, None, 3, 5, 5]


def test_a_problem_says_its_file_line_code_and_place():
    assert str(Problem("G001", "pad", "text", "a.toml", 7)) == "a.toml:7: G001 pad: text"
    assert str(Problem("G001", "", "text", "a.toml")) == "a.toml:1: G001 text"
    assert str(Problem("G001", "pad", "text", None, 7)) == "G001 pad: text"


@pytest.mark.parametrize("over", [-1, 0, 1])
def test_as_many_problems_are_told_as_are_read(over):
    lines = told([Problem("A", "", "x")] * (MOST_TOLD + over))
    assert len(lines) == MOST_TOLD + over
    assert lines[-1] == ("and 1 more: 1 of A" if over == 1 else "A x")
    assert told([Problem("B", "", "x"), Problem("A", "", "x"), Problem("B", "", "x")], most=1)[1] == (
        "and 2 more: 1 of A, 1 of B"
    )
    assert 20 <= MOST_TOLD <= 60


def test_texts_are_cut_where_nobody_reads_on():
    for count, most in ((300, 300), (301, 300)):
        where = Problem("A", "w" * count, "").where
        assert len(where) == most
        assert where.endswith("...") == (count > most)
    for count, most in ((2000, 2000), (2001, 2000)):
        assert len(Problem("A", "", "t" * count).text) == most
    assert shown("x" * 60) == '"' + "x" * 60 + '"'
    assert shown("x" * 61) == '"' + "x" * 57 + '..."'


def test_values_are_shown_as_a_sheet_has_them():
    deep = [[[[["x"]]]]]
    assert [shown(v) for v in (True, False, {"a": 1}, "a", 12, 0.1, 1e-7, [1, "b"], (), None, deep)] == [
        "true", "false", "a table", '"a"', "12", "0.1", "1e-07", '[1, "b"]', "[]", "None", "[[[[[...]]]]]"
    ]  # fmt: skip
    assert shown(list(range(9))) == "[0, 1, 2, 3, 4, 5, 6, 7]"
    assert shown(1 / 3) == "0.3333333333"
    assert shown(10**40 - 1) == "9" * 40
    assert shown(-(10**40) + 1) == "-" + "9" * 40
    assert shown(10**40) == "a number of about 40 digits"
    assert shown(10**1000) == "a number of about 1000 digits"


def test_commands_of_a_text_are_told_and_taken_out():
    assert commands("b\x1ba\x1b\u202e") == "\x1b\u202e"
    assert commands("words, ö") == ""
    assert plain("a\tb\nc\rd\x1be\u202ef") == "a b c d?e?f"


# Plane geometry at whole numbers.


@pytest.mark.parametrize(
    ("b", "expected"), [((10, 0), 0.0), ((0, 10), 90.0), ((-10, 0), 180.0), ((0, -10), -90.0), ((10, 10), 45.0)]
)
def test_turns_to_the_left_count(b, expected):
    assert math.degrees(turn_at((-5.0, 0.0), (0.0, 0.0), b)) == pytest.approx(expected)


def test_left_of_a_way_is_positive_by_twice_the_area():
    assert side_of((0.0, 0.0), (4.0, 0.0), (1.0, 3.0)) == 12.0
    assert side_of((0.0, 0.0), (4.0, 0.0), (1.0, -3.0)) == -12.0
    assert side_of((1.0, 1.0), (4.0, 4.0), (2.0, 2.0)) == 0.0


whole = st.tuples(st.integers(-4, 4), st.integers(-4, 4))


@given(whole, whole, whole)
def test_distance_to_a_run_is_that_of_another_library(a, b, p):
    line = shapely.LineString([a, b]) if a != b else shapely.Point(a)
    assert distance_to_run(a, b, p) == pytest.approx(line.distance(shapely.Point(p)), abs=1e-12)


def test_runs_that_touch_meet():
    assert crosses((0, 0), (4, 0), (2, 0), (2, 5))
    assert crosses((0, 0), (4, 0), (4, 0), (9, 0))
    assert not crosses((0, 0), (4, 0), (5, 0), (9, 0))
    assert not crosses((0, 0), (4, 0), (2, 1), (2, 5))
    assert not crosses((0, 0), (4, 0), (0, 1), (4, 1))


def test_the_first_two_runs_that_meet_are_told():
    bow = [(0, 0), (4, 4), (4, 0), (0, 4)]
    assert first_crossing(bow, closed=True) == (0, 2)
    assert first_crossing(bow, closed=False) == (0, 2)
    assert first_crossing([(0, 0), (4, 0), (4, 4), (2, -2)], closed=False) == (0, 2)
    # Only the closing run meets another one.
    assert first_crossing([(0, 0), (4, 0), (4, 4), (2, 4), (2, 1), (6, -1)], closed=False) == (0, 4)
    assert first_crossing([(0, 0), (9, 3), (4, -4), (4, 9)], closed=True) == (0, 2)
    # There and back on one line.
    assert first_crossing([(0, 0), (4, 0), (2, 0)], closed=False) == (0, 1)
    assert first_crossing([(0, 0), (4, 0), (8, 0)], closed=False) is None
    assert first_crossing([(0, 0), (4, 0), (4, 3), (9, 0)], closed=True) == (0, 3)


def test_sections_of_a_box_go_from_edge_to_edge():
    box = [(0, 0), (4, 0), (4, 6), (0, 6)]
    assert crossing_of(box, "along", 1) == (0.0, 6.0)
    assert crossing_of(box, "across", 1) == (0.0, 4.0)
    assert crossing_of(box, "along", 4) == (0, 6)
    assert crossing_of(box, "along", 4.1) is None
    slanted = [(0, 0), (4, 2), (4, 6), (0, 6)]
    assert crossing_of(slanted, "along", 1) == (0.5, 6.0)
    assert contains(box, (1, 1))
    assert not contains(box, (5, 1))


# Files.


def test_a_file_is_read_whole_whatever_its_size_says(tmp_path):
    path = tmp_path / "a"
    for count in (0, 1, 5_000_000):
        path.write_bytes(b"x" * count)
        assert len(read_whole(path, most_bytes=6_000_000)) == count
    with pytest.raises(UnreadableError) as fault:
        read_whole(path, most_bytes=2_500_000)
    assert str(fault.value) == "the file is larger than 2.5 MB"
    assert (fault.value.too_large, fault.value.missing) == (True, False)


@pytest.mark.parametrize(
    ("name", "words"), [("none", "no such file"), (".", "is a folder"), ("a\0", "no file can have")]
)
def test_what_is_missing_is_told_apart_from_what_is_closed(tmp_path, name, words):
    with pytest.raises(UnreadableError, match=words) as fault:
        read_whole(tmp_path / name, most_bytes=9)
    assert (fault.value.missing, fault.value.too_large) == (True, False)
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(UnreadableError, match="no regular file") as fault:
        read_whole(tmp_path / "pipe", most_bytes=9)
    assert not fault.value.missing


@pytest.mark.parametrize("mode", [0o755, 0o555, 0o300, 0o020])
def test_a_folder_nobody_may_write_into_is_left_alone(tmp_path, mode):
    folder = tmp_path / "f"
    folder.mkdir()
    folder.chmod(mode)
    if mode & 0o222:
        if os.geteuid() == 0:
            refuse_read_only(folder)
    else:
        with pytest.raises(PermissionError):
            refuse_read_only(folder)
    folder.chmod(0o755)


def test_the_system_s_reason_is_passed_on():
    (found,) = cannot_write("a", OSError(errno.ENOSPC, "No space left")).problems
    assert (found.code, found.file) == ("P004", "a")
    assert "cannot be written (No space left); check" in found.text
    assert "(embedded null byte)" in cannot_write("a", ValueError("embedded null byte")).problems[0].text
    assert "()" in cannot_write("a", OSError()).problems[0].text


def test_whether_a_process_lives():
    assert files._alive(os.getpid())
    child = os.fork()
    if child == 0:
        os._exit(0)
    os.waitpid(child, 0)
    assert not files._alive(child)
    assert not files._alive(10**30)


def test_a_file_in_place_of_another_says_nothing_and_a_folder_is_refused(tmp_path):
    write_file(tmp_path / "a", b"1")
    write_file(tmp_path / "a", b"2")
    assert (tmp_path / "a").read_bytes() == b"2"
    (tmp_path / "b").mkdir()
    with pytest.raises(ProblemError, match="P001"):
        write_file(tmp_path / "b", b"")
    with pytest.raises(FileExistsError):
        write_file(tmp_path / "b", b"", new=True)
    assert sorted(os.listdir(tmp_path)) == ["a", "b"]


def test_numbers_lose_their_zeros_after_the_point_alone():
    assert [number(100.0, 0), number(100.0, 2), number(0.5, 0), number(1.5, 0)] == ["100", "100", "0", "2"]
