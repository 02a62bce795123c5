"""What strips and blocks come to where it is known in closed form: means, least squares, how errors go on; and what is
only just told of a reading, and what not."""

import numpy as np
import pytest
from scipy.stats import t as student

from meshes.base.problems import ProblemError
from meshes.fitting.foam_block import BlockPoint, block_curve, block_source
from meshes.fitting.strips import Measured, StripReading, StripTest, way_found
from meshes.schema.tables import BlockInput
from tests.pads import FLAT, sheet_of

# N for a kg of weight.
GRAVITY = 9.80665
# Marks so far apart that a rule reads nothing wrong, and so near each other that nothing else counts.
FAR_MM, NEAR_MM = 1e9, 1e-3


def strip(stretches, stays=None, *, weights=(1.0, 2.0, 4.0), width=50.0, marks=FAR_MM, way="along"):
    stays = np.zeros(len(stretches)) if stays is None else stays
    rows = zip(weights, marks * (1.0 + np.array(stretches)), marks * (1.0 + np.array(stays)), strict=True)
    return StripTest(way, width, marks, tuple(StripReading(*map(float, row)) for row in rows))


def pulls(weights, width=50.0):
    return np.array(weights) * GRAVITY / width


@pytest.mark.parametrize("spread", [0.004, 0.2])
def test_where_a_rule_reads_everything_the_stiffness_is_that_of_the_mean_of_what_gives(spread):
    """Every reading is off by a share of itself: the mean of stretch for pull, with the standard error of a mean, and
    never with less than 3 % of one reading."""
    weights = np.array([1.0, 2.0, 3.0, 5.0])
    off = 1.0 + spread * np.array([0.5, -0.2, -0.4, 0.1])
    gives = 0.15 * off
    found = way_found([strip(gives * pulls(weights), weights=weights)]).stiffness
    mean = gives.mean()
    share = max(gives.std(ddof=1) / mean, 0.03) / np.sqrt(4.0)
    assert found.value == pytest.approx(1.0 / mean, rel=1e-6)
    assert found.error == pytest.approx(share / mean, rel=1e-6)
    assert found.spare == 3


def test_where_a_rule_reads_nothing_well_it_is_plain_least_squares_through_nothing():
    weights = np.array([1.0, 2.0, 4.0, 7.0])
    pull, read = pulls(weights), 0.25 / NEAR_MM
    # By what the rule is off, times a little less and a lot more than once.
    for times in (0.5, 4.0):
        off = np.array([1.0, -1.0, 1.0, 0.0])
        stretch = 0.15 * pull + times * read * (off - (off @ pull) / (pull @ pull) * pull)
        found = way_found([strip(stretch, weights=weights, marks=NEAR_MM)]).stiffness
        (gives,), (left,), _, _ = np.linalg.lstsq(pull[:, None], stretch, rcond=None)
        error = max(np.sqrt(left / 3.0), read) / np.sqrt((pull**2).sum())
        assert found.value == pytest.approx(1.0 / gives, rel=1e-4)
        assert found.error == pytest.approx(error / gives**2, rel=1e-4)


def test_a_strip_twice_as_wide_under_twice_the_weight_says_the_same():
    one = way_found([strip([0.03, 0.061, 0.118], [0.0, 0.001, 0.01], marks=200.0)])
    two = way_found([strip([0.03, 0.061, 0.118], [0.0, 0.001, 0.01], weights=(2, 4, 8), width=100.0, marks=200.0)])
    assert two == one
    # Leather that takes twice the weight for the same stretch is twice as stiff, and stays from the same stretch on.
    stiff = way_found([strip([0.03, 0.061, 0.118], [0.0, 0.001, 0.01], weights=(2, 4, 8), marks=200.0)])
    assert stiff.stiffness.value == pytest.approx(2.0 * one.stiffness.value, rel=1e-9)
    assert stiff.stiffness.error == pytest.approx(2.0 * one.stiffness.error, rel=1e-9)
    assert stiff.most == one.most


def test_from_two_readings_that_stayed_the_most_is_their_line_at_nothing_with_both_their_errors():
    """A line through two points, and what the errors of both come to at nothing: of a stretch its own, of what stays
    the same times the slope."""
    stretch, stays = np.array([0.02, 0.04, 0.08]), np.array([0.0, 0.004, 0.02])
    found = way_found([strip(stretch, stays)])
    slope = (0.08 - 0.04) / (0.02 - 0.004)
    assert found.most.value == pytest.approx(0.04 - slope * 0.004, rel=1e-6)
    shares = np.array([0.02, -0.004]) / (0.02 - 0.004)
    spread = (0.03 * stretch[1:]) ** 2 + (slope * 0.03 * stays[1:]) ** 2
    assert found.most.error == pytest.approx(np.sqrt((shares**2 * spread).sum()), rel=1e-6)
    assert not found.at_least
    assert found.stays == pytest.approx(0.02)


