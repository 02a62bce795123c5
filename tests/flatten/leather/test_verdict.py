"""Verdicts as laws: recomputed place by place from stretches alone, monotone in the budget, the same for a slack piece,
and never at odds with the demand and the budget that are told beside them."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flatten.bounds.floor import Floor
from flatten.leather.card import CARDS, Card
from flatten.leather.stretch import Stretch
from flatten.leather.verdict import EASE, EASE_AREA, EASE_REACH_MM, LaidPiece, Verdict, by_demand, judged, with_ease

SOFT = CARDS["soft"]
ORDER = [Verdict.PROVEN, Verdict.TIGHT, Verdict.EASE, Verdict.FITS]
TURNS = np.linspace(0.0, np.pi, 2001)


def strip(count=40, wide=20.0):
    """A row of triangles along x, 40 mm apart from its first corner to its last: points and triangles."""
    x = wide * np.arange(count + 2) / 2
    points = np.stack([x, np.where(np.arange(count + 2) % 2 == 0, 0.0, wide)], axis=1)
    t = np.stack([np.arange(count), np.arange(count) + 1, np.arange(count) + 2], axis=1)
    t[1::2] = t[1::2][:, [1, 0, 2]]
    return points, t


POINTS, TRIANGLES = strip()
END = (np.array([0, 1]),)
EVERYWHERE = (np.arange(0, len(POINTS), 2),)


def field_of(values, turns=None, areas=None):
    values = np.asarray(values, dtype=float)
    turns = np.zeros(len(values)) if turns is None else turns
    along = np.stack([np.cos(turns), np.sin(turns)], axis=1)
    areas = np.ones(len(values)) if areas is None else areas
    return Stretch(values, along, np.zeros((len(values), 3)), areas)


def floor(value, kind="disc"):
    return Floor(value, float(np.log1p(value)), kind, np.zeros(3), 10.0)


def laid(runs=EVERYWHERE, backbone=(0.0, 1.0)):
    return LaidPiece(POINTS, TRIANGLES, None if backbone is None else np.array(backbone), runs)


def stretched(beyond, card=SOFT, where=slice(0, 1)):
    """Places stretched across the backbone by so much more than the leather gives, the rest just smooth."""
    values = np.full((len(TRIANGLES), 2), 1.0 + card.pull)
    values[where, 0] = (1.0 + card.stretch_across) * (1.0 + beyond)
    return field_of(values)


random_fields = st.builds(
    lambda seed, most: _random(seed, most),
    st.integers(0, 10**6),
    st.floats(0.0, 0.16),
)


def _random(seed, most):
    rng = np.random.default_rng(seed)
    values = 1.01 + most * np.sort(rng.random((len(TRIANGLES), 2)) ** rng.uniform(1, 30), axis=1)[:, ::-1]
    values[rng.integers(len(values)), 1] = 1.01
    return field_of(values, rng.uniform(0, np.pi, len(values)), rng.uniform(0.5, 2.0, len(values)))


def recomputed(field, card, backbone, runs):
    """The verdict without its module: every direction tried at every place, every distance measured."""
    over = np.full(len(field.values), -1.0)
    side = np.array([-backbone[1], backbone[0]])
    for k, ((large, small), a) in enumerate(zip(field.values, field.along, strict=True)):
        n = np.stack([np.cos(TURNS), np.sin(TURNS)], axis=1)
        # Length of a unit direction of the piece on the seat, over what the leather gives in it.
        length = np.hypot(large * (n @ a), small * (n @ np.array([-a[1], a[0]])))
        most = np.hypot((1 + card.stretch_along) * (n @ backbone), (1 + card.stretch_across) * (n @ side))
        over[k] = (length / most).max() - 1.0
    if over.max() <= 0.0:
        return Verdict.FITS, over
    bad = over > 0.0
    corners = POINTS[np.unique(TRIANGLES[bad])]
    away = max(min(_from_segment(c, POINTS[i], POINTS[j]) for r in runs for i, j in pairwise(r)) for c in corners)
    share = field.areas_seat[bad].sum() / field.areas_seat.sum()
    eases = over.max() <= EASE and share <= EASE_AREA and away <= EASE_REACH_MM
    return (Verdict.EASE if eases else Verdict.TIGHT), over


def _reach(triangle):
    """How far the farthest corner of a triangle is from the sewn end."""
    return max(_from_segment(POINTS[c], *POINTS[END[0]]) for c in TRIANGLES[triangle])


def _from_segment(p, a, b):
    t = np.clip((p - a) @ (b - a) / ((b - a) @ (b - a)), 0.0, 1.0)
    return float(np.linalg.norm(p - a - t * (b - a)))


@given(random_fields, st.floats(0.0, 3.1), st.sampled_from([END, EVERYWHERE]))
def test_random_pieces_get_the_verdict_that_their_stretches_say(field, turn, runs):
    backbone = np.array([np.cos(turn), np.sin(turn)])
    found = judged(field, None, laid(runs, backbone), card=SOFT, budget=None)
    word, over = recomputed(field, SOFT, backbone, runs)
    # The scan of directions misses the largest by up to 1e-6.
    if np.abs(over).min() > 1e-5 and abs(over.max() - EASE) > 1e-5:
        assert found.verdict == word
    # No piece fits with a place over, and what is told beside the verdict says the same.
    assert (found.verdict == Verdict.FITS) == (found.over is None) == (found.use.max() <= 1.0 + 1e-6)
    assert (field.demand <= found.budget) == (found.verdict == Verdict.FITS)
    assert found.over is None or found.over.excess == pytest.approx(over.max(), abs=1e-5)
    if found.verdict == Verdict.EASE:
        assert field.demand <= with_ease(found.budget) + 1e-12
    # The leather gives a piece at least what it gives along, at most what it gives across.
    assert SOFT.budget - 1e-9 <= found.budget <= SOFT.widest_budget + 1e-9


@given(random_fields, st.floats(0.001, 0.1), st.floats(0.0, 0.05), st.booleans())
def test_a_larger_budget_never_makes_a_verdict_worse(field, budget, more, by_hand):
    def word(extra):
        limit = floor(0.5 * field.demand)
        if by_hand:
            return judged(field, limit, laid(backbone=None), card=None, budget=budget + extra).verdict
        card = Card("own", 1.2, 0.01, 0.015 + budget + extra, 0.02 + budget + extra, dict(SOFT.source))
        return judged(field, limit, laid(), card=card, budget=None).verdict

    assert ORDER.index(word(more)) >= ORDER.index(word(0.0))


@given(random_fields, st.floats(0.3, 1.0))
def test_slack_leather_is_first_pulled_smooth(field, shrunk):
    # The same piece cut too large is as good as the piece itself: nothing depends on its size.
    slack = replace(field, values=field.values * shrunk)
    one, other = (judged(f, None, laid(), card=SOFT, budget=None) for f in (field, slack))
    assert (one.verdict, one.over is None) == (other.verdict, other.over is None)
    assert one.budget == pytest.approx(other.budget, abs=1e-12)
    assert np.allclose(one.use, other.use, atol=1e-9)


@given(random_fields, st.floats(1.001, 1.05), st.floats(0.0, 3.1))
def test_a_piece_pulled_more_than_it_must_be_is_judged_as_it_is(field, tighter, turn):
    """Cut too small everywhere it uses more: nothing lets it out again."""
    backbone = np.array([np.cos(turn), np.sin(turn)])
    tight = replace(field, values=field.values * tighter)
    found = judged(tight, None, laid(EVERYWHERE, backbone), card=SOFT, budget=None)
    _, over = recomputed(tight, SOFT, backbone, EVERYWHERE)
    if abs(over.max()) > 1e-5:
        assert (found.over is not None) == (over.max() > 0.0)
    if found.over is not None:
        assert found.over.excess == pytest.approx(over.max(), abs=1e-5)


def test_ease_takes_all_three_a_little_near_a_seam_and_not_much_of_the_piece():
    def word(field, runs=END):
        return judged(field, None, laid(runs), card=SOFT, budget=None).verdict

    assert word(stretched(0.9 * EASE)) == Verdict.EASE
    assert word(stretched(1.1 * EASE)) == Verdict.TIGHT
    assert word(stretched(0.5 * EASE, where=slice(0, 4))) == Verdict.EASE
    assert word(stretched(0.5 * EASE, where=slice(0, 5))) == Verdict.TIGHT
    reach = [_reach(k) for k in range(len(TRIANGLES))]
    assert min(reach) < EASE_REACH_MM < max(reach)
    for k, away in enumerate(reach):
        near = away <= EASE_REACH_MM
        assert word(stretched(0.5 * EASE, where=slice(k, k + 1))) == (Verdict.EASE if near else Verdict.TIGHT)
    assert word(stretched(0.5 * EASE), runs=()) == Verdict.TIGHT
    # Over everywhere is no fit, however little.
    assert word(stretched(0.001, where=slice(None)), runs=EVERYWHERE) == Verdict.TIGHT


def test_it_is_told_where_and_how_much():
    found = judged(stretched(0.01, where=slice(2, 4)), None, laid(END), card=SOFT, budget=None)
    assert found.over.excess == pytest.approx(0.01, abs=1e-12)
    assert found.over.share == pytest.approx(2 / len(TRIANGLES))
    assert found.over.triangle in (2, 3)
    assert found.over.away_mm == pytest.approx(max(_reach(2), _reach(3)))


@pytest.mark.parametrize("kind", ["disc", "circle"])
def test_proven_is_beyond_what_ease_can_make_up_in_the_softest_direction(kind):
    least = (1.0 + SOFT.widest_budget) * (1.0 + EASE) - 1.0
    field = stretched(0.05)

    def word(limit, **given):
        return judged(field, floor(limit, kind), laid(), **{"card": SOFT, "budget": None, **given}).verdict

    assert word(least - 1e-6) == Verdict.TIGHT
    assert word(least + 1e-6) == Verdict.PROVEN
    # The same by a budget given by hand.
    assert word(1.05 * 1.015 - 1 - 1e-6, budget=0.05) == Verdict.TIGHT
    assert word(1.05 * 1.015 - 1 + 1e-6, budget=0.05) == Verdict.PROVEN


@given(random_fields, st.floats(0.0, 0.2))
def test_what_is_proven_too_tight_never_passes_otherwise(field, limit):
    # A true floor is no larger than the demand of any piece.
    value = min(limit, field.demand)
    found = judged(field, floor(value), laid(), card=SOFT, budget=None)
    if value > with_ease(SOFT.widest_budget):
        assert found.verdict == Verdict.PROVEN
        assert value > found.budget
    else:
        assert found.verdict != Verdict.PROVEN


@given(random_fields, st.floats(0.01, 0.16), st.booleans())
def test_a_budget_alike_in_all_directions_is_held_against_the_ratio_of_stretches(field, budget, by_hand):
    """A budget by hand, or a card of a piece without a backbone: a place is over when its largest stretch, over the
    least of the piece, is beyond the budget; what is told is the budget itself."""
    card = Card("alike", 1.2, 0.0, budget, budget, dict(SOFT.source))
    given_budget = {"card": None, "budget": budget} if by_hand else {"card": card, "budget": None}
    found = judged(field, None, laid(EVERYWHERE, None), **given_budget)
    ratio = field.values[:, 0] / field.values.min()
    if abs(field.demand - budget) < 1e-6:
        return
    assert (found.verdict == Verdict.FITS) == (field.demand < budget)
    assert found.use == pytest.approx(np.log(ratio) / np.log1p(budget))
    assert found.budget == pytest.approx(budget, abs=1e-9)
    if found.over is not None:
        assert found.over.excess == pytest.approx((1.0 + field.demand) / (1.0 + budget) - 1.0)
        over = ratio > 1.0 + budget
        assert found.over.share == pytest.approx(field.areas_seat[over].sum() / field.areas_seat.sum())
        assert over[found.over.triangle]


def test_without_any_budget_left_only_what_is_not_stretched_fits():
    flat, bent = field_of(np.full((3, 2), 1.01)), field_of([[1.01, 1.01], [1.02, 1.01]])
    for field, verdict, use in ((flat, Verdict.FITS, 0.0), (bent, Verdict.TIGHT, np.inf)):
        found = judged(field, None, laid((), None), card=None, budget=0.0)
        assert (found.verdict, found.use.max()) == (verdict, use)


def test_a_demand_alone_says_nothing_of_ease():
    assert by_demand(0.05, 0.05) == Verdict.FITS
    assert by_demand(0.0501, 0.05) == Verdict.TIGHT


def test_nothing_is_judged_without_a_budget():
    found = judged(stretched(0.05), floor(0.1), laid(), card=None, budget=None)
    assert (found.budget, found.verdict, found.use, found.over) == (None, None, None, None)
