"""A window needs a screen that is named, by either name; where none is, that is told before the work."""

import sys

import pytest

from flatten.app.seat_view import check_view
from meshes.base.problems import ProblemError

NAMES = ("DISPLAY", "WAYLAND_DISPLAY")


def refused_for(monkeypatch, platform, named):
    """The problem that a window is refused with where these screens are named; None where it may be opened."""
    monkeypatch.setattr(sys, "platform", platform)
    for name in NAMES:
        monkeypatch.setenv(name, ":0" if name in named else "")
    try:
        check_view("panels", None)
    except ProblemError as refused:
        (problem,) = refused.problems
        return problem
    return None


@pytest.mark.parametrize(
    ("platform", "named", "opens"),
    [
        ("linux", NAMES[:1], True),
        ("linux", NAMES[1:], True),
        ("linux", NAMES, True),
        ("linux", (), False),
        ("darwin", (), True),
        ("win32", (), True),
    ],
)
def test_one_named_screen_is_enough_and_other_systems_need_none(monkeypatch, platform, named, opens):
    assert (refused_for(monkeypatch, platform, named) is None) == opens


def test_without_a_screen_the_way_out_is_named(monkeypatch):
    problem = refused_for(monkeypatch, "linux", ())
    assert problem.code == "V101"
    assert "--save" in problem.text


def test_a_picture_needs_no_screen(monkeypatch, tmp_path):
    monkeypatch.setattr(sys, "platform", "linux")
    for name in NAMES:
        monkeypatch.delenv(name, raising=False)
    assert check_view("panels", tmp_path / "seat.png") is None
