"""What straight lines may cost: never more than half a point, nothing where none comes straight of it, and what is told
of it is what was tried."""

from dataclasses import dataclass, field, replace

import numpy as np
import pytest

from flatten.demand.fairness import STRAIGHT_BOW_MM, Line, Lines, bow_in_300
from flatten.demand.straightening import (
    LOOK_FROM,
    NEAR_ENOUGH,
    PAID,
    WITHIN,
    Tried,
    hopeless,
    straightened,
    straightening_of,
)

LIMIT = STRAIGHT_BOW_MM


@dataclass
class Hide:
    """Lines of which each straightens by so many millimetres per unit of bound, when it is wanted."""

    bows: list[float]
    gives: list[float]
    part: np.ndarray
    least: np.ndarray
    tried: list[np.ndarray] = field(default_factory=list)

    @property
    def lines(self):
        none = np.zeros(0, dtype=bool)
        line = Line(np.zeros(0, dtype=np.int64), none, np.zeros(0), np.zeros((0, 3), dtype=np.int64))
        return Lines(tuple(replace(line) for _ in self.bows), 1.0)

    def attempt(self, raised, lines, **_):
        self.tried.append(raised)
        wanted = np.array([line.share >= 0.5 for line in lines.lines])
        bows = np.maximum(np.array(self.bows) - wanted * np.array(self.gives) * raised[self.part], 0.0)
        return Tried(np.zeros((0, 2)), self.least + raised, self.least + raised, bows)

    def bought(self, left, *, prices=True):
        plain = self.attempt(np.zeros(len(self.least)), self.lines)
        self.tried.clear()
        return straightened(plain, self.lines, self.part, np.array(left), self.attempt, prices=prices)


def hide(bows, gives, part=None, least=(0.05,)):
    return Hide(bows, gives, np.zeros(len(bows), dtype=np.int64) if part is None else np.array(part), np.array(least))


def test_straight_lines_cost_nothing():
    made = hide([0.2, 0.9], [0.0, 0.0])
    found = made.bought([0.03])
    assert not made.tried
    assert found.paid[0] == found.asks[0] == 0.0


def test_no_more_is_paid_than_is_needed():
    found = hide([1.5], [1.2 / PAID]).bought([0.03])
    assert found.kept.bows[0] <= LIMIT
    assert 0.0 < found.paid[0] < 0.6 * np.expm1(PAID) * 1.06


@pytest.mark.parametrize("spread", [0.0, 0.05, 0.08])
def test_half_a_point_is_the_most(spread):
    found = hide([2.5, 30.0], [2.0 / PAID, 1.0], least=(spread,)).bought([0.2])
    assert found.kept.bows[0] <= LIMIT < found.kept.bows[1]
    assert 0.0 < found.paid[0] <= 0.005


def test_a_hopeless_line_costs_nothing():
    found = hide([8.0], [1.0 / PAID]).bought([0.03])
    assert found.paid[0] == 0.0
    assert found.kept.bows[0] == 8.0


def test_what_is_paid_serves_the_lines_that_come_straight():
    made = hide([8.0, 1.8, 1.4], [0.0, 1.0 / PAID, 1.0 / PAID])
    found = made.bought([0.03])
    assert (found.kept.bows[1:] <= LIMIT).all()
    # The leather never gives the first one.
    assert np.isinf(found.asks[0])


def test_the_price_of_the_rest_was_tried():
    made = hide([4.0], [3.5 / 0.02])
    found = made.bought([0.05])
    assert found.paid[0] == 0.0
    assert 0.0 < found.asks[0] < np.inf
    straight = [r[0] for r in made.tried if 4.0 - made.gives[0] * r[0] <= LIMIT]
    assert found.asks[0] == pytest.approx(np.exp(0.05) * np.expm1(min(straight)))


def test_nothing_is_tried_beyond_what_the_leather_gives():
    made = hide([4.0], [3.5 / 0.02])
    assert np.isinf(made.bought([0.012]).asks[0])
    assert max(r.max() for r in made.tried) <= 0.012 + 1e-12
    used_up = hide([4.0], [3.5 / 0.02]).bought([0.0])
    assert used_up.paid[0] == 0.0
    assert np.isinf(used_up.asks[0])


def test_every_piece_pays_for_itself():
    found = hide([1.5, 8.0, 0.5], [1.0 / PAID, 0.0, 0.0], [0, 1, 2], (0.03, 0.04, 0.05)).bought([0.03, 0.03, 0.03])
    assert found.kept.bows[0] <= LIMIT
    assert found.paid[0] > 0.0
    assert found.paid[1] == found.paid[2] == 0.0
    assert found.asks[0] == found.asks[2] == 0.0
    assert np.isinf(found.asks[1])
    assert straightening_of(found, 1).asks is None


def test_the_bow_of_an_arc_is_that_over_300_mm():
    angles = np.linspace(0.0, 0.6, 400)
    arc = 1500.0 * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    # Sagitta of a chord: c^2 / 8 r, to second order.
    assert bow_in_300(arc) == pytest.approx(300.0**2 / (8.0 * 1500.0), rel=3e-3)
    short = arc[:100]
    long = 1500.0 * angles[99]
    assert bow_in_300(short) == pytest.approx(long**2 / (8.0 * 1500.0), rel=3e-3)
    assert bow_in_300(arc @ np.array([[0.6, 0.8], [-0.8, 0.6]]) + 70.0) == pytest.approx(bow_in_300(arc))
    assert bow_in_300(np.stack([np.linspace(0.0, 700.0, 30), np.zeros(30)], axis=1)) == 0.0