def test_errors_of_a_rule_alone_leave_a_plain_line_through_all_that_stayed():
    marks, weights = 1.0, np.array([1.0, 2.0, 3.0, 4.0])
    read = 0.25 / marks
    stays = read * np.array([3.0, 5.0, 6.0, 11.0])
    # Nothing in 3 % of a stretch counts beside what the rule is off, as the stretch is small beside it.
    stretch = 1e-4 * (1.0 + 2.5 * stays + np.array([0.2, -0.3, 0.1, 0.05]))
    found = way_found([strip(stretch, stays, weights=weights, marks=marks)])
    slope, start = np.polyfit(stays, stretch, 1)
    columns = np.column_stack([np.ones(4), stays])
    error = np.sqrt((1.0 + slope**2) * np.linalg.inv(columns.T @ columns)[0, 0]) * read
    assert found.most.value == pytest.approx(start, rel=1e-5)
    assert found.most.error == pytest.approx(error, rel=1e-5)


def test_a_steep_line_carries_the_rule_over_what_stays_into_the_most():
    """Marks 10 mm apart, stretches far larger than their rule: what stays is read 2.5 % wrong, five times over."""
    read = 0.025
    stays = np.array([0.06, 0.1, 0.2])
    stretch = 5.0 * stays + 0.1
    found = way_found([strip(stretch, stays, weights=stretch, marks=10.0)])
    assert found.most.value == pytest.approx(0.1, rel=1e-9)
    spread = (0.03 * stretch) ** 2 + (5.0 * 0.03 * stays) ** 2 + 26.0 * read**2
    # The normal equations of a weighted line, solved by hand.
    sums = [(stays**k / spread).sum() for k in range(3)]
    assert found.most.error == pytest.approx(np.sqrt(sums[2] / (sums[0] * sums[2] - sums[1] ** 2)), rel=1e-9)


def test_what_always_came_back_is_the_largest_stretch_that_did():
    found = way_found([strip([0.02, 0.04, 0.08], marks=100.0), strip([0.03, 0.05, 0.07], marks=200.0)])
    assert found.at_least
    assert found.most.value == pytest.approx(0.08)
    # The shorter marks are read worse: a quarter of a millimetre of 100.
    assert found.most.error == pytest.approx(0.0025)
    assert found.most.spare == found.stiffness.spare == 5
    assert (found.strips, found.past_yield, found.stays) == (2, 0, 0.0)
    # Where one reading stayed, the largest of the others counts; where all stayed alike, the first.
    assert way_found([strip([0.02, 0.04, 0.08], [0, 0, 0.01])]).most.value == pytest.approx(0.04)
    assert way_found([strip([0.02, 0.04, 0.08], [0.01, 0.01, 0.01])]).most.value == pytest.approx(0.02)


def test_a_line_is_drawn_through_what_stays_once_it_differs_by_a_quarter():
    for low, drawn in ((0.0076, False), (0.0074, True)):
        found = way_found([strip([0.02, 0.04, 0.08], [0.0, low, 0.01])])
        assert found.at_least is not drawn
    # With twice what a rule reads and less nothing is said to stay: 0.25 mm of 100 is 0.0025.
    for stays, told in ((0.0049, 0.0), (0.0051, 0.0051)):
        found = way_found([strip([0.02, 0.04, 0.08], [0, 0, stays], marks=100.0)])
        assert found.stays == pytest.approx(told, abs=1e-12)
    # Of two strips the one that stayed more is told.
    both = way_found([strip([0.02, 0.04, 0.08], [0, 0, 0.01]), strip([0.02, 0.04, 0.08], [0, 0, 0.03])])
    assert both.stays == pytest.approx(0.03)


def test_a_strip_has_yielded_where_it_gives_a_quarter_more_and_more_stays():
    for last, stays, before in ((0.0992, 0.02, 4), (0.1008, 0.02, 3), (0.1008, 0.0, 4)):
        assert strip([0.02, 0.04, 0.06, last], [0, 0, 0, stays], weights=(1, 2, 3, 4)).before_yield == before
    # It is held against the mean of all before, not against the last alone.
    uneven = strip([0.02, 0.04, 0.09, 0.14], [0, 0, 0, 0.02], weights=(1, 2, 3, 4))
    assert uneven.before_yield == 3
    assert strip([0.02, 0.04, 0.09, 0.114], [0, 0, 0, 0.02], weights=(1, 2, 3, 4)).before_yield == 4
    # Two readings tell no yield yet; the third may.
    assert strip([0.02, 0.08, 0.12], [0, 0.01, 0.01]).before_yield == 3
    assert strip([0.02, 0.04, 0.12], [0, 0.0, 0.01]).before_yield == 2
    found = way_found([strip([0.02, 0.04, 0.12], [0, 0.0, 0.01]), strip([0.02, 0.04, 0.12], [0, 0.0, 0.01])])
    assert found.past_yield == 2


