"""Problems as text: nothing in them commands a terminal or a page, and never more than can be read."""

import pickle
import unicodedata

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from meshes.base.problems import MOST_TOLD, Problem, ProblemError, plain, shown, told

ANY = st.text(st.characters(), max_size=40)


def obeyed(c: str) -> bool:
    """By the classes of the Unicode database, not by the program's own list."""
    return unicodedata.category(c) in ("Cc", "Cs", "Zl", "Zp") or unicodedata.bidirectional(c) in (
        *("LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"),
    )


@given(ANY)
@example("\x1b[2Ja\x9b31m\x7f\u202eb\u2066c\ud800\r\n")
def test_no_character_that_is_obeyed_gets_into_a_problem(text):
    problem = Problem("S001", text, text, file=text)
    assert not any(obeyed(c) for c in str(problem))
    assert not any(obeyed(c) for c in plain(text) + shown(text) + shown([text]))


@given(ANY)
def test_text_that_commands_nothing_is_left_as_it_is(text):
    if not any(obeyed(c) or c in "\u061c\u200e\u200f" for c in text):
        assert plain(text) == text


def test_fifty_are_told_in_full_and_the_rest_counted():
    problems = [Problem("S010" if k % 2 else "S012", "", f"number {k}") for k in range(MOST_TOLD + 7)]
    lines = told(problems)
    assert lines[:MOST_TOLD] == [str(problem) for problem in problems[:MOST_TOLD]]
    assert lines[MOST_TOLD:] == ["and 7 more: 3 of S010, 4 of S012"]
    assert told(problems[:MOST_TOLD]) == lines[:MOST_TOLD]
    assert len(ProblemError(problems).problems) == MOST_TOLD + 7
    assert str(ProblemError(problems)) == "\n".join(lines)


def test_a_problem_is_never_longer_than_can_be_read():
    assert len(str(Problem("S001", "w" * 10**6, "t" * 10**6))) < 3000


@pytest.mark.parametrize("sign", [1, -1])
def test_numbers_of_any_length_and_lists_of_any_depth_are_shown(sign):
    deep: list[object] = []
    for _ in range(5000):
        deep = [deep]
    for value in (sign * 10**400, sign * 16**100_000, deep, [sign * 16**9000]):
        assert len(shown(value)) <= 60
    assert shown(sign * 12345) == str(sign * 12345)
    # Of 10^n there are n + 1 digits; the length is told to within one.
    assert any(f"about {count} digits" in shown(10**400) for count in (400, 401))


@pytest.mark.parametrize("length", [1, MOST_TOLD, 10 * MOST_TOLD])
def test_problems_go_over_to_another_process_as_they_are(length):
    fault = ProblemError([Problem("S001", "here", "x" * length), Problem("S002", "there", "y", keys=("pad", 0))])
    fault.add_note("in a worker process")
    again = pickle.loads(pickle.dumps(fault))
    assert (again.problems, str(again), again.__notes__) == (fault.problems, str(fault), fault.__notes__)
