"""Layouts of pleats: they fill the room exactly, are even, and part the cut as seldom as they can."""

from itertools import combinations, pairwise

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from meshes.pleats.layout import OUTER_SHARE, LayoutFault, laid_at, lay_out_pleats, outer_kept
from meshes.pleats.parts import Parts, part_cut
from meshes.records.pleats import Joining, Spacing


@given(st.integers(1, 60), st.floats(50.0, 2000.0), st.booleans())
def test_widths_are_even_and_add_up_exactly(count, room, halves):
    layout = lay_out_pleats(Spacing(count=count, half_at_sides=halves), -room / 2, room / 2, even=True)
    assert layout.edges[-1] - layout.edges[0] == room
    assert all(a == -b for a, b in zip(layout.edges, reversed(layout.edges), strict=True))
    assert len(layout.widths) == count + 2 * halves
    inner = layout.widths[1:-1] if halves else layout.widths
    assert inner == pytest.approx([room / (count + halves)] * count)
    if halves:
        assert layout.widths[0] == pytest.approx(0.5 * inner[0])
    assert not layout.notes


@given(st.floats(20.0, 90.0), st.floats(200.0, 1500.0), st.booleans())
def test_a_pitch_is_met_as_nearly_as_a_whole_number_allows(pitch, room, halves):
    layout = lay_out_pleats(Spacing(pitch=pitch, half_at_sides=halves), -room / 2, room / 2, even=True)
    units = len(layout.widths) - halves
    nearest = min(range(1 + halves, 200), key=lambda k: abs(room / k - pitch))
    assert abs(room / units - pitch) == pytest.approx(abs(room / nearest - pitch))
    assert bool(layout.notes) == (abs(room / units - pitch) > 0.001)


def test_what_was_rounded_is_said():
    layout = lay_out_pleats(Spacing(pitch=50.0), -554.0, 554.0, even=True)
    assert layout.notes == ("a pitch of 50 mm became 50.36 mm: 22 pleats fill 1108.0 mm",)


def test_listed_widths_keep_their_proportions():
    layout = lay_out_pleats(Spacing(widths=(40.0, 60.0, 60.0, 40.0)), -101.0, 101.0, even=True)
    assert layout.widths == pytest.approx([40.4, 60.6, 60.6, 40.4])
    assert "scaled to 202.0 mm" in layout.notes[0]


def test_listed_widths_with_halves_leave_the_rest_to_the_sides():
    layout = lay_out_pleats(Spacing(widths=(50.0, 50.0, 50.0), half_at_sides=True), -100.0, 100.0, even=True)
    assert layout.widths == pytest.approx([25.0, 50.0, 50.0, 50.0, 25.0])


def test_a_crooked_pad_may_have_uneven_pleats():
    layout = lay_out_pleats(Spacing(widths=(40.0, 60.0)), -30.0, 70.0, even=False)
    assert layout.valleys == pytest.approx([10.0])


@pytest.mark.parametrize(
    ("spacing", "code", "words"),
    [
        (Spacing(), "G121", "neither count"),
        (Spacing(count=0), "G121", "at least one"),
        (Spacing(count=500), "G121", "at most 120"),
        (Spacing(widths=(40.0, 60.0)), "G123", "not the same from both sides"),
        (Spacing(widths=(40.0, 40.0)), "G123", "add up to 80 mm"),
        (Spacing(widths=(99.0,), half_at_sides=True), "G123", None),
    ],
)
def test_layouts_that_cannot_be(spacing, code, words):
    room = 100.0 if not spacing.half_at_sides else 90.0
    with pytest.raises(LayoutFault, match=words) as found:
        lay_out_pleats(spacing, -room / 2, room / 2, even=True)
    assert found.value.code == code


def test_valleys_of_another_pad_are_taken_over():
    layout = laid_at([-120.0, -50.0, 0.0, 50.0, 120.0], -100.0, 100.0)
    assert layout.edges == (-100.0, -50.0, 0.0, 50.0, 100.0)
    assert layout.notes == ("2 valleys of the other pad find no room on this one",)
    with pytest.raises(LayoutFault, match="none of the other pad's valleys"):
        laid_at([300.0], -100.0, 100.0)


