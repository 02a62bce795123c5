"""A window needs a screen that is named, by either name; where none is, that is told before the work."""

import sys

import pytest

from flatten.app.seat_view import _check_screen
from meshes.base.problems import ProblemError

NAMES = ("DISPLAY", "WAYLAND_DISPLAY")


@pytest.mark.parametrize(
    ("platform", "named"), [("linux", NAMES[:1]), ("linux", NAMES[1:]), ("linux", NAMES), ("darwin", ())]
)
def test_one_named_screen_is_enough_and_other_systems_need_none(monkeypatch, platform, named):
    monkeypatch.setattr(sys, "platform", platform)
    for name in NAMES:
        monkeypatch.setenv(name, ":0" if name in named else "")
    _check_screen()


def test_without_a_screen_the_way_out_is_named(monkeypatch):
    monkeypatch.setattr(sys, "platform", "linux")
    for name in NAMES:
        monkeypatch.delenv(name, raising=False)
    with pytest.raises(ProblemError) as told:
        _check_screen()
    (problem,) = told.value.problems
    assert problem.code == "V101"
    assert "--save" in problem.text
