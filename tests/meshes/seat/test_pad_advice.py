"""What is tried before a number is told, seen by a builder that refuses what it is told to refuse."""

import time
from types import SimpleNamespace

import pytest

from meshes.base.problems import Problem, ProblemError, Vary, Way
from meshes.seat import advice
from meshes.seat.advice import MOST_PROBLEMS, MOST_SECONDS, MOST_TRIALS, advised
from tests.pads import FLAT

SIDE = ("pad", 0, "sides", "rear")
RADIUS = (*SIDE, "edge_radius")


class Builder:
    """Builds whatever `fine` says yes to, in `seconds` for triangles of 20 mm; counts what it was asked for."""

    def __init__(self, clock, fine, seconds=0.01):
        self.clock, self.fine, self.seconds, self.meshes = clock, fine, seconds, []

    def __call__(self, sheet):
        self.meshes.append(sheet.output.mesh)
        wrong = self.fine(sheet)
        if wrong:
            raise ProblemError(wrong)
        self.clock[0] += self.seconds * (20.0 / sheet.output.mesh) ** 2


@pytest.fixture
def clock(monkeypatch):
    now = [time.monotonic()]
    monkeypatch.setattr(advice, "time", SimpleNamespace(monotonic=lambda: now[0]))
    return now


@pytest.fixture
def path(tmp_path):
    return write(tmp_path, mesh=10)


def write(folder, *, mesh):
    file = folder / "sheet.toml"
    file.write_text(FLAT.replace('"test"\n', f'"test"\n[output]\nmesh = {mesh}\n', 1))
    return file


def problem(*vary, keys=RADIUS, code="G999"):
    return Problem(code, "here", "too round", keys=keys, vary=vary)


def until(most, *vary):
    """Refuses a rear edge rounder than this."""
    return lambda sheet: [problem(*vary)] if sheet.pads[0].sides["rear"].edge_radius > most else []


@pytest.mark.parametrize(
    ("most", "told"), [(18.0, 17.0), (15.0, 14.0), (12.0, 11.0), (9.0, 8.0), (6.0, 5.5), (4.0, 3.0)]
)
def test_the_mildest_of_the_changes_that_work_is_told(clock, path, most, told):
    """From 20 mm to 0.7, 0.4, 0.15 of it, and half way to each from the one before."""
    vary = Vary(RADIUS, Way.LESS)
    build = Builder(clock, until(most, vary))
    (found,) = advised(path, ProblemError([problem(vary)]), build).problems
    assert found.text == f"too round; tried, and works: sides.rear.edge_radius = {told:g}"
    (change,) = found.advice.changes
    assert (change.keys, change.was, change.value) == (RADIUS, 20, pytest.approx(told))
    # Trials are coarse; the last one is built as the sheet has it.
    assert set(build.meshes[:-1]) == {20.0}
    assert build.meshes[-1] == 10.0


def test_more_and_evener_go_their_ways(clock, path):
    more = Vary(RADIUS, Way.MORE)
    need = lambda sheet: [problem(more)] if sheet.pads[0].sides["rear"].edge_radius < 50.0 else []  # noqa: E731
    (found,) = advised(path, ProblemError([problem(more)]), Builder(clock, need)).problems
    # 28 is too little, and so is 36; 44 is, 62 half way on to 80 is not.
    assert found.advice.changes[0].value == pytest.approx(62.0)


def test_after_six_trials_it_is_said_that_none_works(clock, path):
    # Three smaller ones, three larger ones, and a seventh that would do.
    varied = (Vary(RADIUS, Way.LESS), Vary(RADIUS, Way.MORE), Vary(RADIUS, Way.SET, (None, None, 1.0)))
    need = lambda sheet: [] if sheet.pads[0].sides["rear"].edge_radius == 1.0 else [problem(*varied)]  # noqa: E731
    (found,) = advised(path, ProblemError([problem(*varied)]), Builder(clock, need)).problems
    assert MOST_TRIALS == 6
    assert found.text == "too round; 6 changes were tried, and none works by itself"
    assert found.advice is None
    two = Vary(RADIUS, Way.SET, (3.0, 2.0))
    (found,) = advised(path, ProblemError([problem(two)]), Builder(clock, until(1.0, two))).problems
    assert found.text == "too round; 2 changes were tried, and none works by itself"
    one = Vary(RADIUS, Way.SET, (3.0,))
    (found,) = advised(path, ProblemError([problem(one)]), Builder(clock, until(1.0, one))).problems
    assert found.text == "too round; one change was tried, and none works by itself"


def test_values_are_set_in_their_order_and_left_out_by_none(clock, path):
    band = Vary((*SIDE, "band"), Way.SET, (True, None))
    drop = Vary((*SIDE, "drop"), Way.SET, (None,))
    need = lambda sheet: [] if sheet.pads[0].sides["rear"].drop == 100.0 else [problem(band, drop)]  # noqa: E731
    (found,) = advised(path, ProblemError([problem(band, drop)]), Builder(clock, need)).problems
    assert found.text.endswith("works: sides.rear.drop left out")


