"""What the page tells of two answers: what changed, which variant differs, hides and pieces on them. Invented data."""

from types import SimpleNamespace

import numpy as np
import pytest

from flatten.bench.choices import compared, refused_variant
from flatten.bench.differences import DRAFT_TOLD_MM, LENGTH_TOLD_MM, MOST_CHANGES, changes
from flatten.bench.hides_shown import drawing_faults, hides_drawn, pieces_laid
from flatten.bench.told import TOLD_STRAIGHT_MM, radius
from flatten.variants.many import Variant
from flatten.variants.measures import Measure
from meshes.base.problems import Problem
from meshes.hides.records import Flaw, Hide


def answer(demand, verdict, radius, top, welt):
    piece = {"pad": "a", "name": "face", "verdict": verdict, "demand": demand}
    pad = {
        "name": "a",
        "top_mm": top,
        "wanted_radius_mm": 40.0,
        "sections": [{"name": "x", "side": "front", "radius_mm": radius}],
    }
    return {
        "level": "final",
        "unit": "mm",
        "pieces": [piece],
        "pads": [pad],
        "seams": [],
        "amounts": {"welt_mm": welt, "leather_m2": [["soft", 1.0]]},
    }


def test_what_changed_is_told_in_words():
    before = answer(0.089, "too tight", 20.0, 100.0, 500.0)
    rows = changes(before, answer(0.071, "fits", 30.0, 104.0, 512.0))
    assert [row["text"] for row in rows] == [
        "a face: asks 8.9 to 7.1 % of the leather, fits now",
        "a front: edge radius was 20 mm, is 30 mm",
        "a stands 4 mm higher",
        "welt 12 mm longer",
    ]
    assert [row["better"] for row in rows] == [True, True, None, None]
    assert changes(None, before) == changes(before, before) == []
    drafted = {**answer(0.071, "fits", 30.0, 104.0, 502.0), "level": "draft"}
    assert [row["text"] for row in changes(before, drafted)] == [
        "a front: edge radius was 20 mm, is 30 mm",
        "a stands 4 mm higher",
    ]


def test_better_is_nearer_to_what_is_wanted_and_less_asked():
    at = {20.0: False, 30.0: True, 41.0: True, 45.0: True, 70.0: False}
    for now, better in at.items():
        (row,) = changes(answer(0.07, "fits", 25.0, 100.0, 500.0), answer(0.07, "fits", now, 100.0, 500.0))
        assert row["better"] is better, now
    (more,) = changes(answer(0.07, "fits", 25.0, 100.0, 500.0), answer(0.08, "fits", 25.0, 100.0, 500.0))
    assert more == {"text": "a face: asks 7.0 to 8.0 % of the leather", "better": False}


def test_changes_turned_round_say_the_opposite():
    one, two = answer(0.07, "fits", 25.0, 100.0, 500.0), answer(0.07, "fits", 25.0, 106.0, 520.0)
    one["seams"], two["seams"] = [{"name": "s", "seat_mm": 100.0}], [{"name": "s", "seat_mm": 107.0}]
    two["amounts"] = {**two["amounts"], "leather_m2": [["soft", 0.75], ["firm", 0.5]]}
    there, back = changes(one, two), changes(two, one)
    assert [row["text"] for row in there] == [
        "a stands 6 mm higher", "welt 20 mm longer", "seam s 7 mm longer", "leather 0.25 m² more"
    ]  # fmt: skip
    opposite = {"higher": "lower", "longer": "shorter", "more": "less"}
    said = [row["text"] for row in there]
    for word, other in opposite.items():
        said = [text.replace(word, other) for text in said]
    assert [row["text"] for row in back] == said
    assert (there[-1]["better"], back[-1]["better"]) == (False, True)


def test_lengths_are_told_from_what_the_triangles_tell_apart():
    for level, least in (("final", LENGTH_TOLD_MM), ("draft", DRAFT_TOLD_MM)):
        before = answer(0.07, "fits", 25.0, 100.0, 500.0)
        for more, told in ((least - 0.01, 0), (least, 1)):
            now = {**answer(0.07, "fits", 25.0, 100.0, 500.0 + more), "level": level}
            assert len(changes(before, now)) == told


