"""Strips and blocks: readings made from a known card come back within the scatter that is told, and what cannot be true
is refused."""

import numpy as np
import pytest

from meshes.base.problems import ProblemError
from meshes.fitting.foam_block import block_curve
from meshes.fitting.strips import GRAVITY_N_PER_KG, StripReading, StripTest, way_found
from meshes.records.compression import curve
from meshes.records.materials import BUILT_IN
from meshes.schema.tables import BlockInput
from tests.pads import FLAT, sheet_of

WEIGHTS = (0.5, 1.0, 2.0, 4.0, 8.0)
STAYS = 0.4


def strip(stiffness, most, seed, *, noise=0.03, weights=WEIGHTS):
    """A strip of a card as it would be read: every stretch, and what stays beyond the most, off by a share."""
    dice = np.random.default_rng(seed)
    readings = []
    for kg in weights:
        stretch = kg * GRAVITY_N_PER_KG / 50.0 / stiffness
        stays = STAYS * max(0.0, stretch - most)
        off = 1.0 + noise * dice.standard_normal(2)
        readings.append(StripReading(kg, 200.0 * (1.0 + stretch * off[0]), 200.0 * (1.0 + stays * off[1])))
    return StripTest("along", 50.0, 200.0, tuple(readings))


@pytest.mark.parametrize(("stiffness", "most"), [(6.8, 0.06), (4.5, 0.08), (9.0, 0.04)])
@pytest.mark.parametrize("strips", [1, 2])
def test_a_known_card_comes_back_within_the_scatter_told(stiffness, most, strips):
    seeds, inside = range(100), {"stiffness": 0, "most": 0}
    for seed in seeds:
        found = way_found([strip(stiffness, most, 1000 * k + seed) for k in range(strips)])
        inside["stiffness"] += abs(found.stiffness.value - stiffness) <= found.stiffness.within
        inside["most"] += abs(found.most.value - most) <= found.most.within
        assert not found.at_least
        # a scatter that says nothing would hold everything
        assert found.stiffness.within < 0.1 * stiffness
        assert found.most.within < 0.05
    assert inside["stiffness"] >= 93
    assert inside["most"] >= 93


def test_without_noise_the_card_comes_back_exactly():
    found = way_found([strip(6.8, 0.06, 0, noise=0.0)])
    assert found.stiffness.value == pytest.approx(6.8, rel=1e-9)
    assert found.most.value == pytest.approx(0.06, abs=1e-9)
    assert (found.strips, found.past_yield, found.at_least) == (1, 0, False)


def test_two_strips_tell_more_closely_than_one():
    one = way_found([strip(6.8, 0.06, 1)])
    two = way_found([strip(6.8, 0.06, 1), strip(6.8, 0.06, 2)])
    assert two.stiffness.within < one.stiffness.within
    assert two.most.within < one.most.within


def test_leather_that_always_came_back_is_told_as_at_least():
    found = way_found([strip(6.8, 0.5, 3)])
    assert found.at_least
    assert found.most.value == pytest.approx(8.0 * GRAVITY_N_PER_KG / 50.0 / 6.8, rel=0.1)


def test_what_stays_in_too_few_readings_is_told_and_not_called_come_back():
    text = rows([[0.5, 202.5, 200], [1, 205, 200], [2, 210, 200], [4, 220, 202.5]])
    read = sheet(text)
    found = way_found(read.strips)
    assert (found.at_least, found.stays) == (True, pytest.approx(0.0125))
    assert found.most.value == pytest.approx(0.05)
    (told,) = [one for one in read.warnings if one.code == "S077"]
    assert "1.2 % stayed after 4 kg, in too few readings" in told.text
    assert "5.0 % is taken as the most" in told.text
    assert not [one for one in sheet(rows(GOOD)).warnings if one.code == "S077"]
    assert way_found([strip(6.8, 0.5, 3, noise=0.0)]).stays == 0.0


def test_readings_past_the_yield_count_for_no_stiffness():
    fine = strip(6.8, 0.06, 0, noise=0.0)
    pulled = StripReading(8.0, 200.0 * 1.45, 200.0 * 1.2)
    torn = StripTest("along", 50.0, 200.0, (*fine.readings[:4], pulled))
    assert torn.before_yield == 4
    found = way_found([torn])
    assert found.stiffness.value == pytest.approx(6.8, rel=1e-9)
    assert found.past_yield == 1
    # a leather that is softer throughout, or stiffens, has not yielded
    assert fine.before_yield == 5
    stiffer = StripReading(8.0, 200.0 * 1.16, 200.0 * 1.05)
    assert StripTest("along", 50.0, 200.0, (*fine.readings[:4], stiffer)).before_yield == 5


GOOD = [[0.5, 202.9, 200], [1, 205.7, 200], [2, 211.6, 200], [4, 223, 204.2], [8, 246, 214]]


def sheet(text):
    return sheet_of(FLAT.strip().replace('name = "test"', 'name = "test"\n' + text, 1))


def rows(readings, **more):
    keys = "".join(f"{key} = {value}\n" for key, value in more.items())
    return f'[[strip]]\nway = "along"\n{keys}readings = {readings}\n'


