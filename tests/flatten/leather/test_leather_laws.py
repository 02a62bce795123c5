"""Figures of stretch, use and grain on fields known in closed form."""

from types import SimpleNamespace

import numpy as np
import pytest

from flatten.leather.budget_use import BudgetUse, least_bound, squared, use_of
from flatten.leather.card import CARDS
from flatten.leather.grain import carrying, chosen, even_backbone
from flatten.leather.pleat_grain import ON_PLEATS, pleats_of, running
from flatten.leather.stretch import Stretch, frames, sizes, split, stretch
from flatten.leather.tension import common_factor, pull_of
from flatten.leather.verdict import EASE, EASE_AREA, EASE_REACH_MM, Over, by_demand, is_tight, with_ease
from tests import shapes


def field_of(values, turns=0.0, areas=None):
    values = np.asarray(values, dtype=float)
    turns = np.broadcast_to(turns, len(values))
    along = np.stack([np.cos(turns), np.sin(turns)], axis=1)
    return Stretch(values, along, np.zeros((len(values), 3)), np.ones(len(values)) if areas is None else areas)


def test_the_largest_stretch_over_the_smallest_is_the_demand_wherever_they_are():
    field = field_of([[1.02, 1.01], [1.30, 1.20], [1.10, 0.96]])
    assert field.demand == pytest.approx(1.30 / 0.96 - 1.0)


@pytest.mark.parametrize("count", [1000, 3])
def test_only_half_a_percent_of_the_area_exceeds_what_is_told(count):
    values = np.column_stack([1.0 + np.arange(count) / count, np.ones(count)])
    shuffled = np.random.default_rng(1).permutation(count)
    field = field_of(values[shuffled])
    above = (field.values[:, 0] > field.p995).mean()
    assert above <= 0.005
    next_lower = np.sort(field.values[:, 0])[::-1][: int(0.005 * count) + 1]
    assert field.p995 == pytest.approx(next_lower[-1], abs=1.01 / count)
    # By area, not by number: a large triangle that is pulled most counts.
    heavy = field_of(values, areas=np.where(np.arange(count) == count - 1, 1e6, 1.0))
    assert heavy.p995 == values[-1, 0]


def test_energy_is_the_mean_over_the_area():
    field = field_of([[2.0, 1.0], [1.0, 1.0]], areas=np.array([1.0, 3.0]))
    assert field.energy == pytest.approx(0.25 * (4.0 + 0.25 + 2.0) + 0.75 * 4.0)


def test_a_frame_lies_on_the_longest_edge_and_keeps_all_lengths():
    rng = np.random.default_rng(4)
    vertices = rng.normal(size=(30, 3))
    triangles = rng.permutation(30).reshape(10, 3)
    flat, first, second = frames(vertices, triangles)
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    for k in range(10):
        axes = np.stack([first[k], second[k]])
        assert axes @ axes.T == pytest.approx(np.eye(2), abs=1e-12)
        assert flat[k] @ axes == pytest.approx(np.stack([b[k] - a[k], c[k] - a[k]]), abs=1e-12)
        edges = [b[k] - a[k], c[k] - b[k], a[k] - c[k]]
        longest = max(edges, key=np.linalg.norm)
        assert first[k] @ longest == pytest.approx(np.linalg.norm(longest))
        # Seen from the outer side the triangle runs counter-clockwise.
        assert np.linalg.det(flat[k]) > 0.0


def test_parts_of_a_map_give_it_back():
    f = np.random.default_rng(2).normal(size=(20, 2, 2))
    e, h, d, g = split(f)
    assert np.stack([np.stack([e + d, g - h], -1), np.stack([g + h, e - d], -1)], 1) == pytest.approx(f)
    s = sizes(e, h, d, g)
    assert pytest.approx(np.linalg.svd(f)[1]) == np.abs(s).T
    assert s[0] * s[1] == pytest.approx(np.linalg.det(f))


@pytest.mark.parametrize("turn", [0.0, 0.4, 2.0])
def test_stretch_has_areas_of_the_seat_and_its_larger_direction_on_both_sides(turn):
    """A sheet pulled by 20 % along one direction and turned in space: the direction on the piece is the seat's."""
    flat, triangles = shapes.scattered(200.0, 120.0, 40.0)
    way = np.array([np.cos(turn), np.sin(turn)])
    pulled = flat + 0.2 * (flat @ way)[:, None] * way
    space = np.linalg.qr(np.random.default_rng(5).normal(size=(3, 3)))[0]
    space *= np.sign(np.linalg.det(space))
    seat = np.column_stack([pulled, np.zeros(len(flat))]) @ space
    field = stretch(seat, flat, triangles)
    assert field.values == pytest.approx(np.tile([1.2, 1.0], (len(triangles), 1)))
    assert np.abs(field.along @ way) == pytest.approx(1.0)
    assert np.abs(field.along_seat @ (np.append(way, 0.0) @ space)) == pytest.approx(1.0)
    assert field.areas_seat.sum() == pytest.approx(1.2 * 200.0 * 120.0)
    # The same sense on both sides: carried along, one becomes the other.
    a, b, c = (flat[triangles[:, k]] for k in range(3))
    i, j, k = (seat[triangles[:, n]] for n in range(3))
    for t in range(len(triangles)):
        parts = np.linalg.solve(np.stack([b[t] - a[t], c[t] - a[t]], 1), field.along[t])
        there = parts[0] * (j[t] - i[t]) + parts[1] * (k[t] - i[t])
        assert there == pytest.approx(1.2 * field.along_seat[t])