@pytest.mark.parametrize("needed", [0.005, 0.013, 0.021, 0.034, 0.06, 0.095])
def test_what_the_rest_would_ask_is_found_between_what_bows_and_what_is_straight(needed):
    """Not all that the leather gives, where less does: within what tries are brought near to."""
    bow = 6.0
    made = hide([bow], [(bow - 0.99 * LIMIT) / needed])
    (asks,) = made.bought([0.1]).asks
    least = np.exp(0.05) * np.expm1(needed)
    assert least <= asks * (1.0 + 1e-9)
    assert asks <= 1.05 * np.expm1(1.35 * needed + NEAR_ENOUGH) * np.exp(0.05)


def test_a_bow_that_falls_slower_than_a_straight_line_is_followed_to_all_that_the_leather_gives():
    made = hide([6.0], [0.0])

    def attempt(raised, lines, **_):
        made.tried.append(raised)
        bows = np.array([6.0 * np.exp(-raised[0] / 0.03)])
        return Tried(np.zeros((0, 2)), made.least + raised, made.least + raised, bows)

    for left, reached in ((0.1, True), (0.04, False)):
        made.tried.clear()
        plain = attempt(np.zeros(1), made.lines)
        found = straightened(plain, made.lines, made.part, np.array([left]), attempt, prices=True)
        assert np.isfinite(found.asks[0]) == reached
        assert max(raised[0] for raised in made.tried) <= left + 1e-12
        if not reached:
            # Nothing is called out of reach that was not tried with all there is.
            assert max(raised[0] for raised in made.tried) == pytest.approx(left)


def test_where_all_lines_would_be_given_up_what_may_be_paid_serves_the_one_that_bows_least():
    made = hide([3.2, 4.6], [0.0, 0.0])

    def attempt(raised, lines, **_):
        wanted = np.array([line.share >= 0.5 for line in lines.lines])
        shared = raised[0] / PAID / max(int(wanted.sum()), 1)
        bows = np.array([3.2, 4.6]) - wanted * 2.3 * shared
        return Tried(np.zeros((0, 2)), made.least + raised, made.least + raised, bows)

    plain = attempt(np.zeros(1), made.lines)
    found = straightened(plain, made.lines, made.part, np.array([PAID]), attempt, prices=False)
    assert found.kept.bows[0] <= LIMIT < found.kept.bows[1]
    assert 0.0 < found.paid[0] <= 0.005


def test_half_a_point_is_the_most_where_a_walk_ends_beyond_its_bounds_too():
    made = hide([1.8, 3.0], [1.0 / PAID, 0.0], least=(0.07,))

    def attempt(raised, lines, **_):
        tried = made.attempt(raised, lines)
        return replace(tried, spreads=tried.spreads + 0.25 * raised)

    plain = attempt(np.zeros(1), made.lines)
    found = straightened(plain, made.lines, made.part, np.array([0.03]), attempt, prices=False)
    assert 0.0 < found.paid[0] <= 0.005


@pytest.mark.parametrize(("rate", "left", "expected"), [(0.1, 12, False), (0.1, 8, True), (0.0, 1000, True)])
def test_a_try_has_hope_while_its_rate_brings_a_line_straight_in_the_steps_left(rate, left, expected):
    """A line that bows 2 mm after the last step and by so much less with every step."""
    bows = [np.array([2.0 + rate * k, 9.0, 0.0]) for k in range(LOOK_FROM - 1, -1, -1)]
    wanted = np.array([True, False, True])
    assert hopeless(bows, wanted, left) == expected
    assert not hopeless(bows[1:], wanted, left), "too few steps to tell"
    straight = [np.minimum(one, [0.5 * WITHIN, 9.0, 0.0]) for one in bows]
    assert not hopeless(straight, wanted, left), "what has come straight is no reason to stop"
    assert not hopeless(
        [np.append(one, 1.01 * WITHIN + (LOOK_FROM - k)) for k, one in enumerate(bows)], np.append(wanted, True), left
    ), "one line that comes straight is hope enough"


def test_a_map_that_is_kept_was_walked_to_its_end():
    """Tries are broken off when nothing more comes of them, and what is kept is gone on with."""
    made, asked = hide([3.0, 3.0], [2.5 / PAID, 0.0]), []

    def attempt(raised, lines, *, whole=False):
        asked.append(whole)
        return replace(made.attempt(raised, lines), whole=whole)

    plain = made.attempt(np.zeros(1), made.lines)
    found = straightened(plain, made.lines, made.part, np.array([PAID]), attempt, prices=True)
    assert found.kept.whole
    assert found.kept.bows[0] <= LIMIT < found.kept.bows[1]
    assert asked.count(True) == 1


@pytest.mark.parametrize(("price", "adopted"), [(0.0, True), (0.3, True), (0.8, False)])
def test_what_turns_out_straight_for_what_may_be_paid_is_taken(price, adopted):
    """A map may use little of what its bounds are raised by: straight lines that were tried and found cheap are cut so,
    and never told as asking for nothing."""
    made = hide([4.0, 0.2], [0.0, 0.0], part=[0, 1], least=(0.05, 0.05))
    needed = 3.0 * PAID

    def attempt(raised, lines, **_):
        bows = np.array([max(4.0 - 3.2 * raised[0] / needed, 0.0), 0.2])
        return Tried(np.zeros((0, 2)), made.least + raised, made.least + price * np.minimum(raised, needed), bows)

    plain = attempt(np.zeros(2), made.lines)
    found = straightened(plain, made.lines, made.part, np.array([0.05, 0.05]), attempt, prices=True)
    assert (found.kept.bows[0] <= LIMIT) == adopted
    assert (found.asks[0] == 0.0) == adopted
    assert found.asks[1] == found.paid[1] == 0.0
    assert found.paid[0] <= 0.005
    if not adopted:
        assert 0.005 < found.asks[0] < np.inf
