"""A seat with pieces of another size: what was found of leather and padding at dry fits, done to maps and surfaces.

Rows about leather and about padding are done before any stitch line is moved, on maps and not on drawn pieces, so that
allowances, notches and marks are laid anew on the new lines like on any other. A mirrored pair stays one drawing unless
a row is about one side alone, or one of both is drawn over padding that the other has not got.
"""

from collections.abc import Callable, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field, replace

import numpy as np

from flatten.coverings.covering import Coverings
from flatten.fit.as_cut import on_points
from flatten.fit.asked import DrawnPad, MakeFitProblem, piece_of_row
from flatten.fit.one_side import DrawPad, without_images
from flatten.fit.words import RowTold
from flatten.leather.card import Card
from flatten.maps.flat import Flat, mirrored
from flatten.reshape.bump import raised_mm
from flatten.reshape.elastic import laid_on
from flatten.reshape.followed import Wishes, followed_points
from flatten.reshape.old_lines import staying
from flatten.reshape.raised import (
    UNRAISED_MM,
    RaiseAsked,
    grown,
    laid_words,
    padding_mm,
    passes_through,
    raise_asked,
    raised_pad,
)
from flatten.reshape.stretched import StretchAsked, StretchesFound, stretches_found
from flatten.reshape.told import (
    raise_follow_words,
    raise_words,
    stretch_follow_words,
    stretch_words,
)
from meshes.base.arrays import FloatArray
from meshes.base.problems import Problem
from meshes.fitting.notes import FitNote
from meshes.seat.build import BuiltPad

# A piece follows where its line goes over by this much.
FOLLOWS_MM = 0.1
NOTHING_APART: Mapping[int, AbstractSet[str]] = {}


@dataclass(frozen=True, eq=False)
class Reshaped:
    """A seat after rows about leather and padding. pads: with their mirrored pairs; flats: of all panels; apart: pairs
    that are no mirror images any more, by the number of their pad; told: row by row; changed: panels drawn anew, with
    the points of their maps before as they lie on the new ones; cards: leather as measured, by panel; faults."""

    pads: tuple[BuiltPad, ...]
    flats: Mapping[str, Flat]
    apart: Mapping[int, AbstractSet[str]] = field(default_factory=dict)
    told: tuple[RowTold, ...] = ()
    changed: frozenset[str] = frozenset()
    cards: Mapping[str, Card] = field(default_factory=dict)
    faults: tuple[Problem, ...] = ()


def reshaped(
    pads: Sequence[DrawnPad],
    notes: Sequence[FitNote],
    maps: tuple[Mapping[str, Flat], Coverings],
    draw: DrawPad,
    problem: MakeFitProblem,
) -> Reshaped:
    """The seat after all rows about leather and padding. maps: of all panels, and what they are cut from; draw: a pad
    anew whose pairs are parted. Rows whose piece there is not are told where all rows are looked up."""
    flats, coverings = maps
    now = Reshaped(tuple(one.pad for one in pads), flats)
    for drawn in pads:
        rows = [note for note in notes if _about(pads, note, drawn, problem)]
        if rows:
            now = _one_pad(now, drawn, rows, (coverings, draw, problem))
    return now


def _about(pads: Sequence[DrawnPad], note: FitNote, drawn: DrawnPad, problem: MakeFitProblem) -> bool:
    """Whether a row is one of these, about a pad."""
    if note.stretched is None and not note.higher_mm:
        return False
    there = piece_of_row(pads, note, problem)
    return not isinstance(there, Problem) and there[0] is drawn


_Means = tuple[Coverings, Callable[[int, BuiltPad], DrawnPad], MakeFitProblem]


