"""A card with what strips gave, and the worksheet they are read on."""

import io

import numpy as np
import pytest
from pypdf import PdfReader

from flatten.leather.card_file import card_from_sheet
from flatten.leather.measured import strip_text, ways_found
from flatten.report.strip_sheet import strip_sheet_pdf
from tests.pads import FLAT, sheet_of

STRIPS = """
[[strip]]
way = "along"
readings = [[0.5, 202.9, 200], [1, 205.7, 200], [2, 211.6, 200], [4, 223, 204.2], [8, 246, 214]]
[[strip]]
way = "across"
readings = [[0.5, 204, 200], [1, 208.5, 200.1], [2, 217.6, 200], [4, 235, 206.2], [8, 270, 220]]
"""


def test_a_sheet_is_reckoned_with_what_its_strips_gave():
    bare, sheet = sheet_of(FLAT), sheet_of(FLAT + STRIPS)
    card, usual = card_from_sheet(sheet), card_from_sheet(bare)
    found = ways_found(sheet.strips)
    assert card.stiffness_along == pytest.approx(6.8, rel=0.03)
    assert card.stiffness_across == pytest.approx(4.5, rel=0.03)
    assert (card.stiffness_along, card.stretch_across) == (found["along"].stiffness.value, found["across"].most.value)
    assert (card.name, card.thickness_mm, card.pull) == (usual.name, usual.thickness_mm, usual.pull)
    assert card.source["stiffness_along"].startswith("measured: 1 strip along")
    assert "+/-" in card.source["stretch_across"]
    text = strip_text(card, sheet.strips, sheet.materials)
    assert f"stiffness {found['along'].stiffness.value:.2f} N/mm, standard error" in text
    assert "no strip in the sheet" in strip_text(usual, (), bare.materials)


def test_a_strip_that_stayed_longer_is_not_said_to_have_come_back():
    stayed = '[[strip]]\nway = "along"\nreadings = [[1, 205, 200], [2, 210, 200], [4, 220, 202.5]]\n'
    for readings, said, other in (
        (stayed, "1.2 % stayed, in too few readings", "it came back"),
        (stayed.replace("202.5", "200"), "it came back from all that was tried", "stayed"),
    ):
        sheet = sheet_of(FLAT + readings)
        card = card_from_sheet(sheet)
        text = strip_text(card, sheet.strips, sheet.materials)
        assert said in text
        assert other not in text
        assert said in card.source["stretch_along"]
        assert f"budget {100 * card.budget:.1f} % in its stiffer way, {100 * card.widest_budget:.1f} % in its" in text


def test_a_way_that_was_not_tested_keeps_its_numbers():
    only = sheet_of(FLAT + STRIPS[: STRIPS.index("[[strip]]", 5)])
    card, usual = card_from_sheet(only), card_from_sheet(sheet_of(FLAT))
    assert card.stiffness_across == usual.stiffness_across
    assert card.stretch_across == usual.stretch_across
    assert card.source["stiffness_across"] == usual.source["stiffness_across"]


@pytest.mark.parametrize(("page", "unit"), [("a4", "mm"), ("letter", "in")])
def test_the_worksheet_says_how_whence_and_what_to_mind(page, unit):
    data = strip_sheet_pdf(page, unit=unit)
    assert data == strip_sheet_pdf(page, unit=unit)
    pages = PdfReader(io.BytesIO(data)).pages
    words = [" ".join((one.extract_text() or "").split()) for one in pages]
    assert len(words) == 3
    whole = " ".join(words)
    for said in ("SAE J855", "ISO 17236", "Common practice", "no test after either standard", "0.98 kPa"):
        assert said in whole
    for caution in ("Weights fall", "pinch", "Wear eye protection", "tips"):
        assert caution in whole
    # every weight with its pull, for both ways
    for pull in ("0.10", "0.20", "0.39", "0.78", "1.57"):
        assert words[1].count(pull) == 2
    assert "Weights fall" in words[1]
    if unit == "in":
        assert "1 15/16 x 11 13/16 in (50 x 300 mm)" in whole


def test_nothing_of_the_worksheet_lies_off_the_paper():
    for page in ("a4", "letter", "a3"):
        for one in PdfReader(io.BytesIO(strip_sheet_pdf(page))).pages:
            places: list[float] = []

            def kept(text, now, *_, found=places):
                if text.strip():
                    found.append(now[5])

            one.extract_text(visitor_text=kept)
            assert min(places) > 10.0
            assert max(places) < float(one.mediabox.height) - 10.0
            assert np.ptp(places) > 100.0
