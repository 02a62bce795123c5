"""The starter sheet and the JSON Schema for editors agree with the reader."""

import json
import re
import tomllib
from pathlib import Path

import jsonschema
import pytest

from meshes.base.problems import ProblemError
from meshes.schema.tables import json_schema
from meshes.sheet.read import read_sheet
from meshes.sheet.starter import starter_text
from tests.pads import sheet_of
from tests.sheets import GOOD

ROOT = Path(__file__).parents[3]
SHIPPED = ROOT / "meshes" / "sheet.schema.json"
# What a hide is, by itself, is no sheet.
EXAMPLES = sorted(
    path for path in (ROOT / "examples").rglob("*.toml") if path.name != "expected.toml" and path.parent.name != "hides"
)


def choices() -> list[str]:
    """The parts of the starter that are behind #: runs of lines that begin with # and a key or header."""
    runs = re.findall(r"(?:^#[a-z\[].*\n)+", starter_text(), re.M)
    return [run for run in runs if not run.startswith("#:schema")]


def test_the_starter_reads_without_a_problem(tmp_path):
    path = tmp_path / "new.toml"
    path.write_text(starter_text())
    sheet = read_sheet(path)
    assert [pad.kind for pad in sheet.pads] == ["cushion"]
    assert sheet.warnings == ()


def test_the_starter_names_every_key_of_the_schema():
    text = starter_text()
    keys = {key for table in json_schema()["$defs"].values() for key in table.get("properties", {})}
    keys |= set(json_schema()["properties"])
    assert len(keys) > 60
    missing = [key for key in sorted(keys) if not re.search(rf"(?<![a-z_]){key}(?![a-z_])", text)]
    assert missing == []


@pytest.mark.parametrize("choice", choices(), ids=lambda c: c.split("\n")[0][1:30])
def test_every_choice_of_the_starter_can_be_switched_on(choice):
    text = starter_text().replace(choice, re.sub(r"^#", "", choice, flags=re.M))
    codes = set()
    try:
        sheet_of(text)
    except ProblemError as refused:
        codes = {p.code for p in refused.problems}
    # Another way of giving the same thing clashes with what stands there, and the starter says so before it.
    before = starter_text()[: starter_text().index(choice)].rsplit("\n\n", 1)[-1]
    assert codes <= ({"S020", "S006"} if "nstead" in before or "Or one each" in before else set())


def test_the_defaults_said_in_the_starter_are_those_of_the_reader():
    said = dict(re.findall(r"^#?(\w+) = .*# .*usual: ([\w.]+)", starter_text(), re.M))
    properties = {k: v for table in json_schema()["$defs"].values() for k, v in table.get("properties", {}).items()}
    assert len(said) >= 8
    for key, usual in said.items():
        default = properties[key].get("default")
        if key in ("taper", "margin", "origin"):
            continue
        assert str(default).lower().removesuffix(".0") == usual, key


def test_the_first_line_leads_editors_to_the_schema():
    first = starter_text().splitlines()[0]
    assert first.startswith("#:schema file:///")
    assert Path(first.removeprefix("#:schema file://")).samefile(SHIPPED)


@pytest.mark.parametrize(
    "path", [ROOT / "meshes" / "sheet" / "starters" / "whole.toml", *EXAMPLES], ids=lambda p: p.name
)
def test_the_schema_accepts_what_the_reader_accepts(path):
    read_sheet(path)
    validator = jsonschema.Draft202012Validator(json.loads(SHIPPED.read_text()))
    validator.check_schema(validator.schema)
    assert [error.message for error in validator.iter_errors(tomllib.loads(path.read_text()))] == []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("rake = 5", "colour = 5"),
        ("rake = 5", 'rake = "5"'),
        ("depth = 480", 'depth = "48,5 cm"'),
        ("depth = 480", "depth = true"),
        ('page = "a4"', 'page = "a5"'),
        ("  [120, 6],", "  [120],"),
        ("corner_radius = 60", "corner_radius = {front = 60}"),
        ("[3.0, 4.2, 9.8]", "[3.0, 4.2]"),
        ('kind = "cushion"\n', ""),
    ],
)
def test_the_schema_refuses_what_the_reader_refuses(old, new):
    validator = jsonschema.Draft202012Validator(json.loads(SHIPPED.read_text()))
    assert validator.is_valid(tomllib.loads(GOOD))
    assert old in GOOD
    text = GOOD.replace(old, new, 1)
    assert not validator.is_valid(tomllib.loads(text))
    with pytest.raises(ProblemError):
        sheet_of(text)
