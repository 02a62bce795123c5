"""Faults of a sheet as text: each is found, at its line, with its code, in words that say what to do."""

import pytest

from tests.sheets import Case, check_fault

STOCK_BEFORE = "[material.my_foam]"
TEXT_CASES = [
    Case(
        "unknown key with a near name", "front_width = 1120", "frontwidth = 1120", "S010", "frontwidth", '"front_width"'
    ),
    Case("unknown key far from any", "rake = 5", "colour = 5", "S010", "colour", "known here: name, kind"),
    Case("unknown key at the top", 'unit = "mm"', 'units = "mm"', "S010", "units", 'did you mean "unit"'),
    Case("unknown table", "[output]", "[outputs]", "S010", "[outputs]", 'did you mean "output"'),
    Case("side in the wrong place", "[pad.sides.rear]", "[pad.rear]", "S010", "[pad.rear]", "under [pad.sides]"),
    Case("layer outside a pad", "[[pad.layer]]", "[[layer]]", "S010", "[[layer]]", "belongs under [[pad]]"),
    Case("unknown side", "[pad.sides.rear]", "[pad.sides.reer]", "S010", "reer", 'did you mean "rear"'),
    Case("top of a cushion", "[pad.sides.rear]", "[pad.sides.top]", "S010", "[pad.sides.top]", "front and rear"),
    Case("unknown corner", "corner_radius = 60", "corner_radius = { front = 60 }", "S010", "front = 60", "front_left"),
    Case("key missing", "depth = 480\n", "", "S011", "[pad.outline]", "add depth"),
    Case(
        "key missing deep down",
        'direction = "along"\nat = 200\n',
        "at = 200\n",
        "S011",
        "at = 200 @before",
        "add direction",
    ),
    Case("kind missing", 'kind = "cushion"\n', "", "S011", "[[pad]]", "add kind"),
    Case("half of a separate measure", "depth = 480", "depth_left = 480", "S011", "[pad.outline]", "needs depth_right"),
    Case("text for a number", "rake = 5", 'rake = "5"', "S012", 'rake = "5"', "without quotes"),
    Case("number for text", 'name = "bench"', "name = 12", "S012", "name = 12", "in quotes"),
    Case("text for yes or no", "welt = true", 'welt = "true"', "S012", 'welt = "true"', "without quotes"),
    Case("number for a word", 'page = "a4"', "page = 4", "S012", "page = 4", '"letter"'),
    Case("number for a table", '\n[cover]\nleather = "furniture"\n', "cover = 5", "S012", "cover = 5", "[cover]"),
    Case("yes for a length", "drop = 120", "drop = true", "S012", "drop = true", "not a length"),
    Case("table for a length", "drop = 120", "drop = {mm = 120}", "S012", "drop = {", "not a length"),
    Case("list for a length", "drop = 120", "drop = [120]", "S012", "drop = [120]", "not a length"),
    Case("one number for a list", "origin = [0, 0, 350]", "origin = 350", "S012", "origin = 350", "square brackets"),
    Case(
        "single brackets",
        '[[pad.line]]\nname = "cross',
        '[pad.line]\nname = "cross',
        "S012",
        "[pad.line]",
        "two brackets",
    ),
    Case("a number as a point", "  [120, 6],", "  120,", "S012", "  120,", "not a point"),
    Case("unknown word", 'page = "a4"', 'page = "a5"', "S013", "a5", 'write "a4"'),
    Case("unknown word with a near one", 'kind = "cushion"', 'kind = "cushin"', "S013", "cushin", 'mean "cushion"'),
    Case("unknown corner style", '"square"', '"miter"', "S013", "miter", 'mean "mitre"'),
    Case("unknown direction", '"along"\nat = 100', '"alongside"\nat = 100', "S013", "alongside", '"across"'),
    Case("comma decimals", "depth = 480", 'depth = "48,5 cm"', "S014", "48,5", "with a point: 48.5 cm"),
    Case("unknown unit", "depth = 480", 'depth = "480 px"', "S014", "480 px", "use mm, cm, m or in"),
    Case("feet", "depth = 480", 'depth = "2 ft"', "S014", "2 ft", "inches only"),
    Case("no number in a length", "depth = 480", 'depth = "deep"', "S014", "deep", "holds no number"),
    Case("fraction by zero", "depth = 480", 'depth = "1/0 in"', "S014", "1/0", "divides by zero"),
    Case("not a number", "depth = 480", "depth = nan", "S015", "depth = nan", "found nan"),
    Case("infinite", "rake = 5", "rake = inf", "S015", "rake = inf", "found inf"),
    Case("not a number in a point", "  [120, 6],", "  [120, nan],", "S015", "[120, nan]", "found nan"),
    Case("negative width", "rear_width = 1080", "rear_width = -1080", "S016", "-1080", "negative"),
    Case("zero depth", "depth = 480", "depth = 0", "S016", "depth = 0", "zero"),
    Case("huge depth", "depth = 480", "depth = 480000", "S016", "480000", "20 to 5000 mm"),
    Case("negative edge radius", "edge_radius = 20", "edge_radius = -1", "S016", "edge_radius = -1", "negative"),
    Case("turn too far", "turn = 90", "turn = 270", "S016", "turn = 270", "30 to 180 degrees"),
    Case("turn too little", "turn = 90", "turn = 10", "S016", "turn = 10", "30 to 180 degrees"),
    Case("negative allowance", "sewn = 12", "sewn = -12", "S016", "sewn = -12", "an allowance"),
    Case("negative seam place", "seam_below = 8", "seam_below = -8", "S016", "seam_below = -8", "negative"),
    Case("negative taper", "taper = 30", "taper = -3", "S016", "taper = -3", "negative"),
    Case("layer without thickness", "thickness = 25", "thickness = 0", "S016", "thickness = 0", "zero"),
    Case("layer far too thick", "thickness = 25", "thickness = 301", "S016", "thickness = 301", "to 300 mm"),
    Case("narrow roll", "roll_width = 914", 'roll_width = "120 mm"', "S016", "120 mm", "200 to 5000 mm"),
    Case("coarse mesh", "mesh = 6", "mesh = 41", "S016", "mesh = 41", "1 to 40 mm"),
    Case("fine mesh", "mesh = 6", 'mesh = "0.5 mm"', "S016", "0.5 mm", "1 to 40 mm"),
    Case("no density", "density = 35", "density = 0", "S016", "density = 0", "kg/m3"),
    Case("metres without a unit", "depth = 480", "depth = 0.48", "S017", "depth = 0.48", "looks like metres"),
    Case("inches without a unit", "depth = 480", "depth = 19", "S017", "depth = 19", "inches"),
    Case("mm in an inch sheet", 'unit = "mm"', 'unit = "in"', "S017", "front_width", "looks like millimetres"),
    Case(
        "centimetres throughout",
        "front_width = 1120\nrear_width = 1080\ndepth = 480",
        "front_width = 112\nrear_width = 108\ndepth = 48",
        "S017",
        "[pad.outline]",
        "a pad of 112 x 48 mm; probably the wrong unit",
    ),
    Case("empty name", 'name = "bench"', 'name = " "', "S018", 'name = " "', "empty"),
    Case("name with a slash", 'name = "bench"', 'name = "a/b"', "S018", "a/b", 'leave out "/"'),
    Case("name ending in a dot", 'name = "bench"', 'name = "bench."', "S018", "bench.", "no blank or dot"),
    Case("name too long", 'name = "bench"', f'name = "{"b" * 61}"', "S018", "bbbb", "at most 60"),
    Case("two numbers for an origin", "origin = [0, 0, 350]", "origin = [0, 350]", "S019", "origin", "X to the right"),
    Case("point with one number", "  [120, 6],", "  [120],", "S019", "  [120],", "write [place, height]"),
    Case("point with four numbers", "[500, 0, 30]", "[500, 0, 30, 1]", "S019", "30, 1]", "[x, y, radius]"),
    Case(
        "profile of one point", "points = [[0, 1], [470, 2]]", "points = [[0, 1]]", "S019", "[[0, 1]]", "at least two"
    ),
    Case("line of one point", "[[0, 200], [560, 210]]", "[[0, 200]]", "S019", "[[0, 200]]", "at least two"),
    Case("two pressures", "[3.0, 4.2, 9.8]", "[3.0, 4.2]", "S019", "[3.0, 4.2]", "25, 40 and 65 %"),
    Case(
        "whole and half widths", "depth = 480", "depth = 480\nfront_left = 560", "S020", "front_width", "keep one way"
    ),
    Case("widths and points", "  [0, 420],\n]", "  [0, 420],\n]\ntop_width = 900", "S020", "top_width", "not both"),
    Case(
        "corner radius and points",
        "  [0, 420],\n]",
        "  [0, 420],\n]\ncorner_radius = 9",
        "S020",
        "corner_radius = 9",
        "third number",
    ),
    Case(
        "bottom and front",
        "[pad.sides.top]",
        "[pad.sides.rear]\ndrop = 80\n[pad.sides.top]",
        "S020",
        "[pad.sides.rear] @2",
        "twice",
    ),
    Case("two pads of one name", 'name = "rest"', 'name = "Bench"', "S021", '"Bench"', "taken by pad 1 (line 23)"),
    Case(
        "two lines of one name",
        '[[pad]]\nname = "rest"',
        '[[pad.line]]\nname = "Cross seam"\npoints = [[0, 300], [545, 300]]\n[[pad]]\nname = "rest"',
        "S021",
        '"Cross seam"',
        "taken by line 1",
    ),
    Case("unknown material", '"wadding"', '"waddin"', "S022", "waddin", 'did you mean "wadding"'),
    Case("overlap as wide as the page", "overlap = 10", "overlap = 210", "S024", "overlap = 210", "210 mm wide"),
    Case("pressure that falls", "[3.0, 4.2, 9.8]", "[3.0, 4.2, 4.1]", "S026", "4.1]", "must rise"),
    *(
        Case(f"stock: {name}", STOCK_BEFORE, f"[stock]\nfoam = {written}\n{STOCK_BEFORE}", code, "foam = ", says)
        for name, written, code, says in (
            ("not a list", '"1 in"', "S012", "not a list"),
            ("of nothing", "[]", "S019", "0 numbers"),
            ("too many", str(list(range(10, 31))), "S019", "write 1 to 20"),
            ("falling", '["2 in", "1 in"]', "S027", 'found ["2 in", "1 in"]'),
            ("twice", '[25.4, "1 in"]', "S027", "each once"),
            ("too thin", '["2.9 mm"]', "S016", "3 to 300 mm"),
            ("too thick", '["31 cm"]', "S016", "3 to 300 mm"),
            ("no length", '["thick"]', "S014", "thick"),
        )
    ),
    Case(
        "stock of nothing known", STOCK_BEFORE, f"[stock]\nwaddin = [9]\n{STOCK_BEFORE}", "S022", "waddin", '"wadding"?'
    ),
    Case("layer on no side", 'where = "front"', 'where = "frnt"', "S029", "frnt", 'did you mean "front"'),
    Case("layer on the top of a cushion", 'where = "front"', 'where = "top"', "S029", '"top"', "a cushion has no side"),
]