def _one_pad(now: Reshaped, drawn: DrawnPad, notes: Sequence[FitNote], means: _Means) -> Reshaped:
    """One pad of the seat after its rows."""
    coverings, draw, problem = means
    apart = _alone(drawn, notes, problem)
    parted = draw(drawn.index, without_images(drawn.pad, apart)) if apart else drawn
    raises, faults = _raises(drawn, parted, notes, problem)
    pad, high = drawn.pad, np.zeros(len(drawn.pad.surface.vertices))
    if raises and not faults:
        rounds = sorted({one.note.round for one in raises})
        high = raised_mm(pad, [[one.place for one in raises if one.note.round == k] for k in rounds])
        lies = padding_mm(drawn.pad)
        for row in raises:
            short = float(np.median((-high - lies)[row.place.vertices]))
            if row.place.amount_mm < 0.0 and short > UNRAISED_MM:
                text = f"{short:.1f} mm more are to be taken away than padding lies there; take less"
                faults.append(problem("F347", row.note.row, "padding", text))
        # Where it runs out there may be less than that.
        high = np.maximum(high, -lies)
        pad = raised_pad(drawn.pad, high)
        if passes_through(drawn.pad.surface, pad.surface):
            text = "raised by so much the cover passes through itself; take less, or a longer taper"
            faults.append(problem("F347", raises[-1].note.row, "padding", text))
    apart |= _unlike(drawn.pad, high)
    asked = _stretch_rows(drawn, without_images(drawn.pad, apart), notes, problem)
    apart |= _sewn_to(drawn.pad, apart)
    found = stretches_found(asked, now.flats, coverings, problem)
    faults += found.faults
    if faults:
        return replace(now, faults=(*now.faults, *faults))
    one = _Changed(drawn, pad, without_images(pad, apart), high)
    before = without_images(drawn.pad, apart)
    points = followed_points(before, one.parted, now.flats, _wished(one, now.flats, found))
    flats = _new_flats(one, points, now.flats, (coverings, found.cards))
    if isinstance(flats, str):
        last = max(note.row for note in notes)
        text = f"the map of {flats} would fold; take a smaller figure"
        return replace(now, faults=(*now.faults, problem("F347", last, "piece", text)))
    cards = dict(now.cards) | _of_images(one.parted, found.cards)
    told = _told(one, (raises, found), (now.flats, flats))
    pads = tuple(pad if k == drawn.index else other for k, other in enumerate(now.pads))
    return replace(
        now,
        pads=pads,
        flats={**now.flats, **flats},
        apart={**now.apart, drawn.index: apart} if apart else now.apart,
        told=(*now.told, *told),
        changed=now.changed | set(flats),
        cards=cards,
    )


@dataclass(frozen=True, eq=False)
class _Changed:
    """A pad that is changed: as it was drawn, as it is, the same with pairs parted, and by how much it was raised."""

    drawn: DrawnPad
    pad: BuiltPad
    parted: BuiltPad
    high: FloatArray


def _alone(drawn: DrawnPad, notes: Sequence[FitNote], problem: MakeFitProblem) -> set[str]:
    """Pairs that rows about one side name."""
    found = set[str]()
    for note in notes:
        there = piece_of_row([drawn], note, problem)
        if note.alone and not isinstance(there, Problem):
            piece = there[0].pieces[there[1]]
            found |= {piece.panels[0]} if len(piece.panels) > 1 else set()
    return found


def _raises(
    drawn: DrawnPad, parted: DrawnPad, notes: Sequence[FitNote], problem: MakeFitProblem
) -> tuple[list[RaiseAsked], list[Problem]]:
    """Rows about padding with their places, and what is wrong with them."""
    found: list[RaiseAsked] = []
    faults: list[Problem] = []
    for note in notes:
        if not note.higher_mm:
            continue
        of = parted if note.alone else drawn
        there = piece_of_row([of], note, problem)
        if isinstance(there, Problem):
            faults.append(there)
            continue
        asked = raise_asked(of, there[1], note, problem)
        if isinstance(asked, Problem):
            faults.append(asked)
            continue
        faults += _contradicted(asked, found, problem)
        found.append(asked)
    return found, faults


def _contradicted(two: RaiseAsked, rows: Sequence[RaiseAsked], problem: MakeFitProblem) -> list[Problem]:
    """Rows of one round that raise one place by two amounts. The end of one stretch may begin the next."""
    faults = []
    for one in rows:
        shared = len(np.intersect1d(one.place.vertices, two.place.vertices))
        both = min(len(one.place.vertices), len(two.place.vertices)) > 1
        if one.note.round != two.note.round or one.place.amount_mm == two.place.amount_mm or shared <= int(both):
            continue
        text = f"row {one.note.row + 1} says padding {one.place.amount_mm:g} of the same place in the same round, and "
        text += f"this one {two.place.amount_mm:g}; keep one of them, or give this a later round"
        faults.append(problem("F334", two.note.row, "padding", text))
    return faults


