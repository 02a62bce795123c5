"""Padding under linear elements and over gaps: exact integrals, and cases that must come to one and the same."""

import numpy as np
import pytest

from meshes.padding.stack import stack_of
from meshes.records.compression import LEAST_GIVE_MM_PER_KPA, curve
from meshes.settle.settle import Conditions, settle, settle_section

# Springs give evenly, so a bed of them is linear: 20 kPa/mm is 0.02 N/mm3.
RATE_KPA_PER_MM = 20.0
GIVE = 1.0 / RATE_KPA_PER_MM - LEAST_GIVE_MM_PER_KPA
FOAM = curve([(0.25, 2.8), (0.40, 3.75), (0.65, 9.0)])
SLACK = 1e-9


@pytest.fixture(autouse=True)
def no_skin(monkeypatch):
    """The closed forms know only springs and foam: leather and wood themselves give nothing here."""
    monkeypatch.setattr("meshes.records.compression.SKIN_MM_PER_KPA", 1e-12)


def bed(n, **more):
    return stack_of((), np.zeros((0, n)), give_mm_per_kpa=GIVE, **more)


def test_on_a_line_every_point_of_a_bed_is_felt_as_the_exact_integral():
    """One free point between held ones: what pushes it down is rate times the integral of its hat with the line's
    depths, h / 6 (1, 4, 1). A single place in the middle of each piece would give h / 4 (1, 2, 1)."""
    x = np.array([0.0, 4.0, 10.0, 13.0])
    left, right = 6.0, 3.0
    depth = np.array([0.7, 1.1, np.nan, 0.3])
    push = np.array([0.0, 0.0, 0.15, 0.0])
    done = settle_section(
        np.stack([x, 0 * x], axis=1),
        np.tile([0.0, 1.0], (4, 1)),
        bed(4),
        tension_n_per_mm=SLACK,
        conditions=Conditions(fixed=np.array([0, 1, 3]), fixed_mm=-depth[[0, 1, 3]], push_n=push),
    )
    assert done.converged
    per_mm2 = 1e-3 * RATE_KPA_PER_MM
    exact = (push[2] / per_mm2 - left / 6.0 * depth[1] - right / 6.0 * depth[3]) / ((left + right) / 3.0)
    assert -done.heights_mm[2] == pytest.approx(exact, rel=1e-5)


def test_on_triangles_every_point_of_a_bed_is_felt_as_the_exact_integral():
    """The same on a fan of six unequal triangles: area / 6 for the point itself, area / 12 for each neighbour."""
    angle = np.array([0.1, 1.0, 2.2, 3.0, 4.3, 5.4])
    reach = np.array([9.0, 7.0, 11.0, 8.0, 10.0, 6.0])
    at = np.concatenate([[[0.0, 0.0]], np.stack([reach * np.cos(angle), reach * np.sin(angle)], axis=1)])
    triangles = np.array([[0, 1 + k, 1 + (k + 1) % 6] for k in range(6)])
    depth = np.array([0.4, 0.9, 0.2, 1.3, 0.6, 0.8])
    push = np.zeros(7)
    push[0] = 3.0
    done = settle(
        np.column_stack([at, 0 * at[:, 0]]),
        np.tile([0.0, 0.0, 1.0], (7, 1)),
        triangles,
        bed(7),
        tension_n_per_mm=SLACK,
        conditions=Conditions(fixed=np.arange(1, 7), fixed_mm=-depth, push_n=push),
    )
    assert done.converged
    area = 0.5 * reach * np.roll(reach, -1) * np.sin(np.mod(np.roll(angle, -1) - angle, 2 * np.pi))
    beside = (area * (depth + np.roll(depth, -1))).sum() / 12.0
    exact = (push[0] / (1e-3 * RATE_KPA_PER_MM) - beside) / (area.sum() / 6.0)
    assert -done.heights_mm[0] == pytest.approx(exact, rel=1e-5)


def over_gap(sag_mm, *, depth_mm, give=0.0, preload=0.0, carried=0.0):
    """A pad 300 mm wide, 25 mm of foam, bent over a gap of 70 mm without cloth; springs as told well inside it only, as
    between a place that is carried and one that is not there is a little of both."""
    x = 3.0 * np.arange(-50, 51)
    gap = np.abs(x) < 35.0
    stack = stack_of(
        (FOAM,),
        np.full((1, len(x)), 25.0),
        give_mm_per_kpa=np.where(np.abs(x) < 32.0, give, 0.0),
        preload_kpa=np.where(gap, preload, 0.0),
        carried=np.where(gap, carried, 1.0),
        depth_mm=np.where(gap, depth_mm, 0.0),
    )
    points = np.stack([x, -sag_mm * (x / 150.0) ** 2], axis=1)
    ends = np.array([0, len(x) - 1])
    done = settle_section(
        points, np.tile([0.0, 1.0], (len(x), 1)), stack, tension_n_per_mm=0.15, conditions=Conditions(fixed=ends)
    )
    assert done.converged
    return done, gap


def test_springs_do_not_reach_into_an_open_gap():
    """What lies at the bottom of a gap is hard, whatever the springs beside it do."""
    (hard, gap), (sprung, _) = over_gap(90.0, depth_mm=1.0), over_gap(90.0, depth_mm=1.0, give=5.0)
    assert hard.pressure_kpa[gap].max() > 0.5, "the padding reaches the bottom"
    assert np.array_equal(hard.heights_mm, sprung.heights_mm)
    assert not sprung.spring_mm.any()
    held, _ = over_gap(90.0, depth_mm=1.0, give=5.0, preload=3.0)
    assert np.array_equal(hard.heights_mm, held.heights_mm)