CARD = 'card = {name = "hide", thickness = 1.2, stretch_along = 0.06, stretch_across = 0.08, pull = 0.01}'
LEATHER = 'leather = "furniture"'
CARD_CASES = [
    Case("leather and card", LEATHER, f"{LEATHER}\n{CARD}", "S020", LEATHER, "not both"),
    Case(
        "card without a direction",
        LEATHER,
        CARD.replace("stretch_across = 0.08, ", ""),
        "S011",
        "card =",
        "stretch_across",
    ),
    Case("pull above stretch", LEATHER, CARD.replace("pull = 0.01", "pull = 0.07"), "S025", "card =", "least stretch"),
    Case("stretch in per cent", LEATHER, CARD.replace("0.06", "6"), "S017", "card =", "write 6 % as 0.06"),
    Case("negative stretch", LEATHER, CARD.replace("0.06", "-0.06"), "S016", "card =", "negative"),
    Case("leather thick as a board", LEATHER, CARD.replace("1.2", "12"), "S016", "card =", "0.3 to 8 mm"),
]

TOML_CASES = [
    Case("comma in a bare number", "depth = 480", "depth = 48,5", "S005", "48,5", "decimals have a point"),
    Case("text without quotes", 'kind = "cushion"', "kind = cushion", "S005", "kind = cushion", "quotes"),
    Case("no equals sign", "depth = 480", "depth 480", "S005", "depth 480", "write key = value"),
    Case("quotation mark not closed", 'name = "bench"', 'name = "bench', "S005", 'name = "bench', "quotation mark"),
    Case("bracket not closed", "origin = [0, 0, 350]", "origin = [0, 0, 350", "S005", "rake", "bracket"),
    Case("header not closed", "[output]", "[output", "S005", "[output", "header"),
    Case("key twice", "depth = 480", "depth = 480\ndepth = 481", "S006", "depth = 481", "stands twice"),
    Case("table twice", "[output]", "[allowance]\n[output]", "S006", "[allowance] @2", "stands twice"),
    Case(
        "key twice in braces", "corner_radius = 60", "corner_radius = {a = 1, a = 2}", "S006", "a = 2", "stands twice"
    ),
    Case("backslash", 'name = "bench"', 'name = "a\\q"', "S005", "a\\q", "backslash"),
]

CASES = [*TEXT_CASES, *CARD_CASES, *TOML_CASES]


@pytest.mark.parametrize("case", CASES, ids=[case.name for case in CASES])
def test_fault(case, tmp_path):
    check_fault(case, tmp_path)