def _unlike(pad: BuiltPad, high: FloatArray) -> set[str]:
    """Pairs of which one is drawn over more padding than the other."""
    panels = {panel.name: panel for panel in pad.panels}
    pairs = [(panels[p.mirror_of], p) for p in pad.panels if p.mirror_of is not None]
    return {one.name for one, two in pairs if abs(high[one.vertices] - high[two.vertices]).max() > UNRAISED_MM}


def _sewn_to(pad: BuiltPad, apart: AbstractSet[str]) -> set[str]:
    """Pairs that are sewn to one of a pair that is parted."""
    drawn = {panel.name: panel.mirror_of or panel.name for panel in pad.panels}
    pairs = {panel.mirror_of for panel in pad.panels if panel.mirror_of is not None}
    touching = [{drawn[seam.a], drawn[seam.b]} for seam in pad.seams]
    return {name for both in touching if both & set(apart) for name in both if name in pairs}


def _stretch_rows(
    drawn: DrawnPad, parted: BuiltPad, notes: Sequence[FitNote], problem: MakeFitProblem
) -> list[StretchAsked]:
    """Rows about leather with the panels, drawn by themselves, that they are about, earlier rounds first."""
    panels = {panel.name: panel for panel in parted.panels}
    found = []
    for note in sorted(notes, key=lambda one: (one.round, one.row)):
        there = piece_of_row([drawn], note, problem)
        if note.stretched is None or isinstance(there, Problem):
            continue
        names = drawn.pieces[there[1]].panels
        if note.alone and len(names) > 1:
            names = tuple(name for name in names if _called(name, drawn.pad.pad.name, note.piece))
        found += [StretchAsked(note, parted, panels[name]) for name in names if panels[name].mirror_of is None]
    return found


def _called(panel: str, pad: str, words: str) -> bool:
    """Whether words mean a panel of a pad, with the pad's name or without it."""
    return words.casefold() in (panel.casefold(), panel.removeprefix(f"{pad} ").casefold())


def _wished(one: _Changed, flats: Mapping[str, Flat], found: StretchesFound) -> Wishes:
    """What is wished of maps, by panel that is drawn."""
    new = {panel.name: panel for panel in one.parted.panels}
    seat = {
        panel.name: grown(flats[panel.name], panel.surface, new[panel.name].surface)
        for panel in one.drawn.pad.panels
        if new[panel.name].mirror_of is None and abs(one.high[panel.vertices]).max() > UNRAISED_MM
    }
    return Wishes(found.wished, seat)


def _new_flats(
    one: _Changed,
    points: Mapping[str, FloatArray],
    flats: Mapping[str, Flat],
    leather: tuple[Coverings, Mapping[str, Card]],
) -> dict[str, Flat] | str:
    """Maps of panels that changed, with their mirror images; the name of one that would fold."""
    coverings, cards = leather
    found: dict[str, Flat] = {}
    for panel in one.parted.panels:
        if panel.name not in points or panel.mirror_of is not None:
            continue
        raised = abs(one.high[panel.vertices]).max() > UNRAISED_MM
        # What was proven of the seat as it was says nothing of a raised one.
        old = replace(flats[panel.name], lower=None) if raised else flats[panel.name]
        new = on_points(panel, old, points[panel.name], cards.get(panel.name, coverings.card(panel.name)))
        if new is None:
            return panel.name
        found[panel.name] = new
    images = {p.name: p.mirror_of for p in one.parted.panels if p.mirror_of in found}
    return found | {name: mirrored(found[source]) for name, source in images.items() if source is not None}


def _of_images(pad: BuiltPad, cards: Mapping[str, Card]) -> dict[str, Card]:
    """Cards by panel, those of mirror images too."""
    return {p.name: cards[p.mirror_of or p.name] for p in pad.panels if (p.mirror_of or p.name) in cards}


