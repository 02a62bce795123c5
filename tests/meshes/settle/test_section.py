"""Cuts through a pad: figures of ridges, agreement with the pad's own surface, gaps, tied seams, proposed padding."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from flatten.sections.section import section_dict
from meshes.base.problems import ProblemError
from meshes.records.materials import BUILT_IN
from meshes.records.pad import Layer, Wanted
from meshes.records.springs import Springs
from meshes.seat.build import build
from meshes.settle import padding_search as padsearch
from meshes.settle.padding_search import SectionTrial
from meshes.settle.proposal import propose, square_to
from meshes.settle.section import as_measured, hard_line_deg, section
from meshes.settle.section_line import Cut, section_line
from tests.pads import sheet_of

TENSION = 0.15
# A back that goes over a hard rail of 10 mm radius; its springs end 70 mm below it. Invented.
BACK = """
name = "test"
[[pad]]
name = "back"
kind = "backrest"
outline = {bottom_width = 520, top_width = 500, depth = 420, corner_radius = 70}
layer = [{material = "wadding", thickness = 6}, {material = "foam_medium", thickness = 16, where = "face", taper = 40}]
[[pad.profile]]
direction = "along"
points = [[0, 0], [210, 22], [420, 0]]
[pad.sides.bottom]
drop = 45
edge_radius = 12
closed_by_hand = true
[pad.sides.right]
drop = 80
edge_radius = 12
[pad.sides.top]
drop = 95
edge_radius = 10
turn = 150
gap = 70
gap_depth = 50
"""


def back(**changes):
    (pad,) = sheet_of(BACK).pads
    return replace(pad, **changes)


def with_cloth(pad):
    return replace(pad, sides={**pad.sides, "rear": replace(pad.sides["rear"], cloth=True)})


@cache
def proposal():
    return propose(back(), "rear", 42.0, SectionTrial(square_to("rear"), TENSION))


def top(cut):
    return next(ridge for ridge in cut.ridges if ridge.side == "top")


def off_line(points, line):
    """Distance of points from a line of pieces."""
    a, way = line[:-1], np.diff(line, axis=0)
    share = np.clip(((points[:, None] - a) * way).sum(-1) / (way**2).sum(-1), 0.0, 1.0)
    return np.linalg.norm(points[:, None] - (a + share[..., None] * way), axis=2).min(axis=1)


@pytest.mark.parametrize("dressed", [back, lambda: as_measured(back()), lambda: proposal().pad], ids=range(3))
def test_the_cut_and_the_pad_itself_agree(dressed):
    """Two routes to one line: the cut alone, and the settled surface of the whole pad where it meets the cut."""
    pad = dressed()
    cut, whole = section(pad, Cut("along", 0.0), tension_n_per_mm=TENSION), build(pad, tension_n_per_mm=TENSION)
    middle = np.abs(whole.surface.vertices[:, 0]) < 1e-9
    # The pad is 500 mm wide, so its sides still pull a little here; chords of 6 mm lie inside a bend of 10 mm.
    assert off_line(whole.surface.vertices[middle][:, 1:], cut.cover).max() < 0.6
    assert off_line(whole.rest.free[middle][:, 1:], cut.free).max() < 0.1
    assert whole.settled.factorisations <= 15


def test_a_gap_without_cloth_shows_a_hard_line():
    cut = section(as_measured(back()), Cut("along", 0.0), tension_n_per_mm=TENSION)
    assert cut.ridge is top(cut)
    assert cut.ridge.gap
    assert cut.ridge_radius_mm < 15.0
    assert cut.hard_line_deg > 20.0
    assert cut.ridge.at[0] > 400.0
    # Over the open gap the cover is straight and nothing presses on it.
    over = (cut.support[:, 0] > 350.0) & (cut.support[:, 0] < 400.0) & (cut.support[:, 1] > -5.0)
    assert over.sum() > 20
    assert not cut.carried[over].any()
    assert np.isinf(cut.radius_mm[over]).all()


def test_the_padding_proposed_makes_it_round():
    found = proposal()
    assert found.reached
    assert found.cloth
    assert len(found.layers) >= 1
    assert top(found.after).radius_mm >= 42.0
    assert found.after.hard_line_deg < 0.3 * found.before.hard_line_deg
    # What is proposed is what was computed: the pad with those layers, cut again, gives that radius.
    again = section(found.pad, Cut("along", 0.0), tension_n_per_mm=TENSION)
    assert top(again).radius_mm == found.after.ridge_radius_mm
    assert found.pad.layers == back().layers + found.layers
    assert found.material_mm2 == pytest.approx(again.padding_mm2 - found.before.padding_mm2)
    assert "cloth over the gap; 25 mm foam_medium" in found.text


def test_fewer_or_smaller_sheets_would_not_do():
    found = proposal()
    fewer = replace(found.pad, layers=back().layers + found.layers[:-1])
    assert top(section(fewer, Cut("along", 0.0), tension_n_per_mm=TENSION)).radius_mm < 42.0


def test_a_wish_that_is_met_asks_for_nothing():
    found = propose(with_cloth(back()), "rear", 5.0, SectionTrial(square_to("rear"), TENSION))
    assert found.reached
    assert (found.layers, found.cloth, found.material_mm2) == ((), False, 0.0)
    assert found.text.startswith("nothing to add")


def test_a_wish_beyond_reach_is_told_as_such():
    found = propose(back(), "rear", 190.0, SectionTrial(square_to("rear"), TENSION))
    assert not found.reached
    assert "short of 190 mm" in found.text
    assert top(found.after).radius_mm > top(found.before).radius_mm


def test_sheets_are_laid_at_the_side_that_is_asked_for():
    found = propose(back(), "right", 24.0, SectionTrial(square_to("right", 200.0), TENSION))
    assert found.layers
    assert {layer.where for layer in found.layers} == {"right"}
    assert next(r for r in found.after.ridges if r.side == "right").radius_mm >= 24.0
    # Foam, not wadding, is what sheets are of.
    assert {layer.material for layer in found.layers} == {"foam_medium"}


def test_a_built_pad_carries_its_cuts_three_ways():
    pad = build(back(wanted=Wanted(42.0)), edge_mm=12.0, tension_n_per_mm=TENSION)
    along, across, bottom = pad.sections
    assert (along.name, across.name, bottom.name) == ("along 0", "across 210", "along 0")
    assert (along.ridge.side, bottom.ridge.side) == ("top", "bottom")
    assert bottom.ridge_radius_mm == next(r.radius_mm for r in along.padded.ridges if r.side == "bottom")
    assert bottom.proposal is None, "where springs stop short, that edge alone is wanted round"
    assert along.ridge_radius_bare_mm == top(along.bare).radius_mm < 15.0
    assert along.ridge_radius_mm == top(along.padded).radius_mm < along.proposed.ridge_radius_mm
    assert along.proposal.layers == proposal().layers
    assert across.proposed is None
    assert build(back(), edge_mm=20.0).sections == ()


def test_a_front_roll_is_cut_open_as_the_rear_is():
    sides = {name: replace(side, gap=0.0, turn_deg=90.0) for name, side in back().sides.items()}
    pad = build(back(wanted=Wanted(42.0), sides=sides), edge_mm=16.0, tension_n_per_mm=TENSION)
    first, _, other = pad.sections
    assert {first.ridge.side, other.ridge.side} == {"top", "bottom"}
    for cut in (first, other):
        assert cut.proposal is not None
        assert pad.pad.side_word(cut.proposal.side) == cut.ridge.side
        assert {layer.where for layer in cut.proposal.layers} <= {cut.proposal.side}
        assert cut.ridge_radius_mm < 42.0 <= cut.proposal.radius_mm
        # What is told as a figure is what its own words say.
        told = section_dict(cut)["proposal"]
        assert told["ridge_radius_mm"] == pytest.approx(cut.proposal.radius_mm, abs=1e-3)
        assert f"with a radius of {told['ridge_radius_mm']:.0f} mm" in told["text"]
        assert cut.ridge_radius_bare_mm < cut.ridge_radius_mm


@pytest.mark.parametrize("lies", ["hessian", "felt", "wadding"])
def test_what_is_proposed_is_foam_even_where_the_pad_has_none(lies):
    """Cloth and stuffing keep no round; four layers of the hessian that lies first are no answer."""
    pad = back(layers=(Layer(lies, 1.0, "face", None, 1.0),))
    found = propose(pad, "rear", 25.0, SectionTrial(square_to("rear"), TENSION))
    assert found.layers
    assert {BUILT_IN[layer.material].foam for layer in found.layers} == {True}
    own = replace(BUILT_IN["foam_medium"], name="shop foam", thickness_mm=20.0)
    found = propose(pad, "rear", 25.0, SectionTrial(square_to("rear"), TENSION, {**BUILT_IN, "shop foam": own}))
    assert {layer.material for layer in found.layers} == {"shop foam"}, "the shop's own foam is at hand"
    assert {layer.thickness for layer in found.layers} == {20.0}


def test_what_is_proposed_comes_in_the_shops_own_sheets():
    """Of every thickness in the shop the one that does with the fewest sheets, then the least."""
    stock = {**BUILT_IN, "foam_medium": replace(BUILT_IN["foam_medium"], stock_mm=(12.7, 25.4, 50.8))}
    found = propose(back(), "rear", 42.0, SectionTrial(square_to("rear"), TENSION, stock))
    assert found.reached
    assert {layer.thickness for layer in found.layers} <= {12.7, 25.4, 50.8}
    assert len(found.layers) <= len(proposal().layers)
    thin = {**stock, "foam_medium": replace(stock["foam_medium"], stock_mm=(12.7,))}
    less = propose(back(), "rear", 30.0, SectionTrial(square_to("rear"), TENSION, thin))
    assert {layer.thickness for layer in less.layers} == {12.7}


def test_layers_before_and_after():
    cut = section(with_cloth(back()), Cut("along", 0.0), tension_n_per_mm=TENSION)
    assert cut.before.shape == cut.after.shape == (2, *cut.cover.shape)
    assert cut.before[-1] == pytest.approx(cut.free, abs=1e-9)
    # What lies under the cover fills the room up to it, but for what everything gives besides, unless it lifts.
    touching = (cut.settled.pressure_kpa > 0) & (np.abs(np.gradient(cut.support[:, 0])) > 0.5)
    assert np.linalg.norm(cut.after[-1] - cut.cover, axis=1)[touching].max() < 0.3
    assert (cut.settled.compression >= 0).all()


def test_springs_let_the_ground_go_down():
    hard = section(with_cloth(back()), Cut("along", 0.0), tension_n_per_mm=TENSION)
    soft = section(with_cloth(back(springs=Springs(0.03))), Cut("along", 0.0), tension_n_per_mm=TENSION)
    middle = np.argmin(np.abs(soft.support[:, 0] - 200.0))
    down = soft.settled.spring_mm[middle]
    assert down > 2.0
    assert soft.support[middle, 1] - soft.ground[middle, 1] == pytest.approx(down, abs=0.1)
    assert np.linalg.norm(hard.ground - hard.support, axis=1).max() < 0.3


def test_a_free_cut_of_padding_keeps_the_round_of_its_edge():
    """Without tension the cover is the free padding: edge radius and padding add up."""
    pad = back(layers=(Layer("foam_medium", 20.0, "all", None, 0.0),), profiles=())
    cut = section(pad, Cut("along", 0.0), tension_n_per_mm=0.0)
    assert cut.settled is None
    assert {ridge.side: ridge.radius_mm for ridge in cut.ridges} == {
        "bottom": pytest.approx(32.0, rel=0.01),
        "top": pytest.approx(30.0, rel=0.01),
    }


def test_hard_line_of_known_lines():
    """Even bends have none; a corner of 40 degrees has all of its turn but a sixth."""
    angle = np.linspace(0.0, 2.0, 200)
    arc = 50.0 * np.stack([np.sin(angle), np.cos(angle)], axis=1)
    middle = slice(70, 130)
    assert np.abs(hard_line_deg(arc)[middle]).max() < 0.1
    x = np.linspace(-100.0, 100.0, 401)
    bent = np.stack([x, -np.abs(x) * np.tan(np.deg2rad(20.0))], axis=1)
    assert hard_line_deg(bent).max() == pytest.approx(40.0 * 5 / 6, rel=0.01)


def test_a_tied_seam_holds_the_cut():
    text = (
        BACK.replace("[210, 22]", "[210, -30]") + '[[pad.line]]\nname = "cross seam"\npoints = [[0, 210], [255, 210]]\n'
    )
    (free,), (tied,) = sheet_of(text).pads, sheet_of(text + "tied = true\n").pads
    lifted, held = (section(pad, Cut("along", 0.0), tension_n_per_mm=TENSION) for pad in (free, tied))
    assert lifted.lifts[0].gap_mm > 10.0
    assert lifted.lifts[0].at[0] == pytest.approx(210.0, abs=30.0)
    at_seam = np.argmin(np.abs(held.support[:, 0] - 210.0))
    assert held.settled.lift_mm[at_seam] == 0.0
    assert max((lift.gap_mm for lift in held.lifts), default=0.0) < lifted.lifts[0].gap_mm


def turned_by(line):
    """How far a line turns downward in all, rad, and half of the pieces beside each of its points."""
    way = np.diff(line, axis=0)
    heading = np.unwrap(np.arctan2(way[:, 1], way[:, 0]))
    long = np.linalg.norm(way, axis=1)
    return heading[0] - heading[-1], 0.5 * (np.append(long, 0.0) + np.append(0.0, long))


def test_the_radius_of_a_free_cover_adds_up_to_its_turn():
    """Young and Laplace: tension over pressure is the radius, so its inverse along the cover sums to the whole turn."""
    cut = section(as_measured(back()), Cut("along", 0.0), tension_n_per_mm=TENSION)
    turn, long = turned_by(cut.cover)
    assert turn > np.pi / 2
    assert (long / cut.radius_mm).sum() == pytest.approx(turn, rel=0.01)
    # The same from the top of the face to the tack line, over the ridge alone.
    over = cut.support[:, 0] > 300.0
    first = int(np.argmax(over))
    ridge, own = turned_by(cut.cover[first:])
    assert (own[1:-1] / cut.radius_mm[first + 1 : -1]).sum() == pytest.approx(ridge, rel=0.01)


def test_where_a_cover_is_held_its_turn_is_the_stitches_own():
    """In a hollow a tied seam is pulled down by its thread: there is no radius there, and no ridge is found at it. On a
    crown a thread has nothing to hold: the cover goes down into the foam as it does without."""
    seam = '[[pad.line]]\nname = "cross seam"\npoints = [[0, 210], [255, 210]]\ntied = true\n'
    (hollow,), (crown,) = (sheet_of(text + seam).pads for text in (BACK.replace("[210, 22]", "[210, -30]"), BACK))
    held, let_go = (section(pad, Cut("along", 0.0), tension_n_per_mm=TENSION) for pad in (hollow, crown))
    at_seam = int(np.argmin(np.abs(held.support[:, 0] - 210.0)))
    assert held.settled.heights_mm[at_seam] == pytest.approx(22.0, abs=0.01)
    assert np.isinf(held.radius_mm[[0, at_seam, -1]]).all()
    free = section(back(), Cut("along", 0.0), tension_n_per_mm=TENSION)
    assert np.isinf(free.radius_mm[[0, -1]]).all()
    assert let_go.cover == pytest.approx(free.cover, abs=1e-6)
    at_seam = int(np.argmin(np.abs(free.support[:, 0] - 210.0)))
    assert free.settled.heights_mm[at_seam] < 22.0 - 1.0
    assert np.isfinite(let_go.radius_mm[at_seam])


def test_the_pull_across_a_cut_counts_in_hollows():
    """A trough that runs out over both sides is pulled down by them, a bowl is bridged both ways: the pad knows, the
    cut does not."""
    trough = BACK.replace("[210, 22]", "[210, -30]")
    bowl = trough + '[[pad.profile]]\ndirection = "along"\nat = 240\npoints = [[0, 0], [420, 0]]\n'
    pads = [build(sheet_of(text).pads[0], edge_mm=9.0, tension_n_per_mm=TENSION) for text in (trough, bowl)]
    alone = [section(pad.pad, Cut("along", 0.0), tension_n_per_mm=TENSION) for pad in pads]
    ratio = [pad.sections[0].lifts[0].gap_mm / cut.lifts[0].gap_mm for pad, cut in zip(pads, alone, strict=True)]
    assert ratio[0] < 0.9
    assert ratio[1] > 1.0
    for pad in pads:
        lift = pad.sections[0].lifts[0]
        middle = np.abs(pad.surface.vertices[:, 0]) < 1e-9
        assert lift.gap_mm == pad.settled.lift_mm[middle].max()
        # What is drawn is what is told.
        drawn = pad.sections[0].padded
        assert drawn.lifts[0].gap_mm == pytest.approx(lift.gap_mm, abs=0.1)
        assert drawn.lifts[0].at[0] == pytest.approx(lift.at[0], abs=15.0)


@pytest.mark.parametrize(
    ("direction", "at", "phrase"),
    [
        *(("along", 400.0, "misses the pad"), ("across", -50.0, "misses the pad"), ("along", 240.0, "at a slant")),
        *((way, at, "misses the pad") for way in ("along", "across") for at in (np.nan, np.inf, -np.inf, 1e308)),
    ],
)
def test_cuts_that_cannot_be_made(direction, at, phrase):
    with pytest.raises(ProblemError) as refused:
        section_line(back(), Cut(direction, at))
    (problem,) = refused.value.problems
    assert problem.code == "G142"
    assert phrase in problem.text
    assert "choose a place" in problem.text


@pytest.mark.parametrize("direction", ["along", "across"])
def test_a_place_given_as_a_whole_number_is_the_same_place(direction):
    whole, decimal = section_line(back(), Cut(direction, 100)), section_line(back(), Cut(direction, 100.0))
    assert np.array_equal(whole.support, decimal.support)
    assert np.array_equal(section_line(back(), Cut(direction, np.int32(100))).support, decimal.support)


def test_a_cut_through_no_padding_at_all_has_layers_of_the_same_shape():
    cut = section(replace(back(), layers=()), Cut("along", 0.0), tension_n_per_mm=TENSION)
    assert cut.before.shape == cut.after.shape == (0, *cut.support.shape)


def test_a_symmetric_pad_is_cut_evenly():
    cut = section(back(), Cut("across", 200.0), tension_n_per_mm=TENSION)
    left, right = cut.ridges
    assert left.radius_mm == pytest.approx(right.radius_mm, rel=0.01)


def test_a_cut_along_a_tied_valley_stays_on_the_padding_and_one_across_meets_it_at_each():
    hollow = BACK.replace("[210, 22]", "[210, -30]")
    pleats = "[pad.pleats]\ncount = 4\nconstruction = 'one piece'\n"
    (free,), (tied,) = (sheet_of(hollow + pleats + more).pads for more in ("", "tied = true\n"))
    along = [section(pad, Cut("along", 0.0), tension_n_per_mm=TENSION) for pad in (free, tied)]
    face = (along[1].support[:, 0] > 30.0) & (along[1].support[:, 0] < 390.0)
    assert along[0].lifts[0].gap_mm > 10.0
    assert along[1].settled.lift_mm[face].max() < 0.5
    across = section(tied, Cut("across", 200.0), tension_n_per_mm=TENSION)
    middle = int(np.argmin(np.abs(across.support[:, 0])))
    # Across the frame is a little crowned, and a thread does not hold the cover up: it lies in the foam by a trifle.
    assert 21.7 < across.settled.heights_mm[middle] < 22.0


def soft():
    layers = (Layer("wadding", 6.0, "all", None, 6.0), Layer("foam_soft", 16.0, "face", None, 40.0))
    return replace(back(), layers=layers)


def test_foam_that_stays_crushed_is_told_with_its_figure():
    found = propose(soft(), "rear", 42.0, SectionTrial(square_to("rear"), TENSION))
    assert found.reached
    k, share = found.crushed
    assert (found.too_crushed, found.pad.layers[k].material) == (True, "foam_soft")
    # The figure is that of the settled cut, on the half that goes over the top.
    over = found.after.cover[:, 0] > 215.0
    assert share == pytest.approx(found.after.settled.compression[over][:, 1:].max(), abs=1e-12)
    assert f"crushed by {100 * share:.0f} %, more than 50 %" in found.text
    assert not proposal().too_crushed
    assert "crushed" not in proposal().text


def test_more_padding_is_laid_where_it_spares_the_foam(monkeypatch):
    least = propose(soft(), "rear", 42.0, SectionTrial(square_to("rear"), TENSION))
    monkeypatch.setattr(padsearch, "LITTLE_MORE", 1.0)
    found = propose(soft(), "rear", 42.0, SectionTrial(square_to("rear"), TENSION))
    assert found.reached
    assert not found.too_crushed
    assert least.material_mm2 < found.material_mm2 <= 2.0 * least.material_mm2
    assert found.radius_mm > 42.0


def test_the_radius_told_is_that_of_the_side_that_was_asked_for():
    found = propose(back(), "front", 26.0, SectionTrial(square_to("front"), TENSION))
    assert found.reached
    assert f"radius of {found.radius_mm:.0f} mm" in found.text
    assert found.radius_mm >= 26.0 > found.after.ridge_radius_mm
