"""A frozen mapping: what was put in, whatever happens to it later and wherever it is sent."""

import copy
import pickle

import pytest

from flatten.leather.card import CARDS
from meshes.base.frozen_map import FrozenMap
from meshes.base.surface import Surface


def test_later_changes_of_what_it_was_made_from_do_not_reach_it():
    made_from = {"front": 1, "rear": 2}
    frozen = FrozenMap(made_from)
    made_from["front"] = 3
    assert frozen == {"front": 1, "rear": 2}
    assert list(frozen) == ["front", "rear"]


def test_it_takes_no_item():
    with pytest.raises(TypeError):
        FrozenMap({"front": 1})["front"] = 2


@pytest.mark.parametrize("again", [copy.deepcopy, lambda value: pickle.loads(pickle.dumps(value))])
def test_it_arrives_as_it_left(again):
    frozen = FrozenMap({"rear": (1.0, 2.0), "front": ()})
    assert again(frozen) == frozen
    assert list(again(frozen)) == ["rear", "front"]
    with pytest.raises(TypeError):
        again(frozen)["rear"] = ()
    assert again(CARDS["soft"]) == CARDS["soft"]


def test_arrays_of_a_surface_stay_locked_where_it_arrives():
    seat = Surface([[0, 0, 0], [1, 0, 0], [0, 1, 0]], [[0, 1, 2]], {"rim": [0, 1, 2]})
    there = pickle.loads(pickle.dumps(seat))
    assert not there.vertices.flags.writeable
    assert not there.curves["rim"].flags.writeable
    assert there.curves.keys() == seat.curves.keys()