def test_the_square_of_a_map_is_its_gram_matrix():
    values, turn = np.array([[1.3, 0.9]]), 0.7
    along = np.array([[np.cos(turn), np.sin(turn)]])
    xx, xy, yy = squared(values, along)[0]
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    assert np.array([[xx, xy], [xy, yy]]) == pytest.approx(rotation @ np.diag([1.69, 0.81]) @ rotation.T)


@pytest.mark.parametrize("ratio", [(1.0, 2.0), (2.0, 1.0), (1.0, 1.0), (0.03, 0.2)])
def test_the_least_bound_is_met_exactly_by_one_direction(ratio):
    rng = np.random.default_rng(8)
    values = np.sort(rng.uniform(0.9, 1.3, (30, 2)), axis=1)[:, ::-1]
    turns = rng.uniform(0.0, np.pi, 30)
    c = squared(values, np.stack([np.cos(turns), np.sin(turns)], axis=1))
    found = least_bound(c, ratio)
    for k in range(30):
        room = np.diag(np.exp(2.0 * np.array(ratio) * found[k])) - np.array([[c[k, 0], c[k, 1]], [c[k, 1], c[k, 2]]])
        assert np.linalg.eigvalsh(room)[0] == pytest.approx(0.0, abs=1e-9)


def test_the_worst_triangle_is_the_one_that_uses_most():
    use = BudgetUse(np.array([0.2, 0.9, 0.4]), np.zeros((3, 2)), np.zeros(3))
    assert use.worst == 1


def test_alike_in_both_directions_the_direction_of_the_pull_decides():
    along = np.array([[0.6, 0.8]])
    found = use_of(np.array([[1.05, 1.05]]), along, np.array([0.0, 1.0]), (0.05, 0.05))
    assert np.abs(found.toward[0] @ along[0]) == pytest.approx(1.0)


# Pull.


def test_without_a_backbone_both_stiffnesses_count_alike():
    card = CARDS["furniture"]
    both = 0.5 * (card.stiffness_along + card.stiffness_across)
    pull = pull_of(field_of([[1.05, 1.02]], turns=0.3), None, card)
    # Lengths along and across an upright line; the mean of their squares is that of the stretches.
    xx, _, yy = squared(np.array([[1.05, 1.02]]), np.array([[np.cos(0.3), np.sin(0.3)]]))[0]
    assert pull.tension_n_per_mm == pytest.approx(0.5 * both * (np.sqrt(xx) + np.sqrt(yy) - 2.0))
    assert pull.stiffness_n_per_mm == pytest.approx(pull.tension_n_per_mm + both)
    assert pull.grown(1.0) == pull.tension_n_per_mm


def test_means_of_a_pull_are_over_the_area():
    card, up = CARDS["furniture"], np.array([0.0, 1.0])
    field = field_of([[1.08, 1.08], [1.02, 1.02]], areas=np.array([1.0, 3.0]))
    pull = pull_of(field, up, card)
    assert pull.mean == pytest.approx(0.25 * 0.08 + 0.75 * 0.02)
    assert pull.least == pytest.approx(0.02)
    assert pull.area_mm2 == 4.0
    assert pull.tension_n_per_mm == pytest.approx(0.5 * (card.stiffness_along + card.stiffness_across) * pull.mean)


def test_a_common_factor_weighs_pieces_by_their_area():
    card, up = CARDS["soft"], np.array([0.0, 1.0])
    large = pull_of(field_of([[1.01, 1.01]], areas=np.array([9.0])), up, card)
    small = pull_of(field_of([[1.03, 1.03]], areas=np.array([1.0])), up, card)
    wish = 0.9 * large.grown(1.02) + 0.1 * small.grown(1.02)
    assert common_factor([large, small], wish) == pytest.approx(1.02)
    # A piece that is beyond its budget already lets nothing grow, and none is let go slack.
    over = pull_of(field_of([[1.2, 1.2]]), up, card)
    assert over.room < 1.0
    assert common_factor([large, over], 10.0) == 1.0


# Grain.