def test_pieces_that_come_and_go_are_told_and_never_more_than_can_be_read():
    before, now = answer(0.07, "fits", 25.0, 100.0, 500.0), answer(0.07, "fits", 25.0, 100.0, 500.0)
    now["pieces"] = [{**now["pieces"][0], "name": "band"}]
    assert [row["text"] for row in changes(before, now)] == [
        "a band: a piece that was not there before", "a face: is no piece any more"
    ]  # fmt: skip
    now["pieces"] = [{**now["pieces"][0], "name": f"strip {k}"} for k in range(2 * MOST_CHANGES)]
    assert len(changes(before, now)) == MOST_CHANGES


def test_variants_are_compared_with_the_first_and_refused_ones_say_why():
    tall, low = (Variant(name, {"height": Measure(mm, "mm"), "same": Measure("yes")}, ()) for name, mm in
                 (("tall", 120.0), ("low", 90.0)))  # fmt: skip
    refused = refused_variant("none", [Problem("S001", "pad", "is missing")])
    told = compared([tall, low, refused], "mm")
    assert told["names"] == ["tall", "low", "none"]
    (row,) = told["rows"]
    assert (row["name"], row["differs"]) == ("height", [False, True, False])
    assert row["cells"][2] == ""
    assert [float(cell.split()[0]) for cell in row["cells"][:2]] == [120.0, 90.0]
    assert [one["name"] for one in told["refused"]] == ["none"]


def test_a_radius_is_told_unless_it_is_as_good_as_straight():
    assert radius(40.126) == 40.13
    assert [radius(mm) for mm in (TOLD_STRAIGHT_MM, np.inf, np.nan)] == [None] * 3
    assert radius(np.nextafter(TOLD_STRAIGHT_MM, 0.0)) == TOLD_STRAIGHT_MM


RING = np.array([[100.0, 50.0], [2100.0, 50.0], [2100.0, 1550.0], [100.0, 1550.0]])
# The backbone runs upwards, so along it is y and off it, to the left, is minus x.
SKIN = Hide("a", RING, np.array([[1100.0, 50.0], [1100.0, 1550.0]]), {"back": (RING,)},
            (Flaw("scar", "mark", RING[:3]),), place=4)  # fmt: skip


def test_hides_are_told_with_their_own_area_wherever_they_lie_and_rolls_are_not():
    away = Hide("b", RING + 5000.0, SKIN.backbone, {}, place=5)
    roll = Hide("c", RING, SKIN.backbone, {}, roll=True)
    one, two = hides_drawn((SKIN, roll, away))
    assert (one["number"], two["number"]) == (4, 5)
    assert one["area_m2"] == two["area_m2"] == pytest.approx(3.0)
    assert one["outline"] == RING.tolist() == one["zones"][0]["points"]
    assert one["flaws"] == [{"words": "scar (mark)", "grade": "mark", "points": RING[:3].tolist()}]


def test_laid_pieces_are_told_where_they_lie_on_the_hide():
    points = np.array([[10.0, 0.0], [110.0, 0.0], [10.0, 40.0]])
    cut = SimpleNamespace(
        hide=0, cut=SimpleNamespace(name="face", number=2, label="face 2"), points=points, turn_deg=12.345,
        pinned=True, ask=SimpleNamespace(seen="face", zones=("back",), why="seen", turn_deg=15.0),
    )  # fmt: skip
    (told,) = pieces_laid(SimpleNamespace(cuts=(cut,), plan=SimpleNamespace(hides=(SKIN,))))
    assert told["points"] == [[1100.0, 60.0], [1100.0, 160.0], [1060.0, 60.0]]
    assert told["at"] == [1080.0, 110.0]
    assert (told["hide"], told["turn"], told["off"], told["pinned"]) == (4, 12.35, 15.0, True)
    on_roll = SimpleNamespace(hides=(Hide("c", RING, SKIN.backbone, {}, roll=True),))
    assert pieces_laid(SimpleNamespace(cuts=(cut,), plan=on_roll)) == []


def test_a_drawing_of_a_hide_needs_an_outline(tmp_path):
    path = tmp_path / "hide.svg"
    text = '<svg xmlns="http://www.w3.org/2000/svg"><g id="{}"><path d="M 0 0 L 90 0 L 90 90 Z"/></g></svg>'
    path.write_text(text.format("outline"))
    assert drawing_faults(path, 1.0) == ""
    path.write_text(text.format("zone"))
    assert drawing_faults(path, 1.0)
