"""What a piece pulls with: strips side by side, growth with the stretch, and the room its leather leaves."""

import numpy as np
import pytest

from flatten.leather.budget_use import use_of
from flatten.leather.card import card_named
from flatten.leather.stretch import Stretch
from flatten.leather.tension import common_factor, pull_of


def field(values, turn=0.0, areas=None):
    values = np.asarray(values, dtype=float)
    along = np.tile([np.cos(turn), np.sin(turn)], (len(values), 1))
    return Stretch(values, along, np.zeros((len(values), 3)), np.ones(len(values)) if areas is None else areas)


@pytest.fixture
def card():
    return card_named("furniture")


def test_an_even_stretch_pulls_as_its_strips_do(card):
    # A strip of stiffness k pulls with k e; half of both directions, whichever way the piece is turned.
    for turn in (0.0, 0.7, 2.0):
        backbone = np.array([np.sin(turn), np.cos(turn)])
        pull = pull_of(field(np.full((5, 2), 1.03), turn), backbone, card)
        assert pull.tension_n_per_mm == pytest.approx(0.5 * (card.stiffness_along + card.stiffness_across) * 0.03)
        assert (pull.least, pull.mean) == pytest.approx((0.03, 0.03))


def test_along_and_across_count_by_their_own_stiffness(card):
    assert card.stiffness_along != card.stiffness_across
    backbone = np.array([0.0, 1.0])
    # 5 % across the backbone (x), 2 % along it (y)
    pull = pull_of(field([[1.05, 1.02]]), backbone, card)
    assert pull.tension_n_per_mm == pytest.approx(0.5 * (card.stiffness_across * 0.05 + card.stiffness_along * 0.02))
    turned = pull_of(field([[1.05, 1.02]], turn=0.5 * np.pi), backbone, card)
    assert turned.tension_n_per_mm == pytest.approx(0.5 * (card.stiffness_along * 0.05 + card.stiffness_across * 0.02))


def test_growth_and_room_are_those_of_the_grown_field(card):
    rng = np.random.default_rng(3)
    values = np.sort(1.01 + 0.04 * rng.random((40, 2)), axis=1)[:, ::-1]
    some = Stretch(
        values, np.stack([np.cos(a := rng.uniform(0, 7, 40)), np.sin(a)], axis=1), np.zeros((40, 3)), rng.random(40)
    )
    backbone = np.array([0.6, 0.8])
    pull = pull_of(some, backbone, card)
    for factor in (1.01, pull.room):
        grown = Stretch(values * factor, some.along, some.along_seat, some.areas_seat)
        assert pull_of(grown, backbone, card).tension_n_per_mm == pytest.approx(pull.grown(factor))
    # grown by the whole room, one place uses exactly all its leather gives
    assert use_of(values * pull.room, some.along, backbone, card.limits).values.max() == pytest.approx(1.0, abs=1e-9)


def test_the_common_factor_comes_to_the_wish_as_far_as_the_leather_lets_it(card):
    backbone = np.array([0.0, 1.0])
    slack = pull_of(field(np.full((4, 2), 1.01)), backbone, card)
    tight = pull_of(field([[1.06, 1.01], [1.02, 1.01]]), backbone, card)
    wish = slack.grown(1.02)
    assert common_factor([slack], wish) == pytest.approx(1.02)
    # sewn to a piece with less room, it comes as far as that one lets it
    assert common_factor([slack, tight], 10.0) == pytest.approx(tight.room)
    # and no place is ever let go below its pull
    assert common_factor([slack], 0.5 * slack.tension_n_per_mm) == 1.0