PITCH, ROOMS = st.floats(20.0, 90.0), st.floats(200.0, 1500.0)


@settings(max_examples=200)
@given(PITCH, ROOMS)
def test_no_outer_pleat_is_less_than_two_thirds_of_the_pitch(pitch, room):
    layout = lay_out_pleats(Spacing(pitch=pitch), -room / 2, room / 2, even=True)
    assert min(layout.widths[0], layout.widths[-1]) >= OUTER_SHARE * pitch - 1e-6


@settings(max_examples=200)
@given(PITCH, ROOMS, st.booleans(), st.booleans())
def test_valleys_of_another_pad_leave_no_sliver_outside(pitch, room, middle, halves):
    # With two valleys or fewer, none is there to be left out.
    assume(room >= 2.5 * pitch)
    # A wider pad's valleys, with one on the centre line or a pleat across it, as far as they meet this one.
    shift = 0.0 if middle else 0.5
    places = [(k + shift) * pitch for k in range(-80, 80) if abs(k + shift) * pitch < 0.5 * room]
    kept = outer_kept(places, -room / 2, room / 2, halves=halves)
    assert kept == kept[::-1]
    # No more than the outermost at either end is left out.
    assert all(kept[1:-1])
    layout = laid_at([p for p, stays in zip(places, kept, strict=True) if stays], -room / 2, room / 2)
    assert sum(layout.widths) == pytest.approx(room)
    assert layout.widths == pytest.approx(layout.widths[::-1])
    share = OUTER_SHARE * (0.5 if halves else 1.0)
    assert share * pitch - 1e-2 <= layout.widths[0] <= (1.0 + share) * pitch + 1e-2


@settings(max_examples=300)
@given(st.integers(3, 40), ROOMS, st.booleans(), st.floats(0.0, 0.6), st.floats(0.0, 0.6), st.booleans())
def test_outer_pleats_keep_two_thirds_where_the_region_is_narrowest(count, room, halves, low, high, by_pitch):
    """lost: up to 0.6 pitches at either side; a pleat of half width keeps two thirds of that half."""
    pitch = room / (count + halves)
    lost = (low * pitch, high * pitch)
    asked = Spacing(pitch=pitch, half_at_sides=halves) if by_pitch else Spacing(count=count, half_at_sides=halves)
    layout = lay_out_pleats(asked, 0.0, room, even=False, lost=lost)
    share = 0.5 if halves else 1.0
    inner = layout.widths[1:-1]
    assert sum(layout.widths) == pytest.approx(room)
    assert inner == pytest.approx([inner[0]] * len(inner))
    for outer, gone in ((layout.widths[0], lost[0]), (layout.widths[-1], lost[1])):
        assert outer - gone >= OUTER_SHARE * share * inner[0] - 1e-2
        # No wider than it has to be: else it is as wide as it was meant to be.
        assert outer == pytest.approx(max(share * inner[0], gone + OUTER_SHARE * share * inner[0]), abs=1e-2)
    moved = max(lost) > (1.0 - OUTER_SHARE) * share * inner[0] + 1e-2
    assert any("two thirds of a pleat" in note for note in layout.notes) or not moved
    assert by_pitch or len(inner) + 2 == count + 2 * halves


def test_a_side_that_runs_in_by_more_than_a_pleat_is_told():
    layout = lay_out_pleats(Spacing(count=8), -200.0, 200.0, even=True, lost=(60.0, 60.0))
    assert layout.widths == pytest.approx([50.0] * 8)
    (note,) = layout.notes
    assert "comes to 0.0 mm" in note
    assert "shape = edge" in note


