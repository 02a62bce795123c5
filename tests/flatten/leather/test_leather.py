"""Leather cards: budget, faults with their codes, and a source for every number."""

import pickle

import pytest

from flatten.leather.card import CARDS, Card, band, card_named, checked_budget
from meshes.base.problems import ProblemError

SOURCE = dict.fromkeys(("thickness_mm", "pull", "stretch_along", "stretch_across"), "own test")


def card(**change):
    numbers = {"thickness_mm": 1.2, "pull": 0.01, "stretch_along": 0.05, "stretch_across": 0.08, "source": SOURCE}
    return Card("own", **{**numbers, **change})


def codes(caught):
    return [problem.code for problem in caught.value.problems]


def test_budget_runs_from_the_pull_to_the_stiffer_directions_most():
    assert card().budget == pytest.approx(1.05 / 1.01 - 1, rel=1e-14)
    assert card(stretch_along=0.09).budget == pytest.approx(1.08 / 1.01 - 1, rel=1e-14)
    assert card(pull=0.0).budget == pytest.approx(0.05)


@pytest.mark.parametrize("name", CARDS)
def test_every_number_of_a_built_in_card_has_a_source_with_a_code(name):
    known = CARDS[name]
    numbers = {"thickness_mm", "pull", "stretch_along", "stretch_across", "stiffness_along", "stiffness_across"}
    assert set(known.source) == numbers
    assert all(text[0] in "ABCMP" and text[1:3] == ": " for text in known.source.values())
    assert 0 < known.budget < 0.10


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"stretch_along": 0.01}, "L103"),
        ({"stretch_across": 0.005}, "L103"),
        ({"pull": -0.01}, "L102"),
        ({"stretch_along": 6.0}, "L102"),
        ({"stretch_across": float("nan")}, "L102"),
        ({"thickness_mm": 0.0}, "L104"),
        ({"thickness_mm": 1200.0}, "L104"),
        ({"source": {}}, "L105"),
        ({"stiffness_along": -6.8}, "L107"),
        ({"stiffness_across": 0.0}, "L107"),
        ({"stiffness_across": float("nan")}, "L107"),
    ],
)
def test_faulty_cards(change, code):
    with pytest.raises(ProblemError) as caught:
        card(**change)
    assert codes(caught) == [code]


def test_all_faults_of_a_card_at_once():
    with pytest.raises(ProblemError) as caught:
        card(pull=0.2, thickness_mm=-1)
    assert codes(caught) == ["L103", "L103", "L104"]


def test_an_unknown_name_gets_the_nearest():
    with pytest.raises(ProblemError, match=r'L101.*did you mean "furniture"'):
        card_named("furnitur")
    with pytest.raises(ProblemError, match=r'L101.*did you mean "knit_backed_vinyl"'):
        card_named("Knit-backed vinyl")
    with pytest.raises(ProblemError, match=r"L101.*furniture.*or cloth"):
        card_named("zzz")


def test_bands():
    # Proposed; common practice, no source.
    assert [band(x) for x in (0.0, 0.03, 0.031, 0.06, 0.10, 0.11)] == [
        "normal",
        "normal",
        "watch the grain",
        "watch the grain",
        "seam or dart",
        "refuse unless overridden",
    ]


@pytest.mark.parametrize("budget", [-0.01, 1.0, 5.0, float("nan")])
def test_budgets_by_hand(budget):
    with pytest.raises(ProblemError, match="L106"):
        checked_budget(budget)


def test_cards_travel_to_other_processes():
    known = pickle.loads(pickle.dumps(CARDS["furniture"]))
    assert known.budget == CARDS["furniture"].budget
    with pytest.raises(TypeError):
        known.source["pull"] = "x"
