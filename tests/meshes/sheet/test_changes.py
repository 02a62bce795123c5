"""Values changed as a trimmer would: in the sheet's own words and unit, on a step of the tape, the rest untouched."""

import copy

import pytest
from hypothesis import given
from hypothesis import strategies as st

from meshes.base.problems import SheetChange, Vary, Way
from meshes.sheet.changes import changed, replaced, scale_values, written

PAD = {
    "kind": "cushion",
    "outline": {"depth": 300, "front_width": "40 cm"},
    "sides": {"front": {"drop": 80, "band": True}, "rear": {"drop": 60.5}},
    "layer": [{"thickness": 20}, {"thickness": "2 cm"}, {"material": "wadding"}],
    "pleats": {"count": 9, "fan": 1.4, "widths": [40, 50]},
}
MM, INCHES = {"pad": [PAD]}, {"unit": "in", "pad": [PAD]}
UPRIGHT = {
    "pad": [
        {"kind": "cushion", "sides": {"front": {"drop": 80}}},
        {"kind": "backrest", "sides": {"bottom": {"drop": 80}, "front": {"drop": 1}}, "outline": {"top_width": 300}},
        {"kind": "side", "sides": {"bottom": {"drop": 70}}},
    ]
}


def of(*keys):
    return ("pad", 0, *keys)


def moved(tables, way, factor, *keys):
    return [(c.keys[2:], c.was, c.value) for c in scale_values(tables, Vary(of(*keys), way), factor)]


def test_changes_are_made_in_a_copy_and_nowhere_else():
    before = copy.deepcopy(MM)
    new = changed(
        MM,
        (
            SheetChange(of("sides", "front", "drop"), 80, 50),
            SheetChange(of("sides", "front", "band"), True, None),
            SheetChange(of("layer", 1, "thickness"), "2 cm", 15),
            SheetChange(of("inset", "margin"), None, 40),
            SheetChange(of("outline", "nothing"), 1, None),
        ),
    )
    assert before == MM
    want = copy.deepcopy(PAD)
    want["sides"]["front"] = {"drop": 50}
    want["layer"][1]["thickness"] = 15
    want["inset"] = {"margin": 40}
    assert new == {"pad": [want]}


def test_a_number_is_scaled_and_kept_on_a_step_of_the_tape():
    """Whole millimetres from 10 mm on, twentieths below; on in the direction in which it moves."""
    assert moved(MM, Way.LESS, 0.7, "outline", "depth") == [(("outline", "depth"), 300, 210)]
    assert moved(MM, Way.LESS, 0.33, "sides", "rear", "drop") == [(("sides", "rear", "drop"), 60.5, 19)]
    assert moved(MM, Way.MORE, 1.25, "sides", "rear", "drop") == [(("sides", "rear", "drop"), 60.5, 76)]
    assert moved(MM, Way.LESS, 0.1, "sides", "rear", "drop") == [(("sides", "rear", "drop"), 60.5, 6.05)]
    assert moved(MM, Way.LESS, 0.101, "sides", "front", "drop") == [(("sides", "front", "drop"), 80, 8.05)]
    assert moved(MM, Way.MORE, 0.101, "sides", "front", "drop") == [(("sides", "front", "drop"), 80, 8.1)]


def test_lengths_with_a_unit_count_as_what_they_are():
    assert moved(MM, Way.LESS, 0.7, "outline", "front_width") == [(("outline", "front_width"), "40 cm", 280)]
    # In an inch sheet 40 cm are 15.748 in; seven tenths of that, down to a sixteenth.
    assert moved(INCHES, Way.LESS, 0.7, "outline", "front_width") == [(("outline", "front_width"), "40 cm", 11.0)]
    assert moved(INCHES, Way.MORE, 0.7, "outline", "front_width") == [(("outline", "front_width"), "40 cm", 11.0625)]


