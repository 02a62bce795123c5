"""One tension: laws of what a pad is settled at next, and of when the trials end."""

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from flatten.job import tension
from flatten.job.flats import matched_flats
from flatten.job.pads import built_pads, tension_of
from flatten.job.pulls import SAME_SHARE, panel_pulls, settled_at
from flatten.job.tension import LEAST_N_PER_MM, TENSION_ROUNDS, TRIAL_SHARE, agreed_tensions
from flatten.leather.card_file import find_card
from meshes.base.problems import Problem, ProblemError
from meshes.base.progress import unheard
from meshes.records.alignment import UNALIGNED
from meshes.records.pad import NOTHING_WANTED
from meshes.sheet.read import read_sheet
from meshes.sheet.starter import starter_text
from tests.samples import sample_job

JUMP_SEAT = Path(__file__).parents[3] / "examples/jump_seat/jump.toml"

# A wish that no panel is near.
FAR = 9.0
# Tensions are agreed in whole N/m.
WHOLE = 0.5e-3 + 1e-12


@pytest.fixture
def sheet(tmp_path):
    (tmp_path / "seat.toml").write_text(starter_text())
    return read_sheet(tmp_path / "seat.toml")


def responding(monkeypatch, sheet, reply):
    """Pads whose two panels reach what `reply` says of what each was settled at; the tensions of all trials."""
    tried = []

    def built(trial, tensions, *given, **options):
        tried.append(tensions)
        pads = range(len(trial.pads))
        reached = [{part: reply[part](settled_at(tensions[k], part)) for part in reply} for k in pads]
        return [SimpleNamespace(alignment=UNALIGNED, reached=one) for one in reached]

    monkeypatch.setattr(tension, "built_pads", built)
    monkeypatch.setattr(tension, "panels_told_apart", lambda pads: pads)
    monkeypatch.setattr(tension, "matched_flats", lambda *given, **options: {})
    monkeypatch.setattr(tension, "coverings_of", lambda *given: None)
    monkeypatch.setattr(tension, "_reached", lambda pad, flats, leather: pad.reached)
    return agreed_tensions(sheet, find_card("furniture"), lambda *given: [], unheard), tried


def test_what_is_reached_where_it_was_settled_stays():
    found = {"face": 0.08, "band": 0.12}
    assert tension.next_tension([(found, dict(found))], FAR) == found
    assert tension.next_tension([(0.08, {"face": 0.08, "band": 0.08})], FAR) == 0.08


def test_one_trial_goes_half_of_the_way_in_ln():
    assert tension.next_tension([(0.09, {"face": 0.04})], FAR)["face"] == pytest.approx(np.sqrt(0.09 * 0.04), abs=WHOLE)


def test_a_panel_that_reaches_the_wish_stays_there_while_its_neighbour_moves():
    found = tension.next_tension([(0.1, {"face": 0.05, "band": 0.1 * (1.0 + 0.9 * TRIAL_SHARE)})], 0.1)
    assert (found["band"], found["face"] < 0.1) == (0.1, True)


@pytest.mark.parametrize("power", [0.0, 0.2, 0.5, 1.0, 1.5])
def test_two_trials_lead_to_where_a_power_law_meets_itself(power):
    """A cover that pulls with a x^-p when it is settled at x agrees with itself at a^(1 / (1 + p)): found by gentle
    powers, come nearer to by steep ones."""

    def reached(x):
        return 0.1 ** (1.0 + power) * x**-power

    first = 0.15
    second = tension.next_tension([(first, {"face": reached(first)})], FAR)
    found = tension.next_tension([(first, {"face": reached(first)}), (second, {"face": reached(second["face"])})], FAR)
    if power <= -tension.STEEPEST_ANSWER:
        assert found["face"] == pytest.approx(0.1, abs=WHOLE)
    assert abs(found["face"] - 0.1) <= abs(second["face"] - 0.1) < abs(first - 0.1)


@pytest.mark.parametrize("stiffer", [2.0, 10.0])
def test_a_leather_so_many_times_as_stiff_agrees_at_so_many_times_the_tension(stiffer):
    tried = [(0.1, {"face": 0.06, "band": 0.14}), ({"face": 0.08, "band": 0.12}, {"face": 0.07, "band": 0.11})]
    more = [
        (0.1 * stiffer, {part: stiffer * value for part, value in tried[0][1].items()}),
        tuple({part: stiffer * value for part, value in one.items()} for one in tried[1]),
    ]
    for count in (1, 2):
        plain, found = tension.next_tension(tried[:count], FAR), tension.next_tension(more[:count], stiffer * FAR)
        for part in plain:
            assert found[part] == pytest.approx(stiffer * plain[part], abs=(1.0 + stiffer) * WHOLE)


def test_slack_pieces_are_settled_with_a_pull_all_the_same():
    assert tension.next_tension([(0.05, {"face": 0.0})], FAR)["face"] >= LEAST_N_PER_MM


def test_without_a_tension_nothing_is_tried(monkeypatch, sheet):
    monkeypatch.setattr(tension, "tension_of", lambda *given: 0.0)
    found, tried = responding(monkeypatch, sheet, {"face": lambda x: 1.0})
    assert (list(found), tried) == ([0.0] * len(sheet.pads), [])


@pytest.mark.parametrize(("off", "again"), [(0.99, False), (1.01, True)])
def test_a_seat_is_settled_again_only_where_it_pulls_otherwise_than_told(monkeypatch, sheet, off, again):
    monkeypatch.setattr(tension, "tension_of", lambda *given: 0.1)
    found, tried = responding(
        monkeypatch, sheet, {"face": lambda x: 0.1, "band": lambda x: 0.1 + 0.1 * off * TRIAL_SHARE}
    )
    assert (found[0] != 0.1) == again
    assert len(tried) == (2 if again else 1)


