"""Places and values of `--set`: found by name or number, refused where there is none, ranges with both ends."""

import pytest

from flatten.variants.settings import Setting, place_of, setting, variants_of
from meshes.base.problems import ProblemError
from meshes.schema.toml_text import parsed
from tests.running import OTHER, SHEET

TABLES = parsed(SHEET + OTHER.replace('name = "rear"', 'name = "Rear pad"'), "x.toml")


def refused(work, *given):
    with pytest.raises(ProblemError) as fault:
        work(*given)
    (problem,) = fault.value.problems
    return problem.code, problem.text


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("a=30", ("30",)),
        ("a = 20..40:5", ("20", "25", "30", "35", "40")),
        ("a=20..44:10", ("20", "30", "40")),
        ("a=0.1..0.3:0.1", ("0.1", "0.2", "0.3")),
        ("a=-2..2:2", ("-2", "0", "2")),
        ("a=5..5:1", ("5",)),
        ('a="x = y"', ('"x = y"',)),
    ],
)
def test_a_value_or_a_range_is_read(text, values):
    assert setting(text) == Setting("a", values)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("a", "V110"),
        ("=3", "V110"),
        ("a=", "V110"),
        ("a=4..2:1", "V111"),
        ("a=2..4:0", "V111"),
        ("a=0..1000:1", "V113"),
        ("a=20,25", "V111"),
        ("a=2,5, 3", "V111"),
    ],
)
def test_what_asks_for_nothing_is_refused(text, code):
    assert refused(setting, text)[0] == code


@pytest.mark.parametrize(
    ("place", "keys"),
    [
        ("pad.cushion.layer.1.thickness", ("pad", 0, "layer", 0, "thickness")),
        ("pad.1.layer.1.thickness", ("pad", 0, "layer", 0, "thickness")),
        ("pad.rear_pad.outline.depth", ("pad", 1, "outline", "depth")),
        ("pad.REAR-PAD.wanted_radius", ("pad", 1, "wanted_radius")),
        ("output.mesh", ("output", "mesh")),
        ("cover.leather", ("cover", "leather")),
    ],
)
def test_places_are_found_by_name_or_number(place, keys):
    assert place_of(TABLES, place) == keys


@pytest.mark.parametrize(
    ("place", "word"),
    [
        ("pad.cusion.rake", "write cushion or Rear pad"),
        ("pad.3.rake", "write cushion or Rear pad"),
        ("pad.cushion.layer.2.thickness", "numbered 1 to 1"),
        ("pad.cushion.layers.1.thickness", "did you mean 'layer'"),
        ("pad.cushion.layer.1.thickness.more.yet", "there is no 'more'"),
    ],
)
def test_a_place_there_is_not_is_refused_with_what_there_is(place, word):
    code, text = refused(place_of, TABLES, place)
    assert code == "V112"
    assert word in text


def test_every_value_of_one_is_tried_with_every_value_of_the_others_and_the_sheet_stays():
    before = repr(TABLES)
    rows = variants_of(TABLES, [setting("pad.1.layer.1.thickness=20..30:10"), setting("cover.leather=soft")])
    assert [name for name, _ in rows] == [
        "pad.1.layer.1.thickness = 20, cover.leather = soft",
        "pad.1.layer.1.thickness = 30, cover.leather = soft",
    ]
    assert [row["pad"][0]["layer"][0]["thickness"] for _, row in rows] == [20, 30]
    assert [row["cover"]["leather"] for _, row in rows] == ["soft", "soft"]
    assert repr(TABLES) == before
    twice = [setting(f"pad.{word}.layer.1.thickness={mm}") for word, mm in (("1", 20), ("cushion", 25), ("1", 20))]
    assert [name.rpartition(" ")[2] for name, _ in variants_of(TABLES, twice)] == ["20", "25"]
    many = [setting("pad.1.layer.1.thickness=1..30:1"), setting("output.mesh=20..22:1")]
    assert refused(variants_of, TABLES, many)[0] == "V113"


@pytest.mark.parametrize("text", [f"output.mesh={'9' * 400}..{'9' * 401}:1", f"output.mesh=1..2:0.{'0' * 400}1",
                                  "output.mesh=" + "[" * 3000, f"pad.1.name={'x' * 5000}"])  # fmt: skip
def test_what_is_no_measure_is_left_to_the_reader_and_told_short(text):
    asked = setting(text)
    ((name, _),) = variants_of(TABLES, [asked])
    assert len(asked.values) == 1
    assert len(name) < 150


@pytest.mark.parametrize("row", ["9" * 5000, "0" * 9, "\u00b2"])
def test_a_row_has_a_number_of_few_digits(row):
    code, text = refused(place_of, TABLES, f"pad.{row}.name")
    assert code == "V112"
    assert len(text) < 400


def test_names_of_variants_command_no_terminal():
    ((name, _),) = variants_of(TABLES, [setting("pad.1.na\x1b[31mme=\x1b[2J\nx")])
    assert name.isprintable()
