"""The keys of a sheet: how large and how small each may be, what counts where nothing is written, and the records."""

import json
from pathlib import Path
from types import SimpleNamespace
from typing import Annotated

import jsonschema
import pytest
from pydantic import TypeAdapter, ValidationError

from meshes.base.problems import Way
from meshes.schema import cover_tables, outline, pad_tables, tables
from meshes.schema.pleats import PleatsInput, pleats_record
from meshes.schema.remedies import REMEDIES, remedies
from meshes.schema.support import ContinuesInput, SupportInput, continues_record, springs_record
from meshes.schema.tables import json_schema, schema_text

TABLES = {**vars(outline), **vars(pad_tables), **vars(cover_tables), **vars(tables)}
SHIPPED = Path(__file__).parents[3] / "meshes" / "sheet.schema.json"
# What a trimmer may write at least and at most, mm or the unit of the key: the contract, apart from the code.
LIMITS = {
    "OutlineInput": {
        "front_width": (20, 5000),
        "rear_left": (10, 5000),
        "depth_left": (20, 5000),
        "width": (20, 5000),
        "hollow": (0, 2000),
        "end_radius": (0, 2000),
        "middle_width": (20, 5000),
        "diagonal_left": (20, 8000),
    },
    "FrameInput": {"level": (-1000, 1500), "front": (-1000, 1500)},
    "RadiiInput": {"front_left": (0, 2000), "rear_right": (0, 2000)},
    "ProfileInput": {"at": (-5000, 5000)},
    "SideInput": {
        "drop": (0, 1500),
        "edge_radius": (0, 300),
        "turn": (30, 180),
        "seam_below": (0, 1000),
        "gap": (0, 1000),
        "gap_depth": (0, 500),
    },
    "LayerInput": {
        "thickness": (0, 300),
        "within": (0, 5000),
        "taper": (0, 2000),
        "below": (0, 1000),
        "oversize": (0, 100),
    },
    "InsetInput": {"margin": (0, 5000), "rear": (0, 5000), "corner_radius": (0, 2000)},
    "PadInput": {
        "rake": (-60, 80),
        "facing": (-180, 180),
        "wanted_radius": (5, 200),
        "finished_height": (-500, 2000),
    },
    "CardNumbers": {
        "thickness": (0.3, 8),
        "stretch_along": (0, 0.6),
        "stretch_across": (0, 0.6),
        "pull": (0, 0.6),
        "stiffness_along": (0.01, 1000),
        "stiffness_across": (0.01, 1000),
    },
    "CoverInput": {"grain_window": (0, 90), "tension": (0, 3000)},
    "EaseInput": {"by": (0, 0.015)},
    "ReliefInput": {"apply": (1, 20)},
    "AllowanceInput": {
        "sewn": (0, 200),
        "welted": (0, 200),
        "pulled": (0, 200),
        "closed": (0, 200),
        "notch_spacing": (20, 1000),
        "foam": (0, 100),
    },
    "OutputInput": {"overlap": (0, 5000), "roll_width": (200, 5000), "mesh": (1, 40)},
    "MaterialInput": {"density": (3, 2000), "thickness": (0, 300)},
    "PleatsInput": {
        "count": (1, 120),
        "pitch": (5, 500),
        "fan": (0.3, 3),
        "filler_thickness": (1, 80),
        "rise": (0, 80),
        "taper": (0, 300),
        "take_up_measured": (25, 2500),
        "largest_width": (50, 5000),
        "largest_area": (0.01, 10),
    },
    "SupportInput": {
        "rate_kpa_per_mm": (0.001, 1000),
        "coil_rate": (0.01, 1000),
        "pitch": (0, 500),
        "free_height": (0, 500),
        "held_height": (0, 500),
    },
    "ContinuesInput": {"over": (20, 500)},
}
# Nothing is no thickness, drop or height: these begin with what can be marked.
ABOVE = {"drop", "gap_depth", "within", "rise", "hollow", "free_height", "held_height"}
ABOVE_IN = {("LayerInput", "thickness"), ("MaterialInput", "thickness"), ("SupportInput", "pitch")}
ROWS = [(table, key, *bounds) for table, keys in LIMITS.items() for key, bounds in keys.items()]


def taken(table, key, value):
    """Whether a key takes a value, by its own rule."""
    field = TABLES[table].model_fields[key]
    rule = Annotated[(field.annotation, *field.metadata)] if field.metadata else field.annotation
    try:
        TypeAdapter(rule).validate_python(value)
    except ValidationError:
        return False
    return True


@pytest.mark.parametrize(("table", "key", "least", "most"), ROWS)
def test_a_key_takes_what_lies_between_its_limits_and_nothing_beyond(table, key, least, most):
    above = key in ABOVE or (table, key) in ABOVE_IN
    step = 1 if key in ("count", "apply") else 1e-3 * max(abs(least), 1e-3)
    assert taken(table, key, most)
    assert not taken(table, key, most + (1 if isinstance(step, int) else 1e-6 * most))
    assert taken(table, key, least + 0.02 if above else least)
    assert not taken(table, key, least if above else least - step)


def test_the_shipped_schema_is_the_generated_one():
    assert SHIPPED.read_text(encoding="utf-8") == schema_text()


def test_what_counts_where_nothing_is_written_may_be_written():
    """Every default of the schema is itself a value that the schema allows."""
    schema = json_schema()
    seen = 0
    for table in [schema, *schema["$defs"].values()]:
        for key, node in table.get("properties", {}).items():
            if isinstance(node.get("default"), str | float | int | list):
                whole = {**node, "$defs": schema["$defs"]}
                jsonschema.Draft202012Validator(whole).validate(json.loads(json.dumps(node["default"])))
                seen += 1
            assert not ("default" in node and key in table.get("required", ())), key
    assert seen > 50