def test_a_narrow_window_is_tried_at_its_ends_and_in_its_middle():
    middle = np.array([0.0, 1.0])
    field = field_of([[1.06, 1.01]], turns=np.deg2rad(40.0))
    tried = [chosen(field, np.log(1.01), middle, window, (0.05, 0.10)) for window in (0.5, 2.4, 2.6, 5.1)]
    turned = [np.degrees(np.arctan2(-one[0], one[1])) for one in tried]
    # Square to the pull lies 40 degrees to the left: the whole window is used.
    assert np.abs(turned) == pytest.approx([0.5, 2.4, 2.6, 5.1])
    assert len(set(np.sign(turned))) == 1


def test_a_symmetric_piece_lies_along_its_line_where_both_are_alike():
    assert even_backbone(np.sqrt([0.5, 0.5]), 46.0).tolist() == [0.0, 1.0]
    assert even_backbone(np.array([0.8, 0.6]), 40.0).tolist() == [1.0, 0.0]
    assert even_backbone(np.array([-0.6, -0.8]), 40.0).tolist() == [0.0, 1.0]


def test_a_direction_square_to_the_whole_seat_is_carried_nowhere():
    points, triangles = shapes.scattered(100.0, 80.0, 40.0)
    seat = np.column_stack([points, np.zeros(len(points))])
    assert np.abs(carrying(seat, triangles, np.array([0.0, 0.0, 1.0]))).max() == 0.0


def pleated(place, station, count):
    return SimpleNamespace(
        place=np.array(place, dtype=float), station=np.array(station, dtype=float), plan=SimpleNamespace(count=count)
    )


def panel_of(triangles, count):
    return SimpleNamespace(vertices=np.arange(count), surface=SimpleNamespace(triangles=np.array(triangles)))


def test_a_piece_belongs_to_the_pleats_with_all_of_it():
    inside = pleated([ON_PLEATS, 0.0, 1.0], [0, 0, 0], 3)
    pad = SimpleNamespace(pleats=inside)
    assert pleats_of(pad, panel_of([[0, 1, 2]], 3)) is inside
    pad = SimpleNamespace(pleats=pleated([ON_PLEATS - 1e-9, 0.0, 1.0], [0, 0, 0], 3))
    assert pleats_of(pad, panel_of([[0, 1, 2]], 3)) is None
    assert pleats_of(SimpleNamespace(pleats=None), panel_of([[0, 1, 2]], 3)) is None


def test_valleys_between_pleats_count_and_the_ends_of_all_pleats_do_not():
    """Columns 0, 1, 2 of a strip of two pleats: only the middle one is a valley, from its lower to its upper end."""
    place = [0, 1, 2, 0, 1, 2, 0, 1, 2]
    station = [0, 0, 0, 1, 1, 1, 2, 2, 2]
    triangles = [[0, 1, 4], [0, 4, 3], [1, 2, 5], [1, 5, 4], [3, 4, 7], [3, 7, 6], [4, 5, 8], [4, 8, 7]]
    weights = running(pleated(place, station, 2), panel_of(triangles, 9))
    assert weights.tolist() == [0, -0.5, 0, 0, 0, 0, 0, 0.5, 0]
    assert running(pleated(place, station, 1), panel_of(triangles, 9)) is None
    # A cut across leaves two runs, each from its lower end to its upper one.
    torn = [t for t in triangles if not {4, 7} <= set(t)]
    wide = pleated([*place, 1], [*station, 3], 2)
    assert running(wide, panel_of([*torn, [7, 9, 8]], 10)).tolist() == [0, -0.25, 0, 0, 0.25, 0, 0, -0.25, 0, 0.25]


# Verdicts.


def test_what_counts_as_ease_at_its_bounds():
    fine = Over(EASE, EASE_AREA, 0, EASE_REACH_MM)
    assert fine.eases
    for worse in (Over(EASE + 1e-9, EASE_AREA, 0, EASE_REACH_MM), Over(EASE, EASE_AREA + 1e-9, 0, EASE_REACH_MM),
                  Over(EASE, EASE_AREA, 0, EASE_REACH_MM + 1e-6), Over(EASE, EASE_AREA, 0, None)):  # fmt: skip
        assert not worse.eases
    # As the README tells it: 1.5 % at the most, within 60 mm, on a tenth of the piece.
    assert (EASE, EASE_REACH_MM, EASE_AREA) == (0.015, 60.0, 0.1)


def test_a_verdict_word_says_whether_a_piece_is_tight():
    assert [is_tight(word) for word in ("fits", "fits with ease", "too tight", "proven too tight", None)] == [
        False, False, True, True, False
    ]  # fmt: skip
    assert with_ease(0.04) == pytest.approx(1.04 * 1.015 - 1.0)
    assert by_demand(0.02, 0.03) == "fits"