def test_counts_stay_whole_and_evenness_counts_from_one():
    assert moved(MM, Way.LESS, 0.7, "pleats", "count") == [(("pleats", "count"), 9, 6)]
    assert moved(MM, Way.MORE, 1.4, "pleats", "count") == [(("pleats", "count"), 9, 13)]
    assert moved(MM, Way.EVEN, 0.5, "pleats", "fan") == [(("pleats", "fan"), 1.4, 1.2)]
    assert moved(MM, Way.EVEN, 0.0, "pleats", "fan") == [(("pleats", "fan"), 1.4, 1)]
    even = {"pad": [{"pleats": {"fan": 1.0}}]}
    assert moved(even, Way.EVEN, 0.5, "pleats", "fan") == []


def test_a_star_stands_for_every_item_and_usual_values_count_where_none_is_written():
    assert moved(MM, Way.LESS, 0.5, "layer", "*", "thickness") == [
        (("layer", 0, "thickness"), 20, 10),
        (("layer", 1, "thickness"), "2 cm", 10),
    ]
    assert moved(MM, Way.LESS, 0.5, "sides", "*", "edge_radius") == [
        (("sides", "front", "edge_radius"), 10.0, 5),
        (("sides", "rear", "edge_radius"), 10.0, 5),
    ]
    assert moved(MM, Way.LESS, 0.5, "pleats", "widths") == [
        (("pleats", "widths", 0), 40, 20),
        (("pleats", "widths", 1), 50, 25),
    ]
    # What is no number stays, and what has no table has no usual value.
    assert moved(MM, Way.LESS, 0.5, "sides", "front", "band") == []
    assert moved(MM, Way.LESS, 0.5, "inset", "corner_radius") == []
    assert moved({"pad": [{"kind": "cushion"}]}, Way.LESS, 0.5, "pleats", "taper") == []
    assert moved({"pad": [{"pleats": {}}]}, Way.LESS, 0.5, "pleats", "taper") == [(("pleats", "taper"), 25.0, 12)]
    assert moved(MM, Way.LESS, 0.5, "none", "*", "thickness") == []
    zero = {"pad": [{"sides": {"front": {"drop": 0}}}]}
    assert moved(zero, Way.LESS, 0.5, "sides", "front", "drop") == []


def test_a_value_is_replaced_unless_it_stands_there():
    vary = Vary(of("sides", "front", "band"), Way.SET)
    assert replaced(MM, vary, True) == ()
    assert replaced(MM, vary, None) == (SheetChange(of("sides", "front", "band"), True, None),)
    assert replaced(MM, Vary(of("layer", 1, "thickness"), Way.SET), 5) == (
        SheetChange(of("layer", 1, "thickness"), "2 cm", 5),
    )
    assert replaced(MM, Vary(of("layer", 3, "thickness"), Way.SET), None) == ()
    assert replaced(MM, Vary(of("layer", -1, "material"), Way.SET), None) == ()


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        (("pad", 0, "sides", "front", "drop"), ("pad", 0, "sides", "front", "drop")),
        (("pad", 1, "sides", "rear", "drop"), ("pad", 1, "sides", "top", "drop")),
        # What is written so stays so, for it is what the reader found.
        (("pad", 1, "sides", "front", "drop"), ("pad", 1, "sides", "front", "drop")),
        (("pad", 2, "sides", "front", "drop"), ("pad", 2, "sides", "bottom", "drop")),
        (("pad", 1, "outline", "rear_width"), ("pad", 1, "outline", "top_width")),
        (("pad", 7, "outline", "rear_width"), ("pad", 7, "outline", "rear_width")),
        (("cover", "tension"), ("cover", "tension")),
    ],
)
def test_paths_are_in_the_words_of_the_file(keys, said):
    assert written(UPRIGHT, keys) == said


@given(st.floats(0.05, 5000.0), st.floats(0.05, 4.0), st.booleans())
def test_no_number_is_rounded_by_more_than_a_step_or_against_its_way(value, factor, inch):
    tables = {"unit": "in" if inch else "mm", "pad": [{"sides": {"front": {"drop": value}}}]}
    for way in (Way.LESS, Way.MORE):
        for change in scale_values(tables, Vary(of("sides", "front", "drop"), way), factor):
            step = 1 / 16 if inch else 1.0 if factor * value >= 10.0 else 1 / 20
            off = change.value - factor * value
            assert -1e-6 <= (off if way is Way.MORE else -off) <= step + 1e-6
            assert abs(change.value / step - round(change.value / step)) < 1e-4
