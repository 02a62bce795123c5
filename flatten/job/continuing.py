"""Pads that go on where their neighbours end: built again until both meet."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from meshes.base.frozen_map import FrozenMap
from meshes.base.problems import Problem, ProblemError
from meshes.base.progress import Progress
from meshes.base.units import span
from meshes.records.alignment import Alignment
from meshes.records.built_up import BuiltUp, Continued, Meeting
from meshes.seat.build import BuiltPad
from meshes.seat.continuation import LEVEL_MM, ROUNDS, corrected, first, left_notes, meeting
from meshes.sheet.whole import Sheet
from meshes.support.chart import MakeProblem

NOTHING_NEAR: Mapping[int, BuiltUp] = FrozenMap({})
NO_IMAGES: Mapping[int, int] = FrozenMap({})
BuildPad = Callable[[int, Alignment], BuiltPad]


def continued(
    sheet: Sheet,
    pads: tuple[BuiltPad, ...],
    build: BuildPad,
    say: Progress,
    near: Mapping[int, BuiltUp] = NOTHING_NEAR,
    images: Mapping[int, int] = NO_IMAGES,
) -> tuple[BuiltPad, ...]:
    """The pads of a sheet, with those that go on from a neighbour built up to meet it, neighbours first.

    build: builds the pad of a number again, aligned otherwise; near: what was built up, by number of the pad, on a seat
    that is much like this one, to begin with; images: numbers of pads that are mirror images, with the number of the
    one each mirrors, which are built up as that one is; pads that go on already stay as they are. Raises ProblemError
    when two pads do not meet.
    """
    number = {pad.pad.name: k for k, pad in enumerate(pads)}
    done = {k for k, pad in enumerate(pads) if pad.pad.continues is None or pad.continued is not None}
    while len(done) < len(pads):
        now = [k for k, p in enumerate(pads) if k not in done and _neighbour(p, number) in done]
        for k in now:
            say("going on from the neighbour", len(done), len(pads))
            other, make_problem = pads[_neighbour(pads[k], number)], _make_problem_for(sheet, k)
            border, image = _Border(pads[k], other, make_problem), pads[images[k]] if images.get(k) in done else None
            best = None if image is None else _as_its_image(border, partial(build, k), image)
            best = best or _one(border, partial(build, k), near.get(k))
            pads = tuple(best if j == k else pad for j, pad in enumerate(pads))
            done.add(k)
    return pads


def meeting_now(sheet: Sheet, pads: Sequence[BuiltPad], before: Sequence[BuiltPad]) -> tuple[BuiltPad, ...]:
    """Pads of which some were settled otherwise, built up as they were before, with how they meet their neighbours now.
    Raises ProblemError when two pads do not meet."""
    number, found = {pad.pad.name: k for k, pad in enumerate(pads)}, list(pads)
    for k, was in enumerate(before):
        if was.continued is None:
            continue
        other = _neighbour(was, number)
        if pads[k] is not was or pads[other] is not before[other]:
            after = meeting(pads[k], pads[other], _make_problem_for(sheet, k))
            found[k] = replace(pads[k], continued=replace(was.continued, after=after))
    return tuple(found)


def continuing_notes(sheet: Sheet, pads: Sequence[BuiltPad]) -> list[Problem]:
    """Warnings for steps and kinks that are left."""
    return [note for k, pad in enumerate(pads) for note in left_notes(pad, _make_problem_for(sheet, k))]


def continues_rows(pad: BuiltPad) -> list[dict[str, Any]]:
    """How a pad goes on from its neighbour, as plain data; empty when it does not. Lengths mm, angles degrees."""
    done = pad.continued
    if done is None:
        return []
    row: dict[str, Any] = {"pad": done.asked.pad, "side": done.asked.side, "gap_mm": round(done.after.gap_mm, 2)}
    for word, found in (("_before", done.before), ("", done.after)):
        row[f"step{word}_mm"] = round(found.most_step_mm, 2)
        row[f"step{word}_at_mm"] = round(float(found.places[found.worst]), 1)
        row[f"kink{word}_deg"] = round(found.most_kink_deg, 2)
    low, high = _built_up_mm(done)
    return [row | {"built_up_mm": [round(low, 2), round(high, 2)], "rounds": done.rounds}]


def continues_words(pad: BuiltPad) -> str:
    """The same in a sentence; empty when a pad does not go on from another."""
    done = pad.continued
    if done is None:
        return ""
    before, after = done.before, done.after
    low, high = _built_up_mm(done)
    up = span(f"{low:.1f}", f"{high:.1f}")
    built = f"built up by {up} mm along its {done.asked.side} side" if high > 0 else "nothing built up"
    return (
        f"goes on from {done.asked.pad}, {built}: step {abs(after.most_step_mm):.1f} mm left of "
        f"{abs(before.most_step_mm):.1f}, kink {abs(after.most_kink_deg):.0f}° left of {abs(before.most_kink_deg):.0f}°"
    )


def _built_up_mm(done: Continued) -> tuple[float, float]:
    """Least and most that is built up at the edge."""
    return (0.0, 0.0) if done.built_up is None else done.built_up.range_mm()


def _neighbour(pad: BuiltPad, number: dict[str, int]) -> int:
    assert pad.pad.continues is not None
    return number[pad.pad.continues.pad]


def _make_problem_for(sheet: Sheet, k: int) -> MakeProblem:
    return partial(_problem, sheet, k)


def _problem(sheet: Sheet, k: int, code: str, keys: Sequence[str | int], text: str) -> Problem:
    return sheet.problem(code, ("pad", k, *keys), text)


@dataclass(frozen=True, eq=False)
class _Border:
    """A pad as it is by itself, and the neighbour that it goes on from."""

    pad: BuiltPad
    other: BuiltPad
    make_problem: MakeProblem

    def meeting(self, pad: BuiltPad) -> Meeting:
        return meeting(pad, self.other, self.make_problem)


def _one(border: _Border, build: Callable[[Alignment], BuiltPad], near: BuiltUp | None) -> BuiltPad:
    """One pad, built up round after round while its step and kink shrink; near: to begin with, if that is nearer than
    nothing."""
    pad, asked = border.pad, border.pad.pad.continues
    assert asked is not None
    before = after = border.meeting(pad)
    best, up, rounds, share = pad, first(pad, border.make_problem), 0, 1.0
    while rounds < ROUNDS and _off(after) > LEVEL_MM:
        begins = near is not None and rounds == 0
        more = near if near is not None and begins else corrected(up, after, share)
        if more.rise == up.rise and more.slope == up.slope:
            break
        made = _built(replace(pad.alignment, built_up=more), build)
        rounds += 1
        now = None if made is None else border.meeting(made)
        if made is None or now is None or _off(now) >= _off(after):
            share *= 1.0 if begins else 0.5
            continue
        gained = 1.0 - _off(now) / _off(after)
        best, up, after = made, more, now
        if gained < WORTH and not begins:
            break
    return replace(best, continued=Continued(asked, before, after, up if up.rise else None, rounds))


def _as_its_image(border: _Border, build: Callable[[Alignment], BuiltPad], image: BuiltPad) -> BuiltPad | None:
    """One pad, built up as its mirror image was; None where it does not meet its neighbour as well as that one."""
    was, asked = image.continued, border.pad.pad.continues
    if was is None or was.built_up is None or asked is None:
        return None
    own, up = first(border.pad, border.make_problem), was.built_up
    up = replace(own, places=up.places, rise=up.rise, slope=up.slope)
    made = _built(replace(border.pad.alignment, built_up=up), build)
    if made is None or _off(after := border.meeting(made)) > _off(was.after) + SAME_STEP_MM:
        return None
    return replace(made, continued=Continued(asked, border.meeting(border.pad), after, up, 1))


def _built(alignment: Alignment, build: Callable[[Alignment], BuiltPad]) -> BuiltPad | None:
    """One pad with so much built up; None when its padding cannot lie on that."""
    try:
        return build(alignment)
    except ProblemError:
        return None


def _off(found: Meeting) -> float:
    """How far two pads are from meeting, mm: the largest step, and the largest kink as if it were one."""
    return abs(found.most_step_mm) + KINK_MM * abs(found.most_kink_deg)


# A round that takes less than this share of what is left away is the last.
WORTH = 0.1
# Mirror images meet alike within this, mm.
SAME_STEP_MM = 0.02
# A kink of one degree counts as so large a step.
KINK_MM = 0.2