def test_a_trial_leaves_room_for_what_its_coarse_triangles_show_otherwise():
    assert 0.0 < TRIAL_SHARE < SAME_SHARE


def furthest(found, reply):
    return max(abs(reply[part](x) / x - 1.0) for part in reply for x in [settled_at(found, part)])


def test_the_agreed_tension_is_where_the_pieces_pull_as_settled(monkeypatch, sheet):
    monkeypatch.setattr(tension, "tension_of", lambda *given: 0.2)
    reply = {"face": lambda x: 0.01 / x, "band": lambda x: 0.02 * x**-0.5, "inset": lambda x: 0.31}
    found, tried = responding(monkeypatch, sheet, reply)
    assert 1 < len(tried) <= TENSION_ROUNDS
    for pad in found:
        assert furthest(pad, reply) <= TRIAL_SHARE


@pytest.mark.parametrize("power", [-3.0, -1.0, 0.0, 1.0, 2.5, 6.0])
@pytest.mark.parametrize("fixed", [0.04, 0.1, 0.3])
def test_no_pad_ends_farther_from_agreement_than_it_began_nor_where_no_trial_was(monkeypatch, sheet, power, fixed):
    """Whatever a cover answers, runaway ones among them: what is agreed was tried, and nothing tried came nearer."""
    monkeypatch.setattr(tension, "tension_of", lambda *given: 0.1)
    reply = {"face": lambda x: fixed * (x / fixed) ** -power, "band": lambda x: 0.12}
    found, tried = responding(monkeypatch, sheet, reply)
    offs = [furthest(one[0], reply) for one in tried]
    assert found[0] in [one[0] for one in tried]
    assert furthest(found[0], reply) <= max(min(offs), TRIAL_SHARE)
    assert furthest(found[0], reply) <= offs[0]


def test_after_a_trial_that_fails_what_came_nearest_before_counts(monkeypatch, sheet):
    """The second trial cannot be built: the wish, which was tried, stands, not what was to be tried."""
    monkeypatch.setattr(tension, "tension_of", lambda *given: 0.2)
    calls = []

    def reached(x):
        calls.append(x)
        if len(calls) > 1:
            raise ProblemError([Problem("G102", "here", "no room")])
        return 0.1

    found, _ = responding(monkeypatch, sheet, {"face": reached})
    assert list(found) == [0.2] * len(sheet.pads)


def test_a_real_pad_comes_nearer_to_itself_than_the_wish_lets_it():
    """A bench whose face pulls far less than its bands when all are settled alike."""
    job = sample_job()
    sheet = replace(job.sheet, output=replace(job.sheet.output, mesh=24.0))
    one_by_one = lambda work, tasks, *told: [work(task) for task in tasks]  # noqa: E731

    def worst(tensions):
        pads = built_pads(sheet, tensions, one_by_one, unheard, sections=False)
        flats = matched_flats(sheet, job.leather, pads, one_by_one, unheard, last=False)
        rows = [row for pad, at in zip(pads, tensions, strict=True) for row in panel_pulls(pad, flats, job.leather, at)]
        return max(abs(row.off) for row in rows)

    before = worst([tension_of(sheet, job.leather)] * len(sheet.pads))
    after = worst(agreed_tensions(sheet, job.leather, one_by_one, unheard))
    assert before > SAME_SHARE, "a pad that agrees at once shows nothing"
    assert after <= SAME_SHARE


def test_of_mirrored_panels_one_is_asked(monkeypatch):
    """The image of a map differs from it by rounding; what is told of both is one number."""
    right = SimpleNamespace(name="right", part="right band", mirror_of=None)
    left = SimpleNamespace(name="left", part="left band", mirror_of="right")
    pulls = {"right": 0.1, "left": 0.1 + 1e-9}
    monkeypatch.setattr(
        tension, "pull_of_panel", lambda panel, flat, leather: SimpleNamespace(tension_n_per_mm=pulls[panel.name])
    )
    found = tension._reached(SimpleNamespace(panels=(left, right)), {"right": None, "left": None}, None)
    assert found == {"left band": 0.1, "right band": 0.1}


def test_of_mirrored_pads_one_is_tried_and_the_other_takes_its_figures(monkeypatch):
    """The leaves of a seat, the right one drawn after the left: each part pulls as the part that it mirrors."""
    sheet = read_sheet(JUMP_SEAT)
    sheet = replace(sheet, pads=tuple(pad for pad in sheet.pads if "leaf" in pad.name))
    sheet = replace(sheet, pads=tuple(replace(pad, wanted=NOTHING_WANTED) for pad in sheet.pads))
    flattened = []

    def flats(trial, leather, pads, *given, **options):
        flattened.append([pad.pad.name for pad in pads])
        return dict.fromkeys(panel.name for pad in pads for panel in pad.panels)

    pulls = {}

    def pulled(panel, flat, leather):
        value = pulls.setdefault(panel.name, 0.02 + 0.01 * len(pulls))
        return SimpleNamespace(tension_n_per_mm=value)

    monkeypatch.setattr(tension, "matched_flats", flats)
    monkeypatch.setattr(tension, "pull_of_panel", pulled)
    one_by_one = lambda work, tasks, *told: [work(task) for task in tasks]  # noqa: E731
    first, second = agreed_tensions(sheet, find_card("furniture"), one_by_one, unheard)
    assert flattened == [[sheet.pads[0].name]] * len(flattened)
    assert len(set(first.values())) > 1
    swap = {"left": "right", "right": "left"}
    assert second == {" ".join(swap.get(word, word) for word in part.split()): value for part, value in first.items()}