def test_what_stays_by_less_than_a_rule_reads_is_no_yield():
    """0.25 mm of marks 100 mm apart is 0.0025."""
    for stays, before in ((0.0024, 2), (0.0026, 2)):
        given = strip([0.02, 0.04, 0.12], [0, 0.001, 0.001 + stays], marks=100.0)
        assert given.before_yield == (before if stays > 0.0025 else 3)


def test_student_is_that_of_the_readings_to_spare():
    for spare in range(1, 16):
        wanted = student.ppf(0.975, spare)
        assert Measured(5.0, 2.0, spare).within == pytest.approx(2.0 * wanted, rel=5e-4)
    assert Measured(5.0, 2.0, 0).within == Measured(5.0, 2.0, 1).within
    assert Measured(5.0, 2.0, 400).within == Measured(5.0, 2.0, 15).within


# --- what is told of a sheet's rows ----------------------------------------------------------------------------------


def sheet(*rows):
    text = "".join(f'[[strip]]\nway = "{way}"\nreadings = {readings}\n' for way, readings in rows)
    return sheet_of(FLAT.strip().replace('name = "test"', 'name = "test"\n' + text, 1))


FINE = [[1, 204, 200], [2, 208, 200], [4, 216, 200]]


@pytest.mark.parametrize(
    ("reading", "told"),
    [
        ([2, 203.6, 200], False),
        ([2, 203.4, 200], True),
        ([2, 208, 199.6], False),
        ([2, 208, 199.4], True),
        ([2, 204, 204.4], False),
        ([2, 204, 204.6], True),
    ],
)
def test_a_mark_moved_back_by_more_than_is_read_twice_is_told(reading, told):
    """A rule reads a quarter of a millimetre, so two readings differ by half of one."""
    rows = ("along", [FINE[0], reading, [4, 216, reading[2]]])
    if told:
        with pytest.raises(ProblemError) as found:
            sheet(rows)
        (problem,) = found.value.problems
        assert (problem.code, problem.keys) == ("S071", ("strip", 0, "readings", 1))
    else:
        assert len(sheet(rows).strips) == 1


def test_a_mark_is_held_against_the_farthest_it_was_at_before():
    with pytest.raises(ProblemError, match="204 mm before") as found:
        sheet(("along", [[1, 206, 204], [2, 208, 203.8], [4, 216, 203.3]]))
    assert found.value.problems[0].keys == ("strip", 0, "readings", 2)
    with pytest.raises(ProblemError, match="after 206 mm with less"):
        sheet(("along", [[1, 206, 200], [2, 205.8, 200], [4, 205.4, 200]]))


def test_what_stayed_in_one_reading_is_told_at_the_strip_and_the_reading_of_its_own_way():
    stayed = [[1, 204, 200], [2, 208, 200], [4, 216, 206]]
    more = [[1, 204, 200], [2, 208, 200], [4, 216, 203]]
    line = [[1, 204, 200], [2, 208, 202], [4, 216, 206]]
    found = sheet(("along", line), ("across", stayed), ("across", more))
    assert [one.code for one in found.warnings] == []
    found = sheet(("along", line), ("across", FINE), ("across", more))
    (told,) = [one for one in found.warnings if one.code == "S077"]
    assert told.keys == ("strip", 2, "readings", 2)
    assert "1.5 % stayed after 4 kg" in told.text
    assert "8.0 % is taken as the most" in told.text


def test_a_strip_that_gives_no_more_than_is_read_is_refused():
    """Twice a quarter of a millimetre: half a millimetre of 200."""
    for last, told in ((200.4, True), (200.6, False)):
        rows = ("along", [[1, 200.1, 200], [2, 200.2, 200], [4, last, 200]])
        if told:
            with pytest.raises(ProblemError, match="S073"):
                sheet(rows)
        else:
            assert sheet(rows).strips[0].before_yield == 3


