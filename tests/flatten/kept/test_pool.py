"""A pool that looks first for what is kept: the same results, done once; refusals and unknown tasks done each time."""

from pathlib import Path

import numpy as np
import pytest

from flatten.job.make import make
from flatten.kept import versions
from flatten.kept.disk import DiskStore
from flatten.kept.memory import MemoryStore
from flatten.kept.pool import Kept, kept_pool, stage_name
from meshes.base.problems import Problem, ProblemError
from meshes.schema.toml_text import parsed
from meshes.sheet.read import sheet_of_tables
from tests.running import SHEET

DONE = []


def _doubled(task):
    DONE.append(task)
    return [2 * task]


def _refusing(task):
    DONE.append(task)
    return ProblemError([Problem("G100", "", "no")])


def _failing(task):
    raise KeyError(task)


class Loose:
    def __mul__(self, other):
        return other

    __rmul__ = __mul__


def heard(doing, done, of):
    return None


@pytest.fixture
def kept(tmp_path):
    DONE.clear()
    return Kept(MemoryStore(), DiskStore(tmp_path))


def test_only_what_is_not_kept_is_done_and_results_come_in_order(kept):
    with kept_pool(kept, workers=1) as pool:
        assert pool.map(_doubled, [1, 2], heard) == [[2], [4]]
        found = pool.map(_doubled, [3, 1, 2], heard)
        assert found == [[6], [2], [4]]
        found[1].append("spoiled")
        assert pool.map(_doubled, [1], heard) == [[2]]
    assert DONE == [1, 2, 3]
    assert kept.hits == {"doubled": 3}
    assert kept.misses == {"doubled": 3}


def test_what_is_quick_is_kept_in_memory_alone(kept):
    with kept_pool(kept, workers=1) as pool:
        pool.map(_doubled, [1], heard)
    assert list(kept.disk._files()) == []
    key = kept.key(_doubled, 1)
    kept.keep(key, [2], seconds=1.0)
    assert Kept(disk=kept.disk).find(key) == kept.memory.get(key)


def test_a_large_result_that_is_quick_to_make_is_not_worth_the_disk(kept):
    kept.keep("0" * 64, bytes(20_000_000), seconds=0.2)
    assert list(kept.disk._files()) == []


def test_refusals_are_not_kept(kept):
    with kept_pool(kept, workers=1) as pool:
        for _ in range(2):
            assert isinstance(pool.map(_refusing, [1], heard)[0], ProblemError)
    assert DONE == [1, 1]


def test_tasks_without_a_digest_are_done_each_time(kept):
    with kept_pool(kept, workers=1) as pool:
        for _ in range(2):
            pool.map(_doubled, [Loose()], heard)
    assert len(DONE) == 2


def test_failures_are_raised_as_ever(kept):
    with kept_pool(kept, workers=1) as pool, pytest.raises(KeyError):
        pool.map(_failing, [1], heard)


@pytest.mark.parametrize(
    ("name", "value"), [("_program", "other source"), ("_algebra", ["another"]), ("_version", "another")]
)
def test_another_program_library_or_solver_finds_nothing(kept, monkeypatch, name, value):
    before = kept.key(_doubled, 1)
    assert kept.key(_doubled, 1) == before
    monkeypatch.setattr(versions, name, lambda *_: value)
    assert kept.key(_doubled, 1) != before


def test_another_choice_of_solver_finds_nothing(kept, monkeypatch):
    monkeypatch.delenv("TRIMLOFT_SOLVER", raising=False)
    before = kept.key(_doubled, 1)
    monkeypatch.setenv("TRIMLOFT_SOLVER", "scipy")
    assert kept.key(_doubled, 1) != before


def test_nothing_kept_is_a_plain_pool():
    with kept_pool(None, workers=1) as pool:
        assert pool.map(_doubled, [4], heard) == [[8]]
    assert stage_name(_doubled) == "doubled"


def test_a_seat_with_pleats_and_a_block_is_not_computed_twice():
    """Every stage of every kind of pad is known by its digest; outlines of pleats are plane geometries."""
    pleated = SHEET.replace("mesh = 20", "mesh = 36") + "[pad.pleats]\ncount = 4\n"
    block = 'material = "foam_soft"\nthickness = 10\nform = "block"\nwhere = "face"\noverhang = -60\n'
    text = f"{pleated}[[pad.layer]]\n{block}"
    sheet = sheet_of_tables(parsed(text, "seat.toml"), Path("seat.toml"))
    kept = Kept(MemoryStore())
    first, before = _made(sheet, kept), dict(kept.misses)
    again = _made(sheet, kept)
    assert {"built", "flat", "together"} <= before.keys()
    assert {stage: count - before[stage] for stage, count in kept.misses.items()} == dict.fromkeys(before, 0)
    assert all(np.array_equal(one.points, again.flats[name].points) for name, one in first.flats.items())


def _made(sheet, kept):
    with kept_pool(kept, 1) as pool:
        return make(sheet, workers=pool)
