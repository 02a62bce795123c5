"""Leather that was found stretched otherwise than its card says: the piece is cut by the measured figure.

A piece is cut for a mean stretch along and across the backbone, and its card says which pull that takes. Where a dry
fit shows that the leather of the piece stretches by another share at that pull, the piece is cut for that share: by
(1 + what it was cut for) / (1 + what was found) along that way, so that it pulls as before. The stiffness of its card
becomes that pull over the stretch found, for this piece alone; the most it may be stretched is not known from one
reading and stays the card's.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from flatten.coverings.covering import Coverings
from flatten.fit.asked import MakeFitProblem
from flatten.leather.card import Card
from flatten.leather.stretch import stretch
from flatten.leather.tension import ways_stretched
from flatten.maps.flat import Flat
from flatten.reshape.told import StretchRead
from meshes.base.arrays import FloatArray
from meshes.base.problems import Problem
from meshes.fitting.notes import FitNote
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel

# A piece that is cut for less is slack: nothing can be said of what pulls it.
SLACK_STRETCH = 5e-4
WAYS = ("along", "across")


@dataclass(frozen=True, eq=False)
class StretchAsked:
    """A row about the stretch of a panel that is drawn, and the pad it belongs to."""

    note: FitNote
    pad: BuiltPad
    panel: Panel


@dataclass(frozen=True, eq=False)
class StretchesFound:
    """reads: in the order of rounds; wished (2, 2) by panel: by what its map grows; cards: by panel, as measured;
    faults."""

    reads: tuple[StretchRead, ...]
    wished: Mapping[str, FloatArray] = field(default_factory=dict)
    cards: Mapping[str, Card] = field(default_factory=dict)
    faults: tuple[Problem, ...] = ()


def stretches_found(
    asked: Sequence[StretchAsked], flats: Mapping[str, Flat], coverings: Coverings, problem: MakeFitProblem
) -> StretchesFound:
    """What readings make of the pieces they are about: of several rounds the latest counts."""
    faults = [fault for one in asked if (fault := _impossible(one, flats[one.panel.name], coverings, problem))]
    faults += _disagreeing(asked, problem)
    if faults:
        return StretchesFound((), faults=tuple(faults))
    reads: list[StretchRead] = []
    wished: dict[str, FloatArray] = {}
    cards: dict[str, Card] = {}
    for name in dict.fromkeys(one.panel.name for one in asked):
        rows = [one for one in asked if one.panel.name == name]
        flat, card = flats[name], coverings.card(name)
        was = dict(zip(WAYS, cut_for(rows[0].panel, flat), strict=True))
        now = dict(was)
        for row in rows:
            way, found = row.note.way, row.note.stretched or 0.0
            long = [_long_mm(flat, way) * (1.0 + was[way]) / (1.0 + share) for share in (now[way], found)]
            reads.append(StretchRead(row.note, name, now[way], found, (long[0], long[1])))
            now[way] = found
        axes = _axes(flat)
        wished[name] = np.einsum("k,ki,kj->ij", [(1.0 + was[w]) / (1.0 + now[w]) for w in WAYS], axes, axes)
        cards[name] = _measured(card, rows, was)
    return StretchesFound(tuple(reads), wished, cards)


def cut_for(panel: Panel, flat: Flat) -> tuple[float, float]:
    """The mean stretch - 1 that a panel's piece is cut for, along and across the backbone."""
    field_ = stretch(panel.surface.vertices, flat.points, panel.surface.triangles)
    along, across = ways_stretched(field_, _backbone(flat))
    return float(along) - 1.0, float(across) - 1.0


def _backbone(flat: Flat) -> FloatArray:
    return np.array([0.0, 1.0]) if flat.backbone is None else flat.backbone


def _axes(flat: Flat) -> FloatArray:
    """Unit directions (2, 2) on a map along and across the backbone, as rows."""
    way = _backbone(flat)
    return np.array([way, [-way[1], way[0]]])


def _long_mm(flat: Flat, way: str) -> float:
    """How long a piece is along or across the backbone."""
    return float(np.ptp(flat.points @ _axes(flat)[WAYS.index(way)]))


def _impossible(asked: StretchAsked, flat: Flat, coverings: Coverings, problem: MakeFitProblem) -> Problem | None:
    """What is wrong with a figure."""
    note, pad, panel = asked.note, asked.pad, asked.panel
    found, card = note.stretched or 0.0, coverings.card(panel.name)
    most = {"along": card.stretch_along, "across": card.stretch_across}[note.way]
    if found <= 0.0:
        text = "0 % is no reading: leather under a pull is longer than without; measure between two marks, before the "
        return problem("F345", note.row, "stretched", f"{text}cover is drawn down and after")
    if found > most:
        text = f"{100 * found:.1f} % is more than {card.name} may be stretched {note.way} the backbone "
        text += f"({100 * most:.1f} %), so a piece cut for it would be too tight all over: give the seat less tension, "
        text += "or do a strip test (trimloft strip), which shows how far this leather goes"
        return problem("F345", note.row, "stretched", text)
    was = dict(zip(WAYS, cut_for(panel, flat), strict=True))[note.way]
    pulled = pad.pad.on_frame and was > SLACK_STRETCH
    filled = pad.pad.closed is not None and pad.pad.closed.filled
    if not pulled and not filled:
        why = "it is covered flat" if pad.pad.on_frame is False else f"as cut it is slack {note.way} the backbone"
        text = f"{panel.name} has no pull that its leather could have been stretched by: {why}; take the row out"
        return problem("F346", note.row, "stretched", text)
    return None


def _disagreeing(asked: Sequence[StretchAsked], problem: MakeFitProblem) -> list[Problem]:
    """Rows of one round that say two things of one piece."""
    faults = []
    for k, two in enumerate(asked):
        for one in asked[:k]:
            same = (one.panel.name, one.note.way, one.note.round) == (two.panel.name, two.note.way, two.note.round)
            if same and one.note.stretched != two.note.stretched:
                text = (
                    f"row {one.note.row + 1} says {100 * (one.note.stretched or 0.0):g} % of the same piece the same "
                )
                text += (
                    f"way in the same round, and this one {100 * (two.note.stretched or 0.0):g} %; keep one of them, "
                )
                faults.append(problem("F334", two.note.row, "stretched", f"{text}or give this a later round"))
    return faults


def _measured(card: Card, rows: Sequence[StretchAsked], was: Mapping[str, float]) -> Card:
    """The card with the stiffness that the readings of one piece give."""
    numbers: dict[str, float] = {}
    source = dict(card.source)
    for row in rows:
        way, found = row.note.way, row.note.stretched or 0.0
        closed = row.pad.closed
        stiffness = {"along": card.stiffness_along, "across": card.stiffness_across}[way]
        pull = stiffness * was[way] if closed is None else closed.tension_n_per_mm
        numbers[f"stiffness_{way}"] = float(min(max(pull / found, 0.01), 1000.0))
        source[f"stiffness_{way}"] = (
            f"measured at dry fit {row.note.round}: {100 * found:.1f} % at {1000 * pull:.0f} N/m"
        )
    return replace(
        card,
        stiffness_along=numbers.get("stiffness_along", card.stiffness_along),
        stiffness_across=numbers.get("stiffness_across", card.stiffness_across),
        source=source,
    )
