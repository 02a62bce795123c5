"""Which panel is cut from what, which names mean it, and how long a roll has to be."""

from types import SimpleNamespace

import numpy as np
import pytest

from flatten.coverings.assigned import covering_faults, coverings_of, other_coverings
from flatten.coverings.covering import Covering, Coverings
from flatten.coverings.pulls import shared_pull, shared_rest
from flatten.coverings.roll_length import ROLL_GAP_MM, roll_length_mm
from flatten.leather.card import CARDS, STIFFNESS_ALONG, STIFFNESS_RATIO, Card
from meshes.base.problems import ProblemError
from meshes.base.surface import Surface
from meshes.records.coverings import RollGoods
from meshes.seat.panels import Panel, PanelIdentity, PanelRole
from tests.pads import FLAT, sheet_of

FURNITURE = CARDS["furniture"]


def panel(part, role, mirror_of=None):
    nothing = np.zeros(0, dtype=np.int64)
    source = None if mirror_of is None else f"c {mirror_of}"
    return Panel(
        f"c {part}", "c", PanelIdentity(role, part), Surface(np.zeros((0, 3)), np.zeros((0, 3))),
        nothing, nothing, (), np.array([0.0, 1.0, 0.0]), source, None, nothing,
    )  # fmt: skip


# The bolster was cut in two; left panels are mirror images of right ones.
PANELS = (
    panel("face", PanelRole.FACE),
    panel("right bolster 1", PanelRole.BOLSTER),
    panel("right bolster 2", PanelRole.BOLSTER),
    panel("left bolster 1", PanelRole.BOLSTER, "right bolster 1"),
    panel("left bolster 2", PanelRole.BOLSTER, "right bolster 2"),
    panel("right band", PanelRole.BAND),
    panel("left band", PanelRole.BAND, "right band"),
)
PADS = [SimpleNamespace(panels=PANELS, pad=sheet_of(FLAT).pads[0])]


def sheet(*tables):
    head, rest = FLAT.split("[[pad]]")
    return sheet_of(head + "".join(f"[[covering]]\n{table}\n" for table in tables) + "[[pad]]" + rest)


def given(*rows):
    """Which leather each panel gets from rows of (panels, leather)."""
    tables = [f"panels = {list(panels)}\nleather = '{leather}'".replace("'", '"') for panels, leather in rows]
    found = coverings_of(sheet(*tables), FURNITURE, PADS)
    return {one.part: found.card(one.name).name for one in PANELS}, found


def parts(leather, cards):
    return {part for part, name in cards.items() if name == leather}


def test_a_name_holds_for_the_mirror_image_and_for_parts_made_by_a_cut():
    both = {"right bolster 1", "right bolster 2", "left bolster 1", "left bolster 2"}
    for name in ("c right bolster", "c left bolster"):
        assert parts("soft", given(([name], "soft"))[0]) == both
    for name in ("c right bolster 2", "c left bolster 2"):
        assert parts("soft", given(([name], "soft"))[0]) == {"right bolster 2", "left bolster 2"}
    # The beginning of a word is no name.
    assert parts("soft", given((["c right b"], "soft"))[0]) == set()
    assert parts("soft", given((["c face"], "soft"))[0]) == {"face"}


def test_words_for_many_panels_part_bands_from_what_lies_on_the_face():
    bands = {"right band", "left band"}
    assert parts("soft", given((["bands"], "soft"))[0]) == bands
    assert parts("soft", given((["faces"], "soft"))[0]) == {one.part for one in PANELS} - bands
    cards, found = given((["welt"], "soft"))
    assert set(cards.values()) == {"furniture"}
    assert found.of_welt.card.name == "soft"