def test_a_change_that_brings_another_problem_is_no_help(clock, path):
    vary = Vary(RADIUS, Way.LESS)

    def other(sheet):
        radius = sheet.pads[0].sides["rear"].edge_radius
        return [problem(vary)] if radius > 10.0 else [problem(code="G998")] if radius > 5.0 else []

    (found,) = advised(path, ProblemError([problem(vary)]), Builder(clock, other)).problems
    assert found.advice.changes[0].value == pytest.approx(3.0)


def test_what_works_on_coarse_triangles_only_is_not_told(clock, path):
    vary = Vary(RADIUS, Way.LESS)

    def fine(sheet):
        most = 15.0 if sheet.output.mesh > 15.0 else 9.0
        return until(most, vary)(sheet)

    (found,) = advised(path, ProblemError([problem(vary)]), Builder(clock, fine)).problems
    assert found.advice.changes[0].value == pytest.approx(8.0)


@pytest.mark.parametrize(("seconds", "how"), [(5.9, "tried, and works"), (6.1, "tried on a coarse mesh, and works")])
def test_a_sheets_own_mesh_is_built_only_where_there_is_time(clock, path, seconds, how):
    """Two trials of so many seconds, and four times as long on triangles half the size, within 30 s or not."""
    vary = Vary(RADIUS, Way.SET, (10.0,))
    build = Builder(clock, until(15.0, vary), seconds)
    assert 5.0 * 5.9 <= MOST_SECONDS < 5.0 * 6.1
    (found,) = advised(path, ProblemError([problem(vary)]), build).problems
    assert how in found.text
    assert build.meshes == ([20.0, 10.0] if seconds == 5.9 else [20.0])


def test_a_coarse_sheet_is_tried_as_it_is(clock, tmp_path):
    vary = Vary(RADIUS, Way.SET, (10.0,))
    build = Builder(clock, until(15.0, vary), seconds=100.0)
    file = write(tmp_path, mesh=25)
    (found,) = advised(file, ProblemError([problem(vary)]), build).problems
    assert build.meshes == [25.0]
    # Built on its own mesh already; yet no time was left, and that is said.
    assert "works" in found.text


def test_of_many_problems_the_first_are_tried_and_changes_add_up(clock, path):
    sides = ("rear", "right", "front")
    varied = {side: Vary(("pad", 0, "sides", side, "edge_radius"), Way.LESS) for side in sides}

    def all_wrong(sheet):
        return [problem(varied[s], keys=varied[s].keys) for s in sides if sheet.pads[0].sides[s].edge_radius > 15.0]

    every = [problem(varied[s], keys=varied[s].keys) for s in sides]
    found = advised(path, ProblemError(every), Builder(clock, all_wrong)).problems
    assert [p.advice.changes[0].keys for p in found] == [varied[s].keys for s in sides]
    # More than three are left as they are.
    extra = [problem(Vary(RADIUS, Way.LESS), keys=(*SIDE, "drop"), code=f"G90{k}") for k in range(MOST_PROBLEMS + 2)]
    build = Builder(clock, lambda sheet: extra)
    told = advised(path, ProblemError(extra), build).problems
    assert ["tried" in p.text for p in told] == [True] * MOST_PROBLEMS + [False] * 2


def test_a_problem_that_another_ones_change_ended_has_no_advice_of_its_own(clock, path):
    vary = Vary(RADIUS, Way.LESS)
    both = [problem(vary), problem(vary, code="G998")]
    build = Builder(clock, lambda sheet: both if sheet.pads[0].sides["rear"].edge_radius > 15.0 else [])
    first, second = advised(path, ProblemError(both), build).problems
    assert first.advice is not None
    assert second.advice is None
    assert second.text == "too round"


def test_without_anything_to_vary_or_without_time_nothing_is_tried(clock, path):
    plain = ProblemError([problem()])
    build = Builder(clock, lambda sheet: [problem()])
    assert advised(path, plain, build) is plain
    assert build.meshes == []
    slow = Builder(clock, lambda sheet: clock.__setitem__(0, clock[0] + MOST_SECONDS + 1.0) or [problem()])
    (found,) = advised(path, ProblemError([problem(Vary(RADIUS, Way.LESS))]), slow).problems
    assert len(slow.meshes) == 1
    assert "one change was tried" in found.text


@pytest.mark.parametrize(("seconds", "built"), [(2.9, True), (3.1, False)])
def test_the_time_of_a_finer_mesh_goes_with_its_triangles(clock, tmp_path, seconds, built):
    """On triangles a third as large nine times as long: a trial of 3 s and one of 27 just fit into 30 s."""
    vary = Vary(RADIUS, Way.SET, (10.0,))
    build = Builder(clock, until(15.0, vary), seconds)
    file = write(tmp_path, mesh=20.0 / 3.0)
    advised(file, ProblemError([problem(vary)]), build)
    assert len(build.meshes) == (2 if built else 1)
