"""A search says "converged" only of a result that its own pressures prove to be the least, whichever way led there."""

import json

import numpy as np
import pytest

import flatten
from flatten.demand import search
from flatten.demand.least_demand import Member, least_demand
from flatten.demand.optimality import Duals, lower_limit
from flatten.demand.window import Terms, Window
from flatten.job.single import flatten_file
from flatten.maps.relax import relax
from flatten.maps.start import starts
from flatten.relief.search import least_of_parts
from meshes.intake.mesh_file import ply_bytes
from meshes.numerics.solver import SingularError
from meshes.numerics.status import Ending
from tests import shapes

SHAPES = {"saddle": lambda: shapes.saddle(rings=10), "free form": lambda: shapes.free_form(edge=24.0)}


def rested(mesh):
    return relax(mesh[0], next(starts(*mesh)).points, mesh[1]).points


def bound_of(mesh, found, ratio):
    return float(Window(*mesh, Terms(pull=0.0), ratio=np.array([ratio])).needed(found.points)[0])


def broken_off(monkeypatch, after, *, for_good):
    """Let the walk fail at a step, once or from then on."""
    advance, count = search.Search._advance, iter(range(10**6))

    def failing(self, *given):
        step = next(count)
        if step == after or (for_good and step > after):
            raise SingularError("broken off")
        return advance(self, *given)

    monkeypatch.setattr(search.Search, "_advance", failing)


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("ratio", [(1.0, 2.0), (2.0, 1.0)])
def test_a_walk_that_is_broken_off_once_still_arrives(monkeypatch, name, ratio):
    mesh = SHAPES[name]()
    start = rested(mesh)
    plain = least_demand(Member(*mesh, start, ratio=ratio))
    broken_off(monkeypatch, 8, for_good=False)
    again = least_demand(Member(*mesh, start, ratio=ratio))
    assert plain.status.converged
    assert again.status.converged
    assert bound_of(mesh, again, ratio) == pytest.approx(bound_of(mesh, plain, ratio), rel=3e-3)


@pytest.mark.parametrize("name", SHAPES)
def test_a_search_that_never_arrives_does_not_say_so(monkeypatch, name):
    mesh = SHAPES[name]()
    start = rested(mesh)
    broken_off(monkeypatch, 8, for_good=True)
    found = least_demand(Member(*mesh, start, ratio=(1.0, 2.0)))
    assert not found.status.converged
    assert found.status.ending is Ending.SINGULAR


@pytest.mark.parametrize("name", SHAPES)
def test_a_false_claim_is_found_out(monkeypatch, name):
    """The walk itself says after 8 steps that it has arrived."""
    mesh = SHAPES[name]()
    walk = search.Search._walk
    monkeypatch.setattr(search, "WALK_STEPS_MOST", 8)
    monkeypatch.setattr(search.Search, "_walk", lambda self, *given: (walk(self, *given), (Ending.CONVERGED, ""))[1])
    found = least_demand(Member(*mesh, rested(mesh), ratio=(1.0, 2.0)))
    assert found.status.ending is Ending.UNCONFIRMED


@pytest.mark.parametrize("name", [*SHAPES, "cap"])
@pytest.mark.parametrize("ratio", [(1.0, 1.0), (1.0, 2.0)])
def test_no_pressures_prove_more_than_the_best_map_reaches(monkeypatch, name, ratio):
    """Weak duality: whatever the pressures, the limit stays below the best bound known; those found come close."""
    mesh = SHAPES.get(name, lambda: shapes.cap(1.0, rings=10))()
    seen, confirmed = [], search.Search._confirmed
    monkeypatch.setattr(
        search.Search, "_confirmed", lambda self, *given: (seen.append(self), confirmed(self, *given))[1]
    )
    found = least_demand(Member(*mesh, rested(mesh), ratio=ratio), gap=1e-3)
    done, best = seen[0], bound_of(mesh, found, ratio)
    proven = lower_limit(done.window, done.duals, done.elastic)
    assert 0.93 * best < proven < best
    assert found.status.gap == pytest.approx((best - done.limit) / best, rel=1e-6)
    rng = np.random.default_rng(5)
    for spread in (0.1, 1.0, 3.0):
        pressures = done.duals.pressures
        other = [p * np.exp(spread * rng.normal(size=p.shape)) for p in (pressures.dual_above, pressures.dual_below)]
        duals = Duals(done.duals.at, type(pressures)(pressures.above, pressures.below, *other), done.duals.step, 1.0)
        assert lower_limit(done.window, duals, done.elastic) < proven


def test_the_limit_of_a_cap_is_below_the_optimum_of_geometry():
    # Milnor, A problem in cartography, 1969: least ln(max / min) of a cap of angle a is ln(a / sin a).
    optimum = np.log(1.0 / np.sin(1.0))
    mesh = shapes.cap(1.0, rings=20)
    found = least_demand(Member(*mesh, rested(mesh)))
    assert (1.0 - found.status.gap) * found.log_spread < optimum < found.log_spread
    assert found.status.gap < 0.03


def test_the_command_reports_a_search_that_ended_early(monkeypatch, tmp_path):
    mesh = SHAPES["saddle"]()
    (tmp_path / "saddle.ply").write_bytes(ply_bytes(*mesh))
    broken_off(monkeypatch, 8, for_good=True)
    single = flatten_file(tmp_path / "saddle.ply", tmp_path / "out")
    assert [problem.code for problem in single.problems] == ["F201"]
    report = json.loads((tmp_path / "out" / "report.json").read_text())
    assert [problem["code"] for problem in report["problems"]] == ["F201"]
    assert single.flat.certified


def test_a_cut_is_tried_with_its_status(monkeypatch):
    mesh = SHAPES["saddle"]()
    start = rested(mesh)
    assert least_of_parts(*mesh, start, gap=0.02)[0].status.converged
    broken_off(monkeypatch, 3, for_good=True)
    assert not least_of_parts(*mesh, start, gap=0.02)[0].status.converged


def test_a_flat_piece_has_converged():
    flat = flatten.flatten(*shapes.cylinder())
    assert flat.made.status.converged
    assert flat.unconverged("panel") is None
