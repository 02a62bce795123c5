"""A card's figures in closed form, its bounds at their places, and how the built-in leathers stand to each other."""

import math

import pytest

from flatten.leather.card import CARDS, STIFFNESS_ALONG, STIFFNESS_RATIO, USUAL, Card, band, card_named, checked_budget
from flatten.leather.card_file import _no_cards
from meshes.base.problems import ProblemError
from meshes.schema.words import SheetPlaces

SOURCE = dict.fromkeys(("thickness_mm", "pull", "stretch_along", "stretch_across"), "own test")


def card(**change):
    numbers = {"thickness_mm": 1.2, "pull": 0.01, "stretch_along": 0.05, "stretch_across": 0.08, "source": SOURCE}
    return Card("own", **{**numbers, **change})


def codes(**change):
    try:
        card(**change)
    except ProblemError as fault:
        return [problem.code for problem in fault.problems]
    return []


def test_figures_of_a_card_in_closed_form():
    for along, across in ((0.05, 0.08), (0.09, 0.04)):
        one = card(stretch_along=along, stretch_across=across, stiffness_along=6.0, stiffness_across=2.0)
        assert one.limits == pytest.approx((math.log(1.0 + along), math.log(1.0 + across)), rel=1e-14)
        assert one.budget == pytest.approx((1.0 + min(along, across)) / 1.01 - 1.0, rel=1e-12)
        assert one.widest_budget == pytest.approx((1.0 + max(along, across)) / 1.01 - 1.0, rel=1e-12)
        # Half-way from the pull to the most each way, times the stiffness of that way; the mean of both.
        ways = (6.0 * 0.5 * (0.01 + along), 2.0 * 0.5 * (0.01 + across))
        assert one.tension_n_per_mm == pytest.approx(0.5 * sum(ways), rel=1e-12)
        assert one.strain_at(0.2) == pytest.approx(0.2 / 4.0, rel=1e-12)
        assert one.strain_at(0.4) == pytest.approx(2.0 * one.strain_at(0.2), rel=1e-12)


def test_bounds_of_a_card_at_their_places():
    """0.1 to 10 mm thick, a hundredth to a thousand N/mm stiff, stretches below 1 and above the pull."""
    for name in ("stiffness_along", "stiffness_across"):
        assert codes(**{name: 0.01}) == codes(**{name: 1000.0}) == []
        assert codes(**{name: 0.0099}) == codes(**{name: 1000.1}) == ["L107"]
    assert codes(thickness_mm=0.1) == codes(thickness_mm=10.0) == []
    assert codes(thickness_mm=0.099) == codes(thickness_mm=10.01) == ["L104"]
    for name in ("stretch_along", "stretch_across"):
        assert codes(**{name: 0.999}) == []
        assert codes(**{name: 1.0}) == ["L102"]
        assert codes(**{name: 0.0101}) == []
        assert codes(**{name: 0.01}) == ["L103"]
    assert codes(pull=0.0) == []
    assert codes(pull=-0.001) == ["L102"]
    assert codes(pull=1.0) == ["L102", "L103", "L103"]


def test_the_stiffness_is_that_of_a_strip_of_five_centimetres_pulled_by_five_per_cent():
    assert pytest.approx(16.9 / (0.05 * 50.0), abs=0.05) == STIFFNESS_ALONG
    # Told of butts: stiffer along the backbone by 1.2 to 2.
    assert 1.2 < STIFFNESS_RATIO < 2.0
    for one in CARDS.values():
        assert one.stiffness_along / one.stiffness_across == pytest.approx(STIFFNESS_RATIO)


def test_built_in_leathers_give_more_across_and_stand_in_their_order():
    """Firm gives least and soft most; cloth hardly gives and asks for no pull; vinyl on a knit gives most across."""
    for one in CARDS.values():
        # A leather is softer across by no more than twice.
        assert one.stretch_along < one.stretch_across <= 1.55 * one.stretch_along
        assert 0.8 <= one.thickness_mm <= 1.6
        assert one.pull in (0.0, 0.01, 0.02)
        assert one.pull <= 0.34 * one.stretch_along
    order = ["cloth", "firm", "automotive", USUAL, "soft", "knit_backed_vinyl"]
    for figure in ("stretch_along", "stretch_across"):
        told = [getattr(CARDS[name], figure) for name in order]
        assert told == sorted(told)
        assert told[-1] <= 0.12
    assert (CARDS["cloth"].pull, CARDS["knit_backed_vinyl"].pull) == (0.0, 0.02)
    assert {one.pull for name, one in CARDS.items() if name not in ("cloth", "knit_backed_vinyl")} == {0.01}
    thick = [CARDS[name].thickness_mm for name in ("cloth", "soft", "knit_backed_vinyl", USUAL, "firm")]
    assert thick == sorted(thick)
    # Suppliers say 1.1 to 1.3 mm of leather for cars.
    assert 1.1 <= CARDS["automotive"].thickness_mm <= 1.3
    assert CARDS["automotive"].source["thickness_mm"] != CARDS[USUAL].source["thickness_mm"]


def test_advice_for_a_stretch_at_its_bounds():
    assert [band(x) for x in (0.03, 0.0301, 0.06, 0.0601, 0.1, 0.1001, 9.0)] == [
        "normal", "watch the grain", "watch the grain", "seam or dart", "seam or dart", "refuse unless overridden",
        "refuse unless overridden",
    ]  # fmt: skip


def test_a_budget_by_hand_is_a_share_below_one():
    assert checked_budget(0) == 0.0
    assert checked_budget(0.999) == 0.999
    with pytest.raises(ProblemError, match="found 100 %"):
        checked_budget(1.0)


def test_a_name_that_is_none_is_told_with_what_there_is():
    with pytest.raises(ProblemError, match=r"FILE\.toml:NAME"):
        card_named("")
    assert card_named("soft") is CARDS["soft"]


def test_every_missing_source_is_named():
    with pytest.raises(ProblemError, match=r"no source for pull, stretch_across"):
        card(source={"thickness_mm": "a", "stretch_along": "b", "pull": ""})


def test_a_fault_of_tables_without_lines_stands_at_the_first():
    """Tables that come from no text have no lines."""
    (found,) = _no_cards({"colour": 3}, SheetPlaces("cards.toml", {}))
    assert (found.code, found.line) == ("L109", 1)
