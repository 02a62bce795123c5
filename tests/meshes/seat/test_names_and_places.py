"""Names that are unique whatever is called what, and where pads stand in the seat."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meshes.records.pad import SeatPose
from meshes.seat.assembly import placed, placement
from meshes.seat.names import numbered, told_apart
from tests.pads import FLAT, sheet_of

WORDS = st.lists(st.sampled_from(["a", "b", "a 1", "a 2", "b 1", "a 1 1"]), max_size=9)


@given(WORDS)
def test_numbered_names_are_unique_and_keep_what_was_alone(words):
    names = numbered(words)
    assert len(set(names)) == len(names) == len(words)
    for word, name in zip(words, names, strict=True):
        assert name == word if words.count(word) == 1 else name.startswith(f"{word} ")


@given(WORDS, st.sets(st.sampled_from(["a", "a 1", "a 2", "c"])))
def test_names_told_apart_are_unique_and_none_is_taken(words, taken):
    names = told_apart(words, taken)
    assert len(set(names)) == len(names) == len(words)
    assert not set(names) & taken
    for k, (word, name) in enumerate(zip(words, names, strict=True)):
        first = word not in taken and word not in words[:k]
        assert name == word if first and word not in names[:k] else name.startswith(word)


def test_numbers_count_from_one_or_go_on_from_the_second():
    assert numbered(["a", "b", "a"]) == ["a 1", "b", "a 2"]
    assert told_apart(["a", "b", "a"]) == ["a", "b", "a 2"]
    assert numbered(["a", "a", "a 1"]) == ["a 2", "a 3", "a 1"]


def pad_of(**changes):
    return replace(sheet_of(FLAT).pads[0], **changes)


def test_a_cushion_falls_to_the_rear_by_its_rake_and_a_back_leans_back_by_it():
    tilt = np.deg2rad(10.0)
    forward, up = np.array([[0.0, 100.0, 0.0]]), np.array([[0.0, 0.0, 100.0]])
    cushion = placement(pad_of(pose=SeatPose((5.0, 6.0, 7.0), 10.0)))
    assert placed(forward, cushion)[0] == pytest.approx([5.0, 6 + 100 * np.cos(tilt), 7 - 100 * np.sin(tilt)])
    assert placed(up, cushion)[0] == pytest.approx([5.0, 6 + 100 * np.sin(tilt), 7 + 100 * np.cos(tilt)])
    for kind in ("backrest", "side"):
        back = placement(pad_of(kind=kind, pose=SeatPose(rake_deg=10.0)))
        # From bottom to top it rises and goes to the rear; its face looks to the front.
        assert placed(forward, back)[0] == pytest.approx([0.0, 100 * np.sin(tilt), 100 * np.cos(tilt)])
        assert placed(up, back)[0] == pytest.approx([0.0, -100 * np.cos(tilt), 100 * np.sin(tilt)])


@pytest.mark.parametrize(("facing", "right"), [(0.0, [1, 0]), (90.0, [0, 1]), (180.0, [-1, 0]), (-90.0, [0, -1])])
def test_facing_turns_a_pad_about_the_upright_axis(facing, right):
    matrix = placement(pad_of(kind="side", pose=SeatPose(rake_deg=7.0, facing_deg=facing)))
    assert matrix[:2, 0] == pytest.approx(right, abs=1e-12)
    assert matrix[2, 0] == pytest.approx(0.0, abs=1e-12)
    # However it is turned, it stays as large and the same way round.
    assert matrix[:3, :3] @ matrix[:3, :3].T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(matrix[:3, :3]) == pytest.approx(1.0)
    assert matrix[3] == pytest.approx([0, 0, 0, 1])