def test_words_of_upright_pads_are_offered_wherever_front_and_rear_are():
    for table in json_schema()["$defs"].values():
        keys = table.get("properties", {})
        for key in keys:
            twin = key.replace("front", "bottom").replace("rear", "top")
            assert keys[twin] == keys[key]
    assert '"type": "null"' not in schema_text()


def test_pleats_are_recorded_key_by_key():
    told = {
        "count": 7,
        "pitch": 31.0,
        "widths": [40.0, 50.0],
        "direction": "across",
        "where": "inset",
        "shape": "edge",
        "fan": 1.5,
        "over_edge": False,
        "half_at_sides": True,
        "construction": "strips",
        "filler": "wadding",
        "filler_thickness": 14.0,
        "filler_foam": "own",
        "rise": 9.0,
        "taper": 33.0,
        "take_up_measured": 400.0,
        "joins": [2, 4],
        "largest_width": 600.0,
        "largest_area": 0.7,
        "lines_up_with": "back",
        "tied": True,
    }
    assert set(told) == set(PleatsInput.model_fields)
    record = pleats_record(PleatsInput(**told))
    parts = {
        key: value for part in (record.spacing, record.filling, record.joining) for key, value in vars(part).items()
    }
    kept = vars(record) | parts
    renamed = {"largest_area": "largest_area_m2", "filler_thickness": "thickness", "filler_foam": "foam"}
    for key, value in told.items():
        assert kept[renamed.get(key, key)] == (tuple(value) if isinstance(value, list) else value), key
    assert pleats_record(PleatsInput(count=7)).spacing.widths is None


@pytest.mark.parametrize("joins", [5, "some", [0], [121], [2.5], ["auto"], None])
def test_joins_are_auto_or_numbers_of_valleys(joins):
    with pytest.raises(ValidationError):
        PleatsInput(joins=joins)
    assert PleatsInput(joins="auto").joins == "auto"
    assert PleatsInput(joins=[1, 120]).joins == (1, 120)


def test_springs_have_their_rate_from_the_bed_or_from_coils():
    """Coils of 0.7 N/mm, 80 mm apart: 0.7 / 6400 N/mm to a square mm is 1000 times as much in kPa."""
    plain = SupportInput(kind="springs", rate_kpa_per_mm=0.25, free_height=100.0, held_height=80.0)
    coils = SupportInput(kind="springs", coil_rate=0.7, pitch=80.0)
    assert springs_record(plain).rate_kpa_per_mm == 0.25
    assert (springs_record(plain).free_mm, springs_record(plain).held_mm) == (100.0, 80.0)
    assert springs_record(coils).rate_kpa_per_mm == pytest.approx(1000.0 * 0.7 / 6400.0)
    assert springs_record(plain.model_copy(update={"coil_rate": 9.0, "pitch": 50.0})).rate_kpa_per_mm == 0.25
    for none in ({"kind": "board", "rate_kpa_per_mm": 1.0}, {"kind": "springs"}, {"kind": "springs", "pitch": 50.0}):
        assert springs_record(SupportInput(**none)) is None


def test_a_pad_goes_on_from_the_one_that_is_named():
    record = continues_record(ContinuesInput(pad="wing", side="left", over=120.0))
    assert (record.pad, record.side, record.over) == ("wing", "left", 120.0)
    assert continues_record(None) is None


def test_remedies_name_keys_of_the_sheet_and_set_what_these_may_be():
    """Every key that a remedy varies is one of its table's, and every value that it sets one that the key takes."""
    at = {
        "sides": pad_tables.SideInput,
        "layer": pad_tables.LayerInput,
        "pleats": pad_tables.PleatsInput,
        "inset": pad_tables.InsetInput,
        "outline": outline.OutlineInput,
    }
    tables = (pad_tables.SideInput, pad_tables.PleatsInput, pad_tables.LayerInput)
    tables = (*tables, outline.OpeningInput, outline.HoleInput)
    beside = SimpleNamespace(model_fields={key: one for table in tables for key, one in table.model_fields.items()})
    for code, varied in REMEDIES.items():
        for vary in varied:
            keys = vary.keys
            table = at.get(keys[0], beside)
            if len(keys) > 1:
                assert keys[-1] in table.model_fields, (code, keys)
            for value in vary.values:
                if value is not None and len(keys) > 1:
                    owner = next(
                        t for t in at.values() if keys[-1] in t.model_fields and (keys[0] not in at or t is table)
                    )
                    assert taken(owner.__name__, keys[-1], value), (code, keys, value)
            assert (vary.way is Way.SET) == bool(vary.values)


def test_remedies_do_what_the_problem_asks():
    """A hand-made margin of nothing runs the inset to the side; a band where one is missing; cloth over an open gap."""
    pad = ("pad", 0)
    assert [(v.keys, v.values) for v in remedies("G073", (*pad, "sides", "front", "gap"))] == [
        ((*pad, "sides", "front", "cloth"), (True,))
    ]
    band, none = remedies("G021", (*pad, "sides", "rear", "welt"))
    assert (band.keys, band.values) == ((*pad, "sides", "rear", "band"), (True,))
    assert (none.keys, none.values) == ((*pad, "sides", "rear", "welt"), (None,))
    *more, zero = remedies("G031", (*pad, "inset", "left"))
    assert [(v.keys, v.way) for v in more] == [
        ((*pad, "inset", "left"), Way.MORE),
        ((*pad, "inset", "margin"), Way.MORE),
    ]
    assert (zero.keys, zero.way, zero.values) == ((*pad, "inset", "left"), Way.SET, (0,))
    assert remedies("G073", ("cover", "tension")) == ()
    assert remedies("G073", ("pad",)) == ()