def test_where_a_strip_yielded_is_told_with_its_stretch():
    found = sheet(("across", FINE), ("along", [[1, 204, 200], [2, 208, 200], [4, 224, 206]]))
    (told,) = [one for one in found.warnings if one.code == "S072"]
    assert told.keys == ("strip", 1, "readings", 2)
    assert "at 4 kg: it stretched by 12.0 %" in told.text


# --- blocks ----------------------------------------------------------------------------------------------------------


def block(readings, height=100.0, side=100.0):
    return BlockInput.model_construct(side=side, height=height, readings=readings)


def test_a_block_read_once_is_off_by_three_shares_and_by_its_rule():
    """3 % of the strain, and half a millimetre of the height, as two sides of a right angle."""
    one, two, three = block_curve(block([(2.0, 82.0), (1.0, 90.0), (4.0, 55.0)]))
    assert [point.kpa for point in (one, two, three)] == pytest.approx(
        [1000.0 * GRAVITY * kg / 1e4 for kg in (1, 2, 4)]
    )
    assert [point.strain for point in (one, two, three)] == pytest.approx([0.1, 0.18, 0.45])
    for point in (one, two, three):
        assert point.found.error == pytest.approx(np.hypot(0.03 * point.strain, 0.005), rel=1e-12)
        assert point.found.spare == 15
        assert point.readings == 1
    # The same weight on a face twice as wide is a quarter of the pressure.
    wide = block_curve(block([(2.0, 82.0), (1.0, 90.0), (4.0, 55.0)], side=200.0))
    assert [point.kpa for point in wide] == pytest.approx([0.25 * point.kpa for point in (one, two, three)])


def test_readings_with_one_weight_tell_how_they_scatter_by_their_share():
    """So high that the rule reads everything: shares of both weights together, each about its own mean."""
    high = 1e8
    strains = {1.0: np.array([0.09, 0.11]), 2.0: np.array([0.28, 0.3, 0.32]), 4.0: np.array([0.5])}
    rows = [(kg, high * (1.0 - one)) for kg, some in strains.items() for one in some]
    found = block_curve(block(rows, height=high))
    shares = np.concatenate([some / some.mean() - 1.0 for some in strains.values()])
    varies = np.sqrt((shares**2).sum() / 3.0)
    assert varies > 0.03
    for point, some in zip(found, strains.values(), strict=True):
        assert point.strain == pytest.approx(some.mean(), rel=1e-6)
        assert point.found.error == pytest.approx(varies * some.mean() / np.sqrt(len(some)), rel=1e-5)
        assert (point.found.spare, point.readings) == (3, len(some))
    # Readings that agree better than foam does are taken to be off by 3 % each.
    rows = [(1.0, 0.9 * high), (1.0, 0.9 * high), (2.0, 0.8 * high), (4.0, 0.6 * high)]
    point: BlockPoint = block_curve(block(rows, height=high))[0]
    assert point.found.error == pytest.approx(0.03 * 0.1 / np.sqrt(2.0), rel=1e-4)
    assert point.found.spare == 1


def test_the_source_of_a_block_says_within_what_share_of_its_height_it_is():
    text = block_source(block([(1.0, 90.0), (2.0, 82.0), (4.0, 55.0)], side=120.0))
    within = [2.131 * 100.0 * np.hypot(0.03 * strain, 0.005) for strain in (0.1, 0.18, 0.45)]
    assert "120 x 120 x 100 mm" in text
    assert ", ".join(f"{one:.1f}" for one in within) + " % of its height" in text


FOAM = "[material.mine]\ndensity = 35\nblock = { height = 100, readings = %s }\n"


@pytest.mark.parametrize(
    ("readings", "code", "place"),
    [
        ("[[1, 90], [2, 82], [4, 100.5]]", "S074", 2),
        ("[[1, 100], [2, 82], [4, 55]]", "S075", None),
        ("[[2, 82], [1, 90], [4, 82]]", "S075", 2),
        ("[[2, 90], [1, 90], [4, 82]]", "S075", 0),
    ],
)
def test_what_is_wrong_with_a_block_is_told_at_its_reading(readings, code, place):
    with pytest.raises(ProblemError) as found:
        sheet_of(FLAT.strip().replace('name = "test"', 'name = "test"\n' + FOAM % readings, 1))
    (problem,) = found.value.problems
    assert problem.code == code
    assert problem.keys[-1] == ("readings" if place is None else place)


def test_three_weights_are_a_curve():
    text = FOAM % "[[1, 90], [2, 82], [4, 55]]"
    made = sheet_of(FLAT.strip().replace('name = "test"', 'name = "test"\n' + text, 1)).materials["mine"]
    assert [strain for strain, _ in made.compression] == pytest.approx([0.1, 0.18, 0.45])
