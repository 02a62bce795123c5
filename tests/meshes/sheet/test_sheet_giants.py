"""Numbers beyond all measure in any place of a sheet: either it is read, or numbered problems name the place."""

import re

import pytest

from meshes.base.problems import ProblemError
from meshes.sheet.read import read_sheet
from tests.sheets import GOOD

NUMBER = re.compile(r"(?<![\w.\"-])-?\d+(\.\d+)?(?![\w.])")
SPRINGS = """\
name = "t"
[[pad]]
name = "a"
kind = "cushion"
outline = { front_width = 400, rear_width = 400, depth = 300 }
support = { kind = "springs", coil_rate = 2.5, pitch = 80, free_height = 150, held_height = 130 }
wanted_radius = 30
finished_height = 100
[[pad.layer]]
material = "wadding"
thickness = 8
where = "front"
within = 60
taper = 20
below = 10
[cover]
tension = 200
grain_window = 10
[[ease]]
seam = "a face / front band"
longer = "a face"
by = 0.01
[[relief]]
panel = "a face"
apply = 1
"""
GIANTS = [
    *("1" + "0" * 400, "-1" + "0" * 400, "0x" + "f" * 4000, "1e308", "-1e308", "1e-200", "-1e-200", "5e-324"),
    *("nan", "inf", "-inf", "9" * 4299, "-0.0", "0b" + "1" * 9000),
]


@pytest.mark.parametrize("giant", GIANTS, ids=lambda text: text[:8] + str(len(text)))
@pytest.mark.parametrize("text", [GOOD, SPRINGS], ids=["good", "springs"])
def test_no_number_in_any_place_is_a_fault_of_the_program(text, giant, tmp_path):
    path = tmp_path / "sheet.toml"
    for place in NUMBER.finditer(text):
        path.write_text(text[: place.start()] + giant + text[place.end() :])
        found = problems_in(path)
        assert all(re.match(r"[SG]\d{3}$", problem.code) for problem in found)
        if giant not in ("1e-200", "-1e-200", "5e-324", "-0.0"):
            line = text.count("\n", 0, place.start()) + 1
            assert any(problem.line == line for problem in found), place


def problems_in(path):
    try:
        return read_sheet(path).warnings
    except ProblemError as fault:
        return fault.problems


@pytest.mark.parametrize("tiny", ["1e-200", "0.001", '"1e-9"', "0"])
@pytest.mark.parametrize(
    "key", ["pitch = 80", "free_height = 150", "held_height = 130", "thickness = 8", "within = 60"]
)
def test_a_length_that_has_to_be_there_is_one_that_can_be_marked(key, tiny, tmp_path):
    path = tmp_path / "sheet.toml"
    assert key in SPRINGS
    path.write_text(SPRINGS.replace(key, f"{key.split(' = ')[0]} = {tiny}"))
    with pytest.raises(ProblemError) as fault:
        read_sheet(path)
    assert any(p.code in ("S014", "S016", "S017") for p in fault.value.problems)


@pytest.mark.parametrize(("rate", "pitch", "sound"), [(2.5, 80, True), (1000, 0.5, False), (0.01, 500, False)])
def test_springs_by_their_coils_are_held_to_the_same_limits_as_by_their_rate(rate, pitch, sound, tmp_path):
    path = tmp_path / "sheet.toml"
    path.write_text(SPRINGS.replace("coil_rate = 2.5, pitch = 80", f"coil_rate = {rate}, pitch = {pitch}"))
    # What a coil carries is spread over the square it stands in.
    assert sound == (0.001 <= 1000.0 * rate / pitch**2 <= 1000.0)
    if sound:
        read_sheet(path)
        return
    with pytest.raises(ProblemError, match=r"S016.*kPa per mm"):
        read_sheet(path)


@pytest.mark.parametrize("bad", ["\\u001b[2J", "\\u0000", "\\u009b", "\\u202e", "\\u007f", "\\u2028x\\u0007"])
@pytest.mark.parametrize("key", ['source = "', 'name = "', 'leather = "x.toml', 'seam = "', 'longer = "', 'panel = "'])
def test_no_text_of_a_sheet_holds_what_a_terminal_or_a_page_obeys(key, bad, tmp_path):
    text = f'{SPRINGS}[material.own]\ndensity = 30\ncompression_kpa = [3, 4, 9]\nsource = "own"\n'
    text = text.replace("[cover]", '[cover]\nleather = "x.toml"')
    assert key in text
    path = tmp_path / "sheet.toml"
    path.write_text(text.replace(key, key + bad, 1))
    with pytest.raises(ProblemError, match="S018"):
        read_sheet(path)


def test_text_over_several_lines_becomes_one_line(tmp_path):
    path = tmp_path / "sheet.toml"
    text = (
        f'{SPRINGS}[material.own]\ndensity = 30\ncompression_kpa = [3, 4, 9]\nsource = """\n own\tstrip,\n  1 kg"""\n'
    )
    path.write_text(text)
    assert read_sheet(path).materials["own"].source == "own strip, 1 kg"
