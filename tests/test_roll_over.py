"""The roll-over of the examples: what their expected.toml says of the cut over a rail, by the real computation."""

import tomllib
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from meshes.seat.build import build
from meshes.settle.proposal import Comparison, compare
from meshes.settle.section_line import Cut
from meshes.sheet.read import read_sheet

BENCH = Path(__file__).parent.parent / "examples" / "helm_bench"


@cache
def sheet():
    return read_sheet(BENCH / "bench.toml")


def backrest():
    return next(pad for pad in sheet().pads if pad.name == "backrest")


def cut(pad) -> Comparison:
    tension = 1e-3 * sheet().cover.tension
    return compare(pad, Cut("along", 0.0), tension_n_per_mm=tension, materials=sheet().materials)


def test_the_bench_shows_a_hard_line_and_padding_takes_it_away():
    want = tomllib.loads((BENCH / "expected.toml").read_text())["roll_over"]["backrest"]
    found = cut(backrest())
    assert found.name == want["cut"]
    assert found.padded.ridge.side == want["side"]
    for key, value in (
        ("bare_mm", found.ridge_radius_bare_mm),
        ("padded_mm", found.ridge_radius_mm),
        ("hard_line_deg", found.padded.hard_line_deg),
    ):
        assert want[key][0] <= value <= want[key][1], (key, value)
    # What is asked of the example: below 15 mm as measured, above 40 mm with cloth and the padding proposed.
    assert found.ridge_radius_bare_mm < 15.0
    assert found.ridge_radius_mm > 40.0
    assert found.bare.hard_line_deg > 5.0 * found.padded.hard_line_deg


def test_the_padding_in_the_sheet_is_what_the_program_proposes():
    pad = backrest()
    open_gap = {**pad.sides, "rear": replace(pad.sides["rear"], cloth=False)}
    before = replace(pad, layers=pad.layers[:2], sides=open_gap)
    found = cut(before)
    # The foam that goes all round alone leaves the top far from as round as is wanted.
    assert found.ridge_radius_mm < 0.7 * pad.wanted_radius
    assert found.proposal.reached
    assert found.proposal.cloth
    assert found.proposal.layers == pad.layers[2:]
    assert cut(pad).proposal.layers == ()


@pytest.mark.parametrize("number", [0, 1])
def test_the_bench_settles_evenly_in_few_factorisations(number):
    pad = build(
        sheet().pads[number],
        tension_n_per_mm=1e-3 * sheet().cover.tension,
        materials=sheet().materials,
    )
    assert pad.settled.converged
    assert pad.settled.factorisations <= 15
    assert (np.diff(pad.settled.energy) <= 0).all()
    # Both halves: every vertex has its mirror image, to 1e-9 mm.
    at = pad.surface.vertices
    rows = {tuple(row) for row in np.round(at, 9) + 0.0}
    assert {(-x + 0.0, y, z) for x, y, z in rows} == rows
