"""Rounds of work in which equal tasks are done once."""

import numpy as np
import pytest

from flatten.kept.last_round import from_last_round
from meshes.base.progress import unheard


def doubled(task):
    return 2 * np.asarray(task)


def tripled(task):
    return 3 * np.asarray(task)


@pytest.fixture
def counting():
    """A way to run work that notes what it was given."""
    done = []

    def each(work, tasks, *more):
        done.append((work.__name__, [np.asarray(task).tolist() for task in tasks]))
        return [work(task) for task in tasks]

    return from_last_round(each), done


def test_what_equals_a_task_of_the_last_round_is_not_done_again(counting):
    run, done = counting
    for tasks in ([(1, 2), (3, 4)], [(1, 2), (5, 6)], [(5, 6), (1, 2)]):
        assert [one.tolist() for one in run(doubled, tasks, unheard)] == [[2 * v for v in task] for task in tasks]
    assert done == [("doubled", [[1, 2], [3, 4]]), ("doubled", [[5, 6]])]


def test_only_the_last_round_is_remembered_and_only_of_the_same_work(counting):
    run, done = counting
    for work, task in ((doubled, 1), (tripled, 1), (doubled, 2), (doubled, 1)):
        run(work, [task], unheard)
    assert done == [("doubled", [1]), ("tripled", [1]), ("doubled", [2]), ("doubled", [1])]


def test_the_same_work_for_another_purpose_has_rounds_of_its_own(counting):
    run, done = counting
    for doing in ("drafting", "proving", "drafting"):
        run(doubled, [1 if doing == "drafting" else 2], unheard, doing)
    assert done == [("doubled", [1]), ("doubled", [2])]


def test_what_has_no_digest_is_done_every_time(counting):
    run, done = counting
    task = np.array([1, 2], dtype=object)
    for _ in range(2):
        assert run(doubled, [task], unheard)[0].tolist() == [2, 4]
    assert len(done) == 2
