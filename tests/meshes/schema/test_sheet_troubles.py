"""Sheets with many faults, files that are no sheets, warnings, and sheets spoilt at random."""

import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from meshes.base.problems import ProblemError
from meshes.sheet.read import read_sheet
from tests.pads import sheet_of
from tests.sheets import GOOD, problems_of

MESHES = Path(__file__).parents[3] / "meshes"

PAD = """
name = "test"
[[pad]]
name = "cushion"
kind = "cushion"
[pad.outline]
front_width = 400
rear_width = 380
depth = 300
"""


def test_all_faults_are_reported_in_file_order(tmp_path):
    changes = [
        ('unit = "mm"', 'unit = "mn"'),
        ("sewn = 12", "sewn = -12"),
        ('page = "a4"', 'page = "a5"'),
        ("overlap = 10", 'overlap = "10 px"'),
        ("density = 35", 'density = "35"'),
        ("rake = 5", "rake = nan"),
        ("depth = 480\ncorner", "dept = 480\ncorner"),
        ("  [470, -10],", "  [100, -10],"),
        ("at = 200", "at = 101\ncolour = 3"),
        ("drop = 120", "drop = 15"),
        ('material = "my_foam"', 'material = "foam"'),
        ("thickness = 10", "thickness = 0"),
        ("front = 0", "front = 12"),
        ("points = [[0, 200], [560, 210]]", "points = [[0, 200], [0, 200]]"),
        ('name = "rest"', 'name = "bench"'),
        ("  [500, 0, 30],", "  [500, 0, 30, 4],"),
        ("turn = 170", "turn = 190"),
    ]
    text = GOOD
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    found = problems_of(text, tmp_path)
    lines = [problem.line for problem in found]
    assert lines == sorted(lines)
    wanted = [k for k, (a, b) in enumerate(zip(GOOD.splitlines(), text.splitlines(), strict=False), 1) if a != b]
    assert len(found) >= len(changes)
    assert min(lines) == min(wanted)
    assert [p.code for p in found] == [
        *("S013", "S016", "S013", "S014", "S012", "S015", "S010", "G010", "S010", "G022"),
        *("S022", "S016", "G031", "G042", "S021", "S019", "S016"),
    ]


def test_problems_read_as_file_line_code_words(tmp_path):
    problem = problems_of(GOOD.replace("drop = 120", "drop = -3"), tmp_path)[0]
    line = next(k for k, text in enumerate(GOOD.splitlines(), 1) if text == "drop = 120")
    start = f'{tmp_path / "sheet.toml"}:{line}: S016 pad "bench", front side, drop: negative, found -3; '
    assert str(problem).startswith(start)


@pytest.mark.parametrize(
    ("data", "code", "line", "phrase"),
    [
        (b"", "S004", 1, "empty"),
        (b" \n\t\n", "S004", 1, "empty"),
        (b"name = 'x'\nunit = '\xff'\n", "S002", 2, "0xff"),
        (b"\xff\xfen\x00a\x00", "S002", 1, "UTF-8"),
        (b"# " + b"x" * 1_000_000, "S003", 1, "1 MB"),
        (b"name = 'x'\n", "S011", 1, "add pad"),
        (b"name = 'x'\npad = []\n", "S023", 2, "at least one"),
        (b"name = 'x'\npad = 3\n", "S012", 2, "two brackets"),
        (b"name = 'x'\n[pad]\nname = 'c'\n", "S012", 2, "[[pad]]"),
        (b"name = 'x'\npad = [3]\n", "S012", 2, "not a table"),
        (b"name = 'x'\na = " + b"[" * 20_000, "S005", 2, "nested"),
        (b"name = 'x'\na = " + b"9" * 5_000, "S005", 2, "cannot be read"),
        (b"name = 'x'\r\nunit = 3\r\npad = []\r\n", "S012", 2, "not a word"),
        (b"name = 'x' \x00", "S005", 1, "value"),
    ],
)
def test_files_that_are_no_sheet(data, code, line, phrase, tmp_path):
    path = tmp_path / "sheet.toml"
    path.write_bytes(data)
    with pytest.raises(ProblemError) as caught:
        read_sheet(path)
    assert any((p.code, p.line) == (code, line) and phrase in p.text for p in caught.value.problems), str(caught.value)


def test_a_sheet_that_is_not_there(tmp_path):
    for path, phrase in ((tmp_path / "none.toml", "no such file"), (tmp_path, "a folder")):
        with pytest.raises(ProblemError, match=phrase) as caught:
            read_sheet(path)
        assert caught.value.problems[0].code == "S001"


def test_a_mark_of_byte_order_is_no_fault(tmp_path):
    path = tmp_path / "sheet.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert read_sheet(path).pads == sheet_of(GOOD).pads


WARNINGS = {
    "G050": PAD + '[[pad.layer]]\nmaterial = "hair"\nthickness = 81\n',
    "G051": PAD + "corner_radius = 6\n",
    "G052": PAD.replace('kind = "cushion"', 'kind = "backrest"').replace("front_", "bottom_").replace("rear_", "top_"),
    "G053": PAD + '[[pad.profile]]\ndirection = "along"\npoints = [[0, 0], [200, 5]]\n',
    "G054": PAD.replace("depth = 300", "depth = 90"),
    "G056": PAD + "[pad.sides.front]\nseam_below = 8\n",
}