@settings(max_examples=200)
@given(PITCH, ROOMS, st.floats(0.0, 0.9))
def test_valleys_of_another_pad_leave_no_sliver_where_this_one_narrows(pitch, room, share):
    assume(room >= 5.0 * pitch)
    lost = (share * pitch, share * pitch)
    places = [k * pitch for k in range(-80, 80) if abs(k * pitch) < 0.5 * room]
    kept = outer_kept(places, -room / 2, room / 2, halves=False, lost=lost)
    stay = [p for p, stays in zip(places, kept, strict=True) if stays]
    assert room / 2 - lost[1] - stay[-1] >= OUTER_SHARE * pitch - 1e-2
    # Nor more left out than that takes.
    assert room / 2 - lost[1] - stay[-1] <= (1.0 + OUTER_SHARE) * pitch + 1e-2


def test_two_valleys_stay_both_or_go_both():
    for reach in (50.0, 60.0, 100.0):
        kept = outer_kept([-45.0, 45.0], -reach, reach, halves=False)
        assert kept == [True, True]


@pytest.mark.parametrize(("widths", "halves", "told"), [
    ((30.0, 60.0, 60.0, 30.0), False, 2), ((50.0, 60.0, 60.0, 50.0), False, 0),
    ((64.0, 64.0, 64.0), True, 1), ((50.0, 50.0, 50.0), True, 0),
])  # fmt: skip
def test_listed_widths_are_kept_and_a_sliver_among_them_is_told(widths, halves, told):
    room = sum(widths) if not halves else 200.0
    layout = lay_out_pleats(Spacing(widths=widths, half_at_sides=halves), -room / 2, room / 2, even=True)
    assert layout.widths[halves : len(layout.widths) - halves] == pytest.approx(widths)
    assert sum("kept as listed" in note for note in layout.notes) == told


def small(size, most):
    return lambda i, j: sum(size[i:j]) <= most + 1e-9


def test_strips_are_parted_at_every_valley():
    assert part_cut(Joining(construction="strips"), small([50] * 4, 1), [50] * 4, even=True).joins == (1, 2, 3)


def test_joins_are_asked_for_by_number():
    assert part_cut(Joining(joins=(8, 2)), small([1] * 10, 1), [1] * 10, even=True).joins == (2, 8)
    with pytest.raises(LayoutFault, match="no valley 10; the 10 pleats have valleys 1 to 9") as found:
        part_cut(Joining(joins=(5, 10)), small([1] * 10, 1), [1] * 10, even=False)
    assert found.value.code == "G125"
    with pytest.raises(LayoutFault, match="none at valley 7"):
        part_cut(Joining(joins=(3,)), small([1] * 10, 1), [1] * 10, even=True)


def test_parts_name_their_pleats():
    assert Parts((2, 5)).runs(7) == ((0, 2), (2, 5), (5, 7))


def fewest_by_trial(size, most, even):
    """Every set of joins tried, fewest first."""
    count = len(size)
    for number in range(count):
        for joins in combinations(range(1, count), number):
            if even and any(count - k not in joins for k in joins):
                continue
            if all(sum(size[a:b]) <= most + 1e-9 for a, b in pairwise((0, *joins, count))):
                return number
    return None


@given(st.lists(st.integers(20, 60), min_size=1, max_size=5), st.booleans(), st.booleans(), st.integers(60, 200))
def test_joins_are_the_fewest_there_can_be(half, centre, even, most):
    size = [*half, 40, *half[::-1]] if centre else [*half, *half[::-1]]
    joins = part_cut(Joining(joins="auto"), small(size, most), size, even=even).joins
    assert all(sum(size[a:b]) <= most for a, b in pairwise((0, *joins, len(size))))
    assert len(joins) == fewest_by_trial(size, most, even)
    if even:
        assert all(len(size) - k in joins for k in joins)


def test_a_pleat_larger_than_the_largest_part_is_told():
    with pytest.raises(LayoutFault, match="pleat 1 alone") as found:
        part_cut(Joining(joins="auto"), small([80, 80], 70), [80, 80], even=True)
    assert found.value.code == "G124"