def test_a_name_goes_before_a_word_and_a_later_table_before_an_earlier():
    for rows in ([(["c face"], "firm"), (["faces"], "soft")], [(["faces"], "soft"), (["c face"], "firm")]):
        cards = given(*rows)[0]
        assert (cards["face"], cards["right bolster 1"], cards["right band"]) == ("firm", "soft", "furniture")
    assert given((["bands"], "soft"), (["bands"], "firm"))[0]["left band"] == "firm"
    assert given((["c face"], "soft"), (["c face"], "firm"))[0]["face"] == "firm"
    later = given((["welt"], "soft"), (["bands", "welt"], "firm"), (["c face"], "cloth"))[1]
    assert later.of_welt.card.name == "firm"


def test_every_covering_is_listed_once_the_sheet_s_own_first():
    # By word before by name, then what covers the cord.
    _, found = given((["c face"], "firm"), (["bands"], "soft"), (["welt"], "cloth"))
    assert [one.card.name for one in found.all] == ["furniture", "soft", "firm", "cloth"]
    assert [one.card.name for one in given((["bands"], "furniture"))[1].all] == ["furniture"]
    plain = coverings_of(sheet(), FURNITURE, PADS)
    assert [one.card.name for one in plain.all] == ["furniture"]
    assert plain.of_welt is plain.main is plain.of("c face")


def test_a_roll_goes_with_its_leather_and_the_sheet_s_own_with_the_main_one():
    roll = "{ width = 1200, usable = 1150 }"
    with_roll = sheet(f'panels = ["bands"]\nleather = "soft"\nroll = {roll}', 'panels = ["welt"]\nleather = "firm"')
    found = coverings_of(with_roll, FURNITURE, PADS)
    assert found.of("c right band").roll == RollGoods(1200.0, 1150.0)
    assert found.of("c face").roll is None
    assert found.of_welt.roll is None
    own = sheet_of(FLAT.replace("[[pad]]", f"[cover]\nroll = {roll}\n[[pad]]"))
    assert coverings_of(own, FURNITURE, PADS).main.roll == RollGoods(1200.0, 1150.0)


def test_a_card_there_is_not_is_told_at_its_own_table():
    faulty = sheet('panels = ["bands"]\nleather = "soft"', 'panels = ["faces"]\nleather = "fur"')
    with pytest.raises(ProblemError) as told:
        other_coverings(faulty)
    (fault,) = told.value.problems
    assert (fault.code, fault.keys) == ("L101", ("covering", 1, "leather"))
    assert fault.line == faulty.line_of("covering", 1, "leather")


def test_what_is_wrong_inside_a_file_of_cards_is_told_there(tmp_path):
    cards = tmp_path / "cards.toml"
    cards.write_text("[card.hide]\nthickness = 1.2\nstretch_along = 0.06\nstretch_across = 0.08\npull = 0.07\n")
    with pytest.raises(ProblemError) as told:
        other_coverings(sheet(f'panels = ["bands"]\nleather = "{cards}"'))
    (fault, *_) = told.value.problems
    assert fault.file == str(cards)
    assert fault.code == "L103"


def test_names_are_held_against_panels_and_words_are_not():
    good = 'panels = ["bands", "faces", "welt", "c face", "c left bolster"]\nleather = "soft"'
    assert list(covering_faults(sheet(good), PADS)) == []
    bad = sheet(good, 'panels = ["c face", "c rigt band", "sail"]\nleather = "firm"')
    near, far = covering_faults(bad, PADS)
    assert {near.code, far.code} == {"F306"}
    assert near.keys == far.keys == ("covering", 1, "panels")
    assert 'did you mean "c right band"?' in near.text
    assert all(one.name in far.text for one in PANELS)


@pytest.mark.parametrize("usable", [1199, 1200, 1201])
def test_no_more_of_a_roll_is_usable_than_its_width(usable):
    roll = f"roll = {{ width = 1200, usable = {usable} }}"
    of_table = sheet(f'panels = ["bands"]\nleather = "soft"\n{roll}')
    of_sheet = sheet_of(FLAT.replace("[[pad]]", f"[cover]\n{roll}\n[[pad]]"))
    for one, keys in ((of_table, ("covering", 0, "roll")), (of_sheet, ("cover", "roll"))):
        found = list(covering_faults(one, PADS))
        assert [(p.code, p.keys) for p in found] == ([("F307", keys)] if usable > 1200 else [])