def test_strips_are_read_from_a_sheet():
    (found,) = sheet(rows(GOOD)).strips
    assert (found.width_mm, found.marks_mm, found.way) == (50.0, 200.0, "along")
    assert found.stretch == pytest.approx([0.0145, 0.0285, 0.058, 0.115, 0.23])
    assert found.pull[-1] == pytest.approx(8 * 9.80665 / 50)
    (other,) = sheet(rows(GOOD, width='"2 in"')).strips
    assert other.width_mm == pytest.approx(50.8)


@pytest.mark.parametrize(
    ("change", "code", "text"),
    [
        ({1: [0.5, 205.7, 200]}, "S070", "out of order"),
        ({2: [0.8, 211.6, 200]}, "S070", "0.8 kg after 1 kg"),
        ({2: [2, 204.0, 200]}, "S071", "204 mm with 2 kg after 205.7 mm"),
        ({4: [8, 246, 203.0]}, "S071", "203 mm after 8 kg, and 204.2 mm before"),
        ({3: [4, 223, 224.0]}, "S071", "longer without"),
        ({0: [0.5, 190.0, 190.0]}, "S071", "moved back"),
        ({k: [kg, 200.1, 200] for k, kg in enumerate(WEIGHTS)}, "S073", "no more than a rule reads"),
        ({0: [0.5, 202.9]}, "S019", "kg, between the marks"),
        ({0: [90, 202.9, 200]}, "S016", "0.01 to 50 kg"),
    ],
)
def test_what_cannot_be_true_of_a_strip_is_told(change, code, text):
    readings = [change.get(k, row) for k, row in enumerate(GOOD)]
    with pytest.raises(ProblemError) as found:
        sheet(rows(readings))
    (problem,) = found.value.problems
    assert problem.code == code
    assert text in problem.text
    assert problem.where.startswith("strip 1, readings")


def test_a_strip_pulled_past_its_yield_is_told_and_used_as_far_as_it_goes():
    made = sheet(rows([*GOOD[:4], [8, 290, 240]]))
    (problem,) = (one for one in made.warnings if one.code == "S072")
    assert "past its yield at 8 kg" in problem.text
    assert made.strips[0].before_yield == 4


def block(material, seed, *, repeats=3, noise=0.03, height=100.0, side=100.0):
    """A block of a foam as it would be read under weights."""
    dice = np.random.default_rng(seed)
    known = curve(BUILT_IN[material].table)
    readings = []
    for kg in (1.0, 2.0, 4.0, 6.0, 8.0):
        strain = float(known.at(np.array([1000.0 * kg * GRAVITY_N_PER_KG / side**2])).strain[0])
        for off in 1.0 + noise * dice.standard_normal(repeats):
            readings.append((kg, height * (1.0 - strain * off)))
    return BlockInput.model_construct(side=side, height=height, readings=readings), known


@pytest.mark.parametrize("repeats", [1, 3])
def test_a_known_foam_comes_back_within_the_scatter_told(repeats):
    inside = of = 0
    for seed in range(60):
        given, known = block("foam_medium", seed, repeats=repeats)
        for point in block_curve(given):
            true = float(known.at(np.array([point.kpa])).strain[0])
            inside += abs(point.strain - true) <= point.found.within
            of += 1
            assert point.found.within < 0.1
            assert point.readings == repeats
    assert inside >= 0.93 * of


def test_a_kilogram_on_the_block_is_nearly_a_kilopascal():
    given, _ = block("foam_medium", 0, repeats=1, noise=0.0)
    assert block_curve(given)[0].kpa == pytest.approx(0.981, abs=5e-4)


FOAM = "[material.mine]\ndensity = 35\nblock = { height = 100, readings = %s }\n"


def test_a_block_in_the_sheet_is_the_curve_of_its_foam():
    made = sheet(FOAM % "[[1, 90], [2, 82], [4, 54], [4, 56], [8, 30]]").materials["mine"]
    wanted = [(0.1, 0.98066), (0.18, 1.96133), (0.45, 3.92266), (0.7, 7.84532)]
    assert np.array(made.compression) == pytest.approx(np.array(wanted), abs=1e-4)
    assert made.source.startswith("measured: a block of 100 x 100 x 100 mm")
    assert made.foam


@pytest.mark.parametrize(
    ("readings", "more", "code", "text"),
    [
        ("[[1, 90], [2, 92], [4, 55]]", "", "S075", "no lower under 2 kg"),
        ("[[1, 101], [2, 92], [4, 55]]", "", "S074", "higher under 1 kg"),
        ("[[1, 100], [2, 92], [4, 55]]", "", "S075", "gives nothing"),
        ("[[1, 90], [1, 92], [2, 55]]", "", "S076", "2 weights"),
        ("[[1, 90], [2, 82], [4, 55]]", "compression_kpa = [1, 2, 3]\n", "S020", "keep the block"),
    ],
)
def test_what_cannot_be_true_of_a_block_is_told(readings, more, code, text):
    with pytest.raises(ProblemError) as found:
        sheet(FOAM % readings + more)
    assert [problem.code for problem in found.value.problems] == [code]
    assert text in found.value.problems[0].text


def test_a_block_is_as_high_as_the_worksheet_asks():
    with pytest.raises(ProblemError, match=r"S017 .*height: too small, found 30"):
        sheet(FOAM.replace("height = 100", "height = 30") % "[[1, 29], [2, 25], [4, 20]]")
