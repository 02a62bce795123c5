"""Cards from files and sheets: every number arrives where it belongs, in millimetres, and every fault at its line."""

import pytest

from flatten.leather.card import CARDS, STIFFNESS_ALONG, USUAL
from flatten.leather.card_file import card_from_sheet, find_card, read_cards
from meshes.base.problems import ProblemError
from meshes.sheet.read import read_sheet
from tests.pads import FLAT

NUMBERS = "thickness = {t}\npull = 0.012\nstretch_along = 0.05\nstretch_across = 0.09\n"
HIDE = f'[card.hide]\n{NUMBERS.format(t=1.3)}source = "own strip"\n'
TWO = f"{HIDE}[card.cloth]\n{NUMBERS.format(t=0.9)}stiffness_along = 9.5\n"


@pytest.fixture
def file(tmp_path):
    def written(text, name="cards.toml"):
        path = tmp_path / name
        path.write_text(text)
        return path

    return written


def sheet_at(folder, text):
    path = folder / "sheet.toml"
    path.write_text(text)
    return read_sheet(path)


def problems(call):
    with pytest.raises(ProblemError) as caught:
        call()
    return caught.value.problems


def test_all_numbers_arrive_under_their_names(file):
    cards = read_cards(file(TWO))
    assert list(cards) == ["hide", "cloth"]
    for name, thick in (("hide", 1.3), ("cloth", 0.9)):
        card = cards[name]
        assert (card.name, card.thickness_mm, card.pull) == (name, thick, 0.012)
        assert (card.stretch_along, card.stretch_across) == (0.05, 0.09)
    assert cards["cloth"].stiffness_along == 9.5
    # What a card does not give is the usual stiffness, with the usual source.
    assert cards["hide"].stiffness_along == STIFFNESS_ALONG
    assert cards["hide"].source["stiffness_along"] == CARDS[USUAL].source["stiffness_along"]


def test_sources_stand_beside_the_numbers_that_are_given(file):
    cards = read_cards(file(TWO))
    given = ("thickness_mm", "pull", "stretch_along", "stretch_across")
    assert {cards["hide"].source[key] for key in given} == {"own strip"}
    assert {cards["cloth"].source[key] for key in given} == {"the shop's own card, no source given"}
    assert cards["cloth"].source["stiffness_along"] == "the shop's own card, no source given"
    assert cards["cloth"].source["stiffness_across"] == CARDS[USUAL].source["stiffness_across"]
    by_number = file(
        f'[card.hide]\n{NUMBERS.format(t=1.3)}[card.hide.source]\npull = "two marks"\nthickness = "caliper"\n'
    )
    source = read_cards(by_number)["hide"].source
    assert (source["pull"], source["thickness_mm"]) == ("two marks", "caliper")
    assert source["stretch_along"] == "the shop's own card, no source given"


def test_inches_become_millimetres_and_shares_stay(file):
    card = read_cards(file(f'unit = "in"\n[card.hide]\n{NUMBERS.format(t=0.05)}'))["hide"]
    assert card.thickness_mm == pytest.approx(0.05 * 25.4)
    assert (card.pull, card.stretch_across) == (0.012, 0.09)


def test_names_lead_to_built_in_cards_and_into_files(file):
    folder = file(TWO).parent
    assert find_card("soft") is CARDS["soft"]
    assert find_card("cards.toml:cloth", beside=folder).name == "cloth"
    assert find_card(str(folder / "cards.toml:hide")).name == "hide"
    file(f"[card.only]\n{NUMBERS.format(t=1.0)}", "one.toml")
    assert find_card("one.toml", beside=folder).name == "only"
    (found,) = problems(lambda: find_card("cards.toml", beside=folder))
    assert found.code == "L108"
    assert '"cards.toml:hide"' in found.text
    assert '"cards.toml:cloth"' in found.text
    (found,) = problems(lambda: find_card("cards.toml:hyde", beside=folder))
    assert found.code == "L108"
    assert 'did you mean "cards.toml:hide"?' in found.text


@pytest.mark.parametrize(
    ("text", "code", "line"),
    [
        ('unit = "mm"\n', "S011", 1),
        ("[card]\n", "L109", 1),
        ('unit = "cm"\n[card.hide]\n' + NUMBERS.format(t=1.2), "L109", 1),
        ("[card.hide]\n" + NUMBERS.format(t=1.2) + "\n[word]\nx = 1\n", "L109", 7),
        ("[card.hide]\ncolour = 3\n", "L109", 1),
        ("card = 3\n", "L109", 1),
        ("[card.hide]\n" + NUMBERS.format(t=120), "S016", 2),
        ("[card.hide]\n" + NUMBERS.format(t=1.2).replace("0.05", "0.005"), "L103", 1),
    ],
)
def test_faults_of_a_file_are_told_at_their_line(file, text, code, line):
    found = problems(lambda: read_cards(file(text)))
    assert (found[0].code, found[0].line) == (code, line)
    assert all(problem.file.endswith("cards.toml") for problem in found)


def test_nothing_that_is_no_card_is_shown(file):
    found = problems(lambda: read_cards(file("[secret]\nkey = 'hidden words'\n")))
    assert "hidden" not in str([problem.text for problem in found])


def test_a_sheet_has_a_card_of_its_own_or_names_one(tmp_path):
    own = sheet_at(tmp_path, FLAT + f'[cover.card]\nname = "ours"\n{NUMBERS.format(t=1.4)}')
    assert card_from_sheet(own).thickness_mm == 1.4
    named = sheet_at(tmp_path, FLAT + '[cover]\nleather = "firm"\n')
    assert card_from_sheet(named) is CARDS["firm"]
    assert card_from_sheet(sheet_at(tmp_path, FLAT)) is CARDS[USUAL]
    (tmp_path / "shop.toml").write_text(TWO)
    beside = sheet_at(tmp_path, FLAT + '[cover]\nleather = "shop.toml:cloth"\n')
    assert card_from_sheet(beside).stiffness_along == 9.5


def test_faults_of_a_sheets_card_have_a_place(tmp_path):
    unknown = FLAT + '[cover]\nleather = "furnitur"\n'
    (found,) = problems(lambda: card_from_sheet(sheet_at(tmp_path, unknown)))
    assert (found.code, found.line) == ("L101", len(unknown.splitlines()))
    (tmp_path / "shop.toml").write_text("[card.hide]\n" + NUMBERS.format(t=120))
    (found,) = problems(lambda: card_from_sheet(sheet_at(tmp_path, FLAT + '[cover]\nleather = "shop.toml"\n')))
    assert (found.code, found.line) == ("S016", 2)
    assert found.file.endswith("shop.toml")
