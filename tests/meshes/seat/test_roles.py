"""What a line is decides what follows from it; what it is called never does."""

from dataclasses import replace

import numpy as np
import pytest

from meshes.seat.build import build
from meshes.seat.names import numbered, told_apart
from meshes.seat.panels import PanelRole
from meshes.support.line_roles import LineRole
from tests.pads import FLAT, sheet_of

CROOKED = FLAT.replace(
    "front_width = 400\nrear_width = 400\n", "front_left = 196\nfront_right = 204\nrear_left = 200\nrear_right = 200\n"
)
INSET = """
[pad.inset]
front = 60
rear = 60
left = 60
right = 60
corner_radius = 20
"""
HOLLOW = """
[[pad.profile]]
direction = "along"
at = 0
points = [[0, 0], [150, -30], [300, 0]]

[[pad.profile]]
direction = "across"
at = 150
points = [[0, -30], [100, -24], [200, 0]]
"""
PADDED = """
[[pad.layer]]
material = "foam_medium"
thickness = 25
where = "all"
"""
PLEATS = """
[pad.pleats]
count = 4
filler_thickness = 8
"""
# Everything that a line, an edge or a panel is called anywhere.
TAKEN = ("centre line", "inset", "centre valley", "left valley 1", "right edge", "front tack line", "face", "band")


def drawn(base: str, *points: str, tied: bool = False) -> str:
    """A sheet with plain lines drawn over its face."""
    lines = (
        f'[[pad.line]]\nname = "plain {k}"\npoints = {line}\ntied = {str(tied and k == 0).lower()}\n'
        for k, line in enumerate(points)
    )
    return base + "".join(lines)


def renamed(pad, name):
    return replace(pad, lines=(replace(pad.lines[0], name=name), *pad.lines[1:]))


def assert_same(one, two):
    """Whether two built pads agree in everything but what lines are called."""
    assert np.array_equal(one.surface.vertices, two.surface.vertices)
    assert np.array_equal(one.surface.triangles, two.surface.triangles)
    assert list(one.surface.curves) == list(two.surface.curves)
    assert [p.name for p in one.panels] == [p.name for p in two.panels]
    assert [p.role for p in one.panels] == [p.role for p in two.panels]
    assert [p.mirror_of for p in one.panels] == [p.mirror_of for p in two.panels]
    for a, b in zip(one.panels, two.panels, strict=True):
        assert np.array_equal(a.centre, b.centre)
        assert np.array_equal(a.grain, b.grain)
        assert [(e.name, e.kind, e.role, e.seam) for e in a.rim] == [(e.name, e.kind, e.role, e.seam) for e in b.rim]
    assert [s.name for s in one.seams] == [s.name for s in two.seams]


@pytest.mark.parametrize("name", TAKEN)
def test_what_a_line_is_called_changes_nothing(name):
    # Off the centre, from the front to the rear, on a frame that is not the same left and right.
    pad = sheet_of(drawn(CROOKED, "[[60, 0], [60, 300]]")).pads[0]
    assert_same(build(pad, edge_mm=20.0), build(renamed(pad, name), edge_mm=20.0))


@pytest.mark.parametrize("name", TAKEN)
def test_a_pleated_pad_keeps_its_valleys_whatever_a_line_is_called(name):
    pad = sheet_of(drawn(FLAT + PLEATS, "[[0, 250], [200, 250]]")).pads[0]
    one, two = build(pad, edge_mm=20.0), build(renamed(pad, name), edge_mm=20.0)
    assert_same(one, two)
    assert all(np.array_equal(a, b) for a, b in zip(one.pleats.valleys, two.pleats.valleys, strict=True))


def test_only_the_line_that_is_tied_ties():
    # Over a hollow, where a cover that is not tied spans from rim to rim.
    pad = sheet_of(drawn(FLAT + HOLLOW + INSET + PADDED, "[[0, 150], [140, 150]]", tied=True)).pads[0]
    plain, called = (build(p, edge_mm=20.0, tension_n_per_mm=0.3) for p in (pad, renamed(pad, "inset")))
    assert_same(plain, called)
    # And to be sure that tying the inset too would be seen:
    both = build(replace(pad, inset=replace(pad.inset, tied=True)), edge_mm=20.0, tension_n_per_mm=0.3)
    assert np.abs(both.surface.vertices - plain.surface.vertices).max() > 0.1


def test_sides_in_a_name_do_not_part_a_seam_across_the_centre():
    """A line of a pad that is the same left and right runs through its centre, "right" in its name or not."""
    pad = sheet_of(drawn(FLAT, "[[0, 150], [200, 150]]")).pads[0]
    for name in ("cross seam", "right cross seam"):
        one = build(renamed(pad, name), edge_mm=20.0)
        assert sum(panel.role is PanelRole.FACE for panel in one.panels) == 2
        assert sum("face / " in s.name and s.b.endswith("face") for s in one.seams) == 1


def test_two_lines_of_one_name_are_two_lines():
    pad = sheet_of(drawn(CROOKED, "[[-60, 0], [-60, 300]]", "[[60, 0], [60, 300]]")).pads[0]
    twins = replace(pad, lines=tuple(replace(line, name="pipe") for line in pad.lines))
    assert_same(build(pad, edge_mm=20.0), build(twins, edge_mm=20.0))
    assert sum(panel.role is PanelRole.FACE for panel in build(twins, edge_mm=20.0).panels) == 3


def test_of_a_mirrored_pair_the_right_panel_is_the_one_that_is_drawn():
    for text in (drawn(FLAT, "[[60, 0], [60, 300]]", "[[120, 0], [120, 300]]"), FLAT + INSET):
        for panel in build(sheet_of(text).pads[0], edge_mm=20.0).panels:
            middle = panel.surface.vertices[:, 0].mean()
            if panel.mirror is None:
                assert (panel.mirror_of is None) == (middle > 0)


def test_rim_edges_know_what_they_lie_on():
    pad = build(sheet_of(FLAT + INSET).pads[0], edge_mm=20.0)
    inset = next(panel for panel in pad.panels if panel.role is PanelRole.INSET)
    assert {edge.role for edge in inset.rim} == {LineRole.INSET}
    found = {edge.role for panel in pad.panels for edge in panel.rim}
    assert found == {LineRole.INSET, LineRole.CORNER, LineRole.EDGE, LineRole.SIDE_SEAM, LineRole.TACK}
    for panel in pad.panels:
        for edge in panel.rim:
            assert (edge.seam is None) == (edge.role is LineRole.TACK)


WORDS = (["a"], ["a", "a"], ["a", "a 1", "a"], ["a 2", "a", "a", "a"], ["a", "b", "a", "b", "a 2", "a 2", "a 2 1"])


@pytest.mark.parametrize("words", WORDS)
@pytest.mark.parametrize("make", [numbered, told_apart])
def test_no_two_names_are_alike_and_each_begins_with_its_word(make, words):
    names = make(words)
    assert len(set(names)) == len(words)
    assert all(name.startswith(word) for name, word in zip(names, words, strict=True))
    assert all(name == word for name, word in zip(names, words, strict=True) if words.count(word) == 1)


def test_names_that_are_taken_stay_so():
    assert told_apart(["a", "b"], {"a", "a 2"}) == ["a 3", "b"]