def test_an_open_gap_of_no_depth_is_a_board():
    """With nothing to sink, carried or not is one and the same."""
    (open_, _), (board, _) = over_gap(90.0, depth_mm=0.0), over_gap(90.0, depth_mm=0.0, carried=1.0)
    assert open_.heights_mm == pytest.approx(board.heights_mm, abs=1e-9)
    assert open_.pressure_kpa == pytest.approx(board.pressure_kpa, abs=1e-9)
    assert open_.compression == pytest.approx(board.compression, abs=1e-9)


def test_padding_half_carried_pushes_with_half_of_each():
    """Between all and nothing the two columns share the place, so pressure and compression are the means of theirs, at
    the same heights. A tension of nought leaves the heights where they are given."""
    x = np.array([0.0, 5.0, 10.0])
    heights = np.array([18.0, 17.0, 16.0])

    def at(carried):
        stack = stack_of((FOAM,), np.full((1, 3), 25.0), give_mm_per_kpa=2.0, carried=carried, depth_mm=4.0)
        held = np.arange(3)
        return settle_section(
            np.stack([x, 0 * x], axis=1),
            np.tile([0.0, 1.0], (3, 1)),
            stack,
            tension_n_per_mm=0.2,
            conditions=Conditions(fixed=held, fixed_mm=heights),
        )

    whole, none, part = at(1.0), at(0.0), at(0.25)
    for name in ("pressure_kpa", "compression", "spring_mm"):
        mean = 0.25 * getattr(whole, name) + 0.75 * getattr(none, name)
        assert getattr(part, name) == pytest.approx(mean, rel=1e-9), name
    assert whole.spring_mm.min() > 0.1
    assert not none.spring_mm.any()
    # Sunk by 4 mm there is that much less to press.
    assert (none.compression * 25.0)[:, 0] == pytest.approx(25.0 - 4.0 - heights, abs=0.01)


def test_a_cover_over_an_open_gap_does_not_lift_off_anything():
    """Over a trough it stands off padding that is carried, and which is told; over a gap there is nothing to leave."""
    (carried, gap), (open_, _) = over_gap(-90.0, depth_mm=30.0, carried=1.0), over_gap(-90.0, depth_mm=30.0)
    assert open_.heights_mm == pytest.approx(carried.heights_mm, abs=1e-6), "neither is touched there"
    assert carried.lift_mm[gap].min() > 5.0
    assert carried.lift_mm[gap] == pytest.approx(carried.heights_mm[gap] - 25.0, abs=1e-9)
    assert not open_.lift_mm[gap].any()
    beyond = ~gap
    assert open_.lift_mm[beyond] == pytest.approx(carried.lift_mm[beyond], abs=1e-6)


def test_the_cover_pushes_back_with_all_that_it_presses():
    """In balance: over the whole line, what the springs carry is what pushes on it, as its ends are free."""
    x = 5.0 * np.arange(21)
    push = np.linspace(0.01, 0.05, 21)
    done = settle_section(
        np.stack([x, 0 * x], axis=1),
        np.tile([0.0, 1.0], (21, 1)),
        bed(21),
        tension_n_per_mm=0.5,
        conditions=Conditions(push_n=push),
    )
    assert done.converged
    depth, per_mm2 = -done.heights_mm, 1e-3 * RATE_KPA_PER_MM
    assert per_mm2 * np.trapezoid(depth, x) == pytest.approx(push.sum(), rel=1e-6)
    # The same about the left end, where what the cover pulls along its slope turns as well.
    moments = 5.0 / 6.0 * (depth[:-1] * (2 * x[:-1] + x[1:]) + depth[1:] * (x[:-1] + 2 * x[1:]))
    pull = 0.5 * (np.diff(depth) / np.hypot(np.diff(x), np.diff(depth)) * np.diff(x)).sum()
    assert per_mm2 * moments.sum() + pull == pytest.approx(push @ x, rel=1e-6)


def test_newtons_of_one_millimetre_or_of_two_are_the_same_rest():
    """Twice the tension on padding twice as firm comes to the same rest, at twice the pressure and energy."""
    x = 4.0 * np.arange(-20, 21)
    points = np.stack([x, -0.4 * np.abs(x)], axis=1)
    ends, up = np.array([0, 40]), np.tile([0.0, 1.0], (41, 1))
    found = []
    for factor in (1.0, 2.0):
        stack = (
            bed(41)
            if factor == 1.0
            else stack_of((), np.zeros((0, 41)), give_mm_per_kpa=0.5 / RATE_KPA_PER_MM - LEAST_GIVE_MM_PER_KPA)
        )
        found.append(
            settle_section(points, up, stack, tension_n_per_mm=0.3 * factor, conditions=Conditions(fixed=ends))
        )
    one, two = found
    assert one.heights_mm.min() < -1.0
    assert two.heights_mm == pytest.approx(one.heights_mm, abs=1e-7)
    assert two.pressure_kpa == pytest.approx(2.0 * one.pressure_kpa, rel=1e-6, abs=1e-6)
    assert two.energy[-1] == pytest.approx(2.0 * one.energy[-1], rel=1e-6)
