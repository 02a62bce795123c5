"""What is told of a pad's rim and tack lines: where they do not run as the numbers seem to say."""

from dataclasses import replace

import numpy as np

from meshes.base.problems import Problem
from meshes.base.units import place_words, span
from meshes.records.pad import SIDES, Pad
from meshes.support.chart import Chart, MakeProblem
from meshes.support.rim import rimmed
from meshes.support.tack import TackLine, below_turn, tack_line

# A rim or a tack line that nothing in the sheet asks for is told when it lies further than this from where a plain
# reading of the numbers puts it.
CHANGE_TOLD_MM = 1.0
# Two sides whose measured tack lines miss each other at their corner by more are told.
TACKS_MEET_MM = 5.0


def frame_notes(pad: Pad, chart: Chart, make_problem: MakeProblem) -> tuple[Problem, ...]:
    """Warnings for rim and tack lines of a pad; chart: its own."""
    tacked = tack_line(pad, chart.outline)
    notes = [
        *_rim_notes(pad, make_problem),
        *(_tack_notes(pad, chart, tacked, make_problem) if tacked is not None else []),
    ]
    return tuple(replace(note, warning=True) for note in notes)


def _rim_notes(pad: Pad, make_problem: MakeProblem) -> list[Problem]:
    found, notes = rimmed(pad), []
    for x, y, apart in found.contradicted:
        text = f"two profiles end at the rim near {place_words(x, y)}, {apart:.1f} mm apart in height; their "
        notes.append(make_problem("G112", ("profile",), text + "mean is taken: measure both again"))
    both_ways = len({profile.direction for profile in pad.profiles}) > 1
    if pad.frame.rim is None and both_ways and abs(found.moved_mm) > CHANGE_TOLD_MM:
        way = "higher" if found.moved_mm > 0 else "lower"
        text = f"between the ends of the profiles the rim runs fair along itself, up to {abs(found.moved_mm):.1f} mm "
        text += f"{way} than their form carried on to it, at {place_words(*found.at)}; "
        text += 'if the frame is so, write rim = "fair" under [pad.frame], if not, rim = "carried"'
        notes.append(make_problem("G113", ("profile",), text))
    return notes


def _tack_notes(pad: Pad, chart: Chart, tacked: TackLine, make_problem: MakeProblem) -> list[Problem]:
    own = np.array(tacked.own)
    bent = {s: np.abs(tacked.by_side[s][own == s] - below_turn(pad.sides[s])).max() for s in _with_one_drop(pad)}
    worst = max(bent, key=lambda s: bent[s], default="")
    notes = (
        []
        if worst == "" or bent[worst] <= CHANGE_TOLD_MM or pad.frame.tack
        else [_straightened(pad, worst, tacked, make_problem)]
    )
    period = chart.outline.period
    for before, after in zip(SIDES, SIDES[1:] + SIDES[:1], strict=True):
        if {before, after} & set(pad.frame.based):
            continue
        u = np.array([chart.outline.corner_between(before, after)])
        drops = [float(np.interp(u, tacked.u, tacked.by_side[s], period=period)[0]) for s in (before, after)]
        # Sides with different drops of their own are meant to differ.
        meant = [0.0 if pad.frame.drops_of(s) else below_turn(pad.sides[s]) for s in (before, after)]
        if not pad.frame.drops_of(before) == pad.frame.drops_of(after) == ():
            meant = [0.0, 0.0]
        apart = drops[0] - drops[1] - (meant[0] - meant[1])
        if abs(apart) > TACKS_MEET_MM:
            text = (
                f"the tack lines of the {pad.side_word(before)} and the {pad.side_word(after)} side miss each other by "
            )
            text += f"{abs(apart):.1f} mm at their corner; they pass into each other round it: measure both drops there"
            notes.append(make_problem("G115", ("sides", before), text))
    return notes


def _with_one_drop(pad: Pad) -> list[str]:
    return [s for s in SIDES if s not in pad.frame.based and not pad.frame.drops_of(s)]


def _straightened(pad: Pad, name: str, tacked: TackLine, make_problem: MakeProblem) -> Problem:
    """A tack line that is straight though nothing in the sheet says so."""
    side = pad.sides[name]
    drop = tacked.by_side[name][np.array(tacked.own) == name] + side.lead
    text = (
        f"the tack line of the {pad.side_word(name)} side runs straight from a drop of {side.drop:g} mm in its middle, "
    )
    text += f"so that the drop is {span(f'{drop.min():.1f}', f'{drop.max():.1f}')} mm; if the frame is so, write "
    text += 'tack = "straight" under [pad.frame], if not, tack = "parallel", or drops at several places'
    return make_problem("G114", ("sides", name, "drop"), text)
