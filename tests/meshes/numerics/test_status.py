"""How a search ended, in words and as a value."""

import pytest

from meshes.numerics.status import Ending, Status


@pytest.mark.parametrize("ending", list(Ending))
def test_only_an_end_at_the_least_is_converged(ending):
    assert Status(ending, 0.0).converged == (ending in (Ending.CONVERGED, Ending.FLAT))
    # Whatever is known of the gap: that was asked for is judged by the search.
    assert Status(ending, 9.0).converged == Status(ending, 0.0).converged


@pytest.mark.parametrize(
    ("status", "words"),
    [
        (Status(Ending.STEPS, 0.1), "not enough steps"),
        (Status(Ending.STEPS, 0.1, detail="after 40"), "not enough steps: after 40"),
        (Status(Ending.CONVERGED, 0.0, 3), "converged, 3 of its linear systems by full pivoting"),
        (Status(Ending.FLAT, 0.0, 1, "a board"), "flat already: a board, 1 of its linear systems by full pivoting"),
    ],
)
def test_a_status_says_why_and_how(status, words):
    assert str(status) == words