def _told(
    one: _Changed,
    rows: tuple[Sequence[RaiseAsked], StretchesFound],
    flats: tuple[Mapping[str, Flat], Mapping[str, Flat]],
) -> list[RowTold]:
    """What every row did. flats: before and after."""
    pad, (before, after), (raises, reads) = one.parted, flats, rows
    leather = {
        p.name: reads.wished[p.mirror_of or p.name] for p in pad.panels if (p.mirror_of or p.name) in reads.wished
    }
    part = {panel.name: panel.part for panel in pad.panels}
    moved = {name: _moved_mm(before[name].points, after[name].points) for name in after}
    found = []
    for read in reads.reads:
        follow = [name for name in _beside(pad, read.panel) if moved.get(name, 0.0) >= FOLLOWS_MM]
        sides = "; on this side alone" if read.note.alone else ""
        words = stretch_words(read, [part[name] for name in follow], sides)
        own = [p.name for p in pad.panels if read.panel in (p.name, p.mirror_of)]
        told = tuple((name, stretch_follow_words(read, part[read.panel])) for name in follow)
        figures = (("stretched", read.now), ("cut_for", read.was))
        found.append(RowTold(read.note, pad.pad.name, part[read.panel], tuple(own), words, told, figures))
    for row in raises:
        piece = row.drawn.pieces[row.piece]
        own = [name for name in piece.panels if name in after]
        out, area = _grown_there(row, before[own[0]], after[own[0]], leather.get(own[0])) if own else (0.0, 0.0)
        over = {p.name for p in pad.panels if abs(one.high[p.vertices]).max() > UNRAISED_MM}
        others = [name for name in after if name in over and name not in piece.panels and moved[name] >= FOLLOWS_MM]
        follow = list(dict.fromkeys(part[name] for name in others))
        laid = laid_words(one.drawn.pad, row.place)
        words = raise_words(row.note, row.where, (row.place.taper_mm, out, area), (laid, follow))
        told = tuple((name, raise_follow_words(row.note, piece.name)) for name in others)
        heights = (("higher_mm", row.place.amount_mm), ("run_out_mm", row.place.taper_mm), ("out_mm", out))
        found.append(RowTold(row.note, pad.pad.name, piece.name, tuple(piece.panels), words, told, heights))
    return sorted(found, key=lambda told_: told_.note.row)


def _beside(pad: BuiltPad, name: str) -> list[str]:
    """Panels sewn to one, and to its mirror image."""
    own = {p.name for p in pad.panels if name in (p.name, p.mirror_of)}
    pairs = [(seam.a, seam.b) for seam in pad.seams]
    return list(dict.fromkeys(b if a in own else a for a, b in pairs if (a in own) != (b in own)))


def _moved_mm(old: FloatArray, new: FloatArray) -> float:
    return float(np.linalg.norm(laid_on(old, new, staying(old, new)) - new, axis=1).max())


def _grown_there(row: RaiseAsked, old: Flat, new: Flat, leather: FloatArray | None) -> tuple[float, float]:
    """By how much the way over a place gets longer on the piece, mm, below 0 shorter: from its vertices to those as far
    off as it runs out, or to the other side of a narrower piece, the most; and the piece larger, mm2. leather (2, 2):
    by what the piece grows for its leather, which is no part of it."""
    same = np.eye(2) if leather is None else leather
    was = old.points @ same
    area = new.figures.area_piece_mm2 - old.figures.area_piece_mm2 * (same[0, 0] * same[1, 1] - same[0, 1] ** 2)
    panel = next(panel for panel in row.drawn.pad.panels if panel.name == row.drawn.pieces[row.piece].panels[0])
    best = 0.0
    for v in np.flatnonzero(np.isin(panel.vertices, row.place.vertices)):
        away = np.linalg.norm(was - was[v], axis=1)
        far = np.flatnonzero((away >= 0.5 * row.place.taper_mm) & (away <= row.place.taper_mm))
        # Along the place itself it gets longer only as its seam does.
        far = far[~np.isin(panel.vertices[far], row.place.vertices)]
        change = np.linalg.norm(new.points[far] - new.points[v], axis=1) - away[far]
        best = max((best, *change.tolist()), key=abs)
    return best, area