def card(pull, along, across, stiffness=STIFFNESS_ALONG):
    source = dict.fromkeys(("thickness_mm", "pull", "stretch_along", "stretch_across"), "invented")
    return Card(f"{pull} {along}", 1.2, pull, along, across, source, stiffness, stiffness / STIFFNESS_RATIO)


def test_one_least_stretch_for_all():
    """The most that one of them needs, but no more than half-way up the budget of the one that gives least."""
    low, high = card(0.01, 0.05, 0.08), card(0.02, 0.30, 0.20)
    # Half-way up the first one's budget is 3 %: the second one's 2 % fit.
    assert shared_pull([low, high]) == shared_pull([high, low]) == pytest.approx(0.02)
    # 4 % do not: half-way from 1 to 5 %, whichever way of the leather gives least.
    for one in (card(0.01, 0.05, 0.08), card(0.01, 0.08, 0.05)):
        assert shared_pull([one, card(0.04, 0.30, 0.30)]) == pytest.approx(0.03)
    # Where one hardly gives, half-way up it still is above what it needs itself.
    assert shared_pull([card(0.04, 0.05, 0.05), card(0.1, 0.3, 0.3)]) == pytest.approx(0.045)
    assert shared_pull([card(0.0, 0.01, 0.01), card(0.1, 0.3, 0.3)]) == pytest.approx(0.005)
    # Alike, there is nothing to give way to.
    assert shared_pull([card(0.02, 0.021, 0.03), card(0.02, 0.3, 0.3)]) == pytest.approx(0.02)
    assert shared_pull(iter([low])) == low.pull


def test_pieces_sewn_together_come_to_the_mean_of_what_each_would_have_alone():
    soft, stiff = card(0.0, 0.1, 0.1, 3.0), card(0.0, 0.1, 0.1, 9.0)
    # Mean stiffness of both ways: 5/6 of that along.
    alone = [0.1 / 2.5, 0.2 / 7.5]
    assert shared_rest([soft, stiff], [0.1, 0.2]) == pytest.approx(sum(alone) / 2.0)
    assert shared_rest([soft], [0.1]) == pytest.approx(alone[0])


def test_coverings_without_others_are_the_main_one():
    main = Covering(FURNITURE)
    assert Coverings(main).of("anything") is main
    assert Coverings(main, {"a": Covering(CARDS["soft"])}).card("a").name == "soft"


def test_boxes_fill_a_row_to_its_last_millimetre():
    """Three of 400 with two gaps fill 1220 exactly; a little less room takes another row."""
    boxes = [(400.0, 300.0), (400.0, 250.0), (400.0, 200.0)]
    room = 3 * 400.0 + 2 * ROLL_GAP_MM
    assert roll_length_mm(boxes, room) == (300.0, ())
    assert roll_length_mm(boxes, room - 0.5) == (300.0 + ROLL_GAP_MM + 200.0, ())
    # The tallest first, whatever their order, and each in the first row with room.
    assert roll_length_mm(boxes[::-1], room - 0.5) == (300.0 + ROLL_GAP_MM + 200.0, ())
    mixed = [(700.0, 500.0), (700.0, 400.0), (250.0, 300.0), (250.0, 100.0)]
    assert roll_length_mm(mixed, 1000.0)[0] == 500.0 + ROLL_GAP_MM + 400.0


def test_a_box_as_wide_as_the_roll_still_fits():
    assert roll_length_mm([(1000.0, 70.0)], 1000.0) == (70.0, ())
    assert roll_length_mm([(90.0, 60.0), (1000.5, 70.0)], 1000.0) == (60.0, (1,))
    assert roll_length_mm([], 1000.0) == (0.0, ())
    assert roll_length_mm([(1001.0, 9.0)], 1000.0) == (0.0, (0,))