def test_very_thick_padding_is_told_with_the_layer_to_change():
    two = PAD + '[[pad.layer]]\nmaterial = "foam_soft"\nthickness = {}\n' * 2
    (told,) = sheet_of(two.format(30, 60)).warnings
    assert "90 mm of padding" in told.text
    assert "layer 2, 60 mm foam_soft" in told.text
    assert "on a board" in told.text
    (told,) = sheet_of(two.format(60, 30) + "[pad.support]\nkind = 'springs'\nrate_kpa_per_mm = 0.1\n").warnings
    assert "layer 1, 60 mm foam_soft" in told.text
    assert "over springs one layer of about 25 mm is usual" in told.text
    assert not sheet_of(two.format(30, 45)).warnings


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("wrong", ["welt = 3", 'drop = "face"', "drop = -36", "edge_radius = 19000", "wel = false"])
def test_a_fault_in_a_side_that_its_mirror_image_copies_is_told_once_where_it_stands(side, wrong):
    with pytest.raises(ProblemError) as caught:
        sheet_of(PAD + f"[pad.sides.{side}]\n{wrong}\n")
    (problem,) = caught.value.problems
    assert f"sides, {side}" in problem.where or side in problem.where


@pytest.mark.parametrize("code", WARNINGS)
def test_warnings_stop_nothing(code):
    sheet = sheet_of(WARNINGS[code])
    assert [w.code for w in sheet.warnings] == [code]
    assert all(w.warning and w.line for w in sheet.warnings)


def test_the_thickest_place_is_named():
    layer = '[[pad.layer]]\nmaterial = "hair"\nthickness = {}\nwhere = "{}"\n'
    sheet = sheet_of(PAD + layer.format(50, "all") + layer.format(35, "face") + layer.format(41, "left"))
    assert [w.text.split(";")[0] for w in sheet.warnings] == [
        "91 mm of padding on the left side, most of it layer 1, 50 mm hair"
    ]


LINES = GOOD.splitlines()


@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_a_spoilt_sheet_never_breaks_the_reader(tmp_path, data):
    """Lines left out, doubled, swapped, mixed with each other: read, or refused with lines that are in the file."""
    lines = list(LINES)
    for _ in range(data.draw(st.integers(1, 4))):
        k = data.draw(st.integers(0, len(lines) - 1))
        other = data.draw(st.sampled_from(LINES))
        lines[k : k + 1] = data.draw(
            st.sampled_from(
                [
                    [],
                    [lines[k], lines[k]],
                    [other],
                    [other, lines[k]],
                    [lines[k].split("=")[0] + "=" + other.split("=")[-1]],
                    [lines[k].split("=")[0] + "= " + data.draw(st.sampled_from(["-1", "0", "nan", "[]", "{}", "1e9"]))],
                    [lines[k] + data.draw(st.text(max_size=3))],
                ]
            )
        )
    path = tmp_path / "sheet.toml"
    path.write_text("\n".join(lines), encoding="utf-8", errors="replace")
    problems, pads = (), ()
    try:
        pads = read_sheet(path).pads
    except ProblemError as refused:
        problems = refused.problems
    assert bool(problems) != bool(pads)
    assert all(1 <= p.line <= len(path.read_text().split("\n")) and not p.warning for p in problems)
    assert all(set(pad.sides) == {"front", "right", "rear", "left"} for pad in pads)


def test_every_problem_a_sheet_can_have_is_provoked_by_some_test():
    sources = [*(MESHES / "schema").glob("*.py"), *(MESHES / "sheet").glob("*.py")]
    # The remedies name codes that others raise.
    raising = [p for p in sources if p.name != "remedies.py"]
    codes = {code for p in raising for code in re.findall(r'"([SG]\d{3})"', p.read_text())}
    tests = "".join(p.read_text() for p in Path(__file__).parents[1].rglob("test_*.py"))
    assert len(codes) > 50
    assert [code for code in sorted(codes) if f'"{code}"' not in tests] == []


@pytest.mark.parametrize("key", ["length", "table", "word", '"[key]"'])
@pytest.mark.parametrize("head", ["", "[output]\n", "[pad.sides.front]\n"])
def test_a_key_that_is_called_like_a_tag_of_the_reader_is_a_key(key, head):
    """At the top of the sheet they were no place at all."""
    text = f"{key} = 3\n{PAD}" if not head else f"{PAD}{head}{key} = 3\n"
    with pytest.raises(ProblemError) as refused:
        sheet_of(text)
    (problem,) = refused.value.problems
    assert (problem.code, problem.keys[-1]) == ("S010", key.strip('"'))


def test_the_length_of_a_roll_is_told_on_its_line():
    text = PAD.partition("[pad.outline]")[0] + '[pad.outline]\nshape = "round"\nwidth = 140\n'
    with pytest.raises(ProblemError) as refused:
        sheet_of(text + '[pad.closed]\nform = "roll"\nlength = "much"\n')
    (problem,) = refused.value.problems
    assert problem.keys[-2:] == ("closed", "length")


def test_tags_of_the_reader_stand_in_no_place():
    radii = "[pad.outline.corner_radius]\nfront_left = -1\n"
    corners = "[pad.bands.corners]\nfront_left = 3\n"
    for text in (radii, corners):
        with pytest.raises(ProblemError) as refused:
            sheet_of(PAD + text)
        assert not {"length", "table", "word"}.intersection(refused.value.problems[0].keys)
